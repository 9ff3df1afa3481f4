"""The line of a walk down the jet: centre-line speeds at several distances from the fan.

1 / Uc = alpha + beta s beyond the core. In the core, close to the fan, the centre-line speed does not fall
yet: those readings do not belong on the line, and are found and named.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.errors import NoAnswerError
from ventplan.measure.anemometer import LEAST_MISTAKE
from ventplan.measure.regression import Line, fit_line
from ventplan.measure.uncertainty import CALIBRATION, Array, Source

DOUBT = 4.0
"""Difference in Akaike's criterion up to which two cuts count as equally good (common practice: 2 to 4)."""


@dataclass(frozen=True)
class Walk:
    """The straight line through a walk.

    Attributes
    ----------
    line
        1 / Uc [s/m] against distance [m]; its covariance is that of the scatter alone.
    sources
        Independent sources for (alpha, beta): scatter, then calibration of the anemometer and zero of the
        distance as departures from 0.
    core
        Numbers of the readings that were left off the line since they lie in the core, counted from 0.
    used
        Numbers of the readings on the line.
    outliers
        Numbers of readings far off the line; they were kept.
    scatter
        Relative standard deviation of one reading about the line [-].
    """

    line: Line
    sources: tuple[Source, ...]
    core: tuple[int, ...]
    used: tuple[int, ...]
    outliers: tuple[int, ...]
    scatter: float


def _relative_line(distances: Array, speeds: Array) -> Line:
    """1 / Uc against distance with the same relative scatter everywhere: weights 1 / line^2, iterated."""
    inverse = 1.0 / speeds
    height = inverse
    for _ in range(4):
        line = fit_line(distances, inverse, 1.0 / height**2)
        height = np.clip(line.at(distances), 0.2 * inverse, None)
    return line


def core_readings(distances_m: ArrayLike, speeds_m_s: ArrayLike) -> tuple[int, ...]:
    """Numbers of the readings in the core, where the centre-line speed does not fall yet.

    Every cut of the walk into a flat part and a falling part is tried against no cut, by Akaike's information
    criterion on the logarithms; a cut costs two unknowns, the flat speed and where it ends. No more than
    half of the distances are cut. Where there is a core, the longest cut that is about as good as the best
    is taken: a core reading on the line bends it, a good reading less only widens the uncertainty.

    Parameters
    ----------
    distances_m, speeds_m_s
        The walk, shape (n,).
    """
    distances, speeds = np.asarray(distances_m, dtype=float), np.asarray(speeds_m_s, dtype=float)
    places = np.unique(distances)
    count = distances.size
    tried: list[tuple[float, NDArray[np.bool_]]] = []
    for cut in range(max(min(places.size // 2, places.size - 3), 0) + 1):
        near = distances < places[cut]
        line = _relative_line(distances[~near], speeds[~near])
        far = np.log(speeds[~near]) + np.log(np.clip(line.at(distances[~near]), 1e-9, None))
        flat = np.log(speeds[near]) - np.log(speeds[near]).mean() if cut else np.empty(0)
        misfit = float(far @ far + flat @ flat)
        tried.append((count * math.log(max(misfit, 1e-12) / count) + 2.0 * (2 if cut == 0 else 4), near))
    best = min(criterion for criterion, _ in tried)
    if tried[0][0] == best:
        return ()
    chosen = [near for criterion, near in tried if criterion <= best + DOUBT][-1]
    return tuple(int(index) for index in np.flatnonzero(chosen))


def fit_walk(
    *,
    distances_m: ArrayLike,
    speeds_m_s: ArrayLike,
    beyond_m: float | None = None,
    zero_error_m: float = 0.01,
    calibration: Source | None = None,
    indicated: ArrayLike | None = None,
) -> Walk:
    """The line through a walk down the jet, core left out and its readings named.

    Parameters
    ----------
    distances_m
        Distances from the blades, shape (n,) [m].
    speeds_m_s
        Centre-line speeds, corrected, shape (n,) [m/s].
    beyond_m
        Use readings from this distance on [m]; found by itself if left out.
    zero_error_m
        Standard uncertainty of where the blades are on the tape [m], common to all distances.
    calibration, indicated
        Intercept and slope that corrected the speeds, and the indications they were applied to, shape (n,).

    Raises
    ------
    NoAnswerError
        Where fewer than three readings lie beyond the core, or the speed does not fall with distance.
    """
    distances, speeds = np.asarray(distances_m, dtype=float), np.asarray(speeds_m_s, dtype=float)
    near = np.zeros(distances.size, dtype=bool)
    if beyond_m is not None:
        near = distances < beyond_m
    elif distances.size >= 3:
        near[list(core_readings(distances, speeds))] = True
    if (~near).sum() < 3 or np.unique(distances[~near]).size < 3:
        raise NoAnswerError(
            "A walk needs readings at three distances or more beyond the core. Walk farther from the fan."
        )
    line = _relative_line(distances[~near], speeds[~near])
    outliers = line.outliers(least=LEAST_MISTAKE / speeds[~near])
    if line.slope <= 2.0 * math.sqrt(line.covariance[1, 1]):
        odd = [f"{speeds[~near][i]:.2f} m/s at {distances[~near][i]:.2f} m" for i in outliers]
        raise NoAnswerError(
            "The centre-line speed does not clearly fall along this walk: all of it may lie in the core, or the "
            "room is too short. Walk on to ten diameters, and hold the probe in the middle of the stream."
            + (f" Or a reading is mistyped: {' and '.join(odd)} is far off the others." if odd else "")
        )
    sources = [Source("scatter of the walk", line.coefficients, line.covariance, line.degrees)]
    if calibration is not None and indicated is not None:
        shown = np.asarray(indicated, dtype=float)[~near]
        moves = _calibration_slopes(distances[~near], speeds[~near], shown)
        covariance = moves @ calibration.covariance @ moves.T
        sources.append(Source(CALIBRATION, np.zeros(2), covariance, calibration.degrees))
    shift = np.diag([(line.slope * zero_error_m) ** 2, 0.0])
    sources.append(Source("zero of the distance", np.zeros(2), shift))
    used = np.flatnonzero(~near)
    return Walk(
        line=line,
        sources=tuple(sources),
        core=tuple(int(index) for index in np.flatnonzero(near)),
        used=tuple(int(index) for index in used),
        outliers=tuple(int(used[index]) for index in outliers),
        scatter=line.scatter,
    )


def _calibration_slopes(distances: Array, speeds: Array, indicated: Array) -> Array:
    """How (alpha, beta) move with the intercept and slope of the calibration, shape (2, 2)."""
    step = 1e-4
    columns = []
    for move in (np.full_like(speeds, step), step * indicated):
        rise, fall = _relative_line(distances, speeds + move), _relative_line(distances, speeds - move)
        columns.append((rise.coefficients - fall.coefficients) / (2.0 * step))
    return np.stack(columns, axis=1)
