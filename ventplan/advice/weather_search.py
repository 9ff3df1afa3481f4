"""The plan that is best over many kinds of weather, beside the best for each.

Fans and a set of windows stay as they are while the weather turns. Hours are grouped into a few conditions
(`ventplan.advice.conditions`); placements are screened under each and the most promising settled in full
(`ventplan.advice.weather_search`); every plan that came out is solved in full under every condition.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ventplan.advice.candidates import candidates, everything_open
from ventplan.advice.objective import Objective
from ventplan.advice.optimise import Settled, Settler, Team, value_in_full
from ventplan.advice.plan import NEAR, OverAnswer, WeatherGroup, WeatherPlan, different
from ventplan.advice.screening import Measure, Screened, Screening, Trial, by_kind, teams_of
from ventplan.advice.search import fan_names, start_state, the_aim
from ventplan.advice.weather_clusters import Condition, reduced
from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.network import solve

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Progress = Callable[[int, int], None]

MOST_STATES = 240_000
"""States screened at once, over all conditions together."""
TRIALS_KEPT = 12
"""Placements that go on by their weighted mean, besides the best two of each condition."""
KINDS_IN_FULL = 2
"""Kinds of plan settled over all conditions, besides the best of each condition."""
STATES_IN_FULL = 3
"""States of each kind that are solved in full before the best is settled."""


class Steps:
    """Progress over screenings and settled plans; a settled plan counts for several screenings.

    Parameters
    ----------
    progress
        Called with steps done and to do.
    screenings, plans
        How many of each are to come.
    """

    def __init__(self, progress: Progress | None, *, screenings: int, plans: int) -> None:
        self.progress, self.done, self.total = progress, 0, screenings + 4 * plans

    def __call__(self, steps: int) -> None:
        self.done += steps
        if self.progress is not None:
            self.progress(min(self.done, self.total), self.total)


class OverSettler(Settler):
    """Settles plans by their weighted mean over several conditions.

    Parameters
    ----------
    single
        The settler of each condition.
    weights
        Share of the time of each [-].
    """

    def __init__(self, single: Sequence[Settler], weights: Floats) -> None:
        super().__init__(single[0].screening)
        self.single, self.weights = single, weights

    def value(self, shares: Mapping[str, float], team: Team) -> float:
        """Weighted mean of the aim's value."""
        return float(sum(w * one.value(shares, team) for w, one in zip(self.weights, self.single, strict=True)))

    def rough(self, trials: tuple[Trial, ...], states: Sequence[Mapping[str, float]], measure: Measure) -> Floats:
        """Weighted mean of the rough values."""
        found: Floats = self.weights @ np.array([one.rough(trials, states, measure) for one in self.single])
        return found


class Found:
    """What screening found: teams, sets of openings, and rough values of each team with each set.

    Parameters
    ----------
    teams
        Teams of placements.
    sets
        Choices of every opening, shape (sets, openings).
    values
        Under each condition, shape (conditions, teams, sets).
    exhaustive
        True where no team and no set was left out.
    """

    def __init__(self, teams: Sequence[tuple[Trial, ...]], sets: Ints, values: Floats, *, exhaustive: bool) -> None:
        self.teams, self.sets, self.values, self.exhaustive = teams, sets, values, exhaustive

    def by_kind(self, screening: Screening, values: Floats) -> list[list[Screened]]:
        """The best states of each kind of plan, best kind first.

        Parameters
        ----------
        screening
            What was screened.
        values
            Rough values to go by, shape (teams, sets).
        """
        return by_kind(screening.best_states(self.teams, self.sets, values, STATES_IN_FULL), STATES_IN_FULL)


def screened(screenings: Sequence[Screening], weights: Floats, fans_at_once: int, steps: Steps) -> Found | None:
    """Placements worth going on with, with their sets of openings.

    Parameters
    ----------
    screenings
        One for each condition, all of the same placements.
    weights
        Share of the time of each [-].
    fans_at_once
        How many fans run together.
    steps
        Told of every screening.

    Returns
    -------
    Found or None
        None where that many fans find no places at different openings.
    """
    first = screenings[0]
    few, count = first.few_sets(), 2 ** len(first.moving)
    teams: list[tuple[Trial, ...]] = [(trial,) for trials in first.trials for trial in trials]
    rough = _values(screenings, teams, few, steps)
    all_teams = True
    if fans_at_once > 1:
        alone = _best_setbacks(first, np.einsum("c,cts->ts", weights, rough).max(axis=1))
        most = max(1, MOST_STATES // (len(few) * len(screenings)))
        teams, all_teams = teams_of(alone, fans_at_once, most)
        if not teams:
            return None
        rough = _values(screenings, teams, few, steps)
    mean = np.einsum("c,cts->ts", weights, rough).max(axis=1)
    kept = set(np.argsort(-mean, kind="stable")[:TRIALS_KEPT].tolist())
    for one in rough:
        kept |= set(np.argsort(-one.max(axis=1), kind="stable")[:2].tolist())
    chosen = sorted(kept, key=lambda i: -mean[i])
    most = MOST_STATES // (count * len(screenings))
    if most < 3:
        steps(len(screenings))
        return Found([teams[i] for i in chosen], few, rough[:, chosen], exhaustive=False)
    if len(teams) <= most:
        chosen = list(range(len(teams)))
    chosen = chosen[:most]
    exhaustive = all_teams and fans_at_once == 1 and len(chosen) == len(mean)
    teams, sets = [teams[i] for i in chosen], first.window_sets()
    return Found(teams, sets, _values(screenings, teams, sets, steps), exhaustive=exhaustive)


def openings_alone(screenings: Sequence[Screening], steps: Steps) -> Found:
    """Every set of openings without a fan, or a few telling ones where there are too many.

    Parameters
    ----------
    screenings
        One for each condition.
    steps
        Told of every screening.
    """
    first = screenings[0]
    many = 2 ** len(first.moving) * len(screenings) > MOST_STATES
    sets = first.few_sets() if many else first.window_sets()
    return Found([()], sets, _values(screenings, [()], sets, steps), exhaustive=not many)


def settled(
    screening: Screening, single: Sequence[Settler], weights: Floats, found: Found, steps: Steps
) -> list[Settled]:
    """The best kinds of plan over all conditions and the best of each condition, settled in full.

    Parameters
    ----------
    screening
        One of the screenings.
    single
        The settler of each condition.
    weights
        Share of the time of each [-].
    found
        What was screened.
    steps
        Told of every plan.
    """
    over, pool = OverSettler(single, weights), []
    mean = np.einsum("c,cts->ts", weights, found.values)
    for states in found.by_kind(screening, mean)[:KINDS_IN_FULL]:
        pool.append(over.improve(over.settle(states)))
        steps(4)
    for one, rough in zip(single, found.values, strict=True):
        pool.append(one.improve(one.settle(found.by_kind(screening, rough)[0])))
        steps(4)
    return pool


def _best_setbacks(screening: Screening, mean: Floats) -> list[Trial]:
    """For each candidate the trial setback that does best alone over all conditions, best candidate first."""
    best, start = [], 0
    for trials in screening.trials:
        top = start + int(mean[start : start + len(trials)].argmax())
        best.append((float(mean[top]), trials[top - start]))
        start += len(trials)
    return [trial for _, trial in sorted(best, key=lambda pair: -pair[0])]


def _values(screenings: Sequence[Screening], teams: Sequence[tuple[Trial, ...]], sets: Ints, steps: Steps) -> Floats:
    """Rough values, shape (conditions, teams, sets). Every screening numbers its trials the same way."""
    found = []
    for screening in screenings:
        found.append(screening.values(teams, sets))
        if screening.stopped:
            raise KeyboardInterrupt
        steps(1)
    return np.array(found)


GROUPS = 8
"""Conditions that stand for all weather, unless asked otherwise."""


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
    fans_at_once: int = 1,
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
        The aim, exactly one, as `ventplan.advice.search` has it.
    fans
        Names of the fans to try; all of the house's if left out.
    fans_at_once
        How many fans run together, 1 to 3.
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
        Where the house has too few fans, or they find no place.
    """
    if not conditions or groups < 1:
        raise InputError("weather is needed: at least one condition, and at least one group")
    aim = the_aim(house, target=target, room=room, whole_house=whole_house, clear=clear)
    base = start_state(house, scenario, aim)
    names = fan_names(house, fans, fans_at_once)
    found = tuple(candidates(house, everything_open(house, base), names, fans_outdoors=fans_outdoors))
    if not found:
        raise NoAnswerError(
            f"none of the fans ({', '.join(names)}) finds a place in {house.name!r} with a clear line to an opening."
        )
    few, _ = reduced(house, base, conditions, groups)
    weights = np.array([condition.weight for condition in few])
    bases = [replace(base, outdoors=condition.outdoors) for condition in few]
    rounds = 3 if fans_at_once == 1 else 4
    steps = Steps(progress, screenings=rounds * len(few), plans=KINDS_IN_FULL + 1 + 2 * len(few))
    screenings = [Screening(house, one, aim, found) for one in bases]
    single = [Settler(screening) for screening in screenings]
    best = screened(screenings, weights, fans_at_once, steps)
    if best is None:
        raise NoAnswerError(f"no {fans_at_once} of the fans find places at different openings of {house.name!r}.")
    alone = settled(screenings[0], single, weights, openings_alone(screenings, steps), steps)
    pool = settled(screenings[0], single, weights, best, steps) + alone

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
        openings_alone=different([plan for plan in plans if not plan.placements], 1)[0],
        plans=different([plan for plan in plans if plan.placements], count),
        groups=told,
        conditions=len(conditions),
        hour_by_hour=hour_by_hour,
        states=sum(s.states for s in screenings) + sum(s.states for s in single) + (judged.size if hour_by_hour else 0),
        exhaustive=best.exhaustive,
    )


def _by_hour(
    house: House,
    base: Scenario,
    aim: Objective,
    pool: Sequence[Settled],
    conditions: Sequence[Condition],
    progress: Progress | None,
) -> Floats:
    """Value of every plan under every condition that was given, shape (plans, conditions)."""
    found = np.zeros((len(pool), len(conditions)))
    for hour, condition in enumerate(conditions):
        weathered = replace(base, outdoors=condition.outdoors)
        for i, plan in enumerate(pool):
            state = replace(weathered, shares=plan.shares, placements=plan.team)
            found[i, hour], _ = value_in_full(house, state, aim)
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
