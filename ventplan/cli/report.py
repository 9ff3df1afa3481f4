"""``ventplan report``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ventplan.cli.house import FloorColours
from ventplan.cli.options import (
    ANSWER,
    STATE,
    ClearAim,
    CoolAim,
    HouseFile,
    IndoorText,
    MorningTime,
    NightWeather,
    OutdoorText,
    Replace,
    RoomAim,
    ShowUnits,
    Sure,
    TargetAim,
    WholeHouseAim,
    WindText,
    clock_h,
    flag,
    one_aim,
    option,
    scenario_of,
)


def report(
    house: HouseFile,
    output: Annotated[
        Path,
        option("--output", "FILE", "Page to write (HTML).", short="-o", show_default=False),
    ],
    scenario: Annotated[
        str | None,
        option(
            "--scenario",
            "NAME",
            "Scenario to report; with an aim, the one to start from. The first with fans if left out.",
            STATE,
        ),
    ] = None,
    target: TargetAim = None,
    room: RoomAim = None,
    whole_house: WholeHouseAim = False,
    clear: ClearAim = None,
    cool: CoolAim = None,
    weather: NightWeather = None,
    by: MorningTime = "6:00",
    tint: Annotated[
        FloorColours, typer.Option("--tint", help="What the colours of the floors show.", rich_help_panel=ANSWER)
    ] = FloorColours.air_change,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    indoor: IndoorText = None,
    full: Annotated[
        bool, flag("--full", "Add the setback curve, screens, what limits the plan, and every flow.", ANSWER)
    ] = False,
    sure: Sure = None,
    replace: Replace = False,
    show: ShowUnits = None,
) -> None:
    """Write a report of two pages: what to do, with the plan; then what it will do, and how to check it.

    Example: ventplan report house_examples/bungalow.yaml --room "front bedroom" -o report.html
    """
    from ventplan.advice import place
    from ventplan.advice.uncertainty import draws_of
    from ventplan.airing.weather_files import read_weather
    from ventplan.cli.output import progress_line, say, units_for
    from ventplan.errors import InputError
    from ventplan.files import check_new_file, write_file
    from ventplan.house import read_house
    from ventplan.network import solve
    from ventplan.show.place_tables import verdict
    from ventplan.show.report import course_of, report_page
    from ventplan.show.report_data import aim_rows, report_of
    from ventplan.show.tables import objective_words

    if output.suffix.lower() not in (".html", ".htm"):
        raise InputError(f"{output}: a report is a web page, and its file name ends in .html or .htm")
    check_new_file(output, replace=replace)
    read = read_house(house)
    system, draws = units_for(read, show), draws_of(sure or "low")
    by_hour = clock_h(by, "--by")
    course = None
    aims = {"--target": target, "--room": room, "--whole-house": whole_house, "--clear": clear, "--cool": cool}
    if any(value not in (None, False) for value in aims.values()):
        one_aim(aims)
        if cool is not None and weather is None:
            raise InputError("--cool needs the weather of the night: --weather CSV, hour by hour (see docs/airing.md)")
        before = scenario_of(read, scenario, wind=wind, outdoor=outdoor, indoor=indoor)
        with progress_line("searching") as progress:
            answer = place(
                read, before, target=target, room=room, whole_house=whole_house, clear=clear, cool=cool,
                weather=read_weather(weather) if weather is not None else None, by_hour=by_hour, progress=progress,
            )  # fmt: skip
        best = answer.plans[0]
        question = f"Plan for {objective_words(answer.objective)}"
        content = report_of(
            read, best.scenario, best.flow, question=question, aim=answer.objective, limits=best.limits,
            asked=aim_rows(answer, system), summary=verdict(read, answer, system, plan="this plan"),
            draws=draws, sure_setback=sure is not None, show=system,
        )  # fmt: skip
        course = course_of(read, best.scenario, answer.objective, system)
    else:
        with_fans = next((name for name, plan in read.scenarios.items() if plan.placements), None)
        plan = scenario_of(read, scenario or with_fans, wind=wind, outdoor=outdoor, indoor=indoor)
        question = f"What “{plan.name}” does to the air of the house"
        content = report_of(
            read, plan, solve(read, plan), question=question, draws=draws,
            sure_setback=sure is not None, show=system,
        )  # fmt: skip
    write_file(output, report_page(content, tint=tint.tint, course=course, full=full))
    say(f"Wrote {output}.")
