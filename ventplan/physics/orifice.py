"""Flow laws of openings and cracks: the velocity or flow that a pressure difference drives.

Over the free area of an opening the loss of static pressure is ``p = a v + b v^2`` with v the face velocity (volume
flow / free area), a >= 0 the linear and b > 0 the quadratic coefficient. Solved for v, without cancellation,

    v(p) = sign(p) 2 |p| / (a + sqrt(a^2 + 4 b |p|))

which is odd, never decreases, and has the finite slope 1/a at zero. Losses in series on the same area add up in a and b
(a screen in a window).

Cracks of closed windows and doors, and of a whole envelope, follow a power law Q = C |dp|^n, which has an infinite
slope at zero. Here it is ``Q = C dp / (dp^2 + e^2)^((1 - n) / 2)`` with e = 0.01 Pa, which is odd, smooth, and within
0.03 % of the power law from 0.25 Pa up (n = 0.65).
"""

from __future__ import annotations

import numpy as np

from ventplan.physics import Numbers

TRANSITION_VELOCITY_M_S = 0.0005
"""Face velocity at which the laminar loss of a plain opening equals its quadratic loss [m/s].

A numerical choice that keeps the slope finite: it lowers the flow by 0.0005 / (2 v), which is below 0.1 % above 0.25 Pa
for discharge coefficients of 0.40 and more. As physics it is the creeping flow of an opening of 1 m at a Reynolds
number of about 30.
"""

_TINY = 1e-300  # Keeps 0 / 0 at zero pressure from being a special case; far below any pressure or velocity.


def face_velocity(dp_pa: Numbers, linear: Numbers, quadratic: Numbers) -> Numbers:
    """Velocity over the free area that a pressure difference drives, ``p = a v + b v^2`` solved for v.

    Parameters
    ----------
    dp_pa
        Static pressure on the side that flow is counted from, minus that on the other [Pa].
    linear
        Coefficient a, >= 0 [Pa s/m].
    quadratic
        Coefficient b, >= 0; a and b not both 0 [Pa s2/m2].

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


def orifice_coefficients(*, discharge: Numbers, density: Numbers) -> tuple[Numbers, Numbers]:
    """Loss coefficients of a plain opening, b = rho / (2 Cd^2) and a = `TRANSITION_VELOCITY_M_S` b.

    Parameters
    ----------
    discharge
        Discharge coefficient Cd of the free area, > 0 [-].
    density
        Density of the air that flows [kg/m3].

    Returns
    -------
    tuple of Numbers
        a [Pa s/m] and b [Pa s2/m2].

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 16, the orifice equation Q = Cd A sqrt(2 dp / rho).
    """
    quadratic = density / (2.0 * discharge * discharge)
    return quadratic * TRANSITION_VELOCITY_M_S, quadratic


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


SMOOTHING_PA = 0.01
"""Pressure difference e below which the power law becomes a straight line [Pa]; a numerical choice."""
_SMOOTHING_PA2 = SMOOTHING_PA * SMOOTHING_PA

CRACK_EXPONENT = 0.65
"""Exponent of cracks unless measured [-] (ASHRAE Handbook Fundamentals 2021, ch. 16: about 0.65)."""


def crack_flow(dp_pa: Numbers, coefficient: Numbers, exponent: Numbers) -> tuple[Numbers, Numbers]:
    """Volume flow through a crack, and its slope C (n dp^2 + e^2) (dp^2 + e^2)^((n - 3) / 2).

    Parameters
    ----------
    dp_pa
        Pressure difference [Pa].
    coefficient
        Flow at 1 Pa [m3/s].
    exponent
        Exponent n, 0.5 to 1 [-].

    Returns
    -------
    tuple of Numbers
        Flow with the sign of ``dp_pa`` [m3/s], and its derivative by ``dp_pa``, positive and finite [m3/(s Pa)].

    Notes
    -----
    Free of branches, with positional arguments: numpy evaluates it on arrays, and numba compiles it for scalars.

    Examples
    --------
    >>> flow, _ = crack_flow(dp_pa=50.0, coefficient=0.01, exponent=0.65)
    >>> round(float(flow), 4)
    0.1272
    """
    square = dp_pa * dp_pa
    rounded = square + _SMOOTHING_PA2
    steepness = coefficient * rounded ** (0.5 * (exponent - 3.0))
    return steepness * rounded * dp_pa, steepness * (exponent * square + _SMOOTHING_PA2)


CONTRACTION_EXCESS = 0.707
"""Excess of the speed in the vena contracta over that in the opening, as a share of the latter [-] (Idelchik)."""
WIDEST_SHARE = 0.9
"""Largest area of an opening over the cross-section of a room for which the law is used [-]."""


def confined_loss_ratio(*, upstream: float, downstream: float) -> float:
    """Loss of total pressure at a sharp-edged opening between two spaces, over that between two infinite ones.

    Parameters
    ----------
    upstream, downstream
        Area of the opening over the cross-section of the space before it and of the one behind it [-]; at most
        `WIDEST_SHARE` counts.

    Returns
    -------
    float
        zeta / 2.91 with zeta = (0.707 (1 - A0/A1)^0.375 + 1 - A0/A2)^2 [-]; 1 between infinite spaces.

    Notes
    -----
    In a narrow space before the opening less air has to turn round its edge, and in a narrow space behind it the jet
    loses less when it expands (Borda and Carnot). The pressure of a room in the network stands for the mean total
    pressure of the air that passes through it: static, plus the kinetic energy of the mean flow.

    References
    ----------
    I. E. Idelchik, Handbook of Hydraulic Resistance, section 4 (from memory).

    Examples
    --------
    >>> round(0.62 / confined_loss_ratio(upstream=0.16, downstream=0.16) ** 0.5, 2)
    0.7
    """
    before, after = min(upstream, WIDEST_SHARE), min(downstream, WIDEST_SHARE)
    root: float = CONTRACTION_EXCESS * (1.0 - before) ** 0.375 + 1.0 - after
    return float((root / (1.0 + CONTRACTION_EXCESS)) ** 2)


CONTRACTION_LENGTH = 0.41
"""Distance over which the air behind a sharp-edged opening contracts, in sqrt(area) [-].

With a discharge coefficient of 0.62, the curve goes through a flow simulation of openings of 0.86 and 1.08 m2
(``tests/outside/data``): 1.16 times the mean speed at 12 cm and 1.28 times at 25 cm downstream.
"""

USUAL_DISTANCE_M = 0.12
"""Usual distance of a hand-held anemometer downstream of an opening [m]: common practice, no source."""


def reading_over_mean(*, distance_m: Numbers, area_m2: Numbers, discharge: Numbers, screened: bool) -> Numbers:
    """Speed in the middle of the air that leaves an opening, over its mean speed Q / A in the opening.

    Parameters
    ----------
    distance_m
        Distance x of the anemometer downstream of the opening [m].
    area_m2
        Free area A [m2].
    discharge
        Discharge coefficient Cd of the opening [-].
    screened
        True with an insect screen, behind which the speed is even and the ratio 1.

    Returns
    -------
    Numbers
        Ratio [-], from 1 in the opening to 1 / Cd in the vena contracta.

    Notes
    -----
    1 + (1 / Cd - 1) (1 - exp(-x / (0.41 sqrt A))), a curve of our own through simulated points.
    """
    if screened:
        return 1.0 + 0.0 * distance_m
    narrowing = 1.0 - np.exp(-distance_m / (CONTRACTION_LENGTH * np.sqrt(area_m2)))
    return 1.0 + (1.0 / discharge - 1.0) * narrowing
