"""Where a fan can stand in a room, and what its jet meets on the way."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.house.geometry import WALL_M, polygon, room_polygon
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Point


def obstacles_in(house: House, room: str, above_m: float = 0.0) -> list[Any]:
    """Outlines of a room's obstacles taller than ``above_m``, as ``shapely`` polygons."""
    return [polygon(o.corners) for o in house.obstacles.values() if o.room == room and o.height_m > above_m]


def into_room(opening: Opening, room: str) -> Point:
    """Unit vector from the opening into a room (or outdoors) that it joins."""
    nx, ny = opening.normal
    return (nx, ny) if opening.joins[1] == room else (-nx, -ny)


def along_frame(opening: Opening) -> Point:
    """Unit vector from the opening's start to its end."""
    width = opening.width_m or 1.0
    return (opening.end[0] - opening.start[0]) / width, (opening.end[1] - opening.start[1]) / width


def standing_point(opening: Opening, room: str, setback_m: float, aside_m: float = 0.0) -> Point:
    """Where a fan stands in plan: straight back from the opening's middle, and aside towards its end [m]."""
    x, y, _ = opening.centre
    (dx, dy), (tx, ty) = into_room(opening, room), along_frame(opening)
    return x + dx * setback_m + tx * aside_m, y + dy * setback_m + ty * aside_m


def axis_height_m(house: House, placement: Placement) -> float:
    """Height of a fan's axis above the floor it stands on [m]: as given, or the opening's middle within its reach."""
    if placement.height_m is not None:
        return placement.height_m
    opening, fan = house.openings[placement.opening], house.fans[placement.fan]
    floor = house.rooms[placement.stands_in].floor_m if placement.stands_in in house.rooms else 0.0
    return min(max(opening.centre[2] - floor, fan.lowest_m), fan.highest_m)


def can_stand(
    house: House, room: str, points: ArrayLike, clearance_m: ArrayLike, above_m: float = 0.0
) -> NDArray[np.bool_]:
    """True where a fan of that radius is inside the room's outline and clear of its obstacles.

    Parameters
    ----------
    house, room
        The house, and the room or outdoors.
    points
        Plan positions [m], shape (..., 2).
    clearance_m
        Distance to keep from walls and obstacles [m], shape (...) or one for all.
    above_m
        Obstacles up to this height do not count [m].

    Returns
    -------
    ndarray
        Shape (...).
    """
    import shapely

    spots = shapely.points(np.asarray(points, dtype=float))
    keep = np.asarray(clearance_m, dtype=float) - 1e-9
    if room == OUTDOORS:
        solids = [polygon(r.corners) for r in house.rooms.values()]
        inside = np.ones(np.shape(spots), dtype=bool)
    else:
        outline = room_polygon(house, room)
        solids = obstacles_in(house, room, above_m)
        inside = shapely.covers(outline, spots) & (shapely.distance(outline.exterior, spots) >= keep)
    for solid in solids:
        inside = inside & (shapely.distance(solid, spots) >= keep)
    return np.asarray(inside)


def line_is_clear(
    house: House, room: str, starts: ArrayLike, end: Point, height_m: float, radius_m: float
) -> NDArray[np.bool_]:
    """True where a straight line stays in the room and meets no obstacle taller than ``height_m - radius_m``.

    Parameters
    ----------
    house, room
        The house, and the room or outdoors.
    starts
        Where the lines start in plan [m], shape (..., 2).
    end
        Where they end in plan [m], shape (2,).
    height_m, radius_m
        Height of the line above the floor, and half-width of what moves along it [m].

    Returns
    -------
    ndarray
        Shape (...).
    """
    import shapely

    from_points = np.asarray(starts, dtype=float)
    lines = shapely.linestrings(np.stack([from_points, np.broadcast_to(end, from_points.shape)], axis=-2))
    clear = np.ones(from_points.shape[:-1], dtype=bool)
    if room != OUTDOORS:
        # An opening's line may lie beyond the room by a wall's thickness.
        beyond = shapely.length(shapely.difference(lines, room_polygon(house, room).buffer(0.02)))
        clear = beyond <= WALL_M + 0.05
    for shape in obstacles_in(house, room, height_m - radius_m):
        clear = clear & ~shapely.intersects(shape, lines)
    return np.asarray(clear)


def setback_limit_m(
    house: House,
    room: str,
    opening: Opening,
    aside_m: float = 0.0,
    *,
    radius_m: float = 0.0,
    past_obstacles: bool = False,
) -> float:
    """How far straight back from an opening a fan can stand before a wall or an obstacle [m].

    Parameters
    ----------
    house
        The house.
    room
        The room that the fan stands in, or outdoors.
    opening
        The opening.
    aside_m
        Sideways distance of the fan from the opening's middle line, positive towards ``end`` [m].
    radius_m
        Half the width of the fan [m]; a strip of this width to each side must be free.
    past_obstacles
        True to stop at walls alone.

    Returns
    -------
    float
        Distance to the nearest thing behind [m], the fan's own depth not taken off; 0 where the strip is blocked
        at once, infinite outdoors.

    Raises
    ------
    ValueError
        For an opening in a roof or floor.
    """
    from shapely import Point as Spot
    from shapely import Polygon

    if room == OUTDOORS:
        return math.inf
    if opening.is_horizontal:
        raise ValueError(f"{opening.name} lies flat: a fan cannot stand back from it")
    (dx, dy), (tx, ty) = into_room(opening, room), along_frame(opening)
    x, y, _ = opening.centre
    outline = room_polygon(house, room)
    near = 0.03 + outline.distance(Spot(x, y))  # the room may begin beyond a wall's thickness
    half, far = max(radius_m - 0.005, 0.005), 400.0
    x, y = x + tx * aside_m, y + ty * aside_m
    corners = ((near, -half), (far, -half), (far, half), (near, half))
    strip = Polygon([(x + dx * s + tx * t, y + dy * s + ty * t) for s, t in corners])
    blocked = [strip.difference(outline.buffer(0.02, join_style="mitre"))]
    if not past_obstacles:
        blocked += [strip.intersection(shape) for shape in obstacles_in(house, room)]
    nearest = far
    for shape in blocked:
        for part in getattr(shape, "geoms", [shape]):
            if part.geom_type == "Polygon" and not part.is_empty:
                nearest = min(nearest, *((px - x) * dx + (py - y) * dy for px, py in part.exterior.coords))
    return 0.0 if nearest < near + 0.02 else nearest - 0.02 if nearest < far else far
