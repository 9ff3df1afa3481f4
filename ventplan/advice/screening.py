"""Many states of a house at once, by a simplified model: what a search looks at before it solves anything in full.

A state is a row of whole numbers, one for each opening: shut, open, or open with a certain fan at it. Rows are solved
in bulk under every weather. Jets that go on to a next opening are left out, and the leaks of a room are lumped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from ventplan.advice.candidates import Candidate, Kind, everything_open, fan_kind, kind_of, trial_placements
from ventplan.advice.objective import Objective
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import compiled
from ventplan.network.assemble import couplings_in_line
from ventplan.network.choices import Choice, ChoiceCoupling, ChoiceTable
from ventplan.network.jets import captures_at, jets_of_fan
from ventplan.network.links import Crack
from ventplan.network.openings import opening_links, wall_cracks
from ventplan.network.solver import WORTH_COMPILING, solve_choices
from ventplan.network.weather import densities, wind_pressures
from ventplan.physics.jet_capture import JetCapture

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]

MAX_STATES = 40_000
"""States, over all weather together, up to which every set of openings is screened with every fan pose."""
MAX_TEAMS = 2_000
"""Teams of fans that are screened; those whose fans do best alone come first."""
TEAM_SETS = 12
"""Of the sets to begin from, about so many are tried with teams of several fans."""
FEW_WEATHERS = 3
"""Weather conditions, the most frequent ones, under which openings and setbacks are improved before all count."""
CLIMBED_KINDS = 40
"""Kinds of plan whose openings are improved one by one where not every set is screened."""
CLIMBED_STATES = 2
"""States of each kind that are improved."""
WORKERS = 2
STATES_PER_PART = 8_192
"""States between two looks at whether the search was stopped."""
MIN_GAIN_FACTOR = 1.001
"""Times the value that a change must bring to be made while screening [-]."""


@dataclass(frozen=True)
class SearchTask:
    """What is searched.

    Attributes
    ----------
    house
        The house.
    bases
        The state that was asked about under each weather, without fans that may move.
    weights
        Share of the time of each weather [-], shape (bases,).
    objective
        What to get the most of.
    candidates
        Fans at openings that may be tried.
    fixed
        Openings that stay as they are.
    """

    house: House
    bases: tuple[Scenario, ...]
    weights: Floats
    objective: Objective
    candidates: tuple[Candidate, ...]
    fixed: frozenset[str] = frozenset()

    @property
    def base(self) -> Scenario:
        """The state that was asked about, under the first weather."""
        return self.bases[0]


@dataclass(frozen=True)
class Trial:
    """A placement with its setback, and its number among the choices of its opening."""

    candidate: Candidate
    placement: Placement
    choice: int


Team = tuple[Trial, ...]


@dataclass(frozen=True)
class Screened:
    """One state that screening found, with its rough value."""

    team: Team
    shares: Mapping[str, float]
    value: float

    @property
    def kinds(self) -> frozenset[Kind]:
        """What makes two plans different."""
        return kind_of(trial.placement for trial in self.team)


class Screening:
    """The states of one task, ready to be solved in bulk.

    Parameters
    ----------
    task
        What is searched.
    progress
        Called with states done and a guess of all; what it raises stops the search.
    """

    def __init__(self, task: SearchTask, progress: Progress | None = None) -> None:
        self.task, self.house, self.objective = task, task.house, task.objective
        self.progress = progress
        self.open_state = everything_open(task.house, task.base, task.fixed)
        self.names = list(task.house.openings)
        self.column = {name: i for i, name in enumerate(self.names)}
        self.moving = [
            self.column[name]
            for name, opening in task.house.openings.items()
            if opening.can_move and name not in task.fixed and self.open_state.shares[name] > 0.0
        ]
        self.states = 0
        heaviest = np.argsort(-task.weights, kind="stable")[:FEW_WEATHERS]
        self.few_weights = np.where(np.isin(np.arange(len(task.weights)), heaviest), task.weights, 0.0)
        self.few_weights /= self.few_weights.sum()
        self.external = np.array([opening.is_external for opening in task.house.openings.values()])
        placed = [(c, trial_placements(task.house, self.open_state, c)) for c in task.candidates]
        self.tables: list[ChoiceTable] = []
        for base in task.bases:
            self.tables.append(self._table(replace(self.open_state, outdoors=base.outdoors), placed))
        numbers = dict.fromkeys(self.names, 1)
        self.trials: list[Trial] = []
        for candidate, placements in placed:
            for placement in placements:
                numbers[placement.opening] += 1
                self.trials.append(Trial(candidate, placement, numbers[placement.opening]))
        # Each call solves few states, but all together are many: compiling pays by their sum.
        states = len(self.trials) * len(self.first_sets()) * len(self.tables)
        if 2 * states * self.tables[0].first.size >= WORTH_COMPILING:
            compiled.load()
        self.is_jet = np.zeros((len(self.names), 2 + max(numbers.values())), dtype=bool)
        for trial in self.trials:
            self.is_jet[self.column[trial.placement.opening], trial.choice] = not trial.placement.sealed

    def _table(self, state: Scenario, placed: Sequence[tuple[Candidate, Sequence[Placement]]]) -> ChoiceTable:
        """Choices of every opening under one weather: shut, open, and open with each placement at it."""
        house = self.house
        density, wind_pa = densities(house, state), wind_pressures(house, state)

        def choice(one: Scenario, name: str, captured: Mapping[tuple[str, str], JetCapture]) -> Choice:
            strips, cracks = opening_links(house, one, name, density, wind_pa, captured)
            return Choice(tuple(strips), tuple(cracks))

        options: dict[str, list[Choice]] = {}
        for name in self.names:
            shut = replace(state, shares={**state.shares, name: 0.0})
            kept = tuple(p for p in self.task.base.placements if p.opening == name)
            options[name] = [choice(shut, name, {}), choice(replace(state, placements=kept), name, {})]
        for _, placements in placed:
            for placement in placements:
                with_fan = replace(state, placements=(placement,))
                captured: Mapping[tuple[str, str], JetCapture] = {}
                if not placement.sealed:
                    jets = jets_of_fan(house, with_fan, placement, density[placement.stands_in])
                    captured = captures_at(house, with_fan, jets[:1], density)
                options[placement.opening].append(choice(with_fan, placement.opening, captured))
        couplings = _plain_couplings(house, replace(state, placements=self.task.base.placements), options)
        walls = _lumped(wall_cracks(house, state, density))
        return ChoiceTable(tuple(house.rooms), list(options.values()), walls, couplings)

    def values(self, rows: Ints, weights: Floats | None = None) -> Floats:
        """Rough value of the objective in each state under each weather, shape (bases, rows).

        Parameters
        ----------
        rows
            Choices of every opening, shape (rows, openings).
        weights
            Weather of weight 0 is left out, and has the value 0; none is if left out.
        """
        counted = self.task.weights if weights is None else weights
        found = np.zeros((len(self.tables), len(rows)))
        for start in range(0, len(rows), STATES_PER_PART):
            part = rows[start : start + STATES_PER_PART]
            for i in np.flatnonzero(counted > 0.0).tolist():
                solved = solve_choices(self.tables[i], part, workers=WORKERS)
                # At an opening to outdoors with a jet only the net flow counts: the rest is dragged out again.
                jets = self.is_jet[np.arange(len(self.names))[None, :], part] & self.external[None, :]
                circling = np.where(jets, np.minimum(solved.forward_m3_s, solved.backward_m3_s), 0.0)
                found[i, start : start + len(part)] = self.objective.values(
                    self.house, solved.forward_m3_s - circling, solved.backward_m3_s - circling
                )
                self.states += len(part)
                if self.progress is not None:
                    self.progress(self.states, max(MAX_STATES, 2 * self.states))
        return found

    def mean(self, rows: Ints, weights: Floats) -> Floats:
        """Rough value over the weather with these weights, shape (rows,)."""
        found: Floats = weights @ self.values(rows, weights)
        return found

    def base_row(self) -> Ints:
        """Choices of the state that was asked about, fans off."""
        return self.row_of(self.task.base.shares)

    def row_of(self, shares: Mapping[str, float], team: Team = ()) -> Ints:
        """Free shares and a team as a row of choices."""
        row = np.array([1 if shares[name] > 0.0 else 0 for name in self.names], dtype=np.int64)
        found: Ints = self.with_team(row[None], team)[0]
        return found

    def with_team(self, rows: Ints, team: Team) -> Ints:
        """Rows with a team's fans at their openings."""
        rows = rows.copy()
        for trial in team:
            rows[:, self.column[trial.placement.opening]] = trial.choice
        return rows

    def every_set(self) -> Ints:
        """Every set of the openings that can move, shape (2^moving, openings)."""
        sets = np.array(list(product((0, 1), repeat=len(self.moving))), dtype=np.int64)
        rows = np.tile(self.base_row(), (len(sets), 1))
        rows[:, self.moving] = sets
        return rows

    def first_sets(self) -> Ints:
        """Sets to begin from: as asked, all shut, all open, and each opening alone or left out, inner doors open."""
        base = self.base_row()
        inner = [column for column in self.moving if not self.external[column]]
        outer = [column for column in self.moving if self.external[column]]
        full, doors, shut = base.copy(), base.copy(), base.copy()
        full[self.moving], doors[inner], shut[self.moving] = 1, 1, 0
        apart = full.copy()
        apart[inner] = 0
        rows = [base, full, doors, shut, apart]
        for column in outer:
            alone, without = full.copy(), full.copy()
            alone[outer], without[column] = 0, 0
            alone[column] = 1
            rows += [alone, without]
        for column in inner:
            without = full.copy()
            without[column] = 0
            rows.append(without)
        return np.unique(np.array(rows), axis=0)

    def best_states(self, fans_at_once: int, keep: int) -> tuple[list[Screened], list[Screened], bool]:
        """The most promising states with so many fans.

        Parameters
        ----------
        fans_at_once
            How many fans run together, from 0.
        keep
            States to keep of each kind of plan.

        Returns
        -------
        tuple
            States with their mean value, best first; the best state under each weather; and whether every set of
            openings was screened with every fan pose (on its trial setbacks).
        """
        teams: list[Team] = [()] if fans_at_once == 0 else [(trial,) for trial in self.trials]
        sets = 2 ** len(self.moving)
        if fans_at_once < 2 and len(teams) * sets * len(self.tables) <= MAX_STATES:
            rows = self.every_set()
            pairs = (np.repeat(np.arange(len(teams)), sets), self._rows(teams, rows))
            return *self._sorted(teams, *pairs, self.values(pairs[1]), keep), True
        if fans_at_once > 0:
            teams = self._teams(fans_at_once)
        if not teams:
            return [], [], True
        few = self.first_sets() if fans_at_once < 2 else self._few_sets()
        teams = teams[: max(CLIMBED_KINDS, MAX_STATES // (len(few) * len(self.tables)))]
        owner, rows = np.repeat(np.arange(len(teams)), len(few)), self._rows(teams, few)
        values = self.values(rows)
        begin = self._promising(teams, owner, self.task.weights @ values)
        climbed = self._climbed(rows[begin])
        owner, rows = np.concatenate([owner, owner[begin]]), np.vstack([rows, climbed])
        values = np.hstack([values, self.values(climbed)])
        return *self._sorted(teams, owner, rows, values, keep), False

    def _rows(self, teams: Sequence[Team], sets: Ints) -> Ints:
        return np.vstack([self.with_team(sets, team) for team in teams])

    def _few_sets(self) -> Ints:
        """About `TEAM_SETS` of the sets to begin from."""
        every = self.first_sets()
        few: Ints = every[:: max(1, len(every) // TEAM_SETS)]
        return few

    @cached_property
    def _best_alone(self) -> list[Trial]:
        """Each fan at each opening and side on the setback that does best alone with a few sets, the best first."""
        few = self._few_sets()
        alone = self.mean(self._rows([(trial,) for trial in self.trials], few), self.few_weights).reshape(
            len(self.trials), len(few)
        )
        best: dict[Kind, tuple[float, Trial]] = {}
        for trial, value in zip(self.trials, alone.max(axis=1).tolist(), strict=True):
            kind = fan_kind(trial.placement)
            if kind not in best or value > best[kind][0]:
                best[kind] = value, trial
        return [trial for _, trial in sorted(best.values(), key=lambda pair: -pair[0])]

    def _teams(self, fans_at_once: int) -> list[Team]:
        """Teams of different fans at different openings, those whose fans do best alone first."""
        found = sorted(_combined(self._best_alone, fans_at_once), key=lambda pair: pair[0])
        return [team for _, team in found[:MAX_TEAMS]]

    def _promising(self, teams: Sequence[Team], owner: Ints, values: Floats) -> Ints:
        """Numbers of the states to improve: the best few of the best kinds."""
        kinds: dict[frozenset[Kind], int] = {}
        chosen = []
        for i in np.argsort(-values, kind="stable").tolist():
            kind = kind_of(trial.placement for trial in teams[owner[i]])
            if kinds.get(kind, 0) < CLIMBED_STATES and (kind in kinds or len(kinds) < CLIMBED_KINDS):
                kinds[kind] = kinds.get(kind, 0) + 1
                chosen.append(i)
        return np.array(chosen, dtype=np.int64)

    def _climbed(self, rows: Ints) -> Ints:
        """Each state after the change of one opening that helps most, again and again."""
        rows, value = rows.copy(), self.mean(rows, self.few_weights)
        active = np.arange(len(rows))
        for _ in range(2 * len(self.moving)):
            if not len(active) or not self.moving:
                break
            flips = np.repeat(rows[active][:, None], len(self.moving), axis=1)
            for k, column in enumerate(self.moving):
                flips[:, k, column] = np.where(flips[:, k, column] <= 1, 1 - flips[:, k, column], flips[:, k, column])
            found = self.mean(flips.reshape(-1, len(self.names)), self.few_weights).reshape(len(active), -1)
            best = found.argmax(axis=1)
            top = found[np.arange(len(active)), best]
            better = top > value[active] * MIN_GAIN_FACTOR
            rows[active[better]] = flips[better, best[better]]
            value[active[better]] = top[better]
            active = active[better]
        return rows

    def _sorted(
        self, teams: Sequence[Team], owner: Ints, rows: Ints, values: Floats, keep: int
    ) -> tuple[list[Screened], list[Screened]]:
        mean = self.task.weights @ values

        def state(i: int, value: float) -> Screened:
            team = teams[owner[i]]
            return Screened(team, self.shares_of(rows[i], team), value)

        kinds: dict[frozenset[Kind], list[Screened]] = {}
        team_kinds = [kind_of(trial.placement for trial in team) for team in teams]
        seen: set[tuple[int, bytes]] = set()
        for i in np.argsort(-mean, kind="stable").tolist():
            mine = kinds.setdefault(team_kinds[owner[i]], [])
            if len(mine) < keep and (same := (int(owner[i]), rows[i].tobytes())) not in seen:
                seen.add(same)
                mine.append(state(i, float(mean[i])))
        best = [one for mine in kinds.values() for one in mine]
        by_weather = [state(int(one.argmax()), float(one.max())) for one in values] if len(values) > 1 else []
        return sorted(best, key=lambda one: -one.value), by_weather

    def shares_of(self, row: Ints, team: Team) -> dict[str, float]:
        """Free share of every opening in a row of choices with a team at its openings."""
        blown = {trial.placement.opening for trial in team}
        return {
            name: self.open_state.shares[name] if row[i] > 0 or name in blown else 0.0
            for i, name in enumerate(self.names)
        }


def _combined(trials: Sequence[Trial], fans_at_once: int) -> Iterator[tuple[int, Team]]:
    """Teams of different fans at different openings, each with the sum of their places in the order given."""
    if len(trials) < fans_at_once:
        return
    most = next(n for n in range(len(trials), 0, -1) if n == fans_at_once or n**fans_at_once <= 400_000)
    for numbers in combinations(range(most), fans_at_once):
        team = tuple(trials[i] for i in numbers)
        fans = {trial.placement.fan for trial in team}
        openings = {trial.placement.opening for trial in team}
        if len(fans) == len(openings) == fans_at_once:
            yield sum(numbers), team


def _plain_couplings(house: House, state: Scenario, options: Mapping[str, Sequence[Choice]]) -> list[ChoiceCoupling]:
    """What openings in line catch of the air that comes through plainly open ones.

    What a fan's jet brings to an opening behind its own is left to the final ranking.
    """
    names = list(options)
    sources = [(name, i) for name in names for i, _ in enumerate(options[name][1].strips)]
    strips = [options[name][1].strips[i] for name, i in sources]
    found = {}
    for each in couplings_in_line(house, state, strips, ()):
        (source, strip), (target, _) = sources[each.source], sources[each.target]
        found[source, strip, target, each.sign] = each.share
    return [
        ChoiceCoupling((names.index(source), 1), (names.index(target), choice), strip, sign, share)
        for (source, strip, target, sign), share in found.items()
        for choice in range(1, len(options[target]))
    ]


def _lumped(cracks: Sequence[Crack]) -> list[Crack]:
    """One crack for each room's walls, under their mean offset: close enough to screen, and a third of the work."""
    lumped = []
    for ends in dict.fromkeys((crack.a, crack.b) for crack in cracks):
        mine = [crack for crack in cracks if (crack.a, crack.b) == ends]
        leak = sum(crack.coefficient for crack in mine)
        wind, stack = (
            sum(getattr(crack, part) * crack.coefficient for crack in mine) / leak for part in ("wind_pa", "stack_pa")
        )
        lumped.append(replace(mine[0], coefficient=leak, wind_pa=wind, stack_pa=stack))
    return lumped
