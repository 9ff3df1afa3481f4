"""Stack effect by the formulas of handbooks: column pressure, neutral level, stack flow, doorway exchange."""

from __future__ import annotations

import numpy as np

from ventplan.physics.arrays import Numbers
from ventplan.physics.buoyancy import GRAVITY_M_S2, stack_gradient


def stack_pressure(*, density_outdoors: Numbers, density_indoors: Numbers, height_m: Numbers) -> Numbers:
    """Pressure of a column of indoor air against one of outdoor air, g (rho_out - rho_in) h.

    Parameters
    ----------
    density_outdoors, density_indoors
        Densities [kg/m3].
    height_m
        Height above the level where the two pressures are equal [m].

    Returns
    -------
    Numbers
        Indoor minus outdoor pressure at that height [Pa]; positive above the neutral level when it is warmer
        indoors.
    """
    return stack_gradient(density_a=density_outdoors, density_b=density_indoors) * height_m


def neutral_height(
    *,
    low_area_m2: Numbers,
    high_area_m2: Numbers,
    height_between_m: Numbers,
    low_density: Numbers,
    high_density: Numbers,
) -> Numbers:
    """Neutral pressure level above the lower of two openings: h / H = 1 / (1 + (A_low / A_high)^2 rho_low /
    rho_high).

    Parameters
    ----------
    low_area_m2, high_area_m2
        Discharge coefficient times area, or areas for equal coefficients [m2].
    height_between_m
        Height between the middles of the two openings [m].
    low_density, high_density
        Density of the air that passes the lower and the upper opening [kg/m3]: outdoor below and indoor above
        when it is warmer indoors.

    Returns
    -------
    Numbers
        Height of the neutral level above the middle of the lower opening [m].

    Notes
    -----
    The mass flows rho Cd A sqrt(2 dp / rho) through both are equal, and dp grows in proportion to the
    distance from the neutral level, so A_low^2 rho_low h = A_high^2 rho_high (H - h).
    """
    low = low_area_m2 * low_area_m2 * low_density
    high = high_area_m2 * high_area_m2 * high_density
    return height_between_m * high / (low + high)


def stack_flow(
    *,
    discharge: Numbers,
    area_m2: Numbers,
    neutral_height_m: Numbers,
    indoor_temperature_k: Numbers,
    outdoor_temperature_k: Numbers,
) -> Numbers:
    """Stack flow of a house with openings low and high, Q = Cd A sqrt(2 g dH (Ti - To) / Ti).

    Parameters
    ----------
    discharge
        Discharge coefficient [-].
    area_m2
        Area of the inlet [m2].
    neutral_height_m
        Height from the middle of the lower opening to the neutral level [m].
    indoor_temperature_k, outdoor_temperature_k
        Absolute temperatures, Ti >= To [K].

    Returns
    -------
    Numbers
        Volume flow [m3/s]. For outdoor air the warmer, swap the two (same source).

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 16, eq. 38.
    """
    warmth = (indoor_temperature_k - outdoor_temperature_k) / indoor_temperature_k
    return discharge * area_m2 * np.sqrt(2.0 * GRAVITY_M_S2 * neutral_height_m * warmth)


def doorway_exchange(
    *,
    discharge: Numbers,
    width_m: Numbers,
    height_m: Numbers,
    temperature_difference_k: Numbers,
    mean_temperature_k: Numbers,
) -> Numbers:
    """Exchange each way through a doorway without net flow, Q = (Cd / 3) W sqrt(g H^3 |dT| / T).

    Parameters
    ----------
    discharge
        Discharge coefficient of two-way flow [-].
    width_m, height_m
        Width and height of the doorway [m].
    temperature_difference_k
        Difference between the two sides [K].
    mean_temperature_k
        Mean absolute temperature [K].

    Returns
    -------
    Numbers
        Volume flow each way [m3/s].

    References
    ----------
    Brown, W. G. & Solvason, K. R. 1962, Natural convection through rectangular openings in partitions,
    International Journal of Heat and Mass Transfer 5:859.
    """
    buoyancy = GRAVITY_M_S2 * height_m**3 * np.abs(temperature_difference_k) / mean_temperature_k
    return discharge / 3.0 * width_m * np.sqrt(buoyancy)
