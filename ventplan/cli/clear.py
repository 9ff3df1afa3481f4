"""``ventplan clear``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from ventplan.cli.measure_common import LEAST, quantity, within
from ventplan.cli.options import (
    STATE,
    AsJson,
    HouseFile,
    OutdoorText,
    Picture,
    Replace,
    Save,
    ShowUnits,
    WindText,
    flag,
    option,
    scenario_of,
)
from ventplan.cli.output import check_picture, save_picture
from ventplan.errors import InputError, InvalidValue, unknown_name
from ventplan.files import check_new_file

if TYPE_CHECKING:
    from ventplan.airing.clearing import HouseClearing, Release
    from ventplan.house.records import House

_LEVEL = re.compile(r"\s*(?P<number>[+-]?\d+(?:[.,]\d+)?)\s*(?P<unit>.*?)\s*")


def clear(
    house: HouseFile,
    room: Annotated[
        list[str] | None,
        option("--from", "ROOM", "Room to clear; may be repeated; the first room if left out."),
    ] = None,
    to: Annotated[
        str | None,
        option("--to", "SHARE", "Share of the start to fall below, such as 5 %, the default."),
    ] = None,
    breath: Annotated[bool, flag("--breath", "Follow the carbon dioxide of the people in the house instead.")] = False,
    start: Annotated[
        str | None,
        option("--start", "LEVEL", 'Level at the start, such as "300 µg/m3"; 1800 ppm for --breath.'),
    ] = None,
    below: Annotated[
        str | None,
        option("--below", "LEVEL", "Level to fall below instead of --to; 1000 ppm for --breath."),
    ] = None,
    outdoors: Annotated[
        str | None,
        option("--outdoors", "LEVEL", "Level outdoors; 0 if left out, 420 ppm for --breath."),
    ] = None,
    age: Annotated[
        bool, flag("--age", "Add the age of the air in each room, and the rooms that it has passed.")
    ] = False,
    scenario: Annotated[
        list[str] | None,
        option("--scenario", "NAME", "A scenario to compare; may be repeated; all if left out.", STATE),
    ] = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    output: Picture = None,
    save: Save = None,
    replace: Replace = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Compute how long until each room is clear of smoke, paint or stale air, and which way it leaves.

    Example: ventplan clear house_examples/bungalow.yaml --from kitchen --to "5 %"
    """
    from ventplan.airing.clearing import clear_house
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.house import read_house
    from ventplan.show.airing_tables import clearing_view

    check_picture(output, replace=replace)
    read = read_house(house)
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
            title = f"{plans[0].name}: " + (
                "carbon dioxide" if breath else f"what is left of a release in {', '.join(rooms)}"
            )
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
        answers,
        what if asked or not age else "",
        release=release,
        system=units_for(read, show),
        age=age,
    ):
        screen.print(part)
    if save is not None:
        screen.print(f"Over time: {save}")
    save_picture(output, figure, quiet=False)


def save_clearing(path: Path, answers: Sequence[HouseClearing], *, unit: str) -> None:
    """Write the concentration in every room in each plan over time; each plan has times of its own."""
    from ventplan.cli.output import write_csv

    heads = ["plan", "time [min]"]
    rooms = list(answers[0].clearing.rooms)
    heads += [f"{room} [{unit}]" for room in rooms]
    rows = [
        [answer.scenario, f"{second / 60.0:.4g}", *(f"{level:.5g}" for level in levels)]
        for answer in answers
        for second, levels in zip(answer.clearing.times_s, answer.clearing.concentrations, strict=True)
    ]
    write_csv(path, heads, rows)


def release_of(
    house: House,
    *,
    rooms: Sequence[str] | None,
    to: str | None,
    breath: bool,
    start: str | None,
    below: str | None,
    outdoors: str | None,
) -> tuple[Release, str]:
    """What is released, and how to say it.

    Parameters
    ----------
    house
        The house.
    rooms
        Where it is at the start; the first room if None.
    to
        Share of the start to fall below.
    breath
        True to follow the carbon dioxide of people.
    start, below, outdoors
        Levels in one unit: at the start, to fall below, outdoors.

    Returns
    -------
    tuple
        The release, and what it is in words.

    Raises
    ------
    InputError
        For options that do not go together, and levels that make no sense.
    """
    from ventplan.airing.clearing import OUTDOOR_CO2_PPM, Release, share_released
    from ventplan.airing.clearing import breath as breath_of

    if breath and (rooms or to):
        raise InputError(
            "--from and --to do not go with --breath: people are where the house file says, limits are ppm"
        )
    if not breath and (start is None) != (below is None):
        raise InputError("--start and --below go together (or take --to, a share of the start)")
    if below is not None and to is not None:
        raise InputError("--to and --below both say what to fall below: take one")
    if outdoors is not None and not breath and below is None:
        raise InputError("--outdoors goes with --start and --below, or with --breath")
    unit = _unit_of([start, below, outdoors])
    if breath and unit not in ("", "ppm"):
        raise InputError(f"levels in {unit}: with --breath they are in ppm")
    where = list(rooms or [next(iter(house.rooms))])
    for name in where:
        if name not in house.rooms:
            raise unknown_name("room", name, house.rooms)
    if not breath and (start is None or below is None):
        share = quantity(
            to or "5 %",
            "share",
            "--to",
            lowest=LEAST,
            highest=0.999,
            hint=f'It is a share of what is there at the start: write "{to} %"'
            if (to or "").strip().replace(".", "", 1).isdigit()
            else "It is a share of what is there at the start",
        )
        return share_released(where, limit=share), f"what is in {', '.join(where)}, down to {100.0 * share:g} %"
    first = _level(start or "1800", "--start", lowest=0.0)
    limit = _level(below or "1000", "--below", lowest=LEAST)
    around = _level(outdoors or (f"{OUTDOOR_CO2_PPM:g}" if breath else "0"), "--outdoors", lowest=0.0)
    span = f"from {first:g} to {limit:g} {unit or ('ppm' if breath else '')}".rstrip()
    if breath:
        release = breath_of(house, start_ppm=first, limit_ppm=limit, outdoor_ppm=around)
        return release, f"the carbon dioxide of people, {span}"
    start_at = dict.fromkeys(where, first)
    return Release(start=start_at, outdoors=around, limit=limit, unit=unit), f"what is in {', '.join(where)}, {span}"


def _level(text: str, option: str, *, lowest: float) -> float:
    found = _LEVEL.fullmatch(text)
    if found is None:
        raise InputError([InvalidValue(option, f'"{text}"', "a level such as 35 µg/m3 or 1000 ppm")])
    return within(float(found["number"].replace(",", ".")), option, lowest=lowest, highest=100_000.0, said=text)


def _unit_of(levels: Sequence[str | None]) -> str:
    """The one unit of the levels; none where none is said."""
    units = {found["unit"] for text in levels if text is not None and (found := _LEVEL.fullmatch(text))} - {""}
    if len(units) > 1:
        raise InputError(f"levels in {' and '.join(sorted(units))}: give them all in one unit")
    return units.pop() if units else ""
