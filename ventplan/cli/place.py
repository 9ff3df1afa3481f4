"""``ventplan place``."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.options import (
    AsJson,
    HouseFile,
    IndoorText,
    OutdoorText,
    SaveAs,
    ScenarioName,
    ShowUnits,
    Sure,
    WindText,
    one_aim,
    scenario_of,
)
from ventplan.cli.save_plan import save_plan
from ventplan.errors import InputError

if TYPE_CHECKING:
    from ventplan.advice.search import Constraints
    from ventplan.house.records import House, Scenario
    from ventplan.house.units import System


class Cost(StrEnum):
    """What to spend least of."""

    power = "power"
    noise = "noise"


def place(
    house: HouseFile,
    target: Annotated[
        str | None, typer.Option("--target", metavar="OPENING", help="most air through this opening.")
    ] = None,
    room: Annotated[str | None, typer.Option("--room", metavar="ROOM", help="most air change for this room.")] = None,
    whole_house: Annotated[bool, typer.Option("--whole-house", help="most air change for the worst room.")] = False,
    clear: Annotated[
        str | None,
        typer.Option("--clear", metavar="ROOM", help="this room cleared of smoke or smell soonest."),
    ] = None,
    cool: Annotated[
        str | None,
        typer.Option("--cool", metavar="ROOM", help="this room coolest by morning; needs --weather."),
    ] = None,
    weather: Annotated[
        Path | None, typer.Option("--weather", metavar="CSV", help="Hourly weather of the night, for --cool.")
    ] = None,
    by_hour: Annotated[float, typer.Option("--by", metavar="HOUR", help="Hour of the morning, for --cool.")] = 6.0,
    fan: Annotated[
        list[str] | None, typer.Option("--fan", metavar="FAN", help="Try only this fan; may be repeated.")
    ] = None,
    fans_at_once: Annotated[
        int, typer.Option("--fans-at-once", metavar="N", help="How many fans run together, 1 to 3.")
    ] = 1,
    fans_outdoors: Annotated[bool, typer.Option("--fans-outdoors", help="Let fans stand outdoors too.")] = False,
    quiet: Annotated[
        float | None,
        typer.Option("--quiet", metavar="DB", help="Loudest sound of the fans where people sleep, in dB(A), as 40."),
    ] = None,
    keep_out: Annotated[
        list[str] | None,
        typer.Option("--keep-out", metavar="ROOM", help="No fan in this room, and its doors and windows shut."),
    ] = None,
    keep_shut: Annotated[
        list[str] | None, typer.Option("--keep-shut", metavar="OPENING", help="This stays shut; may be repeated.")
    ] = None,
    least: Annotated[
        Cost | None, typer.Option("--least", help="Show what more air costs, in power or noise, on every fan setting.")
    ] = None,
    at_least: Annotated[
        float | None,
        typer.Option(
            "--at-least", metavar="N", help="With --least: air changes an hour that will do (m3/s at a target)."
        ),
    ] = None,
    over: Annotated[
        Path | None, typer.Option("--over", metavar="CSV", help="Best over all hours of this hourly weather.")
    ] = None,
    wind_rose: Annotated[
        Path | None, typer.Option("--wind-rose", metavar="CSV", help="Best over the winds of this table.")
    ] = None,
    groups: Annotated[
        int | None,
        typer.Option(
            "--groups",
            metavar="N",
            min=1,
            help="With --over or --wind-rose: conditions that stand for all, 8 if left out.",
        ),
    ] = None,
    every_hour: Annotated[
        bool, typer.Option("--every-hour", help="With --over or --wind-rose: judge the plans in every single row.")
    ] = False,
    save_as: SaveAs = None,
    plan: Annotated[
        int, typer.Option("--plan", metavar="N", min=1, help="With --save-as: which plan, 1 if left out.")
    ] = 1,
    scenario: ScenarioName = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    indoor: IndoorText = None,
    sure: Sure = None,
    details: Annotated[
        bool, typer.Option("--details", help="Add how exactly each fan must stand, and what limits each plan.")
    ] = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Suggest where to put which fan, facing which way, how far back, and what to open and shut.

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

    whole_house, unasked = (True, True) if (target, room, clear, cool) == (None,) * 4 else (whole_house, False)
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
    if not 0.0 <= by_hour < 24.0:
        raise InputError(f"--by {by_hour:g}: an hour of the day from 0 to 23")
    read = read_house(house)
    if wanted := next((name for name in (room, clear, cool) if name is not None and name in (keep_out or ())), None):
        raise InputError(f"--keep-out {wanted} shuts the room that you ask about; leave one of them out")
    state = scenario_of(read, scenario, wind=wind, outdoor=outdoor, indoor=indoor)
    system = units_for(read, show)
    screen = console()
    rules = Constraints(frozenset(keep_shut or ()), frozenset(keep_out or ()), quiet)
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
    if unasked and not as_json:
        screen.print("No objective given: --whole-house is used. See --help for others.")
        screen.print()
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
    found = [find_hazards(read, one.scenario, one.flow) for one in answer.plans]
    nights = () if week is None else cool_nights(read, state, answer.plans[0], answer.aim, read_weather(week))
    saved = None
    if save_as is not None and not answer.stopped:
        if plan > len(answer.plans):
            raise InputError(f"--plan {plan}: the search gave {len(answer.plans)}; choose one of them")
        saved = save_plan(house, read, state.name, answer.plans[plan - 1].scenario, save_as)
    odds = None
    if sure is not None:
        from ventplan.advice.comparison import how_sure

        with progress_line("how sure") as progress:
            odds = how_sure(read, answer.aim, answer.plans, work=sure, progress=progress)
    if as_json:
        result: dict[str, object] = {"answer": answer, "cautions": found}
        if week is not None:
            result["nights"] = nights
        print_json("place", result if odds is None else {**result, "sure": odds})
        if answer.stopped:
            raise typer.Exit(EXIT_STOPPED)
        return
    for part in place_view(read, answer, found, system, details=details):
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
    from ventplan.airing import Note, NoteCode
    from ventplan.airing.hazards import find_hazards
    from ventplan.airing.safety import Hazard
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
    for part in over_view(house, answer, tuple(found.values()), notes, system):
        screen.print(part)
