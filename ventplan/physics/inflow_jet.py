"""Speed, and share of the entering air, where a stream or a jet passes a point.

Air that enters a room through an opening leaves it evenly and mixes with the air of the room. Its momentum flux
density is the opening's own, smeared by a Gaussian whose half-width grows straight (Reichardt's hypothesis, as for
the jets of fans in `ventplan.physics.jet_capture`):

    rho u^2 = rho V0^2 F(y, w) F(z, h),   F(y, L) = [erf((L/2 - y) / b) + erf((L/2 + y) / b)] / 2,   b = c x

with c = 1 / (sqrt(pi) K). So a core at V0 comes first, then a flat stream that falls as 1 / sqrt(x), then, far away,
V = K V0 sqrt(A0) / x of the handbook, with its profile and its entrainment.
"""

from __future__ import annotations

import math

import numpy as np

from ventplan.physics import Numbers
from ventplan.physics.buoyancy import GRAVITY_M_S2

OUTLET_CONSTANT = 5.7
"""K of a free stream from a plain opening, as that of a grille at 0 degrees [-] (ASHRAE Handbook Fundamentals
2021, ch. 20)."""

DILUTION = 0.8
"""Difference of temperature kept far along a stream, over speed kept [-]: heat spreads farther than momentum (ASHRAE
Handbook Fundamentals, space air diffusion; from memory)."""

LEAST_HALF_WIDTH_M = 1e-6
"""Half-width in the plane of the opening, where it has no meaning yet [m]."""


def mixing_half_width(*, distance_m: Numbers, outlet_constant: Numbers = OUTLET_CONSTANT) -> Numbers:
    """Half-width over which a stream has mixed with the air beside it, b = x / (sqrt(pi) K).

    Parameters
    ----------
    distance_m
        Distance from the opening [m].
    outlet_constant
        K [-].

    Returns
    -------
    Numbers
        Half-width of the momentum flux density to 1/e [m], never 0.
    """
    return np.maximum(distance_m / (math.sqrt(math.pi) * outlet_constant), LEAST_HALF_WIDTH_M)


def momentum_share(*, aside_m: Numbers, width_m: Numbers, half_width_m: Numbers) -> Numbers:
    """Momentum flux density across one direction over that in the opening, F = [erf(...) + erf(...)] / 2.

    Parameters
    ----------
    aside_m
        Distance from the middle of the stream in that direction [m].
    width_m
        Width of the opening in that direction [m].
    half_width_m
        Half-width of mixing there [m].

    Returns
    -------
    Numbers
        Share [-], 0 to 1.
    """
    from scipy.special import erf

    low, high = (width_m / 2.0 - aside_m) / half_width_m, (width_m / 2.0 + aside_m) / half_width_m
    share: Numbers = (erf(low) + erf(high)) / 2.0
    return share


def stream_speed(
    *,
    start_speed_m_s: Numbers,
    width_m: Numbers,
    height_m: Numbers,
    distance_m: Numbers,
    aside_m: Numbers = 0.0,
    above_m: Numbers = 0.0,
    outlet_constant: Numbers = OUTLET_CONSTANT,
) -> Numbers:
    """Speed in a free stream that enters through a rectangular opening.

    Parameters
    ----------
    start_speed_m_s
        Speed V0 where the stream is narrowest, flow over effective area [m/s].
    width_m, height_m
        Sides of the effective area A0 [m].
    distance_m
        Distance x from the opening along the stream [m]; 0 in its plane.
    aside_m, above_m
        Where across the stream, from its middle, along the width and the height [m].
    outlet_constant
        K [-].

    Returns
    -------
    Numbers
        Speed [m/s], from V0 in the core down.

    Notes
    -----
    V = V0 sqrt(F(y, w) F(z, h)); far away K V0 sqrt(A0) / x on the axis, half of it at
    r = sqrt(2 ln 2 / pi) x / K, and the flow grows as 2 x / (K sqrt(A0)). Momentum is kept; a room that returns the
    stream's air takes part of it (see `ventplan.airing.comfort`).

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 20 (decay of the centre speed, profile, entrainment).

    Examples
    --------
    >>> round(float(stream_speed(start_speed_m_s=3.0, width_m=0.31, height_m=0.31, distance_m=22.0)), 2)
    0.24
    """
    half = mixing_half_width(distance_m=distance_m, outlet_constant=outlet_constant)
    across = momentum_share(aside_m=aside_m, width_m=width_m, half_width_m=half)
    up = momentum_share(aside_m=above_m, width_m=height_m, half_width_m=half)
    return start_speed_m_s * np.sqrt(across * up)


def throw(
    *, flow_m3_s: Numbers, area_m2: Numbers, speed_m_s: Numbers, outlet_constant: Numbers = OUTLET_CONSTANT
) -> Numbers:
    """How far a free stream goes until its middle has fallen to a speed, X = K Q / (V sqrt(A0)).

    Parameters
    ----------
    flow_m3_s
        Flow through the opening [m3/s].
    area_m2
        Effective area A0 [m2].
    speed_m_s
        Speed that it has fallen to [m/s].
    outlet_constant
        K [-].

    Returns
    -------
    Numbers
        Distance [m]; before the ends of a room cut it short.

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 20, example 1.

    Examples
    --------
    >>> round(float(throw(flow_m3_s=0.3, area_m2=0.8 * 0.28 * 0.43, speed_m_s=0.25)), 1)
    22.0
    """
    return outlet_constant * flow_m3_s / (speed_m_s * np.sqrt(area_m2))


def entering_share(*, speed_over_start: Numbers) -> Numbers:
    """Share of the air at a point that came in with the stream, by the speed that is left there.

    Parameters
    ----------
    speed_over_start
        Speed at the point over that at the start of the stream, V / V0 [-].

    Returns
    -------
    Numbers
        Share [-]: 1 in the core, DILUTION times V / V0 far away.

    Notes
    -----
    s (0.8 + 0.2 s) with s = V / V0, a curve of our own between both ends.
    """
    left = np.clip(speed_over_start, 0.0, 1.0)
    share: Numbers = left * (DILUTION + (1.0 - DILUTION) * left)
    return share


def drop_m(
    *,
    distance_m: Numbers,
    start_speed_m_s: Numbers,
    area_m2: Numbers,
    cooler_k: Numbers,
    temperature_k: Numbers,
    outlet_constant: Numbers = OUTLET_CONSTANT,
) -> Numbers:
    """How far a cool, level stream has sunk.

    Parameters
    ----------
    distance_m
        Distance x from the opening [m].
    start_speed_m_s
        Speed at its start [m/s].
    area_m2
        Effective area A0 [m2].
    cooler_k
        How much cooler it is than the air of the room [K]; negative where it is warmer, and rises.
    temperature_k
        Absolute temperature of the air of the room [K].
    outlet_constant
        K [-].

    Returns
    -------
    Numbers
        Drop of its middle [m].

    Notes
    -----
    A falling body in the core, y = (g dT / (T V0^2)) x^2 / 2. Farther on than x1 = K sqrt(A0) / 2 the weight of
    the cool air, which the stream keeps, bends its momentum as y'' = (g dT / (T V0^2)) x / x1 (Gaussian profiles
    of equal width). Far away that is 0.058 Ar (x / sqrt A0)^3 sqrt A0 with the Archimedes number Ar; Koestel (1955)
    has the same power and a coefficient of this size (from memory).
    """
    fall = GRAVITY_M_S2 * cooler_k / (temperature_k * np.maximum(start_speed_m_s, 1e-9) ** 2)
    core = outlet_constant * np.sqrt(area_m2) / 2.0
    beyond = distance_m**3 / (6.0 * core) + core * distance_m / 2.0 - core**2 / 6.0
    return fall * np.where(np.less(distance_m, core), distance_m**2 / 2.0, beyond)


def approach_speed(*, flow_m3_s: Numbers, area_m2: Numbers, distance_m: Numbers) -> Numbers:
    """Speed of the air on its way to an opening in a wall that it leaves by, V = Q / (A + 2 pi r^2).

    Parameters
    ----------
    flow_m3_s
        Flow out [m3/s].
    area_m2
        Free area [m2]; more than 0.
    distance_m
        Distance r from its middle [m].

    Returns
    -------
    Numbers
        Speed [m/s].

    Notes
    -----
    The air comes from all sides of the half space, so it falls with the square of the distance; joined to Q / A in the
    opening. Within 20 % of what flanged hoods were measured to draw, Q / V = 0.75 (10 r^2 + A) (DallaValle 1952, from
    memory), beyond the opening itself.
    """
    return flow_m3_s / (area_m2 + 2.0 * math.pi * distance_m**2)
