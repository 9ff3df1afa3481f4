"""``ventplan night``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.measure_options import new_file, within
from ventplan.cli.options import AsJson, HouseFile, ShowUnits
from ventplan.cli.save import Replace, Save

if TYPE_CHECKING:
    from collections.abc import Callable

    from ventplan.airing.weather import Weather


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
    save: Save = None,
    replace: Replace = False,
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
    from ventplan.cli.output import console, print_json, progress_line, units_for
    from ventplan.cli.question import open_house, scenario_of
    from ventplan.cli.save import save_night
    from ventplan.house.weather_text import read_temperature
    from ventplan.show.airing_tables import night_view

    within(margin, "--margin", lowest=0.0, highest=20.0, kind="kelvins")
    within(fan_margin, "--fan-margin", lowest=0.0, highest=20.0, kind="kelvins")
    if save is not None:
        new_file(save, replace=replace)
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
    with progress_line("through the weather") as progress:
        followed = hours if progress is None else _watched(hours, progress, runs=1 + 2 * len(plans))
        answer = follow(read, plans, followed, policy=policy)
    if save is not None:
        save_night(save, answer, hours, system=units_for(read, show))
    days = mornings(answer, hours)
    runs = {run.name: run for run in answer.runs}
    found = {plan.name: night_cautions(read, plan, hours, runs[plan.name]) for plan in plans}
    if as_json:
        print_json("night", {"policy": policy, "night": answer, "mornings": days, "cautions": found})
        return
    screen = console()
    screen.print(f"{read.name}: {', '.join(plan.name for plan in plans)}")
    for part in night_view(answer, days, found, system=units_for(read, show)):
        screen.print(part)
    if save is not None:
        screen.print(f"Step by step: {save}")


def _watched(hours: Weather, progress: Callable[[int, int], None], *, runs: int) -> Weather:
    """The same weather, which tells how far the runs through it have come whenever it is looked up."""
    from dataclasses import dataclass

    from ventplan.airing.weather import Weather
    from ventplan.house.records import Outdoors

    done = 0.0
    last = 0.0

    @dataclass(frozen=True)
    class Watched(Weather):
        """Weather that is watched."""

        def at(self, second: float, base: Outdoors) -> Outdoors:
            nonlocal done, last
            if second < last:
                done += self.duration_s
            last = second
            progress(int(min(done + second, runs * self.duration_s) / 3600.0), int(runs * self.duration_s / 3600.0))
            return super().at(second, base)

    return Watched(**vars(hours))
