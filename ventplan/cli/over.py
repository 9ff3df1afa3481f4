"""``ventplan place`` over many kinds of weather."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ventplan.advice.search import Constraints
    from ventplan.house.records import House, Scenario
    from ventplan.house.units import System


def needs_one_weather(given: Mapping[str, object]) -> None:
    """Refuse what cannot be asked over many kinds of weather.

    Parameters
    ----------
    given
        Options that need one night or one kind of weather, and what they were given; None where they were not.

    Raises
    ------
    InputError
        For the first one given.
    """
    from ventplan.errors import InputError

    for option, value in given.items():
        if value is not None:
            night = option in ("--cool", "--weather")
            instead = "give the night alone, --weather with --cool" if night else "say --wind and --outdoor"
            raise InputError(
                f"{option} does not go with --over or --wind-rose, since it needs one "
                f"{'night' if night else 'kind of weather'}; {instead} instead"
            )


def place_over_weather(
    house: House,
    state: Scenario,
    *,
    over: Path | None,
    wind_rose: Path | None,
    groups: int | None,
    every_hour: bool,
    target: str | None,
    room: str | None,
    whole_house: bool,
    clear: str | None,
    fans: list[str] | None,
    fans_at_once: int,
    fans_outdoors: bool,
    constraints: Constraints,
    as_json: bool,
    system: System,
) -> None:
    """Read the weather, search, and print.

    Raises
    ------
    InputError
        Where both a weather file and a wind rose are given, or one has errors.
    """
    from dataclasses import replace

    from ventplan.advice.weather_placement import (
        GROUPS,
        hourly_conditions,
        place_over,
        read_wind_rose,
        when_opening_helps,
    )
    from ventplan.airing.hazard import Hazard
    from ventplan.airing.hazards import find_hazards
    from ventplan.airing.weather import read_weather
    from ventplan.cli.output import console, print_json, progress_line
    from ventplan.errors import InputError
    from ventplan.network import solve
    from ventplan.show.cautions import cautions_of
    from ventplan.show.place_tables import over_view

    if over is not None and wind_rose is not None:
        raise InputError("give hourly weather (--over) or a wind rose (--wind-rose), not both")
    notes: tuple[str, ...] = ()
    if over is not None:
        hours = read_weather(over)
        conditions, counted = when_opening_helps(house, state, hourly_conditions(hours, state.outdoors))
        notes = (
            *hours.notes,
            f"{counted:.0%} of the time counts: when it is no warmer outdoors than indoors, dry, and no storm",
        )
    else:
        conditions = read_wind_rose(wind_rose or Path(), state.outdoors)
    with progress_line("searching") as progress:
        answer = place_over(
            house,
            conditions,
            state,
            target=target,
            room=room,
            whole_house=whole_house,
            clear=clear,
            fans=fans,
            fans_at_once=fans_at_once,
            fans_outdoors=fans_outdoors,
            constraints=constraints,
            groups=GROUPS if groups is None else groups,
            hour_by_hour=every_hour,
            progress=progress,
        )
    best, found = answer.plans[0], dict[tuple[str, tuple[str, ...]], Hazard]()
    for group in answer.groups:
        fans_there = (*best.placements, *answer.base.placements)
        there = replace(answer.base, shares=best.shares, placements=fans_there, outdoors=group.condition.outdoors)
        for hazard in find_hazards(house, there, solve(house, there)):
            found.setdefault((hazard.code, hazard.names), hazard)
    if as_json:
        print_json("place", {"over_weather": answer, "cautions": list(found.values()), "notes": notes})
        return
    screen = console()
    for part in over_view(house, answer, cautions_of(found.values(), system), notes, system):
        screen.print(part)
