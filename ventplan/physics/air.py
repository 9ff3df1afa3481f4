"""Properties of air: density, viscosity, pressure of the atmosphere."""

from __future__ import annotations

from ventplan.physics.arrays import Numbers
from ventplan.physics.humidity import saturation_pressure_pa

REFERENCE_DENSITY = 1.2
"""Density that rated flows and heats refer to [kg/m3] (dry air at 21 °C at sea level; ASHRAE standard air
1.204)."""

SPECIFIC_HEAT = 1005.0
"""Specific heat of dry air at constant pressure [J/(kg K)]; with the reference density 1206 J/(m3 K)."""

ZERO_CELSIUS_K = 273.15
"""Absolute temperature of 0 °C [K]."""

_DRY_GAS_CONSTANT = 287.042  # J/(kg K), ASHRAE Handbook Fundamentals 2021, ch. 1.
_VAPOUR_GAS_CONSTANT = 461.524  # J/(kg K), the same.


def atmospheric_pressure(*, altitude_m: Numbers) -> Numbers:
    """Pressure of the standard atmosphere, 101325 (1 - 2.25577e-5 z)^5.2559.

    Parameters
    ----------
    altitude_m
        Height above the sea, -500 to 11000 [m].

    Returns
    -------
    Numbers
        Pressure [Pa].

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 1, eq. 3.
    """
    return 101325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.2559


def density(*, temperature_c: Numbers, altitude_m: Numbers = 0.0, relative_humidity: Numbers = 0.0) -> Numbers:
    """Density of moist air as a mixture of two ideal gases.

    Parameters
    ----------
    temperature_c
        Temperature [°C].
    altitude_m
        Height above the sea [m].
    relative_humidity
        Relative humidity [-], 0 to 1.

    Returns
    -------
    Numbers
        Density [kg/m3].

    Examples
    --------
    >>> round(float(density(temperature_c=20.0)), 3)
    1.204
    """
    kelvin = temperature_c + ZERO_CELSIUS_K
    vapour = relative_humidity * saturation_pressure_pa(temperature_c)
    dry = atmospheric_pressure(altitude_m=altitude_m) - vapour
    mixture: Numbers = (dry / _DRY_GAS_CONSTANT + vapour / _VAPOUR_GAS_CONSTANT) / kelvin
    return mixture


def dynamic_viscosity(*, temperature_c: Numbers) -> Numbers:
    """Dynamic viscosity of air, 1.716e-5 (T / 273.15)^1.5 (273.15 + 110.4) / (T + 110.4).

    Parameters
    ----------
    temperature_c
        Temperature, -50 to 200 [°C].

    Returns
    -------
    Numbers
        Dynamic viscosity [Pa s].

    References
    ----------
    Sutherland, W. 1893, The viscosity of gases and molecular force; constants of the US Standard Atmosphere
    1976.

    Examples
    --------
    >>> round(float(dynamic_viscosity(temperature_c=20.0)) * 1e6, 1)
    18.1
    """
    kelvin = temperature_c + ZERO_CELSIUS_K
    return 1.716e-5 * (kelvin / 273.15) ** 1.5 * (273.15 + 110.4) / (kelvin + 110.4)
