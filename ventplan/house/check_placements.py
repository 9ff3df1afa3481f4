"""Whether a fan can stand where a scenario puts it."""

from __future__ import annotations

import math
from typing import Any

from ventplan.house.geometry import polygon
from ventplan.house.job import Job
from ventplan.house.records import OUTDOORS, Fan, House, Opening, Placement
from ventplan.house.standing import axis_height_m, setback_limit_m, standing_point
from ventplan.house.yaml_text import Path_


def check_placement(job: Job, house: House, path: Path_, placement: Placement) -> bool:
    """True for a fan that stands inside its room, clear of obstacles, at a height it reaches; notes why not."""
    opening, fan = house.openings[placement.opening], house.fans[placement.fan]
    for key, angle in (("turn", placement.turn_deg), ("tilt", placement.tilt_deg)):
        if abs(angle) >= 90.0:
            job.report((*path, key), f"{angle:g} deg", "less than 90 deg either way: the fan must face its opening")
            return False
    if placement.sealed:
        return check_sealed(job, path, placement, opening, fan)
    if opening.is_horizontal:
        job.report(
            path,
            f"{fan.name} set back from {opening.name}, which lies flat",
            "sealed: yes, or an opening in a wall",
        )
        return False
    height = check_height(job, house, path, placement, opening, fan)
    if height is None:
        return False
    if placement.stands_in == OUTDOORS or placement.stands_in not in house.rooms:
        return True
    return check_room(job, house, path, placement, opening, fan, height)


def check_sealed(job: Job, path: Path_, placement: Placement, opening: Opening, fan: Fan) -> bool:
    """True for a fan that may be sealed into its opening."""
    if not fan.can_seal:
        job.report((*path, "sealed"), f"{fan.name}, whose shape cannot be sealed in", "a fan with seals: yes",
                   f"If it can, write seals: yes under fans > {fan.name}")  # fmt: skip
        return False
    if fan.diameter_m > min(opening.width_m, opening.height_m) + 0.02:
        found = f"a fan of {fan.diameter_m:.2f} m in {opening.name}"
        found += f" of {opening.width_m:.2f} m by {opening.height_m:.2f} m"
        job.report((*path, "sealed"), found, "an opening at least as wide and as high as the fan")
        return False
    return True


def check_height(job: Job, house: House, path: Path_, placement: Placement, opening: Opening, fan: Fan) -> float | None:
    """The height of the axis [m], or None after noting that it is out of the fan's reach or the room."""
    height = axis_height_m(house, placement)
    radius = fan.diameter_m / 2.0
    room = house.rooms.get(placement.stands_in)
    if placement.height_m is not None:
        high = room.ceiling_m - radius if room else math.inf
        if not radius - 0.06 <= height <= high + 1e-9:
            limit = f"{radius:.2f} m to {high:.2f} m in {placement.stands_in}" if room else f"{radius:.2f} m or more"
            job.report((*path, "height"), f"{height:.2f} m for a fan of {fan.diameter_m:.2f} m",
                       f"{limit}: its blades between floor and ceiling")  # fmt: skip
            return None
        if not fan.lowest_m - 0.02 <= height <= fan.highest_m + 0.02:
            job.report(
                (*path, "height"),
                f"{height:.2f} m",
                f"{fan.lowest_m:.2f} m to {fan.highest_m:.2f} m, where {fan.name} can stand",
                f"If it reaches more, say so: heights: [lowest, highest] under fans > {fan.name}",
            )
            return None
    return height


def check_room(
    job: Job,
    house: House,
    path: Path_,
    placement: Placement,
    opening: Opening,
    fan: Fan,
    height_m: float,
) -> bool:
    """True for a fan inside its room and clear of obstacles, with nothing in its jet's way."""
    room, radius = placement.stands_in, fan.diameter_m / 2.0
    back, aside = placement.setback_m, placement.aside_m
    wall = setback_limit_m(house, room, opening, aside, radius_m=radius, past_obstacles=True)
    if back > wall + 0.01:
        key = "setback" if wall > 0.0 else "aside"
        if wall > 0.0:
            job.report(
                (*path, key),
                f"{back:.2f} m back from {opening.name}",
                f"up to {wall:.2f} m: then comes the wall of {room}",
            )
        else:
            job.report(
                (*path, key),
                f"a fan of {fan.diameter_m:.2f} m, {aside:.2f} m aside from the middle of {opening.name}",
                f"a place inside {room}: it would touch the wall beside the opening",
            )
        return False
    from shapely import Point as Spot

    spot = Spot(standing_point(opening, room, back, aside))
    for obstacle in house.obstacles.values():
        if obstacle.room != room:
            continue
        shape = polygon(obstacle.corners)
        gap = shape.distance(spot)
        if gap < radius - 0.01:
            free = setback_limit_m(house, room, opening, aside, radius_m=radius)
            job.report(
                (*path, "setback"),
                f"{back:.2f} m back from {opening.name}, "
                f"{'inside' if gap == 0.0 else f'{gap:.2f} m from'} {obstacle.name}",
                f"{radius:.2f} m clear of {obstacle.name}; "
                f"straight back from the opening {max(free - radius, 0.0):.2f} m are free",
            )
            return False
        if obstacle.height_m > height_m and shape.intersects(path_line(opening, room, spot)):
            job.report(
                (*path, "setback"),
                f"{obstacle.name}, {obstacle.height_m:.2f} m high, between {fan.name} and {opening.name}",
                f"nothing higher than the fan's axis at {height_m:.2f} m in between",
            )
            return False
    return True


def path_line(opening: Opening, room: str, spot: Any) -> Any:
    """The straight line from a fan to the middle of its opening."""
    from shapely import LineString

    return LineString([(spot.x, spot.y), opening.centre[:2]])
