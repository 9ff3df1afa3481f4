"""``ventplan clear``."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from ventplan.cli.measure_options import LEAST, new_file, quantity, within
from ventplan.cli.options import AsJson, HouseFile, ShowUnits
from ventplan.cli.picture import Picture, check_picture, save_picture
from ventplan.cli.question import OutdoorText, WindText
from ventplan.cli.save import Replace, Save


def clear(
    house: HouseFile,
    room: Annotated[
        list[str] | None,
        typer.Option(
            "--from", metavar="ROOM", help="Where it is at the start; may be repeated; the first room if left out."
        ),
    ] = None,
    to: Annotated[str, typer.Option("--to", metavar="SHARE", help="Share of the start to fall below.")] = "5 %",
    breath: Annotated[
        bool, typer.Option("--breath", help="Follow the carbon dioxide of the people in the house instead.")
    ] = False,
    start: Annotated[float, typer.Option("--start", metavar="PPM", help="With --breath: where it starts.")] = 1800.0,
    below: Annotated[float, typer.Option("--below", metavar="PPM", help="With --breath: what to fall below.")] = 1000.0,
    scenario: Annotated[
        list[str] | None,
        typer.Option("--scenario", metavar="NAME", help="A plan to compare; may be repeated; all if left out."),
    ] = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    output: Picture = None,
    save: Save = None,
    replace: Replace = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Minutes until each room is clear of smoke, paint or stale air, and where it goes on its way out.

    Example: ventplan clear house_examples/bungalow.yaml --from kitchen --to "5 %"
    """
    from ventplan.airing.answers import breath as breath_of
    from ventplan.airing.answers import clear_house, share_released
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.cli.question import open_house, scenario_of
    from ventplan.cli.save import save_clearing
    from ventplan.show.airing_tables import clearing_view

    check_picture(output)
    read = open_house(house)
    plans = [scenario_of(read, name, wind=wind, outdoor=outdoor) for name in scenario or read.scenarios]
    share = quantity(
        to, "share", "--to", lowest=LEAST, highest=0.999, hint="It is a share of what is there at the start"
    )
    within(start, "--start", lowest=0.0, highest=100_000.0)
    within(below, "--below", lowest=LEAST, highest=100_000.0)
    if save is not None:
        new_file(save, replace=replace)
    rooms = room or [next(iter(read.rooms))]
    release = breath_of(read, start_ppm=start, limit_ppm=below) if breath else share_released(rooms, limit=share)
    answers = clear_house(read, plans, release)
    if save is not None:
        save_clearing(save, answers, unit="ppm" if breath else "share of the start")
    people = f"the carbon dioxide of people, from {start:.0f} to {below:.0f} ppm"
    what = people if breath else f"what is in {', '.join(rooms)}, down to {share:.0%}"

    def figure() -> Any:
        from ventplan.show.charts_time import clearings_chart

        title = f"{'Carbon dioxide' if breath else 'What is left'} in {rooms[0]}, plan by plan"
        if len(plans) == 1:
            title = f"{plans[0].name}: " + ("carbon dioxide" if breath else f"what began in {', '.join(rooms)}")
        words = "Carbon dioxide, ppm" if breath else "Share of the start"
        return clearings_chart(answers, rooms=rooms, limit=below if breath else share, title=title, words=words)

    if as_json:
        print_json("clear", {"release": release, "plans": answers})
        save_picture(output, figure, quiet=True)
        return
    screen = console()
    screen.print(read.name)
    for part in clearing_view(answers, what, unit=release.unit, system=units_for(read, show)):
        screen.print(part)
    if save is not None:
        screen.print(f"Over time: {save}")
    save_picture(output, figure, quiet=False)
