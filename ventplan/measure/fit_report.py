"""What a fit of a house to readings says: what moved, what the readings cannot tell apart, what to read
next."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.measure.house_fit import (
    HouseReading,
    Posterior,
    fit_most,
    information_gain,
    leave_one_out,
    model_of,
    predicted,
)
from ventplan.measure.knobs import Knob, knobs_of, turned
from ventplan.measure.opening import ONE_PLACE_ERROR
from ventplan.measure.uncertainty import LEAST_CHANCE, WIDE, Array


@dataclass(frozen=True)
class NextReading:
    """A reading that could be taken, and how much it would tell [nat]."""

    scenario: str
    opening: str
    gain: float


def worth_reading(
    house: House, knobs: Sequence[Knob], posterior: Posterior, states: dict[str, Scenario], most: int
) -> tuple[NextReading, ...]:
    """Every open opening in every scenario with a fan, by how much a reading in its stream would tell.

    Parameters
    ----------
    house, knobs, posterior
        The house and its fit.
    states
        The set-ups to look at, by name.
    most
        How many to propose.
    """
    from ventplan.network import solve

    found = []
    step = 0.02
    for name, state in states.items():
        if not state.placements:
            continue
        try:
            middle = solve(turned(house, knobs, posterior.point), state)
            moved = [solve(turned(house, knobs, posterior.point + move), state) for move in np.eye(len(knobs)) * step]
        except NoAnswerError:
            continue  # a scenario without an answer is no place for a reading
        for opening, here in middle.openings.items():
            # One place in the stream must mean something, and the vane must turn.
            if here.reading_m_s is None or here.reading_m_s < 0.4:
                continue
            base = math.log(here.reading_m_s)
            slopes = np.array([(math.log(predicted(flow, opening, "stream")) - base) / step for flow in moved])
            error = math.hypot(ONE_PLACE_ERROR["screened" if opening in state.screened else "bare"], 0.08)
            found.append(NextReading(name, opening, information_gain(posterior.covariance, slopes, error)))
    return tuple(sorted(found, key=lambda one: -one.gain)[:most])


LEARNT = 0.1
"""Share of the prior variance from which on a knob counts as learnt and is written to the file."""


@dataclass(frozen=True)
class Corrected:
    """One knob after the fit.

    Attributes
    ----------
    factor, low, high
        Factor on the file's value, and its 95 % interval [-].
    prior, posterior
        Relative standard uncertainty before and after [-].
    learnt
        Share of the prior variance that the readings took away [-].
    """

    name: str
    value: str
    factor: float
    low: float
    high: float
    prior: float
    posterior: float
    learnt: float


@dataclass(frozen=True)
class Predicted:
    """One reading predicted from all the others.

    Attributes
    ----------
    read_m_s, expected_m_s
        What was read, and what the others say [m/s].
    low_m_s, high_m_s
        95 % interval of the prediction of such a reading [m/s].
    normalised
        ln reading - ln prediction over its standard deviation [-].
    set_aside
        True where all others contradict it, so that the fit is without it.
    """

    label: str
    read_m_s: float
    expected_m_s: float
    low_m_s: float
    high_m_s: float
    normalised: float
    set_aside: bool = False


@dataclass(frozen=True)
class HouseFit:
    """The whole result.

    Attributes
    ----------
    corrected
        Every knob, the best learnt first.
    tied
        Pairs that the readings cannot tell apart, with the correlation of what is left.
    misfit_before, misfit_after
        Root mean square of ln reading - ln model, of the readings that were not set aside [-].
    chi_squared
        Misfit after the fit, the prior's part included; as many readings as degrees of freedom.
    chance
        Probability that noise of the stated size makes it as large [-]. A high one validates nothing: an error of the
        jet model goes into thrust and discharge.
    left_out
        Every reading predicted from the others.
    next_readings
        The readings most worth taking, best first.
    notes
        What the reader should know.
    """

    corrected: tuple[Corrected, ...]
    tied: tuple[tuple[str, str, float], ...]
    misfit_before: float
    misfit_after: float
    chi_squared: float
    chance: float
    left_out: tuple[Predicted, ...]
    next_readings: tuple[NextReading, ...]
    notes: tuple[str, ...]

    @property
    def believable(self) -> bool:
        """False where the readings differ from every likely house by more than the stated uncertainties allow."""
        return self.chance >= LEAST_CHANCE

    def at_odds(self) -> str:
        """The readings that disagree most: those farthest above and farthest below what the others foretell."""
        kept = [one for one in self.left_out if not one.set_aside]
        high, low = max(kept, key=lambda one: one.normalised), min(kept, key=lambda one: one.normalised)
        if high.normalised > 0.0 > low.normalised:
            return f"farthest apart are {high.label}, above what the others foretell, and {low.label}, below it"
        side = "above" if high.normalised > 0.0 else "below"
        return f"all are {side} what the file and the others foretell: a unit, the calibration or a set-up may be wrong"


def fit_house(
    house: House, readings: Sequence[HouseReading], noise: Array, *, notes: Sequence[str] = (), candidates: int = 3
) -> tuple[HouseFit, tuple[Knob, ...], Posterior]:
    """Fit a house to readings.

    Parameters
    ----------
    house
        The house as its file has it.
    readings
        Readings at openings.
    noise
        Covariance of the noise of their logarithms, shape (n, n).
    notes
        What the reading of the file noted.
    candidates
        How many next readings to propose.

    Returns
    -------
    tuple
        The result, the knobs, and the posterior.

    Raises
    ------
    InputError
        For a reading at an opening that its set-up has shut.
    NoAnswerError
        Where the model has no air moving at an opening that was read, or the fit does not settle.
    """
    from scipy import special

    telling, blown = _telling(house, readings)
    readings, noise = [readings[i] for i in telling], noise[np.ix_(telling, telling)]
    states = {reading.scenario.name: reading.scenario for reading in readings}
    knobs = knobs_of(house, states.values())
    prior = np.array([knob.prior for knob in knobs])
    posterior, aside = fit_most(
        model=model_of(house, knobs, readings),
        readings=[math.log(reading.speed_m_s) for reading in readings],
        noise=noise,
        prior=prior,
    )
    kept = [index for index in range(len(readings)) if index not in aside]
    spread = np.sqrt(np.diag(posterior.covariance))
    corrected = [
        Corrected(
            name=knob.name,
            value=knob.value,
            factor=math.exp(point),
            low=math.exp(point - WIDE * after),
            high=math.exp(point + WIDE * after),
            prior=knob.prior,
            posterior=float(after),
            learnt=1.0 - float(after / knob.prior) ** 2,
        )
        for knob, point, after in zip(knobs, posterior.point, spread, strict=True)
    ]
    result = HouseFit(
        corrected=tuple(sorted(corrected, key=lambda one: -one.learnt)),
        tied=_tied(knobs, posterior.covariance, spread),
        misfit_before=float(np.sqrt(np.mean(posterior.before[kept] ** 2))),
        misfit_after=float(np.sqrt(np.mean(posterior.after[kept] ** 2))),
        chi_squared=posterior.chi_squared,
        chance=float(special.chdtrc(len(kept), posterior.chi_squared)),
        left_out=_left_out(readings, posterior, prior, aside),
        next_readings=worth_reading(house, knobs, posterior, {**house.scenarios, **states}, candidates),
        notes=(*_set_aside(readings, aside), *notes, *blown),
    )
    return result, knobs, posterior


def _telling(house: House, readings: Sequence[HouseReading]) -> tuple[list[int], tuple[str, ...]]:
    """Which readings say something, and a note on those in one place of a jet or of air that goes both ways."""
    from ventplan.network import solve

    flows = {}
    telling, blown, shut = [], [], []
    for index, reading in enumerate(readings):
        if reading.scenario.name not in flows:
            flows[reading.scenario.name] = solve(house, reading.scenario)
        here = flows[reading.scenario.name].openings[reading.opening]
        if reading.scenario.shares[reading.opening] == 0.0:
            shut.append(reading.label)
        elif reading.takes == "stream" and here.reading_m_s is None:
            blown.append(reading.label)
        else:
            telling.append(index)
    if shut:
        raise InputError(
            f"shut in its set-up, and read all the same: {'; '.join(shut)}. Name the set-up in which it was open, or "
            "say what differs in the columns `open` and `shut`"
        )
    if not telling:
        raise NoAnswerError(
            "Every reading stands in an opening that a jet goes through or that air passes both ways, where one place "
            "says nothing. Read where the room draws the air in, or take a traverse and say `mean`."
        )
    if not blown:
        return telling, ()
    said = f"Left out, since one place in a jet, or where air goes both ways, says nothing: {'; '.join(blown)}."
    return telling, (said,)


def _tied(knobs: Sequence[Knob], covariance: Array, spread: Array) -> tuple[tuple[str, str, float], ...]:
    correlation = covariance / np.outer(spread, spread)
    pairs = [
        (knobs[i].name, knobs[j].name, float(correlation[i, j]))
        for i in range(len(knobs))
        for j in range(i)
        if abs(correlation[i, j]) > 0.5
    ]
    return tuple(sorted(pairs, key=lambda pair: -abs(pair[2])))


def _set_aside(readings: Sequence[HouseReading], aside: Collection[int]) -> tuple[str, ...]:
    """A note that names the readings that all others contradict."""
    labels = [readings[index].label for index in sorted(aside)]
    if not labels:
        return ()
    told = f"Set aside, since the others contradict {'it' if len(labels) == 1 else 'them'}: {'; '.join(labels)}. "
    return (told + "Nothing above rests on it: mend a typing error, or read there again.",)


def _left_out(
    readings: Sequence[HouseReading], posterior: Posterior, prior: Array, aside: Collection[int]
) -> tuple[Predicted, ...]:
    off, standard = leave_one_out(posterior, prior, aside)
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
            )
        )
    return tuple(result)


def calibrated_text(text: str, knobs: Sequence[Knob], posterior: Posterior, *, source: str) -> str:
    """The house file with what was learnt; what stood there before is noted in comments at the top.

    Parameters
    ----------
    text
        The house file.
    knobs, posterior
        As ``fit_house`` gives them.
    source
        Name of the readings' file, for the comments.
    """
    lines = [f"# Calibrated by the readings in {source}. Before:"]
    spread = np.sqrt(np.diag(posterior.covariance))
    for knob, point, after in zip(knobs, posterior.point, spread, strict=True):
        if 1.0 - (after / knob.prior) ** 2 >= LEARNT:
            text = knob.write(text, math.exp(point), float(after))
            lines.append(f"#   {knob.name}: {knob.value}; now times {math.exp(point):.2f}, ± {WIDE * after:.0%} (95 %)")
    return "\n".join(lines) + "\n" + text
