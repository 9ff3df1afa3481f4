"""How likely each plan, or each setback, is the best, given what is uncertain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplan.advice.candidates import aimed, stretches
from ventplan.advice.intervals import LEVEL, Interval, by_group, explained
from ventplan.advice.objective import Objective
from ventplan.advice.plan import Plan
from ventplan.advice.setback import SetbackAnswer, SetbackCurve, ready_for_jet
from ventplan.advice.uncertainty import (
    Cause,
    Floats,
    Progress,
    Uncertainties,
    answered,
    causes_of,
    draws_of,
    evaluated,
    normal_draws,
)
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import solve

POOR = 0.10
"""Share of cases in which a plan does better than its value in an unfavourable case [-]."""


@dataclass(frozen=True)
class PlanSureness:
    """How one plan does in what is possible.

    Attributes
    ----------
    interval
        The aim's value (see ``Objective.verdict``).
    unfavourable
        What it exceeds in nine cases of ten, in the aim's unit.
    best_share
        Share of the possible houses in which it is the best of the plans [-].
    expected_regret, worst_regret
        What it falls short of the best plan, on average and at worst, as a share of what the best plan gives [-].
    """

    interval: Interval
    unfavourable: float
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
        Number of the plan that is best in an unfavourable case, counted from 0.
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

    aim: Objective
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
    aim: Objective,
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
        Intervals, probabilities of being best, and regrets.

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
        aim = Objective("room", aim.name)
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


def _judged(
    aim: Objective, as_filed: Sequence[float], values: Floats, causes: Sequence[Cause], normal: Floats
) -> Sureness:
    """Probabilities of being best and regrets from values of shape (draws, plans)."""
    tail = (1.0 - LEVEL) / 2.0
    low, poor, high = np.quantile(values, [tail, POOR, 1.0 - tail], axis=0)
    best = values.argmax(axis=1)
    shares = np.bincount(best, minlength=values.shape[1]) / len(values)
    top = values.max(axis=1, keepdims=True)
    regret = 1.0 - values / np.where(np.abs(top) > 0.0, top, 1.0)
    plans = tuple(
        PlanSureness(
            interval=Interval(value, float(low[i]), float(high[i]), "sampled", _budget(causes, normal, values[:, i])),
            unfavourable=float(poor[i]),
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


POINTS = 9
"""Setbacks at which each draw is solved."""
WORTHWHILE = 0.6
"""Setbacks that give less than this share of the best flow are left out [-]."""


@dataclass(frozen=True)
class SetbackSureness:
    """How sure one setback curve is.

    Attributes
    ----------
    screens
        ``on`` or ``off``, as the curve.
    flow
        Flow at the best setback of the curve [m3/s].
    best_setback
        Where the best setback may lie [m].
    kept
        Share of what the true best setback would give that the curve's best one gives, on average [-].
    draws
        Possible houses that the figures come from.
    setbacks_m, low_m3_s, high_m3_s
        Setbacks that were tried [m], and the bounds of the flow at each [m3/s], shape (setbacks,).
    """

    screens: str
    flow: Interval
    best_setback: Interval
    kept: float
    draws: int
    setbacks_m: tuple[float, ...]
    low_m3_s: tuple[float, ...]
    high_m3_s: tuple[float, ...]


def sure_setback(
    house: House,
    scenario: Scenario,
    answer: SetbackAnswer,
    *,
    work: str | int = "low",
    uncertainties: Uncertainties | None = None,
    seed: int = 1,
    progress: Progress | None = None,
) -> tuple[SetbackSureness, ...]:
    """Intervals for the flow at the best setback and for the best setback itself.

    Parameters
    ----------
    house, scenario
        The house and the state that the curve was asked about.
    answer
        The setback curves.
    work
        ``low``, ``normal``, ``high`` or a number of draws; each costs a solution at each of `POINTS` setbacks.
    uncertainties
        How uncertain things are; the defaults if left out.
    seed
        Of the draws.
    progress
        Called with solved states and all of them, curve by curve.

    Returns
    -------
    tuple of SetbackSureness
        One for each curve.

    Raises
    ------
    NoAnswerError
        Where too many possible houses have no answer.
    """
    return tuple(
        _of_curve(house, scenario, answer, curve, draws_of(str(work)), uncertainties, seed, progress)
        for curve in answer.curves
    )


def _of_curve(
    house: House,
    scenario: Scenario,
    answer: SetbackAnswer,
    curve: SetbackCurve,
    draws: int,
    uncertainties: Uncertainties | None,
    seed: int,
    progress: Progress | None,
) -> SetbackSureness:
    setbacks = _worthwhile(curve)
    states = [_state(house, scenario, answer, curve, setback) for setback in setbacks]
    outwards = house.openings[answer.opening].joins[0] == answer.stands_in

    def evaluate(variant: House, varied: Scenario) -> Floats:
        net = solve(variant, varied).openings[answer.opening].net_m3_s
        return np.array([net if outwards else -net])

    causes = causes_of(house, states, uncertainties)
    normal = normal_draws(len(causes), draws, seed)
    values = evaluated(house, states, evaluate, causes, normal, progress)[:, :, 0]
    good = answered(values)
    values, normal = values[good], normal[good]
    here = values[:, int(np.argmin(np.abs(setbacks - curve.best_setback_m)))]
    tops = np.array([_top(setbacks, row) for row in values])

    tail = (1.0 - LEVEL) / 2.0
    lows, highs = np.quantile(values, [tail, 1.0 - tail], axis=0).tolist()

    def made(value: float, possible: Floats) -> Interval:
        low, high = np.quantile(possible, [tail, 1.0 - tail])
        shares = explained(normal, possible)
        budget = by_group(causes, shares / max(float(shares.sum()), 1.0))
        return Interval(value, float(low), float(high), "sampled", budget)

    return SetbackSureness(
        screens=curve.screens,
        flow=made(curve.best_flow_m3_s, here),
        best_setback=made(curve.best_setback_m, tops),
        kept=float(np.mean(here / values.max(axis=1))),
        draws=len(values),
        setbacks_m=tuple(setbacks.tolist()),
        low_m3_s=tuple(lows),
        high_m3_s=tuple(highs),
    )


def _worthwhile(curve: SetbackCurve) -> Floats:
    """The best setback and others around it, from the nearest to the farthest that are worth a try."""
    flows = np.array(curve.flow_m3_s)
    kept = np.array(curve.setback_m)[flows >= WORTHWHILE * curve.best_flow_m3_s]
    spread = np.linspace(kept.min(initial=curve.best_setback_m), kept.max(initial=curve.best_setback_m), POINTS - 1)
    setbacks: Floats = np.unique(np.round(np.append(spread, curve.best_setback_m), 4))
    return setbacks


def _state(house: House, scenario: Scenario, answer: SetbackAnswer, curve: SetbackCurve, setback_m: float) -> Scenario:
    state, place = ready_for_jet(house, scenario, answer.fan, answer.opening, answer.stands_in)
    ranges = stretches(house, state, house.fans[answer.fan], house.openings[answer.opening], place)
    placement = Placement(answer.fan, answer.opening, place, setback_m, aside_m=ranges[0].aside_m)
    screened = frozenset(n for n, o in house.openings.items() if o.screen is not None and curve.screens == "on")
    state = replace(state, screened=screened)
    return replace(state, placements=(*state.placements, aimed(house, state, placement)))


def _top(setbacks_m: Floats, flows: Floats) -> float:
    """Where a parabola through the largest flow and its neighbours has its top [m]."""
    i = int(flows.argmax())
    if not 0 < i < len(flows) - 1:
        return float(setbacks_m[i])
    a, b, _ = np.polyfit(setbacks_m[i - 1 : i + 2], flows[i - 1 : i + 2], 2)
    if a >= 0.0:
        return float(setbacks_m[i])
    return float(np.clip(-b / (2.0 * a), setbacks_m[i - 1], setbacks_m[i + 1]))
