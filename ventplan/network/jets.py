"""Which openings the jets of a scenario reach, and how.

A fan's jet is a ray through the room it stands in. It meets the opening it is blown at, openings beside that in the
same wall, and, with what is left of it, the next opening in line in the room behind.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from ventplan.house.records import OUTDOORS, Fan, House, Opening, Placement, Point, Room, Scenario
from ventplan.physics.arrival import Arrival, Path, Plume, Source, arrive, carry_on, plume_at_plane
from ventplan.physics.jet import start_half_width

if TYPE_CHECKING:
    from shapely import Polygon

SAME_WALL_M = 0.35
"""Openings whose planes are closer than this, and parallel, are in the same wall [m]."""
LEAST_SHARE = 0.02
"""A jet that brings less than this share of its momentum to an opening leaves it alone [-]."""
MAX_IN_LINE = 3
"""How many openings in line one jet is followed through."""


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
        Free share of the frame's area [-], 0 to 1. The free part starts at the frame's ``start``, or at its bottom.

    Returns
    -------
    FreeRectangle
        Middle and sides [m].
    """
    (x1, y1), (x2, y2) = opening.start, opening.end
    across = share if opening.free_along == "width" else 1.0
    up = share if opening.free_along == "height" else 1.0
    height = opening.height_m * up
    rise = 0.0 if opening.is_horizontal else height / 2.0
    middle = across / 2.0
    return FreeRectangle(
        x=x1 + (x2 - x1) * middle,
        y=y1 + (y2 - y1) * middle,
        z=opening.bottom_m + rise,
        width_m=opening.width_m * across,
        height_m=height,
    )


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
    source: Source


@dataclass(frozen=True)
class Blow:
    """A jet at an opening that it reaches.

    Attributes
    ----------
    opening
        Name of the opening.
    stands_in
        The side it comes from.
    plume
        The jet in the plane.
    ray
        Where it came from.
    after
        Name of the opening it passed before, or empty for a fan's own target and its neighbours.
    """

    opening: str
    stands_in: str
    plume: Plume
    ray: Ray
    after: str = ""


def normal_from(opening: Opening, place: str) -> Point:
    """Unit vector in plan that points from ``place`` through the opening."""
    sign = 1.0 if opening.joins[0] == place else -1.0
    return sign * opening.normal[0], sign * opening.normal[1]


def _tangent(opening: Opening) -> Point:
    (x1, y1), (x2, y2) = opening.start, opening.end
    length = opening.width_m
    return (x2 - x1) / length, (y2 - y1) / length


@lru_cache(maxsize=1024)
def _polygon(corners: tuple[Point, ...]) -> Polygon:
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


def path_to(house: House, ray: Ray, opening: Opening, target: FreeRectangle) -> Path | None:
    """The way of a ray to the plane of an opening; None where it does not run towards it.

    Parameters
    ----------
    house
        The house.
    ray
        The jet's axis.
    opening
        An opening of the place that the ray travels through.
    target
        Its free part.

    Returns
    -------
    Path or None
        In metres from the middle of the free part.
    """
    if opening.is_horizontal:
        return None
    nx, ny = normal_from(opening, ray.place)
    tx, ty = _tangent(opening)
    towards = ray.dx * nx + ray.dy * ny
    setback = (target.x - ray.x) * nx + (target.y - ray.y) * ny
    if towards < 0.3 or setback < 0.0:
        return None
    y_walls, z_walls = _walls(house.rooms.get(ray.place), ray, setback, target, (tx, ty))
    return Path(
        setback_m=setback,
        y_m=(ray.x - target.x) * tx + (ray.y - target.y) * ty,
        z_m=ray.z - target.z,
        turn_deg=math.degrees(math.atan2(ray.dx * tx + ray.dy * ty, towards)),
        tilt_deg=math.degrees(math.atan2(ray.dz, towards)),
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


def fan_height(house: House, placement: Placement, target: FreeRectangle) -> float:
    """Height of a fan's axis above the floor it stands on: as stated, else level with the opening if it can [m]."""
    if placement.height_m is not None:
        return placement.height_m
    fan = house.fans[placement.fan]
    room = house.rooms.get(placement.stands_in)
    floor = room.floor_m if room else 0.0
    return min(max(target.z - floor, fan.lowest_m), fan.highest_m)


def ray_of(house: House, placement: Placement, target: FreeRectangle, density: float) -> Ray:
    """The axis of a fan's jet where it leaves the blades.

    Parameters
    ----------
    house
        The house.
    placement
        A fan that is set back, not sealed.
    target
        The free part of the opening that it blows at.
    density
        Density of the air where it stands [kg/m3].

    Returns
    -------
    Ray
        Start, direction and source.
    """
    opening, fan = house.openings[placement.opening], fan_of(house, placement)
    nx, ny = normal_from(opening, placement.stands_in)
    tx, ty = _tangent(opening)
    turn, tilt = math.radians(placement.turn_deg), math.radians(placement.tilt_deg)
    room = house.rooms.get(placement.stands_in)
    floor = room.floor_m if room else 0.0
    ahead, aside = math.cos(turn) * math.cos(tilt), math.sin(turn) * math.cos(tilt)
    return Ray(
        place=placement.stands_in,
        x=target.x - placement.setback_m * nx + placement.aside_m * tx,
        y=target.y - placement.setback_m * ny + placement.aside_m * ty,
        z=floor + fan_height(house, placement, target),
        dx=ahead * nx + aside * tx,
        dy=ahead * ny + aside * ty,
        dz=math.sin(tilt),
        source=Source(
            # At the same width, the flow of a jet goes with the square root of its momentum.
            thrust_n=fan.thrust_n * fan.jet_gain**2,
            start_half_width_m=float(start_half_width(flow_m3_s=fan.flow_m3_s, thrust_n=fan.thrust_n, density=density)),
            spread=fan.spread,
            radius_m=fan.diameter_m / 2.0,
        ),
    )


def _open_openings(house: House, scenario: Scenario, place: str) -> Iterable[tuple[Opening, FreeRectangle]]:
    for name, opening in house.openings.items():
        share = scenario.shares[name]
        if share > 0.0 and place in opening.joins and not opening.is_horizontal:
            yield opening, free_rectangle(opening, share)


def _same_wall(one: Opening, other: Opening) -> bool:
    parallel = abs(one.normal[0] * other.normal[0] + one.normal[1] * other.normal[1]) > 0.996
    x, y = other.start[0] - one.start[0], other.start[1] - one.start[1]
    return parallel and abs(x * one.normal[0] + y * one.normal[1]) < SAME_WALL_M


def blows_of_fan(house: House, scenario: Scenario, placement: Placement, density: float) -> list[Blow]:
    """The opening that a set-back fan blows at, and those beside it that its jet also meets.

    Parameters
    ----------
    house, scenario
        The house and its state.
    placement
        A fan that is set back.
    density
        Density of the air where it stands [kg/m3].

    Returns
    -------
    list of Blow
        The target first.
    """
    target = house.openings[placement.opening]
    ray = ray_of(house, placement, free_rectangle(target, scenario.shares[target.name]), density)
    blows = []
    for opening, free in _open_openings(house, scenario, placement.stands_in):
        if opening.name != target.name and not _same_wall(opening, target):
            continue
        path = path_to(house, ray, opening, free)
        if path is None:
            continue
        plume = plume_at_plane(source=ray.source, path=path, density=density)
        if opening.name == target.name or _share(plume, free, density) > LEAST_SHARE:
            blows.append(Blow(opening.name, placement.stands_in, plume, ray))
    return sorted(blows, key=lambda blow: blow.opening != target.name)


def _share(plume: Plume, free: FreeRectangle, density: float) -> float:
    arrival = arrive(plumes=[plume], width_m=free.width_m, height_m=free.height_m, density=density)
    return arrival.momentum_n / max(plume.momentum_n, 1e-12)


def blow_in_line(
    house: House, scenario: Scenario, blow: Blow, *, flow_m3_s: float, momentum_n: float, density: float
) -> Blow | None:
    """The next opening that a jet reaches after it has passed one.

    Parameters
    ----------
    house, scenario
        The house and its state.
    blow
        The jet at the opening that it passes.
    flow_m3_s, momentum_n
        Flow and momentum that leave that opening with the jet [m3/s], [N].
    density
        Density of the air there [kg/m3].

    Returns
    -------
    Blow or None
        None where it meets no open opening, or leaves the house.
    """
    passed = house.openings[blow.opening]
    place = passed.other(blow.stands_in)
    if place == OUTDOORS or flow_m3_s <= 1e-9 or momentum_n <= 1e-9:
        return None
    free = free_rectangle(passed, scenario.shares[passed.name])
    tx, ty = _tangent(passed)
    source = carry_on(
        arrival=Arrival(flow_m3_s, momentum_n, free.area_m2, 0.0),
        width_m=free.width_m,
        height_m=free.height_m,
        spread=blow.ray.source.spread,
        density=density,
    )
    y_end = min(max(blow.plume.y_m, -free.width_m / 2.0), free.width_m / 2.0)
    z_end = min(max(blow.plume.z_m, -free.height_m / 2.0), free.height_m / 2.0)
    ray = replace(blow.ray, place=place, x=free.x + y_end * tx, y=free.y + y_end * ty, z=free.z + z_end, source=source)
    best: Blow | None = None
    nearest = math.inf
    for opening, target in _open_openings(house, scenario, place):
        path = None if opening.name == passed.name else path_to(house, ray, opening, target)
        if path is None or path.setback_m >= nearest or not _in_sight(house.rooms[place], ray, path.setback_m):
            continue
        plume = plume_at_plane(source=source, path=path, density=density)
        if _share(plume, target, density) > LEAST_SHARE:
            best, nearest = Blow(opening.name, place, plume, ray, after=passed.name), path.setback_m
    return best


def _in_sight(room: Room, ray: Ray, distance_m: float) -> bool:
    from shapely import LineString

    level = math.hypot(ray.dx, ray.dy)
    reach = max(distance_m / level - 0.4, 0.1)
    start = min(0.1, reach / 2.0)
    line = LineString(
        [
            (ray.x + ray.dx / level * start, ray.y + ray.dy / level * start),
            (ray.x + ray.dx / level * reach, ray.y + ray.dy / level * reach),
        ]
    )
    return bool(_polygon(room.corners).buffer(0.3).covers(line))


def arrivals(
    house: House, scenario: Scenario, blows: Iterable[Blow], densities: Mapping[str, float]
) -> dict[tuple[str, str], Arrival]:
    """What all jets together bring to each opening, from each side.

    Parameters
    ----------
    house, scenario
        The house and its state.
    blows
        All jets at openings.
    densities
        Density of the air by place [kg/m3].

    Returns
    -------
    dict
        By opening and the side that the jets come from.
    """
    grouped: dict[tuple[str, str], list[Plume]] = {}
    for blow in blows:
        grouped.setdefault((blow.opening, blow.stands_in), []).append(blow.plume)
    found = {}
    for (name, place), plumes in grouped.items():
        free = free_rectangle(house.openings[name], scenario.shares[name])
        found[name, place] = arrive(
            plumes=plumes, width_m=free.width_m, height_m=free.height_m, density=densities[place]
        )
    return found
