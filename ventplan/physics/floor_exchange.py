"""Exchange through an opening in a floor with heavy air above light air: a hatch, an open stair."""

from __future__ import annotations

import numpy as np

from ventplan.physics.arrays import Numbers
from ventplan.physics.buoyancy import GRAVITY_M_S2


def floor_exchange(*, area_m2: Numbers, density_above: Numbers, density_below: Numbers) -> Numbers:
    """Exchange each way through an opening in a thin floor without net flow, Q = 0.055 sqrt(g D^5 drho / rho).

    Parameters
    ----------
    area_m2
        Free area of the opening [m2]; D is the diameter of a round one of that area.
    density_above, density_below
        Densities of the air above and below [kg/m3].

    Returns
    -------
    Numbers
        Volume flow each way [m3/s]; 0 where the lighter air is above, which stays there.

    References
    ----------
    Epstein, M. 1988, Buoyancy-driven exchange flow through small openings in horizontal partitions, Journal of Heat
    Transfer 110:885, limit of a thin partition. From memory.

    Examples
    --------
    >>> round(float(floor_exchange(area_m2=1.0, density_above=1.21, density_below=1.19)), 4)
    0.0301
    """
    diameter = np.sqrt(4.0 * area_m2 / np.pi)
    heavier = np.maximum(density_above - density_below, 0.0) / ((density_above + density_below) / 2.0)
    exchange: Numbers = 0.055 * np.sqrt(GRAVITY_M_S2 * diameter**5 * heavier)
    return exchange
