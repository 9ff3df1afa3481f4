"""``ventplan place``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.options import (
    ANSWER,
    LIMITS,
    AsJson,
    ClearAim,
    CoolAim,
    FansAllowed,
    FansAtOnce,
    HouseFile,
    IndoorText,
    KeepOut,
    KeepShut,
    MorningTime,
    NightWeather,
    OutdoorText,
    QuietLevel,
    RoomAim,
    SaveAs,
    ScenarioName,
    ShowUnits,
    Sure,
    TargetAim,
    WholeHouseAim,
    WindText,
    clock_h,
    flag,
    level_db,
    one_aim,
    option,
    scenario_of,
)
from ventplan.cli.output import save_plans
from ventplan.errors import InputError

if TYPE_CHECKING:
    from ventplan.advice.search import Constraints
    from ventplan.airing.safety import Hazard
    from ventplan.house.records import House, Scenario
    from ventplan.house.units import System


class Cost(StrEnum):
    """What to spend least of."""

    power = "power"
    noise = "noise"


WEATHER, COSTS = "Over many hours of weather", "What more air costs"


def place(
    house: HouseFile,
    target: TargetAim = None,
    room: RoomAim = None,
    whole_house: WholeHouseAim = False,
    clear: ClearAim = None,
    cool: CoolAim = None,
    weather: NightWeather = None,
    by: MorningTime = "6:00",
    fan: FansAllowed = None,
    fans_at_once: FansAtOnce = 1,
    fans_outdoors: Annotated[bool, flag("--fans-outdoors", "Let fans stand outdoors too.", LIMITS)] = False,
    quiet: QuietLevel = None,
    keep_out: KeepOut = None,
    keep_shut: KeepShut = None,
    over: Annotated[
        Path | None,
        option("--over", "CSV", "Best plan over all hours of this weather file.", WEATHER),
    ] = None,
    wind_rose: Annotated[
        Path | None,
        option("--wind-rose", "CSV", "Best plan over the winds of this table, each by its share of the time.", WEATHER),
    ] = None,
    groups: Annotated[
        int | None,
        option("--groups", "N", "How many representative conditions stand for all; 8 if left out.", WEATHER, min=1),
    ] = None,
    every_hour: Annotated[
        bool, flag("--every-hour", "Judge the plans in every row of the file, not by groups.", WEATHER)
    ] = False,
    least: Annotated[
        Cost | None,
        typer.Option(
            "--least",
            help="Compare every fan on every setting by the air it brings and its power or noise.",
            rich_help_panel=COSTS,
        ),
    ] = None,
    at_least: Annotated[
        float | None,
        option(
            "--at-least", "N", "With --least: outdoor air changes an hour that are enough (m3/s for --target).", COSTS
        ),
    ] = None,
    scenario: ScenarioName = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    indoor: IndoorText = None,
    details: Annotated[
        bool, flag("--details", "Add how exactly each fan must stand, and what limits each plan.", ANSWER)
    ] = False,
    sure: Sure = None,
    save_as: SaveAs = None,
    plan: Annotated[
        int,
        option("--plan", "N", "Which plan --save-as writes.", ANSWER, min=1),
    ] = 1,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Find where to put which fan, facing which way, how far back, and what to open and shut.

    Example: ventplan place house_examples/bungalow.yaml --room "front bedroom"
    """
    from ventplan.advice import place as find_place
    from ventplan.advice import trade_off
    from ventplan.advice.placement import cool_nights
    from ventplan.advice.search import Constraints
    from ventplan.airing.hazards import find_hazards
    from ventplan.airing.weather_files import read_weather
    from ventplan.cli import EXIT_STOPPED
    from ventplan.cli.output import console, print_json, progress_line, units_for
    from ventplan.house import read_house
    from ventplan.show.place_tables import cool_nights_view, place_view, trade_off_view

    unasked = not whole_house and (target, room, clear, cool) == (None,) * 4
    whole_house = whole_house or unasked
    one_aim({"--target": target, "--room": room, "--whole-house": whole_house, "--clear": clear, "--cool": cool})
    if at_least is not None and least is None:
        raise InputError("--at-least goes with --least power or --least noise")
    if at_least is not None and not at_least > 0.0:
        raise InputError(f"--at-least {at_least:g}: it must be above zero")
    if least is not None and (clear or cool):
        raise InputError("--least goes with --target, --room or --whole-house")
    if weather is not None and cool is None and over is None and wind_rose is None:
        raise InputError("--weather goes with --cool ROOM")
    if cool is not None and weather is None and over is None and wind_rose is None:
        raise InputError("--cool needs the weather of the night: --weather CSV, hour by hour (see docs/airing.md)")
    by_hour = clock_h(by, "--by")
    read = read_house(house)
    if wanted := next((name for name in (room, clear, cool) if name is not None and name in (keep_out or ())), None):
        raise InputError(f"--keep-out {wanted} shuts the room that you ask about; leave one of them out")
    state = scenario_of(read, scenario, wind=wind, outdoor=outdoor, indoor=indoor)
    system = units_for(read, show)
    screen = console()
    rules = Constraints(
        frozenset(keep_shut or ()), frozenset(keep_out or ()), None if quiet is None else level_db(quiet, "--quiet")
    )
    if unasked and not as_json:
        screen.print("No objective given: --whole-house is used. See --help for others.")
        screen.print()
    week = None
    if cool is not None and over is not None and wind_rose is None:
        weather = week = over
        needs = {"--groups": groups, "--every-hour": every_hour or None}
        if given := [name for name, value in needs.items() if value is not None]:
            raise InputError(f"{' and '.join(given)} do not go with --cool, which goes through every night by itself")
    elif over is not None or wind_rose is not None:
        needs_one_weather({"--cool": cool, "--weather": weather, "--least": least, "--sure": sure})
        place_over_weather(
            read,
            state,
            over=over,
            wind_rose=wind_rose,
            groups=groups,
            every_hour=every_hour,
            target=target,
            room=room,
            whole_house=whole_house,
            clear=clear,
            fans=fan or None,
            fans_at_once=fans_at_once,
            fans_outdoors=fans_outdoors,
            constraints=rules,
            as_json=as_json,
            system=system,
        )
        return
    if every_hour or groups is not None:
        raise InputError("--groups and --every-hour go with --over or --wind-rose")
    if least is not None:
        costs = trade_off(
            read,
            state,
            cost=least.value,
            at_least=at_least,
            room=room,
            whole_house=whole_house,
            target=target,
            fans=fan or None,
            fans_at_once=fans_at_once,
        )
        if as_json:
            print_json("place", costs)
            return
        for part in trade_off_view(read, costs, system):
            screen.print(part)
        return
    with progress_line("searching") as progress:
        answer = find_place(
            read,
            state,
            target=target,
            room=room,
            whole_house=whole_house,
            clear=clear,
            cool=cool,
            weather=read_weather(weather) if weather is not None else None,
            by_hour=by_hour,
            fans=fan or None,
            fans_at_once=fans_at_once,
            fans_outdoors=fans_outdoors,
            constraints=rules,
            details=details or as_json,
            progress=progress,
        )
    found = [wanted_cautions(find_hazards(read, one.scenario, one.flow)) for one in answer.plans]
    nights = () if week is None else cool_nights(read, state, answer.plans[0], answer.objective, read_weather(week))
    saved = None
    if save_as is not None and not answer.stopped:
        if plan > len(answer.plans):
            raise InputError(f"--plan {plan}: the search gave {len(answer.plans)}; choose one of them")
        save_plans(house, read, state.name, {save_as: answer.plans[plan - 1].scenario})
        look = f"See what it does: ventplan flow {house} --scenario '{save_as}'"
        saved = f"Saved in {house} as the scenario {save_as!r}. {look}"
    odds = None
    if sure is not None:
        from ventplan.advice.comparison import how_sure

        with progress_line("how sure") as progress:
            odds = how_sure(read, answer.objective, answer.plans, work=sure, progress=progress)
    if as_json:
        result: dict[str, object] = {"answer": answer, "cautions": found}
        if week is not None:
            result["nights"] = nights
        print_json("place", result if odds is None else {**result, "sure": odds})
        if answer.stopped:
            raise typer.Exit(EXIT_STOPPED)
        return
    one_of = len(fan or [name for name, one in read.fans.items() if not one.stays_at]) if fans_at_once == 1 else 1
    for part in place_view(read, answer, found, system, details=details, one_of=one_of):
        screen.print(part)
    for part in cool_nights_view(answer.plans[0], nights, system):
        screen.print(part)
    if odds is not None:
        from ventplan.show.comparison_tables import plans_sure_view

        for part in plans_sure_view(odds, system):
            screen.print(part)
    if saved:
        screen.print(saved, markup=False)
    if answer.stopped:
        raise typer.Exit(EXIT_STOPPED)


def wanted_cautions(hazards: Sequence[Hazard]) -> tuple[Hazard, ...]:
    """Hazards without draughts faster than the draught rate was made for, in air that is not cool: a wanted breeze.

    Parameters
    ----------
    hazards
        All of a state.
    """
    from ventplan.airing.comfort import DRAUGHT_C, DRAUGHT_M_S
    from ventplan.airing.safety import HazardCode

    return tuple(
        one
        for one in hazards
        if one.code != HazardCode.DRAUGHT
        or one.numbers["speed_m_s"] <= DRAUGHT_M_S
        or one.numbers["temperature_c"] < DRAUGHT_C[0]
    )


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

    for name, value in given.items():
        if value is not None:
            night = name in ("--cool", "--weather")
            instead = "give the night alone, --weather with --cool" if night else "say --wind and --outdoor"
            raise InputError(
                f"{name} does not go with --over or --wind-rose, since it needs one "
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
        DEFAULT_GROUPS,
        hourly_conditions,
        place_over,
        read_wind_rose,
        when_opening_helps,
    )
    from ventplan.airing import Note, NoteCode
    from ventplan.airing.hazards import find_hazards
    from ventplan.airing.weather_files import read_weather
    from ventplan.cli.output import console, print_json, progress_line
    from ventplan.errors import InputError
    from ventplan.network import solve
    from ventplan.show.place_tables import over_view

    if over is not None and wind_rose is not None:
        raise InputError("give hourly weather (--over) or a wind rose (--wind-rose), not both")
    notes: tuple[Note, ...] = ()
    if over is not None:
        hours = read_weather(over)
        conditions, counted = when_opening_helps(house, state, hourly_conditions(hours, state.outdoors))
        notes = (*hours.notes, Note(NoteCode.HOURS_COUNTED, numbers={"share": counted}))
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
            groups=DEFAULT_GROUPS if groups is None else groups,
            hour_by_hour=every_hour,
            progress=progress,
        )
    best, found = answer.plans[0], dict[tuple[str, tuple[str, ...]], "Hazard"]()
    for group in answer.groups:
        fans_there = (*best.placements, *answer.base.placements)
        there = replace(answer.base, shares=best.shares, placements=fans_there, outdoors=group.condition.outdoors)
        for hazard in wanted_cautions(find_hazards(house, there, solve(house, there))):
            found.setdefault((hazard.code, hazard.names), hazard)
    if as_json:
        print_json("place", {"over_weather": answer, "cautions": list(found.values()), "notes": notes})
        return
    screen = console()
    for part in over_view(house, answer, tuple(found.values()), notes, system):
        screen.print(part)
