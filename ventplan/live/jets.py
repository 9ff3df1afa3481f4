"""The jet of each fan as it widens towards its own opening, from the solver's own figures, without solving again."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from ventplan.house import House, Placement, Scenario
from ventplan.house.fan_pose import fan_pose
from ventplan.house.frames import free_rectangle, normal_from
from ventplan.network.rays import fan_of, path_to, ray_of
from ventplan.network.weather import densities
from ventplan.physics.jet_path import jet_at_plane

SLICES = 10
"""Parts that a jet is drawn in."""


def fan_jets(house: House, scenario: Scenario) -> list[dict[str, Any]]:
    """Where each fan stands and how its jet runs; the jet is missing where it does not reach its opening.

    Parameters
    ----------
    house, scenario
        The house and its state.
    """
    density = densities(house, scenario) if scenario.placements else {}
    return [_jet(house, scenario, p, density[p.stands_in]) for p in scenario.placements]


def _jet(house: House, scenario: Scenario, placement: Placement, density: float) -> dict[str, Any]:
    opening = house.openings[placement.opening]
    free = free_rectangle(opening, scenario.shares[opening.name])
    nx, ny = normal_from(opening, placement.stands_in)
    pose = fan_pose(house, placement, scenario.shares[opening.name])
    level = math.hypot(pose.dx, pose.dy) or 1.0
    found: dict[str, Any] = {
        "fan": placement.fan,
        "opening": placement.opening,
        "stands_in": placement.stands_in,
        "at": [pose.x, pose.y],
        "way": [pose.dx / level, pose.dy / level],
        "radius_m": fan_of(house, placement).diameter_m / 2.0,
        "sealed": placement.sealed,
        "low": [],
        "high": [],
        "reach_m_s": None,
    }
    if placement.sealed or opening.is_horizontal:
        return found
    ray = ray_of(house, placement, scenario.shares[opening.name], density)
    path = path_to(house, ray, opening, free)
    if path is None or scenario.shares[opening.name] <= 0.0:
        return found
    width = opening.width_m or 1.0
    ux, uy = (opening.end[0] - opening.start[0]) / width, (opening.end[1] - opening.start[1]) / width
    turn = math.tan(math.radians(path.turn_deg))
    for i in range(SLICES + 1):
        travelled = path.setback_m * i / SLICES
        jet = jet_at_plane(source=ray.source, path=replace(path, setback_m=travelled))
        left, aside = path.setback_m - travelled, path.y_m + travelled * turn
        for side, edge in (("low", aside - jet.y_edge_m), ("high", aside + jet.y_edge_m)):
            found[side].append([free.x - nx * left + ux * edge, free.y - ny * left + uy * edge])
    widths = jet.y_half_width_m * jet.z_half_width_m
    found["reach_m_s"] = math.sqrt(2.0 * jet.momentum_n / (math.pi * density * widths))
    return found
