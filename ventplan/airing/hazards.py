"""Cautions about windows and fans: falls, rain, cords, circuits, noise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

import numpy as np

from ventplan.airing import hazards_air
from ventplan.airing.hazard import Caution, caution
from ventplan.airing.hazards_air import damp_walls
from ventplan.airing.night_simulation import Run
from ventplan.airing.policy import State
from ventplan.airing.weather import Weather
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Room, Scenario
from ventplan.house.shown import show
from ventplan.house.units import System
from ventplan.network.answer import solve
from ventplan.network.flow import Flow
from ventplan.network.rays import fan_of
from ventplan.physics.fan import level_through_opening, sum_of_levels

FALL_M, CHILD_GAP_M = 1.8, 0.10
"""Drop that calls for a guard [m] (6 ft, US building practice, from memory), and the widest gap that a child
does not pass [m] (US CPSC: stops at 100 mm)."""

NIGHT_DB = 30.0
"""Steady sound in bedrooms that sleep stands [dB(A)] (WHO, Guidelines for Community Noise, 1999)."""

NEAR_OPENING_M = 0.5
"""Setback below which a fan at an open window gets rained on, and one at a door stands in the way [m] (common
practice, no source)."""

CIRCUIT_W, HEATER_W = 1800.0, 1500.0
"""Load of a household circuit of 15 A at 120 V, and of a usual plug-in heater there [W] (common practice, no source);
circuits of 16 A at 230 V bear twice as much."""

HEATS_W = 1000.0
"""Heat released in a room that is likely to come from a heating appliance [W] (common practice, no source)."""


def falls(house: House, scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    """Openings to outdoors that somebody could fall through."""
    for name, solved in flow.openings.items():
        opening = house.openings[name]
        if not opening.is_external or opening.kind == "shaft":
            continue
        gap = gap_m(opening, scenario)
        if opening.drop_m <= FALL_M or solved.free_area_m2 <= 0.0 or gap <= CHILD_GAP_M:
            continue
        screen = "its screen on, which holds nobody" if name in scenario.screened else "no screen on"
        drop = show(opening.drop_m, "length", system)
        yield caution("fall", f"{name} is open by {show(gap, 'length', system)} above a drop of {drop}, with {screen}")


def gap_m(opening: Opening, scenario: Scenario) -> float:
    """The narrower side of what is open.

    Parameters
    ----------
    opening
        The opening.
    scenario
        The state that it is in.

    Returns
    -------
    float
        Width or height of the free area, whichever is less [m].
    """
    share, along_width = scenario.shares[opening.name], opening.free_along == "width"
    return min(opening.width_m * (share if along_width else 1.0), opening.height_m * (1.0 if along_width else share))


def fans(house: House, scenario: Scenario, system: System) -> Iterator[Caution]:
    """Fans in the rain, outdoors with their cord, and in doorways."""
    for placement in scenario.placements:
        opening = house.openings[placement.opening]
        near = placement.sealed or placement.setback_m < NEAR_OPENING_M
        place = "sealed into" if placement.sealed else f"{show(placement.setback_m, 'length', system)} from"
        outdoors = placement.stands_in == OUTDOORS and not placement.sealed
        if scenario.outdoors.rain and (outdoors or (near and opening.is_external)):
            yield caution("rain", f"it rains, and {placement.fan} is {place} {opening.name}")
        if outdoors:
            yield caution(
                "fan outdoors",
                f"{placement.fan} stands outdoors, {place} {opening.name}, and its cord runs there",
            )
        if near and opening.kind in ("door", "passage"):
            yield caution("fan in a doorway", f"{placement.fan} is {place} {opening.name}, and its cord lies there")


def circuits(house: House, scenario: Scenario, system: System) -> Iterator[Caution]:
    """Fans in one room that leave too little of a circuit for a heater, or run beside one."""
    for room in house.rooms.values():
        here = [fan_of(house, p).power_w or 0.0 for p in scenario.placements if _plugged_in(house, p) == room.name]
        total = sum(here)
        if total <= 0.0:
            continue
        taken = f"the fans in {room.name} take {show(total, 'power', system)}"
        if room.gain_w >= HEATS_W:
            yield caution("circuit", f"{taken} beside {show(room.gain_w, 'power', system)} of heat released there")
        elif total > CIRCUIT_W - HEATER_W:
            both = show(total + HEATER_W, "power", system)
            yield caution("circuit", f"{taken}; with a heater of {show(HEATER_W, 'power', system)} that is {both}")


def _plugged_in(house: House, placement: Placement) -> str:
    """The room that a fan's cord leads to: a fan outdoors, or sealed in to blow inwards, is plugged in indoors."""
    opening = house.openings[placement.opening]
    return opening.other(OUTDOORS) if placement.stands_in == OUTDOORS else placement.stands_in


def noise(house: House, scenario: Scenario, flow: Flow) -> Iterator[Caution]:
    """Fans that are too loud for sleep, in the room or through the opening that they blow at."""
    for room in slept_in(house):
        levels = [(p.fan, level) for p in scenario.placements if (level := _level_in(house, room, p, flow)) is not None]
        level = sum_of_levels(level for _, level in levels)
        if level > NIGHT_DB:
            who = " and ".join(name for name, _ in levels)
            yield caution("noise", f"{who} in or at {room.name}: about {level:.0f} dB(A) there")


def slept_in(house: House) -> list[Room]:
    """Rooms that people sleep in, told alike by day and night.

    Bedrooms and rooms with a place to sleep; where the house file names neither, every room with people.
    """
    asleep = {person.room for person in house.people_at.values() if person.asleep}
    named = [room for room in house.rooms.values() if "bed" in room.use.lower() or room.name in asleep]
    return named or [room for room in house.rooms.values() if room.people > 0.0]


def _level_in(house: House, room: Room, placement: Placement, flow: Flow) -> float | None:
    """Level of a fan in a room [dB(A)]; None where it is not known, or the fan neither runs in nor blows at it.

    A furnished room is so small that the level hardly falls with distance: that at 1 m counts for all of it.
    """
    sound, opening = fan_of(house, placement).sound_db, house.openings[placement.opening]
    if sound is None or room.name not in (placement.stands_in, *opening.joins):
        return None
    if room.name == placement.stands_in or placement.sealed:
        return sound
    solved = flow.openings.get(opening.name)
    free = solved.free_area_m2 if solved else 0.0
    level = level_through_opening(level_db=sound, free_area_m2=free, volume_m3=room.volume_m3)
    return level if level > 0.0 else None


__all__ = ["Caution", "cautions", "night_cautions"]


def cautions(
    house: House,
    scenario: Scenario,
    flow: Flow,
    *,
    units: System | None = None,
) -> tuple[Caution, ...]:
    """The cautions that a solved scenario causes.

    Parameters
    ----------
    house
        The house.
    scenario
        The scenario that was solved.
    flow
        Its solution.
    units
        Units of the sentences; the house file's own if None.

    Returns
    -------
    tuple of Caution
        In order of weight; empty where nothing calls for one.
    """
    system = units or house.show
    found = [
        *hazards_air.flames(house, scenario, flow, system),
        *hazards_air.garages(house, scenario, flow, system),
        *hazards_air.smoke(scenario, flow, system),
        *hazards_air.storm(house, scenario, flow, system),
        *falls(house, scenario, flow, system),
        *fans(house, scenario, system),
        *circuits(house, scenario, system),
        *hazards_air.warm_air(house, scenario, flow, system),
        *hazards_air.damp_air(scenario, flow, system),
        *noise(house, scenario, flow),
        *hazards_air.draughts(house, scenario, flow, system),
    ]
    return tuple(found)


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
