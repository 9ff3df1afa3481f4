"""The strips and cracks of each opening in one state of a house: losses, offsets, and what jets add; leaks of walls."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from ventplan.house.geometry import free_rectangle, normal_from, opening_sides, point, polygon, rise_per_m
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Point, Scenario, Screen
from ventplan.network.jets import fan_of
from ventplan.network.links import Crack, Strip
from ventplan.network.weather import wall_leaks
from ventplan.physics import air
from ventplan.physics.buoyancy import GRAVITY_M_S2, stack_gradient
from ventplan.physics.fan import sealed_coefficients
from ventplan.physics.jet_capture import JetCapture
from ventplan.physics.orifice import CRACK_EXPONENT, confined_loss_ratio, orifice_coefficients
from ventplan.physics.screen import screen_coefficients

Loss = tuple[float, float]

NO_FLOW: Loss = (1e9, 1e9)
"""Loss in a direction in which a strip lets no air pass [Pa s/m], [Pa s2/m2]."""


def screen_loss(scenario: Scenario, opening: Opening, density: float, temperature_c: float) -> Loss:
    """Loss coefficients of the screen of an opening on the face velocity, (0, 0) if it is not in place.

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
def _orifice_loss(discharge: float, density: float) -> Loss:
    """Loss coefficients of a plain opening [Pa s/m], [Pa s2/m2]."""
    linear, quadratic = orifice_coefficients(discharge=discharge, density=density)
    return float(linear), float(quadratic)


def _plain_loss(house: House, scenario: Scenario, opening: Opening, place: str, density: float) -> Loss:
    """Loss coefficients of an opening and its screen for air from one place, on the face velocity.

    The discharge coefficient of a house file is that of a hole between two large spaces. Between rooms that are not
    much wider than the opening the loss is smaller (`ventplan.physics.orifice.confined_loss_ratio`). A shaft is a duct,
    and keeps its coefficient.
    """
    linear, quadratic = _orifice_loss(opening.discharge, density)
    if opening.kind != "shaft":
        area = free_rectangle(opening, scenario.shares[opening.name]).area_m2
        before, after = (area / cross_section_m2(house, opening, p, area) for p in (place, opening.other(place)))
        quadratic *= confined_loss_ratio(upstream=before, downstream=after)
    screen_linear, screen_quadratic = screen_loss(scenario, opening, density, temperature_at(scenario, place))
    return linear + screen_linear, quadratic + screen_quadratic


MIXING_LENGTHS = 4.0
"""Depth of a room over which its cross-section at an opening is averaged, in square roots of the free area [-]."""


def cross_section_m2(house: House, opening: Opening, place: str, area_m2: float) -> float:
    """Cross-section of a room parallel to an opening, where the air contracts towards it or mixes behind it.

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
        a horizontal opening; infinite outdoors [m2]. Furniture is not subtracted.
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
    """Mean width of an outline over a depth from a wall inwards [m], without what lies round a corner."""
    (x, y), (nx, ny) = at, inwards
    extent = max((cx - x) * nx + (cy - y) * ny for cx, cy in corners)
    depth, far = min(depth_m, max(extent, 0.1)), 1e3
    wall = [(x - ny * side * far, y + nx * side * far) for side in (-1.0, 1.0)]
    band = polygon([*wall, *((wx + nx * depth, wy + ny * depth) for wx, wy in reversed(wall))])
    found = band.intersection(polygon(corners))
    pieces = getattr(found, "geoms", [found])
    spot = point((x + nx * depth / 2.0, y + ny * depth / 2.0))
    return float(min(pieces, key=spot.distance).area) / depth


def temperature_at(scenario: Scenario, place: str) -> float:
    """Air temperature of a room or outdoors [°C]."""
    return scenario.outdoors.temperature_c if place == OUTDOORS else scenario.temperatures_c[place]


def opening_links(
    house: House,
    scenario: Scenario,
    name: str,
    density: Mapping[str, float],
    wind_pa: Mapping[str, float],
    captured: Mapping[tuple[str, str], JetCapture],
) -> tuple[list[Strip], list[Crack]]:
    """The strips and cracks of one opening.

    Parameters
    ----------
    house, scenario
        The house and its state.
    name
        The opening.
    density
        Density of the air by place [kg/m3].
    wind_pa
        Wind pressure by external opening [Pa].
    captured
        What openings capture of jets, by opening and side.

    Returns
    -------
    tuple of list
        Strips of an open opening or of fans sealed into it; a crack if it is shut or sealed.
    """
    opening = house.openings[name]
    places = (*house.rooms, OUTDOORS)
    a, b = opening.joins
    ends: dict[str, Any] = {
        "owner": list(house.openings).index(name),
        "a": places.index(a),
        "b": places.index(b),
        "density_a": density[a],
        "density_b": density[b],
        "wind_pa": -wind_pa.get(name, 0.0),
        "stack_pa": stack_offset_pa(opening, scenario, density),
    }
    sealed = [p for p in scenario.placements if p.sealed and p.opening == name]
    if not sealed and scenario.shares[name] > 0.0:
        return list(_open_strips(house, scenario, opening, density, captured, ends)), []
    strips = [_sealed_strip(house, scenario, opening, p, density, ends) for p in sealed]
    if opening.leak_m3_s <= 0.0:
        return strips, []
    crack = Crack(coefficient=opening.leak_m3_s, exponent=opening.leak_exponent, **ends)
    return strips, [crack]


def stack_offset_pa(opening: Opening, scenario: Scenario, density: Mapping[str, float]) -> float:
    """What the weight of the air adds to the pressure difference across an opening.

    Parameters
    ----------
    opening
        The opening.
    scenario
        The state of the house.
    density
        Density of the air by place [kg/m3].

    Returns
    -------
    float
        -g (rho_a - rho_b) z at the middle of the free part [Pa]; for a shaft from z up to its top,
        -g [rho_a z + rho_shaft (top - z) - rho_b top].

    Notes
    -----
    The air in a shaft keeps its temperature whichever way it flows. Cooling by a downdraught is not modelled, so a
    real chimney that has reversed may stay reversed where this says that it recovers.
    """
    a, b = opening.joins
    share = scenario.shares[opening.name]
    low = free_rectangle(opening, share).z if share > 0.0 else opening.centre[2]
    top = low if opening.top_m is None else opening.top_m
    column = density[a]
    if opening.column_c is not None:
        column = float(air.density(temperature_c=opening.column_c, altitude_m=scenario.outdoors.altitude_m))
    return -GRAVITY_M_S2 * (density[a] * low + column * (top - low) - density[b] * top)


def _open_strips(
    house: House,
    scenario: Scenario,
    opening: Opening,
    density: Mapping[str, float],
    captured: Mapping[tuple[str, str], JetCapture],
    ends: Mapping[str, Any],
) -> Iterator[Strip]:
    """The strips of an open opening: the part covered by jets from each side, and the rest.

    Beside a jet the rest is two strips that each pass air one way: against the jet only above the drag of its edge.
    """
    free = free_rectangle(opening, scenario.shares[opening.name])
    a, b = opening.joins
    loss_a = _plain_loss(house, scenario, opening, a, density[a])
    loss_b = _plain_loss(house, scenario, opening, b, density[b])
    width, height = opening_sides(opening, free)
    gradient = rise_per_m(house, opening) * float(stack_gradient(density_a=density[a], density_b=density[b]))
    jets = {place: captured[opening.name, place] for place in (a, b) if (opening.name, place) in captured}
    covered = sum(jet.covered_m2 for jet in jets.values())
    fit = min(1.0, free.area_m2 / covered) if covered > 0.0 else 1.0
    rise = sum(_sign(opening, place) * jet.pressure_rise_pa for place, jet in jets.items())

    for place, jet in jets.items():
        share = fit * jet.covered_m2 / free.area_m2
        if share <= 1e-6:
            continue
        screen_linear, screen_quadratic = screen_loss(
            scenario, opening, density[place], temperature_at(scenario, place)
        )
        push, quadratic = jet.covered_coefficients(density=density[place], screened=screen_quadratic > 0.0)
        laminar, _ = _orifice_loss(opening.discharge, density[place])
        loss = (laminar + screen_linear, quadratic + screen_quadratic)
        fan_pa = rise + _sign(opening, place) * push
        strip = _strip(ends, width * share, height, loss, loss, gradient, fan_pa)
        yield replace(strip, jet_from=strip.a if place == a else strip.b)
    rest = width * (1.0 - fit * covered / free.area_m2)
    drag = sum(_sign(opening, place) * jet.drag_pa for place, jet in jets.items())
    if rest <= 1e-6 * width:
        return
    if drag == 0.0:
        yield _strip(ends, rest, height, loss_a, loss_b, gradient, rise)
        return
    yield _strip(ends, rest, height, loss_a, NO_FLOW, gradient, rise + min(drag, 0.0))
    yield _strip(ends, rest, height, NO_FLOW, loss_b, gradient, rise + max(drag, 0.0))


def _sign(opening: Opening, place: str) -> float:
    return 1.0 if opening.joins[0] == place else -1.0


def _strip(
    ends: Mapping[str, Any],
    width_m: float,
    height_m: float,
    loss_a: Loss,
    loss_b: Loss,
    gradient_pa_m: float,
    fan_pa: float,
) -> Strip:
    return Strip(
        width_m=width_m,
        height_m=height_m,
        linear_a=loss_a[0],
        quadratic_a=loss_a[1],
        linear_b=loss_b[0],
        quadratic_b=loss_b[1],
        gradient_pa_m=gradient_pa_m,
        fan_pa=fan_pa,
        **ends,
    )


def _sealed_strip(
    house: House,
    scenario: Scenario,
    opening: Opening,
    placement: Placement,
    density: Mapping[str, float],
    ends: Mapping[str, Any],
) -> Strip:
    """A fan sealed into an opening: its pressure curve in series with the screen, over the area of its blades."""
    fan, place = fan_of(house, placement), placement.stands_in
    area = min(math.pi * fan.diameter_m**2 / 4.0, opening.area_m2)
    linear, quadratic = sealed_coefficients(flow_m3_s=fan.flow_m3_s, shutoff_pa=fan.shutoff_pa, area_m2=area)
    screen_linear, screen_quadratic = screen_loss(scenario, opening, density[place], temperature_at(scenario, place))
    loss = (float(linear) + screen_linear, float(quadratic) + screen_quadratic)
    return _strip(ends, area, 1.0, loss, loss, 0.0, _sign(opening, place) * fan.shutoff_pa)


def wall_cracks(house: House, scenario: Scenario, density: Mapping[str, float]) -> list[Crack]:
    """Leaks of the outside walls of rooms: distributed over their directions by area, half low and half high.

    Parameters
    ----------
    house, scenario
        The house and its state.
    density
        Density of the air by place [kg/m3].

    Returns
    -------
    list of Crack
        From the rooms to outdoors, each with the wind pressure of its walls.
    """
    outside = density[OUTDOORS]
    node = {name: i for i, name in enumerate((*house.rooms, OUTDOORS))}
    return [
        Crack(
            owner=-1,
            a=node[name],
            b=node[OUTDOORS],
            coefficient=house.rooms[name].leak_m3_s * part / 2.0,
            exponent=CRACK_EXPONENT,
            density_a=density[name],
            density_b=outside,
            wind_pa=-pressure_pa,
            stack_pa=-GRAVITY_M_S2
            * (density[name] - outside)
            * (house.rooms[name].floor_m + height * house.rooms[name].ceiling_m),
        )
        for name, walls in wall_leaks(house, scenario).items()
        for part, pressure_pa in walls
        for height in (0.25, 0.75)
    ]
