"""``ventplan night``, and ``ventplan weather``, which makes its weather files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ventplan.cli.measure_common import quantity, within
from ventplan.cli.options import (
    STATE,
    AsJson,
    HouseFile,
    Picture,
    Replace,
    Save,
    ShowUnits,
    flag,
    option,
    scenario_of,
    temperature_c,
)
from ventplan.cli.output import check_picture, save_picture
from ventplan.files import check_new_file

if TYPE_CHECKING:
    from ventplan.airing.night import Night
    from ventplan.airing.policy import Run
    from ventplan.airing.weather import Weather
    from ventplan.house.units import System


RULES = "Rules for windows and fans"
SHORTEST_STEP_S = 60.0
"""Shortest computing step [s]: a step without a unit is in seconds, and hardly meant."""


def night(
    house: HouseFile,
    weather: Annotated[
        Path | None,
        option("--weather", "CSV", "Hourly weather of a night, a week or a summer."),
    ] = None,
    scenario: Annotated[
        list[str] | None,
        option("--scenario", "NAME", "A scenario to follow; may be repeated; the first with fans if left out.", STATE),
    ] = None,
    margin: Annotated[
        float,
        option("--margin", "K", "Open when it is cooler outdoors by this many kelvins.", RULES),
    ] = 1.0,
    fan_margin: Annotated[
        float,
        option("--fan-margin", "K", "Run fans when it is cooler outdoors by this many kelvins.", RULES),
    ] = 2.0,
    coolest: Annotated[
        str,
        option("--coolest", "TEMP", "Shut when the house is cool enough to end up at this.", RULES),
    ] = "18 °C",
    dew_point: Annotated[
        str, option("--dew-point", "TEMP", "Shut when the dew point outdoors is above this.", RULES)
    ] = "19 °C",
    shut_in_rain: Annotated[bool, flag("--shut-in-rain", "Shut while it rains.", RULES)] = False,
    step: Annotated[str, option("--step", "TIME", "Length of a computing step.")] = "15 min",
    output: Picture = None,
    save: Save = None,
    replace: Replace = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Follow a night, a week or a summer: when to open, shut and run fans, and how much cooler it gets.

    Example: ventplan night house_examples/bungalow.yaml --weather house_examples/weather_week.csv
    """
    from ventplan.airing import Note, NoteCode
    from ventplan.airing.hazards import night_hazards
    from ventplan.airing.night import mornings
    from ventplan.airing.night import night as follow
    from ventplan.airing.policy import Policy
    from ventplan.airing.weather_files import read_weather
    from ventplan.cli.output import console, print_json, progress_line, units_for
    from ventplan.errors import InputError, InvalidValue
    from ventplan.house import read_house
    from ventplan.house.remarks import leakage_is_assumed
    from ventplan.show.airing_tables import night_view

    if weather is None:
        raise InputError("give the weather of the night with --weather WEATHER.csv, hour by hour (see docs/airing.md)")
    check_picture(output, replace=replace)
    step_s = quantity(step, "time", "--step")
    if step_s < SHORTEST_STEP_S:
        raise InputError([InvalidValue("--step", f'"{step}"', "1 min or more, such as 15 min")])
    within(margin, "--margin", lowest=0.0, highest=20.0, kind="kelvins")
    within(fan_margin, "--fan-margin", lowest=0.0, highest=20.0, kind="kelvins")
    if save is not None:
        check_new_file(save, replace=replace)
    read, hours = read_house(house), read_weather(weather)
    with_fans = [name for name, plan in read.scenarios.items() if plan.placements]
    plans = [scenario_of(read, name) for name in scenario or with_fans[:1] or [read.first_scenario().name]]
    policy = Policy(
        open_k=margin,
        fans_k=fan_margin,
        coolest_c=temperature_c(coolest, "--coolest"),
        highest_dew_point_c=temperature_c(dew_point, "--dew-point"),
        open_in_rain=not shut_in_rain,
    )
    with progress_line("through the weather") as progress:

        def report(done_s: float, all_s: float) -> None:
            if progress is not None:
                progress(int(done_s / 3600.0), int(all_s / 3600.0))

        answer = follow(read, plans, hours, policy=policy, step_s=step_s, progress=report)
    if save is not None:
        save_night(save, answer, hours, system=units_for(read, show))
    notes = (*hours.notes, *([Note(NoteCode.LEAKAGE_ASSUMED)] if leakage_is_assumed(read) else []))
    days = mornings(answer, hours)
    runs = {run.name: run for run in answer.runs}
    shut = answer.runs[0]
    found = {plan.name: night_hazards(read, plan, hours, runs[plan.name], shut) for plan in plans}

    def figure() -> Any:
        from ventplan.show.charts import ways_chart

        return ways_chart(answer, days, hours, runs[plans[0].name], title=read.name, system=units_for(read, show))

    if as_json:
        result = {"policy": policy, "night": answer, "mornings": days, "notes": notes, "cautions": found}
        print_json("night", result)
        save_picture(output, figure, quiet=True)
        return
    screen = console()
    screen.print(f"{read.name}: {', '.join(plan.name for plan in plans)}")
    for part in night_view(answer, days, found, notes, system=units_for(read, show)):
        screen.print(part)
    if save is not None:
        screen.print(f"Step by step: {save}")
    save_picture(output, figure, quiet=False)


def save_night(path: Path, answer: Night, weather: Weather, *, system: System) -> None:
    """Write time, outdoor temperature, and the windows and every room's temperature in each run, step by step."""
    from ventplan.cli.output import write_csv
    from ventplan.house.units import shown_number, shown_unit

    unit = shown_unit("temperature", system)

    def degrees(value: float) -> str:
        return f"{shown_number(value, 'temperature', system):.2f}"

    first = answer.runs[0]
    heads = ["time", "elapsed [h]", f"outdoors [{unit}]"]
    for run in answer.runs:
        heads += [f"{run.name}: windows", *(f"{run.name}: {room} [{unit}]" for room in run.rooms_c)]
    rows = [
        [
            weather.label(second),
            f"{second / 3600.0:g}",
            degrees(first.outdoor_c[step]),
            *(
                cell
                for run in answer.runs
                for cell in (_windows(run, second), *(degrees(track[step]) for track in run.rooms_c.values()))
            ),
        ]
        for step, second in enumerate(first.times_s)
    ]
    write_csv(path, heads, rows)


def _windows(run: Run, second: float) -> str:
    """State of the windows in the step that begins then."""
    return next((part.windows for part in run.plan if part.begin_s <= second < part.end_s), run.plan[-1].windows)


def weather(
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE", help="Hourly table (CSV).", show_default=False),
    ],
    output: Annotated[Path, option("--output", "CSV", "Weather file to write.", short="-o", show_default=False)],
    columns: Annotated[
        str | None,
        option(
            "--columns",
            "TEXT",
            "Which column is which, by heading or by position from 1, such as "
            '"month=2, day=3, hour=4, temperature=7"; by the headings of the file if left out.',
        ),
    ] = None,
    month: Annotated[int | None, option("--month", "N", "Keep only this month, 1 to 12.", min=1, max=12)] = None,
    replace: Replace = False,
) -> None:
    """Make a weather file from an hourly table of another layout, such as a typical year.

    Example: ventplan weather house_examples/weather_week.csv --month 7 -o july.csv
    """
    from ventplan.airing.weather_files import chosen_columns, typical_weather
    from ventplan.cli.output import say
    from ventplan.files import write_file

    check_new_file(output, replace=replace)
    text = typical_weather(file, columns=chosen_columns(columns) if columns else None, month=month)
    write_file(output, text)
    head, *rows = text.splitlines()
    say(f"Wrote {output}: {len(rows)} rows from {rows[0].split(',')[0]} to {rows[-1].split(',')[0]}.")
    say(f"Columns: {head}.")
