"""Weather at a house: densities of the air, and wind pressure at each opening and on each wall."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from ventplan.house.geometry import bearing_deg, outside_walls_of, shared_walls, walls
from ventplan.house.records import OUTDOORS, House, Opening, Point, Room, Scenario
from ventplan.house.weather import Outdoors
from ventplan.physics import air, wind

Outline = tuple[str, tuple[Point, ...], float, float]
"""The shape of a room: name, corners, floor and ceiling height [m]."""

RAYS = 36
"""Number of directions in which a way out of a court is searched."""
OFF_WALL_M = 0.3
"""Distance from the wall at which these start [m]: beyond the thickness that may be left between rooms."""


@dataclass(frozen=True)
class Exposure:
    """What the wind on a piece of wall depends on.

    Attributes
    ----------
    normal
        Outward unit vector in plan.
    side_ratio
        Width of the storey along the wall over its depth behind it [-].
    in_court
        True if the house encloses it on all sides.
    """

    normal: Point
    side_ratio: float
    in_court: bool


def outlines(house: House) -> tuple[Outline, ...]:
    """The shapes of the rooms of a house; results are cached by them."""
    return tuple((name, room.corners, room.floor_m, room.ceiling_m) for name, room in house.rooms.items())


@lru_cache(maxsize=64)
def _rooms(of: tuple[Outline, ...]) -> dict[str, Room]:
    return {name: Room(name, corners, floor, ceiling) for name, corners, floor, ceiling in of}


@lru_cache(maxsize=1024)
def _storey_of(of: tuple[Outline, ...], room: str, level_m: float) -> frozenset[str]:
    """A room and all that join it wall to wall, directly or through others, at a height above the ground."""
    rooms = _rooms(of)
    cut = [r for r in rooms.values() if r.floor_m - 1e-6 <= level_m <= r.floor_m + r.ceiling_m + 1e-6]
    found, front = {room}, [rooms[room]]
    while front:
        here = front.pop()
        beside = [other for other in cut if other.name not in found and shared_walls(here, other)]
        found.update(other.name for other in beside)
        front += beside
    return frozenset(found)


@lru_cache(maxsize=4096)
def _exposure(of: tuple[Outline, ...], room: str, normal: Point, point: Point, level_m: float) -> Exposure:
    """Exposure of the outside wall of a room at a point and height; the side ratio is that of the storey there."""
    rooms = _rooms(of)
    storey = [rooms[name] for name in _storey_of(of, room, level_m)]
    (nx, ny), corners = normal, [corner for one in storey for corner in one.corners]
    along = [-x * ny + y * nx for x, y in corners]
    across = [x * nx + y * ny for x, y in corners]
    ratio = (max(along) - min(along)) / (max(across) - min(across))
    return Exposure(normal, ratio, _shut_in(storey, normal, point))


def _shut_in(storey: list[Room], normal: Point, point: Point) -> bool:
    """True if every ray from just outside a wall meets the house again."""
    x, y = point[0] + OFF_WALL_M * normal[0], point[1] + OFF_WALL_M * normal[1]
    edges = [(wall.start, wall.end) for room in storey for wall in walls(room)]
    turns = (2.0 * math.pi * (i + 0.5) / RAYS for i in range(RAYS))
    return all(any(_meets(x, y, math.cos(a), math.sin(a), *edge) for edge in edges) for a in turns)


def _meets(x: float, y: float, dx: float, dy: float, start: Point, end: Point) -> bool:
    ex, ey = end[0] - start[0], end[1] - start[1]
    cross = dx * ey - dy * ex
    if abs(cross) < 1e-12:
        return False
    ahead = ((start[0] - x) * ey - (start[1] - y) * ex) / cross
    on_edge = ((start[0] - x) * dy - (start[1] - y) * dx) / cross
    return ahead > 0.0 and -1e-9 <= on_edge <= 1.0 + 1e-9


@lru_cache(maxsize=64)
def _outside_walls(of: tuple[Outline, ...]) -> dict[str, tuple[tuple[float, Exposure], ...]]:
    """Area [m2] and exposure of the outside walls of every room, by direction."""
    rooms = _rooms(of)
    found = {}
    for name, room in rooms.items():
        level = room.floor_m + room.ceiling_m / 2.0
        areas: dict[Exposure, float] = {}
        for wall in outside_walls_of(room, rooms):
            middle = wall.point(wall.length_m / 2.0)
            here = _exposure(of, name, (round(wall.normal[0], 6), round(wall.normal[1], 6)), middle, level)
            areas[here] = areas.get(here, 0.0) + wall.length_m * room.ceiling_m
        found[name] = tuple((area, here) for here, area in areas.items())
    return found


COURT = -0.35
"""Wind pressure coefficient of every wall of a court that the house encloses on all sides, for any wind direction [-]:
about that of the lee side. Common practice, no source."""


def densities(house: House, scenario: Scenario) -> Mapping[str, float]:
    """Density of the air in every room and outdoors.

    Parameters
    ----------
    house, scenario
        The house and its state.

    Returns
    -------
    Mapping
        By place [kg/m3].
    """
    temperatures = {**scenario.temperatures_c, OUTDOORS: scenario.outdoors.temperature_c}
    return {place: _density(temperatures[place], scenario.outdoors.altitude_m) for place in (*house.rooms, OUTDOORS)}


@lru_cache(maxsize=1024)
def _density(temperature_c: float, altitude_m: float) -> float:
    return float(air.density(temperature_c=temperature_c, altitude_m=altitude_m))


def eaves_height_m(house: House) -> float:
    """Height of the highest ceiling above the ground, to which wind pressures refer [m]."""
    return max(room.floor_m + room.ceiling_m for room in house.rooms.values())


def local_wind_speed(house: House, scenario: Scenario, *, height_m: float | None = None) -> float:
    """Wind speed at the house, including shelter.

    Parameters
    ----------
    house, scenario
        The house and its state.
    height_m
        Height above the ground [m]; that of the eaves by default.

    Returns
    -------
    float
        Speed [m/s].
    """
    return _wind_speed_at(scenario.outdoors, eaves_height_m(house) if height_m is None else height_m)


def _wind_speed_at(outdoors: Outdoors, height_m: float) -> float:
    speed = wind.local_wind_speed(
        station_speed_m_s=outdoors.wind.speed_m_s,
        station_height_m=outdoors.wind.height_m,
        station_terrain=outdoors.wind.station_terrain,
        height_m=height_m,
        terrain=outdoors.terrain,
    )
    return float(speed) * outdoors.shelter


def open_country_wind_speed(scenario: Scenario) -> float:
    """Wind speed 10 m above open country, to which correlations on the wind of weather stations refer [m/s]."""
    given = scenario.outdoors.wind
    speed = wind.local_wind_speed(
        station_speed_m_s=given.speed_m_s,
        station_height_m=given.height_m,
        station_terrain=given.station_terrain,
        height_m=10.0,
        terrain="open",
    )
    return float(speed)


def exposure_of(of: tuple[Outline, ...], opening: Opening) -> Exposure:
    """Exposure of the wall of a vertical opening to outdoors; ``of`` are the `outlines` of its house."""
    x, y, z = opening.centre
    return _exposure(of, opening.joins[0], opening.normal, (x, y), z)


def wind_pressures(house: House, scenario: Scenario) -> Mapping[str, float]:
    """Wind pressure outside each opening to outdoors.

    Parameters
    ----------
    house, scenario
        The house and its state.

    Returns
    -------
    Mapping
        By opening name, relative to the still air at the same height [Pa].

    Notes
    -----
    Cp rho U^2 / 2 with U at eaves height, or at the top of a shaft that ends higher. Cp is that of the house file, or
    else from the correlation for walls of low-rise houses or the table for roofs (`ventplan.physics.wind`). A roof
    window without a direction in the file is assumed to lie across the wind, where its coefficient depends least on the
    pitch.
    """
    outdoors = scenario.outdoors
    outside = {name: opening for name, opening in house.openings.items() if opening.is_external}
    if outdoors.wind.speed_m_s <= 0.0 or not outside:
        return dict.fromkeys(outside, 0.0)
    eaves, of = eaves_height_m(house), outlines(house)
    pressures = {}
    for name, opening in outside.items():
        coefficient = opening.wind_pressure
        if coefficient is None:
            coefficient = _opening_coefficient(house, of, opening, outdoors.wind.from_deg)
        pressures[name] = coefficient * _wind_head_pa(outdoors, max(eaves, opening.top_m or eaves))
    return pressures


def wall_leaks(house: House, scenario: Scenario) -> Mapping[str, tuple[tuple[float, float], ...]]:
    """How the leakage of the outside walls of each room is distributed over their directions, and the wind there.

    Parameters
    ----------
    house, scenario
        The house and its state.

    Returns
    -------
    Mapping
        By room that leaks: share of its outside wall [-] and wind pressure [Pa] for each direction of its walls. A room
        that leaks but has no outside wall gets one share without wind.
    """
    wind_from, calm = scenario.outdoors.wind.from_deg, scenario.outdoors.wind.speed_m_s <= 0.0
    leaking = {name: room for name, room in house.rooms.items() if room.leak_m3_s > 0.0}
    if not leaking:
        return {}
    areas, head = _outside_walls(outlines(house)), _wind_head_pa(scenario.outdoors, eaves_height_m(house))
    found: dict[str, tuple[tuple[float, float], ...]] = {}
    for name in leaking:
        total = sum(area for area, _ in areas[name])
        if calm or total <= 0.0:
            found[name] = ((1.0, 0.0),)
            continue
        found[name] = tuple(
            (area / total, head * _wall_coefficient(house.north_deg, wall, wind_from)) for area, wall in areas[name]
        )
    return found


@lru_cache(maxsize=256)
def _wind_head_pa(outdoors: Outdoors, height_m: float) -> float:
    """Dynamic pressure of the wind at a height by the house [Pa]."""
    return float(
        wind.wind_pressure(
            pressure_coefficient=1.0,
            density=air.density(temperature_c=outdoors.temperature_c, altitude_m=outdoors.altitude_m),
            wind_speed_m_s=_wind_speed_at(outdoors, height_m),
        )
    )


def _opening_coefficient(house: House, of: tuple[Outline, ...], opening: Opening, wind_from_deg: float) -> float:
    if opening.kind == "shaft":
        return wind.CHIMNEY_TOP
    if not opening.is_horizontal:
        return _wall_coefficient(house.north_deg, exposure_of(of, opening), wind_from_deg)
    angle = 90.0
    if opening.slope_faces is not None:
        facing = bearing_deg(house.north_deg, opening.slope_faces)
        angle = float(wind.off_normal_angle(wind_from_deg=wind_from_deg, facing_deg=facing))
    pitch = house.roof_pitch_deg if opening.pitch_deg is None else opening.pitch_deg
    return float(wind.roof_pressure_coefficient(wind_angle_deg=angle, pitch_deg=pitch))


@lru_cache(maxsize=4096)
def _wall_coefficient(north_deg: float, wall: Exposure, wind_from_deg: float) -> float:
    if wall.in_court:
        return COURT
    angle = wind.off_normal_angle(wind_from_deg=wind_from_deg, facing_deg=bearing_deg(north_deg, wall.normal))
    return float(wind.wall_pressure_coefficient(wind_angle_deg=float(angle), side_ratio=wall.side_ratio))
