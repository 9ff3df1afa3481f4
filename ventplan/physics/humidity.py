"""Humid air: saturation, dew point, humidity ratio, and the humidity that a surface sees."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

STANDARD_PRESSURE_PA = 101_325.0
"""Pressure of the air at sea level [Pa]."""

_WATER_TO_DRY_AIR = 0.621945
"""Ratio of the molar masses (ASHRAE Fundamentals 2021, ch. 1, eq. 20)."""


def saturation_pressure_pa(temperature_c: ArrayLike) -> Array:
    """Pressure of water vapour over water, or over ice below the triple point.

    Parameters
    ----------
    temperature_c
        Air temperature [°C], -100 to 200.

    Returns
    -------
    numpy.ndarray
        Saturation pressure [Pa], of the same shape.

    Notes
    -----
    ln p = C1/T + C2 + C3 T + C4 T^2 + C5 T^3 + C6 ln T over water, one term more over ice, T in kelvin.

    References
    ----------
    Hyland & Wexler 1983, as in ASHRAE Fundamentals 2021, ch. 1, eqs. 5 and 6.

    Examples
    --------
    >>> round(float(saturation_pressure_pa(20.0)))
    2339
    """
    celsius = np.asarray(temperature_c, dtype=float)
    t = celsius + 273.15
    log_t = np.log(t)
    water = (
        -5.8002206e3 / t + 1.3914993 - 4.8640239e-2 * t + 4.1764768e-5 * t**2 - 1.4452093e-8 * t**3
    ) + 6.5459673 * log_t
    ice = (-5.6745359e3 / t + 6.3925247 - 9.677843e-3 * t + 6.2215701e-7 * t**2 + 2.0747825e-9 * t**3) + (
        -9.484024e-13 * t**4 + 4.1635019 * log_t
    )
    return np.asarray(np.exp(np.where(celsius <= 0.01, ice, water)))


def dew_point_c(*, temperature_c: ArrayLike, relative_humidity: ArrayLike) -> Array:
    """Temperature at which the air's own vapour begins to condense.

    Parameters
    ----------
    temperature_c
        Air temperature [°C].
    relative_humidity
        Relative humidity [-], above 0 and up to 1.

    Returns
    -------
    numpy.ndarray
        Dew point [°C].

    Raises
    ------
    ValueError
        Where the relative humidity is not above 0 and up to 1.

    Notes
    -----
    Solves p_sat(t_dew) = relative humidity x p_sat(t) by bisection, which cannot fail on a rising function.

    Examples
    --------
    >>> round(float(dew_point_c(temperature_c=25.0, relative_humidity=0.5)), 1)
    13.9
    """
    share = np.asarray(relative_humidity, dtype=float)
    if np.any(~(share > 0.0) | (share > 1.0)):
        raise ValueError(f"relative humidity {relative_humidity}: it must be above 0 and at most 1 (100 %)")
    air = np.asarray(temperature_c, dtype=float)
    target = share * saturation_pressure_pa(air)
    low, high = np.full(target.shape, -100.0), np.broadcast_to(air, target.shape).astype(float)
    for _ in range(60):  # halves 200 K to below the last digit of a double
        middle = (low + high) / 2.0
        above = saturation_pressure_pa(middle) > target
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return np.asarray((low + high) / 2.0)


def humidity_ratio(
    *, temperature_c: ArrayLike, relative_humidity: ArrayLike, pressure_pa: float = STANDARD_PRESSURE_PA
) -> Array:
    """Mass of water carried by each kilogram of dry air.

    Parameters
    ----------
    temperature_c
        Air temperature [°C].
    relative_humidity
        Relative humidity [-], 0 to 1.
    pressure_pa
        Pressure of the air [Pa].

    Returns
    -------
    numpy.ndarray
        Humidity ratio [kg/kg].

    References
    ----------
    ASHRAE Fundamentals 2021, ch. 1, eq. 20: W = 0.621945 p_w / (p - p_w).
    """
    vapour = np.asarray(relative_humidity, dtype=float) * saturation_pressure_pa(temperature_c)
    return np.asarray(_WATER_TO_DRY_AIR * vapour / (pressure_pa - vapour))


def relative_humidity_at(
    *, temperature_c: ArrayLike, ratio: ArrayLike, pressure_pa: float = STANDARD_PRESSURE_PA
) -> Array:
    """Relative humidity of air of a given humidity ratio where it meets a temperature, such as a wall's.

    Parameters
    ----------
    temperature_c
        Temperature of the air or of the surface [°C].
    ratio
        Humidity ratio [kg/kg].
    pressure_pa
        Pressure of the air [Pa].

    Returns
    -------
    numpy.ndarray
        Relative humidity [-]; above 1 the vapour condenses there.

    References
    ----------
    ASHRAE Fundamentals 2021, ch. 1, eqs. 20 and 22, solved for the vapour pressure.
    """
    ratio = np.asarray(ratio, dtype=float)
    vapour = pressure_pa * ratio / (_WATER_TO_DRY_AIR + ratio)
    return np.asarray(vapour / saturation_pressure_pa(temperature_c))
