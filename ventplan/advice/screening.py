"""All states of a search as one table of choices for each opening, solved in bulk."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from ventplan.advice.candidates import Candidate, everything_open, trial_placements
from ventplan.advice.objective import Objective
from ventplan.house.records import House, Placement, Scenario
from ventplan.network.assemble import opening_links, wall_cracks
from ventplan.network.bulk import BulkFlow, Choice, ChoiceTable, solve_choices
from ventplan.network.jets import captures_at, jets_of_fan
from ventplan.network.links import Crack
from ventplan.network.weather import densities, wind_pressures
from ventplan.physics.jet_capture import JetCapture

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]
Measure = Callable[[House, Floats, Floats], Floats]
"""From the flows of every opening both ways in many states, shape (states, openings) [m3/s], to a value of each."""

MOST_STATES = 300_000
"""More states than this are not tried one by one."""
FEW_STATES = 60_000
"""So many states are tried without leaving any placement out."""
HOPEFUL = 2.0 / 3.0
"""Share of the best on a few telling sets that a placement must reach to be tried with all sets [-].

Of a team each fan must reach its part of that. At least the best `FEWEST_TEAMS` are tried. In 26 searches of one fan in
the example houses, what is left out reached at most 0.78 of the best with all sets, and never the third best kind of
plan.
"""
FEWEST_TEAMS = 40
"""Placements, or teams of them, that are tried with every set of openings even where not all can be."""
WORKERS = 2
PART = 16_384
"""States between two looks at whether the search was stopped."""


@dataclass(frozen=True)
class Trial:
    """A placement with its setback, and its number among the choices of its opening."""

    candidate: Candidate
    placement: Placement
    choice: int


@dataclass(frozen=True)
class Screened:
    """One state that screening found, with its rough value."""

    team: tuple[Trial, ...]
    shares: Mapping[str, float]
    value: float

    @property
    def kinds(self) -> frozenset[tuple[str, str, bool]]:
        """What makes two plans different."""
        return frozenset(trial.candidate.kind for trial in self.team)


class Screening:
    """The bulk search.

    Parameters
    ----------
    house
        The house.
    base
        The state that was asked about; its inner doors and screens stay as they are here.
    aim
        What to get the most of.
    found
        Placements to try.
    """

    def __init__(self, house: House, base: Scenario, aim: Objective, found: Sequence[Candidate]) -> None:
        self.house, self.base, self.aim = house, base, aim
        self.open_state = everything_open(house, base)
        self.names = list(house.openings)
        self.column = {name: i for i, name in enumerate(self.names)}
        kept = {aim.name} if aim.kind == "opening" else set()
        self.moving = [
            self.column[name]
            for name, opening in house.openings.items()
            if opening.is_external and opening.can_move and name not in kept and opening.full_share > 0.0
        ]
        self.density = densities(house, base)
        self.wind_pa = wind_pressures(house, base)
        self.states = 0
        self.stopped = False
        self.left_out = 0
        self.options: list[list[Choice]] = [self._plain(name) for name in self.names]
        self.trials = [[self._trial(c, p) for p in trial_placements(house, self.open_state, c)] for c in found]
        walls = _merged(wall_cracks(house, base, self.density))
        self.table = ChoiceTable(tuple(house.rooms), self.options, walls)

    def _trial(self, candidate: Candidate, placement: Placement) -> Trial:
        return Trial(candidate, placement, self._add(placement))

    def _plain(self, name: str) -> list[Choice]:
        """Choice 0 shut, choice 1 open."""
        shut = replace(self.open_state, shares={**self.open_state.shares, name: 0.0})
        return [self._choice(shut, name, {}), self._choice(self.open_state, name, {})]

    def _choice(self, state: Scenario, name: str, captured: Mapping[tuple[str, str], JetCapture]) -> Choice:
        strips, cracks = opening_links(self.house, state, name, self.density, self.wind_pa, captured)
        return Choice(tuple(strips), tuple(cracks))

    def _add(self, placement: Placement) -> int:
        """Add the choice of an opening with this fan at it; gives its number."""
        state = replace(self.open_state, placements=(placement,))
        captured: Mapping[tuple[str, str], JetCapture] = {}
        if not placement.sealed:
            jets = jets_of_fan(self.house, state, placement, self.density[placement.stands_in])
            captured = captures_at(self.house, state, jets[:1], self.density)
        choices = self.options[self.column[placement.opening]]
        choices.append(self._choice(state, placement.opening, captured))
        return len(choices) - 1

    def _base_row(self) -> Ints:
        """Choices of the state that was asked about, fans off."""
        row = np.array([1 if self.base.shares[name] > 0.0 else 0 for name in self.names])
        if self.aim.kind == "opening":
            row[self.column[self.aim.name]] = 1
        return row

    def window_sets(self) -> Ints:
        """Every set of the moving openings, shape (2^moving, openings)."""
        sets = np.array(list(product((0, 1), repeat=len(self.moving))), dtype=np.int64)
        rows = np.tile(self._base_row(), (sets.shape[0], 1))
        rows[:, self.moving] = sets
        return rows

    def few_sets(self) -> Ints:
        """A few telling sets: all open, all shut, as it stands, and each opening alone or left out."""
        shut, full = self._base_row(), self._base_row()
        shut[self.moving], full[self.moving] = 0, 1
        rows = [self._base_row(), shut, full]
        for column in self.moving:
            alone, without = shut.copy(), full.copy()
            alone[column], without[column] = 1, 0
            rows += [alone, without]
        return np.unique(np.array(rows), axis=0)

    def rows_of(self, states: Sequence[Mapping[str, float]]) -> Ints:
        """States of the openings as rows of choices, without fans, shape (states, openings)."""
        return np.array([[1 if shares[name] > 0.0 else 0 for name in self.names] for shares in states], dtype=np.int64)

    def values(
        self,
        teams: Sequence[tuple[Trial, ...]],
        sets: Ints,
        progress: Progress | None = None,
        *,
        measure: Measure | None = None,
    ) -> Floats:
        """Rough value of the aim for each team with each set, shape (teams, sets); -inf where it was stopped.

        Of another measure than the aim's `Objective.values`, where one is given.
        """
        measure = measure or self.aim.values
        found = np.full((len(teams), len(sets)), -np.inf)
        at_once = max(1, PART // len(sets))
        try:
            for start in range(0, len(teams), at_once):
                part = teams[start : start + at_once]
                rows = np.repeat(sets[None], len(part), axis=0)
                for k, team in enumerate(part):
                    for trial in team:
                        rows[k, :, self.column[trial.placement.opening]] = trial.choice
                solved = solve_choices(self.table, rows.reshape(-1, len(self.names)), workers=WORKERS)
                for k, team in enumerate(part):
                    self._drop_circling(team, solved, slice(k * len(sets), (k + 1) * len(sets)))
                values = measure(self.house, solved.forward_m3_s, solved.backward_m3_s)
                found[start : start + len(part)] = values.reshape(len(part), len(sets))
                self.states += values.size
                if progress is not None:
                    progress(min(start + at_once, len(teams)) * len(sets), len(teams) * len(sets))
        except KeyboardInterrupt:
            self.stopped = True
        return found

    def _drop_circling(self, team: Sequence[Trial], solved: BulkFlow, rows: slice) -> None:
        """Leave of the air at openings to outdoors with a jet only the net flow: the rest is dragged out again."""
        for trial in team:
            if trial.placement.sealed or not self.house.openings[trial.placement.opening].is_external:
                continue
            column = self.column[trial.placement.opening]
            forward, backward = solved.forward_m3_s[rows, column], solved.backward_m3_s[rows, column]
            circling = np.minimum(forward, backward)
            solved.forward_m3_s[rows, column] = forward - circling
            solved.backward_m3_s[rows, column] = backward - circling

    def telling_trials(self, fans_at_once: int = 1) -> list[Trial]:
        """For each candidate the one or two trial setbacks that win somewhere among the few sets, best first.

        Where there are many states, those that reach less than `HOPEFUL` of the best there are left out.
        """
        sets = self.few_sets()
        entries = [trial for trials in self.trials for trial in trials]
        found = self.values([(trial,) for trial in entries], sets)
        kept: list[tuple[float, Trial]] = []
        start = 0
        for trials in self.trials:
            mine = found[start : start + len(trials)]
            start += len(trials)
            telling = mine.max(axis=0) >= 0.5 * mine.max()
            winners = np.unique(mine[:, telling].argmax(axis=0))
            kept += [(float(mine[w].max()), trials[w]) for w in winners[:2].tolist()]
        kept.sort(key=lambda pair: -pair[0])
        if len(kept) * 2 ** len(self.moving) <= FEW_STATES:
            return [trial for _, trial in kept]
        limit = HOPEFUL / fans_at_once * kept[0][0]
        hopeful = [trial for i, (value, trial) in enumerate(kept) if i < FEWEST_TEAMS or value >= limit]
        self.left_out = len(kept) - len(hopeful)
        return hopeful

    def openings_alone(self, keep: int) -> list[Screened]:
        """The best states without a fan, best first.

        Parameters
        ----------
        keep
            How many to keep.
        """
        few = 2 ** len(self.moving) > MOST_STATES // FEWEST_TEAMS
        sets = self.few_sets() if few else self.window_sets()
        found = self.values([()], sets)[0]
        best = np.argsort(-found, kind="stable")[:keep].tolist()
        return [Screened((), self.shares_of(sets[s], ()), float(found[s])) for s in best]

    def search(self, fans_at_once: int, keep: int, progress: Progress | None = None) -> tuple[list[Screened], bool]:
        """The best states, best first, and whether every team was tried with every set.

        Parameters
        ----------
        fans_at_once
            How many fans run together: 1, 2 or 3.
        keep
            How many states to keep of each team.
        progress
            Called with states done and to do.
        """
        trials = self.telling_trials(fans_at_once)
        teams, _ = teams_of(trials, fans_at_once)
        count = 2 ** len(self.moving)
        exhaustive = len(teams) * count <= MOST_STATES
        if not exhaustive:
            few = self.few_sets()
            most = max(FEWEST_TEAMS, MOST_STATES // len(few))
            teams, _ = teams_of(trials, fans_at_once, most)
            best = self.values(teams, few, progress).max(axis=1)
            order = np.argsort(-best, kind="stable")
            teams = [teams[i] for i in order[: max(FEWEST_TEAMS, MOST_STATES // count)].tolist()]
        sets = self.window_sets() if count <= MOST_STATES // FEWEST_TEAMS else self.few_sets()
        found = self.values(teams, sets, progress)
        return self.best_states(teams, sets, found, keep), exhaustive and not self.stopped

    def best_states(self, teams: Sequence[tuple[Trial, ...]], sets: Ints, values: Floats, keep: int) -> list[Screened]:
        """The best states of each team, best first.

        Parameters
        ----------
        teams
            Teams of placements.
        sets
            Choices of every opening, shape (sets, openings).
        values
            What to go by, shape (teams, sets); -inf where it is not known.
        keep
            How many states to keep of each team.
        """
        states = [
            Screened(team, self.shares_of(sets[s], team), float(values[t, s]))
            for t, team in enumerate(teams)
            for s in np.argsort(-values[t], kind="stable")[:keep].tolist()
            if np.isfinite(values[t, s])
        ]
        return sorted(states, key=lambda state: -state.value)

    def shares_of(self, row: Ints, team: Sequence[Trial]) -> dict[str, float]:
        """Free share of every opening in a row of choices with a team at its openings."""
        blown = {trial.placement.opening for trial in team}
        return {
            name: self.open_state.shares[name] if row[i] > 0 or name in blown else 0.0
            for i, name in enumerate(self.names)
        }


def by_kind(states: Sequence[Screened], keep: int) -> list[list[Screened]]:
    """States grouped by kind of plan.

    Parameters
    ----------
    states
        Best first.
    keep
        How many states to keep of each kind.

    Returns
    -------
    list of list of Screened
        The best kind first.
    """
    kinds: dict[frozenset[tuple[str, str, bool]], list[Screened]] = {}
    for state in states:
        kinds.setdefault(state.kinds, []).append(state)
    return [found[:keep] for found in kinds.values()]


def _merged(cracks: Sequence[Crack]) -> list[Crack]:
    """One crack for each room's walls, under their mean offset: close enough to rank by, and a third of the work."""
    merged = []
    for ends in dict.fromkeys((crack.a, crack.b) for crack in cracks):
        mine = [crack for crack in cracks if (crack.a, crack.b) == ends]
        leak = sum(crack.coefficient for crack in mine)
        wind, stack = (
            sum(getattr(crack, part) * crack.coefficient for crack in mine) / leak for part in ("wind_pa", "stack_pa")
        )
        merged.append(replace(mine[0], coefficient=leak, wind_pa=wind, stack_pa=stack))
    return merged


def teams_of(
    trials: Sequence[Trial], fans_at_once: int, most: int | None = None
) -> tuple[list[tuple[Trial, ...]], bool]:
    """Sets of trials with different fans at different openings.

    Parameters
    ----------
    trials
        Placements, the one that does best alone first.
    fans_at_once
        How many fans run together.
    most
        Where there would be more teams, those of the placements that do best alone are kept; all of them if left out.

    Returns
    -------
    tuple
        The teams, and whether these are all.
    """
    ranked = []
    for numbers in combinations(range(len(trials)), fans_at_once):
        team = tuple(trials[i] for i in numbers)
        fans = {trial.placement.fan for trial in team}
        openings = {trial.placement.opening for trial in team}
        if len(fans) == len(openings) == fans_at_once:
            ranked.append((sum(numbers), team))
    if most is None or len(ranked) <= most:
        return [team for _, team in ranked], True
    ranked.sort(key=lambda pair: pair[0])
    return [team for _, team in ranked[:most]], False
