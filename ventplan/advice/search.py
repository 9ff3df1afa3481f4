"""Where to put which fan: one search for every objective, one weather or many, and one to three fans.

Screening (`ventplan.advice.screening`) solves many sets of openings with many fan poses by a simplified model, inner
doors included. The most promising are solved in full and improved (`ventplan.advice.optimise`), and ranked by the
objective itself. Openings without a fan go through the same search, and so do plans with fewer fans than were asked
for, so that neither is ever better than what is recommended.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ventplan.advice.candidates import Kind, candidates, everything_open, fan_kind, kind_of, stays_shut
from ventplan.advice.objective import Objective
from ventplan.advice.optimise import Optimised, Optimiser, Verdicts
from ventplan.advice.screening import Floats, Progress, Screened, Screening, SearchTask
from ventplan.errors import InputError, NoAnswerError, unknown_name
from ventplan.house.records import House, Scenario

STATES_KEPT = 4
"""Screened states of each kind of plan that are kept."""
KINDS_STARTED = 40
"""Kinds of plan of which the best screened state is solved in full."""
KINDS_OPTIMISED = 16
"""Kinds of plan that are optimised: the best of those that were solved in full."""
PLANS_KEPT = 6
"""Plans that are finished (openings that bring little left as they are, setbacks rounded), unless asked otherwise."""
PLANS_GROWN = 3
"""Plans with one fan more that are made from the best plan with one fan less."""
MAX_LOSS_FOR_EASIER = 0.01
"""Plans this near to the best are as good, and the one that is least trouble comes first [-]."""
WORTH_A_FAN = 1.05
"""Times what the openings do alone that a fan has to bring (common practice, no source)."""
WORTH_A_FAN_K = 0.5
"""How much cooler a fan has to make a room to be worth its noise [K] (common practice, no source)."""
MAX_FANS = 3


@dataclass(frozen=True)
class Constraints:
    """What plans may not do.

    Attributes
    ----------
    keep_shut
        Openings that stay shut.
    keep_out
        Rooms that no fan stands in, whose doors stay shut.
    quiet_db
        Loudest sound of the fans together where people sleep [dB(A)]; no limit if None.
    """

    keep_shut: frozenset[str] = frozenset()
    keep_out: frozenset[str] = frozenset()
    quiet_db: float | None = None


@dataclass
class SearchResult:
    """What a search has found so far.

    Attributes
    ----------
    alone
        Openings without a fan, the best first.
    plans
        Plans with fans, optimised, in no order.
    others
        Plans of other kinds that were not finished, best first.
    by_weather
        Plans optimised for one weather each.
    complete
        True where every set of openings was screened with every fan pose, on its trial setbacks.
    stopped
        True where the search was stopped.
    """

    alone: list[Optimised] = field(default_factory=list)
    plans: list[Optimised] = field(default_factory=list)
    by_weather: list[Optimised] = field(default_factory=list)
    others: list[Optimised] = field(default_factory=list)
    complete: bool = True
    stopped: bool = False

    def best(self) -> list[Optimised]:
        """Plans with fans, best steering value first, each kind once."""
        return distinct(sorted(self.plans, key=lambda one: -one.value))


class Search:
    """One search.

    Parameters
    ----------
    task
        What is searched.
    progress
        Called with states done and a guess of all.
    """

    def __init__(self, task: SearchTask, progress: Progress | None = None) -> None:
        self.task = task
        self.screening = Screening(task, progress)
        self.optimiser = Optimiser(self.screening)
        each = np.eye(len(task.bases)) if len(task.bases) > 1 else ()
        self.single = [Optimiser(self.screening, weights) for weights in each]
        self.quick = Optimiser(self.screening, self.screening.few_weights) if self.single else self.optimiser
        self.found = SearchResult()

    @property
    def states(self) -> int:
        """How many states were solved, in bulk and in full."""
        return self.screening.states + sum(one.states for one in {self.optimiser, self.quick, *self.single})

    def run(self, fans_at_once: int, keep: int = PLANS_KEPT) -> SearchResult:
        """Search for openings alone, then for one fan and for each number of fans up to that asked for.

        Parameters
        ----------
        fans_at_once
            How many fans may run together.
        keep
            How many of the best plans to finish and keep.

        Returns
        -------
        SearchResult
            All there is; the best so far where Ctrl-C stopped it.

        Raises
        ------
        KeyboardInterrupt
            Where it was stopped before anything was found.
        """
        try:
            self._openings_alone()
            for fans in range(1, fans_at_once + 1):
                self._with_fans(fans)
            best, self.found.others = self.found.best()[:keep], self.found.best()[keep:]
            if self.single:  # The first plan's openings under all weather, not only the most frequent.
                best[:1] = [self.optimiser.improved(plan) for plan in best[:1]]
            self.found.plans = [self.optimiser.finished(plan) for plan in best]
            self._openings_of_plans_alone()
        except KeyboardInterrupt:
            if not self.found.plans:
                raise
            self.found.stopped, self.found.complete = True, False
            self.found.plans = [self.optimiser.rounded(plan) for plan in self.found.best()[:keep]]
        return self.found

    def _openings_alone(self) -> None:
        states, by_weather, complete = self.screening.best_states(0, STATES_KEPT)
        self.found.complete &= complete
        self._add_alone(self.optimiser.optimised(states))
        for one, state in zip(self.single, by_weather, strict=False):
            self.found.by_weather.append(one.finished(one.optimised([state])))

    def _add_alone(self, plan: Optimised) -> None:
        self.found.alone.append(self.optimiser.finished(plan))
        self.found.alone.sort(key=lambda one: -one.value)

    def _with_fans(self, fans: int) -> None:
        before = [one for one in self.found.best() if len(one.team) == fans - 1]
        states, by_weather, complete = self.screening.best_states(fans, STATES_KEPT)
        self.found.complete &= complete
        for plan in self._optimised(states):
            self.found.plans.append(plan)
        for grown in self._grown(before):
            self.found.plans.append(grown)
        for one, state in zip(self.single, by_weather, strict=False):
            self.found.by_weather.append(one.finished(one.optimised([state])))

    def _optimised(self, states: Sequence[Screened]) -> Iterable[Optimised]:
        """The best kinds of plan by full solutions of their best screened states, each optimised."""
        kinds: dict[frozenset[Kind], list[Screened]] = {}
        for state in states:
            kinds.setdefault(state.kinds, []).append(state)
        started: list[tuple[float, list[Screened]]] = []
        for mine in list(kinds.values())[:KINDS_STARTED]:
            started.append((self.quick.started(mine[0]).value, mine))
        started.sort(key=lambda pair: -pair[0])
        for _, mine in started[:KINDS_OPTIMISED]:
            yield self.optimiser.judged(self.quick.optimised(mine))

    def _grown(self, before: Sequence[Optimised]) -> Iterable[Optimised]:
        """The best plan with one fan less, with one more fan where that is most promising."""
        if not before:
            return
        plan, screening = before[0], self.screening
        fans = {placement.fan for placement in plan.team}
        blown = {placement.opening for placement in plan.team}
        more = [t for t in screening.trials if t.placement.fan not in fans and t.placement.opening not in blown]
        if not more:
            return
        teams = [(*plan.trials, trial) for trial in more]
        values = screening.mean(np.array([screening.row_of(plan.shares, team) for team in teams]), self.quick.weights)
        seen: set[Kind] = set()
        for i in np.argsort(-values, kind="stable").tolist():
            kind = fan_kind(more[i].placement)
            if kind not in seen and len(seen) < PLANS_GROWN:
                seen.add(kind)
                team = (*plan.team, more[i].placement)
                grown = self.quick.with_fans(plan, teams[i], team)
                yield self.optimiser.judged(self.quick.improved(grown))

    def _openings_of_plans_alone(self) -> None:
        """Openings of the best plans without their fans, where these do more than those found without."""
        for plan in self.found.best()[:KINDS_OPTIMISED]:
            bare = Optimised((), (), plan.shares, self.optimiser.value(plan.shares, ()))
            if bare.value > self.found.alone[0].value:
                self._add_alone(self.optimiser.improved(bare))


def distinct(plans: Sequence[Optimised]) -> list[Optimised]:
    """Plans of different fans, openings, sides or kinds, the first of each kept."""
    kinds: dict[frozenset[Kind], Optimised] = {}
    for plan in plans:
        kinds.setdefault(kind_of(plan.team), plan)
    return list(kinds.values())


def easiest_first(
    plans: Sequence[Optimised], verdict: Callable[[Optimised], float], burden: Callable[[Optimised], tuple[float, ...]]
) -> list[Optimised]:
    """Plans best first, but of those that are as good as the best one the least trouble first.

    Parameters
    ----------
    plans
        Plans, the best first.
    verdict
        The objective itself.
    burden
        Trouble of a plan, to compare.
    """
    if not plans:
        return []
    alike = [plan for plan in plans if verdict(plan) >= (1.0 - MAX_LOSS_FOR_EASIER) * verdict(plans[0])]
    return [*sorted(alike, key=burden), *(plan for plan in plans if plan not in alike)]


def is_worth_a_fan(objective: Objective, with_fan: float, alone: float) -> bool:
    """True where a fan brings enough more than the openings alone to be worth its noise.

    Parameters
    ----------
    objective
        What the two values are of.
    with_fan, alone
        The objective with the fan and without (see `Objective.verdict`).
    """
    if objective.kind == "cool":
        return with_fan >= alone + WORTH_A_FAN_K
    return with_fan > WORTH_A_FAN * alone


def ranked(search: Search, count: int, verdict: Verdicts) -> tuple[list[Optimised], Optimised]:
    """Plans with fans that differ, best first by the objective itself, and the best openings alone.

    Parameters
    ----------
    search
        A search that has run.
    count
        How many plans to keep.
    verdict
        The objective itself.

    Returns
    -------
    tuple
        Plans, and openings alone: never worse than the openings of a plan without its fans.
    """
    found = search.found
    if search.task.objective.kind != "cool" or found.stopped:
        return found.best()[:count], found.alone[0]
    plans = found.best()
    verdict.prepare([*found.alone, *plans])
    plans.sort(key=verdict, reverse=True)
    alone = max([*found.alone, *(replace(one, trials=(), team=()) for one in plans)], key=verdict)
    # The best fans with the openings that are best without them.
    more = [search.optimiser.with_fans(alone, one.trials, one.team) for one in plans[:count]]
    verdict.prepare(more)
    return distinct(sorted([*more, *plans], key=verdict, reverse=True))[:count], alone


def search_task(
    house: House,
    bases: Sequence[Scenario],
    weights: Floats,
    objective: Objective,
    names: Sequence[str],
    *,
    fans_outdoors: bool,
    fans_at_once: int = 1,
    constraints: Constraints | None = None,
) -> SearchTask:
    """What is searched, with every place where a fan can stand.

    Parameters
    ----------
    house
        The house.
    bases
        The state that was asked about under each weather.
    weights
        Share of the time of each [-].
    objective
        What to get the most of.
    names
        Fans to try.
    fans_outdoors
        True to let fans stand outdoors too.
    fans_at_once
        How many fans may run together.
    constraints
        What plans may not do.

    Raises
    ------
    InputError
        For a name in the constraints that the house does not have.
    NoAnswerError
        Where no fan finds a place.
    """
    rules = constraints or Constraints()
    for name in rules.keep_shut:
        if name not in house.openings:
            raise unknown_name("opening", name, house.openings)
    for name in rules.keep_out:
        if name not in house.rooms:
            raise unknown_name("room", name, house.rooms)
    shut = rules.keep_shut | {n for n, o in house.openings.items() if o.can_move and set(o.joins) & rules.keep_out}
    if objective.kind == "opening" and objective.name in shut:
        raise InputError(f"{objective.name} is to be kept shut, so no air can go through it; leave one of the two out")
    bases = [replace(one, shares={n: 0.0 if n in shut else s for n, s in one.shares.items()}) for one in bases]
    fixed = shut | {name for name in house.openings if stays_as_it_is(house, bases[0], name)}
    open_state = everything_open(house, bases[0], fixed)
    # Fans together are louder than each: 3 dB for two that are alike.
    quiet_db = None if rules.quiet_db is None else rules.quiet_db - 10.0 * math.log10(fans_at_once)
    tried = [
        one
        for one in candidates(house, open_state, names, fans_outdoors=fans_outdoors, quiet_db=quiet_db)
        if one.placement.stands_in not in rules.keep_out
    ]
    if not tried:
        raise NoAnswerError(
            f"none of the fans ({', '.join(names)}) finds a place in {house.name!r} with a clear line to an opening"
            + ("" if rules.quiet_db is None else f", quiet enough for {rules.quiet_db:g} dB(A) where people sleep")
            + "."
        )
    if objective.kind == "opening":
        fixed = fixed | {objective.name}
    return SearchTask(house, tuple(bases), weights, objective, tuple(tried), frozenset(fixed))


def stays_as_it_is(house: House, base: Scenario, name: str) -> bool:
    """True for an opening that no plan changes.

    One that the house file keeps open or shut, one with a fixed fan in it, a shut door to a garage, or a shut door to
    the stairs of the building, which is a fire door.
    """
    opening = house.openings[name]
    fixed_fan = any(p.opening == name for p in base.placements)
    behind = opening.leads_to in ("stairs", "garage") and base.shares[name] <= 0.0
    return bool(opening.keep) or fixed_fan or behind or stays_shut(house, base, name)


def start_state(house: House, scenario: Scenario | str | None, objective: Objective) -> Scenario:
    """The state to start from, without fans but those that are fixed, the opening of the objective open."""
    base = house.scenarios[scenario] if isinstance(scenario, str) else scenario or house.first_scenario()
    base = replace(base, placements=tuple(p for p in base.placements if house.fans[p.fan].stays_at))
    if objective.kind == "opening" and base.shares[objective.name] <= 0.0:
        opened = house.openings[objective.name].full_share
        base = replace(base, shares={**base.shares, objective.name: opened})
    return base


def fan_names(house: House, fans: Sequence[str] | None, fans_at_once: int) -> tuple[str, ...]:
    """Names of the fans to try.

    Raises
    ------
    InputError
        For a fan that the house does not have, or a number of fans that is not from 1 to 3.
    NoAnswerError
        Where there are too few.
    """
    if not 1 <= fans_at_once <= MAX_FANS:
        raise InputError(f"{fans_at_once} fans at once: it can be from 1 to {MAX_FANS}")
    names = tuple(fans) if fans is not None else tuple(n for n, fan in house.fans.items() if not fan.stays_at)
    for name in names:
        if name not in house.fans:
            raise unknown_name("fan", name, house.fans)
        if stays := house.fans[name].stays_at:
            raise InputError(f"{name} is fixed in {stays}, so there is nowhere else to put it; try another fan")
    if len(names) < fans_at_once:
        raise NoAnswerError(
            f"{house.name!r} has {len(names) or 'no'} fan{'s' if len(names) != 1 else ''} to place, and the question "
            f"is for {fans_at_once}; add what you have under `fans:` in the house file."
        )
    return names
