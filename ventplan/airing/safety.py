"""What an answer can cause, as data, and the dangers: flames, garages, smoke, storms, falls, fire doors, cords.

Each limit stands with its source. `ventplan.airing.hazards` finds all hazards of a state; `ventplan.show` makes
sentences.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import lru_cache

from ventplan.house.geometry import shared_walls
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Scenario
from ventplan.network.answer import solve
from ventplan.network.flow import Flow
from ventplan.network.jets import fan_of
from ventplan.network.weather import open_country_wind_speed

FLAME_LIMITS_PA = (2.0, 5.0)
"""Depressurisation at which a room with a flame is flagged, and flagged strongly [Pa]: limits for a natural-draught
water heater on its own chimney, and for a natural-draught boiler or furnace (Building Performance Institute, Technical
Standards for the Building Analyst Professional, 2012, table of combustion zone depressurisation limits; from memory).
Other tables differ, and neither is a bound of safety."""

NOTICED_PA = 0.2
"""Negative pressure that is reported where fans cause it [Pa] (common practice, no source)."""

NEAR_FLAG = 0.75
"""Share of the lower flag above which a negative pressure is reported from any cause [-]."""

GARAGE_M3_S = 0.001
"""Air from a garage that is reported [m3/s] (common practice, no source)."""

STORM_M_S = 13.9
"""Wind 10 m above open country from which open windows are reported [m/s]: 7 on the Beaufort scale (WMO, from
memory)."""

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

NEAR_OPENING_M = 0.5
"""Setback below which rain reaches a fan at an open window, and a fan at a door is in the way [m] (common
practice, no source)."""

IN_OPENING_M = 0.2
"""Setback below which a fan stands in the opening itself, on its sill [m] (common practice, no source)."""

CIRCUIT_W, HEATER_W = 1800.0, 1500.0
"""Load of a household circuit of 15 A at 120 V, and of a usual plug-in heater there [W] (common practice, no source);
circuits of 16 A at 230 V carry twice as much."""

HEATS_W = 1000.0
"""Heat released in a room that is likely to come from a heating appliance [W] (common practice, no source)."""

_NO_CHIMNEY = re.compile(
    r"\b(hobs?|cook(er|ers|top|tops)|ovens?|burners?|candles?|(gas|kitchen|cooking) (stove|stoves|range|ranges))\b"
)
_SEALED = re.compile(r"\b(sealed|room[- ]sealed|balanced flue|direct[- ]vent(ed)?)\b")


class HazardCode(StrEnum):
    """Kinds of hazards, the gravest first.

    The comment beside each code says what its ``names`` are and which ``numbers`` it has.
    """

    FLAME_FLAGGED = "flame-flagged"  # room, appliance; depressurisation_pa, by_fans_pa, limit_pa
    FLAME_MILD = "flame-mild"  # room, appliance; depressurisation_pa, by_fans_pa, limit_pa
    GARAGE_AIR = "garage-air"  # garage; flow_m3_s
    GARAGE_WALL = "garage-wall"  # room, garage; depressurisation_pa
    SMOKE = "smoke"  # flow_m3_s
    FIRE_DOOR = "fire-door"  # door
    STORM = "storm"  # openings; wind_m_s
    FALL = "fall"  # opening; gap_m, drop_m, screened
    FAN_FALL = "fan-fall"  # fan, opening; drop_m
    OPEN_UNATTENDED = "open-unattended"  # openings
    RAIN = "rain"  # fan, opening; setback_m, sealed
    FAN_OUTDOORS = "fan-outdoors"  # fan, opening; setback_m, sealed
    FAN_IN_DOORWAY = "fan-in-doorway"  # fan, opening; setback_m, sealed
    CIRCUIT = "circuit"  # room; fans_w, heater_w
    HEATER_BESIDE_FANS = "heater-beside-fans"  # room; fans_w, heater_w
    DAMP_AIR = "damp-air"  # room; dew_point_c, room_c, humidity
    DAMP_WALLS = "damp-walls"  # room; humidity, damp_h, shut_h
    DAMP_WALLS_SHUT = "damp-walls-shut"  # room; humidity, damp_h, shut_h
    NOISE = "noise"  # room, fans; level_db
    DRAUGHT = "draught"  # place; temperature_c, speed_m_s, bothered
    STRONG_AIR = "strong-air"  # place; speed_m_s, limit_m_s
    WARM_AIR = "warm-air"  # flow_m3_s, warmer_k


NEVER_FIRST = frozenset({HazardCode.FLAME_FLAGGED, HazardCode.GARAGE_AIR, HazardCode.SMOKE, HazardCode.FIRE_DOOR})
"""Hazards that no plan may cause if it is to be recommended first: poisoning, and fire that spreads (our rule; each
limit has its source where it stands). What a person can mend, such as a fan to be fastened, is a caution."""


@dataclass(frozen=True)
class Hazard:
    """Something that an answer causes and that somebody should know.

    Attributes
    ----------
    code
        Kind.
    names
        What it is about: rooms, openings, fans, as `HazardCode` lists them.
    numbers
        What was computed, in SI, as `HazardCode` lists them.
    """

    code: HazardCode
    names: tuple[str, ...] = ()
    numbers: Mapping[str, float] = field(default_factory=dict)


def grave_hazards(house: House, scenario: Scenario, flow: Flow) -> frozenset[HazardCode]:
    """Codes of the hazards in `NEVER_FIRST` that a solved scenario causes."""
    others = (*garages(house, scenario, flow), *smoke(scenario, flow), *fire_doors(house, flow))
    flame = {HazardCode.FLAME_FLAGGED} if flame_is_flagged(house, flow) else set()
    return NEVER_FIRST & {*flame, *(hazard.code for hazard in others)}


def weight(code: HazardCode) -> int:
    """Place among the codes, 0 for the gravest."""
    return list(HazardCode).index(code)


@lru_cache(maxsize=256)
def draws_from_chimney(flame: str) -> bool:
    """True for an appliance whose combustion gas a low pressure in the room can draw back down its chimney.

    Parameters
    ----------
    flame
        The appliance in the words of the house file; empty for none.

    Notes
    -----
    A hob or an oven has no chimney: what it burns is in the room at any pressure. A sealed appliance takes its air from
    outdoors. Whatever is not known to be either counts as one with a chimney.
    """
    words = flame.lower()
    return bool(words) and not _NO_CHIMNEY.search(words) and not _SEALED.search(words)


def depressurisations_pa(house: House, flow: Flow) -> dict[str, float]:
    """By how much each room with a chimney's flame is below the pressure outdoors [Pa].

    Parameters
    ----------
    house, flow
        The house and its solution.
    """
    return {name: -air.pressure_pa for name, air in flow.rooms.items() if draws_from_chimney(house.rooms[name].flame)}


def flame_is_flagged(house: House, flow: Flow) -> bool:
    """True where a room with a flame is below the pressure outdoors by the lower limit or more.

    Parameters
    ----------
    house, flow
        The house and its solution.
    """
    return any(value >= FLAME_LIMITS_PA[0] for value in depressurisations_pa(house, flow).values())


def flames(house: House, scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
    """Rooms with a flame under low pressure: near and beyond the limits from any cause, else from fans."""
    low, high = FLAME_LIMITS_PA
    found = depressurisations_pa(house, flow)
    if not any(value >= NOTICED_PA for value in found.values()):
        return
    without = solve(house, replace(scenario, placements=()), near=flow) if scenario.placements else flow
    for name, value in found.items():
        by_fans = value + without.rooms[name].pressure_pa if name in without.rooms else value
        if value < (NOTICED_PA if by_fans >= NOTICED_PA else NEAR_FLAG * low):
            continue
        yield Hazard(
            HazardCode.FLAME_FLAGGED if value >= low else HazardCode.FLAME_MILD,
            (name, house.rooms[name].flame),
            {
                "depressurisation_pa": value,
                "by_fans_pa": max(by_fans, 0.0),
                "limit_pa": high if value >= high else low,
            },
        )


def garages(house: House, scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
    """Air that comes, or is drawn by fans through the wall, from an attached garage."""
    for name, room in house.rooms.items():
        if not room.is_garage:
            continue
        drawn = sum(
            opening.forward_m3_s if opening.joins[0] == name else opening.backward_m3_s
            for opening in flow.openings.values()
            if name in opening.joins and OUTDOORS not in opening.joins
        )
        if drawn > GARAGE_M3_S:
            yield Hazard(HazardCode.GARAGE_AIR, (name,), {"flow_m3_s": drawn})
            continue
        if not scenario.placements or name not in flow.rooms:
            continue
        lacks = {
            other.name: flow.rooms[name].pressure_pa - flow.rooms[other.name].pressure_pa
            for other in house.rooms.values()
            if other.name in flow.rooms and not other.is_garage and shared_walls(room, other)
        }
        worst = max(lacks, key=lambda key: lacks[key], default="")
        if worst and lacks[worst] >= NOTICED_PA:
            yield Hazard(HazardCode.GARAGE_WALL, (worst, name), {"depressurisation_pa": lacks[worst]})


def smoke(scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
    """Smoky air that openings or fans bring in."""
    brought = sum(room.outdoor_m3_s for room in flow.rooms.values())
    opened = any(f.free_area_m2 > 0.0 for f in flow.openings.values() if OUTDOORS in f.joins)
    blown = any(fan.driven_m3_s != 0.0 for fan in flow.fans)
    if scenario.outdoors.smoke and brought > 0.0 and (opened or blown):
        yield Hazard(HazardCode.SMOKE, (), {"flow_m3_s": brought})


def storm(house: House, scenario: Scenario, flow: Flow) -> Iterator[Hazard]:
    """Windows and doors open in a storm."""
    speed = open_country_wind_speed(scenario)
    wide = tuple(
        name
        for name, solved in flow.openings.items()
        if house.openings[name].is_external and house.openings[name].kind != "shaft" and solved.free_area_m2 > 0.0
    )
    if speed >= STORM_M_S and wide:
        yield Hazard(HazardCode.STORM, wide, {"wind_m_s": speed})


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
