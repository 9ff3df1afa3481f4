"""Thrust, spread and flow of a jet from a walk along its centre line and from profiles across it.

1 / Uc = alpha + beta s beyond the core. In the core, close to the fan, the centre-line speed does not fall
yet: those readings do not belong on the line, and are found and named. A Gaussian through a profile gives thrust
and flow at one distance with no scale and no walk.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.errors import NoAnswerError
from ventplan.measure.anemometer import ALWAYS_ALLOWED, Line, fit_line
from ventplan.measure.uncertainty import CALIBRATION, Array, Estimate, PairEstimator, Source, single

PROFILE_ERROR = 0.08
"""Relative standard uncertainty of a thrust that rests on the Gaussian shape [-]: the decay and the spread
that Hussein, Capp and George (1994) measured leave 14 % of the momentum outside a Gaussian; limits of 14 %,
rectangular."""


@dataclass(frozen=True)
class Profile:
    """A Gaussian fitted across the jet at one distance.

    Attributes
    ----------
    centre_speed, half_width
        Uc [m/s], and b, to 1/e of the centre speed [m].
    off_centre_m
        How far the fitted middle is from the zero of the offsets [m].
    thrust, flow
        rho (pi / 2) Uc^2 b^2 [N], and pi Uc b^2 at this distance [m3/s].
    covariance, degrees
        Covariance of (Uc, b) from the scatter alone, shape (2, 2), and its degrees of freedom [-].
    scatter_m_s
        Standard deviation of one reading about the fit [m/s].
    outliers, censored
        Numbers, from 0, of readings far off the fit, which were kept, and of those below the start-up speed, which were
        left out.
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
) -> Profile:
    """Fit u = Uc exp(-((y - y0) / b)^2) across a jet.

    Parameters
    ----------
    offsets_m, speeds_m_s
        Places along one line across the jet [m], and corrected speeds there [m/s], nan where the vane did not turn,
        shape (n,).
    density_kg_m3
        Density of the air [kg/m3].
    start_up_m_s
        Start-up speed of the anemometer [m/s]: readings below it are left out, and counted as censored.
    calibration, indicated
        Intercept and slope that corrected the speeds, and the indications they were applied to, shape (n,).

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
        sources.append(_calibration_part(calibration, partial(_gaussian_pair, x), u, shown))
    estimate = PairEstimator(tuple(sources))
    shape = (single("Gaussian shape", mean=1.0, standard=PROFILE_ERROR),)
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
    rise = peak * bell * 2.0 * along / width
    return peak * bell, np.stack([bell, rise, rise * along], axis=1)


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
        Independent sources for (alpha, beta): scatter, then calibration and zero of the distance, with mean 0.
    core, used, outliers
        Numbers, from 0, of the readings in the core, which are left off the line; of those on it; and of those far off
        it, which were kept.
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

    Every cut of the walk into a flat part and a falling part is compared with no cut, by Akaike's information criterion
    on the logarithms; a cut costs two unknowns, the flat speed and where it ends. No more than half of the distances
    are cut. Where there is a core, the longest cut that is about as good as the best is taken: a core reading on the
    line bends it, and one good reading less only widens the uncertainty.

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
    """The line through a walk down the jet, without the readings in the core.

    Parameters
    ----------
    distances_m, speeds_m_s
        Distances from the blades [m], and corrected centre-line speeds [m/s], shape (n,).
    beyond_m
        Use readings from this distance on [m]; found by itself if left out.
    zero_error_m
        Standard uncertainty of where the blades are on the tape [m], common to all distances.
    calibration, indicated
        As for ``fit_profile``.

    Raises
    ------
    NoAnswerError
        Where fewer than three readings are beyond the core, or the speed does not fall with distance.
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
    outliers = line.outliers(least=ALWAYS_ALLOWED / speeds[~near])
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
        sources.append(_calibration_part(calibration, partial(_line_pair, distances[~near]), speeds[~near], shown))
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


def _line_pair(distances: Array, speeds: Array) -> Array:
    return _relative_line(distances, speeds).coefficients


def _gaussian_pair(x: Array, u: Array) -> Array:
    return np.asarray(_gaussian_fit(x, u)[[0, 2]])


def _calibration_part(calibration: Source, fit: Callable[[Array], Array], speeds: Array, indicated: Array) -> Source:
    """What intercept and slope of the calibration contribute to two fitted numbers, with mean 0."""
    step = 1e-4
    moves = (np.full_like(speeds, step), step * indicated)
    slopes = np.stack([(fit(speeds + move) - fit(speeds - move)) / (2.0 * step) for move in moves], axis=1)
    return Source(CALIBRATION, np.zeros(2), slopes @ calibration.covariance @ slopes.T, calibration.degrees)


@dataclass(frozen=True)
class JetResult:
    """What the readings give of a jet; None for what they do not give.

    Attributes
    ----------
    thrust, flow
        Thrust [N], and flow at the start of the jet, which is that of the blades [m3/s].
    spread, start_half_width
        k [-], and b0, the half-width to 1/e of the centre speed at the blades [m].
    origin, spread_squared_over_thrust
        b0 / k, how far behind the blades the straight jet would have begun [m], and k^2 / T [1/N], all that the slope
        alone gives.
    by
        What the figures rest on besides the walk: ``thrust`` of a scale or of a ``profile``, ``flow``, or empty.
    flow_apart
        Standard deviations between a flow that was given too and that by thrust and walk [-]; None without one.
    """

    thrust: Estimate | None = None
    flow: Estimate | None = None
    spread: Estimate | None = None
    start_half_width: Estimate | None = None
    origin: Estimate | None = None
    spread_squared_over_thrust: Estimate | None = None
    by: Literal["", "thrust", "profile", "flow"] = ""
    flow_apart: float | None = None


def jet_from_walk(
    walk: Walk,
    *,
    density_kg_m3: float,
    flow: Estimate | None = None,
    thrust: Estimate | None = None,
    profile_thrust: Estimate | None = None,
    same_anemometer: bool = False,
    profile_error: float = PROFILE_ERROR,
    draws: int = 10_000,
) -> JetResult:
    """What a walk gives, alone or together with one thing more: a thrust comes before the thrust of a profile, and that
    before a flow.

    Parameters
    ----------
    walk
        The line.
    density_kg_m3
        Density of the air [kg/m3].
    flow, thrust, profile_thrust
        Flow through the blades, measured otherwise [m3/s], and thrust from a scale and from a profile [N].
    same_anemometer
        True where the flow was read with the anemometer of the walk: its scale error e then makes T too large by 2 e,
        not by sqrt(2) e, since both Q0 and 1 / alpha have it.
    profile_error
        Relative standard uncertainty of a thrust that rests on the Gaussian shape [-].
    draws
        Number of the draws that check linear propagation.

    Raises
    ------
    NoAnswerError
        Where the line's intercept is not above zero and the flow is to give the rest.
    """
    estimate = PairEstimator(walk.sources, draws)
    pi, rho = math.pi, density_kg_m3
    origin = estimate(lambda alpha, beta: alpha / beta, (), "m")
    ratio = estimate(lambda alpha, beta: 2.0 * beta**2 / (pi * rho), (), "1/N")
    alone = JetResult(origin=origin, spread_squared_over_thrust=ratio)
    given = thrust or profile_thrust
    if given is not None:
        name = "thrust from the scale" if thrust is not None else "thrust from the profile"
        extra: tuple[Source, ...] = (_source(name, given),)
        at_blades = estimate(lambda alpha, beta, t: 2.0 * t * alpha / rho, extra, "m3/s")
        spread = estimate(lambda alpha, beta, t: beta * np.sqrt(2.0 * t / (pi * rho)), extra, "")
        return replace(
            alone,
            thrust=given,
            flow=at_blades,
            spread=spread,
            start_half_width=estimate(lambda alpha, beta, t: alpha * np.sqrt(2.0 * t / (pi * rho)), extra, "m"),
            by="thrust" if thrust is not None else "profile",
            flow_apart=None if flow is None else _apart(at_blades, flow, profile_error),
        )
    if flow is None:
        return alone
    if walk.line.intercept <= 0.0:
        raise NoAnswerError(
            "The line of the walk meets the blades at or below zero, so the flow cannot give the thrust. "
            "Walk closer to the fan (just beyond the core), or weigh the thrust."
        )
    scale, rest = 0.0, flow.standard
    if same_anemometer:
        shared = math.sqrt(sum(share.standard**2 for share in flow.budget if share.name == CALIBRATION))
        scale, rest = shared / flow.value, math.sqrt(max(flow.standard**2 - shared**2, 0.0))
        estimate = PairEstimator(tuple(source for source in walk.sources if source.name != CALIBRATION), draws)
    extra = (
        _source("flow through the blades", replace(flow, standard=rest)),
        single(CALIBRATION, mean=1.0, standard=scale),
        single("Gaussian shape", mean=1.0, standard=profile_error),
    )
    by_flow = estimate(lambda alpha, beta, q, e, g: rho * q * g * e**2 / (2.0 * alpha), extra, "N")
    spread = estimate(lambda alpha, beta, q, e, g: beta * np.sqrt(q * g / (pi * alpha)), extra, "")
    return replace(
        alone,
        thrust=by_flow,
        flow=flow,
        spread=spread,
        start_half_width=estimate(lambda alpha, beta, q, e, g: np.sqrt(alpha * q * g / pi), extra, "m"),
        by="flow",
    )


def _source(name: str, estimate: Estimate) -> Source:
    return single(name, mean=estimate.value, standard=estimate.standard, degrees=estimate.degrees)


def _apart(by_thrust: Estimate, given: Estimate, profile_error: float) -> float:
    """How far a flow that was given is from the one by thrust and walk [standard deviations]."""
    off = abs(math.log(by_thrust.value / given.value))
    return off / math.sqrt(by_thrust.relative**2 + given.relative**2 + profile_error**2)
