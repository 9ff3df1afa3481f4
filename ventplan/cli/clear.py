"""``ventplan clear``."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from ventplan.cli.options import AsJson, HouseFile, Replace, ShowUnits
from ventplan.cli.picture import Picture, check_picture, save_picture
from ventplan.cli.question import OutdoorText, WindText
from ventplan.cli.save import Save
from ventplan.files import check_new_file


def clear(
    house: HouseFile,
    room: Annotated[
        list[str] | None,
        typer.Option(
            "--from", metavar="ROOM", help="Where it is at the start; may be repeated; the first room if left out."
        ),
    ] = None,
    to: Annotated[
        str | None, typer.Option("--to", metavar="SHARE", help="Share of the start to fall below; 5 % if left out.")
    ] = None,
    breath: Annotated[
        bool, typer.Option("--breath", help="Follow the carbon dioxide of the people in the house instead.")
    ] = False,
    start: Annotated[
        str | None,
        typer.Option("--start", metavar="LEVEL", help='Level at the start, as "300 µg/m3"; 1800 ppm with --breath.'),
    ] = None,
    below: Annotated[
        str | None,
        typer.Option("--below", metavar="LEVEL", help="Level to fall below, for --to; 1000 ppm with --breath."),
    ] = None,
    outdoors: Annotated[
        str | None,
        typer.Option("--outdoors", metavar="LEVEL", help="Level outdoors; 420 ppm with --breath, else none."),
    ] = None,
    age: Annotated[
        bool, typer.Option("--age", help="Tell how fresh the air of each room is; with another question, that too.")
    ] = False,
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
    from ventplan.airing.clearing import clear_house
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.cli.question import open_house, scenario_of
    from ventplan.cli.release import release_of
    from ventplan.cli.save import save_clearing
    from ventplan.show.airing_tables import clearing_view

    check_picture(output, replace=replace)
    read = open_house(house)
    plans = [scenario_of(read, name, wind=wind, outdoor=outdoor) for name in scenario or read.scenarios]
    release, what = release_of(read, rooms=room, to=to, breath=breath, start=start, below=below, outdoors=outdoors)
    rooms = list(release.start) or list(release.source)
    if save is not None:
        check_new_file(save, replace=replace)
    answers = clear_house(read, plans, release)
    unit = "share of the start" if release.unit == "of the start" else release.unit
    if save is not None:
        save_clearing(save, answers, unit=unit)

    def figure() -> Any:
        from ventplan.show.charts import clearings_chart

        title = f"{'Carbon dioxide' if breath else 'What is left'} in {rooms[0]}, plan by plan"
        if len(plans) == 1:
            title = f"{plans[0].name}: " + ("carbon dioxide" if breath else f"what began in {', '.join(rooms)}")
        words = f"Carbon dioxide, {unit}" if breath else f"{unit[:1].upper()}{unit[1:]}"
        return clearings_chart(answers, rooms=rooms, limit=release.limit, title=title, words=words)

    if as_json:
        print_json("clear", {"release": release, "plans": answers})
        save_picture(output, figure, quiet=True)
        return
    screen = console()
    screen.print(read.name)
    asked = bool(room or to or breath or start or below or outdoors or output or save)
    for part in clearing_view(
        answers, what if asked or not age else "", unit=release.unit, system=units_for(read, show), age=age
    ):
        screen.print(part)
    if save is not None:
        screen.print(f"Over time: {save}")
    save_picture(output, figure, quiet=False)
