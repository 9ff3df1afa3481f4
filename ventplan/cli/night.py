"""``ventplan night``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ventplan.cli.options import AsJson, HouseFile, ShowUnits


def night(
    house: HouseFile,
    weather: Annotated[
        Path,
        typer.Argument(metavar="WEATHER", help="Hour by hour weather (CSV, see docs/airing.md).", show_default=False),
    ],
    scenario: Annotated[
        list[str] | None,
        typer.Option(
            "--scenario", metavar="NAME", help="A plan to follow; may be repeated; the first with fans if left out."
        ),
    ] = None,
    margin: Annotated[
        float, typer.Option(metavar="K", help="Open when it is cooler outdoors by this many kelvins.")
    ] = 1.0,
    fan_margin: Annotated[
        float, typer.Option(metavar="K", help="Run fans when it is cooler outdoors by this many kelvins.")
    ] = 2.0,
    coolest: Annotated[
        str, typer.Option(metavar="TEMP", help="Shut when the house has taken up enough to settle at this.")
    ] = "18 °C",
    dew_point: Annotated[
        str, typer.Option(metavar="TEMP", help="Shut when the dew point outdoors is above this.")
    ] = "19 °C",
    shut_in_rain: Annotated[bool, typer.Option("--shut-in-rain", help="Shut while it rains.")] = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """When to open and shut, when to run the fans, and what the house gains by morning.

    Example: ventplan night house_examples/bungalow.yaml house_examples/weather_week.csv --coolest 68F
    """
    from ventplan.airing.answers import night_cautions
    from ventplan.airing.night import mornings
    from ventplan.airing.night import night as follow
    from ventplan.airing.policy import Policy
    from ventplan.airing.weather import read_weather
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.cli.question import open_house, scenario_of
    from ventplan.house.weather_text import read_temperature
    from ventplan.show.airing_tables import night_view

    read, hours = open_house(house), read_weather(weather)
    with_fans = [name for name, plan in read.scenarios.items() if plan.placements]
    plans = [scenario_of(read, name) for name in scenario or with_fans[:1] or [read.first_scenario().name]]
    policy = Policy(
        open_k=margin,
        fans_k=fan_margin,
        coolest_c=read_temperature(coolest),
        highest_dew_point_c=read_temperature(dew_point),
        open_in_rain=not shut_in_rain,
    )
    answer = follow(read, plans, hours, policy=policy)
    days = mornings(answer, hours)
    runs = {run.name: run for run in answer.runs}
    found = {plan.name: night_cautions(read, plan, hours, runs[plan.name]) for plan in plans}
    if as_json:
        print_json("night", {"policy": policy, "night": answer, "mornings": days, "cautions": found})
        return
    screen = console()
    for part in night_view(answer, days, found, system=units_for(read, show)):
        screen.print(part)
