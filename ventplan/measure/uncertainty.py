"""Uncertainty by the GUM (JCGM 100:2008) and its Monte Carlo supplement (JCGM 101:2008): sources, budgets, results.

Inputs come in independent sources. A source is one quantity, or several that are correlated with one another
(the intercept and slope of one calibration line); each carries the degrees of freedom of its own evaluation.

The package ``uncertainties`` (3.2) propagates linearly only: it has neither degrees of freedom (Welch-Satterthwaite)
nor draws, and both are needed here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

LEAST_CHANCE = 0.05
"""Least probability of as large a misfit at which readings still count as agreeing [-]; the usual level of a
test, common practice, no source."""

WIDE = 1.96
"""Standard uncertainties on either side that hold the value in 95 % of cases, where it is normally distributed [-]."""

Array = NDArray[np.float64]

CALIBRATION = "anemometer calibration"
"""Name of the source that all readings by one anemometer share."""


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
    """One line of an uncertainty budget: the standard uncertainty that a source contributes to the result, in its
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
        What each source contributes.
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
    def normal_relative(self) -> float:
        """Relative standard uncertainty of a normal distribution whose 95 % interval is as wide as this one [-].

        What is handed on without its degrees of freedom (a house file has no room for them) takes this one: a
        standard uncertainty from three readings alone would claim too much there.
        """
        low, high = self.interval
        return (high - low) / (2.0 * WIDE * abs(self.value)) if self.value else math.inf

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


def propagate(function: Callable[..., float], sources: Sequence[Source], *, unit: str = "") -> Estimate:
    """The law of propagation of uncertainty (JCGM 100:2008, equations 10 and 13), with its budget.

    Parameters
    ----------
    function
        Takes every input of every source in order, as positional floats.
    sources
        Independent sources.
    unit
        Unit of the result.

    Examples
    --------
    >>> from ventplan.measure.uncertainty import single
    >>> flow = propagate(lambda area, speed: area * speed,
    ...                  [single("area", mean=2.0, standard=0.06), single("speed", mean=1.5, standard=0.075)])
    >>> round(flow.relative, 4)
    0.0583
    """
    means = np.concatenate([source.means for source in sources])
    spread = np.concatenate([np.sqrt(np.diag(source.covariance)) for source in sources])
    # A tenth of a standard uncertainty: small against the curvature that matters, large against rounding.
    steps = spread * 0.1
    slopes = np.array(
        [
            0.0 if step == 0.0 else (float(function(*(means + move))) - float(function(*(means - move)))) / (2.0 * step)
            for step, move in zip(steps, np.diag(steps), strict=True)
        ]
    )
    shares = []
    start = 0
    for source in sources:
        stop = start + source.means.size
        part = slopes[start:stop]
        variance = float(part @ source.covariance @ part)
        shares.append(Share(source.name, math.sqrt(max(variance, 0.0)), source.degrees))
        start = stop
    standard = math.sqrt(sum(share.standard**2 for share in shares))
    return Estimate(float(function(*means)), standard, effective_degrees(shares), unit, tuple(shares))


def _draw(sources: Sequence[Source], *, count: int, generator: np.random.Generator) -> Array:
    """Draws of every input, shape (inputs, count): normal, or multivariate t where a source has few degrees of freedom
    (JCGM 101, 6.4)."""
    blocks = []
    for source in sources:
        values, vectors = np.linalg.eigh(source.covariance)
        root = vectors * np.sqrt(np.clip(values, 0.0, None))
        normal = root @ generator.standard_normal((source.means.size, count))
        if math.isfinite(source.degrees):
            normal = normal * np.sqrt(source.degrees / generator.chisquare(source.degrees, count))
        blocks.append(source.means[:, None] + normal)
    return np.concatenate(blocks, axis=0)


def simulate(
    function: Callable[..., ArrayLike],
    sources: Sequence[Source],
    *,
    generator: np.random.Generator,
    count: int = 10_000,
    unit: str = "",
) -> Estimate:
    """Propagation of distributions (JCGM 101:2008): for functions that bend within the uncertainty of their
    inputs.

    Parameters
    ----------
    function
        Takes every input as an array of shape (count,), gives shape (count,). Draws for which it is not
        finite are left out.
    sources
        Independent sources.
    generator
        Where the randomness comes from.
    count
        Number of draws.
    unit
        Unit of the result.
    """
    means = np.concatenate([source.means for source in sources])
    results = np.asarray(function(*_draw(sources, count=count, generator=generator)), dtype=float)
    results = results[np.isfinite(results)]
    low, high = np.quantile(results, [0.025, 0.975])
    best = float(np.asarray(function(*[np.array([mean]) for mean in means]), dtype=float)[0])
    # The spread is read off the middle 68 %: heavy-tailed draws have no useful standard deviation.
    inner = np.quantile(results, [0.158655, 0.841345])
    standard = float(inner[1] - inner[0]) / 2.0
    return Estimate(best, standard, math.inf, unit, (), "Monte Carlo", (float(low), float(high)))


def evaluate(
    function: Callable[..., ArrayLike],
    sources: Sequence[Source],
    *,
    generator: np.random.Generator,
    count: int = 10_000,
    unit: str = "",
) -> Estimate:
    """Linear propagation where it holds, draws where it does not; the estimate's ``method`` says which.

    It holds where both ends of the linear 95 % interval lie within a fifth of a standard uncertainty of
    those of the draws (validation of the GUM approach by Monte Carlo, JCGM 101:2008, clause 8, with a
    tolerance for people).

    Parameters
    ----------
    function
        Takes every input of every source in order, as numbers or as arrays of one shape.
    sources, generator, count, unit
        As for ``simulate``.
    """
    linear = propagate(lambda *point: float(np.asarray(function(*point))), sources, unit=unit)
    drawn = simulate(function, sources, generator=generator, count=count, unit=unit)
    gaps = [abs(one - other) for one, other in zip(linear.interval, drawn.interval, strict=True)]
    if max(gaps) <= 0.2 * linear.standard or linear.standard == 0.0:
        return linear
    return replace(drawn, budget=linear.budget)


@dataclass(frozen=True)
class PairEstimator:
    """Evaluates functions of two fitted numbers, and of more inputs, where several sources make the two uncertain: the
    first source holds the pair itself, the others departures from it with mean 0; ``draws`` check the linear
    propagation."""

    sources: tuple[Source, ...]
    draws: int = 10_000

    def __call__(self, function: Callable[..., ArrayLike], extra: tuple[Source, ...], unit: str) -> Estimate:
        """``function(first, second, *extra)`` with its uncertainty, in ``unit``; see ``evaluate``."""
        split = 2 * len(self.sources)

        def apply(*values: ArrayLike) -> Array:
            inputs = [np.asarray(value, dtype=float) for value in values]
            with np.errstate(divide="ignore", invalid="ignore"):
                return np.asarray(function(sum(inputs[0:split:2]), sum(inputs[1:split:2]), *inputs[split:]))

        generator = np.random.default_rng(1)
        return evaluate(apply, (*self.sources, *extra), generator=generator, count=self.draws, unit=unit)
