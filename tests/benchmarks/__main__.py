"""Run all benchmarks and print their tables; ``--write`` puts them into docs/speed.md."""

from __future__ import annotations

import sys
from pathlib import Path

from tests.benchmarks import commands, growth, growth_chart, large_networks, loading, many_states, one_house
from tests.benchmarks.timing import put_into

PAGE = Path(__file__).parents[2] / "docs" / "speed.md"


def main() -> None:
    """Run everything."""
    texts = []
    write = "--write" in sys.argv[1:]
    for make in (
        many_states.table,
        large_networks.table,
        one_house.table,
        growth.table,
        growth.table_by_states,
        loading.table,
        commands.table,
    ):
        made = make()
        texts.append(made.markdown())
        if write and make is growth.table:
            growth_chart.draw(made)
            texts.append("![Time for each state against openings, both engines](pictures/growth.png)\n")
        print(texts[-1], flush=True)
    if write:
        put_into(PAGE, "\n".join(texts))


if __name__ == "__main__":
    main()
