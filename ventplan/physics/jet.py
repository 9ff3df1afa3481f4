"""The round turbulent jet of a free-standing fan, and the jet of air that enters through an opening.

A fan gives the air momentum. Thrust T [N], flow through the blades Q0 and spread rate k determine its jet:

    momentum is kept:  rho times the integral of u^2 over the jet is T
    linear growth:     b(s) = b0 + k s,  b0 = Q0 / sqrt(2 pi T / rho)
    entrainment:       Q(s) = sqrt(2 pi T / rho) b(s) = Q0 (1 + k s / b0)

with b the half-width to 1/e of the centre speed that the jet would have with a Gaussian profile. The profile itself
starts even, at the speed of the slipstream U0 = T / (rho Q0), and becomes Gaussian: its momentum flux density
m = rho u^2 is that of an even square of side sqrt(2 pi) b0, smeared by a Gaussian (Reichardt's hypothesis). The width
of the smearing is the one with which the jet carries Q(s), so both flow and momentum are kept, from the core on.
Written with m, jets add: m of two jets, or of a jet and its mirror image in a wall, is the sum of both.

The developed round jet then gains 0.32 of its start flow per start diameter (Ricou & Spalding 1961). A calm nozzle jet
entrains about a third of that over its first diameter (Hill 1972, J. Fluid Mech. 51:773); the air that leaves the
blades of a fan is turbulent from the start, and is assumed to entrain at the full rate.

Air that enters a room through an opening leaves it evenly and mixes with the air of the room. Its momentum flux density
is that of the opening, smeared by a Gaussian whose half-width grows linearly:

    rho u^2 = rho V0^2 F(y, width) F(z, height)

So a core at V0 comes first, then a plane jet whose speed falls as 1 / sqrt(x), then, far away, the handbook's
V = K V0 sqrt(A0) / x, with its profile and its entrainment.
"""

from __future__ import annotations

import math

import numpy as np

from ventplan.physics import Numbers
from ventplan.physics.buoyancy import GRAVITY_M_S2

ROUND_JET_SPREAD = 0.115
"""Spread rate of a round turbulent jet: growth of the 1/e half-width per distance, 2 alpha / sqrt(2) with alpha = 0.081
[-].

Half-velocity spread 0.094-0.102 (Hussein, Capp & George 1994, J. Fluid Mech. 258:31, second hand; Pope 2000, section
5.1, from memory) over sqrt(ln 2) gives 0.113-0.123; entrainment 0.32 x/d (Ricou & Spalding 1961, J. Fluid Mech. 11:21,
second hand) gives 0.113.
"""


def start_half_width(*, flow_m3_s: Numbers, thrust_n: Numbers, density: Numbers) -> Numbers:
    """Half-width at which a jet of this thrust carries the fan's own flow, b0 = Q0 / sqrt(2 pi T / rho).

    Parameters
    ----------
    flow_m3_s
        Flow through the blades [m3/s].
    thrust_n
        Thrust [N].
    density
        Air density [kg/m3].

    Returns
    -------
    Numbers
        Half-width to 1/e of the centre speed [m].

    Examples
    --------
    >>> round(float(start_half_width(flow_m3_s=0.363, thrust_n=1.5, density=1.2)), 4)
    0.1295
    """
    return flow_m3_s / np.sqrt(2.0 * math.pi * thrust_n / density)


MIXING_POWER = 0.94
"""Exponent of `mixing_half_width`: with it a smeared square carries the flow of the jet within 0.5 % [-]."""


def mixing_half_width(*, growth: float, side_m: float) -> float:
    """Half-width of mixing at which an even square jet carries a multiple q of its flow, (q - q^-0.94) a / sqrt(2 pi).

    Parameters
    ----------
    growth
        Flow over that at the start q, or b / b0, >= 1 [-].
    side_m
        Side a of the square [m].

    Returns
    -------
    float
        Half-width of the momentum flux density to 1/e^2 [m].

    Notes
    -----
    The flow of a smeared square, the integral of the root of `smeared_density`, grows from Q0 as 1.41 / a per metre of
    half-width at first and as sqrt(2 pi) / a far away; this is its inverse within 0.5 % of the flow.
    """
    half_width: float = side_m * (growth - growth**-MIXING_POWER) / math.sqrt(2.0 * math.pi)
    return half_width


def smeared_density(distance_m: Numbers, *, side_m: Numbers, mixing_m: Numbers) -> Numbers:
    """Distribution of the momentum flux of an even jet smeared by mixing, across one direction; its integral is 1.

    Parameters
    ----------
    distance_m
        Distance y from the axis in that direction [m].
    side_m
        Side a of its source in that direction [m]; 0 for a Gaussian.
    mixing_m
        Half-width c of the smearing to 1/e^2, > 0 [m].

    Returns
    -------
    Numbers
        [erf((a/2 - y) sqrt(2) / c) + erf((a/2 + y) sqrt(2) / c)] / (2 a), or sqrt(2 / pi) / c exp(-2 (y / c)^2) for a
        narrow source [1/m].
    """
    if np.max(side_m) <= NARROW_SOURCE * np.min(mixing_m):
        gaussian: Numbers = math.sqrt(2.0 / math.pi) / mixing_m * np.exp(-2.0 * (distance_m / mixing_m) ** 2)
        return gaussian
    scale = math.sqrt(2.0) / mixing_m
    found = _erf((side_m / 2.0 - distance_m) * scale) + _erf((side_m / 2.0 + distance_m) * scale)
    return np.maximum(found, 0.0) / (2.0 * side_m)


def _erf(x: Numbers) -> Numbers:
    """Error function within 1.5e-7, without loading scipy (Abramowitz & Stegun 1964, formula 7.1.26)."""
    t = 1.0 / (1.0 + 0.3275911 * np.abs(x))
    series = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    found: Numbers = np.sign(x) * (1.0 - series * np.exp(-x * x))
    return found


NARROW_SOURCE = 0.01
"""Side of a source over its half-width of mixing below which a Gaussian is within 1e-4 [-]."""


def thrust_of_uniform_jet(*, flow_m3_s: Numbers, area_m2: Numbers, density: Numbers) -> Numbers:
    """Thrust of a jet that leaves an area evenly, T = rho Q^2 / A.

    Parameters
    ----------
    flow_m3_s
        Flow [m3/s].
    area_m2
        Area that the jet leaves [m2].
    density
        Air density [kg/m3].

    Returns
    -------
    Numbers
        Thrust [N].
    """
    return density * flow_m3_s**2 / area_m2


def flow_of_uniform_jet(*, thrust_n: Numbers, area_m2: Numbers, density: Numbers) -> Numbers:
    """Flow of a jet that leaves an area evenly, Q = sqrt(A T / rho); the inverse of `thrust_of_uniform_jet`.

    Parameters
    ----------
    thrust_n
        Thrust [N].
    area_m2
        Area that the jet leaves [m2].
    density
        Air density [kg/m3].

    Returns
    -------
    Numbers
        Flow [m3/s].
    """
    return np.sqrt(area_m2 * thrust_n / density)


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
