"""Scenarios side by side, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ventplan.advice.comparison import Comparison, outdoor_air
from ventplan.house.records import House
from ventplan.house.shown import fixed, show, shown_unit
from ventplan.house.units import System
from ventplan.show.airing_tables import caution_lines
from ventplan.show.tables import number, paragraphs, rate_words, table

if TYPE_CHECKING:
    from rich.console import RenderableType


def compare_view(house: House, comparison: Comparison, system: System) -> Iterator[RenderableType]:
    """Everything that ``ventplan compare`` prints: one column a scenario."""
    from rich.text import Text

    names = [one.scenario for one in comparison.scenarios]
    flows = [one.flow for one in comparison.scenarios]
    first = outdoor_air(flows[0])
    yield Text(f"{house.name}: {len(names)} scenarios", style="bold")
    for i, name in enumerate(names):
        yield Text(f"  {chr(ord('A') + i)}  {name}")
    heads = [chr(ord("A") + i) for i in range(len(names))]
    unit = shown_unit("flow", system)
    busy = [n for n in house.openings if any(abs(f.openings[n].net_m3_s) >= 5e-4 for f in flows if n in f.openings)]
    rows = []
    for name in busy:
        a, b = house.openings[name].joins
        cells = [number(f.openings[name].net_m3_s, "flow", system) if name in f.openings else "–" for f in flows]
        rows.append((name, f"{a} to {b}", *cells))
    yield table(
        f"Net flow at openings ({unit}), negative for the other way", ("opening", "from, to", *heads), rows, words=2
    )
    yield table(
        "Effective air changes an hour (air in circles does not count)",
        ("room", *heads),
        [
            (room, *(rate_words(one.effective_air_change_per_h.get(room, 0.0)) for one in comparison.scenarios))
            for room in house.rooms
        ],
    )
    totals = [outdoor_air(flow) for flow in flows]
    rows = [("air from outdoors, " + unit, *(number(total, "flow", system) for total in totals))]
    if first > 1e-9:
        rows.append(("against A", *(fixed(total / first, 2) for total in totals)))
    for index in range(max(len(flow.fans) for flow in flows)):
        cells = [fixed(flow.fans[index].ratio, 2) if index < len(flow.fans) else "–" for flow in flows]
        rows.append((f"fan {index + 1}: opening over blades", *cells))
    yield table("House", ("", *heads), rows)
    if comparison.differences:
        yield paragraphs(
            "What explains the difference from A (each change made alone)",
            (
                f"{heads[names.index(d.scenario)]}: {d.change}: {show(d.flow_m3_s, 'flow', system)} "
                "of air from outdoors"
                for d in comparison.differences
            ),
        )
    yield from caution_lines(
        {head: one.cautions for head, one in zip(heads, comparison.scenarios, strict=True)}, system
    )
