"""Which reading to take next: the one that would tell most of what a fit has left uncertain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventplan.errors import NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.measure.house_fit import Posterior, information_gain, predicted
from ventplan.measure.knobs import Knob, turned
from ventplan.measure.opening import ONE_PLACE_ERROR


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
