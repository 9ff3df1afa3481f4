"""What a plan is drawn from: areas, lines and notes in metres, each saying what it stands for, and smooth routes.

No plotting here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

from ventplan.house.records import Opening, Point

Rings = tuple[tuple[Point, ...], ...]
Layer = Literal["floor", "below", "stream", "jet", "wall", "opening", "fan"]
LAYERS: tuple[Layer, ...] = ("floor", "below", "stream", "jet", "wall", "opening", "fan")
"""From the lowest up."""

DASHED = (3.0, 2.0)
DOTTED = (1.0, 1.5)


@dataclass(frozen=True)
class Area:
    """A filled shape.

    Attributes
    ----------
    what
        What it stands for, such as ``jet of box fan``.
    rings
        Outline and holes in plan [m].
    colour
        Name of a colour.
    opacity
        1 for solid [-].
    layer
        What it lies among.
    """

    what: str
    rings: Rings
    colour: str
    layer: Layer
    opacity: float = 1.0


@dataclass(frozen=True)
class Line:
    """A line with a width on paper.

    Attributes
    ----------
    what
        What it stands for.
    points
        In plan [m].
    colour
        Name of a colour.
    width_pt
        Width on paper [pt].
    dash
        Lengths of dash and gap in widths; empty for a whole line.
    """

    what: str
    points: tuple[Point, ...]
    colour: str
    layer: Layer
    width_pt: float = 0.6
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Note:
    """Words that belong to a place on the plan.

    Attributes
    ----------
    what
        What they belong to, such as ``opening: hall door``.
    lines
        The first one is a name.
    at
        Where they belong [m].
    prefer
        Unit vector from there to where they would best stand; (0, 0) for right there.
    inside
        A ``shapely`` polygon that they should stay in, or None.
    quiet
        True for words that matter little (a window that is shut).
    near
        True for words that stand by their place in ``inside``, rather than anywhere in it.
    """

    what: str
    lines: tuple[str, ...]
    at: Point
    prefer: Point = (0.0, 0.0)
    inside: Any = None
    quiet: bool = False
    near: bool = False


@dataclass(frozen=True)
class Panel:
    """The plan of one storey.

    Attributes
    ----------
    title
        Its heading; empty for a house of one storey.
    areas, lines, notes
        What is on it.
    walls
        Its walls as a ``shapely`` geometry, which notes keep off.
    """

    title: str
    areas: tuple[Area, ...]
    lines: tuple[Line, ...]
    notes: tuple[Note, ...]
    walls: Any

    def bounds(self) -> tuple[float, float, float, float]:
        """Lowest and highest x and y of what is drawn [m]: x, y, x, y."""
        points = [p for a in self.areas for r in a.rings for p in r] + [p for line in self.lines for p in line.points]
        return (
            min(p[0] for p in points),
            min(p[1] for p in points),
            max(p[0] for p in points),
            max(p[1] for p in points),
        )


@dataclass(frozen=True)
class Frame:
    """An opening's own axes: u from its start to its end, v from the first room to the second.

    Attributes
    ----------
    start, u, v
        Origin [m] and unit vectors.
    width_m
        Clear width [m].
    gap_m
        Thickness of wall left between the two rooms on the plan [m].
    """

    start: Point
    u: Point
    v: Point
    width_m: float
    gap_m: float = 0.0

    def at(self, along_m: float, through_m: float) -> Point:
        """A point of the plan [m]."""
        return (
            self.start[0] + self.u[0] * along_m + self.v[0] * through_m,
            self.start[1] + self.u[1] * along_m + self.v[1] * through_m,
        )

    def box(self, u0: float, u1: float, v0: float, v1: float) -> tuple[Point, ...]:
        """Corners of a rectangle in these axes [m]."""
        return self.at(u0, v0), self.at(u1, v0), self.at(u1, v1), self.at(u0, v1)


def frame_of(opening: Opening, gap_m: float = 0.0) -> Frame:
    """The axes of an opening; for one that lies flat, v runs across its middle line."""
    width = opening.width_m or 1.0
    u = ((opening.end[0] - opening.start[0]) / width, (opening.end[1] - opening.start[1]) / width)
    v = opening.normal if not opening.is_horizontal else (-u[1], u[0])
    return Frame(opening.start, u, v, opening.width_m, gap_m)


def rings_of(shape: Any) -> list[Rings]:
    """The rings of each polygon in a ``shapely`` geometry."""
    parts = getattr(shape, "geoms", [shape])
    return [
        tuple(tuple((float(x), float(y)) for x, y in ring.coords) for ring in (p.exterior, *p.interiors))
        for p in parts
        if p.geom_type == "Polygon" and not p.is_empty
    ]


def centre_of(points: tuple[Point, ...]) -> Point:
    """Mean of some points [m]."""
    return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)


POINTS = 25
STRAIGHT_M = 0.35
"""How far a line runs straight through an opening before it turns [m]."""


def route(
    outline: Any,
    start: Point,
    start_into: Point,
    end: Point,
    end_into: Point,
    *,
    furniture: Any = None,
    half_width_m: float = 0.0,
) -> tuple[Point, ...]:
    """A smooth line from one opening of a room to another (or back to the same one).

    Parameters
    ----------
    outline
        The room as a ``shapely`` polygon.
    start, end
        Ends on the openings [m].
    start_into, end_into
        Unit vectors into the room; (0, 0) where the air comes from above or below.
    furniture
        What stands in the room as a ``shapely`` geometry; the line keeps off it where it can.
    half_width_m
        Half the width of the band that is drawn along the line [m].

    Returns
    -------
    tuple of Point
        In order from start to end [m].
    """
    from shapely import LineString

    distance = math.dist(start, end)
    turning_back = start_into == end_into != (0.0, 0.0) and distance < 0.6
    reach = 1.1 if turning_back else min(max(0.45 * distance, STRAIGHT_M), 2.0)
    aside = (0.0, 0.0)
    if turning_back and distance > 0.0:
        aside = ((end[0] - start[0]) / distance, (end[1] - start[1]) / distance)
    first = _step(_step(start, start_into, reach), aside, -0.5 * reach)
    last = _step(_step(end, end_into, reach), aside, 0.5 * reach)
    curve = _bezier(start, first, last, end)
    if turning_back or _free(LineString(curve), outline, furniture, half_width_m):
        return curve
    bends = (_step(start, start_into, STRAIGHT_M), _step(end, end_into, STRAIGHT_M))
    if furniture is not None:
        around = _around_corners(outline, start, *bends, end, furniture, half_width_m)
        if _free(LineString(around), outline, furniture, 0.0):
            return around
        if _free(LineString(curve), outline, None, half_width_m):
            return curve
    return _around_corners(outline, start, *bends, end, None, half_width_m)


def _step(at: Point, way: Point, length: float) -> Point:
    return at[0] + way[0] * length, at[1] + way[1] * length


def _free(line: Any, outline: Any, furniture: Any, half_width_m: float) -> bool:
    """True where a band along a line stays inside the walls and off the furniture."""
    # The ends lie in the openings, as much as a wall's thickness outside the room, and pass close by their jambs.
    if line.difference(outline.buffer(0.05)).length > 0.6:
        return False
    middle = line.difference(line.boundary.buffer(STRAIGHT_M + half_width_m))
    if middle.difference(outline.buffer(-0.6 * half_width_m)).length > 0.05:
        return False
    return furniture is None or bool(line.distance(furniture) > 0.6 * half_width_m)


def _bezier(p0: Point, p1: Point, p2: Point, p3: Point) -> tuple[Point, ...]:
    points = []
    for i in range(POINTS):
        t = i / (POINTS - 1)
        a, b, c, d = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
        points.append((a * p0[0] + b * p1[0] + c * p2[0] + d * p3[0], a * p0[1] + b * p1[1] + c * p2[1] + d * p3[1]))
    return tuple(points)


def _around_corners(
    outline: Any, start: Point, first: Point, last: Point, end: Point, furniture: Any, half_width_m: float
) -> tuple[Point, ...]:
    """The shortest way inside the room, a little off its corners and its furniture, with its bends cut."""
    import networkx as nx
    from shapely import LineString
    from shapely import Point as Spot

    for inset in (0.4, 0.2, 0.05):
        shrunk = outline.buffer(-inset, join_style="mitre")
        if not shrunk.is_empty and shrunk.geom_type == "Polygon":
            break
    else:
        return start, end
    room = outline.buffer(-0.02)
    corners = [(float(x), float(y)) for x, y in shrunk.exterior.coords[:-1]]
    if furniture is not None:
        room = room.difference(furniture.buffer(half_width_m, join_style="mitre"))
        off = furniture.buffer(half_width_m + 0.12, join_style="mitre")
        ring = [p for part in getattr(off, "geoms", [off]) for p in part.exterior.coords[:-1]]
        corners += [(float(x), float(y)) for x, y in ring if shrunk.buffer(0.3).contains(Spot(x, y))]
    nodes = [first, last, *corners]
    graph = nx.Graph()
    graph.add_nodes_from(range(len(nodes)))
    for i, a in enumerate(nodes):
        for j in range(i):
            line = LineString([a, nodes[j]])
            if line.length > 0.0 and line.difference(room).length < 0.08:
                graph.add_edge(i, j, weight=line.length)
    try:
        steps = nx.shortest_path(graph, 0, 1, weight="weight")
    except nx.NetworkXNoPath:
        steps = [0, 1]
    return _rounded((start, *(nodes[i] for i in steps), end))


def _rounded(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """Cut the corners of a line four times (Chaikin 1974); its ends stay."""
    for _ in range(4):
        cut = [points[0]]
        for (x1, y1), (x2, y2) in pairwise(points):
            cut += [(0.75 * x1 + 0.25 * x2, 0.75 * y1 + 0.25 * y2), (0.25 * x1 + 0.75 * x2, 0.25 * y1 + 0.75 * y2)]
        points = (*cut, points[-1])
    return points
