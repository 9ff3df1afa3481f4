"""Correcting a house by readings: what moved, what the readings cannot separate, and what to read next."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ventplan.airing import Note, NoteCode
from ventplan.errors import NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.measure.house_model import (
    Kind,
    Parameter,
    house_at,
    informative,
    model_of,
    parameters_of,
    predicted,
    scenario_at,
    start_of,
)
from ventplan.measure.house_readings import HouseReading
from ventplan.measure.inference import (
    Data,
    Model,
    Noise,
    Posterior,
    fit_most,
    information_gain,
    leave_one_out,
    misfit,
    objective,
)
from ventplan.measure.opening import ONE_PLACE_ERROR
from ventplan.measure.uncertainty import LEAST_CHANCE, WIDE, Array

LEARNT = 0.1
"""Share of the prior variance from which on a parameter counts as learnt and is written to the file."""

TIED = 0.4
"""Correlation from which on two parameters count as not separated by the readings [-]."""


@dataclass(frozen=True)
class Corrected:
    """One parameter after the fit.

    Attributes
    ----------
    factor, low, high
        Factor on the file's value, and its 95 % interval [-]; for the aim of a fan the shift [deg].
    prior, posterior
        Standard uncertainty before and after, relative [-] or of the shift [deg].
    learnt
        Share of the prior variance that the readings took away [-].
    unit
        Empty for a factor, ``deg`` for a shift.
    either_way
        True for a shift whose opposite fits the readings as well; its interval then reaches to both sides.
    kind, size
        What sort of figure it is, and its value in the file [-, m3/s at 1 Pa, N, m]; nan for an aim.
    """

    name: str
    value: str
    factor: float
    low: float
    high: float
    prior: float
    posterior: float
    learnt: float
    unit: str = ""
    either_way: bool = False
    kind: Kind = "discharge"
    size: float = math.nan


@dataclass(frozen=True)
class Predicted:
    """One reading predicted from all the others.

    Attributes
    ----------
    read_m_s, expected_m_s, low_m_s, high_m_s
        What was read, what the others predict, and its 95 % interval [m/s].
    normalised
        ln reading - ln prediction over its standard deviation [-].
    set_aside
        True where all others contradict it, so that the fit is without it.
    below
        True where the vane did not turn: the speed is below ``read_m_s``.
    set_up, place, line
        Its set-up, where it was taken, and its line in the file.
    """

    label: str
    read_m_s: float
    expected_m_s: float
    low_m_s: float
    high_m_s: float
    normalised: float
    set_aside: bool = False
    below: bool = False
    set_up: str = ""
    place: str = ""
    line: str = ""

    @property
    def contradiction(self) -> float:
        """How far the reading is off what the others predict [standard deviations]; a vane that stood still contradicts
        a faster stream only."""
        return min(self.normalised, 0.0) if self.below else self.normalised


@dataclass(frozen=True)
class HouseFit:
    """The whole result.

    Attributes
    ----------
    corrected
        Every parameter, the best learnt first.
    tied
        Pairs that the readings cannot separate, with the correlation of what is left.
    settled, unknowns
        How many independent combinations of the parameters the readings determine better than the prior does (half of
        its variance taken away, or more), and how many parameters there are.
    misfit_before, misfit_after
        Root mean square of ln reading - ln model, of the readings that were not set aside [-].
    chi_squared
        Misfit after the fit, the prior's part included; as many readings as degrees of freedom.
    chance
        Probability that noise of the stated size makes it as large [-]. A high one validates nothing: an error that all
        readings share goes into thrust and discharge.
    left_out
        Every reading predicted from the others.
    next_readings
        The most informative readings to take next, best first.
    notes
        What the reader should know.
    """

    corrected: tuple[Corrected, ...]
    tied: tuple[tuple[str, str, float], ...]
    settled: int
    unknowns: int
    misfit_before: float
    misfit_after: float
    chi_squared: float
    chance: float
    left_out: tuple[Predicted, ...]
    next_readings: tuple[NextReading, ...]
    notes: tuple[Note, ...]

    @property
    def believable(self) -> bool:
        """False where the readings differ from every likely house by more than the stated uncertainties allow."""
        return self.chance >= LEAST_CHANCE

    def at_odds(self) -> Note:
        """The readings that disagree most: those farthest above and farthest below what the others predict."""
        kept = [one for one in self.left_out if not one.set_aside]
        high, low = max(kept, key=lambda one: one.contradiction), min(kept, key=lambda one: one.contradiction)
        if high.contradiction > 0.0 > low.contradiction:
            return Note(NoteCode.FARTHEST_APART, (high.label, low.label))
        return Note(NoteCode.ALL_ON_ONE_SIDE, ("above" if high.contradiction > 0.0 else "below",))


@dataclass(frozen=True)
class Fitted:
    """A fit with everything that later steps use: the result for people, the errors of the readings that were fitted,
    and the parameters with prior and posterior."""

    result: HouseFit
    data: Data
    parameters: tuple[Parameter, ...]
    prior: Array
    posterior: Posterior


def fit_house(
    house: House, readings: Sequence[HouseReading], data: Data, *, notes: Sequence[Note] = (), candidates: int = 3
) -> Fitted:
    """Fit a house to readings.

    Parameters
    ----------
    house
        The house as its file has it.
    readings
        Readings at openings and in jets.
    data
        The same as numbers, with their errors.
    notes
        What the reading of the file noted.
    candidates
        How many next readings to propose.

    Raises
    ------
    InputError
        For a reading at an opening that its set-up has shut.
    NoAnswerError
        Where the model has no air moving at an opening that was read, or the fit does not converge.
    """
    from scipy import special

    kept_rows, blown = informative(house, readings)
    readings, data = tuple(readings[i] for i in kept_rows), part_of(data, kept_rows)
    states = {reading.scenario.name: reading.scenario for reading in readings}
    parameters = parameters_of(house, states.values())
    prior = np.array([parameter.prior for parameter in parameters])
    model = model_of(house, parameters, readings)
    posterior, aside = fit_most(model=model, data=data, prior=prior, start=start_of(parameters))
    known = [index for index in range(len(readings)) if index not in aside and not data.below[index]]
    chi_squared = misfit(posterior, data, prior, known) if known else 0.0
    spread = np.sqrt(np.diag(posterior.covariance))
    result = HouseFit(
        corrected=corrected(parameters, posterior, model, data, prior),
        tied=_tied(parameters, posterior.covariance, spread),
        settled=_determined(posterior.covariance, prior),
        unknowns=len(parameters),
        misfit_before=_rms(posterior.before[known]),
        misfit_after=_rms(posterior.after[known]),
        chi_squared=chi_squared,
        chance=float(special.chdtrc(max(len(known), 1), chi_squared)),
        left_out=_left_out(readings, posterior, data, prior, aside),
        next_readings=_worth_reading(house, parameters, posterior, {**house.scenarios, **states}, candidates),
        notes=(*_set_aside(readings, aside), *notes, *blown),
    )
    return Fitted(result, data, parameters, prior, posterior)


def part_of(data: Data, rows: Sequence[int]) -> Data:
    """Some of the readings, by their numbers."""
    chosen = list(rows)
    noise = Noise(data.noise.own[chosen], data.noise.common[np.ix_(chosen, chosen)])
    return Data(data.logarithms[chosen], data.below[chosen], noise)


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2))) if values.size else 0.0


def _determined(covariance: Array, prior: Array) -> int:
    """How many independent combinations of parameters keep less than half of their prior variance."""
    return int((np.linalg.eigvalsh(covariance / np.outer(prior, prior)) < 0.5).sum())


def corrected(
    parameters: Sequence[Parameter], posterior: Posterior, model: Model, data: Data, prior: Array
) -> tuple[Corrected, ...]:
    """Every parameter with its 95 % interval, the best learnt first.

    A shift (the aim of a fan) has an even effect: where the opposite shift fits nearly as well (within 3.84, the 95 %
    point of chi-squared), its interval reaches to both sides.
    """
    found = []
    for index, (parameter, point) in enumerate(zip(parameters, posterior.point, strict=True)):
        after = math.sqrt(posterior.covariance[index, index])
        low, high, either = point - WIDE * after, point + WIDE * after, False
        if not parameter.is_factor and low > -abs(point):
            mirrored = posterior.point.copy()
            mirrored[index] = -point
            either = objective(model=model, data=data, prior=prior, point=mirrored) - posterior.objective < 3.84
        elif not parameter.is_factor:
            either = True
        if either:
            reach = abs(point) + WIDE * after
            low, high = -reach, reach
        found.append(
            Corrected(
                name=parameter.name,
                value=parameter.value,
                factor=parameter.shown(point),
                low=parameter.shown(low),
                high=parameter.shown(high),
                prior=parameter.prior,
                posterior=after,
                learnt=max(1.0 - (after / parameter.prior) ** 2, 0.0),
                unit="" if parameter.is_factor else "deg",
                either_way=either,
                kind=parameter.kind,
                size=parameter.size,
            )
        )
    return tuple(sorted(found, key=lambda one: -one.learnt))


def _tied(parameters: Sequence[Parameter], covariance: Array, spread: Array) -> tuple[tuple[str, str, float], ...]:
    correlation = covariance / np.outer(spread, spread)
    pairs = [
        (parameters[i].name, parameters[j].name, float(correlation[i, j]))
        for i in range(len(parameters))
        for j in range(i)
        if abs(correlation[i, j]) > TIED
    ]
    return tuple(sorted(pairs, key=lambda pair: -abs(pair[2])))


def _set_aside(readings: Sequence[HouseReading], aside: Collection[int]) -> tuple[Note, ...]:
    """A note that names the readings that all others contradict."""
    labels = tuple(readings[index].label for index in sorted(aside))
    return (Note(NoteCode.SET_ASIDE, labels),) if labels else ()


def _left_out(
    readings: Sequence[HouseReading], posterior: Posterior, data: Data, prior: Array, aside: Collection[int]
) -> tuple[Predicted, ...]:
    off, standard = leave_one_out(posterior, data, prior, aside)
    result = []
    for index, (reading, difference, width) in enumerate(zip(readings, off, standard, strict=True)):
        expected = reading.speed_m_s * math.exp(-difference)
        result.append(
            Predicted(
                label=f"{reading.label} ({reading.scenario.name})",
                read_m_s=reading.speed_m_s,
                expected_m_s=expected,
                low_m_s=expected * math.exp(-WIDE * width),
                high_m_s=expected * math.exp(WIDE * width),
                normalised=float(difference / width),
                set_aside=index in aside,
                below=reading.below,
                set_up=reading.scenario.name,
                place=reading.place,
                line=reading.line,
            )
        )
    return tuple(result)


def calibrated_text(text: str, fitted: Fitted, *, source: str) -> str:
    """The house file with what was learnt; what stood there before is noted in comments at the top.

    Parameters
    ----------
    text
        The house file.
    fitted
        As ``fit_house`` gives it.
    source
        Name of the readings' file, for the comments.
    """
    lines = [f"# Calibrated by the readings in {source}. Before:"]
    spread = np.sqrt(np.diag(fitted.posterior.covariance))
    for parameter, point, after in zip(fitted.parameters, fitted.posterior.point, spread, strict=True):
        if parameter.is_factor and 1.0 - (after / parameter.prior) ** 2 >= LEARNT:
            text = parameter.in_text(text, float(point), float(after))
            lines.append(
                f"#   {parameter.name}: {parameter.value}; now times {math.exp(point):.2f}, ± {WIDE * after:.0%} (95 %)"
            )
    return "\n".join(lines) + "\n" + text


@dataclass(frozen=True)
class NextReading:
    """A reading that could be taken, and its expected information [nat]."""

    scenario: str
    opening: str
    gain: float


def _worth_reading(
    house: House, parameters: Sequence[Parameter], posterior: Posterior, states: Mapping[str, Scenario], most: int
) -> tuple[NextReading, ...]:
    """Open openings in scenarios with a fan, by the information that a reading in their stream would give."""
    from ventplan.network import solve

    found = []
    step = 0.2 * np.sqrt(np.diag(posterior.covariance))
    points = [posterior.point, *(posterior.point + move for move in np.diag(step))]
    for name, state in states.items():
        if not state.placements:
            continue
        try:
            middle, *moved = [
                solve(house_at(house, parameters, point), scenario_at(state, parameters, point)) for point in points
            ]
        except NoAnswerError:
            continue  # a scenario without an answer is no place for a reading
        for opening, here in middle.openings.items():
            # One place in the stream must mean something, and the vane must turn.
            if here.reading_m_s is None or here.reading_m_s < 0.4:
                continue
            base = math.log(here.reading_m_s)
            slopes = np.array([math.log(max(predicted(flow, opening, "stream"), 1e-6)) - base for flow in moved]) / step
            error = math.hypot(ONE_PLACE_ERROR["screened" if opening in state.screened else "bare"], 0.08)
            found.append(NextReading(name, opening, information_gain(posterior.covariance, slopes, error)))
    return tuple(sorted(found, key=lambda one: -one.gain)[:most])
