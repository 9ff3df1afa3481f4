"""Fans as they stand, each jet as it widens, to scale, and the marks where air comes from or goes to another level.

Jets are drawn from the same figures that the solver used.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from math import cos, pi, sin
from typing import Any

from ventplan.house.fan_pose import fan_pose
from ventplan.house.geometry import free_rectangle
from ventplan.house.records import OUTDOORS, House, Placement, Point, Scenario
from ventplan.network.answer import solve_arrays
from ventplan.network.jets import JetAtOpening, Ray, fan_of, path_to, ray_of
from ventplan.network.weather import densities
from ventplan.physics.jet_path import axis_speed, edge_ratio, jet_at_plane
from ventplan.show.plan_air import Stream
from ventplan.show.plan_shapes import Area, Line, rings_of
from ventplan.show.plan_storeys import within_walls

SLICES = 24
"""Cross-sections in which a jet is drawn."""
LAYERS = 8
"""Layers in which a jet is drawn, each from the fan to a greater distance."""
STRONGEST, FAINTEST = 0.62, 0.10
"""Opacity of a jet where it is fastest, and of air at rest [-]."""
BODY_M = 0.16
"""Depth of a fan on the plan [m]."""


@dataclass(frozen=True)
class Jet:
    """A jet up to an opening."""

    fan: str  # name of the fan it came from; empty where several do
    opening: str  # the opening that it reaches
    place: str  # the room it passes, or outdoors
    after: str  # the opening it passed before, or empty
    setbacks_m: tuple[float, ...]  # distances that are left to the opening's plane, falling to 0 [m], shape (n,)
    # its edges and its axis in plan at those distances [m], each of shape (n, 2)
    low: tuple[Point, ...]
    high: tuple[Point, ...]
    axis: tuple[Point, ...]
    speeds_m_s: tuple[float, ...]  # speed on its axis there [m/s], shape (n,)
    # the ends of its edges beyond the plane, so that a turned jet too is drawn up to the wall [m]
    tail: tuple[Point, Point]


def jets_of(house: House, scenario: Scenario) -> tuple[Jet, ...]:
    """The jets of a solved state, each from its fan to its opening."""
    if not any(not p.sealed for p in scenario.placements):
        return ()
    density = densities(house, scenario)
    jets = []
    for found in solve_arrays(house, scenario)[0].jets:
        fan = _fan_of(house, scenario, found)
        jet = _jet(house, scenario, found.ray, found.opening, found.after, fan, density[found.stands_in])
        if jet is not None:
            jets.append(jet)
    return tuple(_without_doubles(jets))


def own_jet(house: House, scenario: Scenario, placement: Placement, density: float, slices: int = SLICES) -> Jet | None:
    """The jet of a fan up to its own opening, without another solution; None if it does not reach the opening."""
    opening = house.openings[placement.opening]
    share = scenario.shares[opening.name]
    if placement.sealed or opening.is_horizontal or share <= 0.0:
        return None
    ray = ray_of(house, placement, share, density)
    return _jet(house, scenario, ray, opening.name, "", placement.fan, density, slices)


def _jet(
    house: House,
    scenario: Scenario,
    ray: Ray,
    opening_name: str,
    after: str,
    fan: str,
    density: float,
    slices: int = SLICES,
) -> Jet | None:
    opening = house.openings[opening_name]
    free = free_rectangle(opening, scenario.shares[opening_name])
    path = path_to(house.rooms.get(ray.place), ray, opening, free)
    if path is None:
        return None
    level = math.hypot(ray.dx, ray.dy)
    way = (ray.dx / level, ray.dy / level)
    turn = math.atan(path.y_slope)
    rows = []
    for i in range(slices + 1):
        travelled = path.setback_m * i / slices
        there = jet_at_plane(source=ray.source, path=replace(path, setback_m=travelled), closed=not after)
        # The plane cuts a turned jet askew; its edges are drawn square to its axis, so that its base is at the blades.
        ahead = travelled / math.cos(turn)
        edge = max(edge_ratio(spread=ray.source.spread) * there.y_half_width_m, ray.source.radius_m)
        low, high = _across(ray.x, ray.y, way, ahead, edge)
        axis = (ray.x + way[0] * ahead, ray.y + way[1] * ahead)
        rows.append((path.setback_m - travelled, low, high, axis, axis_speed(jet=there, density=density)))
    beyond = path.setback_m / math.cos(turn) + edge * abs(math.tan(turn))
    tail = _across(ray.x, ray.y, way, beyond, edge)
    left_m, low_edge, high_edge, axes, speeds = zip(*rows, strict=True)
    return Jet(fan, opening_name, ray.place, after, left_m, low_edge, high_edge, axes, speeds, tail)


def _across(x: float, y: float, way: Point, ahead: float, aside: float) -> tuple[Point, Point]:
    """Two points ahead of a place, to the right and to the left of an axis."""
    at = (x + way[0] * ahead, y + way[1] * ahead)
    return (at[0] + way[1] * aside, at[1] - way[0] * aside), (at[0] - way[1] * aside, at[1] + way[0] * aside)


def _fan_of(house: House, scenario: Scenario, jet: JetAtOpening) -> str:
    """Name of the fan of a jet: the fan that stands where the ray begins."""
    if jet.after:
        return ""
    for placement in scenario.placements:
        if placement.sealed or placement.stands_in != jet.stands_in:
            continue
        x, y = fan_spot(house, scenario, placement)
        if math.hypot(x - jet.ray.x, y - jet.ray.y) < 1e-6:
            return placement.fan
    return ""


def _without_doubles(jets: list[Jet]) -> list[Jet]:
    """One jet for each fan: it also meets the openings beside its target."""
    kept: list[Jet] = []
    for jet in jets:
        if jet.after or not any(k.fan == jet.fan and not k.after for k in kept):
            kept.append(jet)
    return kept


def fan_spot(house: House, scenario: Scenario, placement: Placement) -> Point:
    """Where the middle of a fan's blades is in plan [m]."""
    pose = fan_pose(house, placement, scenario.shares[placement.opening])
    return pose.x, pose.y


def fan_direction(house: House, placement: Placement) -> Point:
    """Unit vector in plan in the direction in which a fan blows."""
    pose = fan_pose(house, placement, house.openings[placement.opening].full_share)
    level = math.hypot(pose.dx, pose.dy) or 1.0
    return pose.dx / level, pose.dy / level


def jet_areas(house: House, jet: Jet, fastest_m_s: float) -> list[Area]:
    """A jet that fades with its speed, cut off at the walls of its room.

    Notes
    -----
    Layers from the fan to farther and farther on lie on one another: where all n of them lie, the opacity is
    1 - (1 - a_1) ... (1 - a_n). So there are no seams between parts of different strength.
    """
    from shapely import Polygon

    step = len(jet.axis) // LAYERS
    ends = [min((i + 1) * step, len(jet.axis) - 1) for i in range(LAYERS)]
    wanted = [FAINTEST + (STRONGEST - FAINTEST) * min(jet.speeds_m_s[e] / fastest_m_s, 1.0) for e in ends]
    areas = []
    for i, end in enumerate(ends):
        below = wanted[i + 1] if i + 1 < LAYERS else 0.0
        opacity = round(1.0 - (1.0 - wanted[i]) / (1.0 - below), 3)
        low, high = list(jet.low[: end + 1]), list(jet.high[: end + 1])
        if i + 1 == LAYERS:
            low, high = [*low, jet.tail[0]], [*high, jet.tail[1]]
        whole = Polygon([*low, *reversed(high)])
        shape = _cut_off(house, jet, whole if whole.is_valid else whole.buffer(0))
        areas += [Area(f"jet at {jet.opening}", rings, "jet", "jet", opacity) for rings in rings_of(shape)]
    return areas


def _cut_off(house: House, jet: Jet, shape: Any) -> Any:
    """A shape cut off at the walls of the jet's room, or at the house where it blows from outdoors."""
    if jet.place != OUTDOORS:
        room = within_walls((house.rooms[jet.place].corners,))
        return shape if room.covers(shape) else shape.intersection(room)
    inside = next(place for place in house.openings[jet.opening].joins if place != OUTDOORS)
    level = house.rooms[inside].floor_m
    rooms = [r.corners for r in house.rooms.values() if r.floor_m <= level + 1.0 < r.floor_m + r.ceiling_m]
    return shape.difference(within_walls(tuple(rooms)))


def jet_lines(house: House, jet: Jet) -> list[Line]:
    """Edges of a jet, and its axis."""
    from shapely import LineString

    lines = []
    edges = ((*jet.low, jet.tail[0]), (*jet.high, jet.tail[1]))
    for part, points, dash in (
        ("edge", edges[0], ()),
        ("edge", edges[1], ()),
        ("axis", jet.axis, (6.0, 2.0, 1.0, 2.0)),
    ):
        line = LineString(points) if len(points) > 1 and points[0] != points[-1] else None
        if line is not None:
            line = _cut_off(house, jet, line)
        for piece in getattr(line, "geoms", [line]):
            if piece is not None and piece.geom_type == "LineString" and not piece.is_empty:
                at = tuple((float(x), float(y)) for x, y in piece.coords)
                lines.append(Line(f"{part} of jet at {jet.opening}", at, "jet", "jet", 0.5, dash))
    return lines


def fan_outline(radius_m: float) -> tuple[list[Area], list[Line]]:
    """A fan seen from above, at the origin and blowing to the right: its body and an arrowhead."""
    depth, tip = BODY_M / 2.0, min(0.22, radius_m)
    body = ((-depth, -radius_m), (depth, -radius_m), (depth, radius_m), (-depth, radius_m), (-depth, -radius_m))
    head = ((depth, -tip / 1.6), (depth + tip, 0.0), (depth, tip / 1.6), (depth, -tip / 1.6))
    areas = [Area("fan", (body,), "jet", "fan"), Area("arrow", (head,), "jet", "fan")]
    lines = [
        Line("body", body, "ink", "fan", 0.9),
        Line("blades", ((0.0, -radius_m * 0.9), (0.0, radius_m * 0.9)), "paper", "fan", 0.9),
    ]
    return areas, lines


def fan_shapes(house: House, scenario: Scenario, placement: Placement) -> tuple[list[Area], list[Line], Point]:
    """A fan seen from above where it stands, and the middle of its blades."""
    x, y = fan_spot(house, scenario, placement)
    dx, dy = fan_direction(house, placement)

    def at(point: Point) -> Point:
        return x + dx * point[0] - dy * point[1], y + dy * point[0] + dx * point[1]

    areas, lines = fan_outline(fan_of(house, placement).diameter_m / 2.0)
    names = {"fan": "fan", "arrow": "arrow of", "body": "body of", "blades": "blades of"}
    return (
        [
            replace(a, what=f"{names[a.what]} {placement.fan}", rings=tuple(tuple(map(at, r)) for r in a.rings))
            for a in areas
        ],
        [
            replace(line, what=f"{names[line.what]} {placement.fan}", points=tuple(map(at, line.points)))
            for line in lines
        ],
        (x, y),
    )


LEVEL_MARK_M = 0.2
"""Radius of a mark on the plan [m]."""


@dataclass(frozen=True)
class Mark:
    """Where air comes from or goes to another level."""

    at: Point  # its place [m]
    away: bool  # true where the air leaves this storey
    opening: str  # the opening in floor or roof; empty for the height of a tall room
    flow_m3_s: float  # volume flow [m3/s]
    room: str  # the room that it is in


def vertical_marks(house: House, streams: tuple[Stream, ...]) -> tuple[Mark, ...]:
    """Where air comes from or goes to another level, each place and direction once."""
    found: dict[tuple[str, str, bool], list[tuple[Point, float]]] = {}
    for stream in streams:
        for name, point, away in ((stream.start, stream.points[0], False), (stream.end, stream.points[-1], True)):
            if name == "" or (name in house.openings and house.openings[name].is_horizontal):
                found.setdefault((name, stream.place, away), []).append((point, stream.flow_m3_s))
    marks = []
    for (name, room, away), ends in found.items():
        count = len(ends)
        middle = (sum(p[0] for p, _ in ends) / count, sum(p[1] for p, _ in ends) / count)
        at = house.openings[name].centre[:2] if name else middle
        marks.append(Mark(at, away, name, sum(q for _, q in ends), room))
    return tuple(marks)


def mark_areas(mark: Mark) -> list[Area]:
    """Air to or from another level, as the tail or the tip of an arrow seen from its end."""
    at, away, name = mark.at, mark.away, mark.opening

    def disc(radius: float) -> tuple[tuple[float, float], ...]:
        return tuple((at[0] + radius * cos(0.1 * pi * i), at[1] + radius * sin(0.1 * pi * i)) for i in range(21))

    def bar(angle: float) -> tuple[tuple[float, float], ...]:
        dx, dy = cos(angle), sin(angle)
        ends = ((0.15, 0.025), (0.15, -0.025), (-0.15, -0.025), (-0.15, 0.025))
        return tuple((at[0] + dx * a - dy * b, at[1] + dy * a + dx * b) for a, b in ends)

    what = f"arrow of air, {'to' if away else 'from'} {name or 'another floor'}"
    areas = [Area(what, (disc(LEVEL_MARK_M),), "air", "stream"), Area(what, (disc(0.165),), "paper", "stream")]
    if away:
        return [*areas, Area(what, (bar(pi / 4),), "air", "stream"), Area(what, (bar(-pi / 4),), "air", "stream")]
    return [*areas, Area(what, (disc(0.06),), "air", "stream")]
