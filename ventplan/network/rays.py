"""The axis of a fan's jet on its way through a room."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from ventplan.house.fan_pose import fan_pose
from ventplan.house.frames import FreeRectangle, normal_from, tangent_of
from ventplan.house.records import Fan, House, Opening, Placement, Point, Room
from ventplan.physics.jet import start_half_width
from ventplan.physics.jet_path import JetPath, JetSource

if TYPE_CHECKING:
    from shapely import Polygon


@dataclass(frozen=True)
class Ray:
    """The axis of a jet on its way through one place.

    Attributes
    ----------
    place
        The room it travels through, or outdoors.
    x, y, z
        Where it starts [m].
    dx, dy, dz
        Unit vector of its direction.
    source
        What leaves there.
    """

    place: str
    x: float
    y: float
    z: float
    dx: float
    dy: float
    dz: float
    source: JetSource


@lru_cache(maxsize=1024)
def room_outline(corners: tuple[Point, ...]) -> Polygon:
    """The outline of a room as a polygon, made once for each set of corners [m]."""
    from shapely import Polygon

    return Polygon(corners)


@lru_cache(maxsize=4096)
def _clear_span(corners: tuple[Point, ...], x: float, y: float, tx: float, ty: float) -> tuple[float, float]:
    """How far the outline reaches from a point inside it, along -t and +t [m]."""
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
    """Lowest and highest y and z that the jet can reach, counted from the middle of the target [m]."""
    if room is None:
        return (-math.inf, math.inf), (0.0 - target.z, math.inf)
    half = 0.5 * setback_m
    x, y = ray.x + ray.dx * half, ray.y + ray.dy * half
    low, high = _clear_span(room.corners, round(x, 6), round(y, 6), tangent[0], tangent[1])
    here = (x - target.x) * tangent[0] + (y - target.y) * tangent[1]
    floor = room.floor_m - target.z
    return (here + low, here + high), (floor, floor + room.ceiling_m)


LEAST_COSINE = 0.3
"""Cosine of the angle between a jet and the normal of an opening below which the jet passes it by [-]."""


def runs_towards(ray: Ray, opening: Opening) -> bool:
    """True where the axis of a jet runs towards the plane of an opening of the place that it is in."""
    nx, ny = normal_from(opening, ray.place)
    ahead = (opening.start[0] - ray.x) * nx + (opening.start[1] - ray.y) * ny
    return ray.dx * nx + ray.dy * ny >= LEAST_COSINE and ahead >= 0.0


def path_to(room: Room | None, ray: Ray, opening: Opening, target: FreeRectangle) -> JetPath | None:
    """The way of a ray to the plane of an opening; None where it does not run towards it.

    Parameters
    ----------
    room
        The room that the ray travels through; None outdoors.
    ray
        The jet's axis.
    opening
        An opening of the place that the ray travels through.
    target
        Its free part.

    Returns
    -------
    JetPath or None
        In metres from the middle of the free part.
    """
    if opening.is_horizontal:
        return None
    nx, ny = normal_from(opening, ray.place)
    tx, ty = tangent_of(opening)
    towards = ray.dx * nx + ray.dy * ny
    setback = (target.x - ray.x) * nx + (target.y - ray.y) * ny
    if towards < LEAST_COSINE or setback < 0.0:
        return None
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
    """The fan of a placement, on the setting it runs at."""
    fan = house.fans[placement.fan]
    for setting in fan.settings:
        if setting.name == placement.setting:
            return fan.at_setting(setting)
    return fan


def ray_of(house: House, placement: Placement, share: float, density: float) -> Ray:
    """The axis of a fan's jet where it leaves the blades.

    Parameters
    ----------
    house
        The house.
    placement
        A fan that is set back, not sealed.
    share
        Free share of the frame of the opening that it blows at [-].
    density
        Density of the air where it stands [kg/m3].

    Returns
    -------
    Ray
        Start, direction and source.
    """
    fan, pose = fan_of(house, placement), fan_pose(house, placement, share)
    half_width = float(start_half_width(flow_m3_s=fan.flow_m3_s, thrust_n=fan.thrust_n, density=density))
    side = math.sqrt(2.0 * math.pi) * half_width
    return Ray(
        place=placement.stands_in,
        x=pose.x,
        y=pose.y,
        z=pose.z,
        dx=pose.dx,
        dy=pose.dy,
        dz=pose.dz,
        source=JetSource(
            # At the same width, the flow of a jet goes with the square root of its momentum.
            thrust_n=fan.thrust_n * fan.jet_gain**2,
            width_m=side,
            height_m=side,
            spread=fan.spread,
            radius_m=fan.diameter_m / 2.0,
        ),
    )
