"""The plan that is best over many kinds of weather, beside the best for each.

A fan and a set of windows stay as they are while the weather turns. Hours are grouped into a few conditions
(`ventplan.advice.conditions`); every placement is screened in bulk under each; the best by the weighted mean and the
best of each condition are settled in full, and every plan that came out is solved in full under every condition.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ventplan.advice.aims import Aim
from ventplan.advice.candidates import candidates, everything_open
from ventplan.advice.conditions import Condition, reduced
from ventplan.advice.place import fan_names, start_state, the_aim
from ventplan.advice.screening import Screened, Screening, Trial
from ventplan.advice.settle import Settled, Settler
from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import solve

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Progress = Callable[[int, int], None]

GROUPS = 8
"""Conditions that stand for all weather, unless asked otherwise."""
MOST_STATES = 240_000
"""States screened with every set of windows, over all conditions together."""
TRIALS_KEPT = 12
"""Placements that go on by their weighted mean, besides the best two of each condition."""
KINDS_IN_FULL = 2
"""Kinds of plan settled over all conditions, besides the best of each condition."""
STATES_IN_FULL = 3
"""States of each kind that are solved in full before the best is settled."""
NEAR = 0.9
"""A plan is near the best where it has this share of the best plan's value [-]."""


@dataclass(frozen=True)
class WeatherPlan:
    """One plan over all weather.

    Attributes
    ----------
    placements
        For each fan: opening, side, setback, height and aim.
    shares
        Free share of every opening [-].
    opens, shuts
        Openings to open and to shut, against the state that was asked about.
    value
        Weighted mean of the aim.
    near_best
        Share of the time in which it has at least nine tenths of the best plan for that weather [-].
    values
        The aim under each condition of the answer.
    """

    placements: tuple[Placement, ...]
    shares: Mapping[str, float]
    opens: tuple[str, ...]
    shuts: tuple[str, ...]
    value: float
    near_best: float
    values: tuple[float, ...]


@dataclass(frozen=True)
class WeatherGroup:
    """The best for one group of conditions.

    Attributes
    ----------
    condition
        The condition that stands for the group, and its share of the time.
    before
        The aim in the state that was asked about, without a fan.
    plan
        The best plan there.
    """

    condition: Condition
    before: float
    plan: WeatherPlan


@dataclass(frozen=True)
class OverAnswer:
    """The answer of a placement search over weather.

    Attributes
    ----------
    aim
        What was asked for.
    base
        The state that was asked about, without fans.
    plans
        The best plans over all weather that differ in opening, side or kind, best first.
    groups
        The conditions, the most frequent first, each with its best plan.
    conditions
        How many conditions were given.
    hour_by_hour
        True where means and times near the best come from every condition that was given, False where from groups.
    states
        How many states of the house were solved.
    exhaustive
        True where every placement was tried with every set of windows under every condition.
    """

    aim: Aim
    base: Scenario
    plans: tuple[WeatherPlan, ...]
    groups: tuple[WeatherGroup, ...]
    conditions: int
    hour_by_hour: bool
    states: int
    exhaustive: bool


class _OverSettler(Settler):
    """Settles plans by their weighted mean over several conditions."""

    def __init__(self, single: Sequence[Settler], weights: Floats) -> None:
        super().__init__(single[0].house, single[0].base, single[0].aim)
        self.single, self.weights = single, weights

    def value(self, shares: Mapping[str, float], team: tuple[Placement, ...]) -> float:
        return float(sum(w * one.value(shares, team) for w, one in zip(self.weights, self.single, strict=True)))


def place_over(
    house: House,
    conditions: Sequence[Condition],
    scenario: Scenario | str | None = None,
    *,
    target: str | None = None,
    room: str | None = None,
    whole_house: bool = False,
    clear: str | None = None,
    fans: Sequence[str] | None = None,
    fans_outdoors: bool = False,
    groups: int = GROUPS,
    hour_by_hour: bool = False,
    count: int = 3,
    progress: Progress | None = None,
) -> OverAnswer:
    """Suggest where to put which fan for all the weather there is.

    Parameters
    ----------
    house
        The house.
    conditions
        The weather (`hourly_conditions`, `read_wind_rose`).
    scenario
        The state to start from, or the name of one; its weather does not matter, its temperatures do.
    target, room, whole_house, clear
        The aim, exactly one, as `ventplan.advice.place` has it.
    fans
        Names of the fans to try; all of the house's if left out.
    fans_outdoors
        True to let fans stand outdoors too.
    groups
        How many conditions may stand for all.
    hour_by_hour
        True to solve every plan that came out under every condition that was given, not only under the groups.
    count
        How many plans that really differ to show.
    progress
        Called with steps done and to do.

    Returns
    -------
    OverAnswer
        The best plans, and the best for each group of conditions.

    Raises
    ------
    InputError
        For a name that the house does not have, no aim or several, or no weather.
    NoAnswerError
        Where the house has no fan, or none finds a place.
    """
    if not conditions or groups < 1:
        raise InputError("weather is needed: at least one condition, and at least one group")
    aim = the_aim(house, target=target, room=room, whole_house=whole_house, clear=clear)
    base = start_state(house, scenario, aim)
    names = fan_names(house, fans, 1)
    found = tuple(candidates(house, everything_open(house, base), names, fans_outdoors=fans_outdoors))
    if not found:
        raise NoAnswerError(
            f"none of the fans ({', '.join(names)}) finds a place in {house.name!r} with a clear line to an opening."
        )
    few, _ = reduced(house, base, conditions, groups)
    weights = np.array([condition.weight for condition in few])
    bases = [replace(base, outdoors=condition.outdoors) for condition in few]
    steps = _Steps(progress, screenings=2 * len(few), plans=KINDS_IN_FULL + len(few))
    screenings = [Screening(house, one, aim, found) for one in bases]
    teams, sets, values, exhaustive = _screened(screenings, weights, steps)
    single = [Settler(house, one, aim) for one in bases]
    pool = _settled(screenings[0], single, weights, teams, sets, values, steps)

    table = np.array([[one.value(plan.shares, plan.team) for one in single] for plan in pool])
    judged, judged_weights = table, weights
    if hour_by_hour:
        judged = _by_hour(house, base, aim, pool, conditions, progress)
        judged_weights = np.array([condition.weight for condition in conditions])
    near = (judged >= NEAR * judged.max(axis=0)) @ judged_weights
    means = judged @ judged_weights
    plans = [_told(house, base, plan, float(means[i]), float(near[i]), table[i]) for i, plan in enumerate(pool)]
    told = tuple(
        WeatherGroup(condition, aim.value(house, one, solve(house, one)), plans[int(table[:, i].argmax())])
        for i, (condition, one) in enumerate(zip(few, bases, strict=True))
    )
    return OverAnswer(
        aim=aim,
        base=base,
        plans=_different(plans, count),
        groups=told,
        conditions=len(conditions),
        hour_by_hour=hour_by_hour,
        states=sum(s.states for s in screenings) + sum(s.states for s in single) + (judged.size if hour_by_hour else 0),
        exhaustive=exhaustive,
    )


class _Steps:
    """Progress over screenings and settled plans; a settled plan counts for several screenings."""

    def __init__(self, progress: Progress | None, *, screenings: int, plans: int) -> None:
        self.progress, self.done, self.total = progress, 0, screenings + 4 * plans

    def __call__(self, steps: int) -> None:
        self.done += steps
        if self.progress is not None:
            self.progress(self.done, self.total)


def _screened(
    screenings: Sequence[Screening], weights: Floats, steps: _Steps
) -> tuple[list[tuple[Trial, ...]], Ints, Floats, bool]:
    """Placements worth going on with, sets of windows, and the rough value of each under each condition."""
    first = screenings[0]
    teams: list[tuple[Trial, ...]] = [(trial,) for trials in first.trials for trial in trials]
    few_sets = first.few_sets()
    rough = _values(screenings, teams, few_sets, steps)
    mean = np.einsum("c,cts->ts", weights, rough).max(axis=1)
    kept = set(np.argsort(-mean, kind="stable")[:TRIALS_KEPT].tolist())
    for one in rough:
        kept |= set(np.argsort(-one.max(axis=1), kind="stable")[:2].tolist())
    chosen = sorted(kept, key=lambda i: -mean[i])
    count = 2 ** len(first.moving)
    most = MOST_STATES // (count * len(screenings))
    if most < 3:
        steps(len(screenings))
        return [teams[i] for i in chosen], few_sets, rough[:, chosen], False
    if len(teams) <= most:
        chosen = list(range(len(teams)))
    chosen = chosen[: max(most, 1)]
    teams, sets = [teams[i] for i in chosen], first.window_sets()
    return teams, sets, _values(screenings, teams, sets, steps), len(chosen) == len(mean)


def _values(screenings: Sequence[Screening], teams: Sequence[tuple[Trial, ...]], sets: Ints, steps: _Steps) -> Floats:
    """Rough values, shape (conditions, teams, sets). Every screening numbers its trials the same way."""
    found = []
    for screening in screenings:
        found.append(screening.values(teams, sets))
        if screening.stopped:
            raise KeyboardInterrupt
        steps(1)
    return np.array(found)


def _settled(
    screening: Screening,
    single: Sequence[Settler],
    weights: Floats,
    teams: Sequence[tuple[Trial, ...]],
    sets: Ints,
    values: Floats,
    steps: _Steps,
) -> list[Settled]:
    """The best kinds of plan over all conditions and the best of each condition, settled in full."""
    over = _OverSettler(single, weights)
    mean = np.einsum("c,cts->ts", weights, values)
    pool = []
    for states in _by_kind(screening, teams, sets, mean)[:KINDS_IN_FULL]:
        pool.append(over.improve(over.settle(states)))
        steps(4)
    for one, rough in zip(single, values, strict=True):
        pool.append(one.improve(one.settle(_by_kind(screening, teams, sets, rough)[0])))
        steps(4)
    return pool


def _by_kind(
    screening: Screening, teams: Sequence[tuple[Trial, ...]], sets: Ints, values: Floats
) -> list[list[Screened]]:
    """The best states of each kind of plan, best kind first."""
    states = [
        Screened(team, screening.shares_of(sets[s], team), float(values[t, s]))
        for t, team in enumerate(teams)
        for s in np.argsort(-values[t], kind="stable")[:STATES_IN_FULL].tolist()
    ]
    kinds: dict[frozenset[tuple[str, str, bool]], list[Screened]] = {}
    for state in sorted(states, key=lambda state: -state.value):
        kinds.setdefault(state.kinds, []).append(state)
    return [found[:STATES_IN_FULL] for found in kinds.values()]


def _by_hour(
    house: House,
    base: Scenario,
    aim: Aim,
    pool: Sequence[Settled],
    conditions: Sequence[Condition],
    progress: Progress | None,
) -> Floats:
    """Value of every plan under every condition that was given, shape (plans, conditions)."""
    found = np.zeros((len(pool), len(conditions)))
    for hour, condition in enumerate(conditions):
        settler = Settler(house, replace(base, outdoors=condition.outdoors), aim)
        found[:, hour] = [settler.value(plan.shares, plan.team) for plan in pool]
        if progress is not None:
            progress(hour + 1, len(conditions))
    return found


def _told(house: House, base: Scenario, plan: Settled, value: float, near: float, values: Floats) -> WeatherPlan:
    changed = [name for name in house.openings if (plan.shares[name] > 0.0) != (base.shares[name] > 0.0)]
    return WeatherPlan(
        placements=plan.team,
        shares=dict(plan.shares),
        opens=tuple(name for name in changed if plan.shares[name] > 0.0),
        shuts=tuple(name for name in changed if plan.shares[name] <= 0.0),
        value=value,
        near_best=near,
        values=tuple(values.tolist()),
    )


def _different(plans: Sequence[WeatherPlan], count: int) -> tuple[WeatherPlan, ...]:
    """The best plans that differ in opening, side or kind, best first."""
    kinds: dict[tuple[tuple[str, str, bool], ...], WeatherPlan] = {}
    for plan in sorted(plans, key=lambda plan: -plan.value):
        kinds.setdefault(tuple((p.opening, p.stands_in, p.sealed) for p in plan.placements), plan)
    return tuple(kinds.values())[:count]
