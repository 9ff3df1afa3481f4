"""The one law of an opening, how much air a pressure difference drives through it; and the contraction behind it.

Over the free area of an opening the loss of static pressure is ``p = a v + b v^2`` with v the face velocity
(volume flow / free area), a >= 0 the linear and b > 0 the quadratic coefficient. Solved for v, without
cancellation,

    v(p) = sign(p) 2 |p| / (a + sqrt(a^2 + 4 b |p|))

which is odd, never decreases, and has the finite slope 1/a at zero. Losses in series on the same area add up
in a and b (a screen in a window).
"""

from __future__ import annotations

import numpy as np

from ventplan.physics import Numbers

TRANSITION_VELOCITY_M_S = 0.0005
"""Face velocity at which the laminar loss of a plain opening equals its quadratic loss [m/s].

A numerical choice that keeps the slope finite: it lowers the flow by 0.0005 / (2 v), which is below 0.1 %
above 0.25 Pa for every discharge coefficient of 0.40 and more. As physics it is the creeping flow of an
opening of 1 m at a Reynolds number of about 30.
"""

_TINY = 1e-300  # Keeps 0 / 0 at zero pressure from being a special case; far below any pressure or velocity.


def face_velocity(dp_pa: Numbers, linear: Numbers, quadratic: Numbers) -> Numbers:
    """Velocity over the free area that a pressure difference drives, ``p = a v + b v^2`` solved for v.

    Parameters
    ----------
    dp_pa
        Static pressure on the side that flow is counted from, minus that on the other [Pa].
    linear
        Coefficient a [Pa s/m], >= 0.
    quadratic
        Coefficient b [Pa s2/m2], >= 0; a and b not both 0.

    Returns
    -------
    Numbers
        Face velocity with the sign of ``dp_pa`` [m/s].

    Notes
    -----
    Free of branches, with positional arguments: numpy evaluates it on arrays, and numba compiles it for scalars.

    Examples
    --------
    >>> round(float(face_velocity(dp_pa=2.0, linear=1.0, quadratic=1.0)), 6)
    1.0
    """
    size = np.abs(dp_pa)
    velocity: Numbers = 2.0 * dp_pa / (linear + np.sqrt(linear * linear + 4.0 * quadratic * size) + _TINY)
    return velocity


def orifice_coefficients(
    *, discharge: Numbers, density: Numbers, transition_velocity_m_s: Numbers = TRANSITION_VELOCITY_M_S
) -> tuple[Numbers, Numbers]:
    """Coefficients (a, b) of a plain opening: b = rho / (2 Cd^2), a = b times the transition velocity.

    Parameters
    ----------
    discharge
        Discharge coefficient Cd of the free area [-], > 0.
    density
        Density of the air that flows [kg/m3].
    transition_velocity_m_s
        Face velocity at which laminar and quadratic loss are equal [m/s].

    Returns
    -------
    tuple of Numbers
        a [Pa s/m] and b [Pa s2/m2].

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 16, the orifice equation Q = Cd A sqrt(2 dp / rho).
    """
    quadratic = density / (2.0 * discharge * discharge)
    return quadratic * transition_velocity_m_s, quadratic


def flow(*, dp_pa: Numbers, area_m2: Numbers, discharge: Numbers, density: Numbers) -> Numbers:
    """Volume flow through a plain opening.

    Parameters
    ----------
    dp_pa
        Pressure difference [Pa].
    area_m2
        Free area [m2].
    discharge
        Discharge coefficient [-].
    density
        Density of the air that flows [kg/m3].

    Returns
    -------
    Numbers
        Volume flow with the sign of ``dp_pa`` [m3/s].

    Examples
    --------
    >>> round(float(flow(dp_pa=1.0, area_m2=1.0, discharge=0.65, density=1.2)), 3)
    0.839
    """
    linear, quadratic = orifice_coefficients(discharge=discharge, density=density)
    return area_m2 * face_velocity(dp_pa=dp_pa, linear=linear, quadratic=quadratic)


def loss_coefficient(*, discharge: Numbers) -> Numbers:
    """Loss coefficient K = 1 / Cd^2 on the free area, in dp = K rho v^2 / 2.

    Parameters
    ----------
    discharge
        Discharge coefficient [-].

    Returns
    -------
    Numbers
        Loss coefficient [-].
    """
    return 1.0 / (discharge * discharge)


CONTRACTION_EXCESS = 0.707
"""Excess of the speed where the air behind a sharp edge is narrowest over that in the opening [-] (Idelchik)."""
WIDEST_SHARE = 0.9
"""Largest area of an opening over the cross-section of a room that the law is used for [-]: beyond it is no opening."""


def confined_loss_ratio(*, upstream: float, downstream: float) -> float:
    """Loss of total pressure at a sharp-edged opening between two spaces, over that between two endless ones.

    Parameters
    ----------
    upstream, downstream
        Area of the opening over the cross-section of the space that the air comes from, and of that it goes to [-].

    Returns
    -------
    float
        zeta / 2.91 with zeta = (0.707 (1 - A0/A1)^0.375 + 1 - A0/A2)^2 [-]: 1 between endless spaces.

    Notes
    -----
    Less air is turned round the edge where the space before the opening is narrow, and the stream behind it loses less
    by widening where the space behind is (Borda and Carnot). The pressure of a room in the network stands for the total
    pressure of the air that passes through it on average: static, and the kinetic energy of the mean flow.

    References
    ----------
    I. E. Idelchik, Handbook of Hydraulic Resistance, section 4 (from memory).

    Examples
    --------
    >>> round(confined_loss_ratio(upstream=0.0, downstream=0.0), 3)
    1.0
    >>> round(0.62 / confined_loss_ratio(upstream=0.16, downstream=0.16) ** 0.5, 2)
    0.7
    """
    before, after = min(upstream, WIDEST_SHARE), min(downstream, WIDEST_SHARE)
    root: float = CONTRACTION_EXCESS * (1.0 - before) ** 0.375 + 1.0 - after
    return float((root / (1.0 + CONTRACTION_EXCESS)) ** 2)


CONTRACTION_LENGTH = 0.41
"""Distance over which the air behind a sharp-edged opening contracts, in sqrt(area) [-].

With a discharge coefficient of 0.62, it goes through what a flow simulation of openings of 0.86 and 1.08 m2 gives
(``tests/outside/data``): 1.16 times the mean speed 12 cm and 1.28 times 25 cm downstream.
"""

USUAL_DISTANCE_M = 0.12
"""Where a hand-held anemometer is usually held, downstream of the opening's plane [m]: common practice, no source."""


def reading_over_mean(*, distance_m: Numbers, area_m2: Numbers, discharge: Numbers, screened: bool) -> Numbers:
    """Reading in the middle of the stream over the mean speed Q / A of the opening.

    Parameters
    ----------
    distance_m
        How far downstream of the plane the anemometer is held [m].
    area_m2
        Free area [m2].
    discharge
        Discharge coefficient of the opening [-].
    screened
        True with an insect screen in place: it evens the stream out, and the reading is close to the mean.

    Returns
    -------
    Numbers
        Ratio [-], from 1 in the plane to 1 / Cd where the stream is narrowest.

    Notes
    -----
    1 + (1 / Cd - 1) (1 - exp(-x / (0.41 sqrt A))), a curve of our own through the simulated points.
    """
    if screened:
        return 1.0 + 0.0 * distance_m
    narrowing = 1.0 - np.exp(-distance_m / (CONTRACTION_LENGTH * np.sqrt(area_m2)))
    return 1.0 + (1.0 / discharge - 1.0) * narrowing
