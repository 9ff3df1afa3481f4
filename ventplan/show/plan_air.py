"""The air of a storey as bands whose width is the flow, from opening to opening.

In every room each stream that enters is shared among those that leave in proportion to them, as in the mixed room
that the solver assumes. Bands lie side by side in an opening, so that their widths add up to its flow.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from ventplan.house.geometry import free_rectangle, polygon
from ventplan.house.records import OUTDOORS, House, Opening, Point, Scenario
from ventplan.network.flow import Flow
from ventplan.show.plan_shapes import Area, frame_of, rings_of
from ventplan.show.plan_storeys import Storey, within_walls

WIDEST_M = 0.42
"""Width on the plan of the strongest stream of the house [m]."""
LEAST_STREAM_SHARE = 0.03
"""Streams below this share of the strongest are left out [-]."""
STILL_M3_S = 0.01
"""Streams below this are left out too: less than the outdoor air that one person needs, and about what the cracks of a
shut house pass [m3/s] (common practice, no source)."""
OUTDOORS_M = 0.8
"""How far outdoors a band begins or ends [m]."""
OPACITY = 0.42
APART_M = 0.10
"""Distance between the two streams of an opening where air goes both ways [m]."""


@dataclass(frozen=True)
class Port:
    """Where one stream enters or leaves a room."""

    opening: str  # name of the opening; empty for air to or from another floor
    at: Point  # middle of the stream in plan [m]
    into: Point  # unit vector into the room; (0, 0) where it comes from above or below
    along: Point  # unit vector along the opening
    flow_m3_s: float  # volume flow [m3/s]
    enters: bool  # true where the air enters the room


@dataclass(frozen=True)
class Stream:
    """One band of air."""

    # names of the openings, or ``outdoors``; empty for another floor
    start: str
    end: str
    place: str  # the room it crosses, or outdoors
    points: tuple[Point, ...]  # its middle line [m]
    flow_m3_s: float  # volume flow [m3/s]
    width_m: float  # its width on the plan [m]


def width_per_flow(house: House, scenario: Scenario, flow: Flow) -> float:
    """Width on the plan of one m3/s [m/(m3/s)]: the strongest stream is `WIDEST_M` wide, and all fit their openings."""
    widest = math.inf
    for name, air in flow.openings.items():
        total = air.forward_m3_s + air.backward_m3_s
        if total <= 0.0:
            continue
        widest = min(widest, WIDEST_M / total)
        opening = house.openings[name]
        if scenario.shares[name] > 0.0 and not opening.is_horizontal and total > least_stream(flow):
            free = free_rectangle(opening, scenario.shares[name]).width_m
            widest = min(widest, 0.95 * max(free, 0.3) / total)
    return widest if math.isfinite(widest) else 0.0


def least_stream(flow: Flow) -> float:
    """The weakest stream that gets a band [m3/s]."""
    strongest = max((max(o.forward_m3_s, o.backward_m3_s) for o in flow.openings.values()), default=0.0)
    return max(LEAST_STREAM_SHARE * strongest, STILL_M3_S)


def is_still(flow: Flow) -> bool:
    """True where no opening has a stream that gets a band."""
    least = least_stream(flow)
    return all(max(o.forward_m3_s, o.backward_m3_s) <= least for o in flow.openings.values())


def _ports(house: House, scenario: Scenario, flow: Flow, opening: Opening, place: str, scale: float) -> list[Port]:
    """The streams of an opening that enter or leave a place."""
    air = flow.openings.get(opening.name)
    if air is None:
        return []
    least = least_stream(flow)
    frame, share = frame_of(opening), scenario.shares[opening.name]
    free = free_rectangle(opening, share) if share > 0.0 else None
    x, y = (free.x, free.y) if free is not None else opening.centre[:2]
    sign = 1.0 if opening.joins[1] == place else -1.0
    into = (opening.normal[0] * sign, opening.normal[1] * sign)
    amounts = [(q, end) for q, end in ((air.forward_m3_s, 1), (air.backward_m3_s, 0)) if q > least]
    position = -0.5 * (scale * sum(q for q, _ in amounts) + APART_M * (len(amounts) - 1))
    ports = []
    for amount, end in amounts:
        middle = position + 0.5 * scale * amount
        position += scale * amount + APART_M
        if amount > least:
            at = (x + frame.u[0] * middle, y + frame.u[1] * middle)
            ports.append(Port(opening.name, at, into, frame.u, amount, opening.joins[end] == place))
    return ports


def streams_of(house: House, scenario: Scenario, flow: Flow, storey: Storey) -> tuple[Stream, ...]:
    """The bands of air on a storey."""
    scale = width_per_flow(house, scenario, flow)
    streams: list[Stream] = []
    for name in storey.all_rooms:
        ports = [
            port
            for opening in house.openings.values()
            if name in opening.joins and storey.shows(opening, name)
            for port in _ports(house, scenario, flow, opening, name, scale)
        ]
        ports += _other_floor(house, ports, name, storey, least=least_stream(flow))
        streams += _through_room(house, ports, name, scale, least_stream(flow))
    for name in storey.openings:
        opening = house.openings[name]
        if opening.is_external and not opening.is_horizontal:
            streams += [_outdoors(p, scale) for p in _ports(house, scenario, flow, opening, OUTDOORS, scale)]
    return tuple(streams)


def _other_floor(house: House, ports: list[Port], room: str, storey: Storey, *, least: float) -> list[Port]:
    """Flow up or down inside a room that is on two storeys: what its openings here do not balance."""
    tall = room in storey.passing or any(
        room in o.joins and o.name not in storey.openings and not o.is_horizontal for o in house.openings.values()
    )
    surplus = sum(p.flow_m3_s * (1.0 if p.enters else -1.0) for p in ports)
    if not tall or abs(surplus) <= least:
        return []
    taken = [p.at for p in ports]
    taken += [o.centre[:2] for o in house.openings.values() if o.is_horizontal and room in o.joins]
    return [Port("", _free_spot(house, room, taken), (0.0, 0.0), (1.0, 0.0), abs(surplus), surplus < 0.0)]


def _free_spot(house: House, room: str, taken: list[Point]) -> Point:
    """The point of a room that is farthest from its walls and from other points [m]."""
    from shapely import Point as Spot

    outline = polygon(house.rooms[room].corners)
    left, low, right, high = outline.bounds
    steps = [i / 20.0 for i in range(1, 20)]
    grid = [(left + (right - left) * i, low + (high - low) * j) for i in steps for j in steps]

    def room_left(at: Point) -> float:
        spot = Spot(at)
        if not outline.contains(spot):
            return -1.0
        return min(float(outline.exterior.distance(spot)) * 1.5, *(math.dist(at, other) for other in taken), 9.0)

    return max(grid, key=room_left)


def _through_room(house: House, ports: list[Port], room: str, scale: float, least: float) -> list[Stream]:
    outline = polygon(house.rooms[room].corners)
    furniture = _furniture(house, room)
    entering = [p for p in ports if p.enters]
    leaving = [p for p in ports if not p.enters]
    total = max(sum(p.flow_m3_s for p in entering), sum(p.flow_m3_s for p in leaving))
    pairs = {
        (i, j): a.flow_m3_s * b.flow_m3_s / total
        for i, a in enumerate(entering)
        for j, b in enumerate(leaving)
        if a.flow_m3_s * b.flow_m3_s / total > 0.6 * least
    }
    starts = {
        i: _side_by_side(a, {j: (leaving[j], q) for (k, j), q in pairs.items() if k == i}, scale)
        for i, a in enumerate(entering)
    }
    ends = {
        j: _side_by_side(b, {i: (entering[i], q) for (i, k), q in pairs.items() if k == j}, scale)
        for j, b in enumerate(leaving)
    }
    streams = []
    for (i, j), amount in pairs.items():
        a, b = entering[i], leaving[j]
        points = route(
            outline, starts[i][j], a.into, ends[j][i], b.into, furniture=furniture, half_width_m=0.5 * scale * amount
        )
        streams.append(Stream(a.opening, b.opening, room, points, amount, scale * amount))
    return streams


def _furniture(house: House, room: str) -> Any:
    """What stands in a room, as one geometry; None where there is nothing."""
    from shapely import Polygon, unary_union

    found = [Polygon(o.corners) for o in house.obstacles.values() if o.room == room]
    return unary_union(found) if found else None


def _side_by_side(port: Port, others: Mapping[int, tuple[Port, float]], scale: float) -> dict[int, Point]:
    """Where each part of a stream passes its opening, in the order of their destinations."""
    ux, uy = port.along

    def toward(item: tuple[int, tuple[Port, float]]) -> float:
        other = item[1][0]
        return (other.at[0] - port.at[0]) * ux + (other.at[1] - port.at[1]) * uy

    position = -0.5 * scale * sum(q for _, q in others.values())
    spots = {}
    for key, (_, amount) in sorted(others.items(), key=toward):
        middle = position + 0.5 * scale * amount
        position += scale * amount
        spots[key] = (port.at[0] + ux * middle, port.at[1] + uy * middle)
    return spots


def _outdoors(port: Port, scale: float) -> Stream:
    """The piece of a band outside the house; ``into`` points outdoors."""
    far = (port.at[0] + port.into[0] * OUTDOORS_M, port.at[1] + port.into[1] * OUTDOORS_M)
    points = (port.at, far) if port.enters else (far, port.at)
    names = (port.opening, OUTDOORS) if port.enters else (OUTDOORS, port.opening)
    return Stream(*names, OUTDOORS, points, port.flow_m3_s, scale * port.flow_m3_s)


def stream_shapes(house: House, stream: Stream) -> list[Area]:
    """A band with the head of an arrow, at its end outdoors, else in its middle; cut off at the walls of its room."""
    from shapely import LineString

    line = LineString(stream.points)
    leaves = stream.end == OUTDOORS
    head = max(0.30, 1.1 * stream.width_m)
    half = max(0.11, 0.5 * stream.width_m + 0.06)
    if line.length < 0.05:
        return []
    head = min(head, 0.6 * line.length)
    tip = line.length if leaves else min(0.5 * line.length + 0.5 * head, line.length)
    band = line
    if leaves:
        band = LineString([stream.points[0], line.interpolate(line.length - 0.7 * head).coords[0]])
    what = f"air from {stream.start or 'another floor'} to {stream.end or 'another floor'}"
    body = band.buffer(stream.width_m / 2.0, cap_style="flat", join_style="round")
    if stream.place != OUTDOORS:
        body = body.intersection(within_walls((house.rooms[stream.place].corners,)))
    areas = [Area(what, rings, "air", "stream", OPACITY) for rings in rings_of(body)]
    end, base = line.interpolate(tip), line.interpolate(tip - head)
    dx, dy = end.x - base.x, end.y - base.y
    length = math.hypot(dx, dy) or 1.0
    px, py = -dy / length * half, dx / length * half
    corners = ((base.x + px, base.y + py), (end.x, end.y), (base.x - px, base.y - py), (base.x + px, base.y + py))
    areas.append(Area(f"arrow of {what}", (corners,), "air", "stream", 0.95))
    return areas


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
    """True if a band along a line stays inside the walls and off the furniture."""
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
    """The shortest line inside the room, a little off corners and furniture, with rounded bends."""
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
