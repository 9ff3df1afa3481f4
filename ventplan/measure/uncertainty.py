"""Uncertainty by the GUM (JCGM 100:2008): standard uncertainties, their budget, and what they add up to.

Inputs come in independent sources. A source is one quantity, or several that are correlated with one another
(the intercept and slope of one calibration line); each carries the degrees of freedom of its own evaluation.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

LEAST_CHANCE = 0.05
"""How often chance alone must make as large a misfit, for readings to count as agreeing [-]; the usual level of a
test, common practice, no source."""

WIDE = 1.96
"""Standard uncertainties on either side that hold the value in 95 % of cases, where it is normally distributed [-]."""

Array = NDArray[np.float64]
Shape = Literal["rectangular", "triangular", "normal"]

CALIBRATION = "anemometer calibration"
"""Name of the source that all readings by one anemometer share."""

LIMIT_DIVISORS: dict[str, float] = {
    "rectangular": math.sqrt(3.0),
    "triangular": math.sqrt(6.0),
    "normal": 1.959964,
}
"""Half-width of the limits over the standard uncertainty (JCGM 100:2008, 4.3.5, 4.3.7 and 4.3.9)."""


@dataclass(frozen=True)
class Source:
    """One independent source of uncertainty: one input, or several that are correlated.

    Attributes
    ----------
    name
        What it is, in plain words.
    means
        Best values of its inputs, shape (n,).
    covariance
        Their covariance, shape (n, n).
    degrees
        Degrees of freedom of the evaluation [-]; infinite for a judgement that is taken as certain.
    """

    name: str
    means: Array
    covariance: Array
    degrees: float = math.inf


@dataclass(frozen=True)
class Share:
    """One line of an uncertainty budget: the standard uncertainty that a source brings to the result, in its
    unit."""

    name: str
    standard: float
    degrees: float = math.inf


@dataclass(frozen=True)
class Estimate:
    """A measured quantity with its uncertainty.

    Attributes
    ----------
    value
        Best value, in ``unit``.
    standard
        Combined standard uncertainty, in ``unit``.
    degrees
        Effective degrees of freedom [-].
    unit
        Unit of the value, SI.
    budget
        What each source brings.
    method
        ``linear`` or ``Monte Carlo``.
    ends
        95 % interval, where it is not value plus or minus the expanded uncertainty: read off draws, or
        symmetric in ratio.
    """

    value: float
    standard: float
    degrees: float = math.inf
    unit: str = ""
    budget: tuple[Share, ...] = ()
    method: Literal["linear", "Monte Carlo"] = "linear"
    ends: tuple[float, float] | None = None

    @property
    def relative(self) -> float:
        """Standard uncertainty over the value [-]."""
        return abs(self.standard / self.value) if self.value else math.inf

    @property
    def coverage_factor(self) -> float:
        """Factor k for 95 % at these degrees of freedom [-]."""
        return coverage_factor(degrees=self.degrees)

    @property
    def expanded(self) -> float:
        """Expanded uncertainty U = k u at 95 %, in ``unit``."""
        return self.coverage_factor * self.standard

    @property
    def interval(self) -> tuple[float, float]:
        """Interval that holds the quantity with 95 % confidence, in ``unit``."""
        return self.ends or (self.value - self.expanded, self.value + self.expanded)

    def as_dict(self) -> dict[str, object]:
        """Everything as plain numbers and text, for JSON; infinite degrees of freedom become None."""
        low, high = self.interval
        return {
            "value": self.value,
            "standard_uncertainty": self.standard,
            "degrees_of_freedom": self.degrees if math.isfinite(self.degrees) else None,
            "coverage_factor": self.coverage_factor,
            "low_95": low,
            "high_95": high,
            "unit": self.unit,
            "method": self.method,
            "budget": [
                {
                    "source": share.name,
                    "standard_uncertainty": share.standard,
                    "degrees_of_freedom": share.degrees if math.isfinite(share.degrees) else None,
                }
                for share in self.budget
            ],
        }


def single(name: str, *, mean: float, standard: float, degrees: float = math.inf) -> Source:
    """A source of one input with mean and standard uncertainty in the same unit."""
    return Source(name, np.array([mean]), np.array([[standard**2]]), degrees)


def from_repeats(name: str, readings: ArrayLike) -> Source:
    """Type A: the mean of independent repeats, u = s / sqrt(n), n - 1 degrees of freedom (JCGM 100:2008,
    4.2).

    Parameters
    ----------
    name
        What was read.
    readings
        Repeats, at least two, shape (n,).

    Raises
    ------
    ValueError
        For fewer than two readings: one reading has no scatter.
    """
    values = np.asarray(readings, dtype=float)
    if values.size < 2:
        raise ValueError("a type A evaluation needs at least two readings")
    standard = float(values.std(ddof=1) / math.sqrt(values.size))
    return single(name, mean=float(values.mean()), standard=standard, degrees=values.size - 1.0)


def from_limits(
    name: str, *, mean: float, half_width: float, shape: Shape = "rectangular", doubt: float = 0.0
) -> Source:
    """Type B: limits that are known or judged, u = half-width / divisor (JCGM 100:2008, 4.3).

    Parameters
    ----------
    name
        What the limits belong to.
    mean, half_width
        Best value and half the distance between the limits, in one unit. For ``normal``, the 95 % limits.
    shape
        Distribution between the limits.
    doubt
        Relative uncertainty of the uncertainty itself [-]; gives 1 / (2 doubt^2) degrees of freedom
        (equation G.3).
    """
    degrees = math.inf if doubt == 0.0 else 0.5 / doubt**2
    return single(name, mean=mean, standard=half_width / LIMIT_DIVISORS[shape], degrees=degrees)


def coverage_factor(*, degrees: float, level: float = 0.95) -> float:
    """Two-sided quantile of Student's t (JCGM 100:2008, table G.2).

    Parameters
    ----------
    degrees
        Degrees of freedom [-]. Fractions are kept: truncation, as G.4.1 allows, would only widen the
        interval.
    level
        Level of confidence [-].
    """
    from scipy import special

    tail = 0.5 + level / 2.0
    return float(special.ndtri(tail) if math.isinf(degrees) else special.stdtrit(degrees, tail))


def effective_degrees(shares: Sequence[Share]) -> float:
    """Welch-Satterthwaite: nu = u^4 / sum(u_i^4 / nu_i) (JCGM 100:2008, equation G.2b) [-].

    The shares are of independent sources; correlated inputs belong together in one share.
    """
    total = sum(share.standard**2 for share in shares)
    spent = sum(share.standard**4 / share.degrees for share in shares)
    return total**2 / spent if spent > 0.0 else math.inf
