"""From the uncertainty of inputs to that of a result, by the GUM.

Propagation is linear, with the partial derivatives taken numerically (JCGM 100:2008); where a function bends
too much for that, ``simulate`` draws from the same sources instead (JCGM 101:2008). An estimate says which
of the two made it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ventplan.measure.uncertainty import Array, Estimate, Share, Source, effective_degrees


def partial_derivatives(function: Callable[[Array], ArrayLike], means: Array, steps: Array) -> Array:
    """Central differences of a vector function, shape (outputs, inputs).

    Parameters
    ----------
    function
        Takes shape (n,), gives shape (m,) or a number.
    means
        Point of evaluation, shape (n,).
    steps
        Step of each input, in its unit, shape (n,); an input with step 0 counts as exact.
    """
    columns = []
    for index, step in enumerate(steps):
        if step == 0.0:
            columns.append(np.zeros_like(np.atleast_1d(np.asarray(function(means), dtype=float))))
            continue
        move = np.zeros_like(means)
        move[index] = step
        rise = np.atleast_1d(np.asarray(function(means + move), dtype=float))
        fall = np.atleast_1d(np.asarray(function(means - move), dtype=float))
        columns.append((rise - fall) / (2.0 * step))
    return np.stack(columns, axis=1)


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
    slopes = partial_derivatives(lambda point: function(*point), means, spread * 0.1)[0]
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


def draw(sources: Sequence[Source], *, count: int, generator: np.random.Generator) -> Array:
    """Draws of every input: normal, or multivariate t where a source has few degrees of freedom (JCGM 101,
    6.4).

    Returns
    -------
    Array
        Shape (inputs, count).
    """
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
    results = np.asarray(function(*draw(sources, count=count, generator=generator)), dtype=float)
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
    """Evaluates functions of two fitted numbers, and of more inputs, where several sources make the two
    uncertain.

    Attributes
    ----------
    sources
        The first holds the pair itself; the others hold departures from it, with mean 0.
    seed, draws
        Seed and number of the draws that check linear propagation.
    """

    sources: tuple[Source, ...]
    seed: int = 1
    draws: int = 10_000

    def __call__(self, function: Callable[..., ArrayLike], extra: tuple[Source, ...], unit: str) -> Estimate:
        """``function(first, second, *extra)`` with its uncertainty, in ``unit``; see ``evaluate``."""
        split = 2 * len(self.sources)

        def apply(*values: ArrayLike) -> Array:
            inputs = [np.asarray(value, dtype=float) for value in values]
            with np.errstate(divide="ignore", invalid="ignore"):
                return np.asarray(function(sum(inputs[0:split:2]), sum(inputs[1:split:2]), *inputs[split:]))

        generator = np.random.default_rng(self.seed)
        return evaluate(apply, (*self.sources, *extra), generator=generator, count=self.draws, unit=unit)
