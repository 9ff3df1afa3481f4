"""Exchange of air through one opening of a room that has no other: wind gusts and warmth, without net
flow."""

from __future__ import annotations

import numpy as np

from ventplan.physics.arrays import Numbers


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


def wind_exchange(*, area_m2: Numbers, wind_speed_m_s: Numbers) -> Numbers:
    """Exchange through one open window by wind alone, Q = 0.025 A U.

    Parameters
    ----------
    area_m2
        Free area of the window [m2].
    wind_speed_m_s
        Undisturbed wind speed at the height of the window [m/s].

    Returns
    -------
    Numbers
        Volume flow in, which equals that out [m3/s].

    Notes
    -----
    A lower bound for design, whatever the wind's direction; it goes to zero in still air, where
    `de_gids_phaff_exchange` does not.

    References
    ----------
    BS 5925:1991, Code of practice for ventilation principles and designing for natural ventilation,
    single-sided ventilation due to wind. From memory.
    """
    return 0.025 * area_m2 * wind_speed_m_s
