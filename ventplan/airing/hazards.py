"""What an answer causes that somebody should know: openings and fans here, the air itself in `hazards_air`.

Each limit stands with its source. The predicates that a search needs (is a plan within the limits for flames, sound at
the pillow, falls?) are functions of a solved state alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

import numpy as np

from ventplan.airing import hazards_air
from ventplan.airing.hazard import Hazard, HazardCode
from ventplan.airing.hazards_air import damp_walls
from ventplan.airing.night_simulation import Run
from ventplan.airing.policy import State
from ventplan.airing.weather import Weather
from ventplan.house.fan_pose import fan_pose
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Room, Scenario
from ventplan.network.answer import solve
from ventplan.network.flow import Flow
from ventplan.network.jets import fan_of
from ventplan.physics.fan import level_through_opening, sum_of_levels

FALL_M = 1.8
"""Drop that calls for a guard [m] (6 ft, US building practice, from memory)."""

CHILD_GAP_M, CHILD_TORSO_M = 0.10, 0.157
"""Gap that a child does not pass, and longer side of a hole that a child's torso does not pass [m] (US CPSC, window
safety: stops at 100 mm; EN 1176-1:2017, torso probe of 89 mm x 157 mm, from memory)."""

REACH_M = 2.0
"""Height above the ground up to which a window counts as easily reached from outside [m] (England, Approved Document Q,
2015, appendix A: within 2 m of an accessible level surface; from memory)."""

BODY_GAP_M, BODY_LENGTH_M = 0.25, 0.40
"""Sides of a hole that a person can climb through [m] (EN 1627:2011, accessible opening of 400 mm x 250 mm; from
memory)."""

NIGHT_DB = 30.0
"""Steady sound in bedrooms that sleep stands [dB(A)] (WHO, Guidelines for Community Noise, 1999)."""

NEAREST_PILLOW_M = 0.3
"""Shortest distance from a fan to a head for which its sound level is computed [m]."""

NEAR_OPENING_M = 0.5
"""Setback below which a fan at an open window gets rained on, and one at a door stands in the way [m] (common
practice, no source)."""

IN_OPENING_M = 0.2
"""Setback below which a fan stands in the opening itself, on its sill [m] (common practice, no source)."""

CIRCUIT_W, HEATER_W = 1800.0, 1500.0
"""Load of a household circuit of 15 A at 120 V, and of a usual plug-in heater there [W] (common practice, no source);
circuits of 16 A at 230 V bear twice as much."""

HEATS_W = 1000.0
"""Heat released in a room that is likely to come from a heating appliance [W] (common practice, no source)."""


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
        *hazards_air.flames(house, scenario, flow),
        *hazards_air.garages(house, scenario, flow),
        *hazards_air.smoke(scenario, flow),
        *fire_doors(house, flow),
        *hazards_air.storm(house, scenario, flow),
        *falls(house, scenario, flow),
        *falling_fans(house, scenario),
        *(unguarded(house, scenario, flow) if unattended else ()),
        *fans(house, scenario),
        *circuits(house, scenario),
        *hazards_air.warm_air(house, scenario, flow),
        *hazards_air.damp_air(scenario, flow),
        *noise(house, scenario, flow),
        *hazards_air.draughts(house, scenario, flow),
    ]
    return tuple(found)


def free_sides_m(opening: Opening, scenario: Scenario) -> tuple[float, float]:
    """The narrower and the longer side of what is open of an opening [m].

    Parameters
    ----------
    opening
        The opening.
    scenario
        The state that it is in.
    """
    share, along_width = scenario.shares[opening.name], opening.free_along == "width"
    width = opening.width_m * (share if along_width else 1.0)
    height = opening.height_m * (1.0 if along_width else share)
    return min(width, height), max(width, height)


def _drops(opening: Opening) -> bool:
    """True for an opening that somebody or something could fall out of."""
    return (
        opening.is_external
        and opening.kind != "shaft"
        and opening.leads_to not in ("stairs", "garage")
        and opening.drop_m > FALL_M
    )


def falls(house: House, scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
    """Openings to outdoors that somebody could fall through."""
    for name, solved in flow.openings.items():
        opening = house.openings[name]
        narrow, long = free_sides_m(opening, scenario)
        if _drops(opening) and solved.free_area_m2 > 0.0 and narrow > CHILD_GAP_M and long > CHILD_TORSO_M:
            screened = float(name in scenario.screened)
            yield Hazard(HazardCode.FALL, (name,), {"gap_m": narrow, "drop_m": opening.drop_m, "screened": screened})


def fan_can_fall(house: House, placement: Placement) -> bool:
    """True for a fan that stands in an opening above a drop.

    Parameters
    ----------
    house
        The house.
    placement
        Where the fan stands; one that is fixed in its opening does not fall.
    """
    opening, fan = house.openings[placement.opening], house.fans[placement.fan]
    in_it = placement.sealed or placement.setback_m < IN_OPENING_M
    return in_it and _drops(opening) and fan.stays_at != opening.name


def falling_fans(house: House, scenario: Scenario) -> Iterator[Hazard]:
    """Fans in open windows above a drop."""
    for placement in scenario.placements:
        if fan_can_fall(house, placement):
            names, drop_m = (placement.fan, placement.opening), house.openings[placement.opening].drop_m
            yield Hazard(HazardCode.FAN_FALL, names, {"drop_m": drop_m})


def fire_doors(house: House, flow: Flow) -> Iterator[Hazard]:
    """Doors to the stairs of the building that stand open."""
    for name, solved in flow.openings.items():
        if house.openings[name].leads_to == "stairs" and solved.free_area_m2 > 0.0:
            yield Hazard(HazardCode.FIRE_DOOR, (name,))


def reachable(house: House, scenario: Scenario) -> tuple[str, ...]:
    """Open doors and windows that somebody could get in through.

    Parameters
    ----------
    house, scenario
        The house and its state.

    Returns
    -------
    tuple of str
        Openings to outdoors whose lower edge is within reach and that a person fits through, screened or not; doors to
        a balcony count by the height of their floor.
    """
    found = []
    for name, opening in house.openings.items():
        narrow, long = free_sides_m(opening, scenario)
        if not opening.is_external or opening.kind not in ("door", "window", "passage"):
            continue
        room = house.rooms[opening.joins[0]]
        above_m = room.floor_m if opening.leads_to == "balcony" else opening.drop_m
        in_reach = opening.leads_to == "stairs" or above_m < REACH_M
        if in_reach and narrow > BODY_GAP_M and long > BODY_LENGTH_M:
            found.append(name)
    return tuple(found)


def unguarded(house: House, scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
    """Doors and windows within reach from outside that stand open while nobody watches them."""
    open_ones = tuple(name for name in reachable(house, scenario) if flow.openings[name].free_area_m2 > 0.0)
    if open_ones:
        yield Hazard(HazardCode.OPEN_UNATTENDED, open_ones)


def fans(house: House, scenario: Scenario) -> Iterator[Hazard]:
    """Fans in the rain, outdoors with their cord, and in doorways."""
    for placement in scenario.placements:
        opening = house.openings[placement.opening]
        near = placement.sealed or placement.setback_m < NEAR_OPENING_M
        names = (placement.fan, opening.name)
        numbers = {"setback_m": placement.setback_m, "sealed": float(placement.sealed)}
        outdoors = placement.stands_in == OUTDOORS and not placement.sealed
        if scenario.outdoors.rain and (outdoors or (near and opening.is_external)):
            yield Hazard(HazardCode.RAIN, names, numbers)
        if outdoors:
            yield Hazard(HazardCode.FAN_OUTDOORS, names, numbers)
        if near and opening.kind in ("door", "passage"):
            yield Hazard(HazardCode.FAN_IN_DOORWAY, names, numbers)


def circuits(house: House, scenario: Scenario) -> Iterator[Hazard]:
    """Fans in one room that leave too little of a circuit for a heater, or run beside one."""
    for room in house.rooms.values():
        here = [fan_of(house, p).power_w or 0.0 for p in scenario.placements if _plugged_in(house, p) == room.name]
        total = sum(here)
        if total <= 0.0:
            continue
        if room.gain_w >= HEATS_W:
            numbers = {"fans_w": total, "heater_w": room.gain_w}
            yield Hazard(HazardCode.HEATER_BESIDE_FANS, (room.name,), numbers)
        elif total > CIRCUIT_W - HEATER_W:
            yield Hazard(HazardCode.CIRCUIT, (room.name,), {"fans_w": total, "heater_w": HEATER_W})


def _plugged_in(house: House, placement: Placement) -> str:
    """The room that a fan's cord leads to: a fan outdoors, or sealed in to blow inwards, is plugged in indoors."""
    opening = house.openings[placement.opening]
    return opening.other(OUTDOORS) if placement.stands_in == OUTDOORS else placement.stands_in


def noise(house: House, scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
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

    A furnished room is so small that the level hardly falls with distance: that at 1 m counts for all of it, and more
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
