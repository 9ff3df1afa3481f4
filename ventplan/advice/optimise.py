"""Plans improved by full solutions: setbacks, and openings changed one by one, after screening has found them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from ventplan.advice.candidates import Stretch, aimed, stretches, usual_supports
from ventplan.advice.objective import cooler_by
from ventplan.advice.screening import Floats, Screened, Screening, SearchTask, Trial
from ventplan.advice.setback import best_setback
from ventplan.airing.safety import flame_is_flagged
from ventplan.errors import NoAnswerError
from ventplan.house.fan_pose import Support
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import Flow, solve

MIN_GAIN = 0.002
"""A change that brings less than this share is not made [-]."""
MAX_LOSS_FOR_SIMPLER = 0.004
"""Share that a plan may lose for openings that can stay as they are, and again for a fan that can stand lower [-]."""
MIN_ROUGH_SHARE = 0.9
"""Share of its rough value that a plan keeps after a change that is tried in full [-]."""
FEW_OPENINGS = 7
"""Up to so many openings that can move, each is tried in full, and so is each pair."""
TRIED_OPENINGS, TRIED_BACK = 4, 3
"""Of more openings, so many are tried in full: the most promising, and those that bring least."""
GRID_SETBACKS = 8
"""Setbacks that are tried before the best one is bracketed."""
NEARBY_M = 0.4
"""How far a setback is moved once openings were changed after it had been found [m]."""
TOLERANCE_M = 0.04
"""How close a best setback is found [m]; it is rounded afterwards."""
MAX_ROUNDS = 3
ROUNDED_M = {"si": 0.1, "us": 0.1524}
"""What setbacks are rounded to: 10 cm, or half a foot [m]."""
FLAME_FACTOR = 1e-3
"""Factor on the value of a plan under which a flame is flagged, so that any other plan ranks first [-]."""

Placements = tuple[Placement, ...]


@dataclass(frozen=True)
class Optimised:
    """A plan that is being optimised: the trial that each fan came from, the fans, free shares, and the value."""

    trials: tuple[Trial, ...]
    team: Placements
    shares: Mapping[str, float]
    value: float


def value_in_full(
    house: House, state: Scenario, task: SearchTask, near: Flow | None = None
) -> tuple[float, Flow | None]:
    """The objective's steering value of a state, solved in full, and the solution.

    Parameters
    ----------
    house, state
        The house and its state.
    task
        What is searched.
    near
        The solution of a similar state, to start from.

    Returns
    -------
    tuple
        The value, times `FLAME_FACTOR` where a flame is flagged, 0 for a state without an answer; and the solution.
    """
    try:
        flow = solve(house, state, near=near)
        value = task.objective.value(house, state, flow)
    except NoAnswerError:
        return 0.0, near
    return value * (FLAME_FACTOR if state.placements and flame_is_flagged(house, flow) else 1.0), flow


class Optimiser:
    """Solves plans in full under every weather of a task.

    Parameters
    ----------
    screening
        The states of the task in bulk.
    weights
        Weight of each weather [-], shape (bases,); those of the task if left out.
    """

    def __init__(self, screening: Screening, weights: Floats | None = None) -> None:
        self.screening, self.task = screening, screening.task
        self.house, self.objective = self.task.house, self.task.objective
        self.weights = self.task.weights if weights is None else weights
        self.states = 0
        self._near: dict[int, Flow | None] = {}
        self._known: dict[tuple[tuple[float, ...], Placements], tuple[float, ...]] = {}

    def scenario(self, shares: Mapping[str, float], team: Placements, weather: int = 0) -> Scenario:
        """The whole state of a plan under one weather."""
        base = self.task.bases[weather]
        return replace(base, name="plan", shares=shares, placements=(*team, *base.placements))

    def values(self, shares: Mapping[str, float], team: Placements) -> tuple[float, ...]:
        """The objective's steering value under every weather that counts, solved in full; 0 under the others."""
        key = tuple(shares.values()), team
        if key not in self._known:
            found = []
            for i, weight in enumerate(self.weights.tolist()):
                value = 0.0
                if weight > 0.0:
                    self.states += 1
                    state = self.scenario(shares, team, i)
                    value, self._near[i] = value_in_full(self.house, state, self.task, self._near.get(i))
                found.append(value)
            self._known[key] = tuple(found)
        return self._known[key]

    def value(self, shares: Mapping[str, float], team: Placements) -> float:
        """Weighted mean over all weather of the objective's steering value."""
        return float(self.weights @ self.values(shares, team))

    def started(self, state: Screened) -> Optimised:
        """A screened state, solved in full."""
        team = tuple(trial.placement for trial in state.team)
        return Optimised(state.team, team, state.shares, self.value(state.shares, team))

    def optimised(self, states: Sequence[Screened]) -> Optimised:
        """The best of some states of one kind, with its setbacks and openings improved.

        Parameters
        ----------
        states
            At least one.
        """
        return self.improved(max((self.started(state) for state in states), key=lambda one: one.value))

    def judged(self, plan: Optimised) -> Optimised:
        """The same plan with its value under the weather that counts here."""
        return replace(plan, value=self.value(plan.shares, plan.team))

    def improved(self, plan: Optimised) -> Optimised:
        """The plan with its setbacks and openings improved, in turn, as long as that helps."""
        for step in range(MAX_ROUNDS):
            before, moved = plan.value, self._with_setbacks(plan, nearby=step > 0)
            plan = self._with_openings(moved)
            same_openings = plan.shares == moved.shares
            if plan.value <= before * (1.0 + MIN_GAIN) or (same_openings and len(plan.team) < 2):
                break
        return plan

    def finished(self, plan: Optimised) -> Optimised:
        """The plan with openings left as they are where that costs next to nothing, and its setbacks rounded."""
        return self.rounded(self._on_the_lowest(self.simpler(plan, 1.0 - MAX_LOSS_FOR_SIMPLER)))

    def with_fans(self, plan: Optimised, trials: tuple[Trial, ...], team: Placements) -> Optimised:
        """The same openings with other fans."""
        shares = dict(plan.shares)
        for placement in team:
            shares[placement.opening] = self.screening.open_state.shares[placement.opening]
        return Optimised(trials, team, shares, self.value(shares, team))

    def _with_setbacks(self, plan: Optimised, *, nearby: bool = False) -> Optimised:
        """Find the best setback of each fan in turn, or the best one near where it stands."""
        for index, placement in enumerate(plan.team):
            if placement.sealed:
                continue

            def value(setback_m: float, index: int = index, plan: Optimised = plan) -> float:
                return self.value(plan.shares, self.moved(plan, index, setback_m))

            ranges, points, here = self.ranges(plan, index), GRID_SETBACKS, placement.setback_m
            if nearby and (mine := [one for one in ranges if one.low_m <= here <= one.high_m]):
                low, high = max(mine[0].low_m, here - NEARBY_M), min(mine[0].high_m, here + NEARBY_M)
                ranges, points = (replace(mine[0], low_m=low, high_m=high),), 3
            setback, found, _ = best_setback(value, ranges, points=points, close_m=TOLERANCE_M)
            if found > plan.value:
                plan = replace(plan, team=self.moved(plan, index, setback), value=found)
        return plan

    def ranges(self, plan: Optimised, index: int) -> tuple[Stretch, ...]:
        """Where a fan of a plan can stand with the openings of the plan."""
        placement = plan.team[index]
        state = self.scenario(plan.shares, plan.team)
        fan, opening = self.house.fans[placement.fan], self.house.openings[placement.opening]
        found = stretches(
            self.house, state, fan, opening, placement.stands_in, support_m=placement.support_m, keep_clear=True
        )
        mine = tuple(one for one in found if one.aside_m == placement.aside_m)
        return mine or plan.trials[index].candidate.ranges

    def moved(self, plan: Optimised, index: int, setback_m: float) -> Placements:
        """The fans of a plan with one of them at another setback."""
        moved = replace(plan.team[index], setback_m=setback_m, height_m=None)
        moved = aimed(self.house, self.scenario(plan.shares, (moved,)), moved)
        return (*plan.team[:index], moved, *plan.team[index + 1 :])

    def _movable(self, plan: Optimised) -> list[str]:
        blown = {placement.opening for placement in plan.team}
        return [name for i in self.screening.moving if (name := self.screening.names[i]) not in blown]

    def _with_openings(self, plan: Optimised) -> Optimised:
        """Change openings as long as that helps in the full solution; the most promising are tried first."""
        movable = self._movable(plan)
        for _ in range(2 * len(movable)):
            changes = self._promising(plan, movable)
            better = (self._with_shares(plan, {**plan.shares, **change}) for change in changes)
            found = next((one for one in better if one.value > plan.value * (1.0 + MIN_GAIN)), None)
            if found is None:
                break
            plan = found
        return plan

    def _promising(self, plan: Optimised, movable: Sequence[str]) -> list[dict[str, float]]:
        """Changes of one opening, or of two where there are few, in the order of their rough values."""
        changes = [{name: self._other(plan, name)} for name in movable]
        few = len(movable) <= FEW_OPENINGS
        if few:
            changes += [{a: self._other(plan, a), b: self._other(plan, b)} for a, b in combinations(movable, 2)]
        if not changes:
            return []
        states = [plan.shares, *({**plan.shares, **change} for change in changes)]
        rows = np.array([self.screening.row_of(shares, plan.trials) for shares in states])
        now, *then = self.screening.mean(rows, self.weights).tolist()
        order = sorted(range(len(changes)), key=lambda i: -then[i])
        if not few:
            order = [i for i in order if then[i] >= MIN_ROUGH_SHARE * now][:TRIED_OPENINGS]
        return [changes[i] for i in order]

    def _other(self, plan: Optimised, name: str) -> float:
        return 0.0 if plan.shares[name] > 0.0 else self.screening.open_state.shares[name]

    def _with_shares(self, plan: Optimised, shares: Mapping[str, float]) -> Optimised:
        return replace(plan, shares=shares, value=self.value(shares, plan.team))

    def simpler(self, plan: Optimised, keeps: float) -> Optimised:
        """The plan with as many openings left as they are as it can bear, those that bring least first.

        Parameters
        ----------
        plan
            The plan.
        keeps
            Share of its value that must be left [-].
        """
        best, base = plan, self.task.base.shares
        while changed := [n for n in self._movable(best) if (best.shares[n] > 0.0) != (base[n] > 0.0)]:
            states = [{**best.shares, name: base[name]} for name in changed]
            rows = np.array([self.screening.row_of(shares, best.trials) for shares in states])
            order = np.argsort(-self.screening.mean(rows, self.weights), kind="stable")[:TRIED_BACK]
            fewer = (self._with_shares(best, states[i]) for i in order.tolist())
            found = next((one for one in fewer if one.value >= keeps * plan.value), None)
            if found is None:
                break
            best = found
        return best

    def _on_the_lowest(self, plan: Optimised) -> Optimised:
        """Fans on the lowest thing that costs next to nothing, or on what is best."""
        for index, placement in enumerate(plan.team):
            if placement.sealed or placement.support_m is None:
                continue
            fan, opening = self.house.fans[placement.fan], self.house.openings[placement.opening]
            supports = usual_supports(self.house, fan, opening, placement.stands_in)
            teams = [team for on in supports if (team := self.on(plan, index, on)) is not None]
            values = [self.value(plan.shares, team) for team in teams]
            best = max([plan.value, *values])
            lowest = next((i for i, value in enumerate(values) if value >= best * (1.0 - MAX_LOSS_FOR_SIMPLER)), None)
            if lowest is not None and teams[lowest][index].stands_on != placement.stands_on:
                plan = self._with_setbacks(replace(plan, team=teams[lowest], value=values[lowest]))
        return plan

    def on(self, plan: Optimised, index: int, support: Support) -> Placements | None:
        """The fans of a plan with one of them on something else; None where it cannot stand there."""
        moved = replace(plan.team[index], stands_on=support.name, support_m=support.height_m)
        other = replace(plan, team=(*plan.team[:index], moved, *plan.team[index + 1 :]))
        if not any(one.low_m <= moved.setback_m <= one.high_m for one in self.ranges(other, index)):
            return None
        return self.moved(other, index, moved.setback_m)

    def on_the_floor(self, plan: Optimised, index: int) -> Placements | None:
        """The fans of a plan with one of them on the floor; None where it cannot stand there."""
        placement = plan.team[index]
        fan, opening = self.house.fans[placement.fan], self.house.openings[placement.opening]
        supports = usual_supports(self.house, fan, opening, placement.stands_in)
        floor = next((one for one in supports if one.name == "floor"), None)
        return None if floor is None else self.on(plan, index, floor)

    def rounded(self, plan: Optimised) -> Optimised:
        """Setbacks in whole steps of a tape measure, where the fan can stand."""
        step = ROUNDED_M[self.house.show]
        for index, placement in enumerate(plan.team):
            if placement.sealed:
                continue
            low = np.floor(placement.setback_m / step) * step
            ranges = self.ranges(plan, index)
            nearest, farther = ([round(float(low + i * step), 4) for i in steps] for steps in ((0, 1), (-1, 2)))
            able = [
                [s for s in steps if any(r.low_m - 1e-6 <= s <= r.high_m + 1e-6 for r in ranges)]
                for steps in (nearest, farther)
            ]
            tried = [self.moved(plan, index, setback_m) for setback_m in able[0] or able[1]]
            best = max(((self.value(plan.shares, team), team) for team in tried), default=None, key=lambda one: one[0])
            if best is not None:
                plan = replace(plan, value=best[0], team=best[1])
        return plan


class Verdicts:
    """The objective itself for plans: what they are ranked and reported by.

    Parameters
    ----------
    optimiser
        The full solutions of a search.
    """

    def __init__(self, optimiser: Optimiser) -> None:
        self.optimiser, self.objective = optimiser, optimiser.objective
        self._known: dict[tuple[tuple[float, ...], Placements], float] = {}

    def __call__(self, plan: Optimised) -> float:
        """The objective of a plan; see `Objective.verdict`."""
        self.prepare([plan])
        return self._known[tuple(plan.shares.values()), plan.team]

    def prepare(self, plans: Sequence[Optimised]) -> None:
        """Compute several plans at once, which takes less time where each needs a night; their openings alone too."""
        keys = {(tuple(plan.shares.values()), plan.team): plan for plan in plans}
        new = {key: plan for key, plan in keys.items() if key not in self._known}
        if self.objective.kind != "cool":
            self._known |= {key: self.optimiser.value(plan.shares, plan.team) for key, plan in new.items()}
            return
        states = [self.optimiser.scenario(plan.shares, plan.team) for plan in new.values()]
        cooler = cooler_by(self.optimiser.house, self.optimiser.task.base, states, self.objective)
        for (shares, team), (with_fans, alone) in zip(new, cooler, strict=True):
            self._known[shares, ()] = alone
            self._known[shares, team] = with_fans
