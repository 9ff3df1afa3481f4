"""Air that leaks through the cracks of shut windows and doors, and of a whole envelope.

The power law Q = C |dp|^n has an endless slope at zero. Here it is ``Q = C dp / (dp^2 + e^2)^((1 - n) / 2)``
with e = 0.01 Pa, which is odd and smooth, and is within 0.03 % of the power law
from 0.25 Pa up (n = 0.65).
"""

from __future__ import annotations

from ventplan.physics.arrays import Numbers

SMOOTHING_PA = 0.01
"""Pressure difference below which the power law turns into a straight line [Pa]; a numerical choice."""
_SMOOTHING_PA2 = SMOOTHING_PA * SMOOTHING_PA

CRACK_EXPONENT = 0.65
"""Exponent of cracks where none was measured [-] (ASHRAE Handbook Fundamentals 2021, ch. 16: about 0.65)."""

SHUT_SASH_LEAK = 6.75 / 3600.0 / 100.0 ** (2.0 / 3.0)
"""Flow at 1 Pa through each metre of joint of a shut sash [m3/(s m)], 8.7e-5.

Class 2 of EN 12207 (6.75 m3/h for each metre of joint at 100 Pa, exponent 2/3): an ordinary weather-stripped
window. From memory. Old sashes without seals leak several times as much (class 1: 12.5).
"""


def crack_flow(dp_pa: Numbers, coefficient: Numbers, exponent: Numbers) -> tuple[Numbers, Numbers]:
    """Volume flow through a crack, and its slope C (n dp^2 + e^2) (dp^2 + e^2)^((n - 3) / 2).

    Parameters
    ----------
    dp_pa
        Pressure difference [Pa].
    coefficient
        Flow at 1 Pa [m3/s].
    exponent
        Exponent n [-], 0.5 to 1.

    Returns
    -------
    tuple of Numbers
        Flow with the sign of ``dp_pa`` [m3/s], and its slope over it [m3/(s Pa)], positive and finite.

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


def envelope_leak(
    *,
    air_changes_at_50_pa_per_h: Numbers,
    volume_m3: Numbers,
    share: Numbers = 1.0,
    exponent: Numbers = CRACK_EXPONENT,
) -> Numbers:
    """Flow coefficient of a part of the envelope, from a blower-door test: C = share n50 V / 3600 / 50^n.

    Parameters
    ----------
    air_changes_at_50_pa_per_h
        Air change rate of the house at 50 Pa [1/h].
    volume_m3
        Volume of the house [m3].
    share
        Area of this part over that of the whole envelope [-].
    exponent
        Exponent n [-].

    Returns
    -------
    Numbers
        Flow at 1 Pa through this part [m3/s]. Spreading the leak evenly over the area is common practice.

    Examples
    --------
    >>> round(float(envelope_leak(air_changes_at_50_pa_per_h=6.0, volume_m3=250.0)), 4)
    0.0328
    """
    return share * air_changes_at_50_pa_per_h * volume_m3 / 3600.0 / 50.0**exponent


def sash_leak(*, width_m: Numbers, height_m: Numbers, leak_per_m: Numbers = SHUT_SASH_LEAK) -> Numbers:
    """Flow coefficient of a shut sash: the leak of a metre of joint times its perimeter.

    Parameters
    ----------
    width_m, height_m
        Size of the sash [m].
    leak_per_m
        Flow at 1 Pa through each metre of joint [m3/(s m)].

    Returns
    -------
    Numbers
        Flow at 1 Pa [m3/s].
    """
    return leak_per_m * 2.0 * (width_m + height_m)
