"""The jets of fans on their way through a room: their axes, the openings that they reach, and what these capture.

The jet of a fan reaches the opening that it is aimed at, and openings beside that in the same wall. What passes an
opening goes on as in `ventplan.network.assemble`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from ventplan.house.fan_pose import fan_pose
from ventplan.house.geometry import FreeRectangle, free_rectangle, normal_from, polygon, tangent_of
from ventplan.house.records import Fan, House, Opening, Placement, Point, Room, Scenario
from ventplan.physics.jet import start_half_width
from ventplan.physics.jet_capture import JetCapture, capture_jets, merged
from ventplan.physics.jet_path import JetAtPlane, JetPath, JetSource, jet_at_plane


@dataclass(frozen=True)
class Ray:
    """The axis of a jet on its way through one place.

    Attributes
    ----------
    place
        The room that it travels through, or outdoors.
    x, y, z
        Where it starts [m].
    dx, dy, dz
        Unit vector of its direction.
    source
        The jet at its start.
    """

    place: str
    x: float
    y: float
    z: float
    dx: float
    dy: float
    dz: float
    source: JetSource


@lru_cache(maxsize=4096)
def _clear_span(corners: tuple[Point, ...], x: float, y: float, tx: float, ty: float) -> tuple[float, float]:
    """Distances from a point inside an outline to the outline, along -t (negative) and +t [m]."""
    hits = []
    for (x1, y1), (x2, y2) in zip(corners, corners[1:] + corners[:1], strict=True):
        ex, ey = x2 - x1, y2 - y1
        cross = tx * ey - ty * ex
        if abs(cross) < 1e-12:
            continue
        along = ((x1 - x) * ey - (y1 - y) * ex) / cross
        on_edge = ((x1 - x) * ty - (y1 - y) * tx) / cross
        if -1e-9 <= on_edge <= 1.0 + 1e-9:
            hits.append(along)
    below = [h for h in hits if h < 0.0]
    above = [h for h in hits if h > 0.0]
    return (max(below) if below else -math.inf), (min(above) if above else math.inf)


def _walls(
    room: Room | None, ray: Ray, setback_m: float, target: FreeRectangle, tangent: Point
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Lowest and highest y and z of the room, from the middle of the target [m]."""
    if room is None:
        return (-math.inf, math.inf), (0.0 - target.z, math.inf)
    half = 0.5 * setback_m
    x, y = ray.x + ray.dx * half, ray.y + ray.dy * half
    low, high = _clear_span(room.corners, round(x, 6), round(y, 6), tangent[0], tangent[1])
    here = (x - target.x) * tangent[0] + (y - target.y) * tangent[1]
    floor = room.floor_m - target.z
    return (here + low, here + high), (floor, floor + room.ceiling_m)


LEAST_COSINE = 0.3
"""Cosine of the angle between a jet and the normal of an opening below which the jet misses it [-]."""


def runs_towards(ray: Ray, opening: Opening) -> bool:
    """True if the axis of a jet runs towards the plane of an opening of the place that it is in."""
    nx, ny = normal_from(opening, ray.place)
    ahead = (opening.start[0] - ray.x) * nx + (opening.start[1] - ray.y) * ny
    return ray.dx * nx + ray.dy * ny >= LEAST_COSINE and ahead >= 0.0


def path_to(room: Room | None, ray: Ray, opening: Opening, target: FreeRectangle) -> JetPath | None:
    """The path of a ray to the plane of an opening, from the middle of its free part; None if it runs elsewhere.

    Parameters
    ----------
    room
        The room that the ray travels through; None outdoors.
    ray
        The axis of the jet.
    opening, target
        An opening of that place, and its free part.
    """
    if opening.is_horizontal or not runs_towards(ray, opening):
        return None
    nx, ny = normal_from(opening, ray.place)
    tx, ty = tangent_of(opening)
    towards = ray.dx * nx + ray.dy * ny
    setback = max((target.x - ray.x) * nx + (target.y - ray.y) * ny, 0.0)
    y_walls, z_walls = _walls(room, ray, setback, target, (tx, ty))
    return JetPath(
        setback_m=setback,
        y_m=(ray.x - target.x) * tx + (ray.y - target.y) * ty,
        z_m=ray.z - target.z,
        y_slope=(ray.dx * tx + ray.dy * ty) / towards,
        z_slope=ray.dz / towards,
        y_walls_m=y_walls,
        z_walls_m=z_walls,
    )


def fan_of(house: House, placement: Placement) -> Fan:
    """The fan of a placement at its setting."""
    fan = house.fans[placement.fan]
    for setting in fan.settings:
        if setting.name == placement.setting:
            return fan.at_setting(setting)
    return fan


def source_of(fan: Fan, density: float) -> JetSource:
    """The jet of a fan at its blades, in air of a density [kg/m3]."""
    half_width = float(start_half_width(flow_m3_s=fan.flow_m3_s, thrust_n=fan.thrust_n, density=density))
    side = math.sqrt(2.0 * math.pi) * half_width
    # At the same width, the flow of a jet goes with the square root of its momentum.
    return JetSource(fan.thrust_n * fan.jet_gain**2, side, side, fan.spread, fan.diameter_m / 2.0)


def ray_of(house: House, placement: Placement, share: float, density: float) -> Ray:
    """The axis of the jet of a fan, from its blades.

    Parameters
    ----------
    house
        The house.
    placement
        A fan that is set back, not sealed.
    share
        Free share of the frame of the opening that it is aimed at [-].
    density
        Density of the air where it stands [kg/m3].
    """
    pose, source = fan_pose(house, placement, share), source_of(fan_of(house, placement), density)
    return Ray(
        place=placement.stands_in,
        x=pose.x,
        y=pose.y,
        z=pose.z,
        dx=pose.dx,
        dy=pose.dy,
        dz=pose.dz,
        source=source,
    )


SAME_WALL_M = 0.35
"""Distance of two parallel planes up to which openings count as in the same wall [m]."""
LEAST_BESIDE_SHARE = 0.02
"""Share of the momentum of a jet below which an opening beside its target is left out [-]."""


@dataclass(frozen=True)
class JetAtOpening:
    """A jet at an opening that it reaches.

    Attributes
    ----------
    opening
        Name of the opening.
    stands_in
        The side that it comes from.
    at_plane
        The jet in the plane of the opening.
    ray
        Its axis.
    after
        Name of the opening that it passed before; empty if it comes straight from a fan.
    """

    opening: str
    stands_in: str
    at_plane: JetAtPlane
    ray: Ray
    after: str = ""


def open_openings(house: House, scenario: Scenario, place: str) -> Iterator[tuple[Opening, float]]:
    """The open vertical openings of a room or of outdoors, and the free shares of their frames."""
    for name, opening in house.openings.items():
        share = scenario.shares[name]
        if share > 0.0 and place in opening.joins and not opening.is_horizontal:
            yield opening, share


def _same_wall(one: Opening, other: Opening) -> bool:
    parallel = abs(one.normal[0] * other.normal[0] + one.normal[1] * other.normal[1]) > 0.996
    x, y = other.start[0] - one.start[0], other.start[1] - one.start[1]
    return parallel and abs(x * one.normal[0] + y * one.normal[1]) < SAME_WALL_M


def captured_share(
    room: Room | None, ray: Ray, opening: Opening, free: FreeRectangle, *, closed: bool = True
) -> tuple[JetAtPlane, float] | None:
    """A jet in the plane of an opening, and the share of its momentum that the opening captures; None if it misses.

    Parameters
    ----------
    room
        The room that the jet travels through; None outdoors.
    ray
        Its axis.
    opening, free
        The opening, and its free part.
    closed
        As in `ventplan.physics.jet_path.jet_at_plane`.
    """
    path = path_to(room, ray, opening, free)
    if path is None:
        return None
    at_plane = jet_at_plane(source=ray.source, path=path, closed=closed)
    captured = capture_jets(jets=[at_plane], width_m=free.width_m, height_m=free.height_m, density=1.0)
    return at_plane, captured.momentum_n / max(at_plane.momentum_n, 1e-12)


def jets_of_fan(house: House, scenario: Scenario, placement: Placement, density: float) -> list[JetAtOpening]:
    """The jet of a fan at the opening that it is aimed at, and at those beside it that it also reaches.

    Parameters
    ----------
    house, scenario
        The house and its state.
    placement
        A fan that is not sealed in.
    density
        Density of the air where it stands [kg/m3].

    Returns
    -------
    list of JetAtOpening
        That at its target first.
    """
    target = house.openings[placement.opening]
    room = house.rooms.get(placement.stands_in)
    ray = ray_of(house, placement, scenario.shares[target.name], density)
    jets = []
    for opening, share in open_openings(house, scenario, placement.stands_in):
        if opening.name != target.name and not _same_wall(opening, target):
            continue
        found = captured_share(room, ray, opening, free_rectangle(opening, share))
        if found is not None and (opening.name == target.name or found[1] > LEAST_BESIDE_SHARE):
            jets.append(JetAtOpening(opening.name, placement.stands_in, found[0], ray))
    return sorted(jets, key=lambda jet: jet.opening != target.name)


NEAR_M = 0.65
"""Setback below which a fan counts as in or near its opening [m]."""
ASIDE = 0.3
"""Distance of the axis of a jet from the middle of an opening, in half widths or heights, that counts as off it [-]."""


def jet_situation(house: House, scenario: Scenario, placement: Placement) -> Literal["straight", "near", "aside"]:
    """Situation of a fan at its opening, on which the accuracy of the jet model depends.

    Parameters
    ----------
    house, scenario
        The house and its state.
    placement
        A fan that is not sealed in.

    Returns
    -------
    str
        ``near`` in or close to the opening; ``aside`` if the axis of the jet crosses the wall off the middle of the
        opening, because the fan is moved, turned, too high or too low; else ``straight``.
    """
    if placement.setback_m < NEAR_M:
        return "near"
    target = house.openings[placement.opening]
    share = scenario.shares[target.name]
    free = free_rectangle(target, share)
    path = path_to(house.rooms.get(placement.stands_in), ray_of(house, placement, share, 1.2), target, free)
    if path is None:
        return "aside"
    y, z = path.y_m + path.setback_m * path.y_slope, path.z_m + path.setback_m * path.z_slope
    off = max(abs(y) / (free.width_m / 2.0), abs(z) / (free.height_m / 2.0)) > ASIDE
    return "aside" if off else "straight"


def in_sight(room: Room, ray: Ray, opening: Opening, free: FreeRectangle) -> bool:
    """True if no wall of a room lies between the start of a ray and an opening that it reaches."""
    from shapely import LineString

    level = math.hypot(ray.dx, ray.dy)
    distance = abs((free.x - ray.x) * opening.normal[0] + (free.y - ray.y) * opening.normal[1])
    reach = max(distance / level - 0.4, 0.1)
    start = min(0.1, reach / 2.0)
    line = LineString(
        [
            (ray.x + ray.dx / level * start, ray.y + ray.dy / level * start),
            (ray.x + ray.dx / level * reach, ray.y + ray.dy / level * reach),
        ]
    )
    return bool(polygon(room.corners).buffer(0.3).covers(line))


def captures_at(
    house: House, scenario: Scenario, jets: Iterable[JetAtOpening], densities: Mapping[str, float]
) -> dict[tuple[str, str], JetCapture]:
    """What each opening captures of all jets together, by opening and the side that they come from.

    Parameters
    ----------
    house, scenario
        The house and its state.
    jets
        All jets at openings.
    densities
        Density of the air by place [kg/m3].
    """
    grouped: dict[tuple[str, str], list[JetAtPlane]] = {}
    for jet in jets:
        grouped.setdefault((jet.opening, jet.stands_in), []).append(jet.at_plane)
    found = {}
    for (name, place), together in grouped.items():
        free = free_rectangle(house.openings[name], scenario.shares[name])
        found[name, place] = capture_jets(
            jets=merged(together), width_m=free.width_m, height_m=free.height_m, density=densities[place]
        )
    return found
