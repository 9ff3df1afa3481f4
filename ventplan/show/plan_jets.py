"""Fans as they stand, each jet as it widens, to scale, and the marks where air comes from or goes to another level.

Jets are drawn from the same figures that the solver used.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from math import cos, pi, sin

from ventplan.house.fan_pose import fan_pose
from ventplan.house.frames import free_rectangle, normal_from
from ventplan.house.geometry import polygon
from ventplan.house.records import OUTDOORS, House, Placement, Point, Scenario
from ventplan.network.answer import solve_arrays
from ventplan.network.jets import JetAtOpening
from ventplan.network.rays import fan_of, path_to
from ventplan.network.weather import densities
from ventplan.physics.jet_path import JetAtPlane, jet_at_plane
from ventplan.show.plan_air import Stream
from ventplan.show.plan_shapes import Area, Line, centre_of, frame_of, rings_of

SLICES = 24
"""Parts that the way of a jet is followed in."""
LAYERS = 8
"""Layers that a jet is drawn in, each from the fan to farther on."""
STRONGEST, FAINTEST = 0.62, 0.10
"""Opacity of a jet at its fastest and at rest [-]."""
BODY_M = 0.16
"""Depth that a fan is drawn with [m]."""


@dataclass(frozen=True)
class Jet:
    """A jet on its way to an opening.

    Attributes
    ----------
    fan
        Name of the fan it came from; empty where several do.
    opening
        The opening that it reaches.
    place
        The room it passes, or outdoors.
    after
        The opening it passed before, or empty.
    setbacks_m
        Distances that are left to the opening's plane, falling to 0 [m], shape (n,).
    low, high, axis
        Its edges and its axis in plan at those distances [m], each of shape (n, 2).
    speeds_m_s
        Speed on its axis there [m/s], shape (n,).
    """

    fan: str
    opening: str
    place: str
    after: str
    setbacks_m: tuple[float, ...]
    low: tuple[Point, ...]
    high: tuple[Point, ...]
    axis: tuple[Point, ...]
    speeds_m_s: tuple[float, ...]


def centre_speed_m_s(jet: JetAtPlane, density: float) -> float:
    """Speed on the axis of a jet in a plane, sqrt(2 M / (pi rho b_y b_z)) [m/s]; mirror images are left out."""
    return math.sqrt(2.0 * jet.momentum_n / (math.pi * density * jet.y_half_width_m * jet.z_half_width_m))


def jets_of(house: House, scenario: Scenario) -> tuple[Jet, ...]:
    """Each jet of a solved state as it widens on its way to its opening.

    Parameters
    ----------
    house, scenario
        The house and its state.
    """
    if not any(not p.sealed for p in scenario.placements):
        return ()
    density = densities(house, scenario)
    jets = []
    for found in solve_arrays(house, scenario)[0].jets:
        jet = _jet(house, scenario, found, density[found.stands_in])
        if jet is not None:
            jets.append(jet)
    return tuple(_without_doubles(jets))


def _jet(house: House, scenario: Scenario, jet: JetAtOpening, density: float) -> Jet | None:
    opening = house.openings[jet.opening]
    free = free_rectangle(opening, scenario.shares[opening.name])
    path = path_to(house, jet.ray, opening, free)
    if path is None:
        return None
    nx, ny = normal_from(opening, jet.stands_in)
    (ux, uy) = frame_of(opening).u
    turn = math.tan(math.radians(path.turn_deg))
    rows = []
    for i in range(SLICES + 1):
        travelled = path.setback_m * i / SLICES
        there = jet_at_plane(source=jet.ray.source, path=replace(path, setback_m=travelled))
        left = path.setback_m - travelled
        y = path.y_m + travelled * turn

        def spot(aside: float, left: float = left) -> Point:
            return free.x - nx * left + ux * aside, free.y - ny * left + uy * aside

        speed = centre_speed_m_s(there, density)
        rows.append((left, spot(y - there.y_edge_m), spot(y + there.y_edge_m), spot(y), speed))
    left_m, low, high, axis, speeds = zip(*rows, strict=True)
    fan = _fan_of(house, scenario, jet)
    return Jet(fan, jet.opening, jet.stands_in, jet.after, left_m, low, high, axis, speeds)


def _fan_of(house: House, scenario: Scenario, jet: JetAtOpening) -> str:
    """The fan whose jet it is: the one that leaves from where the ray begins."""
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
    """One jet for each fan and wall: openings beside the target are met by the same one."""
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
    """Unit vector in plan of the way a fan blows."""
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

    room = polygon(house.rooms[jet.place].corners) if jet.place != OUTDOORS else None
    step = len(jet.axis) // LAYERS
    ends = [min((i + 1) * step, len(jet.axis) - 1) for i in range(LAYERS)]
    wanted = [FAINTEST + (STRONGEST - FAINTEST) * min(jet.speeds_m_s[e] / fastest_m_s, 1.0) for e in ends]
    areas = []
    for i, end in enumerate(ends):
        below = wanted[i + 1] if i + 1 < LAYERS else 0.0
        opacity = round(1.0 - (1.0 - wanted[i]) / (1.0 - below), 3)
        shape = Polygon([*jet.low[: end + 1], *reversed(jet.high[: end + 1])]).buffer(0)
        if room is not None:
            shape = shape.intersection(room.buffer(0.06))
        areas += [Area(f"jet at {jet.opening}", rings, "jet", "jet", opacity) for rings in rings_of(shape)]
    return areas


def jet_lines(house: House, jet: Jet) -> list[Line]:
    """Edges of a jet, and its axis."""
    from shapely import LineString

    room = polygon(house.rooms[jet.place].corners).buffer(0.06) if jet.place != OUTDOORS else None
    lines = []
    for part, points, dash in (("edge", jet.low, ()), ("edge", jet.high, ()), ("axis", jet.axis, (6.0, 2.0, 1.0, 2.0))):
        line = LineString(points) if len(points) > 1 and points[0] != points[-1] else None
        if line is not None and room is not None:
            line = line.intersection(room)
        for piece in getattr(line, "geoms", [line]):
            if piece is not None and piece.geom_type == "LineString" and not piece.is_empty:
                at = tuple((float(x), float(y)) for x, y in piece.coords)
                lines.append(Line(f"{part} of jet at {jet.opening}", at, "jet", "jet", 0.5, dash))
    return lines


def fan_shapes(house: House, scenario: Scenario, placement: Placement) -> tuple[list[Area], list[Line], Point]:
    """A fan seen from above: its body across the way it blows, and an arrowhead; its middle as well."""
    x, y = fan_spot(house, scenario, placement)
    dx, dy = fan_direction(house, placement)
    half, fan = fan_of(house, placement).diameter_m / 2.0, placement.fan

    def at(ahead: float, aside: float) -> Point:
        return x + dx * ahead - dy * aside, y + dy * ahead + dx * aside

    depth = BODY_M / 2.0
    body = (at(-depth, -half), at(depth, -half), at(depth, half), at(-depth, half), at(-depth, -half))
    tip = min(0.22, half)
    head = (at(depth, -tip / 1.6), at(depth + tip, 0.0), at(depth, tip / 1.6), at(depth, -tip / 1.6))
    areas = [Area(f"fan {fan}", (body,), "jet", "fan"), Area(f"arrow of {fan}", (head,), "jet", "fan")]
    lines = [
        Line(f"body of {fan}", body, "ink", "fan", 0.9),
        Line(f"blades of {fan}", (at(0.0, -half * 0.9), at(0.0, half * 0.9)), "paper", "fan", 0.9),
    ]
    return areas, lines, centre_of(body[:4])


LEVEL_MARK_M = 0.2
"""Radius of a mark on the plan [m]."""


@dataclass(frozen=True)
class Mark:
    """Where air comes from or goes to another level.

    Attributes
    ----------
    at
        Its place [m].
    away
        True where the air leaves this storey.
    opening
        The opening in floor or roof; empty for the height of a tall room.
    flow_m3_s
        Volume flow [m3/s].
    room
        The room that it is in.
    """

    at: Point
    away: bool
    opening: str
    flow_m3_s: float
    room: str


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

    what = f"arrow of air on its way {'to' if away else 'from'} {name or 'another floor'}"
    areas = [Area(what, (disc(LEVEL_MARK_M),), "air", "stream"), Area(what, (disc(0.165),), "paper", "stream")]
    if away:
        return [*areas, Area(what, (bar(pi / 4),), "air", "stream"), Area(what, (bar(-pi / 4),), "air", "stream")]
    return [*areas, Area(what, (disc(0.06),), "air", "stream")]
