"""Speed and entering share in an inflow jet, and speed of the air on its way to an opening.

Air that enters a room through an opening leaves it evenly and mixes with the air of the room. Its momentum flux density
is that of the opening, smeared by a Gaussian whose half-width grows linearly (as in `ventplan.physics.jet`):

    rho u^2 = rho V0^2 F(y, width) F(z, height)

So a core at V0 comes first, then a plane jet whose speed falls as 1 / sqrt(x), then, far away, the handbook's
V = K V0 sqrt(A0) / x, with its profile and its entrainment.
"""

from __future__ import annotations

import math

import numpy as np

from ventplan.physics import Numbers
from ventplan.physics.buoyancy import GRAVITY_M_S2
from ventplan.physics.jet import smeared_density

OUTLET_CONSTANT = 5.7
"""K of a free jet from a plain opening, as that of a grille at 0 degrees [-] (ASHRAE Handbook Fundamentals 2021, ch.
20)."""

INFLOW_SPREAD = math.sqrt(2.0 / math.pi) / OUTLET_CONSTANT
"""Spread rate of such a jet, 0.14 [-]."""

DILUTION = 0.8
"""Temperature difference left far along a jet over speed left, both as shares of those at its start [-]: heat spreads
farther than momentum (ASHRAE Handbook Fundamentals, space air diffusion; from memory)."""

LEAST_MIXING_M = 1e-6
"""Half-width of mixing in the plane of the opening, where it has no meaning yet [m]."""


def momentum_share(*, aside_m: Numbers, width_m: Numbers, distance_m: Numbers) -> Numbers:
    """Factor F of one direction in the momentum flux density of an inflow jet.

    Parameters
    ----------
    aside_m
        Distance from the axis in that direction [m].
    width_m
        Width w of the opening in that direction [m].
    distance_m
        Distance x from the opening along the jet [m].

    Returns
    -------
    Numbers
        F, 0 to 1 [-].

    Notes
    -----
    F = [erf((w/2 - y) / b) + erf((w/2 + y) / b)] / 2 with b = x / (sqrt(pi) K). The speed is V0 sqrt(F F'): far away
    K V0 sqrt(A0) / x on the axis and half of it at r = sqrt(2 ln 2 / pi) x / K; the flow grows as 2 x / (K sqrt(A0)).

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 20 (decay of the centre speed, profile, entrainment).
    """
    mixing = np.maximum(INFLOW_SPREAD * distance_m, LEAST_MIXING_M)
    return width_m * smeared_density(aside_m, side_m=width_m, mixing_m=mixing)


def entering_share(*, speed_over_start: Numbers) -> Numbers:
    """Share of the air at a point that entered with the jet, from the speed that is left there.

    Parameters
    ----------
    speed_over_start
        Speed at the point over that at the start of the jet, s = V / V0 [-].

    Returns
    -------
    Numbers
        Share [-]: 1 in the core, DILUTION times s far away.

    Notes
    -----
    s (0.8 + 0.2 s), a curve of our own between both ends.
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
) -> Numbers:
    """How far the axis of a cool, horizontal inflow jet has dropped.

    Parameters
    ----------
    distance_m
        Distance x from the opening [m].
    start_speed_m_s
        Speed V0 at its start [m/s].
    area_m2
        Effective area A0 [m2].
    cooler_k
        How much cooler it is than the air of the room [K]; negative for a warm jet, which rises.
    temperature_k
        Absolute temperature T of the air of the room [K].

    Returns
    -------
    Numbers
        Drop [m].

    Notes
    -----
    Free fall in the core, y = (g dT / (T V0^2)) x^2 / 2. Beyond x1 = K sqrt(A0) / 2 the weight of the cool air, which
    the jet keeps, bends its momentum as y'' = (g dT / (T V0^2)) x / x1 (Gaussian profiles of equal width). Far away
    that is 0.058 Ar (x / sqrt A0)^3 sqrt A0 with the Archimedes number Ar; Koestel (1955) has the same power and a
    coefficient of this size (from memory).
    """
    fall = GRAVITY_M_S2 * cooler_k / (temperature_k * np.maximum(start_speed_m_s, 1e-9) ** 2)
    core = OUTLET_CONSTANT * np.sqrt(area_m2) / 2.0
    beyond = distance_m**3 / (6.0 * core) + core * distance_m / 2.0 - core**2 / 6.0
    return fall * np.where(np.less(distance_m, core), distance_m**2 / 2.0, beyond)


def approach_speed(*, flow_m3_s: Numbers, area_m2: Numbers, distance_m: Numbers) -> Numbers:
    """Speed of the air on its way to an opening in a wall that it leaves by, V = Q / (A + 2 pi r^2).

    Parameters
    ----------
    flow_m3_s
        Flow out Q [m3/s].
    area_m2
        Free area A, > 0 [m2].
    distance_m
        Distance r from the middle of the opening [m].

    Returns
    -------
    Numbers
        Speed [m/s].

    Notes
    -----
    The air comes from all sides of the half space, so its speed falls with the square of the distance; joined to Q / A
    in the opening. Beyond the opening itself it is within 20 % of what flanged hoods were measured to draw,
    Q / V = 0.75 (10 r^2 + A) (DallaValle 1952, from memory).
    """
    return flow_m3_s / (area_m2 + 2.0 * math.pi * distance_m**2)
