"""Properties of air: density, viscosity, and humidity."""

from __future__ import annotations

import numpy as np

from ventplan.physics import Numbers

REFERENCE_DENSITY = 1.2
"""Density that rated flows and heats refer to [kg/m3] (ASHRAE standard air: 1.204)."""

SPECIFIC_HEAT = 1005.0
"""Specific heat of dry air at constant pressure [J/(kg K)]; with the reference density 1206 J/(m3 K)."""

ZERO_CELSIUS_K = 273.15
"""Absolute temperature of 0 °C [K]."""

_DRY_GAS_CONSTANT = 287.042  # J/(kg K), ASHRAE Handbook Fundamentals 2021, ch. 1.
_VAPOUR_GAS_CONSTANT = 461.524  # J/(kg K), the same.

STANDARD_PRESSURE_PA = 101_325.0
"""Pressure of the standard atmosphere at sea level [Pa] (ASHRAE Handbook Fundamentals 2021, ch. 1)."""

WATER_TO_DRY_AIR = 0.621945
"""Ratio of the molar masses of water and dry air [-] (ASHRAE Handbook Fundamentals 2021, ch. 1, eq. 20)."""


def atmospheric_pressure(*, altitude_m: Numbers) -> Numbers:
    """Pressure of the standard atmosphere, 101325 (1 - 2.25577e-5 z)^5.2559.

    Parameters
    ----------
    altitude_m
        Height above sea level z, -500 to 11000 [m].

    Returns
    -------
    Numbers
        Pressure [Pa].

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 1, eq. 3.
    """
    return STANDARD_PRESSURE_PA * (1.0 - 2.25577e-5 * altitude_m) ** 5.2559


def density(*, temperature_c: Numbers, altitude_m: Numbers = 0.0, relative_humidity: Numbers = 0.0) -> Numbers:
    """Density of moist air as a mixture of two ideal gases, (p_dry / R_dry + p_vapour / R_vapour) / T.

    Parameters
    ----------
    temperature_c
        Temperature [°C].
    altitude_m
        Height above sea level [m].
    relative_humidity
        Relative humidity, 0 to 1 [-].

    Returns
    -------
    Numbers
        Density [kg/m3].

    Examples
    --------
    >>> round(float(density(temperature_c=20.0)), 3)
    1.204
    """
    vapour = relative_humidity * saturation_pressure_pa(temperature_c)
    dry = atmospheric_pressure(altitude_m=altitude_m) - vapour
    per_kelvin = dry / _DRY_GAS_CONSTANT + vapour / _VAPOUR_GAS_CONSTANT
    mixture: Numbers = per_kelvin / (temperature_c + ZERO_CELSIUS_K)
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
    Sutherland, W. 1893, The viscosity of gases and molecular force; constants of the US Standard Atmosphere 1976.

    Examples
    --------
    >>> round(float(dynamic_viscosity(temperature_c=20.0)) * 1e6, 1)
    18.1
    """
    kelvin = temperature_c + ZERO_CELSIUS_K
    return 1.716e-5 * (kelvin / 273.15) ** 1.5 * (273.15 + 110.4) / (kelvin + 110.4)


def saturation_pressure_pa(temperature_c: Numbers) -> Numbers:
    """Saturation pressure of water vapour over water, or over ice below the triple point.

    Parameters
    ----------
    temperature_c
        Temperature, -100 to 200 [°C].

    Returns
    -------
    Numbers
        Saturation pressure [Pa].

    Notes
    -----
    ln p = C1/T + C2 + C3 T + C4 T^2 + C5 T^3 + C6 ln T over water, with one more term over ice; T in kelvin.

    References
    ----------
    Hyland & Wexler 1983, as in ASHRAE Handbook Fundamentals 2021, ch. 1, eqs. 5 and 6.

    Examples
    --------
    >>> round(float(saturation_pressure_pa(20.0)))
    2339
    """
    t = np.asarray(temperature_c) + ZERO_CELSIUS_K
    log_t = np.log(t)
    water = -5.8002206e3 / t + 1.3914993 - 4.8640239e-2 * t + 4.1764768e-5 * t**2 - 1.4452093e-8 * t**3
    ice = -5.6745359e3 / t + 6.3925247 - 9.677843e-3 * t + 6.2215701e-7 * t**2 + 2.0747825e-9 * t**3
    over_water = water + 6.5459673 * log_t
    over_ice = ice - 9.484024e-13 * t**4 + 4.1635019 * log_t
    pressure: Numbers = np.exp(np.where(t < 273.16, over_ice, over_water))
    return pressure


def dew_point(*, temperature_c: Numbers, relative_humidity: Numbers) -> Numbers:
    """Temperature at which the vapour of the air begins to condense, or below freezing to form frost.

    Parameters
    ----------
    temperature_c
        Air temperature, -50 to 100 [°C].
    relative_humidity
        Relative humidity, above 0 and up to 1 [-].

    Returns
    -------
    Numbers
        Dew point [°C].

    Raises
    ------
    ValueError
        If the relative humidity is outside its range.

    Notes
    -----
    Solves saturation pressure(dew point) = relative humidity x saturation pressure(temperature), by steps along the
    slope d ln p / d(1/T) = -L / R of water vapour.

    Examples
    --------
    >>> round(float(dew_point(temperature_c=25.0, relative_humidity=0.5)), 1)
    13.9
    """
    share = np.asarray(relative_humidity, dtype=float)
    if np.any(~(share > 0.0) | (share > 1.0)):
        raise ValueError(f"relative humidity {relative_humidity}: it must be above 0 and at most 1 (100 %)")
    target = share * saturation_pressure_pa(temperature_c)
    kelvin = np.broadcast_to(np.asarray(temperature_c, dtype=float) + ZERO_CELSIUS_K, target.shape)
    for _ in range(30):  # ln p is nearly straight over 1/T, so that each step leaves a few hundredths of the error
        excess = np.log(saturation_pressure_pa(kelvin - ZERO_CELSIUS_K) / target)
        kelvin = 1.0 / (1.0 / kelvin + excess / np.where(kelvin < 273.16, 6140.0, 5350.0))
        if np.all(np.abs(excess) < 1e-13):
            break
    dew: Numbers = kelvin - ZERO_CELSIUS_K
    return dew


def humidity_ratio(*, temperature_c: Numbers, relative_humidity: Numbers) -> Numbers:
    """Mass of water per mass of dry air at sea level, 0.621945 p_w / (p - p_w).

    Parameters
    ----------
    temperature_c
        Air temperature [°C].
    relative_humidity
        Relative humidity, 0 to 1 [-].

    Returns
    -------
    Numbers
        Humidity ratio [kg/kg].

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 1, eq. 20.
    """
    vapour = relative_humidity * saturation_pressure_pa(temperature_c)
    return WATER_TO_DRY_AIR * vapour / (STANDARD_PRESSURE_PA - vapour)


def relative_humidity_at(*, temperature_c: Numbers, ratio: Numbers) -> Numbers:
    """Relative humidity of air of a given humidity ratio at some temperature, at sea level.

    Parameters
    ----------
    temperature_c
        Temperature of the air, or of a surface that it touches [°C].
    ratio
        Humidity ratio [kg/kg].

    Returns
    -------
    Numbers
        Relative humidity [-]; above 1 the vapour condenses.

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 1, eq. 20, solved for the vapour pressure.
    """
    vapour = STANDARD_PRESSURE_PA * ratio / (WATER_TO_DRY_AIR + ratio)
    return vapour / saturation_pressure_pa(temperature_c)
