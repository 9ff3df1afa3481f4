"""Fans: the pressure curve of one that is sealed into an opening, and the sound of several."""

from __future__ import annotations

import math
from collections.abc import Iterable

from ventplan.physics import Numbers

LINEAR_SHARE = 0.5
"""Share of the shut-off pressure that falls linearly with flow; the rest falls with its square [-]: common practice, no
source. The curve of a small axial fan lies between a straight line and a parabola unless it stalls."""


def sealed_coefficients(*, flow_m3_s: Numbers, shutoff_pa: Numbers, area_m2: Numbers) -> tuple[Numbers, Numbers]:
    """Pressure curve of a sealed fan as a loss, p(Q) = p_shutoff - a v - b v^2 with v = Q / A.

    Parameters
    ----------
    flow_m3_s
        Flow at no pressure difference [m3/s].
    shutoff_pa
        Static pressure at no flow [Pa].
    area_m2
        Area of the blades [m2].

    Returns
    -------
    tuple of Numbers
        a [Pa s/m] and b [Pa s2/m2], such that p is 0 at ``flow_m3_s``.
    """
    face_speed = flow_m3_s / area_m2
    return LINEAR_SHARE * shutoff_pa / face_speed, (1.0 - LINEAR_SHARE) * shutoff_pa / face_speed**2


REVERBERATION_S = 0.5
"""Reverberation time of a furnished room [s] (reference for dwellings, ISO 16283-1; from memory)."""


def sum_of_levels(levels_db: Iterable[float]) -> float:
    """Sound level of several sources together, 10 lg(sum of 10^(L / 10)).

    Parameters
    ----------
    levels_db
        Levels [dB(A)].

    Returns
    -------
    float
        Level [dB(A)]; minus infinity for none.

    Examples
    --------
    >>> round(sum_of_levels([52.0, 52.0]), 1)
    55.0
    """
    strength = sum(10.0 ** (level / 10.0) for level in levels_db)
    return 10.0 * math.log10(strength) if strength > 0.0 else -math.inf


def level_through_opening(*, level_db: float, free_area_m2: float, volume_m3: float) -> float:
    """Sound level in a room that sound enters through an open hole, L - 10 lg(A / S).

    Parameters
    ----------
    level_db
        Level L on the side of the source [dB(A)].
    free_area_m2
        Free area S of the hole [m2].
    volume_m3
        Volume V of the room that the sound enters [m3].

    Returns
    -------
    float
        Level [dB(A)], at most L; minus infinity without a hole.

    Notes
    -----
    The hole lets all sound pass (sound reduction index 0); the room absorbs A = 0.16 V / T (Sabine), with T as in
    `REVERBERATION_S`.

    References
    ----------
    ISO 16283-1: R' = L1 - L2 + 10 lg(S / A) (from memory).

    Examples
    --------
    >>> round(level_through_opening(level_db=55.0, free_area_m2=1.6, volume_m3=30.0), 1)
    47.2
    """
    if free_area_m2 <= 0.0:
        return -math.inf
    absorption = 0.16 * volume_m3 / REVERBERATION_S
    return level_db - max(10.0 * math.log10(absorption / free_area_m2), 0.0)
