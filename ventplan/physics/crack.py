"""Leakage through the cracks of closed windows and doors, and of a whole envelope.

The power law Q = C |dp|^n has an infinite slope at zero. Here it is ``Q = C dp / (dp^2 + e^2)^((1 - n) / 2)`` with
e = 0.01 Pa, which is odd, smooth, and within 0.03 % of the power law from 0.25 Pa up (n = 0.65).
"""

from __future__ import annotations

from ventplan.physics import Numbers

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
