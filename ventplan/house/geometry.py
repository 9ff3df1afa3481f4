"""The plan: walls, shared walls, what is outside, and where a fan can stand. Plain numbers and ``shapely``.

A wall is one edge of a room's outline. Along a wall, distance counts from its left end as the plan is drawn, or from
its lower end where it runs straight up the plan. Two rooms share a wall where edges face each other at most
``WALL_M`` apart: thickness may be left between rooms or not.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ventplan.house.records import OUTDOORS, House, Opening, Point, Room

WALL_M = 0.25
"""Greatest distance between two rooms that still share a wall: the wall's thickness [m]."""
SLACK_M = 0.011
"""Play in positions, so that figures rounded to a centimetre agree [m]."""
PLAN_BEARINGS = {
    "north": 0.0, "north-east": 45.0, "east": 90.0, "south-east": 135.0,
    "south": 180.0, "south-west": 225.0, "west": 270.0, "north-west": 315.0,
}  # fmt: skip


@dataclass(frozen=True)
class Wall:
    """A straight piece of a room's outline, or of a wall that two rooms share.

    Attributes
    ----------
    start, end
        Its ends [m]; ``start`` is the left one, or the lower one of a wall straight up the plan.
    normal
        Unit vector out of the room.
    edge
        Number of the edge, counted from 1 in the order of the file's corners.
    """

    room: str
    edge: int
    start: Point
    end: Point
    normal: Point

    @property
    def length_m(self) -> float:
        """Length [m]."""
        return math.dist(self.start, self.end)

    @property
    def direction(self) -> Point:
        """Unit vector from start to end."""
        length = self.length_m or 1.0
        return (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length

    def point(self, along_m: float) -> Point:
        """The point so far along the wall [m]."""
        (x, y), (dx, dy) = self.start, self.direction
        return x + dx * along_m, y + dy * along_m

    def along(self, point: Point) -> float:
        """How far along the wall a point lies [m]."""
        (x, y), (dx, dy) = self.start, self.direction
        return (point[0] - x) * dx + (point[1] - y) * dy

    def piece(self, low_m: float, high_m: float) -> Wall:
        """The part of the wall between two distances [m]."""
        return Wall(self.room, self.edge, self.point(low_m), self.point(high_m), self.normal)

    @property
    def faces(self) -> str:
        """The word of the plan nearest to where it faces."""
        return plan_word(self.normal)

    def __str__(self) -> str:
        (x1, y1), (x2, y2) = self.start, self.end
        return f"{self.length_m:.2f} m from ({x1:.2f}, {y1:.2f}) to ({x2:.2f}, {y2:.2f}), facing {self.faces}"


def plan_word(normal: Point) -> str:
    """The word of the plan (north is its top) nearest to a direction."""
    angle = math.degrees(math.atan2(normal[0], normal[1])) % 360.0
    return min(PLAN_BEARINGS, key=lambda word: abs((angle - PLAN_BEARINGS[word] + 180.0) % 360.0 - 180.0))


def counter_clockwise(corners: Iterable[Point]) -> tuple[Point, ...]:
    """The outline counter-clockwise, starting at the same corner."""
    points = tuple(corners)
    if signed_area_m2(points) >= 0.0:
        return points
    return (points[0], *reversed(points[1:]))


def signed_area_m2(corners: tuple[Point, ...]) -> float:
    """Area by the shoelace formula, positive counter-clockwise [m2]."""
    pairs = zip(corners, corners[1:] + corners[:1], strict=True)
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs) / 2.0


def polygon(corners: Iterable[Point]) -> Any:
    """A ``shapely`` polygon of an outline."""
    from shapely import Polygon

    return Polygon(list(corners))


def point(at: Point) -> Any:
    """A ``shapely`` point of the plan."""
    from shapely import Point as Spot

    return Spot(at)


def room_polygon(house: House, room: str) -> Any:
    """The outline of a room as a ``shapely`` polygon."""
    return polygon(house.rooms[room].corners)


@lru_cache(maxsize=2048)
def walls(room: Room) -> tuple[Wall, ...]:
    """The walls of a room, in the order of its corners."""
    return tuple(
        wall_between(room.name, i, a, b)
        for i, (a, b) in enumerate(zip(room.corners, room.corners[1:] + room.corners[:1], strict=True), 1)
    )


def wall_between(room: str, edge: int, a: Point, b: Point) -> Wall:
    """The wall of a counter-clockwise edge: the room lies to its left, so the normal points to its right."""
    length = math.dist(a, b) or 1.0
    normal = ((b[1] - a[1]) / length, -(b[0] - a[0]) / length)
    normal = (normal[0] + 0.0, normal[1] + 0.0)
    flip = b[1] < a[1] if abs(b[0] - a[0]) <= 1e-3 * length else b[0] < a[0]
    return Wall(room, edge, b, a, normal) if flip else Wall(room, edge, a, b, normal)


def close_pairs(shapes: Sequence[Any], distance_m: float) -> Iterator[tuple[int, int]]:
    """Which ``shapely`` shapes come within a distance of one another: pairs of positions in order, the later first."""
    from shapely import STRtree

    tree = STRtree(shapes)
    for one, shape in enumerate(shapes):
        yield from ((one, other) for other in sorted(tree.query(shape, "dwithin", distance_m).tolist()) if other < one)


def neighbours(rooms: Mapping[str, Room]) -> dict[str, dict[str, Room]]:
    """For each room, those whose outline comes within a wall's thickness of it, itself among them, in file order."""
    names = list(rooms)
    near = {name: [i] for i, name in enumerate(names)}
    for one, other in close_pairs([polygon(room.corners).envelope for room in rooms.values()], WALL_M + 0.05):
        near[names[one]].append(other)
        near[names[other]].append(one)
    return {name: {names[i]: rooms[names[i]] for i in sorted(found)} for name, found in near.items()}


def overlap_height_m(first: Room, second: Room) -> float:
    """Height over which two rooms stand beside each other [m]; not above 0 when one is over the other."""
    top = min(first.floor_m + first.ceiling_m, second.floor_m + second.ceiling_m)
    return top - max(first.floor_m, second.floor_m)


def come_near(first: Room, second: Room) -> bool:
    """False for two rooms so far apart in plan that they share no wall."""
    return all(
        low <= other_high + 2.0 * WALL_M and other_low <= high + 2.0 * WALL_M
        for (low, high), (other_low, other_high) in zip(first.extent, second.extent, strict=True)
    )


def facing_span(wall: Wall, other: Wall) -> tuple[float, float] | None:
    """The part of a wall, as distances along it [m], that another room's wall faces within ``WALL_M``."""
    (nx, ny), (mx, my) = wall.normal, other.normal
    if nx * mx + ny * my > -0.999:
        return None
    gap = (other.start[0] - wall.start[0]) * nx + (other.start[1] - wall.start[1]) * ny
    if not -0.03 <= gap <= WALL_M + 1e-6:
        return None
    ends = sorted((wall.along(other.start), wall.along(other.end)))
    low, high = max(0.0, ends[0]), min(wall.length_m, ends[1])
    return (low, high) if high - low > 0.05 else None


@lru_cache(maxsize=8192)
def shared_walls(first: Room, second: Room) -> tuple[Wall, ...]:
    """The walls that two rooms share, as pieces of the first room's walls, normals into the second.

    Pieces of one edge that touch are one.
    """
    if overlap_height_m(first, second) <= 0.05 or not come_near(first, second):
        return ()
    pieces: list[Wall] = []
    for wall in walls(first):
        spans: list[tuple[float, float]] = []
        for low, high in sorted(span for other in walls(second) if (span := facing_span(wall, other))):
            if spans and low - spans[-1][1] < 0.02:
                spans[-1] = (spans[-1][0], max(high, spans[-1][1]))
            else:
                spans.append((low, high))
        pieces += [wall.piece(*span) for span in spans]
    return tuple(pieces)


def covered_spans(
    wall: Wall, rooms: Mapping[str, Room], *, low_m: float, high_m: float
) -> tuple[tuple[str, float, float], ...]:
    """Which rooms stand right behind a wall between two heights, and over which part of it [m]."""
    return tuple(
        (other.name, *span)
        for other in rooms.values()
        if other.name != wall.room and min(high_m, other.floor_m + other.ceiling_m) - max(low_m, other.floor_m) > 0.05
        for far in walls(other)
        if (span := facing_span(wall, far))
    )


def free_pieces(wall: Wall, covered: Iterable[tuple[str, float, float]]) -> tuple[Wall, ...]:
    """What is left of a wall outside the covered parts."""
    pieces, position = [], 0.0
    for _, low, high in sorted(covered, key=lambda span: span[1]):
        if low - position > 0.05:
            pieces.append(wall.piece(position, low))
        position = max(position, high)
    if wall.length_m - position > 0.05:
        pieces.append(wall.piece(position, wall.length_m))
    return tuple(pieces)


def outside_walls_of(room: Room, rooms: Mapping[str, Room]) -> tuple[Wall, ...]:
    """The pieces of a room's walls that face outdoors."""
    top = room.floor_m + room.ceiling_m
    return tuple(
        piece
        for wall in walls(room)
        for piece in free_pieces(wall, covered_spans(wall, rooms, low_m=room.floor_m, high_m=top))
    )


def bearing_deg(north_deg: float, normal: Point) -> float:
    """Compass bearing of a direction on a plan whose top has the bearing ``north_deg`` [deg]."""
    return (math.degrees(math.atan2(normal[0], normal[1])) + north_deg) % 360.0


def storeys(house: House) -> tuple[float, ...]:
    """Floor levels from the lowest up [m], those within 0.6 m of each other as one."""
    levels: list[float] = []
    for floor in sorted({r.floor_m for r in house.rooms.values()}):
        if not levels or floor - levels[-1] > 0.6:
            levels.append(floor)
    return tuple(levels)


def obstacles_in(house: House, room: str, above_m: float = 0.0) -> list[Any]:
    """Outlines of a room's obstacles taller than ``above_m``, as ``shapely`` polygons."""
    return [polygon(o.corners) for o in house.obstacles.values() if o.room == room and o.height_m > above_m]


def setback_limit_m(
    house: House,
    room: str,
    opening: Opening,
    free: FreeRectangle,
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
    free
        Its free part, from whose middle the fan stands back.
    aside_m
        Sideways distance of the fan from there, positive towards ``end`` [m].
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
    (nx, ny), (tx, ty) = normal_from(opening, room), tangent_of(opening)
    dx, dy, x, y = -nx, -ny, free.x, free.y
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


@dataclass(frozen=True)
class FreeRectangle:
    """The free part of an opening's frame.

    Attributes
    ----------
    x, y, z
        Its middle [m].
    width_m, height_m
        Its sides [m].
    """

    x: float
    y: float
    z: float
    width_m: float
    height_m: float

    @property
    def area_m2(self) -> float:
        """Free area [m2]."""
        return self.width_m * self.height_m


def free_rectangle(opening: Opening, share: float) -> FreeRectangle:
    """The free part of an opening that is open by a share of its frame.

    Parameters
    ----------
    opening
        The opening.
    share
        Free share of the frame's area [-], 0 to 1. The free part begins at the side that ``opening.opens`` names.

    Returns
    -------
    FreeRectangle
        Middle and sides [m].
    """
    (x1, y1), (x2, y2) = opening.start, opening.end
    across = share if opening.free_along == "width" else 1.0
    up = share if opening.free_along == "height" else 1.0
    height = opening.height_m * up
    rise = 0.0 if opening.is_horizontal else opening.height_m - height / 2.0 if opening.opens == "top" else height / 2.0
    middle = 1.0 - across / 2.0 if opening.opens == "end" else across / 2.0
    return FreeRectangle(
        x=x1 + (x2 - x1) * middle,
        y=y1 + (y2 - y1) * middle,
        z=opening.bottom_m + rise,
        width_m=opening.width_m * across,
        height_m=height,
    )


def normal_from(opening: Opening, place: str) -> Point:
    """Unit vector in plan that points from ``place`` through the opening."""
    sign = 1.0 if opening.joins[0] == place else -1.0
    return sign * opening.normal[0], sign * opening.normal[1]


def tangent_of(opening: Opening) -> Point:
    """Unit vector in plan from the start of an opening's frame to its end."""
    (x1, y1), (x2, y2) = opening.start, opening.end
    length = opening.width_m
    return (x2 - x1) / length, (y2 - y1) / length


def rise_per_m(house: House, opening: Opening) -> float:
    """How much an opening rises for each metre of its height [-]: 1 upright, 0 lying, the sine of a roof's pitch."""
    if not opening.is_horizontal:
        return 1.0
    if opening.kind != "roof window":
        return 0.0
    return math.sin(math.radians(house.roof_pitch_deg if opening.pitch_deg is None else opening.pitch_deg))


def opening_sides(opening: Opening, free: FreeRectangle) -> tuple[float, float]:
    """Sides of the free part across and along the way it rises [m]; a roof may rise along the width of the frame."""
    down = opening.slope_faces
    along_width = down is not None and abs(down[0]) > abs(down[1])
    return (free.height_m, free.width_m) if along_width else (free.width_m, free.height_m)
