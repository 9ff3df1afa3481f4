"""Many states of one house: a table of what each opening can be, and the solved flows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.network.links import FIGURES, SIZE, Couplings, Crack, Strip

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_NOTHING = (0.0, 0.0, 1.0, 1.0, 0.65, 1.0, 1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Choice:
    """One state of one opening: shut, open, open with a jet, with a sealed fan, and so on.

    Attributes
    ----------
    strips, cracks
        Its links; all join the two places of the opening in the same order.
    """

    strips: tuple[Strip, ...] = ()
    cracks: tuple[Crack, ...] = ()


@dataclass(frozen=True)
class ChoiceCoupling:
    """A coupling from a link of one opening in one choice to the strips of another opening in one choice.

    Attributes
    ----------
    source, target
        Opening and choice of the link that a jet comes through, and of those that capture it.
    source_strip
        Which strip of the source it is.
    sign, share
        As in `ventplan.network.links.Coupling`, for every strip of the target.
    """

    source: tuple[int, int]
    target: tuple[int, int]
    source_strip: int
    sign: float
    share: float


class ChoiceTable:
    """A house whose openings can each be in one of several choices; not changed once made.

    Links are columns, strips first; the figures of column c in a state are in row ``first[c] + choice``.

    Parameters
    ----------
    nodes
        Names of the rooms, without outdoors.
    options
        For each opening, its choices.
    always
        Cracks of every state, such as those of walls.
    couplings
        Between choices of openings.

    Attributes
    ----------
    figures
        Figures of every column in every choice, shape (`FIGURES`, rows).
    first, opening
        First row of each column, and the opening that it belongs to, which is the number of openings for ``always``,
        shape (columns,).
    a, b
        Nodes of each column; flow is counted from a to b.
    strips
        Number of columns that are strips.
    """

    def __init__(
        self,
        nodes: Sequence[str],
        options: Sequence[Sequence[Choice]],
        always: Sequence[Crack] = (),
        couplings: Sequence[ChoiceCoupling] = (),
    ) -> None:
        self.nodes = tuple(nodes)
        self.choice_count: Ints = np.array([len(choices) for choices in options], dtype=np.int64)
        if np.any(self.choice_count == 0):
            raise ValueError(f"opening {int(np.argmin(self.choice_count))} has no choice")
        ends = [_ends(opening, choices) for opening, choices in enumerate(options)]
        strips, cracks = [], []
        for opening, choices in enumerate(options):
            strips += [(opening, ends[opening], rows) for rows in _columns([choice.strips for choice in choices])]
            cracks += [(opening, ends[opening], rows) for rows in _columns([choice.cracks for choice in choices])]
        cracks += [(len(options), (crack.a, crack.b), [crack.figures]) for crack in always]
        columns = strips + cracks
        self.strips = len(strips)
        rows = list(chain.from_iterable(column[2] for column in columns))
        self.figures: Floats = np.array(rows, dtype=float).reshape(len(rows), FIGURES).T.copy()
        sizes = [len(column[2]) for column in columns]
        self.first: Ints = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)[: len(columns)]
        self.opening: Ints = np.array([column[0] for column in columns], dtype=np.int64)
        self.a, self.b = np.array([column[1] for column in columns], dtype=np.int64).reshape(-1, 2).T.copy()
        self.couplings = [
            (self.columns_of(each.source[0])[each.source_strip], each.source[1], column, each.target[1], each)
            for each in couplings
            for column in self.columns_of(each.target[0])[: len(options[each.target[0]][each.target[1]].strips)]
        ]

    def columns_of(self, opening: int) -> Ints:
        """Columns of the strips of an opening."""
        found: Ints = np.flatnonzero(self.opening[: self.strips] == opening)
        return found

    def checked(self, choices: ArrayLike) -> Ints:
        """The choice of each opening as integers of shape (states, openings); ValueError if they are not."""
        given = np.asarray(choices)
        openings = self.choice_count.size
        if given.ndim != 2 or given.shape[1] != openings:
            raise ValueError(f"choices must have shape (states, {openings}), not {given.shape}")
        rows: Ints = given.astype(np.int64)
        if np.any(rows != given) or np.any(rows < 0) or np.any(rows >= self.choice_count):
            raise ValueError("choices must be whole numbers from 0 to the number of choices of their opening less 1")
        return rows

    def rows(self, choices: Ints) -> Ints:
        """Row of each column in each state, shape (columns, states); ``choices`` has shape (states, openings)."""
        with_always = np.vstack([choices.T, np.zeros((1, choices.shape[0]), dtype=np.int64)])
        rows: Ints = self.first[:, None] + with_always[self.opening]
        return rows

    def links_in(self, choices: Ints) -> tuple[Ints, Ints, Bools]:
        """Column and state of every link that carries air, and the isolated rooms, shape (rooms, states)."""
        states = choices.shape[0]
        column, state = np.nonzero(self.figures[SIZE, self.rows(choices)] > 0.0)
        a, b = self.a[column], self.b[column]
        reached = np.zeros((len(self.nodes) + 1, states), dtype=bool)
        reached[-1] = True
        while np.any(grows := reached[a, state] != reached[b, state]):
            reached[a[grows], state[grows]] = True
            reached[b[grows], state[grows]] = True
        kept = reached[a, state]
        return column[kept], state[kept], ~reached[:-1]

    def couplings_in(self, choices: Ints, column: Ints, state: Ints) -> Couplings:
        """The couplings of each state, between the links that carry air in it (`links_in`)."""
        number = np.full((self.first.size, choices.shape[0]), -1)
        number[column, state] = np.arange(column.size)
        found: list[tuple[Ints, Ints, float, float]] = []
        for source, source_choice, target, target_choice, each in self.couplings:
            there = (choices[:, each.source[0]] == source_choice) & (choices[:, each.target[0]] == target_choice)
            there &= (number[source] >= 0) & (number[target] >= 0)
            found.append((number[source][there], number[target][there], each.sign, each.share))
        return Couplings(
            np.concatenate([np.zeros(0, dtype=np.int64), *(each[0] for each in found)]),
            np.concatenate([np.zeros(0, dtype=np.int64), *(each[1] for each in found)]),
            np.concatenate([np.zeros(0), *(np.full(each[0].size, each[2]) for each in found)]),
            np.concatenate([np.zeros(0), *(np.full(each[0].size, each[3]) for each in found)]),
        )


def _ends(opening: int, choices: Sequence[Choice]) -> tuple[int, int]:
    found = {(strip.a, strip.b) for choice in choices for strip in choice.strips}
    found |= {(crack.a, crack.b) for choice in choices for crack in choice.cracks}
    if len(found) > 1:
        raise ValueError(f"the links of opening {opening} must all join the same two places: {sorted(found)}")
    return found.pop() if found else (0, 0)


def _columns(rows: Sequence[Sequence[Strip]] | Sequence[Sequence[Crack]]) -> list[list[tuple[float, ...]]]:
    """As many columns as the largest choice has links, filled with links that carry nothing."""
    count = max(map(len, rows))
    return [[row[i].figures if i < len(row) else _NOTHING for row in rows] for i in range(count)]


@dataclass(frozen=True)
class BulkFlow:
    """Solved states, one a row.

    Attributes
    ----------
    pressure_pa
        Static pressure of each room at ground level, 0 for isolated rooms, shape (states, rooms) [Pa].
    forward_m3_s, backward_m3_s
        Flow through each opening each way, both >= 0, shape (states, openings) [m3/s].
    mass_kg_s
        Net mass flow through each opening, shape (states, openings) [kg/s].
    imbalance_kg_s
        Largest mass imbalance of any room, shape (states,) [kg/s].
    """

    pressure_pa: Floats
    forward_m3_s: Floats
    backward_m3_s: Floats
    mass_kg_s: Floats
    imbalance_kg_s: Floats

    @classmethod
    def room_for(cls, table: ChoiceTable, states: int) -> BulkFlow:
        """Arrays of zeros for some states."""
        forward, backward, mass = np.zeros((3, states, table.choice_count.size))
        return cls(np.zeros((states, len(table.nodes))), forward, backward, mass, np.zeros(states))

    def part(self, rows: slice) -> BulkFlow:
        """Views of some of the states."""
        return BulkFlow(*(values[rows] for values in self.arrays))

    @property
    def arrays(self) -> tuple[Floats, ...]:
        """All arrays, in the order of the attributes."""
        return self.pressure_pa, self.forward_m3_s, self.backward_m3_s, self.mass_kg_s, self.imbalance_kg_s
