"""Possible houses by the hundred: evenly spread draws of every cause of doubt, each solved."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from ventplan.advice.uncertainty import Cause, perturbed, shifts_of
from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import House, Scenario

Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]
Evaluate = Callable[[House, Scenario], Floats]

WORK = {"low": 64, "normal": 256, "high": 1024}
"""Draws by how much work they may cost."""
FEWEST, MOST = 16, 65_536
MOST_FAILED = 0.1
"""Share of draws without an answer above which there is no answer at all [-]."""


def draws_of(text: str) -> int:
    """Number of draws that a word (low, normal, high) or a number asks for, up to the next power of two.

    Parameters
    ----------
    text
        The word or number.

    Raises
    ------
    InputError
        For any other word, or a number out of range.

    Examples
    --------
    >>> draws_of("low"), draws_of("100")
    (64, 128)
    """
    if text in WORK:
        return WORK[text]
    if not text.isdigit() or not FEWEST <= int(text) <= MOST:
        raise InputError(f"how much work: found {text!r}; allowed: {', '.join(WORK)}, or {FEWEST} to {MOST} draws")
    return int(2 ** np.ceil(np.log2(int(text))))


def normal_draws(causes: int, draws: int, seed: int) -> Floats:
    """Standard normal numbers that fill their space evenly.

    Parameters
    ----------
    causes
        How many numbers for each draw.
    draws
        How many draws; a power of two.
    seed
        The same seed gives the same draws, and more draws begin with those of fewer.

    Returns
    -------
    ndarray
        Shape (draws, causes).

    Notes
    -----
    A scrambled Sobol sequence through the inverse of the normal distribution (Owen 1998, from memory).
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    if causes == 0:
        return np.zeros((draws, 0))
    even = qmc.Sobol(causes, seed=seed).random(draws)
    normal: Floats = ndtri(np.clip(even, 1e-9, 1.0 - 1e-9))
    return normal


def evaluated(
    house: House,
    scenarios: Sequence[Scenario],
    evaluate: Evaluate,
    causes: Sequence[Cause],
    normal: Floats,
    progress: Progress | None = None,
) -> Floats:
    """Values of states in every draw; the same draw for all states.

    Parameters
    ----------
    house
        The house.
    scenarios
        Its states.
    evaluate
        Gives the values of a house in a state, shape (values,); raises `NoAnswerError` where there are none.
    causes, normal
        Causes of doubt, and their standard normal numbers, shape (draws, causes).
    progress
        Called with solved and all states.

    Returns
    -------
    ndarray
        Shape (draws, scenarios, values); not-a-number where a draw has no answer.
    """
    rows: list[list[Floats | None]] = []
    for i, numbers in enumerate(normal):
        shifts = shifts_of(causes, numbers)
        rows.append([_attempt(evaluate, *perturbed(house, scenario, shifts)) for scenario in scenarios])
        if progress is not None:
            progress((i + 1) * len(scenarios), normal.shape[0] * len(scenarios))
    size = next((one.size for row in rows for one in row if one is not None), 0)
    nothing = np.full(size, np.nan)
    return np.array([[nothing if one is None else one for one in row] for row in rows])


def _attempt(evaluate: Evaluate, house: House, scenario: Scenario) -> Floats | None:
    try:
        return evaluate(house, scenario)
    except NoAnswerError:
        return None


def answered(values: Floats) -> NDArray[np.bool_]:
    """Which draws have an answer for everything, shape (draws,); values have their draws along the first axis.

    Raises
    ------
    NoAnswerError
        Where too many have none.
    """
    good = np.asarray(np.isfinite(values.reshape(values.shape[0], -1)).all(axis=1), dtype=np.bool_)
    if values.size == 0 or good.mean() < 1.0 - MOST_FAILED:
        raise NoAnswerError(
            f"only {int(good.sum())} of {good.size} possible houses have an answer; the doubt about this one cannot be "
            "told. Try it without the jets that pass several openings in line."
        )
    return good
