"""``ventplan compare``."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from ventplan.cli.options import AsJson, HouseFile, Replace, ShowUnits
from ventplan.cli.picture import Picture, check_picture, save_picture
from ventplan.cli.question import OutdoorText, WindText


def compare(
    house: HouseFile,
    scenarios: Annotated[
        list[str], typer.Argument(metavar="SCENARIO...", help="Two or more scenarios.", show_default=False)
    ],
    wind: WindText = None,
    outdoor: OutdoorText = None,
    output: Picture = None,
    replace: Replace = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Put scenarios side by side, and say what explains the difference from the first.

    Example: ventplan compare house_examples/bungalow.yaml evening "evening, no screens"
    """
    from ventplan.advice import compare as put_side_by_side
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.cli.question import open_house, scenario_of
    from ventplan.errors import InputError

    check_picture(output, replace=replace)
    read = open_house(house)
    if len(scenarios) < 2:
        others = ", ".join(repr(name) for name in read.scenarios if name not in scenarios) or "none yet"
        raise InputError(f"compare takes two or more scenarios, and found {scenarios[0]!r} alone; others: {others}")
    states = [scenario_of(read, name, wind=wind, outdoor=outdoor) for name in scenarios]
    answer = put_side_by_side(read, states)

    def figure() -> Any:
        from ventplan.show.charts import comparison_chart

        return comparison_chart(answer, title=f"{read.name}: {len(states)} scenarios", system=units_for(read, show))

    if as_json:
        print_json("compare", answer)
        save_picture(output, figure, quiet=True)
        return
    from ventplan.show.comparison_tables import compare_view

    screen = console()
    for part in compare_view(read, answer, units_for(read, show)):
        screen.print(part)
    save_picture(output, figure, quiet=False)
