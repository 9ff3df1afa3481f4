"""The mean of a logged series, with the uncertainty that its own memory leaves it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ventplan.measure.uncertainty import Array, Source, coverage_factor, single


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
