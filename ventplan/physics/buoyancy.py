"""Openings between air of different density: flow both ways at once, and exchange without net flow.

The pressures of two columns of air of different density fall with height at different rates, so the pressure difference
across an opening between them is linear in height,

    dp(z) = dp_mid - g (rho_a - rho_b) (z - z_mid)

With the law of `ventplan.physics.orifice`, the flow each way is the integral of v(dp(z)) over the part of the height
where dp has that sign. Written in the velocities v1 and v2 at the two ends of that part, the difference of the
pressures and that of the antiderivatives share the factor (v1 - v2), which cancels:

    mean of v over the part = [a (v1 + v2) / 2 + 2 b (v1^2 + v1 v2 + v2^2) / 3] / [a + b (v1 + v2)]

That is exact for every gradient, including zero, and needs no series and no branch.
"""

from __future__ import annotations

import numpy as np

from ventplan.physics import Numbers
from ventplan.physics.orifice import face_velocity

GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall [m/s2] (3rd General Conference on Weights and Measures, 1901)."""

_TINY = 1e-300


def one_way_flow(dp_mid_pa: Numbers, half_pa: Numbers, linear: Numbers, quadratic: Numbers) -> tuple[Numbers, Numbers]:
    """Flow of a vertical opening in the direction of a pressure difference, and its slope, per area of the opening.

    Parameters
    ----------
    dp_mid_pa
        Static pressure on the side that the air comes from minus that on the other, at mid-height [Pa]. For the flow
        the other way pass the negative of it, and the coefficients of the air on that side.
    half_pa
        Change of the pressure difference from mid-height to either end, g |rho_a - rho_b| height / 2, >= 0 [Pa].
    linear, quadratic
        Loss coefficients a [Pa s/m] and b [Pa s2/m2] for the air that flows; a > 0 where the pressure difference may
        vanish.

    Returns
    -------
    tuple of Numbers
        Volume flow over the area of the whole opening, >= 0 [m/s], and its derivative by ``dp_mid_pa``, >= 0
        [m/(s Pa)]. Where both arguments in pascal are 0, each direction has half of the slope.

    Notes
    -----
    Free of branches, with positional arguments: numpy evaluates it on arrays, and numba compiles it for scalars
    (`ventplan.network.numba_engine`).

    Examples
    --------
    A doorway of 0.9 x 2.0 m, 3 K of difference, Cd 0.65, no net flow:

    >>> half = 9.80665 * 1.2 * 3 / 295 * 2.0 / 2
    >>> velocity, _ = one_way_flow(dp_mid_pa=0.0, half_pa=half, linear=0.0, quadratic=1.2 / (2 * 0.65**2))
    >>> round(0.9 * 2.0 * float(velocity), 3)
    0.174
    """
    fast_pa = np.maximum(dp_mid_pa + half_pa, 0.0)
    slow_pa = np.maximum(dp_mid_pa - half_pa, 0.0)
    against_pa = np.maximum(half_pa - dp_mid_pa, 0.0)
    fast = face_velocity(dp_pa=fast_pa, linear=linear, quadratic=quadratic)
    slow = face_velocity(dp_pa=slow_pa, linear=linear, quadratic=quadratic)
    total = fast + slow
    share = (fast_pa + 0.5 * _TINY) / (fast_pa + against_pa + _TINY)
    slope = share / (linear + quadratic * total + _TINY)
    return slope * (linear * total / 2.0 + 2.0 * quadratic * (total * total - fast * slow) / 3.0), slope


def stack_gradient(*, density_a: Numbers, density_b: Numbers) -> Numbers:
    """Decrease of the pressure difference from side a to side b per height, g (rho_a - rho_b).

    Parameters
    ----------
    density_a, density_b
        Densities of the air on the two sides [kg/m3].

    Returns
    -------
    Numbers
        Gradient [Pa/m], positive if the air on side a is heavier.
    """
    return GRAVITY_M_S2 * (density_a - density_b)


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
        Volume flow each way [m3/s]; 0 if the lighter air is above.

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
    """Single-sided exchange through an open window, Q = (A / 2) sqrt(0.001 U^2 + 0.0035 h |dT| + 0.01).

    Parameters
    ----------
    area_m2
        Free area A of the window [m2].
    wind_speed_m_s
        Wind speed U of the weather station, at 10 m in open terrain [m/s].
    height_m
        Height h of the window [m].
    temperature_difference_k
        Difference dT between indoors and outdoors [K].

    Returns
    -------
    Numbers
        Volume flow in, which equals that out [m3/s].

    Notes
    -----
    Fitted to measurements on ground and first floors of buildings in towns, with mean winds up to about 9 m/s and
    temperature differences up to about 15 K (range from memory). The measurements scatter widely: take the result as
    good to 30 %. The constant term is turbulence that is there without wind.

    References
    ----------
    de Gids, W. & Phaff, H. 1982, Ventilation rates and energy consumption due to open windows, Air Infiltration
    Review 4(1):4. Constants from memory.

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
        Discharge coefficient Cd of two-way flow [-].
    width_m, height_m
        Width W and height H of the doorway [m].
    temperature_difference_k
        Difference dT between the two sides [K].
    mean_temperature_k
        Mean absolute temperature T [K].

    Returns
    -------
    Numbers
        Volume flow each way [m3/s].

    References
    ----------
    Brown, W. G. & Solvason, K. R. 1962, Natural convection through rectangular openings in partitions, International
    Journal of Heat and Mass Transfer 5:859.
    """
    buoyancy = GRAVITY_M_S2 * height_m**3 * np.abs(temperature_difference_k) / mean_temperature_k
    return discharge / 3.0 * width_m * np.sqrt(buoyancy)
