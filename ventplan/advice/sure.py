"""Which plan is best, given what is not known: plans solved side by side in the same possible houses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventplan.advice.aims import Aim
from ventplan.advice.draws import Floats, Progress, answered, draws_of, evaluated, normal_draws
from ventplan.advice.interval import LEVEL, Interval, by_group, explained
from ventplan.advice.plans import Plan
from ventplan.advice.uncertain import Cause, Uncertainties, causes_of
from ventplan.house.records import House, Scenario
from ventplan.network import solve

POOR = 0.10
"""A plan's value in poor luck is what it exceeds in nine cases of ten [-]."""


@dataclass(frozen=True)
class PlanSureness:
    """How one plan does in what is possible.

    Attributes
    ----------
    interval
        The aim's value (see ``Aim.verdict``).
    in_poor_luck
        What it exceeds in nine cases of ten, in the aim's unit.
    best_share
        Share of the possible houses in which it is the best of the plans [-].
    expected_regret, worst_regret
        What it falls short of the best plan, on average and at worst, as a share of what the best plan gives [-].
    """

    interval: Interval
    in_poor_luck: float
    best_share: float
    expected_regret: float
    worst_regret: float


@dataclass(frozen=True)
class Sureness:
    """How sure a choice among plans is.

    Attributes
    ----------
    aim
        What the plans are judged by; the room's purging flow where the question was its coolness.
    plans
        In the order given.
    safest
        Number of the plan that is best in poor luck, counted from 0.
    least_regret
        Number of the plan whose worst regret is the smallest, counted from 0.
    decided_by
        Of the difference between the two plans that are best most often, the share by group of causes; empty for
        one plan.
    rivals
        Numbers of those two plans.
    draws
        Possible houses that the figures come from.
    """

    aim: Aim
    plans: tuple[PlanSureness, ...]
    safest: int
    least_regret: int
    decided_by: tuple[tuple[str, float], ...]
    rivals: tuple[int, ...]
    draws: int

    def odds_error(self, plan: int) -> float:
        """Standard error of a plan's share by the number of draws [-]; evenly spread draws do no worse."""
        share = self.plans[plan].best_share
        return float(np.sqrt(max(share * (1.0 - share), 0.25 / self.draws) / self.draws))


def how_sure(
    house: House,
    aim: Aim,
    plans: Sequence[Plan | Scenario],
    *,
    work: str | int = "low",
    uncertainties: Uncertainties | None = None,
    seed: int = 1,
    progress: Progress | None = None,
) -> Sureness:
    """How sure it is that one plan is better than the others.

    Parameters
    ----------
    house
        The house.
    aim
        What the plans are judged by.
    plans
        Plans, or whole states of the house.
    work
        ``low``, ``normal``, ``high`` or a number of draws; each costs a solution for each plan.
    uncertainties
        How uncertain things are; the defaults if left out.
    seed
        Of the draws.
    progress
        Called with solved states and all of them.

    Returns
    -------
    Sureness
        Intervals, odds and regrets.

    Raises
    ------
    InputError
        For work that is no word or number of `draws_of`.
    NoAnswerError
        Where too many possible houses have no answer.
    ValueError
        Without a plan.

    Notes
    -----
    Every plan is solved in the same draws (common random numbers), so that what plans have in common, such as one
    discharge coefficient for all, does not blur the ranking. The regret of a plan in a draw is what it falls short of
    the best plan there. A room coolest by morning is judged by its purging flow, which the search steers by too.
    """
    if aim.kind == "cool":
        aim = Aim("room", aim.name)
    states = [plan if isinstance(plan, Scenario) else plan.scenario for plan in plans]
    if not states:
        raise ValueError("at least one plan is needed")
    causes = causes_of(house, states, uncertainties)
    normal = normal_draws(len(causes), draws_of(str(work)), seed)

    def evaluate(variant: House, varied: Scenario) -> Floats:
        return np.array([aim.verdict(variant, varied, solve(variant, varied))])

    values = evaluated(house, states, evaluate, causes, normal, progress)[:, :, 0]
    good = answered(values)
    as_filed = [float(evaluate(house, state)[0]) for state in states]
    return _judged(aim, as_filed, values[good], causes, normal[good])


def _judged(aim: Aim, as_filed: Sequence[float], values: Floats, causes: Sequence[Cause], normal: Floats) -> Sureness:
    """Odds and regrets from values of shape (draws, plans)."""
    tail = (1.0 - LEVEL) / 2.0
    low, poor, high = np.quantile(values, [tail, POOR, 1.0 - tail], axis=0)
    best = values.argmax(axis=1)
    shares = np.bincount(best, minlength=values.shape[1]) / len(values)
    top = values.max(axis=1, keepdims=True)
    regret = 1.0 - values / np.where(np.abs(top) > 0.0, top, 1.0)
    plans = tuple(
        PlanSureness(
            interval=Interval(value, float(low[i]), float(high[i]), "sampled", _budget(causes, normal, values[:, i])),
            in_poor_luck=float(poor[i]),
            best_share=float(shares[i]),
            expected_regret=float(regret[:, i].mean()),
            worst_regret=float(regret[:, i].max()),
        )
        for i, value in enumerate(as_filed)
    )
    rivals = tuple(int(i) for i in np.argsort(-shares, kind="stable")[:2])
    decided = _budget(causes, normal, values[:, rivals[0]] - values[:, rivals[1]]) if len(rivals) == 2 else ()
    return Sureness(
        aim=aim,
        plans=plans,
        safest=int(poor.argmax()),
        least_regret=int(regret.max(axis=0).argmin()),
        decided_by=decided,
        rivals=rivals,
        draws=len(values),
    )


def _budget(causes: Sequence[Cause], normal: Floats, values: Floats) -> tuple[tuple[str, float], ...]:
    shares = explained(normal, values)
    return by_group(causes, shares / max(float(shares.sum()), 1.0))
