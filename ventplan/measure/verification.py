"""Readings compared with the prediction: whether they agree, and if not, what would explain it and what decides."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ventplan.airing import Note
from ventplan.errors import NoAnswerError
from ventplan.house.records import House
from ventplan.measure.anemometer import Calibration
from ventplan.measure.house_fit import part_of
from ventplan.measure.house_model import Kind, Parameter, informative, model_of, parameters_of
from ventplan.measure.house_readings import (
    MODEL_ERROR,
    HouseReading,
    calibration_errors,
    data_from,
    model_covariance,
)
from ventplan.measure.inference import Model, derivatives_of
from ventplan.measure.setback_series import NINETY, SetbackSeries, series_in, setback_series
from ventplan.measure.uncertainty import LEAST_CHANCE, WIDE, Array

Verdict = Literal["agrees", "higher", "lower"]

CAUSES: dict[Kind | Literal["place"], str] = {
    "thrust": "weigh it (`measure thrust`)",
    "spread": "walk down the jet (`measure jet`)",
    "flow": "box the fan (`measure opening --box`)",
    "discharge": "take a traverse there, with the opening half shut and open",
    "leaks": "read there with all other openings shut",
    "screen": "read with the screen on and off in the same minute",
    "aim": "turn and tilt the fan a little each way: does a reading rise?",
    "place": "take a traverse instead of one place, and check the calibration",
}
"""Which measurement decides on each cause."""

MOST_SURPRISE = 3.0
"""Distance from what was known beyond which no cause is taken for less likely than another [standard deviations]: where
the model is wrong, so may be a stated uncertainty."""

SCAN = 9
"""Values that are tried for each cause."""


@dataclass(frozen=True)
class Comparison:
    """One reading and its prediction.

    Attributes
    ----------
    line, set_up, place
        Its line in the file, its set-up, and where it was taken.
    setback_m
        Setback of the one free fan of the set-up [m]; nan for none or several.
    predicted_m_s, low_m_s, high_m_s
        Prediction and its 90 % band, with what the file does not know well and the model's own error [m/s].
    measured_m_s, measured_low_m_s, measured_high_m_s
        The reading and its 95 % interval [m/s]; the start-up speed where the vane did not turn.
    ratio
        Measured over predicted [-].
    score
        ln ratio over its standard deviation [-].
    below
        True where the vane did not turn.
    verdict
        Whether the reading agrees, within 1.96 standard deviations of the two together, or is higher or lower.
    """

    line: str
    set_up: str
    place: str
    setback_m: float
    predicted_m_s: float
    low_m_s: float
    high_m_s: float
    measured_m_s: float
    measured_low_m_s: float
    measured_high_m_s: float
    ratio: float
    score: float
    below: bool
    verdict: Verdict


@dataclass(frozen=True)
class Explanation:
    """One cause that would explain the difference of readings and prediction.

    Attributes
    ----------
    cause, kind
        What it would be.
    value
        The factor on the file's figure, or the shift [deg].
    unit
        Empty for a factor, ``deg`` for a shift.
    explained
        Share of the misfit that it takes away [-].
    surprise
        How far it lies from what was known before [standard deviations].
    decided_by
        The measurement that decides.
    """

    cause: str
    kind: str
    value: float
    unit: str
    explained: float
    surprise: float
    decided_by: str


@dataclass(frozen=True)
class DecidingReading:
    """A reading, at a setback of the fan [m], for which the two best explanations predict different values [m/s]."""

    set_up: str
    opening: str
    first_m_s: float
    second_m_s: float
    setback_m: float


@dataclass(frozen=True)
class Verification:
    """Readings against the prediction.

    Attributes
    ----------
    comparisons
        One for each reading that can be compared.
    series
        Setback series among them.
    mean_ratio
        Geometric mean of measured over predicted [-].
    chi_squared, chance
        Misfit of prediction and readings, as many degrees of freedom as readings above start-up, and the probability
        that the stated uncertainties make it as large [-].
    explanations
        What would explain a misfit, the likeliest first; empty where there is nothing to explain.
    deciding
        The reading that would decide between the first two of them.
    notes
        What the reader should know.
    """

    comparisons: tuple[Comparison, ...]
    series: tuple[SetbackSeries, ...]
    mean_ratio: float
    chi_squared: float
    chance: float
    explanations: tuple[Explanation, ...]
    deciding: DecidingReading | None
    notes: tuple[Note, ...]

    @property
    def contradicted(self) -> bool:
        """True where readings and prediction differ by more than their uncertainties allow."""
        return self.chance < LEAST_CHANCE or any(one.below and one.verdict == "lower" for one in self.comparisons)

    @property
    def wrong_here(self) -> bool:
        """True where the model is wrong here: in its values, or in where its best setback lies."""
        return self.contradicted or any(series.apart for series in self.series)


def verify(
    house: House,
    readings: Sequence[HouseReading],
    calibration: Calibration,
    *,
    notes: Sequence[Note] = (),
    model_error: float = MODEL_ERROR,
    jet_error: float | None = None,
    seed: int = 1,
) -> Verification:
    """Compare readings with what the house file predicts, without fitting anything.

    Parameters
    ----------
    house
        The house as its file has it.
    readings
        Readings at openings and in jets.
    calibration
        What the anemometer's readings mean.
    notes
        What the reading of the file noted.
    model_error, jet_error
        Relative standard uncertainties of the model [-]; that of the jet by its situation if left out.
    seed
        Seed of the draws for best setbacks.

    Raises
    ------
    InputError
        For a reading at an opening that its set-up has shut.
    NoAnswerError
        Where no reading says anything, or the model has no air moving where one was taken.
    """
    from scipy import special

    rows, blown = informative(house, readings)
    taken = [readings[row] for row in rows]
    parameters = parameters_of(house, {reading.scenario.name: reading.scenario for reading in taken}.values())
    prior = np.array([parameter.prior for parameter in parameters])
    model = model_of(house, parameters, taken)
    predicted = model(np.zeros(prior.size))
    slopes, _ = derivatives_of(model, np.zeros(prior.size), predicted, prior, share=0.5)
    data = data_from(taken, calibration, model_error=model_error, jet_error=jet_error)
    shared = calibration_errors(taken, calibration)
    uncertain = slopes @ np.diag(prior**2) @ slopes.T
    uncertain = uncertain + model_covariance(taken, model_error=model_error, jet_error=jet_error)
    spread, error = np.sqrt(np.diag(uncertain)), np.hypot(data.noise.own, shared)
    known = [index for index in range(len(taken)) if not taken[index].below]
    off = data.logarithms - predicted
    joint = (uncertain + np.diag(data.noise.own**2) + np.outer(shared, shared))[np.ix_(known, known)]
    chi_squared = float(off[known] @ np.linalg.solve(joint, off[known])) if known else 0.0
    generator = np.random.default_rng(seed)
    found = Verification(
        comparisons=tuple(
            _comparison(reading, *numbers)
            for reading, *numbers in zip(taken, predicted.tolist(), spread.tolist(), error.tolist(), strict=True)
        ),
        series=tuple(
            setback_series(
                house, taken, numbers, parameters,
                model_error=model_error, jet_error=jet_error, generator=generator,
            )
            for numbers in series_in(taken)
        ),
        mean_ratio=math.exp(float(off[known].mean())) if known else math.nan,
        chi_squared=chi_squared,
        chance=float(special.chdtrc(max(len(known), 1), chi_squared)),
        explanations=(),
        deciding=None,
        notes=(*notes, *blown),
    )  # fmt: skip
    if not known or not (found.wrong_here or any(one.verdict != "agrees" for one in found.comparisons)):
        return found
    # What the model's own error would hide is to be explained here, so only a part of it is allowed.
    narrow = data_from([taken[i] for i in known], calibration, model_error=0.5 * model_error, jet_error=0.0)
    seen = part_of(data, known)
    explanations = _explanations([taken[i] for i in known], seen.logarithms, narrow.noise.covariance, house, parameters)
    return replace(
        found,
        explanations=tuple(one for one, _ in explanations[:4]),
        deciding=_deciding(house, taken, parameters, [point for _, point in explanations[:2]]),
    )


def _comparison(reading: HouseReading, predicted: float, spread: float, error: float) -> Comparison:
    off = math.log(reading.speed_m_s) - predicted
    score = off / math.hypot(spread, error)
    # A vane that stood still contradicts a faster stream only.
    verdict: Verdict = "lower" if score < -WIDE else "higher" if score > WIDE and not reading.below else "agrees"
    return Comparison(
        line=reading.line,
        set_up=reading.scenario.name,
        place=reading.place,
        setback_m=reading.setback_m,
        predicted_m_s=math.exp(predicted),
        low_m_s=math.exp(predicted - NINETY * spread),
        high_m_s=math.exp(predicted + NINETY * spread),
        measured_m_s=reading.speed_m_s,
        measured_low_m_s=0.0 if reading.below else reading.speed_m_s * math.exp(-WIDE * error),
        measured_high_m_s=reading.speed_m_s if reading.below else reading.speed_m_s * math.exp(WIDE * error),
        ratio=math.exp(off),
        score=score,
        below=reading.below,
        verdict=verdict,
    )


_Explained = tuple[Explanation, Array | None]
"""An explanation with the parameters that make it; None where it is the readings that are wrong."""


def _explanations(
    readings: Sequence[HouseReading], logs: Array, noise: Array, house: House, parameters: Sequence[Parameter]
) -> list[_Explained]:
    """Single causes, each with the value that explains most, the likeliest first: by what is left of the misfit and
    the square of its surprise, of at most three standard deviations."""
    precision = np.linalg.inv(noise)
    model = model_of(house, parameters, readings)
    base = logs - model(np.zeros(len(parameters)))
    before = float(base @ precision @ base)
    found: list[tuple[float, _Explained]] = []
    for parameter, point, rest in _scans(parameters, model, logs):
        left = float(rest @ precision @ rest)
        coordinate = float(point.sum())
        surprise = abs(coordinate) / parameter.prior
        one = Explanation(
            cause=parameter.name,
            kind=parameter.kind,
            value=parameter.shown(coordinate),
            unit="" if parameter.is_factor else "deg",
            explained=1.0 - left / before,
            surprise=surprise,
            decided_by=CAUSES[parameter.kind],
        )
        found.append((left + min(surprise, MOST_SURPRISE) ** 2, (one, point)))
    for opening in dict.fromkeys(reading.opening for reading in readings if reading.opening):
        here = np.array([float(reading.opening == opening) for reading in readings])
        factor = float(here @ precision @ base) / float(here @ precision @ here)
        rest = base - factor * here
        left, surprise = float(rest @ precision @ rest), abs(factor) / 0.1
        cause = f"the probe's place in {opening}, or its calibration"
        said = Explanation(cause, "place", math.exp(factor), "", 1.0 - left / before, surprise, CAUSES["place"])
        found.append((left + min(surprise, MOST_SURPRISE) ** 2, (said, None)))
    ranked = [one for _, one in sorted(found, key=lambda pair: pair[0])]
    best: dict[str, _Explained] = {}
    for explained in ranked:
        if explained[0].explained > 0.1:
            best.setdefault(explained[0].cause, explained)
    return list(best.values())


def _scans(parameters: Sequence[Parameter], model: Model, logs: Array) -> Iterator[tuple[Parameter, Array, Array]]:
    """Each parameter over a wide range of values, then closer about the best, with what is left of the readings."""
    for index, parameter in enumerate(parameters):
        reach = math.log(3.0) if parameter.is_factor else 20.0
        values, step = np.linspace(-reach, reach, SCAN), 2.0 * reach / (SCAN - 1)
        best = (math.inf, 0.0)
        for _ in range(3):
            for coordinate in values[values != 0.0]:
                point = np.zeros(len(parameters))
                point[index] = coordinate
                try:
                    rest = logs - model(point)
                except NoAnswerError:
                    continue
                best = min(best, (float(rest @ rest), float(coordinate)))
                yield parameter, point, rest
            step /= 3.0
            values = best[1] + step * np.array([-2.0, -1.0, 1.0, 2.0])


def _deciding(
    house: House, readings: Sequence[HouseReading], parameters: Sequence[Parameter], points: Sequence[Array | None]
) -> DecidingReading | None:
    """The reading in a stream, at another setback of the same set-ups, for which two explanations differ most."""
    if len(points) < 2 or any(point is None for point in points):
        return None
    first, second = (point for point in points if point is not None)
    setbacks = [reading.setback_m for reading in readings if reading.fan is not None and reading.takes != "jet"]
    tried = [
        reading.at_setback(house, setback)
        for reading in readings
        if reading.fan is not None and reading.takes != "jet"
        for setback in (0.3, 0.6, 1.0, 1.5, 2.2, 3.0)
        if setback <= 1.25 * max(setbacks)
    ]
    if not tried:
        return None
    model = model_of(house, parameters, tried)
    one, other = model(first), model(second)
    gaps = np.abs(one - other)
    best = int(np.argmax(gaps))
    if gaps[best] < 0.15:
        return None
    at = tried[best]
    first_m_s, second_m_s = math.exp(float(one[best])), math.exp(float(other[best]))
    return DecidingReading(f"setback {at.setback_m:.2f} m", at.opening, first_m_s, second_m_s, at.setback_m)
