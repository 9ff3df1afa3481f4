"""Scenarios side by side, plans by what they cost in power or noise, and how likely each plan is the best."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import product
from typing import Literal

import numpy as np

from ventplan.advice.intervals import Interval, budget_of, sampled
from ventplan.advice.objective import Objective, the_objective
from ventplan.advice.placement import place, power_of, sound_of
from ventplan.advice.plan import PlaceAnswer, Plan, TradeOff, TradeOffPoint
from ventplan.advice.search import fan_names, start_state
from ventplan.advice.uncertainty import (
    Cause,
    Floats,
    Progress,
    answered,
    causes_of,
    draws_of,
    evaluated,
    normal_draws,
)
from ventplan.airing.age import outdoor_air_change_rates_per_h
from ventplan.airing.hazards import find_hazards
from ventplan.airing.safety import Hazard
from ventplan.errors import InputError, unknown_name
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import Flow, solve

UNFAVOURABLE_SHARE = 0.10
"""Share of cases in which a plan does better than its value in an unfavourable case [-]."""


@dataclass(frozen=True)
class Compared:
    """One scenario of a comparison.

    Attributes
    ----------
    scenario
        Its name.
    flow
        Its solution.
    outdoor_air_change_per_h
        Outdoor air change rate by room [1/h].
    cautions
        What it causes.
    """

    scenario: str
    flow: Flow
    outdoor_air_change_per_h: Mapping[str, float]
    cautions: tuple[Hazard, ...]


ChangeKind = Literal["openings", "screens", "fans", "weather"]


@dataclass(frozen=True)
class Difference:
    """What one kind of change explains of the difference between the first scenario and another.

    Attributes
    ----------
    scenario
        The other scenario.
    change
        What is changed from the first: ``openings``, ``screens``, ``fans`` or ``weather`` (with temperatures).
    opened, shut
        Openings that open or lose their screen, and openings that shut or get one.
    flow_m3_s
        Change of the house's air from outdoors when this alone is changed [m3/s].
    """

    scenario: str
    change: ChangeKind
    opened: tuple[str, ...]
    shut: tuple[str, ...]
    flow_m3_s: float


@dataclass(frozen=True)
class Comparison:
    """Scenarios side by side; the first is what the others are compared with."""

    scenarios: tuple[Compared, ...]
    differences: tuple[Difference, ...]


def outdoor_air(flow: Flow) -> float:
    """Air that the whole house takes in from outdoors [m3/s]."""
    return sum(room.outdoor_m3_s for room in flow.rooms.values())


def compare(house: House, names: Sequence[str | Scenario]) -> Comparison:
    """Solve scenarios and put them side by side.

    Parameters
    ----------
    house
        The house.
    names
        Scenarios or their names, two or more for a comparison.

    Returns
    -------
    Comparison
        Their solutions, and what explains the differences from the first: each kind of change (openings, screens,
        fans, weather) made alone.

    Raises
    ------
    InputError
        For a name that the house does not have.
    """
    scenarios = [_find(house, name) for name in names]
    compared = []
    for scenario in scenarios:
        flow = solve(house, scenario)
        compared.append(_compared(house, scenario, flow))
    first = scenarios[0]
    before = outdoor_air(compared[0].flow)
    differences = [
        Difference(other.name, change, opened, shut, outdoor_air(solve(house, state)) - before)
        for other in scenarios[1:]
        for change, opened, shut, state in _steps(first, other)
    ]
    return Comparison(tuple(compared), tuple(differences))


def _compared(house: House, scenario: Scenario, flow: Flow) -> Compared:
    changes = outdoor_air_change_rates_per_h(house, scenario, flow)
    return Compared(scenario.name, flow, changes, find_hazards(house, scenario, flow))


def _find(house: House, name: str | Scenario) -> Scenario:
    if isinstance(name, Scenario):
        return name
    if name not in house.scenarios:
        raise unknown_name("scenario", name, house.scenarios)
    return house.scenarios[name]


def _steps(first: Scenario, other: Scenario) -> Iterator[tuple[ChangeKind, tuple[str, ...], tuple[str, ...], Scenario]]:
    """Each kind of change between two scenarios, with the first scenario changed in that alone."""
    if dict(first.shares) != dict(other.shares):
        opened = tuple(name for name, share in other.shares.items() if share > first.shares[name])
        shut = tuple(name for name, share in other.shares.items() if share < first.shares[name])
        yield "openings", opened, shut, replace(first, shares=other.shares)
    if first.screened != other.screened:
        used = {name for name, share in first.shares.items() if share > 0.0}
        off = tuple(sorted((first.screened - other.screened) & used))
        on = tuple(sorted((other.screened - first.screened) & used))
        if off or on:
            yield "screens", off, on, replace(first, screened=other.screened)
    if first.placements != other.placements:
        yield "fans", (), (), _with_fans(first, other)
    if first.outdoors != other.outdoors or dict(first.temperatures_c) != dict(other.temperatures_c):
        weather = replace(first, outdoors=other.outdoors, temperatures_c=other.temperatures_c)
        yield "weather", (), (), weather


def _with_fans(first: Scenario, other: Scenario) -> Scenario:
    """The first scenario with the other's fans, their own openings opened as there."""
    blown = {p.opening: other.shares[p.opening] for p in other.placements}
    return replace(first, placements=other.placements, shares={**first.shares, **blown})


Cost = Literal["power", "noise"]


def trade_off(
    house: House,
    scenario: Scenario | str | None = None,
    *,
    cost: Cost = "power",
    at_least: float | None = None,
    room: str | None = None,
    whole_house: bool = False,
    target: str | None = None,
    fans: Sequence[str] | None = None,
    fans_at_once: int = 1,
) -> TradeOff:
    """The best plan of each fan on each of its settings, and the cheapest that gives enough.

    Parameters
    ----------
    house
        The house.
    scenario
        The state to start from, or the name of one.
    cost
        What to spend least of: ``power`` [W] or ``noise`` [dB(A)].
    at_least
        The least that will do, in the unit of the objective: outdoor air changes an hour for a room or the house [1/h],
        net flow for an opening [m3/s].
    room, whole_house, target
        The objective, as for `place`.
    fans
        Names of the fans to try; all if left out.
    fans_at_once
        How many fans run together at most.

    Returns
    -------
    TradeOff
        All points from the least cost to the most; a point is ``best`` where no cheaper one gives as much.

    Raises
    ------
    InputError
        Where no fan has the figure that is to be spent least.
    """
    objective = the_objective(house, target=target, room=room, whole_house=whole_house)
    base = start_state(house, scenario, objective)
    names = fan_names(house, fans, fans_at_once)
    points = [_point(house, objective, base, (), ())]
    ask = partial(place, house, base, target=target, room=room, whole_house=whole_house, count=1)
    for plan in _plans(ask, names, fans_at_once):
        for team in _settings(house, plan.placements):
            points.append(_point(house, objective, replace(plan.scenario, placements=team), plan.opens, plan.shuts))
    points = list({(point.placements, point.opens, point.shuts): point for point in points}.values())
    known = [point for point in points if not point.placements or _spent(point, cost) is not None]
    if not any(point.placements for point in known):
        what = "power" if cost == "power" else "sound level"
        raise InputError(f"no fan of {house.name!r} has its {what} in the house file; measure it")
    known.sort(key=lambda point: (_spent(point, cost) or 0.0, -point.value))
    ranked, most = [], -1.0
    for point in known:
        ranked.append(replace(point, best=point.value > most))
        most = max(most, point.value)
    least = None if at_least is None else at_least / 3600.0 * (house.rooms[room].volume_m3 if room else 1.0)
    if target is not None:
        least = at_least
    chosen = None if least is None else next((point for point in ranked if point.value >= least), None)
    return TradeOff(objective, cost, least, tuple(ranked), chosen)


def _point(
    house: House, objective: Objective, state: Scenario, opens: tuple[str, ...], shuts: tuple[str, ...]
) -> TradeOffPoint:
    team, flow = state.placements, solve(house, state)
    return TradeOffPoint(
        placements=team,
        opens=opens,
        shuts=shuts,
        value=objective.value(house, state, flow),
        power_w=power_of(house, team) if team else 0.0,
        sound_db=sound_of(house, team) if team else None,
        best=False,
        cautions=find_hazards(house, state, flow),
    )


def _plans(ask: Callable[..., PlaceAnswer], names: Sequence[str], fans_at_once: int) -> Iterator[Plan]:
    """The best plan of each fan alone, its openings alone, and the best plan of each number of fans together."""
    for name in names:
        answer = ask(fans=[name])
        yield answer.openings_alone
        yield from () if answer.best_with_fan is None else (answer.best_with_fan,)
    for together in range(2, fans_at_once + 1):
        best = ask(fans=names, fans_at_once=together).best_with_fan
        yield from () if best is None else (best,)


def _settings(house: House, team: Sequence[Placement]) -> Iterator[tuple[Placement, ...]]:
    """The team on every combination of its fans' settings."""
    choices = [[setting.name for setting in house.fans[p.fan].settings] or [""] for p in team]
    for names in product(*choices):
        yield tuple(replace(p, setting=name) for p, name in zip(team, names, strict=True))


def _spent(point: TradeOffPoint, cost: Cost) -> float | None:
    return point.power_w if cost == "power" else point.sound_db


@dataclass(frozen=True)
class PlanSureness:
    """How one plan does in what is possible.

    Attributes
    ----------
    interval
        The objective's value (see ``Objective.verdict``).
    unfavourable
        What it exceeds in nine cases of ten, in the objective's unit.
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
    objective
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

    objective: Objective
    plans: tuple[PlanSureness, ...]
    safest: int
    least_regret: int
    decided_by: tuple[tuple[str, float], ...]
    rivals: tuple[int, ...]
    draws: int

    def probability_error(self, plan: int) -> float:
        """Standard error of a plan's share by the number of draws [-]; evenly spread draws do no worse."""
        share = self.plans[plan].best_share
        return float(np.sqrt(max(share * (1.0 - share), 0.25 / self.draws) / self.draws))


def how_sure(
    house: House,
    objective: Objective,
    plans: Sequence[Plan | Scenario],
    *,
    work: str | int = "low",
    progress: Progress | None = None,
) -> Sureness:
    """How sure it is that one plan is better than the others.

    Parameters
    ----------
    house
        The house.
    objective
        What the plans are judged by.
    plans
        Plans, or whole states of the house.
    work
        ``low``, ``normal``, ``high`` or a number of draws; each costs a solution for each plan.
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
    if objective.kind == "cool":
        objective = Objective("room", objective.name)
    states = [plan if isinstance(plan, Scenario) else plan.scenario for plan in plans]
    if not states:
        raise ValueError("at least one plan is needed")
    causes = causes_of(house, states)
    normal = normal_draws(len(causes), draws_of(str(work)))

    def evaluate(variant: House, varied: Scenario) -> Floats:
        return np.array([objective.verdict(variant, varied, solve(variant, varied))])

    values = evaluated(house, states, evaluate, causes, normal, progress)[:, :, 0]
    good = answered(values)
    as_filed = [float(evaluate(house, state)[0]) for state in states]
    return _judged(objective, as_filed, values[good], causes, normal[good])


def _judged(
    objective: Objective, as_filed: Sequence[float], values: Floats, causes: Sequence[Cause], normal: Floats
) -> Sureness:
    """Probabilities of being best and regrets from values of shape (draws, plans)."""
    poor = np.quantile(values, UNFAVOURABLE_SHARE, axis=0)
    best = values.argmax(axis=1)
    shares = np.bincount(best, minlength=values.shape[1]) / len(values)
    top = values.max(axis=1, keepdims=True)
    regret = 1.0 - values / np.where(np.abs(top) > 0.0, top, 1.0)
    plans = tuple(
        PlanSureness(
            interval=sampled(causes, value, normal, values[:, i]),
            unfavourable=float(poor[i]),
            best_share=float(shares[i]),
            expected_regret=float(regret[:, i].mean()),
            worst_regret=float(regret[:, i].max()),
        )
        for i, value in enumerate(as_filed)
    )
    rivals = tuple(int(i) for i in np.argsort(-shares, kind="stable")[:2])
    decided = budget_of(causes, normal, values[:, rivals[0]] - values[:, rivals[1]]) if len(rivals) == 2 else ()
    return Sureness(
        objective=objective,
        plans=plans,
        safest=int(poor.argmax()),
        least_regret=int(regret.max(axis=0).argmin()),
        decided_by=decided,
        rivals=rivals,
        draws=len(values),
    )
