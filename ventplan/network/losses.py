"""Loss coefficients of openings and their screens in one state of a house."""

from __future__ import annotations

import math
from functools import lru_cache

from ventplan.house.frames import free_rectangle, normal_from
from ventplan.house.geometry import polygon
from ventplan.house.records import OUTDOORS, House, Opening, Point, Scenario, Screen
from ventplan.physics import air
from ventplan.physics.orifice import confined_loss_ratio, orifice_coefficients
from ventplan.physics.screen import screen_coefficients

Loss = tuple[float, float]

NO_FLOW: Loss = (1e9, 1e9)
"""Loss of a strip that lets no air pass in a direction [Pa s/m], [Pa s2/m2]."""


def screen_loss(scenario: Scenario, opening: Opening, density: float, temperature_c: float) -> Loss:
    """Loss coefficients of an opening's screen where it is in place, on the speed over the free area.

    Parameters
    ----------
    scenario
        The state of the house.
    opening
        The opening.
    density
        Density of the air that passes [kg/m3].
    temperature_c
        Its temperature [°C].

    Returns
    -------
    tuple of float
        Linear [Pa s/m] and quadratic [Pa s2/m2].
    """
    if opening.screen is None or opening.name not in scenario.screened:
        return 0.0, 0.0
    return _woven_loss(opening.screen, density, temperature_c)


@lru_cache(maxsize=512)
def _woven_loss(screen: Screen, density: float, temperature_c: float) -> Loss:
    linear, quadratic = screen_coefficients(
        open_area_ratio=screen.open_area_ratio,
        wire_m=screen.wire_m,
        density=density,
        dynamic_viscosity_pa_s=float(air.dynamic_viscosity(temperature_c=temperature_c)),
    )
    return float(linear), float(quadratic)


@lru_cache(maxsize=512)
def orifice_loss(discharge: float, density: float) -> Loss:
    """Loss coefficients of a plain hole, made once for each pair [Pa s/m], [Pa s2/m2]."""
    linear, quadratic = orifice_coefficients(discharge=discharge, density=density)
    return float(linear), float(quadratic)


def plain_loss(house: House, scenario: Scenario, opening: Opening, place: str, density: float) -> Loss:
    """Loss coefficients of an opening and its screen for air from one place.

    Parameters
    ----------
    house, scenario
        The house and its state.
    opening
        The opening.
    place
        Where the air comes from, a room or outdoors.
    density
        Its density [kg/m3].

    Returns
    -------
    tuple of float
        Linear [Pa s/m] and quadratic [Pa s2/m2], on the speed over the free area.

    Notes
    -----
    The discharge coefficient of a house file is that of a hole between two large spaces. Between rooms that are not
    much wider than the opening it loses less (`ventplan.physics.orifice.confined_loss_ratio`). A shaft is a duct of its
    own, and keeps its coefficient.
    """
    linear, quadratic = orifice_loss(opening.discharge, density)
    if opening.kind != "shaft":
        area = free_rectangle(opening, scenario.shares[opening.name]).area_m2
        before, after = (area / cross_section_m2(house, opening, p, area) for p in (place, opening.other(place)))
        quadratic *= confined_loss_ratio(upstream=before, downstream=after)
    screen_linear, screen_quadratic = screen_loss(scenario, opening, density, temperature_at(scenario, place))
    return linear + screen_linear, quadratic + screen_quadratic


MIXING_LENGTHS = 4.0
"""Depth of a room, in square roots of the area of an opening, over which its cross-section counts there [-]."""


def cross_section_m2(house: House, opening: Opening, place: str, area_m2: float) -> float:
    """Cross-section of a room square to an opening, where the air narrows towards it or mixes behind it.

    Parameters
    ----------
    house
        The house.
    opening
        The opening.
    place
        The room, or outdoors.
    area_m2
        Free area of the opening [m2].

    Returns
    -------
    float
        Mean clear width over the first `MIXING_LENGTHS` sqrt(area) of the room, times its height; the floor area at
        an opening that lies flat; infinite outdoors [m2]. Furniture is not subtracted.
    """
    if place == OUTDOORS:
        return math.inf
    room = house.rooms[place]
    if opening.is_horizontal:
        return room.area_m2
    x, y, _ = opening.centre
    nx, ny = normal_from(opening, opening.other(place))
    return _mean_width_m(room.corners, (x, y), (nx, ny), MIXING_LENGTHS * math.sqrt(area_m2)) * room.ceiling_m


@lru_cache(maxsize=4096)
def _mean_width_m(corners: tuple[Point, ...], at: Point, inwards: Point, depth_m: float) -> float:
    """Mean width of an outline over a depth from a wall inwards [m]; what lies round a corner does not count."""
    from shapely import Point as Spot

    (x, y), (nx, ny) = at, inwards
    extent = max((cx - x) * nx + (cy - y) * ny for cx, cy in corners)
    depth, far = min(depth_m, max(extent, 0.1)), 1e3
    wall = [(x - ny * side * far, y + nx * side * far) for side in (-1.0, 1.0)]
    band = polygon([*wall, *((wx + nx * depth, wy + ny * depth) for wx, wy in reversed(wall))])
    found = band.intersection(polygon(corners))
    pieces = getattr(found, "geoms", [found])
    spot = Spot(x + nx * depth / 2.0, y + ny * depth / 2.0)
    return float(min(pieces, key=spot.distance).area) / depth


def temperature_at(scenario: Scenario, place: str) -> float:
    """Air temperature of a room or outdoors [°C]."""
    return scenario.outdoors.temperature_c if place == OUTDOORS else scenario.temperatures_c[place]
