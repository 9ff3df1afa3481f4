"""Airing questions asked of a house: clearing and age of air in a scenario."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from ventplan.airing.age import AgeOfAir, age_of_air
from ventplan.airing.cautions import Caution, cautions
from ventplan.airing.cautions_air import damp_walls
from ventplan.airing.clearing import Clearing, Release, clear, released_shares
from ventplan.airing.flows import LEAST_DIFFERENCE_K, air_paths, doorway_mixing, mass_flows
from ventplan.airing.policy import State
from ventplan.airing.run import Run
from ventplan.airing.transport import AirPaths
from ventplan.airing.weather import Weather
from ventplan.errors import InputError
from ventplan.house.plausible import tight_notes
from ventplan.house.records import OUTDOORS, House, Scenario
from ventplan.house.units import System
from ventplan.network import solve
from ventplan.network.flow import Flow
from ventplan.network.weather import densities

OUTDOOR_CO2_PPM = 420.0
"""Carbon dioxide outdoors [ppm] (NOAA global mean of the 2020s, rounded)."""

PERSON_CO2_M3_S = 5.2e-6
"""Carbon dioxide that a person at rest breathes out [m3/s]: 0.31 L/min (ASHRAE Standard 62.1; from
memory)."""

LONG_S = 86_400.0
"""Time to clear beyond which how leaky the house is decides [s]."""


@dataclass(frozen=True)
class HouseClearing:
    """How a scenario clears a house.

    Attributes
    ----------
    scenario
        Its name.
    clearing
        Times, peaks and doses by room.
    age
        Age of the air in the same flow.
    leaves_by
        Share of what is released that leaves by each opening to outdoors, and by cracks in the walls [-].
    outdoor_m3_s
        Outdoor air that comes into the house [m3/s].
    notes
        What the figures leave out.
    cautions
        What the answer causes.
    """

    scenario: str
    clearing: Clearing
    age: AgeOfAir
    leaves_by: Mapping[str, float]
    outdoor_m3_s: float
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]


def clear_house(
    house: House, scenarios: Sequence[Scenario], release: Release, *, units: System | None = None
) -> tuple[HouseClearing, ...]:
    """Clear a house in each of several scenarios.

    Parameters
    ----------
    house
        The house.
    scenarios
        The plans to compare.
    release
        What is in the air.
    units
        Units of the cautions; the house file's own if None.

    Returns
    -------
    tuple of HouseClearing
        One for each scenario, doses counted over the same time, that of the slowest.

    Raises
    ------
    InputError
        For a room that does not exist, or a figure below zero.
    NoAnswerError
        Where a scenario has no solution.
    """
    flows = [solve(house, scenario) for scenario in scenarios]
    paths = [air_paths(house, scenario, flow) for scenario, flow in zip(scenarios, flows, strict=True)]
    alone = [clear(path, release) for path in paths]
    never_or_days = any(c.never or not c.clear_s <= LONG_S for c in alone)
    longest = max((room.clear_s for c in alone for room in c.rooms.values() if np.isfinite(room.clear_s)), default=0.0)
    return tuple(
        HouseClearing(
            scenario=scenario.name,
            clearing=clear(path, release, watch_s=longest or None),
            age=age_of_air(path),
            leaves_by=exits(house, scenario, flow, path, release),
            outdoor_m3_s=sum(room.outdoor_m3_s for room in flow.rooms.values()),
            notes=(*_notes(house, flow), *(tight_notes(house) if never_or_days else ())),
            cautions=cautions(house, scenario, flow, units=units),
        )
        for scenario, flow, path in zip(scenarios, flows, paths, strict=True)
    )


def exits(house: House, scenario: Scenario, flow: Flow, paths: AirPaths, release: Release) -> dict[str, float]:
    """Where what is released leaves the house.

    Parameters
    ----------
    house, scenario, flow
        The house, its state, and the solution.
    paths
        Who sends air to whom in it.
    release
        What is in the air.

    Returns
    -------
    dict
        Share by opening to outdoors [-]; ``cracks`` for what leaks through walls.
    """
    aired = paths.aired
    shares = released_shares(paths, release)
    if not aired.any() or not shares[aired].sum() > 0.0:
        return {}
    steps = paths.flow_kg_s[:-1, :-1][np.ix_(aired, aired)] / paths.leaving_kg_s[aired][:, None]
    visits = np.zeros(len(aired))
    visits[aired] = np.linalg.solve((np.eye(len(steps)) - steps).T, shares[aired])
    each_kg = np.divide(visits, paths.leaving_kg_s, out=np.zeros_like(visits), where=paths.leaving_kg_s > 0.0)
    air = densities(house, scenario)
    leaving: dict[str, float] = {}
    for name, opening in flow.openings.items():
        if opening.joins[1] == OUTDOORS:
            outwards, _ = mass_flows(opening, air)
            leaving[name] = float(each_kg[paths.names.index(opening.joins[0])] * outwards)
    leaving["cracks"] = float(shares[aired].sum()) - sum(leaving.values())
    return {name: share for name, share in leaving.items() if share > 1e-4}


def share_released(rooms: Sequence[str], *, limit: float = 0.05) -> Release:
    """Something that fills one or more rooms and is to fall to a share of its first concentration.

    Parameters
    ----------
    rooms
        Where it is.
    limit
        Share of the first concentration to fall below [-].
    """
    if not 0.0 < limit < 1.0:
        raise InputError(f"a share of {limit:g} to fall to: it must be above 0 and below 1 (100 %)")
    return Release(start=dict.fromkeys(rooms, 1.0), limit=limit)


def breath(house: House, *, start_ppm: float, limit_ppm: float, outdoor_ppm: float = OUTDOOR_CO2_PPM) -> Release:
    """Carbon dioxide of the people in the house, who go on breathing.

    Parameters
    ----------
    house
        The house, with people in its rooms.
    start_ppm
        Concentration in every room at the start [ppm].
    limit_ppm
        Concentration to fall below [ppm].
    outdoor_ppm
        Concentration outdoors [ppm].

    Raises
    ------
    InputError
        Where nobody is in the house.
    """
    source = {name: room.people * PERSON_CO2_M3_S * 1e6 for name, room in house.rooms.items() if room.people > 0.0}
    if not source:
        raise InputError("nobody is in the house: say `people: 2` at a room")
    return Release(source=source, elsewhere=start_ppm, outdoors=outdoor_ppm, limit=limit_ppm, unit="ppm")


def night_cautions(
    house: House, scenario: Scenario, weather: Weather, run: Run, shut: Run, *, units: System | None = None
) -> tuple[Caution, ...]:
    """Cautions for a plan that is followed through a night: what it causes while its windows are open.

    Parameters
    ----------
    house
        The house.
    scenario
        The plan.
    weather
        The weather that it goes through.
    run
        What came of it.
    shut
        The same with everything shut, for damp.
    units
        Units of the cautions; the house file's own if None.

    Returns
    -------
    tuple of Caution
        From the step when it is coolest outdoors against indoors and stack effect pulls most, with fans if they ever
        run, and from the first such step in the rain; each subject once.
    """
    found: dict[str, Caution] = {}
    for step, windows in _telling_steps(run, weather):
        then = replace(
            scenario,
            placements=scenario.placements if windows == "with fans" else (),
            temperatures_c={room: track[step] for room, track in run.rooms_c.items()},
            outdoors=weather.at(_middle_s(run, step), scenario.outdoors),
        )
        for one in cautions(house, then, solve(house, then), units=units):
            found.setdefault(one.about, one)
    return (*found.values(), *damp_walls(run, shut))


def _middle_s(run: Run, step: int) -> float:
    """Middle of a step [s]."""
    return (run.times_s[step] + run.times_s[step + 1]) / 2.0


def _telling_steps(run: Run, weather: Weather) -> list[tuple[int, State]]:
    """The steps of a run that tell most about it, with the state of the windows; none where it stays shut."""
    states = {part.windows for part in run.plan} - {"shut"}
    most: State = "with fans" if "with fans" in states else "open"
    parts = [part for part in run.plan if part.windows == most]
    steps = [i for i, t in enumerate(run.times_s[:-1]) if any(part.begin_s <= t < part.end_s for part in parts)]
    if not steps:
        return []
    warmth = np.array(list(run.rooms_c.values())).mean(axis=0) - np.array(run.outdoor_c)
    first = max(steps, key=lambda step: warmth[step])
    wet = (i for i in steps if weather.rains(_middle_s(run, i)))
    return [(step, most) for step in dict.fromkeys([first, *islice(wet, 1)])]


def _notes(house: House, flow: Flow) -> tuple[str, ...]:
    partly = [f"{name} ({room.mixing:.0%})" for name, room in house.rooms.items() if room.mixing < 1.0]
    swapping = any(doorway_mixing(house.openings[name], solved) > 0.0 for name, solved in flow.openings.items())
    notes = []
    if partly:
        notes.append(f"Times are for the air that mixes: {', '.join(partly)}. The still rest clears later.")
    if swapping:
        notes.append(
            f"Where little air is driven through an open inner door, an exchange as for {LEAST_DIFFERENCE_K:g} K "
            "between the rooms is assumed: times that rest on it are rough."
        )
    return tuple(notes)
