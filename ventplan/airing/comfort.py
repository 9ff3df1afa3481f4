"""Thermal comfort where people sit or sleep: air speed, the cooling effect of moving air, and draughts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from ventplan.airing.air_speed import InflowJet, Spot, inflow_jets, jet_speed, openings_left_by
from ventplan.house.geometry import free_rectangle, polygon
from ventplan.house.records import House, PersonAt, Placement, Room, Scenario
from ventplan.network.flow import Flow
from ventplan.network.jets import Ray, ray_of
from ventplan.network.weather import densities
from ventplan.physics.comfort import draught_rate, relief_k
from ventplan.physics.jet import (
    approach_speed,
    drop_m,
    entering_share,
    momentum_share,
)
from ventplan.physics.jet_path import RETURN_LENGTH

TURBULENCE = 0.4
"""Turbulence intensity where it is not known [-] (ISO 7730:2005: 40 %, of a range of 10 to 60 %)."""

DRAUGHT_C, DRAUGHT_M_S = (20.0, 26.0), 0.5
"""Local air temperature [°C] and highest speed [m/s] that the draught rate was made for (ISO 7730:2005)."""

ZERO_C_K = 273.15


@dataclass(frozen=True)
class LocalComfort:
    """The air at one place where somebody sits or sleeps.

    Attributes
    ----------
    name, room, asleep
        The place, as the house file has it.
    speed_m_s
        Mean speed there, all parts together [m/s].
    fans_m_s, streams_m_s, background_m_s
        Its parts: from fans in the room, from jets at openings (in and out), and of the room as a whole
        [m/s]; their squares add up to that of the speed.
    most_from
        The fan or opening that brings most of it, or empty where that is the room as a whole.
    temperature_c
        Temperature of the air that arrives there [°C].
    draught_rate
        Share of people whom it bothers as a draught [-].
    draught_applies
        True within the temperatures and speeds that the draught rate was made for.
    relief_k
        How much warmer the room may be for the same comfort, because the air moves [K].
    """

    name: str
    room: str
    asleep: bool
    speed_m_s: float
    fans_m_s: float
    streams_m_s: float
    background_m_s: float
    most_from: str
    temperature_c: float
    draught_rate: float
    draught_applies: bool
    relief_k: float


def comfort_of_people(house: House, scenario: Scenario, flow: Flow) -> tuple[LocalComfort, ...]:
    """The air at every place where the house file says that people sit or sleep.

    Parameters
    ----------
    house, scenario, flow
        The house, its state, and the solution.

    Returns
    -------
    tuple of LocalComfort
        In file order; empty where the house has no such places.

    Notes
    -----
    Momentum adds, so speeds add by their squares. Jets lose momentum to the air that comes back along the room as in
    `ventplan.physics.jet_path`, streams too. What leaves a jet behind the second opening in line, what walls, furniture
    and people do to a stream, and the slow circle that a jet drives in the rest of its room are left out.
    """
    if not house.people_at:
        return ()
    air = densities(house, scenario)
    rooms = {person.room for person in house.people_at.values()}
    streams = {room: inflow_jets(house, scenario, flow, room) for room in rooms}
    return tuple(
        _comfort_at(house, scenario, flow, person, streams[person.room], air[person.room])
        for person in house.people_at.values()
    )


def _comfort_at(
    house: House, scenario: Scenario, flow: Flow, person: PersonAt, arriving: tuple[InflowJet, ...], density: float
) -> LocalComfort:
    room = house.rooms[person.room]
    spot = (*person.at, room.floor_m + person.height_m)
    fans = dict(_fan_speeds(house, scenario, person, spot, density))
    room_c = scenario.temperatures_c[person.room]
    entering = [
        (stream, speed)
        for stream in arriving
        if (speed := _inflow_jet_speed(house, room, stream, spot, room_c)) > 0.0
        and _reaches(house, person, stream.middle)
    ]
    leaving = dict(_leaving_speeds(house, scenario, flow, person, spot))
    streams = {stream.opening: speed for stream, speed in entering}
    for name, speed in leaving.items():
        streams[name] = math.hypot(streams.get(name, 0.0), speed)
    background = mean_speed(room, flow)
    parts = {**streams, **fans}
    speed = math.hypot(background, *parts.values())
    most = max(parts, key=lambda name: parts[name], default="")
    temperature = _mixed(entering, room_c)
    rate = draught_rate(temperature_c=temperature, speed_m_s=speed, turbulence_intensity=TURBULENCE)
    return LocalComfort(
        name=person.name,
        room=person.room,
        asleep=person.asleep,
        speed_m_s=speed,
        fans_m_s=math.hypot(*fans.values()),
        streams_m_s=math.hypot(*streams.values()),
        background_m_s=background,
        most_from=most if most and parts[most] > background else "",
        temperature_c=temperature,
        draught_rate=float(rate),
        draught_applies=DRAUGHT_C[0] <= temperature <= DRAUGHT_C[1] and speed <= DRAUGHT_M_S,
        relief_k=float(relief_k(speed_m_s=speed, operative_temperature_c=room_c)),
    )


def mean_speed(room: Room, flow: Flow) -> float:
    """Mean speed of the air through a room: all air that enters over a cross-section of sqrt(floor area) x height.

    Parameters
    ----------
    room
        The room.
    flow
        The solution; 0 for a room cut off from outdoors.

    Returns
    -------
    float
        [m/s].
    """
    air = flow.rooms.get(room.name)
    return air.inflow_m3_s / _section_m2(room) if air else 0.0


def _section_m2(room: Room) -> float:
    return math.sqrt(room.area_m2) * room.ceiling_m


def _mixed(entering: list[tuple[InflowJet, float]], room_c: float) -> float:
    """Temperature at the place: each stream brings its share of air, the air of the room is the rest [°C]."""
    shares = [float(entering_share(speed_over_start=speed / stream.start_speed_m_s)) for stream, speed in entering]
    most = max(sum(shares), 1.0)
    return room_c + sum(
        share / most * (stream.temperature_c - room_c) for (stream, _), share in zip(entering, shares, strict=True)
    )


def _inflow_jet_speed(house: House, room: Room, stream: InflowJet, spot: Spot, room_c: float) -> float:
    """Speed of a stream at a spot, with its mirror images in floor and ceiling [m/s]."""
    from_middle = [a - b for a, b in zip(spot, stream.middle, strict=True)]
    distance = sum(a * b for a, b in zip(from_middle, stream.along, strict=True))
    if distance < 0.0:
        return 0.0
    aside = sum(a * b for a, b in zip(from_middle, stream.across, strict=True))
    # at an angle, the width across the stream is that of the opening foreshortened
    along_width = sum(a * b for a, b in zip(stream.along, stream.across, strict=True))
    aside = (aside - distance * along_width) / math.sqrt(1.0 - along_width**2)
    share = momentum_share(aside_m=aside, width_m=stream.width_m, distance_m=distance)
    if stream.is_level:
        sunk = drop_m(
            distance_m=distance,
            start_speed_m_s=stream.start_speed_m_s,
            area_m2=stream.area_m2,
            cooler_k=room_c - stream.temperature_c,
            temperature_k=room_c + ZERO_C_K,
        )
        floor, ceiling = room.floor_m, room.floor_m + room.ceiling_m
        axis = min(max(stream.middle[2] + distance * stream.along[2] - float(sunk), floor), ceiling)
        levels = (axis, 2.0 * floor - axis, 2.0 * ceiling - axis)
        up = sum(
            float(momentum_share(aside_m=spot[2] - level, width_m=stream.height_m, distance_m=distance))
            for level in levels
        )
    else:
        deep = math.sqrt(max(sum(a * a for a in from_middle) - distance**2 - aside**2, 0.0))
        up = float(momentum_share(aside_m=deep, width_m=stream.height_m, distance_m=distance))
    kept = math.exp(-distance / (RETURN_LENGTH * math.sqrt(_section_m2(room))))
    # an image may add to the stream only what mixing took from it: in the core it is no faster than at its start
    return stream.start_speed_m_s * math.sqrt(min(float(share) * up, 1.0) * kept)


def _leaving_speeds(
    house: House, scenario: Scenario, flow: Flow, person: PersonAt, spot: Spot
) -> Iterator[tuple[str, float]]:
    for opening, leaving in openings_left_by(house, flow, person.room):
        free = free_rectangle(opening, scenario.shares[opening.name])
        middle = (free.x, free.y, free.z)
        if free.area_m2 > 0.0 and _reaches(house, person, middle):
            distance = math.dist(spot, middle)
            yield (
                opening.name,
                float(approach_speed(flow_m3_s=leaving, area_m2=free.area_m2, distance_m=distance)),
            )


def _fan_speeds(
    house: House, scenario: Scenario, person: PersonAt, spot: Spot, density: float
) -> Iterator[tuple[str, float]]:
    for placement in scenario.placements:
        if placement.sealed or placement.stands_in != person.room:
            continue
        ray = _ray(house, scenario, placement, density)
        speed = jet_speed(house, ray, spot, density)
        if speed > 0.0 and _reaches(house, person, (ray.x, ray.y, ray.z)):
            yield placement.fan, speed


def _ray(house: House, scenario: Scenario, placement: Placement, density: float) -> Ray:
    return ray_of(house, placement, scenario.shares[placement.opening], density)


def _reaches(house: House, person: PersonAt, start: Spot) -> bool:
    """True where a straight line to the person stays in the room and above what stands in it.

    What the person sits or lies on is no obstacle.
    """
    from shapely import LineString, Point

    if math.dist(start[:2], person.at) < 0.05:
        return True
    room, line, here = house.rooms[person.room], LineString([start[:2], person.at]), Point(person.at)
    if line.difference(polygon(room.corners).buffer(0.02)).length > 0.3:
        return False
    height = max(start[2] - room.floor_m, person.height_m)
    return not any(
        obstacle.height_m > height and (shape := polygon(obstacle.corners)).intersects(line) and not shape.covers(here)
        for obstacle in house.obstacles.values()
        if obstacle.room == person.room
    )
