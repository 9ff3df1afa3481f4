"""What the options of ``ventplan clear`` say is in the air."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from ventplan.cli.measure_common import LEAST, quantity, within
from ventplan.errors import InputError, InvalidValue, unknown_name

if TYPE_CHECKING:
    from ventplan.airing.clearing import Release
    from ventplan.house.records import House

_LEVEL = re.compile(r"\s*(?P<number>[+-]?\d+(?:[.,]\d+)?)\s*(?P<unit>.*?)\s*")


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
        return share_released(where, limit=share), f"what is in {', '.join(where)}, down to {share:.0%}"
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
