"""A profile across the jet at one distance: a Gaussian through it gives thrust and flow with no scale and no
walk."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ventplan.errors import NoAnswerError
from ventplan.measure.uncertainty import CALIBRATION, Array, Estimate, Source, evaluate, single

PROFILE_ERROR = 0.08
"""Relative standard uncertainty of a thrust that rests on the Gaussian shape [-]: the decay and the spread
that Hussein, Capp and George (1994) measured leave 14 % of the momentum outside a Gaussian; limits of 14 %,
rectangular."""


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


@dataclass(frozen=True)
class Profile:
    """A Gaussian fitted across the jet at one distance.

    Attributes
    ----------
    centre_speed
        Uc [m/s].
    half_width
        b, to 1/e of the centre speed [m].
    off_centre_m
        How far the fitted middle lies from the zero of the offsets [m].
    thrust, flow
        rho (pi / 2) Uc^2 b^2 [N], and pi Uc b^2 at this distance [m3/s].
    covariance
        Covariance of (Uc, b) from the scatter alone, shape (2, 2).
    degrees
        Degrees of freedom of it [-].
    scatter_m_s
        Standard deviation of one reading about the fit [m/s].
    outliers
        Numbers of readings far off the fit, counted from 0; they were kept.
    censored
        Numbers of readings below the start-up speed; they were left out of the fit.
    """

    centre_speed: Estimate
    half_width: Estimate
    off_centre_m: float
    thrust: Estimate
    flow: Estimate
    covariance: Array
    degrees: float
    scatter_m_s: float
    outliers: tuple[int, ...]
    censored: tuple[int, ...]


def fit_profile(
    *,
    offsets_m: ArrayLike,
    speeds_m_s: ArrayLike,
    density_kg_m3: float,
    start_up_m_s: float = 0.0,
    calibration: Source | None = None,
    indicated: ArrayLike | None = None,
    profile_error: float = PROFILE_ERROR,
    seed: int = 1,
) -> Profile:
    """Fit u = Uc exp(-((y - y0) / b)^2) across a jet.

    Parameters
    ----------
    offsets_m
        Places along one line across the jet, shape (n,) [m].
    speeds_m_s
        Speeds there, corrected; nan where the vane stood still, shape (n,) [m/s].
    density_kg_m3
        Density of the air [kg/m3].
    start_up_m_s
        Start-up speed of the anemometer [m/s]: readings below it are left out, and counted as censored.
    calibration, indicated
        Intercept and slope that corrected the speeds, and the indications they were applied to, shape (n,).
    profile_error
        Relative standard uncertainty of a thrust that rests on the Gaussian shape [-].
    seed
        Seed of the draws that check linear propagation.

    Raises
    ------
    NoAnswerError
        For fewer than four readings above the start-up speed, or readings that do not make a peak.
    """
    places, speeds = np.asarray(offsets_m, dtype=float), np.asarray(speeds_m_s, dtype=float)
    seen = np.isfinite(speeds) & (speeds >= start_up_m_s)
    if seen.sum() < 4:
        raise NoAnswerError("A profile needs four readings or more above the start-up speed, on both sides.")
    x, u = places[seen], speeds[seen]
    best = _gaussian_fit(x, u)
    degrees = float(x.size - 3)
    model, slopes = _gaussian(best, x)
    residuals = u - model
    variance = float(residuals @ residuals) / degrees
    covariance = variance * np.linalg.inv(slopes.T @ slopes)
    sources = [Source("scatter of the profile", best[::2], np.asarray(covariance[::2, ::2]), degrees)]
    if calibration is not None and indicated is not None:
        shown = np.asarray(indicated, dtype=float)[seen]
        step = 1e-4
        moves = [
            (_gaussian_fit(x, u + move) - _gaussian_fit(x, u - move))[[0, 2]] / (2.0 * step)
            for move in (np.full_like(u, step), step * shown)
        ]
        turn = np.stack(moves, axis=1)
        part = turn @ calibration.covariance @ turn.T
        sources.append(Source(CALIBRATION, np.zeros(2), part, calibration.degrees))
    estimate = PairEstimator(tuple(sources), seed)
    shape = (single("Gaussian shape", mean=1.0, standard=profile_error),)
    rho = density_kg_m3
    leverage = np.einsum("ij,jk,ik->i", slopes, covariance / variance, slopes) if variance else np.zeros_like(u)
    scores = residuals / np.sqrt(np.clip(variance * (1.0 - leverage), 1e-30, None))
    return Profile(
        centre_speed=estimate(lambda speed, width: speed, (), "m/s"),
        half_width=estimate(lambda speed, width: width, (), "m"),
        off_centre_m=float(best[1]),
        thrust=estimate(lambda speed, width, g: rho * math.pi / 2.0 * (speed * width) ** 2 * g, shape, "N"),
        flow=estimate(lambda speed, width: math.pi * speed * width**2, (), "m3/s"),
        covariance=sources[0].covariance,
        degrees=degrees,
        scatter_m_s=math.sqrt(variance),
        outliers=tuple(int(np.flatnonzero(seen)[index]) for index in np.flatnonzero(np.abs(scores) > 3.0)),
        censored=tuple(int(index) for index in np.flatnonzero(~seen)),
    )


def _gaussian(parameters: Array, x: Array) -> tuple[Array, Array]:
    """Values and derivatives of the profile for (Uc, y0, b)."""
    peak, middle, width = parameters
    along = (x - middle) / width
    bell = np.exp(-(along**2))
    return peak * bell, np.stack(
        [bell, peak * bell * 2.0 * along / width, peak * bell * 2.0 * along**2 / width], axis=1
    )


def _gaussian_fit(x: Array, u: Array) -> Array:
    """Least squares for (Uc, y0, b)."""
    from scipy import optimize

    weight = u / u.sum()
    middle = float(weight @ x)
    width = math.sqrt(max(2.0 * float(weight @ (x - middle) ** 2), 1e-6))
    start = np.array([u.max(), middle, width])

    def misfit(p: Array) -> Array:
        return _gaussian(p, x)[0] - u

    def slopes(p: Array) -> Array:
        return _gaussian(p, x)[1]

    result = optimize.least_squares(misfit, start, jac=slopes, x_scale=start.clip(0.05))
    peak, middle, width = result.x
    if not result.success or peak <= 0.0 or abs(width) > 3.0 * float(np.ptp(x)):
        raise NoAnswerError(
            "These readings do not make a peak: go farther out on both sides, to a third of the highest speed."
        )
    return np.array([peak, middle, abs(width)])
