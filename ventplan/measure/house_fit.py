"""Correcting what is uncertain in a house by readings at its openings, within what is believed beforehand.

The logarithm of every reading is the model's plus noise, and the logarithm of every knob's factor has a
normal prior; the most probable knobs minimise

    sum of squares of (ln reading - ln model) / noise  +  sum of squares of (ln factor / prior)

by Gauss-Newton steps, halved where a full one does not help. About that point the model is taken as linear:
posterior covariance, leave-one-out predictions and the worth of a next reading follow without solving again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ventplan.errors import NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.measure.knobs import Knob, turned
from ventplan.measure.uncertainty import Array
from ventplan.network.flow import Flow

Takes = Literal["stream", "mean"]


@dataclass(frozen=True)
class HouseReading:
    """One reading at an opening.

    Attributes
    ----------
    scenario
        The set-up in which it was taken.
    opening
        Where.
    speed_m_s
        Speed [m/s].
    takes
        ``stream`` for the anemometer in the middle of the stream, ``mean`` for the mean over the opening.
    error
        Relative standard uncertainty of this reading alone, the model's included [-].
    label
        Where it stands in the file, for people.
    """

    scenario: Scenario
    opening: str
    speed_m_s: float
    takes: Takes
    error: float
    label: str


@dataclass(frozen=True)
class Posterior:
    """The most probable knobs, and the linear model about them.

    Attributes
    ----------
    point
        Logarithms of the factors, shape (k,).
    covariance
        Their posterior covariance, shape (k, k).
    slopes
        Derivatives of the logarithms of the readings in them, shape (n, k).
    before, after
        ln reading - ln model with the file as it was and with the knobs turned, shape (n,).
    noise
        Covariance of the readings' noise, shape (n, n).
    chi_squared
        Misfit of the readings after the fit, the prior's part included [-].
    """

    point: Array
    covariance: Array
    slopes: Array
    before: Array
    after: Array
    noise: Array
    chi_squared: float


def predicted(flow: Flow, opening: str, takes: Takes) -> float:
    """What the model expects a reading to be [m/s].

    Where one place in the stream says nothing (a jet goes through, or air goes both ways), the mean stands
    in.
    """
    here = flow.openings[opening]
    if takes == "stream" and here.reading_m_s is not None:
        return here.reading_m_s
    return here.face_speed_m_s


def model_of(house: House, knobs: Sequence[Knob], readings: Sequence[HouseReading]) -> Callable[[Array], Array]:
    """The logarithms of all readings as a function of the knobs; each set-up is solved once.

    Raises
    ------
    NoAnswerError
        Where the model has no air moving at an opening that was read.
    """
    from ventplan.network import solve

    def model(point: Array) -> Array:
        changed = turned(house, knobs, point)
        flows: dict[str, Flow] = {}
        values = np.empty(len(readings))
        for index, reading in enumerate(readings):
            if reading.scenario.name not in flows:
                flows[reading.scenario.name] = solve(changed, reading.scenario)
            speed = predicted(flows[reading.scenario.name], reading.opening, reading.takes)
            if not speed > 0.0:
                raise NoAnswerError(
                    f"The model has no air moving through {reading.opening} where {reading.label} was read: is it "
                    "shut in that set-up, or the set-up wrong?"
                )
            values[index] = math.log(speed)
        return values

    return model


def fit(
    *,
    model: Callable[[Array], Array],
    readings: Sequence[float],
    noise: Array,
    prior: Array,
    step: float = 0.01,
    rounds: int = 20,
) -> Posterior:
    """The most probable knobs.

    Parameters
    ----------
    model
        Logarithms of the readings as a function of the logarithms of the factors, (k,) to (n,).
    readings
        Logarithms of the readings, shape (n,).
    noise
        Covariance of their noise, shape (n, n).
    prior
        Standard deviations of the knobs, shape (k,).
    step
        Step of the derivatives [-].
    rounds
        Most Gauss-Newton steps.

    Raises
    ------
    NoAnswerError
        Where no step helps and none is small.
    """
    target, precision = np.asarray(readings, dtype=float), np.linalg.inv(noise)
    belief = np.diag(1.0 / prior**2)
    point = np.zeros(prior.size)
    values = model(point)
    before = target - values

    def misfit(at: Array, modelled: Array) -> float:
        rest = target - modelled
        return float(rest @ precision @ rest + at @ belief @ at)

    for _ in range(rounds):
        slopes = forward_slopes(model, point, values, step)
        curvature = slopes.T @ precision @ slopes + belief
        move = np.linalg.solve(curvature, slopes.T @ precision @ (target - values) - belief @ point)
        share, current = 1.0, misfit(point, values)
        while True:
            tried = point + share * move
            tried_values = model(tried)
            if misfit(tried, tried_values) <= current + 1e-12:
                break
            share /= 2.0
            if share < 1e-3:
                # Even the smallest step uphill: the point is as good as its derivatives are.
                tried, tried_values = point, values
                break
        arrived = float(np.abs(tried - point).max()) < 1e-3
        point, values = tried, tried_values
        if arrived:
            break
    else:
        raise NoAnswerError("The fit did not settle: a reading may be wrong by a large factor. Check the units first.")
    slopes = forward_slopes(model, point, values, step)
    covariance = np.asarray(np.linalg.inv(slopes.T @ precision @ slopes + belief), dtype=np.float64)
    return Posterior(point, covariance, slopes, before, target - values, noise, misfit(point, values))


def forward_slopes(model: Callable[[Array], Array], point: Array, values: Array, step: float) -> Array:
    """Derivatives of a model that gives ``values`` at ``point``, one knob after another, shape (n, k)."""
    return np.stack([(model(point + move) - values) / step for move in np.eye(point.size) * step], axis=1)


def leave_one_out(posterior: Posterior, prior: Array, aside: Collection[int] = ()) -> tuple[Array, Array]:
    """Each reading predicted from all others: ln reading - ln prediction, and its standard deviation, shape
    (n,) each.

    By the joint normal distribution of all readings, S = J P J' + R: what is left of reading i given the
    others is (S^-1 d)_i / (S^-1)_ii, with variance 1 / (S^-1)_ii.

    Parameters
    ----------
    posterior
        The fit.
    prior
        Standard deviations of the knobs, shape (k,).
    aside
        Numbers of readings that predict no other, counted from 0.
    """
    slopes = posterior.slopes
    joint = np.linalg.inv(slopes @ np.diag(prior**2) @ slopes.T + set_apart(posterior.noise, aside))
    # Departure of the readings from the linear model at the prior's middle.
    departure = posterior.after + slopes @ posterior.point
    diagonal = np.diag(joint)
    variance = 1.0 / diagonal - np.diag(set_apart(np.zeros_like(joint), aside))
    return np.asarray(joint @ departure / diagonal), np.asarray(np.sqrt(variance))


WEIGHTLESS = 1e4
"""Variance that takes the weight off a reading that was set aside [-]: it may be off by a factor of e to the 100."""


def set_apart(noise: Array, aside: Collection[int]) -> Array:
    """The noise with no weight left on some readings, by their numbers, shape (n, n)."""
    more = np.zeros(noise.shape[0])
    more[list(aside)] = WEIGHTLESS
    return np.asarray(noise + np.diag(more))


def information_gain(covariance: Array, slopes: Array, error: float) -> float:
    """Expected information of one more reading, ln(1 + j' C j / s^2) / 2 [nat].

    Parameters
    ----------
    covariance
        Covariance of the knobs as it is, shape (k, k).
    slopes
        Derivatives of the logarithm of the candidate in the knobs, shape (k,).
    error
        Its relative standard uncertainty [-].

    References
    ----------
    Lindley 1956, Ann. Math. Statist. 27:986, from memory.
    """
    return 0.5 * math.log1p(float(slopes @ covariance @ slopes) / error**2)


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
