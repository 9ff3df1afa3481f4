"""``ventplan compare``."""

from __future__ import annotations

from typing import Annotated

import typer

from ventplan.cli.options import AsJson, HouseFile, ShowUnits
from ventplan.cli.question import OutdoorText, WindText


def compare(
    house: HouseFile,
    scenarios: Annotated[
        list[str], typer.Argument(metavar="SCENARIO...", help="Two or more scenarios.", show_default=False)
    ],
    wind: WindText = None,
    outdoor: OutdoorText = None,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Put scenarios side by side, and say what explains the difference from the first.

    Example: ventplan compare house_examples/bungalow.yaml evening "evening, no screens"
    """
    from ventplan.advice import compare as put_side_by_side
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.cli.question import open_house, scenario_of

    read = open_house(house)
    states = [scenario_of(read, name, wind=wind, outdoor=outdoor) for name in scenarios]
    answer = put_side_by_side(read, states)
    if as_json:
        print_json("compare", answer)
        return
    from ventplan.show.advice_tables import compare_view

    screen = console()
    for part in compare_view(read, answer, units_for(read, show)):
        screen.print(part)
