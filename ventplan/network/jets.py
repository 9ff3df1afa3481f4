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
from ventplan.physics.jet_capture import JetCapture, capture_jets, jet_behind
from ventplan.physics.jet_path import JetAtPlane, jet_at_plane

if TYPE_CHECKING:
    pass

SAME_WALL_M = 0.35
"""Openings whose planes are closer than this, and parallel, are in the same wall [m]."""
LEAST_SHARE = 0.02
"""A jet that brings less than this share of its momentum to an opening leaves it alone [-]."""
MAX_IN_LINE = 3
"""How many openings in line one jet is followed through."""


@dataclass(frozen=True)
class JetAtOpening:
    """A jet at an opening that it reaches.

    Attributes
    ----------
    opening
        Name of the opening.
    stands_in
        The side it comes from.
    at_plane
        The jet in the plane.
    ray
        Where it came from.
    after
        Name of the opening it passed before, or empty for a fan's own target and its neighbours.
    """

    opening: str
    stands_in: str
    at_plane: JetAtPlane
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


def jets_of_fan(house: House, scenario: Scenario, placement: Placement, density: float) -> list[JetAtOpening]:
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
    list of JetAtOpening
        The target first.
    """
    target = house.openings[placement.opening]
    ray = ray_of(house, placement, scenario.shares[target.name], density)
    jets = []
    for opening, free in _open_openings(house, scenario, placement.stands_in):
        if opening.name != target.name and not _same_wall(opening, target):
            continue
        path = path_to(house, ray, opening, free)
        if path is None:
            continue
        at_plane = jet_at_plane(source=ray.source, path=path)
        if opening.name == target.name or _share(at_plane, free, density) > LEAST_SHARE:
            jets.append(JetAtOpening(opening.name, placement.stands_in, at_plane, ray))
    return sorted(jets, key=lambda jet: jet.opening != target.name)


def _share(jet: JetAtPlane, free: FreeRectangle, density: float) -> float:
    capture = capture_jets(jets=[jet], width_m=free.width_m, height_m=free.height_m, density=density)
    return capture.momentum_n / max(jet.momentum_n, 1e-12)


def jet_in_line(
    house: House, scenario: Scenario, jet: JetAtOpening, *, flow_m3_s: float, momentum_n: float, density: float
) -> JetAtOpening | None:
    """The next opening that a jet reaches after it has passed one.

    Parameters
    ----------
    house, scenario
        The house and its state.
    jet
        The jet at the opening that it passes.
    flow_m3_s, momentum_n
        Flow and momentum that leave that opening with the jet [m3/s], [N].
    density
        Density of the air there [kg/m3].

    Returns
    -------
    JetAtOpening or None
        None where it meets no open opening, or leaves the house.
    """
    passed = house.openings[jet.opening]
    place = passed.other(jet.stands_in)
    if place == OUTDOORS or flow_m3_s <= 1e-9 or momentum_n <= 1e-9:
        return None
    free = free_rectangle(passed, scenario.shares[passed.name])
    tx, ty = tangent_of(passed)
    source = jet_behind(
        capture=JetCapture(flow_m3_s, momentum_n, free.area_m2, 0.0),
        width_m=free.width_m,
        height_m=free.height_m,
        spread=jet.ray.source.spread,
        density=density,
    )
    y_end = min(max(jet.at_plane.y_m, -free.width_m / 2.0), free.width_m / 2.0)
    z_end = min(max(jet.at_plane.z_m, -free.height_m / 2.0), free.height_m / 2.0)
    ray = replace(jet.ray, place=place, x=free.x + y_end * tx, y=free.y + y_end * ty, z=free.z + z_end, source=source)
    best: JetAtOpening | None = None
    nearest = math.inf
    for opening, target in _open_openings(house, scenario, place):
        path = None if opening.name == passed.name else path_to(house, ray, opening, target)
        if path is None or path.setback_m >= nearest or not _in_sight(house.rooms[place], ray, path.setback_m):
            continue
        at_plane = jet_at_plane(source=source, path=path)
        if _share(at_plane, target, density) > LEAST_SHARE:
            best, nearest = JetAtOpening(opening.name, place, at_plane, ray, after=passed.name), path.setback_m
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


def captures_at(
    house: House, scenario: Scenario, jets: Iterable[JetAtOpening], densities: Mapping[str, float]
) -> dict[tuple[str, str], JetCapture]:
    """What all jets together bring to each opening, from each side.

    Parameters
    ----------
    house, scenario
        The house and its state.
    jets
        All jets at openings.
    densities
        Density of the air by place [kg/m3].

    Returns
    -------
    dict
        By opening and the side that the jets come from.
    """
    grouped: dict[tuple[str, str], list[JetAtPlane]] = {}
    for jet in jets:
        grouped.setdefault((jet.opening, jet.stands_in), []).append(jet.at_plane)
    found = {}
    for (name, place), together in grouped.items():
        free = free_rectangle(house.openings[name], scenario.shares[name])
        found[name, place] = capture_jets(
            jets=together, width_m=free.width_m, height_m=free.height_m, density=densities[place]
        )
    return found
