"""The round turbulent jet of a free-standing fan.

A fan gives the air momentum: its thrust T [N]. The axial speed is taken as Gaussian, u = Uc exp(-(r/b)^2), with

    momentum kept:     T = rho (pi/2) Uc^2 b^2
    straight growth:   b(s) = b0 + k s
    entrainment:       Q(s) = sqrt(2 pi T / rho) b(s) = Q0 (1 + k s / b0)

so that thrust T, flow through the blades Q0 and spread k fix the whole jet. Written with the momentum flux
density m = rho u^2 instead of u, jets add: m of two jets, or of a jet and its mirror image in a wall, is the sum
of both (Reichardt's hypothesis; see ``ventplan.physics.jet_capture``).
"""

from __future__ import annotations

import math

import numpy as np

from ventplan.physics.arrays import Numbers

ROUND_JET_SPREAD = 0.115
"""Growth of the 1/e half-width of a round turbulent jet, 2 alpha / sqrt(2) with alpha = 0.081 [-].

Half-velocity spread 0.094-0.102 (Hussein, Capp & George 1994, J. Fluid Mech. 258:31, second hand; Pope 2000,
section 5.1, from memory) over sqrt(ln 2) gives 0.113-0.123; entrainment 0.32 x/d (Ricou & Spalding 1961, J. Fluid
Mech. 11:21, second hand) gives 0.113.
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


def half_width(*, distance_m: Numbers, start_half_width_m: Numbers, spread: Numbers) -> Numbers:
    """Half-width of the free jet, b = b0 + k s.

    Parameters
    ----------
    distance_m
        Distance from the blades along the axis [m].
    start_half_width_m
        Half-width at the blades [m].
    spread
        Growth of the half-width for each metre [-].

    Returns
    -------
    Numbers
        Half-width to 1/e of the centre speed [m].
    """
    return start_half_width_m + spread * distance_m


def centre_speed(*, thrust_n: Numbers, half_width_m: Numbers, density: Numbers) -> Numbers:
    """Speed on the axis, Uc = sqrt(2 T / (pi rho)) / b.

    Parameters
    ----------
    thrust_n
        Thrust [N].
    half_width_m
        Half-width there [m].
    density
        Air density [kg/m3].

    Returns
    -------
    Numbers
        Centre-line speed [m/s].
    """
    return np.sqrt(2.0 * thrust_n / (math.pi * density)) / half_width_m


def jet_flow(*, thrust_n: Numbers, half_width_m: Numbers, density: Numbers) -> Numbers:
    """Flow that the jet carries, Q = sqrt(2 pi T / rho) b.

    Parameters
    ----------
    thrust_n
        Thrust [N].
    half_width_m
        Half-width there [m].
    density
        Air density [kg/m3].

    Returns
    -------
    Numbers
        Volume flow [m3/s].

    Notes
    -----
    The developed round jet then gains 0.32 of its start flow for each start diameter (Ricou & Spalding 1961).
    A calm nozzle jet entrains about a third of that in its first diameter (Hill 1972, J. Fluid Mech. 51:773); the
    air that leaves the blades of a fan is turbulent from the start, and is taken to entrain at the full rate.
    """
    return np.sqrt(2.0 * math.pi * thrust_n / density) * half_width_m


def thrust_of_uniform_jet(*, flow_m3_s: Numbers, area_m2: Numbers, density: Numbers) -> Numbers:
    """Thrust of a jet that leaves an area evenly, T = rho Q^2 / A.

    Parameters
    ----------
    flow_m3_s
        Flow [m3/s].
    area_m2
        Area it leaves through [m2].
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
        Area it leaves through [m2].
    density
        Air density [kg/m3].

    Returns
    -------
    Numbers
        Flow [m3/s].
    """
    return np.sqrt(area_m2 * thrust_n / density)


def power_of_uniform_jet(*, thrust_n: Numbers, area_m2: Numbers, density: Numbers) -> Numbers:
    """Kinetic power of a jet that leaves an area evenly, P = T^1.5 / (2 sqrt(rho A)).

    Parameters
    ----------
    thrust_n
        Thrust [N].
    area_m2
        Area it leaves through [m2].
    density
        Air density [kg/m3].

    Returns
    -------
    Numbers
        Power in the jet [W].
    """
    return thrust_n**1.5 / (2.0 * np.sqrt(density * area_m2))
