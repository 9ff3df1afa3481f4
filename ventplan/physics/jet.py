"""The round turbulent jet of a free-standing fan.

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
"""

from __future__ import annotations

import math

import numpy as np

from ventplan.physics import Numbers

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
