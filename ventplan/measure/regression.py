"""Straight lines through readings, with the covariance of intercept and slope."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ventplan.measure.uncertainty import Array


@dataclass(frozen=True)
class Line:
    """y = intercept + slope x, fitted by weighted least squares.

    Attributes
    ----------
    intercept, slope
        Coefficients.
    covariance
        Covariance of (intercept, slope), shape (2, 2).
    degrees
        Degrees of freedom, points - 2 [-].
    scatter
        Standard deviation of one point about the line, at weight 1, in the unit of y.
    residuals
        y - line, shape (n,).
    normalised
        Residuals over their own standard deviations, leverage counted, each against the scatter of the other points
        (externally studentised) [-], shape (n,); nan where there are too few points to tell.
    """

    intercept: float
    slope: float
    covariance: Array
    degrees: float
    scatter: float
    residuals: Array
    normalised: Array

    def at(self, x: ArrayLike) -> Array:
        """Height of the line at x, same shape."""
        return self.intercept + self.slope * np.asarray(x, dtype=float)

    def standard_at(self, x: ArrayLike) -> Array:
        """Standard uncertainty of the height of the line at x, covariance counted, same shape."""
        at = np.asarray(x, dtype=float)
        v = self.covariance
        return np.asarray(np.sqrt(v[0, 0] + 2.0 * at * v[0, 1] + at**2 * v[1, 1]))

    def outliers(self, *, level: float = 0.01) -> tuple[int, ...]:
        """Points whose normalised residual is beyond Student's t at ``level``, shared among all points (Bonferroni).

        They are reported, never dropped: whether a reading is wrong is for the person who took it to say.
        """
        from ventplan.measure.uncertainty import coverage_factor

        if self.degrees < 2:
            return ()
        limit = coverage_factor(degrees=self.degrees - 1.0, level=1.0 - level / self.residuals.size)
        return tuple(int(index) for index in np.flatnonzero(np.abs(self.normalised) > limit))


def fit_line(x: ArrayLike, y: ArrayLike, weights: ArrayLike | None = None) -> Line:
    """Weighted least squares with the scatter taken from the residuals.

    Minimises sum w (y - a - b x)^2; covariance = s^2 (X' W X)^-1 with s^2 = sum w r^2 / (n - 2).

    Parameters
    ----------
    x, y
        Points, shape (n,), n >= 3, with at least two different x.
    weights
        Relative weights, inverse variances up to a factor, shape (n,); all 1 if left out.

    Raises
    ------
    ValueError
        For fewer than three points or a single x: then a line has no uncertainty that the readings could tell.

    References
    ----------
    JCGM 100:2008, annex H.3.
    """
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    w = np.ones_like(xs) if weights is None else np.asarray(weights, dtype=float)
    if xs.size < 3 or np.ptp(xs) == 0.0:
        raise ValueError("a line with its uncertainty needs three points at two or more different places")
    # Solved about the weighted mean, where intercept and slope are uncorrelated: no cancellation far from zero.
    total = w.sum()
    middle_x, middle_y = float((w * xs).sum() / total), float((w * ys).sum() / total)
    sxx = float((w * (xs - middle_x) ** 2).sum())
    slope = float((w * (xs - middle_x) * (ys - middle_y)).sum() / sxx)
    intercept = middle_y - slope * middle_x
    residuals = ys - intercept - slope * xs
    degrees = xs.size - 2.0
    variance = float((w * residuals**2).sum() / degrees)
    shape = np.array([[1.0 / total + middle_x**2 / sxx, -middle_x / sxx], [-middle_x / sxx, 1.0 / sxx]])
    leverage = w * (1.0 / total + (xs - middle_x) ** 2 / sxx)
    normalised = _studentised(np.sqrt(w) * residuals, leverage, variance, degrees)
    return Line(intercept, slope, variance * shape, degrees, math.sqrt(variance), residuals, normalised)


def _studentised(scaled: Array, leverage: Array, variance: float, degrees: float) -> Array:
    """Each residual over its standard deviation, with the variance estimated from the other points."""
    if degrees < 2:
        return np.full_like(scaled, np.nan)
    room = np.clip(1.0 - leverage, 1e-12, None)
    others = np.clip((degrees * variance - scaled**2 / room) / (degrees - 1.0), 0.0, None)
    tiny = np.finfo(float).tiny
    return np.asarray(scaled / np.sqrt(room * others + tiny))
