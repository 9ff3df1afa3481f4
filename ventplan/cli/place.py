"""``ventplan place``."""

from __future__ import annotations

from typing import Annotated

import typer

from ventplan.cli.options import AsJson, HouseFile, ScenarioName, ShowUnits
from ventplan.cli.question import OutdoorText, WindText


def place(
    house: HouseFile,
    target: Annotated[
        str | None, typer.Option("--target", metavar="OPENING", help="Aim: most air through this opening.")
    ] = None,
    room: Annotated[
        str | None, typer.Option("--room", metavar="ROOM", help="Aim: most fresh air for this room.")
    ] = None,
    whole_house: Annotated[bool, typer.Option("--whole-house", help="Aim: most fresh air for the worst room.")] = False,
    fan: Annotated[
        list[str] | None, typer.Option("--fan", metavar="FAN", help="Try only this fan; may be repeated.")
    ] = None,
    fans_outdoors: Annotated[bool, typer.Option("--fans-outdoors", help="Let fans stand outdoors too.")] = False,
    scenario: ScenarioName = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Suggest where to put which fan, facing which way, how far back, and what to open and shut.

    Example: ventplan place house_examples/bungalow.yaml --room "front bedroom"
    """
    from ventplan.advice import place as find_place
    from ventplan.airing.cautions import cautions
    from ventplan.cli.output import console, print_json, progress_line, units_for
    from ventplan.cli.question import open_house, scenario_of

    read = open_house(house)
    state = scenario_of(read, scenario, wind=wind, outdoor=outdoor)
    system = units_for(read, show)
    with progress_line("searching") as progress:
        answer = find_place(
            read,
            state,
            target=target,
            room=room,
            whole_house=whole_house,
            fans=fan or None,
            fans_outdoors=fans_outdoors,
            progress=progress,
        )
    found = [cautions(read, plan.scenario, plan.flow, units=system) for plan in answer.plans]
    if as_json:
        print_json("place", {"answer": answer, "cautions": found})
        return
    from ventplan.show.advice_tables import place_view

    screen = console()
    for part in place_view(read, answer, found, system):
        screen.print(part)
