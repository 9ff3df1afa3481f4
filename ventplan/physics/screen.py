"""Pressure loss of a woven insect screen.

The published correlations agree where they were measured, at wire Reynolds numbers of 20 and more (a fine screen above
1 m/s), and diverge at the 0.1-1 m/s of window ventilation. For a screen of open-area ratio 0.66 with wire of 0.28 mm at
0.3 m/s the loss coefficient is 3.1 by Brundrett, 5.4 by Bailey with the face velocity in the Reynolds number, and 1.7
by Blevins' table held constant below its range. Brundrett is used, because

- within Blevins' table (wire Reynolds numbers 20-400) it is 4 to 18 % below it, and
- it gives the discharge coefficients that Lopez et al. 2016 measured at 0.25 m/s on two of three screens within 7 %
  (0.221 for 0.207, 0.149 for 0.151). The third, of nearly the same weave as the first, has half the loss (0.325 where
  0.227 is computed), which no correlation in open-area ratio and wire can follow: take a screen's loss as good to a
  factor of two until it is measured. Bailey's constants give 0.164, 0.109 and 0.168: too much loss on all three.

Two doubts remain. The text that comes with Blevins' table in the package ``fluids`` names the space between the wires
as the length in its Reynolds number; with the wire's diameter, as here, the three sources agree where they overlap. And
the wire diameters of the screens of Lopez et al. follow from their thread counts (from memory) and porosity.

The flow is assumed normal to the screen. At 45 deg the loss on the normal velocity is commonly given as about half;
this is left out.
"""

from __future__ import annotations

import numpy as np

from ventplan.physics import Numbers

_NODES_M_S = np.geomspace(0.1, 3.0, 9)


CREEPING, TRANSITION, TURBULENT = 7.125, 0.88, 0.055
"""Constants of f(Re) = 7.125 / Re + 0.88 / log10(Re + 1.25) + 0.055 log10(Re) [-].

Brundrett, E. 1993, Prediction of pressure drop for incompressible flow through screens, Journal of Fluids Engineering
115:239. Constants from memory; the tests hold them against other sources.
"""


def plain_weave_open_area_ratio(*, warp_per_m: Numbers, weft_per_m: Numbers, wire_m: Numbers) -> Numbers:
    """Open-area ratio of a plain weave, (1 - n1 d)(1 - n2 d).

    Parameters
    ----------
    warp_per_m, weft_per_m
        Wires per metre in the two directions, n1 and n2 [1/m].
    wire_m
        Wire diameter d [m].

    Returns
    -------
    Numbers
        Open-area ratio [-].

    Raises
    ------
    ValueError
        If the wires leave no gap.

    Examples
    --------
    18 x 16 wires an inch of 0.28 mm:

    >>> share = plain_weave_open_area_ratio(warp_per_m=18 / 0.0254, weft_per_m=16 / 0.0254, wire_m=0.28e-3)
    >>> round(float(share), 2)
    0.66
    """
    across, along = 1.0 - warp_per_m * wire_m, 1.0 - weft_per_m * wire_m
    if np.any(np.minimum(across, along) <= 0.0):
        raise ValueError("the wires touch: wires per metre times wire diameter must be below 1")
    return across * along


def screen_loss(*, open_area_ratio: Numbers, wire_reynolds: Numbers) -> Numbers:
    """Loss coefficient of a woven screen on the face velocity, K = f(Re) (1 - e^2) / e^2.

    Parameters
    ----------
    open_area_ratio
        Open-area ratio e, between 0 and 1 [-].
    wire_reynolds
        Reynolds number of the wire, face velocity times wire diameter / kinematic viscosity, > 0 [-].

    Returns
    -------
    Numbers
        Loss coefficient K [-], in dp = K rho v^2 / 2 with v the face velocity.

    Raises
    ------
    ValueError
        If the open-area ratio is not between 0 and 1, or a Reynolds number is not positive.

    Examples
    --------
    >>> round(float(screen_loss(open_area_ratio=0.66, wire_reynolds=5.6)), 1)
    3.1
    """
    e, re = np.asarray(open_area_ratio, dtype=float), np.asarray(wire_reynolds, dtype=float)
    if np.any((e <= 0.0) | (e >= 1.0)):
        raise ValueError("the open-area ratio of a screen must be between 0 and 1")
    if np.any(re <= 0.0):
        raise ValueError("the Reynolds number of the wire must be positive")
    friction = CREEPING / re + TRANSITION / np.log10(re + 1.25) + TURBULENT * np.log10(re)
    loss: Numbers = friction * (1.0 - e * e) / (e * e)
    return loss


def screen_coefficients(
    *,
    open_area_ratio: Numbers,
    wire_m: Numbers,
    density: Numbers,
    dynamic_viscosity_pa_s: Numbers,
) -> tuple[Numbers, Numbers]:
    """Coefficients of the loss of a screen, dp = a v + b v^2 with v the face velocity.

    Parameters
    ----------
    open_area_ratio
        Open-area ratio, between 0 and 1 [-].
    wire_m
        Wire diameter [m].
    density
        Density of the air [kg/m3].
    dynamic_viscosity_pa_s
        Dynamic viscosity of the air [Pa s].

    Returns
    -------
    tuple of Numbers
        a [Pa s/m] and b [Pa s2/m2]. They add to those of the opening that the screen covers.

    Raises
    ------
    ValueError
        If the open-area ratio is not between 0 and 1.

    Notes
    -----
    Least squares of the relative error at nine speeds from 0.1 to 3 m/s, evenly spaced in the logarithm, by the two
    normal equations. For wires of 0.1-0.5 mm the fit is within 4.5 % of `screen_loss` over that range.

    Examples
    --------
    >>> a, b = screen_coefficients(open_area_ratio=0.66, wire_m=0.28e-3, density=1.2, dynamic_viscosity_pa_s=1.81e-5)
    >>> round(float(a), 2), round(float(b), 2)
    (0.41, 0.45)
    """
    given = (open_area_ratio, wire_m, density, dynamic_viscosity_pa_s)
    e, wire, rho, mu = (np.asarray(value, dtype=float)[..., np.newaxis] for value in given)
    reynolds = rho * _NODES_M_S * wire / mu
    loss = screen_loss(open_area_ratio=e, wire_reynolds=reynolds)
    dp = loss * rho * _NODES_M_S**2 / 2.0
    first, second = _NODES_M_S / dp, _NODES_M_S**2 / dp
    s11, s12, s22 = (np.sum(x * y, axis=-1) for x, y in ((first, first), (first, second), (second, second)))
    s1, s2 = np.sum(first, axis=-1), np.sum(second, axis=-1)
    determinant = s11 * s22 - s12 * s12
    return (s1 * s22 - s2 * s12) / determinant, (s2 * s11 - s1 * s12) / determinant
