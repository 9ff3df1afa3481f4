"""Where a fan stands and points, whether it can stand there, and what its jet meets first: one rule for everybody.

The reader of house files, the solver, the searches and the drawings all take the pose of a fan from here. Setbacks and
sideways distances are measured from the middle of the *free* part of the opening, which moves with how far it is open.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.house.geometry import (
    WALL_M,
    FreeRectangle,
    free_rectangle,
    normal_from,
    polygon,
    room_polygon,
    setback_limit_m,
    tangent_of,
)
from ventplan.house.records import OUTDOORS, Fan, House, Opening, Placement

REACH_SLACK_M = 0.02
"""Play in the heights that a fan reaches [m]."""
TOUCH_M = 0.01
"""Overlap of a fan with a wall or an obstacle that is let pass, since plans are measured by hand [m]."""
LOWEST_SILL_M = 0.05
"""Height above the floor of the lowest sill that a fan can stand on [m]."""
SPARE_M = 0.05
"""Room that a search leaves around a fan's frame [m]."""

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class FanPose:
    """Where a fan's blades are and which way they blow.

    Attributes
    ----------
    placement
        What it was made from; its fan, opening and room.
    free
        The free part of the opening that it blows at.
    x, y, z
        Middle of the blades: in plan, and above the ground outside [m].
    height_m
        The same above the floor it stands on [m].
    dx, dy, dz
        Unit vector of the direction that it blows in; straight up or down through an opening that lies flat.
    radius_m
        Radius of the blades [m].
    """

    placement: Placement
    free: FreeRectangle
    x: float
    y: float
    z: float
    height_m: float
    dx: float
    dy: float
    dz: float
    radius_m: float


Reason = Literal[
    "lies flat", "faces away", "cannot be sealed", "too wide to be sealed", "between floor and ceiling", "out of reach",
    "beside the room", "beyond the wall", "inside a room", "in an obstacle", "behind an obstacle",
    "off its support",
]  # fmt: skip
"""Why a fan cannot stand somewhere."""


@dataclass(frozen=True)
class PoseProblem:
    """Why a fan cannot stand where a placement puts it.

    Attributes
    ----------
    reason
        What is wrong.
    key
        Key of the placement that has to change: ``setback``, ``aside``, ``height``, ``turn``, ``tilt`` or ``sealed``.
    value
        What stands there [m] or [deg].
    low, high
        What is possible [m] or [deg].
    thing
        Name of the room or obstacle that is in the way; empty where there is none.
    gap_m
        Distance from an obstacle that the fan stands in or touches [m].
    """

    reason: Reason
    key: str = ""
    value: float = 0.0
    low: float = -math.inf
    high: float = math.inf
    thing: str = ""
    gap_m: float = 0.0


@dataclass(frozen=True)
class Met:
    """What the axis of a fan's jet meets first.

    Attributes
    ----------
    kind
        ``opening`` for the free part of the one that it blows at; ``nothing`` outdoors.
    name
        Name of the opening, obstacle or room.
    distance_m
        Way along the axis [m]; infinite for nothing.
    """

    kind: Literal["opening", "wall", "obstacle", "floor", "ceiling", "nothing"]
    name: str
    distance_m: float


@dataclass(frozen=True)
class Support:
    """Something that a fan can stand on, and where its axis is then.

    Attributes
    ----------
    name
        ``floor``, ``sill``, or one of the house's surfaces.
    height_m
        Its height above the floor [m].
    lowest_m, highest_m
        Heights of the fan's axis above the floor [m], alike but for a fan on a pole.
    """

    name: str
    height_m: float
    lowest_m: float
    highest_m: float


def floor_m(house: House, opening: Opening, place: str) -> float:
    """Height above the ground outside of what a fan stands on in a place that an opening joins [m].

    Outdoors that is the ground, or a balcony level with the room where the opening leads to one.
    """
    if place in house.rooms:
        return house.rooms[place].floor_m
    inside = house.rooms.get(opening.other(place))
    return inside.floor_m if inside is not None and opening.leads_to else 0.0


def fan_supports(house: House, fan: Fan, opening: Opening, place: str) -> tuple[Support, ...]:
    """What a fan can stand on in a room, in order of height: the floor, its surfaces, and the sill of the opening.

    Left out is what would put the blades above the ceiling or above the highest axis that the fan is said to have.
    """
    heights = {"floor": 0.0, **house.surfaces}
    sill = opening.bottom_m - floor_m(house, opening, place)
    if sill >= LOWEST_SILL_M and not opening.is_horizontal:
        heights["sill"] = sill
    room = house.rooms.get(place)
    ceiling = (room.ceiling_m if room else math.inf) - fan.diameter_m / 2.0
    found = []
    for name, height in sorted(heights.items(), key=lambda item: item[1]):
        low, highest = axis_range_m(fan, height)
        high = min(highest, ceiling)
        if low <= min(high, fan.highest_m + REACH_SLACK_M):
            found.append(Support(name, height, low, high))
    return tuple(found)


def axis_range_m(fan: Fan, support_m: float | None) -> tuple[float, float]:
    """Lowest and highest axis of a fan above the floor [m]: on a support of some height, or on any where it is None."""
    if support_m is None:
        return fan.lowest_m, fan.highest_m
    return support_m + fan.axis_m[0], support_m + fan.axis_m[1]


def blows_up(house: House, placement: Placement) -> bool:
    """True for a fan sealed into an opening that lies flat, if it blows out through the roof or to the room above."""
    opening, place = house.openings[placement.opening], placement.stands_in
    if opening.is_external:
        return place != OUTDOORS
    return house.rooms[place].floor_m < house.rooms[opening.other(place)].floor_m


def fan_height_m(house: House, placement: Placement, free: FreeRectangle) -> float:
    """Height of a fan's axis above the floor [m]: as stated; else level with the middle of the free part if it can."""
    if placement.height_m is not None:
        return placement.height_m
    fan, opening = house.fans[placement.fan], house.openings[placement.opening]
    low, high = axis_range_m(fan, placement.support_m)
    return min(max(free.z - floor_m(house, opening, placement.stands_in), low), high)


def fan_pose(house: House, placement: Placement, share: float) -> FanPose:
    """The pose of a fan at an opening that is open by a share of its frame.

    Parameters
    ----------
    house
        The house.
    placement
        The fan, the opening, and where it stands from there.
    share
        Free share of the opening's frame [-]; 0 stands for as far as it goes.

    Returns
    -------
    FanPose
        A fan that is sealed in has its blades in the free part. Whether it can stand there: `pose_problem`.

    Notes
    -----
    With pan p (towards the end of the frame) and tilt t (up), the axis is (cos p cos t, sin p cos t, sin t) along the
    opening's normal, its frame and up.
    """
    fan, opening = house.fans[placement.fan], house.openings[placement.opening]
    free = free_rectangle(opening, share or opening.full_share or 1.0)
    nx, ny = normal_from(opening, placement.stands_in)
    if placement.sealed:
        height = free.z - floor_m(house, opening, placement.stands_in)
        dz = 0.0 if not opening.is_horizontal else 1.0 if blows_up(house, placement) else -1.0
        return FanPose(placement, free, free.x, free.y, free.z, height, nx, ny, dz, fan.diameter_m / 2.0)
    tx, ty = tangent_of(opening)
    pan, tilt = math.radians(placement.turn_deg), math.radians(placement.tilt_deg)
    height = fan_height_m(house, placement, free)
    ahead, aside = math.cos(pan) * math.cos(tilt), math.sin(pan) * math.cos(tilt)
    return FanPose(
        placement=placement,
        free=free,
        x=free.x - placement.setback_m * nx + placement.aside_m * tx,
        y=free.y - placement.setback_m * ny + placement.aside_m * ty,
        z=floor_m(house, opening, placement.stands_in) + height,
        height_m=height,
        dx=ahead * nx + aside * tx,
        dy=ahead * ny + aside * ty,
        dz=math.sin(tilt),
        radius_m=fan.diameter_m / 2.0,
    )


def pose_problem(house: House, pose: FanPose) -> PoseProblem | None:
    """Why a fan cannot stand so; None where it can."""
    problem = _problem_of_the_fan(house, pose)
    if problem is not None or pose.placement.sealed:
        return problem
    here = np.array([pose.placement.setback_m])
    problem = next((one for one, blocked in _obstructions(house, pose, here) if blocked[0]), None)
    if problem is None or problem.reason != "in an obstacle":
        return problem
    placement, opening = pose.placement, house.openings[pose.placement.opening]
    limit = setback_limit_m(house, placement.stands_in, opening, pose.free, placement.aside_m, radius_m=pose.radius_m)
    return replace(problem, high=max(limit - pose.radius_m, 0.0))


def free_setbacks(house: House, pose: FanPose, setbacks_m: Floats) -> Bools:
    """True at the setbacks where a fan can stand and has room to spare.

    Parameters
    ----------
    house
        The house.
    pose
        The pose of the fan at any setback.
    setbacks_m
        Setbacks, shape (setbacks,) [m].

    Returns
    -------
    ndarray
        Shape (setbacks,). By the rule of `pose_problem`; besides, there is `SPARE_M` free around the frame, behind it
        as much room as it is wide, since the blades draw from there, and in front of it nothing as high as its lower
        edge.
    """
    free = np.full(len(setbacks_m), _problem_of_the_fan(house, pose) is None)
    if free.any():
        for _, blocked in _obstructions(house, pose, setbacks_m, spare=True):
            free &= ~blocked
    return free


def spots_m(house: House, pose: FanPose, setbacks_m: Floats) -> Floats:
    """Where the middle of the blades is in plan at some setbacks, shape (setbacks, 2) [m]."""
    opening, aside = house.openings[pose.placement.opening], pose.placement.aside_m
    (nx, ny), (tx, ty) = normal_from(opening, pose.placement.stands_in), tangent_of(opening)
    spots: Floats = np.stack(
        [pose.free.x - setbacks_m * nx + aside * tx, pose.free.y - setbacks_m * ny + aside * ty], axis=-1
    )
    return spots


def _problem_of_the_fan(house: House, pose: FanPose) -> PoseProblem | None:
    """Why a fan cannot stand so wherever it is in plan: its aim, its height, or that it cannot be sealed in."""
    placement = pose.placement
    fan, opening = house.fans[placement.fan], house.openings[placement.opening]
    for key, angle in (("turn", placement.turn_deg), ("tilt", placement.tilt_deg)):
        if abs(angle) >= 90.0:
            return PoseProblem("faces away", key, angle, -90.0, 90.0)
    if placement.sealed:
        if not fan.can_seal:
            return PoseProblem("cannot be sealed", "sealed")
        if fan.diameter_m > min(opening.width_m, opening.height_m) + 0.02:
            return PoseProblem("too wide to be sealed", "sealed", fan.diameter_m)
        return None
    if opening.is_horizontal:
        return PoseProblem("lies flat")
    room = house.rooms.get(placement.stands_in)
    ceiling = room.ceiling_m - pose.radius_m if room else math.inf
    if not pose.radius_m - 0.06 <= pose.height_m <= ceiling + 1e-9:
        return PoseProblem("between floor and ceiling", "height", pose.height_m, pose.radius_m, ceiling)
    low, high = axis_range_m(fan, placement.support_m)
    if not low - REACH_SLACK_M <= pose.height_m <= high + REACH_SLACK_M:
        return PoseProblem("out of reach", "height", pose.height_m, low, high)
    return None


def _obstructions(
    house: House, pose: FanPose, setbacks_m: Floats, *, spare: bool = False
) -> Iterator[tuple[PoseProblem, Bools]]:
    """Each thing that a fan could stand in or behind, and True at the setbacks where it does, shape (setbacks,)."""
    import shapely

    placement, radius, free = pose.placement, pose.radius_m, pose.free
    place, back, aside = placement.stands_in, placement.setback_m, placement.aside_m
    spots = spots_m(house, pose, setbacks_m)
    points, lines = shapely.points(spots), _lines(spots, (free.x, free.y))
    if place == OUTDOORS:
        # The frame is parallel to the wall of the opening, and may come nearer to it than the fan is wide.
        keep = np.minimum(radius + SPARE_M, setbacks_m - 0.02)
        for room in house.rooms.values():
            if room.floor_m - 0.05 < pose.z < room.floor_m + room.ceiling_m:
                shape = polygon(room.corners)
                inside = (
                    shapely.distance(shape, points) < keep if spare else shapely.contains(shape.buffer(-WALL_M), points)
                )
                yield PoseProblem("inside a room", "setback", back, thing=room.name), inside
        return
    opening, wide = house.openings[placement.opening], radius + (SPARE_M if spare else 0.0)
    wall = setback_limit_m(house, place, opening, free, aside, radius_m=wide, past_obstacles=True)
    beside = PoseProblem("beside the room", "aside", aside, thing=place)
    yield beside, np.full(len(setbacks_m), wall <= 0.0)
    far = wall - radius - wide if spare else wall + TOUCH_M
    yield PoseProblem("beyond the wall", "setback", back, 0.0, wall, place), setbacks_m > far
    # The line may leave the room in the wall of the opening.
    zone = room_polygon(house, place).buffer(0.02).union(shapely.Point(free.x, free.y).buffer(WALL_M + 0.1))
    shapely.prepare(zone)
    yield beside, ~shapely.covers(zone, lines)
    for obstacle in house.obstacles.values():
        if obstacle.room != place or obstacle.name == placement.stands_on:
            continue
        shape = polygon(obstacle.corners)
        gap = shapely.distance(shape, points)
        problem = PoseProblem("in an obstacle", "setback", back, 0.0, thing=obstacle.name, gap_m=float(gap[0]))
        if spare and obstacle.height_m > pose.height_m - radius:
            behind = _lines(spots, spots_m(house, pose, setbacks_m + radius))
            gap = shapely.distance(shape, behind)
        yield problem, gap < (wide if spare else radius - TOUCH_M)
        if obstacle.height_m > pose.height_m - (radius if spare else 0.0):
            problem = PoseProblem("behind an obstacle", "setback", back, thing=obstacle.name, high=obstacle.height_m)
            yield problem, shapely.intersects(shape, lines)
    if placement.stands_on in house.obstacles:
        top = polygon(house.obstacles[placement.stands_on].corners).buffer(0.02)
        off = PoseProblem("off its support", "setback", back, thing=placement.stands_on)
        yield off, ~shapely.contains(top, points)


def _lines(starts: Floats, ends: ArrayLike) -> Any:
    """Straight lines in plan, as an array of ``shapely`` lines; ends of shape (lines, 2) or one for all."""
    import shapely

    return shapely.linestrings(np.stack([starts, np.broadcast_to(np.asarray(ends), starts.shape)], axis=-2))


def miss_m(house: House, pose: FanPose) -> float:
    """How far from the free part of its opening the straight axis of a fan's jet passes the opening's plane [m].

    0 where it goes through; infinite where the fan blows away from it.
    """
    target = house.openings[pose.placement.opening]
    (nx, ny), (tx, ty) = normal_from(target, pose.placement.stands_in), tangent_of(target)
    towards = pose.dx * nx + pose.dy * ny
    if towards <= 1e-6:
        return math.inf
    way = ((pose.free.x - pose.x) * nx + (pose.free.y - pose.y) * ny) / towards
    side = (pose.x + pose.dx * way - pose.free.x) * tx + (pose.y + pose.dy * way - pose.free.y) * ty
    up = pose.z + pose.dz * way - pose.free.z
    return math.hypot(max(abs(side) - pose.free.width_m / 2.0, 0.0), max(abs(up) - pose.free.height_m / 2.0, 0.0))


def first_met(house: House, pose: FanPose) -> Met:
    """What the straight axis of a fan's jet meets first on its way through the room that the fan stands in."""
    from shapely import LineString

    place = pose.placement.stands_in
    level = math.hypot(pose.dx, pose.dy)
    target = house.openings[pose.placement.opening]
    nx, ny = normal_from(target, place)
    towards = pose.dx * nx + pose.dy * ny
    met: list[Met] = []
    if miss_m(house, pose) == 0.0:
        met.append(Met("opening", target.name, ((pose.free.x - pose.x) * nx + (pose.free.y - pose.y) * ny) / towards))
    room = house.rooms.get(place)
    if room is None:
        return met[0] if met else Met("nothing", place, math.inf)
    if pose.dz > 1e-9:
        met.append(Met("ceiling", place, (room.floor_m + room.ceiling_m - pose.z) / pose.dz))
    elif pose.dz < -1e-9:
        met.append(Met("floor", place, (room.floor_m - pose.z) / pose.dz))
    if level > 1e-9:
        far = 400.0
        axis = LineString([(pose.x, pose.y), (pose.x + pose.dx / level * far, pose.y + pose.dy / level * far)])
        edge = room_polygon(house, place).exterior.intersection(axis)
        if not edge.is_empty:
            # The opening lies in that wall, or a wall's thickness beyond it.
            reach = float(edge.distance(axis.boundary.geoms[0])) / level
            met.append(Met("wall", place, reach + (WALL_M if met and met[0].kind == "opening" else 0.0)))
        for obstacle in house.obstacles.values():
            inside = polygon(obstacle.corners).intersection(axis)
            if obstacle.room != place or inside.is_empty:
                continue
            near = float(inside.distance(axis.boundary.geoms[0])) / level
            top = room.floor_m + obstacle.height_m
            over = pose.z + pose.dz * near - top
            if over < 0.0:
                met.append(Met("obstacle", obstacle.name, near))
            elif pose.dz < -1e-9 and over / -pose.dz * level < float(inside.length):
                met.append(Met("obstacle", obstacle.name, near + over / -pose.dz))
    return min(met, key=lambda one: one.distance_m) if met else Met("nothing", place, math.inf)
