"""Air exchanged both ways without net flow: through one window, a doorway, an opening in a floor."""

from __future__ import annotations

import numpy as np

from ventplan.physics.arrays import Numbers
from ventplan.physics.buoyancy import GRAVITY_M_S2


def floor_exchange(*, area_m2: Numbers, density_above: Numbers, density_below: Numbers) -> Numbers:
    """Exchange each way through an opening in a thin floor without net flow, Q = 0.055 sqrt(g D^5 drho / rho).

    Parameters
    ----------
    area_m2
        Free area of the opening [m2]; D is the diameter of a round one of that area.
    density_above, density_below
        Densities of the air above and below [kg/m3].

    Returns
    -------
    Numbers
        Volume flow each way [m3/s]; 0 where the lighter air is above, which stays there.

    References
    ----------
    Epstein, M. 1988, Buoyancy-driven exchange flow through small openings in horizontal partitions, Journal of Heat
    Transfer 110:885, limit of a thin partition. From memory.

    Examples
    --------
    >>> round(float(floor_exchange(area_m2=1.0, density_above=1.21, density_below=1.19)), 4)
    0.0301
    """
    diameter = np.sqrt(4.0 * area_m2 / np.pi)
    heavier = np.maximum(density_above - density_below, 0.0) / ((density_above + density_below) / 2.0)
    exchange: Numbers = 0.055 * np.sqrt(GRAVITY_M_S2 * diameter**5 * heavier)
    return exchange


def de_gids_phaff_exchange(
    *,
    area_m2: Numbers,
    wind_speed_m_s: Numbers,
    height_m: Numbers,
    temperature_difference_k: Numbers,
) -> Numbers:
    """Exchange through one open window by wind, warmth and turbulence together.

    Q = (A / 2) sqrt(0.001 U^2 + 0.0035 h |dT| + 0.01)

    Parameters
    ----------
    area_m2
        Free area of the window [m2].
    wind_speed_m_s
        Wind speed of the weather station, at 10 m in open terrain [m/s].
    height_m
        Height of the window [m].
    temperature_difference_k
        Difference between indoors and outdoors [K].

    Returns
    -------
    Numbers
        Volume flow in, which equals that out [m3/s].

    Notes
    -----
    Fitted to measurements at ground and first floors of buildings in towns, windows on one side, mean winds
    up to about 9 m/s and temperature differences up to about 15 K (range from memory). The scatter of the
    measurements is wide: take the result as good to 30 %. The last term is turbulence that is there without
    wind.

    References
    ----------
    de Gids, W. & Phaff, H. 1982, Ventilation rates and energy consumption due to open windows, Air
    Infiltration Review 4(1):4. Constants from memory.

    Examples
    --------
    >>> q = de_gids_phaff_exchange(
    ...     area_m2=1.0, wind_speed_m_s=2.0, height_m=1.0, temperature_difference_k=5.0)
    >>> round(float(q), 4)
    0.0887
    """
    warmth = height_m * np.abs(temperature_difference_k)
    speed = np.sqrt(0.001 * wind_speed_m_s * wind_speed_m_s + 0.0035 * warmth + 0.01)
    exchange: Numbers = area_m2 / 2.0 * speed
    return exchange


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
