"""Every placement and every set of open windows worth trying, and their screening in bulk."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ventplan.advice.aims import Aim
from ventplan.advice.spots import Stretch, aimed, stretches
from ventplan.house.records import OUTDOORS, Fan, House, Opening, Placement, Scenario
from ventplan.network.assemble import opening_links, wall_cracks
from ventplan.network.bulk import Choice, ChoiceTable, solve_choices
from ventplan.network.jets import arrivals, blows_of_fan
from ventplan.network.weather import densities, wind_pressures

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

MOST_STATES = 300_000
"""More states than this are not tried one by one."""
TRIAL_SETBACKS_M = (0.4, 0.8, 1.3, 2.0, 3.0, 4.5)


@dataclass(frozen=True)
class Candidate:
    """A fan at an opening, before its setback is settled.

    Attributes
    ----------
    placement
        Fan, opening, side; sealed or not.
    ranges
        Where it can stand; empty for a sealed fan.
    """

    placement: Placement
    ranges: tuple[Stretch, ...] = ()

    @property
    def kind(self) -> tuple[str, str, bool]:
        """What makes two plans different: the opening, the side, sealed or set back."""
        return self.placement.opening, self.placement.stands_in, self.placement.sealed


@dataclass(frozen=True)
class Screened:
    """One state that screening found, with its rough value."""

    candidate: Candidate
    placement: Placement
    shares: Mapping[str, float]
    value: float


def movable(house: House, aim: Aim, base: Scenario) -> tuple[str, ...]:
    """Openings to outdoors that a plan may open or shut."""
    kept = {aim.name} if aim.kind == "opening" else set()
    return tuple(
        name
        for name, opening in house.openings.items()
        if opening.is_external and opening.can_move and name not in kept and opening.full_share > 0.0
    )


def everything_open(house: House, base: Scenario) -> Scenario:
    """The state with every opening that can move as far open as it goes; others as they are."""
    shares = {
        name: opening.full_share if opening.can_move and base.shares[name] <= 0.0 else base.shares[name]
        for name, opening in house.openings.items()
    }
    return replace(base, shares=shares, placements=())


def placements(house: House, state: Scenario, fans: Sequence[str], *, fans_outdoors: bool) -> Iterator[Candidate]:
    """Every fan at every opening that it can blow at, from every side, set back or sealed.

    Parameters
    ----------
    house
        The house.
    state
        A state with every usable opening open.
    fans
        Names of the fans to try.
    fans_outdoors
        True to let fans stand outdoors, on the ground, too.
    """
    for name, opening in house.openings.items():
        if opening.is_horizontal or state.shares[name] <= 0.0:
            continue
        for fan_name in fans:
            fan = house.fans[fan_name]
            for place in opening.joins:
                if fan.can_seal and opening.kind == "window" and opening.is_external and _fits(fan, opening):
                    yield Candidate(Placement(fan_name, name, place, 0.0, sealed=True))
                if place == OUTDOORS and not (fans_outdoors and opening.drop_m <= fan.highest_m):
                    continue
                ranges = stretches(house, state, fan, opening, place)
                if ranges:
                    yield Candidate(Placement(fan_name, name, place, aside_m=ranges[0].aside_m), ranges)


def _fits(fan: Fan, opening: Opening) -> bool:
    return min(opening.width_m, opening.height_m) >= fan.diameter_m


class Screening:
    """All states of a search as one table of choices for each opening, solved in bulk.

    Parameters
    ----------
    house
        The house.
    base
        The state that was asked about; its inner doors and screens stay as they are here.
    aim
        What to get the most of.
    candidates
        Placements to try.
    """

    def __init__(self, house: House, base: Scenario, aim: Aim, candidates: Sequence[Candidate]) -> None:
        self.house, self.base, self.aim, self.candidates = house, base, aim, tuple(candidates)
        self.open_state = everything_open(house, base)
        self.names = list(house.openings)
        self.moving = movable(house, aim, base)
        self.density = densities(house, base)
        self.wind_pa = wind_pressures(house, base)
        self.states = 0
        self.options: list[list[Choice]] = [self._plain(name) for name in self.names]
        self.trials: dict[int, list[tuple[Placement, int]]] = {
            i: [(p, self._add(p)) for p in self._trial_placements(c)] for i, c in enumerate(self.candidates)
        }
        self.table = ChoiceTable(tuple(house.rooms), self.options, wall_cracks(house, self.density))

    def _plain(self, name: str) -> list[Choice]:
        """Choice 0 shut, choice 1 open."""
        shut = replace(self.open_state, shares={**self.open_state.shares, name: 0.0})
        return [self._choice(shut, name, {}), self._choice(self.open_state, name, {})]

    def _choice(self, state: Scenario, name: str, arrived: Mapping) -> Choice:  # type: ignore[type-arg]
        strips, cracks = opening_links(self.house, state, name, self.density, self.wind_pa, arrived)
        return Choice(tuple(strips), tuple(cracks))

    def _trial_placements(self, candidate: Candidate) -> list[Placement]:
        if candidate.placement.sealed:
            return [candidate.placement]
        setbacks = {r.low_m for r in candidate.ranges} | {max(r.high_m for r in candidate.ranges)}
        setbacks = {s for s in setbacks if s <= 1.0} | {
            s for s in TRIAL_SETBACKS_M if any(r.low_m <= s <= r.high_m for r in candidate.ranges)
        } or setbacks
        return [aimed(self.house, self.open_state, replace(candidate.placement, setback_m=s)) for s in sorted(setbacks)]

    def _add(self, placement: Placement) -> int:
        """Add the choice of an opening with this fan at it; gives its number."""
        state = replace(self.open_state, placements=(placement,))
        arrived = {}
        if not placement.sealed:
            blows = blows_of_fan(self.house, state, placement, self.density[placement.stands_in])
            arrived = arrivals(self.house, state, blows[:1], self.density)
        choices = self.options[self.names.index(placement.opening)]
        choices.append(self._choice(state, placement.opening, arrived))
        return len(choices) - 1

    def base_row(self) -> Ints:
        """Choices of the state that was asked about, fans off: openings that do not move as they are."""
        return np.array([1 if self.base.shares[name] > 0.0 else 0 for name in self.names])

    def window_sets(self) -> Ints:
        """Every set of the moving openings, shape (2^moving, openings)."""
        columns = [self.names.index(name) for name in self.moving]
        sets = np.array(list(product((0, 1), repeat=len(columns))), dtype=np.int64).reshape(-1, len(columns))
        rows = np.tile(self.base_row(), (sets.shape[0], 1))
        rows[:, columns] = sets
        if self.aim.kind == "opening":
            rows[:, self.names.index(self.aim.name)] = 1
        return rows

    def few_sets(self) -> Ints:
        """A few telling sets: all open, all shut, as it stands, and each opening alone or left out."""
        columns = [self.names.index(name) for name in self.moving]
        shut, full = self.base_row(), self.base_row()
        shut[columns], full[columns] = 0, 1
        rows = [self.base_row(), shut, full]
        for column in columns:
            alone, without = shut.copy(), full.copy()
            alone[column], without[column] = 1, 0
            rows += [alone, without]
        table = np.array(rows)
        if self.aim.kind == "opening":
            table[:, self.names.index(self.aim.name)] = 1
        return np.unique(table, axis=0)

    def values(self, rows: Ints, progress: Callable[[int, int], None] | None = None) -> Floats:
        """Rough value of the aim in each state, shape (states,)."""
        self.states += len(rows)
        solved = solve_choices(self.table, rows, progress=progress)
        return self.aim.values(self.house, solved.forward_m3_s, solved.backward_m3_s)

    def telling_trials(self) -> list[tuple[int, Placement, int]]:
        """For each candidate the one or two trial setbacks that win somewhere among the few sets."""
        sets = self.few_sets()
        entries = [(i, p, choice) for i, trials in self.trials.items() for p, choice in trials]
        rows = np.repeat(sets[None], len(entries), axis=0)
        for k, (_, placement, choice) in enumerate(entries):
            rows[k, :, self.names.index(placement.opening)] = choice
        found = self.values(rows.reshape(-1, len(self.names))).reshape(len(entries), len(sets))
        kept = []
        for i in self.trials:
            mine = [k for k, entry in enumerate(entries) if entry[0] == i]
            best_sets = found[mine].max(axis=0) >= 0.5 * found[mine].max()
            winners = np.unique(found[mine][:, best_sets].argmax(axis=0))
            kept += [entries[mine[w]] for w in winners[:2]]
        return kept

    def best(self, count: int, progress: Callable[[int, int], None] | None = None) -> tuple[list[Screened], bool]:
        """The best states, best first, and whether every set was tried.

        Parameters
        ----------
        count
            How many to keep for each kind of plan.
        progress
            Called with states done and to do.
        """
        trials = self.telling_trials()
        exhaustive = len(trials) * 2 ** len(self.moving) <= MOST_STATES
        sets = self.window_sets() if exhaustive else self.few_sets()
        rows = np.repeat(sets[None], len(trials), axis=0)
        for k, (_, placement, choice) in enumerate(trials):
            rows[k, :, self.names.index(placement.opening)] = choice
        found = self.values(rows.reshape(-1, len(self.names)), progress).reshape(len(trials), len(sets))
        screened = []
        for k, (i, placement, _) in enumerate(trials):
            for s in np.argsort(-found[k])[:count].tolist():
                screened.append(Screened(self.candidates[i], placement, self._shares(rows[k, s]), float(found[k, s])))
        screened.sort(key=lambda state: -state.value)
        return screened, exhaustive

    def _shares(self, row: Ints) -> dict[str, float]:
        return {name: self.open_state.shares[name] if row[o] > 0 else 0.0 for o, name in enumerate(self.names)}
