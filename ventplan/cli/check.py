"""``ventplan check``."""

from __future__ import annotations

from ventplan.cli.options import AsJson, HouseFile, ShowUnits


def check(house: HouseFile, as_json: AsJson = False, show: ShowUnits = None) -> None:
    """Read a house file: every error at once, or what is in it and what was assumed.

    Example: ventplan check house_examples/bungalow.yaml
    """
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.cli.question import open_house

    read = open_house(house)
    if as_json:
        print_json("check", read)
        return
    from ventplan.show.flow_tables import check_view

    screen = console()
    for part in check_view(read, units_for(read, show)):
        screen.print(part)
