"""All hazards of a solved state or a night: the dangers of `safety`, and what disturbs people and walls.

Each limit stands with its source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

import numpy as np

from ventplan.airing import safety
from ventplan.airing.comfort import DRAUGHT_C, comfort_of_people
from ventplan.airing.policy import MOULD_HUMIDITY, Run, State
from ventplan.airing.safety import Hazard, HazardCode
from ventplan.airing.weather import Weather
from ventplan.house.fan_pose import fan_pose
from ventplan.house.records import House, Placement, Room, Scenario
from ventplan.network.answer import solve
from ventplan.network.flow import Flow
from ventplan.network.jets import fan_of
from ventplan.physics.air import dew_point, humidity_ratio, relative_humidity_at
from ventplan.physics.fan import level_through_opening, sum_of_levels

DAMP_CHANGES_PER_H = 0.5
"""Air change from outdoors above which muggy air that comes into a cool room is reported [1/h] (common practice,
no source)."""

DAMP_H = 6.0
"""Time of damp surfaces that is reported [h]; mould needs days (common practice, no source)."""

WARMER_K, WARM_CHANGES_PER_H, SUMMER_C = 1.0, 0.5, 22.0
"""Outdoor air so much warmer than the rooms, at such a rate, is reported where a room is at least so warm [K],
[1/h], [°C] (common practice, no source)."""

DRAUGHT_SHARE = 0.20
"""Share bothered by a draught that a normal level of comfort stays below [-] (ISO 7730:2005, category B)."""

STRONG_M_S = 0.8
"""Air speed above which people want to control it themselves [m/s] (ANSI/ASHRAE Standard 55; from memory)."""

NIGHT_DB = 30.0
"""Steady sound in bedrooms that sleep stands [dB(A)] (WHO, Guidelines for Community Noise, 1999)."""

NEAREST_PILLOW_M = 0.3
"""Shortest distance from a fan to a head for which its sound level is computed [m]."""


def find_hazards(house: House, scenario: Scenario, flow: Flow, *, unattended: bool = False) -> tuple[Hazard, ...]:
    """What a solved scenario causes.

    Parameters
    ----------
    house
        The house.
    scenario
        The scenario that was solved.
    flow
        Its solution.
    unattended
        True while people sleep or are out, so that open doors and windows within reach matter.

    Returns
    -------
    tuple of Hazard
        Empty where nothing calls for one.
    """
    found = [
        *safety.flames(house, scenario, flow),
        *safety.garages(house, scenario, flow),
        *safety.smoke(scenario, flow),
        *safety.fire_doors(house, flow),
        *safety.storm(house, scenario, flow),
        *safety.falls(house, scenario, flow),
        *safety.falling_fans(house, scenario),
        *(safety.unguarded(house, scenario, flow) if unattended else ()),
        *safety.fans(house, scenario),
        *safety.circuits(house, scenario),
        *warm_air(house, scenario, flow),
        *damp_air(scenario, flow),
        *noise(house, scenario),
        *draughts(house, scenario, flow),
    ]
    return tuple(found)


def noise(house: House, scenario: Scenario) -> Iterator[Hazard]:
    """Fans that are too loud for sleep, in the room or through what is open to the room beside it."""
    for room in slept_in(house):
        levels = _levels_in(house, room, scenario)
        level = sum_of_levels(levels.values())
        if level > NIGHT_DB:
            yield Hazard(HazardCode.NOISE, (room.name, *levels), {"level_db": level})


def pillow_levels_db(house: House, scenario: Scenario) -> dict[str, float]:
    """Sound level of all fans at the heads of people who sleep.

    Parameters
    ----------
    house, scenario
        The house and its state.

    Returns
    -------
    dict
        By room that people sleep in [dB(A)]; minus infinity where no fan is heard. Fans whose level is not known are
        left out.
    """
    return {room.name: sum_of_levels(_levels_in(house, room, scenario).values()) for room in slept_in(house)}


def slept_in(house: House) -> list[Room]:
    """Rooms that people sleep in, the same by day and by night.

    Bedrooms and rooms with a place to sleep; where the house file names neither, every room with people.
    """
    asleep = {person.room for person in house.people_at.values() if person.asleep}
    named = [room for room in house.rooms.values() if "bed" in room.use.lower() or room.name in asleep]
    return named or [room for room in house.rooms.values() if room.people > 0.0]


def _levels_in(house: House, room: Room, scenario: Scenario) -> dict[str, float]:
    """Level of each fan in a room [dB(A)], by a name that is its own; fans that are not heard are left out."""
    levels = {}
    for i, placement in enumerate(scenario.placements):
        level = level_in(house, scenario, room, placement)
        if level is not None:
            name = placement.fan if placement.fan not in levels else f"{placement.fan} ({i + 1})"
            levels[name] = level
    return levels


def level_in(house: House, scenario: Scenario, room: Room, placement: Placement) -> float | None:
    """Sound level of a fan in a room [dB(A)].

    In a furnished room the level barely falls with distance: the level at 1 m is taken for all of it, and a higher one
    only where a pillow is nearer than that. From the room beside it, sound comes through the open openings between.

    Parameters
    ----------
    house, scenario
        The house and its state.
    room
        The room.
    placement
        The fan.

    Returns
    -------
    float or None
        The level [dB(A)]; None where the fan's is not known, or it is not heard there.
    """
    sound, opening = fan_of(house, placement).sound_db, house.openings[placement.opening]
    if sound is None:
        return None
    if room.name == placement.stands_in:
        return sound - 20.0 * math.log10(min(_pillow_distance_m(house, room, placement, scenario), 1.0))
    if placement.sealed and room.name in opening.joins:
        return sound
    between = {placement.stands_in, room.name}
    free = sum(
        o.width_m * o.height_m * scenario.shares[o.name] for o in house.openings.values() if set(o.joins) == between
    )
    level = level_through_opening(level_db=sound, free_area_m2=free, volume_m3=room.volume_m3)
    return level if level > 0.0 else None


def _pillow_distance_m(house: House, room: Room, placement: Placement, scenario: Scenario) -> float:
    """Distance on the plan from a fan to the nearest pillow in its room [m]; infinite where none is drawn."""
    pose = fan_pose(house, placement, scenario.shares[placement.opening])
    pillows = [person.at for person in house.people_at.values() if person.asleep and person.room == room.name]
    return max(min((math.dist((pose.x, pose.y), at) for at in pillows), default=math.inf), NEAREST_PILLOW_M)


def warm_air(house: House, scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
    """Outdoor air that fans bring in while it is warmer than the rooms that it comes to."""
    if not scenario.placements or max(scenario.temperatures_c.values()) < SUMMER_C:
        return
    entering = {name: air.outdoor_m3_s for name, air in flow.rooms.items() if air.outdoor_m3_s > 0.0}
    total = sum(entering.values())
    if total < WARM_CHANGES_PER_H / 3600.0 * sum(room.volume_m3 for room in house.rooms.values()):
        return
    indoors = sum(scenario.temperatures_c[name] * amount for name, amount in entering.items()) / total
    warmer = scenario.outdoors.temperature_c - indoors
    if warmer >= WARMER_K:
        yield Hazard(HazardCode.WARM_AIR, (), {"flow_m3_s": total, "warmer_k": warmer})


def damp_air(scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
    """Muggy air that comes into a cool room."""
    outdoors = scenario.outdoors
    if outdoors.relative_humidity <= 0.0:
        return
    state = {"temperature_c": outdoors.temperature_c, "relative_humidity": outdoors.relative_humidity}
    ratio, dew_point_c = humidity_ratio(**state), float(dew_point(**state))
    for name, air in flow.rooms.items():
        room_c = scenario.temperatures_c[name]
        humidity = float(relative_humidity_at(temperature_c=room_c, ratio=ratio))
        if (
            humidity > MOULD_HUMIDITY
            and room_c < outdoors.temperature_c
            and air.direct_air_change_per_h > DAMP_CHANGES_PER_H
        ):
            numbers = {"dew_point_c": dew_point_c, "room_c": room_c, "humidity": humidity}
            yield Hazard(HazardCode.DAMP_AIR, (name,), numbers)


def damp_walls(run: Run, shut: Run) -> Iterator[Hazard]:
    """Walls that stay damp in one run, against the house kept shut."""
    room, humidity = run.wettest
    if humidity <= 1.0 - 1e-9 and run.damp_h <= DAMP_H:
        return
    code = HazardCode.DAMP_WALLS_SHUT if run.damp_h <= shut.damp_h else HazardCode.DAMP_WALLS
    yield Hazard(code, (room,), {"humidity": humidity, "damp_h": run.damp_h, "shut_h": shut.damp_h})


def draughts(house: House, scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
    """Places to sleep where the air is fast, or cool and moving: a matter of comfort.

    Above the temperatures that the draught rate was made for, moving air is welcome, and only its speed counts.
    """
    for there in comfort_of_people(house, scenario, flow) if house.people_at else ():
        if not there.asleep:
            continue
        if there.speed_m_s > STRONG_M_S:
            numbers = {"speed_m_s": there.speed_m_s, "limit_m_s": STRONG_M_S}
            yield Hazard(HazardCode.STRONG_AIR, (there.name,), numbers)
        elif there.draught_rate > DRAUGHT_SHARE and there.temperature_c <= DRAUGHT_C[1]:
            numbers = {
                "temperature_c": there.temperature_c,
                "speed_m_s": there.speed_m_s,
                "bothered": there.draught_rate,
            }
            yield Hazard(HazardCode.DRAUGHT, (there.name,), numbers)


def night_hazards(
    house: House, scenario: Scenario, weather: Weather, run: Run, shut: Run, *, unattended: bool = False
) -> tuple[Hazard, ...]:
    """What a plan causes while it is followed through a night and its windows are open.

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
    unattended
        True while people sleep or are out.

    Returns
    -------
    tuple of Hazard
        From the step when it is coolest outdoors against indoors and stack effect pulls most, with fans if they ever
        run, and from the first such step in the rain; each of them once.
    """
    found: dict[tuple[HazardCode, tuple[str, ...]], Hazard] = {}
    for step, windows in _hazardous_steps(run, weather):
        then = replace(
            scenario,
            placements=scenario.placements if windows == "with fans" else (),
            temperatures_c={room: track[step] for room, track in run.rooms_c.items()},
            outdoors=weather.at(_middle_s(run, step), scenario.outdoors),
        )
        for one in find_hazards(house, then, solve(house, then), unattended=unattended):
            found.setdefault((one.code, one.names), one)
    return (*found.values(), *damp_walls(run, shut))


def _middle_s(run: Run, step: int) -> float:
    """Middle of a step [s]."""
    return (run.times_s[step] + run.times_s[step + 1]) / 2.0


def _hazardous_steps(run: Run, weather: Weather) -> list[tuple[int, State]]:
    """The steps of a run with the most hazards, with the state of the windows; none where it stays shut."""
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
