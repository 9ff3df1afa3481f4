"""Which walls the wind finds: outside walls, the storey they belong to, and courts in its midst.

The wind's correlation knows rectangular houses alone. A wall of an L-shaped storey is therefore given the width of
the whole storey along it and the depth of the whole storey behind it; a wall to a court that is shut in on all
sides is marked, since it sees no wind from anywhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from ventplan.house.geometry import outside_walls_of, shared_walls, walls
from ventplan.house.records import House, Point, Room

Outline = tuple[str, tuple[Point, ...], float, float]
"""A room as far as the wind cares: name, corners, floor and ceiling height [m]."""

RAYS = 36
"""Directions in which a way out of a court is looked for."""
OFF_WALL_M = 0.3
"""Where rays start, off the wall [m]: beyond the thickness that may be left between rooms."""


@dataclass(frozen=True)
class Exposure:
    """How a piece of wall stands to the wind.

    Attributes
    ----------
    normal
        Outward unit vector in plan.
    side_ratio
        Width of the storey along the wall over its depth behind it [-].
    in_court
        True where the house shuts it in on all sides.
    """

    normal: Point
    side_ratio: float
    in_court: bool


def outlines(house: House) -> tuple[Outline, ...]:
    """The rooms of a house as far as the wind cares; two houses with the same share every result here."""
    return tuple((name, room.corners, room.floor_m, room.ceiling_m) for name, room in house.rooms.items())


@lru_cache(maxsize=64)
def _rooms(of: tuple[Outline, ...]) -> dict[str, Room]:
    return {name: Room(name, corners, floor, ceiling) for name, corners, floor, ceiling in of}


@lru_cache(maxsize=1024)
def storey_of(of: tuple[Outline, ...], room: str, level_m: float) -> frozenset[str]:
    """The rooms that form one body with a room at a level.

    Parameters
    ----------
    of
        The house (`outlines`).
    room
        A room.
    level_m
        Height above the ground [m].

    Returns
    -------
    frozenset of str
        The room and all that stand wall to wall with it, however far along the chain, and reach that level.
    """
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
def exposure(of: tuple[Outline, ...], room: str, normal: Point, point: Point, level_m: float) -> Exposure:
    """How a piece of a room's outside wall stands to the wind.

    Parameters
    ----------
    of
        The house (`outlines`).
    room
        The room behind the wall.
    normal
        Outward unit vector in plan.
    point
        A point on the wall [m].
    level_m
        Its height above the ground [m].

    Returns
    -------
    Exposure
        Side ratio from the outline of the storey at that level, and whether it is in a court.
    """
    rooms = _rooms(of)
    storey = [rooms[name] for name in storey_of(of, room, level_m)]
    (nx, ny), corners = normal, [corner for one in storey for corner in one.corners]
    along = [-x * ny + y * nx for x, y in corners]
    across = [x * nx + y * ny for x, y in corners]
    ratio = (max(along) - min(along)) / (max(across) - min(across))
    return Exposure(normal, ratio, _shut_in(storey, normal, point))


def _shut_in(storey: list[Room], normal: Point, point: Point) -> bool:
    """True where every ray from just outside a wall meets the house again."""
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
def outside_wall_shares(of: tuple[Outline, ...]) -> dict[str, tuple[tuple[float, Exposure], ...]]:
    """The outside walls of every room, by the way they face.

    Parameters
    ----------
    of
        The house (`outlines`).

    Returns
    -------
    dict
        By room: area of the walls that face one way [m2], and how they stand to the wind. Empty for a room without
        outside walls.
    """
    rooms = _rooms(of)
    found = {}
    for name, room in rooms.items():
        level = room.floor_m + room.ceiling_m / 2.0
        areas: dict[Exposure, float] = {}
        for wall in outside_walls_of(room, rooms):
            middle = wall.point(wall.length_m / 2.0)
            here = exposure(of, name, (round(wall.normal[0], 6), round(wall.normal[1], 6)), middle, level)
            areas[here] = areas.get(here, 0.0) + wall.length_m * room.ceiling_m
        found[name] = tuple((area, here) for here, area in areas.items())
    return found
