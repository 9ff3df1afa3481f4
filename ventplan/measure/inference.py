"""The most probable parameters of a model, from readings with errors in common and readings below a limit.

The logarithm of reading i is the model's plus three errors: its own, that of the anemometer, which all readings share,
and that of the model, which is alike for set-ups that are alike. Parameters have normal priors. The most probable ones
minimise

    sum of squares of ((reading - model - e) / own)  -  2 sum of ln Phi((limit - model - e) / own)
        +  e' C^-1 e  +  sum of squares of (parameter / prior)

over the parameters and the common errors e, whose covariance is C; the second sum runs over readings of which only an
upper limit is known (a vane that stood still). Gauss-Newton steps, halved where a full one does not help. About that
point the model is taken as linear, and a reading below a limit as a normal one of the same slope and curvature:
posterior covariance, leave-one-out predictions and the worth of a next reading follow without solving again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ventplan.errors import NoAnswerError
from ventplan.measure.uncertainty import Array

Model = Callable[[Array], Array]
"""Logarithms of the readings, shape (n,), from the parameters, shape (k,)."""

WEIGHTLESS = 1e4
"""Variance that takes the weight off a reading that was set aside [-]: it may be off by a factor of e to the 100."""

_NO_GAIN = 0.05
"""Gain of a step below which the fit has arrived, in units of chi-squared, of which 3.84 make a 95 % interval [-]:
along a ridge, such as a fan aimed a little sideways or a little up, steps never end and change nothing."""

_UNSETTLED = "The fit did not converge: a reading may be wrong by a large factor. Check the units first."


@dataclass(frozen=True)
class Noise:
    """Errors of the logarithms of n readings.

    Attributes
    ----------
    own
        Standard deviations of what each reading has for itself, shape (n,).
    common
        Covariance of what readings have in common, shape (n, n).
    """

    own: Array
    common: Array

    @property
    def covariance(self) -> Array:
        """Covariance of all errors together, shape (n, n)."""
        return np.asarray(self.common + np.diag(self.own**2))

    def without(self, aside: Collection[int]) -> Noise:
        """The same with no weight left on some readings, by their numbers."""
        more = self.own**2
        more[list(aside)] += WEIGHTLESS
        return replace(self, own=np.sqrt(more))


@dataclass(frozen=True)
class Data:
    """Readings that a model is fitted to.

    Attributes
    ----------
    logarithms
        Logarithms of the readings, of the limit where only a limit is known, shape (n,).
    below
        True where the reading is only known to lie below that limit, shape (n,).
    noise
        Their errors.
    """

    logarithms: Array
    below: NDArray[np.bool_]
    noise: Noise


@dataclass(frozen=True)
class Posterior:
    """The most probable parameters, and the linear model about them.

    Attributes
    ----------
    point
        Parameters, shape (k,).
    covariance
        Their posterior covariance, shape (k, k).
    slopes
        Derivatives of the logarithms of the readings in them, shape (n, k).
    before, after
        ln reading - ln model with the file as it was and with the fitted parameters, shape (n,).
    target
        Readings as the linear model sees them, less the model at ``point``: a reading below its limit is replaced by
        the normal one with the same slope and curvature, shape (n,).
    own
        Standard deviations that go with ``target``, shape (n,).
    objective
        What was minimised, at its smallest [-].
    """

    point: Array
    covariance: Array
    slopes: Array
    before: Array
    after: Array
    target: Array
    own: Array
    objective: float


@dataclass(frozen=True)
class _Sites:
    """The readings seen from one point of the model: normal stand-ins for limits, and the objective's part."""

    target: Array
    own: Array
    objective: float


def _sites(data: Data, modelled: Array) -> _Sites:
    """Most probable common errors at a point of the model, and what the readings look like from there."""
    rest, own, common = data.logarithms - modelled, data.noise.own, data.noise.common
    if not data.below.any():
        weighted = np.linalg.solve(common + np.diag(own**2), rest)
        return _Sites(rest, own, float(rest @ weighted))
    from scipy import special

    below, target, variance = data.below, rest.copy(), own**2
    error, weighted = np.zeros(rest.size), np.zeros(rest.size)
    for _ in range(60):
        room = (rest[below] - error[below]) / own[below]
        # phi / Phi, from logarithms: Phi alone is zero far below.
        steep = np.exp(-0.5 * room**2 - 0.5 * math.log(2.0 * math.pi) - special.log_ndtr(room))
        curved = np.clip(steep * (room + steep) / own[below] ** 2, 1.0 / WEIGHTLESS, None)
        target[below] = error[below] - steep / own[below] / curved
        variance[below] = 1.0 / curved
        weighted = np.linalg.solve(common + np.diag(variance), target)
        moved = common @ weighted
        settled = np.abs(moved - error).max() < 1e-9
        error = moved
        if settled:
            break
    known = ~below
    objective = float(np.sum(((rest - error)[known] / own[known]) ** 2) + error @ weighted)
    objective -= 2.0 * float(np.sum(special.log_ndtr((rest - error)[below] / own[below])))
    return _Sites(target, np.sqrt(variance), objective)


def fit(*, model: Model, data: Data, prior: Array, start: Array | None = None) -> Posterior:
    """The most probable parameters.

    Parameters
    ----------
    model
        Logarithms of the readings as a function of the parameters, (k,) to (n,).
    data
        The readings.
    prior
        Standard deviations of the parameters, shape (k,).
    start
        Where to begin, shape (k,); the prior's middle if left out. Parameters with an even effect (the aim of a fan)
        need one off the middle, where their slope is zero.

    Raises
    ------
    NoAnswerError
        Where no step helps and none is small.
    """
    belief = np.diag(1.0 / prior**2)
    point = np.zeros(prior.size) if start is None else start
    before = data.logarithms - model(np.zeros(prior.size))
    values = model(point)
    here = _sites(data, values)

    def curvature_at(at: Array, modelled: Array, sites: _Sites) -> tuple[Array, Array, Array]:
        """Slopes of the model, precision of the readings, and half the curvature of the objective."""
        slopes, bends = derivatives_of(model, at, modelled, prior)
        precision = np.asarray(np.linalg.inv(data.noise.common + np.diag(sites.own**2)), dtype=np.float64)
        seen = slopes.T @ precision @ slopes
        # A bend of the model may take away most of what its slopes say and nothing of the prior; it adds nothing.
        bent = np.clip((precision @ sites.target) @ bends, 0.0, 0.9 * np.diag(seen))
        curvature = seen + belief - np.diag(bent)
        return slopes, precision, curvature if np.linalg.eigvalsh(curvature)[0] > 0.0 else seen + belief

    for _ in range(25):
        slopes, precision, curvature = curvature_at(point, values, here)
        move = np.linalg.solve(curvature, slopes.T @ precision @ here.target - belief @ point)
        share, current = 1.0, here.objective + point @ belief @ point
        while True:
            tried = point + share * move
            tried_values = model(tried)
            there = _sites(data, tried_values)
            if there.objective + tried @ belief @ tried <= current + 1e-12:
                break
            share /= 2.0
            if share < 1e-3:
                # Even the smallest step uphill: the point is as good as its derivatives are.
                tried, tried_values, there = point, values, here
                break
        gained = current - there.objective - float(tried @ belief @ tried)
        arrived = float(np.abs((tried - point) / prior).max()) < 1e-2 or gained < _NO_GAIN
        point, values, here = tried, tried_values, there
        if arrived:
            break
    else:
        raise NoAnswerError(_UNSETTLED)
    slopes, _, curvature = curvature_at(point, values, here)
    covariance = np.asarray(np.linalg.inv(curvature), dtype=np.float64)
    # Where the model bends, the curvature may say less than the prior; readings never make anything less certain.
    known = np.minimum(1.0, prior / np.sqrt(np.diag(covariance)))
    covariance = np.asarray(covariance * np.outer(known, known))
    return Posterior(
        point=point,
        covariance=covariance,
        slopes=slopes,
        before=before,
        after=data.logarithms - values,
        target=here.target,
        own=here.own,
        objective=here.objective + float(point @ belief @ point),
    )


def objective(*, model: Model, data: Data, prior: Array, point: Array) -> float:
    """What a fit minimises, at any point [-]."""
    return _sites(data, model(point)).objective + float(np.sum((point / prior) ** 2))


def derivatives_of(model: Model, point: Array, values: Array, prior: Array, share: float = 0.05) -> tuple[Array, Array]:
    """First and second derivatives of a model that gives ``values`` at ``point``, one parameter after another, by
    central differences over a share of each prior, shape (n, k) each."""
    steps = share * prior
    rise, fall = (np.stack([model(point + sign * move) for move in np.diag(steps)], axis=1) for sign in (1.0, -1.0))
    return (rise - fall) / (2.0 * steps), (rise + fall - 2.0 * values[:, None]) / steps**2


def misfit(posterior: Posterior, data: Data, prior: Array, kept: Sequence[int]) -> float:
    """Misfit of readings after the fit, the prior's part included: chi-squared with as many degrees of freedom as
    readings [-].

    Parameters
    ----------
    posterior, data, prior
        The fit.
    kept
        Numbers of the readings to count; those below a limit have no misfit of this kind.
    """
    joint = posterior.slopes @ np.diag(prior**2) @ posterior.slopes.T + data.noise.covariance
    departure = (posterior.after + posterior.slopes @ posterior.point)[list(kept)]
    return float(departure @ np.linalg.solve(joint[np.ix_(kept, kept)], departure))


def leave_one_out(posterior: Posterior, data: Data, prior: Array, aside: Collection[int] = ()) -> tuple[Array, Array]:
    """Each reading predicted from all others: ln reading - ln prediction, and its standard deviation, shape
    (n,) each.

    By the joint normal distribution of all readings, S = J P J' + R: what is left of reading i given the
    others is (S^-1 d)_i / (S^-1)_ii, with variance 1 / (S^-1)_ii. For a reading below a limit, it is the limit that is
    compared with the prediction.

    Parameters
    ----------
    posterior, data
        The fit and what it was fitted to.
    prior
        Standard deviations of the parameters, shape (k,).
    aside
        Numbers of readings that predict no other, counted from 0.
    """
    own = np.sqrt(posterior.own**2 + np.where(np.isin(np.arange(posterior.own.size), list(aside)), WEIGHTLESS, 0.0))
    signal = posterior.slopes @ np.diag(prior**2) @ posterior.slopes.T + data.noise.common
    joint = np.linalg.inv(signal + np.diag(own**2))
    # Departure of the readings from the linear model at the prior's middle.
    middle = posterior.slopes @ posterior.point
    diagonal = np.diag(joint)
    off = joint @ (posterior.target + middle) / diagonal
    # The reading itself, or its limit, in place of the stand-in; its own error in place of the stand-in's.
    off = off + posterior.after - posterior.target
    return np.asarray(off), np.asarray(np.sqrt(1.0 / diagonal - own**2 + data.noise.own**2))


def information_gain(covariance: Array, slopes: Array, error: float) -> float:
    """Expected information of one more reading, ln(1 + j' C j / s^2) / 2 [nat]: covariance C of the parameters, shape
    (k, k), the slopes j of its logarithm in them, shape (k,), and its relative standard uncertainty s [-]
    (Lindley 1956, Ann. Math. Statist. 27:986, from memory)."""
    return 0.5 * math.log1p(float(slopes @ covariance @ slopes) / error**2)


def fit_most(*, model: Model, data: Data, prior: Array, start: Array | None = None) -> tuple[Posterior, frozenset[int]]:
    """The most probable parameters, without the few readings that all others contradict.

    Where a reading is farther off what the others predict than noise alone puts any reading in one fit of a hundred
    (normal quantile, Bonferroni), the worst is set aside and the fit made again. Fewer than half may be set aside, and
    only where that leaves the rest in agreement: else it is not clear which are wrong, and all are kept.

    Parameters
    ----------
    model, data, prior, start
        As for ``fit``.

    Returns
    -------
    tuple
        The fit, and the numbers of the readings that were set aside, counted from 0.

    Raises
    ------
    NoAnswerError
        Where the fit does not converge, whatever is set aside.

    References
    ----------
    Cook and Weisberg 1982, Residuals and Influence in Regression (test for one shifted reading), from memory.
    """
    from statistics import NormalDist

    count = data.logarithms.size
    limit = NormalDist().inv_cdf(1.0 - 0.01 / 2.0 / count)
    most = (count - 1) // 2

    def scores(posterior: Posterior, aside: frozenset[int]) -> Array:
        off, standard = leave_one_out(posterior, data, prior, aside)
        # A prediction below the limit is what a reading below it says.
        return np.asarray(np.where(data.below, np.maximum(-off, 0.0), np.abs(off)) / standard)

    def worst(scored: Array, aside: frozenset[int]) -> frozenset[int]:
        kept = [index for index in range(count) if index not in aside and scored[index] > limit]
        return frozenset({max(kept, key=lambda index: float(scored[index]))}) if kept else frozenset()

    def fitted(aside: frozenset[int]) -> Posterior:
        apart = replace(data, noise=data.noise.without(aside)) if aside else data
        found = fit(model=model, data=apart, prior=prior, start=start)
        return replace(found, own=np.where(np.isin(np.arange(count), list(aside)), data.noise.own, found.own))

    none_aside: frozenset[int] = frozenset()
    plain: Posterior | None = None
    try:
        plain = fitted(none_aside)
        if not worst(scores(plain, none_aside), none_aside):
            return plain, none_aside
    except NoAnswerError:
        if most == 0:
            raise
    # A wild reading bends the fit or keeps it from settling: look for it in the file's own house first.
    values = model(np.zeros(prior.size))
    rest = data.logarithms - values
    slopes, _ = derivatives_of(model, np.zeros(prior.size), values, prior)
    sites = _sites(data, values)
    first = Posterior(
        np.zeros(prior.size), np.diag(prior**2), slopes, rest, rest, sites.target, sites.own, sites.objective
    )
    suspects = none_aside
    while len(suspects) < most and (more := worst(scores(first, suspects), suspects)):
        suspects |= more
    for aside in dict.fromkeys((suspects, none_aside)):
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
        raise NoAnswerError(_UNSETTLED)
    return plain, none_aside
