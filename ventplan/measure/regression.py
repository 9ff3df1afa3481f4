"""Linear least squares with covariance, degrees of freedom and the readings that do not fit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ventplan.measure.uncertainty import Array, coverage_factor


@dataclass(frozen=True)
class Fit:
    """A linear model fitted to readings, with the scatter taken from its residuals.

    Attributes
    ----------
    coefficients
        Shape (p,).
    covariance
        Covariance of the coefficients, s^2 (X' W X)^-1, shape (p, p).
    degrees
        Degrees of freedom, readings - p [-].
    scatter
        Standard deviation s of one reading of weight 1, in the unit of the readings.
    residuals
        Readings minus model, shape (n,).
    normalised
        Residuals over their own standard deviations, leverage counted, each against the scatter of the other
        readings (externally studentised) [-], shape (n,); nan where there are too few readings to tell.
    """

    coefficients: Array
    covariance: Array
    degrees: float
    scatter: float
    residuals: Array
    normalised: Array

    def outliers(self, *, level: float = 0.01, least: ArrayLike = 0.0) -> tuple[int, ...]:
        """Readings whose normalised residual is beyond Student's t at ``level``, shared among all
        (Bonferroni).

        They are reported, never dropped: whether a reading is wrong is for the person who took it to say.

        Parameters
        ----------
        level
            Probability that chance alone makes any reading as far off [-].
        least
            Residuals up to this are nobody's mistake, in the unit of the readings, one or shape (n,): where a
            display rounds, a few readings may agree to the last digit and make any other look far off.
        """
        if self.degrees < 2:
            return ()
        limit = coverage_factor(degrees=self.degrees - 1.0, level=1.0 - level / self.residuals.size)
        far = (np.abs(self.normalised) > limit) & (np.abs(self.residuals) > least)
        return tuple(int(index) for index in np.flatnonzero(far))


@dataclass(frozen=True)
class Line(Fit):
    """y = intercept + slope x."""

    @property
    def intercept(self) -> float:
        """Height at x = 0."""
        return float(self.coefficients[0])

    @property
    def slope(self) -> float:
        """Rise for each unit of x."""
        return float(self.coefficients[1])

    def at(self, x: ArrayLike) -> Array:
        """Height of the line at x, same shape."""
        return np.asarray(self.intercept + self.slope * np.asarray(x, dtype=float))

    def standard_at(self, x: ArrayLike) -> Array:
        """Standard uncertainty of the height of the line at x, covariance counted, same shape."""
        return line_standard(self.covariance, x)


def line_standard(covariance: Array, x: ArrayLike) -> Array:
    """Standard uncertainty of a + b x from the covariance of (a, b): u^2 = u_a^2 + 2 x u_ab + x^2 u_b^2."""
    at, v = np.asarray(x, dtype=float), covariance
    return np.asarray(np.sqrt(np.clip(v[0, 0] + 2.0 * at * v[0, 1] + at**2 * v[1, 1], 0.0, None)))


def fit_linear(design: ArrayLike, readings: ArrayLike, weights: ArrayLike | None = None) -> Fit:
    """Weighted linear least squares by QR.

    Parameters
    ----------
    design
        What each coefficient is multiplied with, shape (n, p).
    readings
        Shape (n,), n > p.
    weights
        Relative weights, inverse variances up to a factor, shape (n,); all 1 if left out.

    Raises
    ------
    ValueError
        For no more readings than coefficients, or where the readings cannot tell the coefficients apart.

    References
    ----------
    JCGM 100:2008, annex H.3.
    """
    x, y = np.asarray(design, dtype=float), np.asarray(readings, dtype=float)
    root = np.ones_like(y) if weights is None else np.sqrt(np.asarray(weights, dtype=float))
    count, unknowns = x.shape
    if count <= unknowns:
        raise ValueError(f"{unknowns} unknowns with their uncertainty need more than {unknowns} readings")
    scaled = x * root[:, None]
    q, r = np.linalg.qr(scaled)
    if np.linalg.cond(r / np.linalg.norm(r, axis=0)) > 1e10:
        raise ValueError("the readings cannot tell the unknowns apart: take them at more different places")
    inverse = np.linalg.inv(r)
    coefficients = inverse @ (q.T @ (root * y))
    residuals = y - x @ coefficients
    degrees = float(count - unknowns)
    whitened = root * residuals
    variance = float(whitened @ whitened) / degrees
    leverage = np.einsum("ij,ij->i", q, q)
    normalised = _studentised(whitened, leverage, variance, degrees)
    covariance = variance * (inverse @ inverse.T)
    return Fit(coefficients, covariance, degrees, math.sqrt(variance), residuals, normalised)


def fit_line(x: ArrayLike, y: ArrayLike, weights: ArrayLike | None = None) -> Line:
    """A straight line through points, shape (n,), n >= 3, at two or more different x; see ``fit_linear``."""
    xs = np.asarray(x, dtype=float)
    fit = fit_linear(np.stack([np.ones_like(xs), xs], axis=1), y, weights)
    return Line(**vars(fit))


def _studentised(scaled: Array, leverage: Array, variance: float, degrees: float) -> Array:
    """Each residual over its standard deviation, with the variance estimated from the other readings."""
    if degrees < 2:
        return np.full_like(scaled, np.nan)
    room = np.clip(1.0 - leverage, 1e-12, None)
    others = (degrees * variance - scaled**2 / room) / (degrees - 1.0)
    # Residuals that are nothing but rounding are not outliers of one another.
    floor = np.finfo(float).tiny + (1e-12 * np.abs(scaled).max()) ** 2
    return np.asarray(scaled / np.sqrt(room * np.clip(others, floor, None)))
