"""Fitting a house where a reading may be plainly wrong: a typing error must not spoil what the others say."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from ventplan.errors import NoAnswerError
from ventplan.measure.house_fit import Posterior, fit, forward_slopes, leave_one_out, set_apart
from ventplan.measure.uncertainty import Array


def fit_most(
    *, model: Callable[[Array], Array], readings: Sequence[float], noise: Array, prior: Array, level: float = 0.01
) -> tuple[Posterior, frozenset[int]]:
    """The most probable knobs, without the few readings that all others contradict.

    Where a reading is farther off what the others foretell than the normal quantile at ``level``, shared among all
    (Bonferroni), the worst is set aside and the fit made again. Fewer than half may be set aside, and only where that
    leaves the rest in agreement: else nobody can tell which are wrong, and all are kept.

    Parameters
    ----------
    model, readings, noise, prior
        As for ``fit``.
    level
        Probability that chance alone makes any reading as far off [-].

    Returns
    -------
    tuple
        The fit, and the numbers of the readings that were set aside, counted from 0.

    Raises
    ------
    NoAnswerError
        Where the fit does not settle, whatever is set aside.

    References
    ----------
    Cook and Weisberg 1982, Residuals and Influence in Regression (test for one shifted reading), from memory.
    """
    from statistics import NormalDist

    limit = NormalDist().inv_cdf(1.0 - level / 2.0 / len(readings))
    most = (len(readings) - 1) // 2

    def scores(posterior: Posterior, aside: frozenset[int]) -> Array:
        off, standard = leave_one_out(posterior, prior, aside)
        return np.asarray(np.abs(off / standard))

    def worst(scored: Array, aside: frozenset[int]) -> frozenset[int]:
        kept = [index for index in range(len(readings)) if index not in aside and scored[index] > limit]
        return frozenset({max(kept, key=lambda index: float(scored[index]))}) if kept else frozenset()

    def fitted(aside: frozenset[int]) -> Posterior:
        result = fit(model=model, readings=readings, noise=set_apart(noise, aside), prior=prior)
        return replace(result, noise=noise)

    nobody: frozenset[int] = frozenset()
    plain: Posterior | None = None
    try:
        plain = fitted(nobody)
        if not worst(scores(plain, nobody), nobody):
            return plain, nobody
    except NoAnswerError:
        if most == 0:
            raise
    # A wild reading bends the fit or keeps it from settling: look for it in the file's own house first.
    values = model(np.zeros(prior.size))
    rest, slopes = np.asarray(readings) - values, forward_slopes(model, np.zeros(prior.size), values, 0.01)
    start = Posterior(np.zeros(prior.size), np.diag(prior**2), slopes, rest, rest, noise, 0.0)
    suspects = nobody
    while len(suspects) < most and (more := worst(scores(start, suspects), suspects)):
        suspects |= more
    for aside in dict.fromkeys((suspects, nobody)):
        tried: set[frozenset[int]] = set()
        while len(aside) <= most and aside not in tried:
            tried.add(aside)
            try:
                posterior = fitted(aside)
            except NoAnswerError:
                break
            scored = scores(posterior, aside)
            more = worst(scored, aside)
            agree = frozenset(index for index in aside if scored[index] <= limit)
            if not more and not agree:
                return posterior, aside
            aside = aside | more if more else aside - agree
    if plain is None:
        raise NoAnswerError("The fit did not settle: readings may be wrong by a large factor. Check the units first.")
    return plain, nobody
