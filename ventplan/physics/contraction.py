"""What a small anemometer shows in the air behind an opening, against the mean speed over the opening."""

from __future__ import annotations

import numpy as np

from ventplan.physics.arrays import Numbers

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
