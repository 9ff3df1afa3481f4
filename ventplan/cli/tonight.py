"""``ventplan tonight``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from ventplan.cli.options import (
    LIMITS,
    AsJson,
    FansAllowed,
    FansAtOnce,
    HouseFile,
    IndoorText,
    KeepOut,
    KeepShut,
    Picture,
    QuietLevel,
    Replace,
    SaveAs,
    ScenarioName,
    ShowUnits,
    Sure,
    WindText,
    clock_h,
    level_db,
    option,
    scenario_of,
    temperature_c,
)
from ventplan.cli.output import check_picture, save_picture

if TYPE_CHECKING:
    from ventplan.advice.night_plan import TonightAnswer, TonightQuestion
    from ventplan.airing.weather import Weather
    from ventplan.house.records import House, Scenario

WEATHER, TIMES = "Weather", "Times"
"""Panels of the help."""
BEFORE_BEDTIME_H, AFTER_WAKING_H = 6.0, 5.0


def tonight(
    house: HouseFile,
    high: Annotated[
        str | None,
        option("--high", "TEMP", "Highest outdoor temperature of the day, such as 31C or 88F.", WEATHER),
    ] = None,
    low: Annotated[
        str | None,
        option("--low", "TEMP", "Lowest outdoor temperature of the night, such as 17C or 63F.", WEATHER),
    ] = None,
    weather: Annotated[
        Path | None,
        option("--weather", "CSV", "Hourly weather instead of --high and --low.", WEATHER),
    ] = None,
    bedtime: Annotated[
        str | None,
        option("--bedtime", "TIME", "When people go to bed, such as 22:30 or 10:30 pm.", TIMES),
    ] = None,
    waking: Annotated[str | None, option("--waking", "TIME", "When they get up, such as 7:00.", TIMES)] = None,
    now: Annotated[
        str | None,
        option(
            "--now",
            "TIME",
            "When rooms are as warm as the house file or --indoor says; 6 hours before bedtime if left out.",
            TIMES,
        ),
    ] = None,
    room: Annotated[
        list[str] | None,
        option("--room", "ROOM", "A room to cool; may be repeated; the rooms where people sleep if left out.", LIMITS),
    ] = None,
    quiet: QuietLevel = None,
    keep_out: KeepOut = None,
    keep_shut: KeepShut = None,
    fan: FansAllowed = None,
    fans_at_once: FansAtOnce = 1,
    indoor: IndoorText = None,
    wind: WindText = None,
    scenario: ScenarioName = None,
    save_as: SaveAs = None,
    sure: Sure = None,
    output: Picture = None,
    replace: Replace = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Plan tonight: when to open what, which fan goes where, and how cool the bedroom gets.

    Example: ventplan tonight house_examples/bungalow.yaml --high 31C --low 17C
    """
    from ventplan.advice.tonight import plan_tonight
    from ventplan.airing import Note, NoteCode
    from ventplan.cli.output import console, print_json, progress_line, units_for
    from ventplan.errors import InputError
    from ventplan.house import read_house
    from ventplan.house.remarks import leakage_is_assumed

    check_picture(output, replace=replace)
    read = read_house(house)
    state = scenario_of(read, scenario, wind=wind, indoor=indoor)
    question = _question(
        read, state, high=high, low=low, weather=weather, bedtime=bedtime, waking=waking, now=now,
        rooms=room or [], quiet=quiet, keep_out=keep_out or [], keep_shut=keep_shut or [], fans=fan or [],
        fans_at_once=fans_at_once,
    )  # fmt: skip
    if save_as is not None and (taken := {f"{save_as}, evening", f"{save_as}, night"} & set(read.scenarios)):
        raise InputError(f"{house} has a scenario {min(taken)!r} already; choose another name")
    system = units_for(read, show)
    with progress_line("searching") as progress:
        answer = plan_tonight(read, state, question, progress=progress)
    intervals = None
    if sure is not None:
        from ventplan.advice.tonight import tonight_intervals
        from ventplan.advice.uncertainty import draws_of

        with progress_line("how sure") as progress:
            intervals = tonight_intervals(read, state, answer, question, draws=draws_of(sure), progress=progress)
    saved = () if save_as is None else _save(house, read, state, answer, save_as)
    notes = (*question.weather.notes, *([Note(NoteCode.LEAKAGE_ASSUMED)] if leakage_is_assumed(read) else []))

    def figure() -> Any:
        from ventplan.show.charts import night_chart

        run, hours = answer.runs[-1], question.weather
        lines = {
            "everything shut": answer.runs[0],
            "windows alone": answer.runs[1] if answer.uses_fan else run,
            "this plan": run,
        }
        first = question.rooms[0]
        return night_chart(
            run.times_s,
            run.outdoor_c,
            {name: one.rooms_c[first] for name, one in lines.items() if name != "this plan" or answer.uses_fan},
            title=f"{read.name}: {first} tonight",
            start_hour=hours.begin.hour + hours.begin.minute / 60.0,
            first_day=hours.begin.date() if hours.dated else None,
            open_s=[(part.begin_s, part.end_s) for part in run.plan if part.windows != "shut"],
            system=system,
        )

    if as_json:
        result = {"tonight": answer, "notes": notes, "saved": saved}
        print_json("tonight", result if intervals is None else {**result, "sure": intervals})
        save_picture(output, figure, quiet=True)
        return
    from ventplan.show.airing_tables import tonight_view

    screen = console()
    for part in tonight_view(read, answer, notes, system, intervals):
        screen.print(part)
    if saved:
        screen.print(f'Saved in {house}: {", ".join(saved)}. Try: ventplan draw {house} --scenario "{saved[0]}"')
    save_picture(output, figure, quiet=False)


def _save(path: Path, house: House, state: Scenario, answer: TonightAnswer, name: str) -> tuple[str, ...]:
    """Add the evening and the night of a plan to the house file; weather and temperatures stay those of the file."""
    from dataclasses import replace

    from ventplan.cli.output import save_plans

    plans = {
        f"{name}, {part}": replace(found, outdoors=state.outdoors, temperatures_c=state.temperatures_c)
        for part, found in (("evening", answer.evening), ("night", answer.night))
        if found is not None
    }
    save_plans(path, house, state.name, plans)
    return tuple(plans)


def _question(
    house: House,
    state: Scenario,
    *,
    high: str | None,
    low: str | None,
    weather: Path | None,
    bedtime: str | None,
    waking: str | None,
    now: str | None,
    rooms: list[str],
    quiet: str | None,
    keep_out: list[str],
    keep_shut: list[str],
    fans: list[str],
    fans_at_once: int,
) -> TonightQuestion:
    """What the options and the house file ask."""
    from ventplan.advice.night_plan import TonightQuestion
    from ventplan.advice.search import fan_names
    from ventplan.advice.tonight import the_rooms
    from ventplan.airing.policy import Policy
    from ventplan.errors import InputError

    wants = house.tonight
    bedtime_h = wants.bedtime_h if bedtime is None else clock_h(bedtime, "--bedtime")
    waking_h = wants.waking_h if waking is None else clock_h(waking, "--waking")
    now_h = (bedtime_h - BEFORE_BEDTIME_H) % 24.0 if now is None else clock_h(now, "--now")
    asleep_h = (waking_h - bedtime_h) % 24.0
    if not 1.0 <= asleep_h <= 16.0:
        raise InputError(
            f"from bedtime at {_clock(bedtime_h)} to waking at {_clock(waking_h)} is {asleep_h:g} hours; give "
            "--bedtime and --waking 1 to 16 hours apart, such as --bedtime 22:30 --waking 7:00"
        )
    hours = _weather(house, state, high, low, weather, now_h, (bedtime_h - now_h) % 24.0 + asleep_h)
    bedtime_s = hours.seconds_until(bedtime_h)
    waking_s = bedtime_s + 3600.0 * asleep_h
    if waking_s > hours.duration_s:
        raise InputError(
            f"the weather ends at {hours.label(hours.duration_s)}, before people wake; give hours up to waking at least"
        )
    return TonightQuestion(
        weather=hours.first(waking_s + 3600.0 * AFTER_WAKING_H),
        bedtime_s=bedtime_s,
        waking_s=waking_s,
        rooms=the_rooms(house, rooms),
        quiet_db=wants.quiet_db if quiet is None else level_db(quiet, "--quiet"),
        noise_db=wants.noise_db,
        keep_out=tuple(keep_out) or wants.keep_out,
        keep_shut=tuple(keep_shut),
        fans=fan_names(house, fans or None, fans_at_once) if house.fans else (),
        policy=Policy(),
        fans_at_once=fans_at_once,
    )


def _weather(
    house: House, state: Scenario, high: str | None, low: str | None, file: Path | None, now_h: float, hours: float
) -> Weather:
    """The weather of the night: from a file, or from its highest and lowest temperature."""
    from ventplan.airing.weather import daily_curve
    from ventplan.airing.weather_files import read_weather
    from ventplan.errors import InputError
    from ventplan.house.units import show

    if file is not None:
        if high is not None or low is not None:
            raise InputError("give --weather, or --high and --low, not both")
        return read_weather(file)
    high_c = house.tonight.high_c if high is None else temperature_c(high, "--high")
    low_c = house.tonight.low_c if low is None else temperature_c(low, "--low")
    if high_c is None or low_c is None:
        raise InputError(
            "how warm is it outdoors? Give the forecast's --high and --low, such as --high 31C --low 17C, or hourly "
            "weather with --weather CSV (docs/airing.md)"
        )
    if low_c > high_c:
        said = [text or show(value, "temperature", house.show) for text, value in ((low, low_c), (high, high_c))]
        raise InputError(f"the low of {said[0]} is above the high of {said[1]}; give the warmer one as --high")
    outdoors = state.outdoors
    return daily_curve(
        high_c=high_c,
        low_c=low_c,
        begin_h=now_h,
        hours=hours + AFTER_WAKING_H,
        humidity=outdoors.relative_humidity,
        wind=outdoors.wind,
    )


def _clock(hour: float) -> str:
    return f"{int(hour)}:{round(hour % 1.0 * 60.0):02d}"
