"""Calibrating an anemometer: from pairs of readings to a line that corrects every later one.

reference = intercept + slope x indicated, where the indication is a speed or a pulse rate. Below the
start-up speed the vane does not turn: a reading of 0 is an interval from zero to the start-up speed,
never the number zero.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from ventplan.errors import InputError, InvalidValue
from ventplan.files import write_file
from ventplan.measure.uncertainty import (
    CALIBRATION,
    Array,
    Share,
    Source,
    coverage_factor,
    effective_degrees,
)


@dataclass(frozen=True)
class Fit:
    """A linear model fitted to readings, with the scatter taken from its residuals.

    Attributes
    ----------
    coefficients, covariance
        Shape (p,), and their covariance s^2 (X' W X)^-1, shape (p, p).
    degrees
        Degrees of freedom, readings - p [-].
    scatter
        Standard deviation s of one reading of weight 1, in the unit of the readings.
    residuals, normalised
        Readings minus model, shape (n,), and the same over their own standard deviations, each against the scatter of
        the other readings (externally studentised) [-]; nan where there are too few readings.
    """

    coefficients: Array
    covariance: Array
    degrees: float
    scatter: float
    residuals: Array
    normalised: Array

    def outliers(self, least: ArrayLike = 0.0) -> tuple[int, ...]:
        """Readings so far off as chance alone puts any reading in one fit of a hundred (Student's t, Bonferroni).

        They must also differ by more than ``least``, in the unit of the readings, one or shape (n,): where a display
        rounds, a few readings may agree to the last digit and make any other look far off. They are reported, never
        dropped.
        """
        if self.degrees < 2:
            return ()
        limit = coverage_factor(degrees=self.degrees - 1.0, level=1.0 - 0.01 / self.residuals.size)
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
    """Weighted linear least squares by QR (JCGM 100:2008, annex H.3).

    Parameters
    ----------
    design, readings
        What each coefficient is multiplied with, shape (n, p), and the readings, shape (n,), n > p.
    weights
        Relative weights, inverse variances up to a factor, shape (n,); all 1 if left out.

    Raises
    ------
    ValueError
        For no more readings than coefficients, or where the readings cannot separate the coefficients.
    """
    x, y = np.asarray(design, dtype=float), np.asarray(readings, dtype=float)
    root = np.ones_like(y) if weights is None else np.sqrt(np.asarray(weights, dtype=float))
    count, unknowns = x.shape
    if count <= unknowns:
        raise ValueError(f"{unknowns} unknowns with their uncertainty need more than {unknowns} readings")
    scaled = x * root[:, None]
    q, r = np.linalg.qr(scaled)
    if np.linalg.cond(r / np.linalg.norm(r, axis=0)) > 1e10:
        raise ValueError("the readings cannot separate the unknowns: take them at more different places")
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


Indication = Literal["m/s", "Hz"]

ALWAYS_ALLOWED = 0.02
"""Departures from a line up to this, relative [-] and in m/s, never count as errors (a judgement)."""


@dataclass(frozen=True)
class Calibration:
    """What an anemometer's readings mean.

    Attributes
    ----------
    intercept_m_s, slope
        The line; the slope is dimensionless for an indicated speed, and in metres for a pulse rate.
    covariance, degrees
        Covariance of (intercept, slope), scatter and reference together, shape (2, 2), and the effective degrees of
        freedom of the line in the middle of its range [-].
    scatter_m_s
        Standard deviation of one calibrated reading about the line [m/s].
    start_up_m_s
        Speed at and above which the vane is known to turn [m/s]: readings of 0 are between zero and this.
    lowest_m_s, highest_m_s
        Reference speeds between which the line was taken [m/s].
    indication
        Unit of the indication.
    outliers
        Numbers of pairs far off the line, counted from 0; they were kept.
    """

    intercept_m_s: float
    slope: float
    covariance: Array
    degrees: float
    scatter_m_s: float
    start_up_m_s: float
    lowest_m_s: float
    highest_m_s: float
    indication: Indication = "m/s"
    outliers: tuple[int, ...] = ()

    def speed(self, indicated: ArrayLike) -> Array:
        """Corrected speed [m/s], nan where the vane did not turn, same shape."""
        shown = np.asarray(indicated, dtype=float)
        return np.where(shown > 0.0, self.intercept_m_s + self.slope * shown, np.nan)

    def source(self) -> Source:
        """Intercept and slope as one correlated source."""
        means = np.array([self.intercept_m_s, self.slope])
        return Source(CALIBRATION, means, self.covariance, self.degrees)

    def standard_at(self, indicated: ArrayLike) -> Array:
        """Standard uncertainty of the line at an indication [m/s], same shape."""
        return line_standard(self.covariance, indicated)

    def expanded_at(self, indicated: ArrayLike) -> Array:
        """Half-width of the 95 % interval of the line at an indication [m/s], same shape: t at its degrees of freedom
        times the standard uncertainty."""
        return np.asarray(coverage_factor(degrees=self.degrees) * self.standard_at(indicated))


def uncalibrated(*, relative: float = 0.05, start_up_m_s: float = 0.3) -> Calibration:
    """An anemometer without a calibration: readings as they are, with a judged error of the scale.

    Parameters
    ----------
    relative
        Standard uncertainty of the scale [-]. 5 % is common practice for a small vane in unskilled hands.
    start_up_m_s
        Start-up speed [m/s]; hand-held vanes start at 0.2 to 0.5 (from memory).
    """
    covariance = np.array([[0.0, 0.0], [0.0, relative**2]])
    return Calibration(0.0, 1.0, covariance, math.inf, 0.0, start_up_m_s, 0.0, math.inf)


def calibrate(
    *,
    indicated: ArrayLike,
    reference_m_s: ArrayLike,
    indication: Indication = "m/s",
    reference_error: float = 0.02,
    start_up_m_s: float | None = None,
) -> Calibration:
    """The calibration line, its covariance and the start-up speed.

    Pairs where nothing was indicated stay out of the line: they bracket the start-up speed instead. The
    error that all references share (one reference instrument, one tape measure) scales the whole line and
    adds e^2 (a, b)'(a, b) to the covariance of the scatter.

    Parameters
    ----------
    indicated
        Indications, shape (n,) [m/s or Hz]; 0 where the vane did not turn.
    reference_m_s
        True speeds, shape (n,) [m/s].
    indication
        Unit of the indications.
    reference_error
        Relative standard uncertainty that all references share [-].
    start_up_m_s
        Start-up speed where it is known otherwise [m/s]. If left out: the lowest reference at which the vane
        turned, and above all at which it stood still.

    Raises
    ------
    ValueError
        For fewer than three pairs with the vane turning, or a line that does not rise.

    References
    ----------
    JCGM 100:2008, annex H.3 (calibration of a thermometer by a straight line).
    """
    shown, true = np.asarray(indicated, dtype=float), np.asarray(reference_m_s, dtype=float)
    turning = shown > 0.0
    if turning.sum() < 3:
        raise ValueError("a calibration line needs three pairs or more in which the vane turned")
    line = fit_line(shown[turning], true[turning])
    if line.slope <= 0.0:
        raise ValueError("the reference does not rise with what was indicated: are columns or rows mixed up?")
    shared = np.outer([line.intercept, line.slope], [line.intercept, line.slope]) * reference_error**2
    lowest, stood = float(true[turning].min()), float(true[~turning].max(initial=0.0))
    surely = float(true[turning & (true > stood)].min(initial=math.inf))
    middle = float(shown[turning].mean())
    scatter, common = (float(line_standard(part, middle)) for part in (line.covariance, shared))
    least = np.maximum(ALWAYS_ALLOWED * true[turning], ALWAYS_ALLOWED)
    return Calibration(
        intercept_m_s=line.intercept,
        slope=line.slope,
        covariance=line.covariance + shared,
        degrees=effective_degrees((Share("scatter", scatter, line.degrees), Share("reference", common))),
        scatter_m_s=line.scatter,
        start_up_m_s=(surely if math.isfinite(surely) else stood) if start_up_m_s is None else start_up_m_s,
        lowest_m_s=lowest,
        highest_m_s=float(true[turning].max()),
        indication=indication,
        outliers=tuple(int(np.flatnonzero(turning)[index]) for index in line.outliers(least=least)),
    )


def save_calibration(calibration: Calibration, path: str | Path) -> None:
    """Write a calibration to a JSON file that later measurements name."""
    write_file(path, json.dumps(as_dict(calibration), indent=2) + "\n")


def as_dict(calibration: Calibration) -> dict[str, Any]:
    """A calibration as plain numbers and text; what is infinite becomes None."""
    return {
        "anemometer_calibration": 1,
        "indication": calibration.indication,
        "intercept_m_s": calibration.intercept_m_s,
        "slope": calibration.slope,
        "covariance": calibration.covariance.tolist(),
        "degrees_of_freedom": finite_or_none(calibration.degrees),
        "scatter_m_s": calibration.scatter_m_s,
        "start_up_m_s": calibration.start_up_m_s,
        "lowest_m_s": calibration.lowest_m_s,
        "highest_m_s": finite_or_none(calibration.highest_m_s),
        "outliers": list(calibration.outliers),
    }


def read_calibration(path: str | Path) -> Calibration:
    """Read a calibration that was saved as JSON, or the same keys as YAML.

    Raises
    ------
    InputError
        Where the file cannot be read, is not a calibration, or lacks a key.
    """
    again = "`ventplan measure anemometer READINGS.csv -o FILE.json` writes one"
    return read_saved(path, "calibration", key="anemometer_calibration", hint=again, build=_from_dict)


def _from_dict(data: dict[str, Any]) -> Calibration:
    covariance = np.asarray(data["covariance"], dtype=float)
    if covariance.shape != (2, 2) or not np.allclose(covariance, covariance.T):
        raise ValueError("a covariance that is not a symmetric 2 by 2 table")
    if data["indication"] not in ("m/s", "Hz"):
        raise ValueError(f"the indication `{data['indication']}`, which is neither m/s nor Hz")
    return Calibration(
        intercept_m_s=float(data["intercept_m_s"]),
        slope=float(data["slope"]),
        covariance=covariance,
        degrees=infinite_if_none(data.get("degrees_of_freedom")),
        scatter_m_s=float(data["scatter_m_s"]),
        start_up_m_s=float(data["start_up_m_s"]),
        lowest_m_s=float(data["lowest_m_s"]),
        highest_m_s=infinite_if_none(data.get("highest_m_s")),
        indication=data["indication"],
        outliers=tuple(int(number) for number in data.get("outliers", ())),
    )


def finite_or_none(value: float) -> float | None:
    """The value, or None for infinity, which JSON does not have."""
    return value if math.isfinite(value) else None


def infinite_if_none(value: float | None) -> float:
    """What ``finite_or_none`` was given."""
    return math.inf if value is None else float(value)


Record = TypeVar("Record")


def read_saved(
    path: str | Path, what: str, *, key: str, hint: str, build: Callable[[dict[str, Any]], Record]
) -> Record:
    """A record from a file that a measuring command has saved, as JSON or with the same keys as YAML; InputError for a
    file that cannot be read or is none of this kind.

    Parameters
    ----------
    path, what
        The file, and what it holds.
    key
        Key that marks such a file, with the number of its layout (1).
    hint
        How such a file is made.
    build
        Makes the record; what it raises is an error in the file.
    """
    try:
        text = Path(path).read_text(encoding="utf-8")
        if Path(path).suffix.lower() in (".yaml", ".yml"):
            from ruamel.yaml import YAML

            data = YAML(typ="safe").load(text)
        else:
            data = json.loads(text)
        if not isinstance(data, dict) or data.get(key) != 1:
            raise ValueError(f"a file without `{key}: 1`")
        return build(data)
    except OSError as error:
        found = error.strerror or str(error)
    except KeyError as error:
        found = f"a file without `{error.args[0]}`"
    except Exception as error:
        # Whatever the parser says, to the user it is one error: the file is of another kind.
        found = str(error).splitlines()[0]
    raise InputError([InvalidValue(what, found, f"a saved {what}", hint, str(path))])
