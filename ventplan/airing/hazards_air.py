"""Cautions about the air itself: flames, garages, smoke, damp, draughts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ventplan.airing.comfort import DRAUGHT_C, comfort_of_people
from ventplan.airing.hazard import Caution, caution
from ventplan.airing.night_simulation import MOULD_HUMIDITY, Run
from ventplan.house.geometry import shared_walls
from ventplan.house.records import OUTDOORS, House, Scenario
from ventplan.house.shown import show
from ventplan.house.units import System
from ventplan.network.answer import solve
from ventplan.network.flow import Flow
from ventplan.network.weather import open_country_wind_speed
from ventplan.physics.air import dew_point, humidity_ratio, relative_humidity_at

SCREENING_PA = (2.0, 5.0)
"""Depressurisation at which a room with a flame is flagged, and flagged strongly [Pa]. Tables differ; neither
is a bound of safety (from memory)."""

NOTICED_PA = 0.2
"""Negative pressure that is worth a word where fans cause it [Pa] (common practice, no source)."""

NEAR_FLAG = 0.75
"""Share of the lower flag from which on a negative pressure is worth a word whatever causes it [-]."""

SHARE_OF_FANS = 0.9
"""Share of a negative pressure from which on fans are said to cause all of it [-]."""

GARAGE_M3_S = 0.001
"""Air from a garage that is worth a word [m3/s] (common practice, no source)."""

STORM_M_S = 13.9
"""Wind 10 m above open country from which open windows are worth a word [m/s]: 7 on the Beaufort scale (WMO, from
memory)."""

DAMP_H = 6.0
"""Time of damp surfaces that is worth a word [h]; mould needs days (common practice, no source)."""

WARMER_K = 1.0
WARM_CHANGES_PER_H = 0.5
SUMMER_C = 22.0
"""Outdoor air so much warmer than the rooms, at such a rate, is worth a word where a room is at least so warm [K],
[1/h], [°C] (common practice, no source)."""

DRAUGHT_SHARE = 0.20
"""Share bothered by a draught that a normal level of comfort stays below [-] (ISO 7730:2005, category B)."""

STRONG_M_S = 0.8
"""Air speed above which people want to control it themselves [m/s] (ANSI/ASHRAE Standard 55; from memory)."""


def flames(house: House, scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    """Rooms with a flame under low pressure: near and beyond the flags whatever lowers it, below them where fans do."""
    low, high = SCREENING_PA
    lacks = {name: -air.pressure_pa for name, air in flow.rooms.items() if house.rooms[name].flame}
    if not any(lack >= NOTICED_PA for lack in lacks.values()):
        return
    without = solve(house, replace(scenario, placements=()), near=flow) if scenario.placements else flow
    for name, lack in lacks.items():
        by_fans = lack + without.rooms[name].pressure_pa if name in without.rooms else lack
        if lack < (NOTICED_PA if by_fans >= NOTICED_PA else NEAR_FLAG * low):
            continue
        flame = house.rooms[name].flame
        level = f"{name}, with {flame}, is {show(lack, 'pressure', system)} below the pressure outdoors"
        if NOTICED_PA <= by_fans < SHARE_OF_FANS * lack:
            level += f", {show(by_fans, 'pressure', system)} of it by fans"
        if lack >= low:
            flag = show(high if lack >= high else low, "pressure", system)
            yield caution("flame, flagged", f"{level}: beyond the {flag} at which such rooms are flagged")
        else:
            yield caution("flame, mild", f"{level}; such rooms are flagged at {show(low, 'pressure', system)}")


def garages(house: House, scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
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
            yield caution("garage", f"{show(drawn, 'flow', system)} come into the house from {name}")
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
            lack = show(lacks[worst], "pressure", system)
            yield caution("garage", f"{worst} is {lack} below the pressure of {name} behind its wall, which may leak")


def smoke(scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    """Smoky air that openings or fans bring in."""
    brought = sum(room.outdoor_m3_s for room in flow.rooms.values())
    opened = any(f.free_area_m2 > 0.0 for f in flow.openings.values() if OUTDOORS in f.joins)
    blown = any(fan.driven_m3_s != 0.0 for fan in flow.fans)
    if scenario.outdoors.smoke and brought > 0.0 and (opened or blown):
        yield caution("smoke", f"{show(brought, 'flow', system)} of that air come in")


def storm(house: House, scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    """Windows and doors open in a storm."""
    speed = open_country_wind_speed(scenario)
    wide = [
        name
        for name, solved in flow.openings.items()
        if house.openings[name].is_external and house.openings[name].kind != "shaft" and solved.free_area_m2 > 0.0
    ]
    if speed >= STORM_M_S and wide:
        yield caution("storm", f"wind of {show(speed, 'wind', system)} over open country, and open: {', '.join(wide)}")


def warm_air(house: House, scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
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
        by = show(warmer, "temperature difference", system)
        yield caution("warm air", f"{show(total, 'flow', system)} come in that are {by} warmer than the rooms")


def damp_air(scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    """Muggy air that comes into a cool room."""
    outdoors = scenario.outdoors
    if outdoors.relative_humidity <= 0.0:
        return
    state = {"temperature_c": outdoors.temperature_c, "relative_humidity": outdoors.relative_humidity}
    ratio, dew = humidity_ratio(**state), show(float(dew_point(**state)), "temperature", system)
    for name, air in flow.rooms.items():
        room_c = scenario.temperatures_c[name]
        humidity = float(relative_humidity_at(temperature_c=room_c, ratio=ratio))
        if humidity > MOULD_HUMIDITY and room_c < outdoors.temperature_c and air.direct_air_change_per_h > 0.5:
            cool = show(room_c, "temperature", system)
            yield caution(
                "damp air", f"air of dew point {dew} comes into {name} at {cool}: {100 * humidity:.0f} % there"
            )


def damp_walls(run: Run, shut: Run) -> Iterator[Caution]:
    """Walls that stay damp on one way through the weather, against the house kept shut."""
    room, humidity = run.wettest
    wet = humidity > 1.0 - 1e-9
    if not wet and run.damp_h <= DAMP_H:
        return
    worst = f"water condenses in {room}" if wet else f"the worst, in {room}, reach {100.0 * humidity:.0f} %"
    computed = f"walls stay above 80 % humidity for {run.damp_h:.0f} h at a time, and {worst}"
    drier = run.damp_h <= shut.damp_h
    yield caution(
        "damp walls, shut" if drier else "damp walls", f"{computed}; with everything shut for {shut.damp_h:.0f} h"
    )


def draughts(house: House, scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    """Places to sleep where the air is fast, or cool and moving: a matter of comfort.

    Above the temperatures that the draught rate was made for, moving air is welcome, and only its speed counts.
    """
    for there in comfort_of_people(house, scenario, flow) if house.people_at else ():
        if not there.asleep:
            continue
        speed = show(there.speed_m_s, "speed", system)
        if there.speed_m_s > STRONG_M_S:
            limit = show(STRONG_M_S, "speed", system)
            yield caution("strong air", f"the air at {there.name} moves at {speed}, above {limit}")
        elif there.draught_rate > DRAUGHT_SHARE and there.temperature_c <= DRAUGHT_C[1]:
            air = f"{show(there.temperature_c, 'temperature', system)} at {speed}"
            yield caution("draught", f"air of {air} at {there.name} bothers about {100 * there.draught_rate:.0f} %")
