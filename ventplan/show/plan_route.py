"""A smooth line from one opening to another that stays inside a room."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

from ventplan.house.records import Point

POINTS = 25
STRAIGHT_M = 0.35
"""How far a line runs straight through an opening before it turns [m]."""


def route(outline: Any, start: Point, start_into: Point, end: Point, end_into: Point) -> tuple[Point, ...]:
    """A smooth line from one opening of a room to another (or back to the same one).

    Parameters
    ----------
    outline
        The room as a ``shapely`` polygon.
    start, end
        Ends on the openings [m].
    start_into, end_into
        Unit vectors into the room; (0, 0) where the air comes from above or below.

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
    room = outline.buffer(0.05)
    if turning_back or _inside(LineString(curve), room):
        return curve
    return _around_corners(outline, start, _step(start, start_into, STRAIGHT_M), _step(end, end_into, STRAIGHT_M), end)


def _step(at: Point, way: Point, length: float) -> Point:
    return at[0] + way[0] * length, at[1] + way[1] * length


def _inside(line: Any, room: Any) -> bool:
    # The ends lie in the openings, as much as a wall's thickness outside the room.
    return bool(line.difference(room).length <= 0.6)


def _bezier(p0: Point, p1: Point, p2: Point, p3: Point) -> tuple[Point, ...]:
    points = []
    for i in range(POINTS):
        t = i / (POINTS - 1)
        a, b, c, d = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
        points.append((a * p0[0] + b * p1[0] + c * p2[0] + d * p3[0], a * p0[1] + b * p1[1] + c * p2[1] + d * p3[1]))
    return tuple(points)


def _around_corners(outline: Any, start: Point, first: Point, last: Point, end: Point) -> tuple[Point, ...]:
    """The shortest way inside the room, a little off its corners, with its bends cut."""
    import networkx as nx
    from shapely import LineString

    for inset in (0.4, 0.2, 0.05):
        shrunk = outline.buffer(-inset, join_style="mitre")
        if not shrunk.is_empty and shrunk.geom_type == "Polygon":
            break
    else:
        return start, end
    room = outline.buffer(-0.02)
    corners = [(float(x), float(y)) for x, y in shrunk.exterior.coords[:-1]]
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
