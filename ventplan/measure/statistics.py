"""Statistics of readings: least squares with covariance and outliers, and the mean of a logged series."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ventplan.house.units import UnitError, parse_quantity
from ventplan.measure.uncertainty import Array, Source, coverage_factor, single


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
            Residuals up to this are nobody's error, in the unit of the readings, one or shape (n,): where a
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


@dataclass(frozen=True)
class SeriesMean:
    """Mean of a series whose neighbours resemble one another.

    Attributes
    ----------
    mean
        Mean after the settling part, in the unit of the series.
    standard
        Its standard uncertainty, s / sqrt(effective), same unit.
    settling
        Number of readings at the start that were cut off.
    kept
        Number of readings that were averaged.
    memory
        Integrated autocorrelation time [readings]; 1 for independent readings.
    effective
        Number of independent readings that are worth as much, kept / memory.
    degrees
        Degrees of freedom of ``standard`` [-]: fewer than effective - 1, since the memory is itself
        estimated from the same readings.
    """

    mean: float
    standard: float
    settling: int
    kept: int
    memory: float
    effective: float
    degrees: float

    def as_source(self, name: str) -> Source:
        """The mean as a type A source."""
        return single(name, mean=self.mean, standard=self.standard, degrees=self.degrees)


def settling_length(values: ArrayLike, *, most: float = 0.5) -> int:
    """How many readings at the start to leave out: the cut after which the standard error of the rest is
    smallest.

    Parameters
    ----------
    values
        Series, evenly spaced in time, shape (n,).
    most
        Largest share that may be cut [-].

    Returns
    -------
    int
        Number of readings to leave out.

    References
    ----------
    White 1997, Simulation 69:323 (marginal standard error rule on means of five readings), from memory.
    """
    series = np.asarray(values, dtype=float)
    batch = 5 if series.size >= 50 else 1
    means = series[: series.size // batch * batch].reshape(-1, batch).mean(axis=1)
    count = means.size
    tries = np.arange(max(int(count * most), 1))
    errors = [float(np.var(means[cut:])) / (count - cut) for cut in tries]
    return int(np.argmin(errors)) * batch


def autocorrelation_time(values: ArrayLike, *, width: float = 5.0) -> tuple[float, int]:
    """Integrated autocorrelation time, tau = 1 + 2 sum rho_k, summed to the first lag beyond ``width`` tau.

    For a first-order autoregressive series with coefficient phi it is (1 + phi) / (1 - phi). Never below 1:
    a series that swings about its mean is not credited with more readings than it has.

    Returns
    -------
    tuple
        The time [readings], and the last lag that was summed [readings].

    References
    ----------
    Sokal 1997, in: Functional Integration, Plenum (automatic windowing), from memory.
    """
    series = np.asarray(values, dtype=float)
    rest = series - series.mean()
    power = float((rest**2).sum())
    if series.size < 3 or power == 0.0:
        return 1.0, 0
    size = 1 << (2 * series.size - 1).bit_length()
    spectrum = np.fft.rfft(rest, size)
    correlation: Array = np.fft.irfft(spectrum * np.conj(spectrum), size)[: series.size] / power
    taus = 2.0 * np.cumsum(correlation) - 1.0
    inside = np.flatnonzero(np.arange(series.size) >= width * taus)
    window = int(inside[0]) if inside.size else series.size - 1
    # Correlations about the series' own mean are each too low by about tau / n: 2 window + 1 of them were
    # summed.
    share = min((2.0 * window + 1.0) / series.size, 0.9)
    return max(float(taus[window]) / (1.0 - share), 1.0), window


def average(values: ArrayLike, *, settle: bool = True) -> SeriesMean:
    """Mean of a logged series: settling cut off, autocorrelation counted.

    u = s sqrt(tau / n); the readings of a logger are not independent, and s / sqrt(n) would promise too much
    (JCGM 100:2008, 4.2.7). The start is cut only where its mean lies more than three standard uncertainties
    off the rest, or where its first five readings lie farther off than five in a row of the rest ever would by
    chance (one in a thousand): cutting wherever the rest looks calmer would make it look calmer than it is.

    Parameters
    ----------
    values
        Series, evenly spaced in time, shape (n,), n >= 2.
    settle
        False where the start is known to be settled.

    Raises
    ------
    ValueError
        For fewer than two readings.
    """
    series = np.asarray(values, dtype=float)
    if series.size < 2:
        raise ValueError("a series needs at least two readings")
    cut = settling_length(series) if settle and series.size >= 10 else 0
    if cut:
        rest = _mean_of(series[cut:], settling=cut)
        off = abs(float(series[:cut].mean()) - rest.mean)
        own = rest.standard * math.sqrt(1.0 + rest.kept / cut)
        if off > 3.0 * own or _starts_apart(series, cut):
            return rest
    return _mean_of(series, settling=0)


def _starts_apart(series: Array, cut: int) -> bool:
    """Whether the first readings lie where none as many in a row of the rest would; memory does not blur this, since
    the rest has the same."""
    batch = 5 if series.size >= 50 else 1
    rest = series[cut:]
    means = rest[: rest.size // batch * batch].reshape(-1, batch).mean(axis=1)
    limit = coverage_factor(degrees=means.size - 1.0, level=0.999) * float(means.std(ddof=1))
    return abs(float(series[:batch].mean() - means.mean())) > limit


def _mean_of(kept: Array, *, settling: int) -> SeriesMean:
    tau, window = autocorrelation_time(kept)
    tau = min(tau, kept.size / 2.0)
    effective = kept.size / tau
    # The variance about the series' own mean is short by 1 / effective.
    variance = float(np.var(kept)) / (1.0 - 1.0 / effective)
    # var(tau) / tau^2 = 2 (2 window + 1) / n (Sokal), which is worth n / (2 window + 1) degrees of freedom.
    degrees = max(min(effective - 1.0, kept.size / (2.0 * window + 1.0)), 1.0)
    standard = math.sqrt(variance / effective)
    return SeriesMean(float(kept.mean()), standard, settling, int(kept.size), tau, effective, degrees)


_DAY_S = 86400.0


def seconds_of(text: str) -> float:
    """A time in a log [s]: ``12``, ``0.5 min``, ``20:00:01`` or ``2030-07-01 20:00:01``; nan for any other text."""
    try:
        return parse_quantity(text, "time")
    except UnitError:
        pass
    try:
        return datetime.datetime.fromisoformat(text.rstrip("Z")).replace(tzinfo=datetime.UTC).timestamp()
    except ValueError:
        pass
    try:
        clock = datetime.time.fromisoformat(text.zfill(len(text) + (text[1:2] == ":")))
    except ValueError:
        return math.nan
    return clock.hour * 3600.0 + clock.minute * 60.0 + clock.second + clock.microsecond / 1e6


def uneven_steps(texts: Sequence[str]) -> list[str]:
    """A note where a log is not evenly spaced in time, as the counting of its memory takes it to be.

    Parameters
    ----------
    texts
        The time of each reading, as the log has it; nothing is said where all are empty.
    """
    if not any(texts):
        return []
    times = np.array([seconds_of(text) for text in texts])
    if not np.isfinite(times).all():
        return ["The times of the log could not be read (such as 12 s, 20:00:01 or 2030-07-01 20:00:01): they are "
                "taken to be even."]  # fmt: skip
    steps = np.diff(times)
    steps = np.where(steps < -_DAY_S / 2.0, steps + _DAY_S, steps)  # past midnight
    usual = float(np.median(steps))
    gaps = int((np.abs(steps - usual) > 0.2 * abs(usual)).sum())
    if gaps == 0:
        return []
    return [
        f"The log is uneven: {gaps} of {steps.size} steps differ from the usual one; its memory is known less well."
    ]
