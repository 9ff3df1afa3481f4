"""Humid air: dew point, humidity ratio, and the humidity that a surface sees."""

from __future__ import annotations

import numpy as np

from ventplan.physics.air import saturation_pressure
from ventplan.physics.arrays import Numbers

STANDARD_PRESSURE_PA = 101_325.0
"""Pressure of the standard atmosphere at sea level [Pa] (ASHRAE Fundamentals 2021, ch. 1)."""

WATER_TO_DRY_AIR = 0.621945
"""Ratio of the molar masses of water and dry air [-] (ASHRAE Fundamentals 2021, ch. 1, eq. 20)."""


def dew_point(*, temperature_c: Numbers, relative_humidity: Numbers) -> Numbers:
    """Temperature at which the air's own vapour begins to condense, 243.12 x / (17.62 - x).

    Parameters
    ----------
    temperature_c
        Air temperature, -45 to 60 [°C].
    relative_humidity
        Relative humidity [-], above 0 and up to 1.

    Returns
    -------
    Numbers
        Dew point [°C], over water also below freezing.

    Raises
    ------
    ValueError
        Where the relative humidity is not above 0 and up to 1.

    Notes
    -----
    x = ln(vapour pressure / 611.2 Pa): the inverse of `ventplan.physics.air.saturation_pressure`.

    References
    ----------
    World Meteorological Organization, Guide to Instruments and Methods of Observation (WMO No. 8), annex 4.B.

    Examples
    --------
    >>> round(float(dew_point(temperature_c=25.0, relative_humidity=0.5)), 1)
    13.9
    """
    if np.any(~(np.asarray(relative_humidity) > 0.0) | (np.asarray(relative_humidity) > 1.0)):
        raise ValueError(f"relative humidity {relative_humidity}: it must be above 0 and at most 1 (100 %)")
    x = np.log(relative_humidity * saturation_pressure(temperature_c=temperature_c) / 611.2)
    dew: Numbers = 243.12 * x / (17.62 - x)
    return dew


def humidity_ratio(
    *, temperature_c: Numbers, relative_humidity: Numbers, pressure_pa: Numbers = STANDARD_PRESSURE_PA
) -> Numbers:
    """Mass of water carried by each kilogram of dry air, 0.621945 p_w / (p - p_w).

    Parameters
    ----------
    temperature_c
        Air temperature, -45 to 60 [°C].
    relative_humidity
        Relative humidity [-], 0 to 1.
    pressure_pa
        Pressure of the air [Pa].

    Returns
    -------
    Numbers
        Humidity ratio [kg/kg].

    References
    ----------
    ASHRAE Fundamentals 2021, ch. 1, eq. 20.
    """
    vapour = relative_humidity * saturation_pressure(temperature_c=temperature_c)
    return WATER_TO_DRY_AIR * vapour / (pressure_pa - vapour)


def relative_humidity_at(
    *, temperature_c: Numbers, ratio: Numbers, pressure_pa: Numbers = STANDARD_PRESSURE_PA
) -> Numbers:
    """Relative humidity that air of a given humidity ratio has at a temperature, such as that of a wall.

    Parameters
    ----------
    temperature_c
        Temperature of the air or of the surface, -45 to 60 [°C].
    ratio
        Humidity ratio [kg/kg].
    pressure_pa
        Pressure of the air [Pa].

    Returns
    -------
    Numbers
        Relative humidity [-]; above 1 the vapour condenses there.

    References
    ----------
    ASHRAE Fundamentals 2021, ch. 1, eq. 20, solved for the vapour pressure.
    """
    vapour = pressure_pa * ratio / (WATER_TO_DRY_AIR + ratio)
    return vapour / saturation_pressure(temperature_c=temperature_c)
