"""Hazards of the air itself: flames, garages, smoke, storms, damp, draughts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from ventplan.airing.comfort import DRAUGHT_C, comfort_of_people
from ventplan.airing.hazard import Hazard, HazardCode
from ventplan.airing.night_simulation import MOULD_HUMIDITY, Run
from ventplan.house.geometry import shared_walls
from ventplan.house.records import OUTDOORS, House, Scenario
from ventplan.network.answer import solve
from ventplan.network.flow import Flow
from ventplan.network.weather import open_country_wind_speed
from ventplan.physics.air import dew_point, humidity_ratio, relative_humidity_at

FLAME_LIMITS_PA = (2.0, 5.0)
"""Depressurisation at which a room with a flame is flagged, and flagged strongly [Pa]: limits for a natural-draught
water heater on its own chimney, and for a natural-draught boiler or furnace (Building Performance Institute, Technical
Standards for the Building Analyst Professional, 2012, table of combustion zone depressurisation limits; from memory).
Other tables differ, and neither is a bound of safety."""

NOTICED_PA = 0.2
"""Negative pressure that is reported where fans cause it [Pa] (common practice, no source)."""

NEAR_FLAG = 0.75
"""Share of the lower flag from which on a negative pressure is reported whatever causes it [-]."""

GARAGE_M3_S = 0.001
"""Air from a garage that is reported [m3/s] (common practice, no source)."""

STORM_M_S = 13.9
"""Wind 10 m above open country from which open windows are reported [m/s]: 7 on the Beaufort scale (WMO, from
memory)."""

DAMP_H = 6.0
"""Time of damp surfaces that is reported [h]; mould needs days (common practice, no source)."""

WARMER_K, WARM_CHANGES_PER_H, SUMMER_C = 1.0, 0.5, 22.0
"""Outdoor air so much warmer than the rooms, at such a rate, is reported where a room is at least so warm [K],
[1/h], [°C] (common practice, no source)."""

DRAUGHT_SHARE = 0.20
"""Share bothered by a draught that a normal level of comfort stays below [-] (ISO 7730:2005, category B)."""

STRONG_M_S = 0.8
"""Air speed above which people want to control it themselves [m/s] (ANSI/ASHRAE Standard 55; from memory)."""

_NO_CHIMNEY = re.compile(
    r"\b(hobs?|cook(er|ers|top|tops)|ovens?|burners?|candles?|(gas|kitchen|cooking) (stove|stoves|range|ranges))\b"
)
_SEALED = re.compile(r"\b(sealed|room[- ]sealed|balanced flue|direct[- ]vent(ed)?)\b")


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
    """Rooms with a flame under low pressure: near and beyond the flags whatever lowers it, below them where fans do."""
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
        if humidity > MOULD_HUMIDITY and room_c < outdoors.temperature_c and air.direct_air_change_per_h > 0.5:
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
