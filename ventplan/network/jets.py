"""Which openings the jets of a scenario reach, and how.

A fan's jet is a ray through the room it stands in. It meets the opening it is blown at, openings beside that in the
same wall, and, with what is left of it, the next opening in line in the room behind.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ventplan.house.frames import FreeRectangle, free_rectangle, tangent_of
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Room, Scenario
from ventplan.network.rays import Ray, path_to, ray_of, room_outline
from ventplan.physics.arrival import Arrival, arrive, carry_on
from ventplan.physics.plume import Plume, plume_at_plane

if TYPE_CHECKING:
    pass

SAME_WALL_M = 0.35
"""Openings whose planes are closer than this, and parallel, are in the same wall [m]."""
LEAST_SHARE = 0.02
"""A jet that brings less than this share of its momentum to an opening leaves it alone [-]."""
MAX_IN_LINE = 3
"""How many openings in line one jet is followed through."""


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
        plume = plume_at_plane(source=ray.source, path=path)
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
    tx, ty = tangent_of(passed)
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
        plume = plume_at_plane(source=source, path=path)
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
    return bool(room_outline(room.corners).buffer(0.3).covers(line))


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
