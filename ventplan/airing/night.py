"""Hour by hour with the windows: when to open and shut, when the fans pay, and what the house gains by
morning."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from ventplan.airing.night_simulation import NightSimulation, Run, Solve, by_policy
from ventplan.airing.policy import Policy, State
from ventplan.airing.thermal import fabric_of
from ventplan.airing.weather import Weather
from ventplan.errors import InputError
from ventplan.house.records import House, Scenario

STEP_S = 900.0
"""Usual step [s]."""


@dataclass(frozen=True)
class Night:
    """Runs through the weather, side by side.

    Attributes
    ----------
    runs
        With everything shut first, then for each scenario its windows alone and its windows with fans.
    gained_k
        By how much the house settles cooler at the end than with everything shut [K], by run.
    cooling_per_fan
        Heat carried out beyond what windows alone carry, less what the fans themselves give off indoors, for each
        unit of electricity [-], by run with fans; None where the power of a fan is not known or no fan ran.
    """

    runs: tuple[Run, ...]
    gained_k: Mapping[str, float]
    cooling_per_fan: Mapping[str, float | None]


def night(
    house: House,
    scenarios: Sequence[Scenario],
    weather: Weather,
    *,
    policy: Policy | None = None,
    step_s: float = STEP_S,
    solve: Solve | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> Night:
    """Compare doing nothing, opening windows, and running fans, through a night or a summer.

    Parameters
    ----------
    house
        The house.
    scenarios
        The plans: their openings and fans are used whenever the policy opens.
    weather
        Weather from the first row to the last.
    policy
        When to open and when to run fans; the usual one if None.
    step_s
        Length of a step [s].
    solve
        What solves the flows; ``ventplan.network.solver`` if None.
    progress
        Called after every step with the time that all runs have come and that they have to go [s].

    Returns
    -------
    Night
        What each way does.

    Raises
    ------
    InputError
        For a step that is not above zero or longer than the weather.

    Notes
    -----
    Every step is exact for flows and weather that stay the same over it. Flows are solved again
    as rooms cool, so that stack effect fades as it should. Rooms start at the scenario's temperatures, fabric
    as warm as its air, and air as humid as outdoors. Curtains, furniture and walls take up no water here; what would
    be more than saturated at a surface condenses there, and is gone.
    """
    if not 0.0 < step_s <= weather.duration_s:
        longest = f"{weather.duration_s / 60.0:g} min, as long as the weather"
        raise InputError(f"a step of {step_s / 60.0:g} min: it must be above zero and at most {longest}")
    if not scenarios:
        raise InputError("no scenario to follow through the night")
    if solve is None:
        from ventplan.network import solve as solve_network

        solve = solve_network
    policy = policy or Policy()
    simulation = NightSimulation(house, weather, step_s, policy.look_s, solve, fabric_of(house))
    bare = [replace(scenario, name="", placements=()) for scenario in scenarios]
    ways = 1 + sum(same not in bare[:i] for i, same in enumerate(bare)) + sum(bool(s.placements) for s in scenarios)
    done = 0

    def go(name: str, scenario: Scenario, most: State) -> Run:
        nonlocal done
        before = done * weather.duration_s
        report = None if progress is None else lambda second: progress(before + second, ways * weather.duration_s)
        done += 1
        setups = {"open": replace(scenario, placements=()), "with fans": scenario}
        return simulation.run(name, setups, by_policy(policy, most), most, report)

    runs = [go("everything shut", scenarios[0], "shut")]
    per_fan: dict[str, float | None] = {}
    alone: list[tuple[Scenario, Run]] = []
    for scenario, windows in zip(scenarios, bare, strict=True):
        # Plans that differ only in their fans have their windows in common.
        run = next((known for same, known in alone if same == windows), None)
        if run is None:
            name = f"{scenario.name}, windows alone" if scenario.placements else scenario.name
            run = go(name, scenario, "open")
            alone.append((windows, run))
            runs.append(run)
        elif not scenario.placements:
            runs.append(replace(run, name=scenario.name))
        if scenario.placements:
            fans = go(scenario.name, scenario, "with fans")
            runs.append(fans)
            extra = fans.vented_kwh - run.vented_kwh - fans.fan_heat_kwh
            per_fan[fans.name] = extra / fans.fan_kwh if fans.fan_kwh else None
    gained: dict[str, float] = {}
    for run in runs[1:]:
        gained[run.name] = runs[0].settled_c[-1] - run.settled_c[-1]
    return Night(runs=tuple(runs), gained_k=gained, cooling_per_fan=per_fan)


@dataclass(frozen=True)
class Morning:
    """The house at one time of one morning.

    Attributes
    ----------
    when
        Date and time.
    outdoor_c
        Outdoor temperature [°C].
    house_c
        Temperature of air and fabric together in the morning [°C], by run.
    rooms_c
        Air temperature of each room [°C], by run and room.
    """

    when: str
    outdoor_c: float
    house_c: Mapping[str, float]
    rooms_c: Mapping[str, Mapping[str, float]]


def mornings(night: Night, weather: Weather, *, hour: int = 7) -> tuple[Morning, ...]:
    """The house at the same hour of every day that the weather covers.

    Parameters
    ----------
    night
        Runs through the weather.
    weather
        The weather that they went through.
    hour
        Hour of the day [h].

    Returns
    -------
    tuple of Morning
        One for each day, at the step nearest to the hour.
    """
    import numpy as np

    at = weather.begin.replace(hour=hour, minute=0, second=0)
    found = []
    for day in range(int(weather.duration_s // 86_400.0) + 2):
        second = (at + datetime.timedelta(days=day) - weather.begin).total_seconds()
        if not 0.0 < second <= weather.duration_s:
            continue
        step = int(np.abs(np.array(night.runs[0].times_s) - second).argmin())
        temperatures = {run.name: run.settled_c[step] for run in night.runs}
        rooms = {run.name: {room: track[step] for room, track in run.rooms_c.items()} for run in night.runs}
        found.append(Morning(weather.label(second), night.runs[0].outdoor_c[step], temperatures, rooms))
    return tuple(found)
