"""Loss coefficients of openings and their screens in one state of a house."""

from __future__ import annotations

from functools import lru_cache

from ventplan.house.records import OUTDOORS, Opening, Scenario, Screen
from ventplan.physics import air
from ventplan.physics.orifice import orifice_coefficients
from ventplan.physics.screen import screen_coefficients

Loss = tuple[float, float]


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


def plain_loss(scenario: Scenario, opening: Opening, place: str, density: float) -> Loss:
    """Loss coefficients of an opening and its screen for air from one place [Pa s/m], [Pa s2/m2]."""
    linear, quadratic = orifice_loss(opening.discharge, density)
    screen_linear, screen_quadratic = screen_loss(scenario, opening, density, temperature_at(scenario, place))
    return linear + screen_linear, quadratic + screen_quadratic


def temperature_at(scenario: Scenario, place: str) -> float:
    """Air temperature of a room or outdoors [°C]."""
    return scenario.outdoors.temperature_c if place == OUTDOORS else scenario.temperatures_c[place]
