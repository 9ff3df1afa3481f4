"""Many states of one house at once: each opening is in one of a few choices, and a state picks one for each.

Searches ask for tens of thousands of states that differ in which openings are open and where the fans stand. The
figures of every choice lie in a table (`ChoiceTable`), so a state is a row of whole numbers, and Newton's method
(`ventplan.network.newton`) runs over all of them, compiled where that repays loading, otherwise with arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from functools import partial
from itertools import chain

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.errors import NoAnswerError
from ventplan.network import compiled
from ventplan.network.links import FIGURES, OFFSET, SIZE, Couplings, Crack, LinkLaws, Strip
from ventplan.network.numpy_engine import StateGraph, StatesWork

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

STATES_AT_ONCE = 2048
"""States that one round of array operations holds: few enough to stay in the processor's cache."""
WORTH_LOADING = 500_000
"""States times links from which loading the compiled engine repays its second (``docs/speed.md``)."""

_NOTHING = (0.0, 0.0, 1.0, 1.0, 0.65, 1.0, 1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Choice:
    """One state that one opening can be in: shut, open, open with a jet at it, with a fan sealed in, and so on.

    Attributes
    ----------
    strips, cracks
        Its links; all join the two places of the opening in the same order.
    """

    strips: tuple[Strip, ...] = ()
    cracks: tuple[Crack, ...] = ()


@dataclass(frozen=True)
class ChoiceCoupling:
    """Links of one opening in one choice that are also driven by the drop at a link of another opening in one choice.

    Attributes
    ----------
    source, target
        Opening and choice of the link that the stream comes through, and of those that catch it.
    source_strip
        Which strip of the source it is.
    sign, share
        As in `ventplan.network.links.Coupling`; every strip of the target gets it.
    """

    source: tuple[int, int]
    target: tuple[int, int]
    source_strip: int
    sign: float
    share: float


class ChoiceTable:
    """A house whose openings can each be in one of several choices; not changed once made.

    Links lie in columns, strips first; a state finds the figures of column c in row ``first[c] + choice``.

    Parameters
    ----------
    nodes
        Names of the rooms, without outdoors.
    options
        For each opening, its choices.
    always
        Leaks that are there in every state, such as those of walls.
    couplings
        Between choices of openings.

    Attributes
    ----------
    figures
        Figures of every column in every choice, shape (`FIGURES`, rows).
    first, opening
        First row of each column, and the opening that it belongs to; the number of openings for those that are always
        there, shape (columns,).
    a, b
        Nodes of each column; flow counts from a to b.
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
        """Choices as whole numbers of shape (states, openings).

        Parameters
        ----------
        choices
            Which choice each opening is in, shape (states, openings).

        Returns
        -------
        ndarray
            The same, as integers.

        Raises
        ------
        ValueError
            Where the shape is wrong or a choice is out of range.
        """
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


def _ends(opening: int, choices: Sequence[Choice]) -> tuple[int, int]:
    found = {(strip.a, strip.b) for choice in choices for strip in choice.strips}
    found |= {(crack.a, crack.b) for choice in choices for crack in choice.cracks}
    if len(found) > 1:
        raise ValueError(f"the links of opening {opening} must all join the same two places: {sorted(found)}")
    return found.pop() if found else (0, 0)


def _columns(rows: Sequence[Sequence[Strip]] | Sequence[Sequence[Crack]]) -> list[list[tuple[float, ...]]]:
    """As many columns as the fullest choice has links, filled up with links that carry nothing."""
    count = max(map(len, rows))
    return [[row[i].figures if i < len(row) else _NOTHING for row in rows] for i in range(count)]


@dataclass(frozen=True)
class BulkFlow:
    """Solved states, one a row.

    Attributes
    ----------
    pressure_pa
        Static pressure of each room at ground level, 0 where it is isolated from outdoors, shape (states, rooms) [Pa].
    forward_m3_s, backward_m3_s
        Air through each opening both ways, both >= 0, shape (states, openings) [m3/s].
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
        """All of it, in the order of the attributes."""
        return self.pressure_pa, self.forward_m3_s, self.backward_m3_s, self.mass_kg_s, self.imbalance_kg_s


Engine = Callable[[Ints, BulkFlow], int]
"""Solves some choices into arrays of zeros; returns a state that does not balance, or -1."""


def solve_choices(
    table: ChoiceTable,
    choices: ArrayLike,
    *,
    progress: Callable[[int, int], None] | None = None,
    workers: int = 1,
) -> BulkFlow:
    """Solve many states of one house.

    Parameters
    ----------
    table
        The house and what each of its openings can be.
    choices
        Which choice each opening is in, shape (states, openings), whole numbers.
    progress
        Called in this thread with the number of states done and of all states. What it raises stops the work and is
        passed on.
    workers
        How many threads share the work.

    Returns
    -------
    BulkFlow
        One row for each state, in the order asked.

    Raises
    ------
    ValueError
        Where a choice is out of range or the shape is not (states, openings).
    NoAnswerError
        Where a state does not balance; says which and by how much.

    Notes
    -----
    Rooms that have no path to outdoors in a state keep pressure 0 there, and nothing flows at their openings.
    """
    rows = table.checked(choices)
    states = rows.shape[0]
    result = BulkFlow.room_for(table, states)
    engine = _engine(table, states)

    def work(part: slice) -> int:
        bad = engine(rows[part], result.part(part))
        if bad >= 0:
            raise NoAnswerError(
                f"the air of the house does not balance in state {part.start + bad}: "
                f"{result.imbalance_kg_s[part.start + bad]:.3g} kg/s are left. Please report this house: every house "
                "should have an answer."
            )
        return int(part.stop - part.start)

    done = 0
    for finished in _run(work, _parts(states, STATES_AT_ONCE), workers):
        done += finished
        if progress is not None:
            progress(done, states)
    return result


def solve_states(table: ChoiceTable, choices: Ints, into: BulkFlow) -> int:
    """Solve some states with arrays into arrays of zeros; returns a state that does not balance, or -1."""
    rows, states, rooms = table.rows(choices), choices.shape[0], len(table.nodes)
    column, state = np.nonzero(table.figures[SIZE, rows] > 0.0)
    isolated = _isolated(rooms, state, table.a[column], table.b[column], states)
    kept = ~np.vstack([isolated, np.zeros((1, states), dtype=bool)])[table.a[column], state]
    column, state = column[kept], state[kept]
    laws = LinkLaws(table.figures[:, rows[column, state]], int(np.count_nonzero(column < table.strips)))
    graph = StateGraph(state, table.a[column], table.b[column], isolated.astype(float))
    couplings = _couplings(table, choices, column, state)
    work = StatesWork(laws, graph, couplings)
    bad = work.settle(started=False)

    static = graph.across(work.found) + laws.figures[OFFSET]
    driving = couplings.drive(static, couplings.gains(static))
    mass, _ = laws.mass_flow_and_slope(driving)
    openings = choices.shape[1] + 1
    at = state * openings + table.opening[column]
    flows = (into.forward_m3_s, into.backward_m3_s, into.mass_kg_s)
    for out, each in zip(flows, (*laws.volume_flows(driving), mass), strict=True):
        out[:] = np.bincount(at, each, states * openings).reshape(-1, openings)[:, :-1]
    into.pressure_pa[:] = work.found.T
    into.imbalance_kg_s[:] = graph.largest(graph.leaving(mass))
    return int(np.argmax(bad)) if np.any(bad) else -1


def _isolated(rooms: int, state: Ints, a: Ints, b: Ints, states: int) -> Bools:
    """True for every room without a path to outdoors, shape (rooms, states)."""
    reached = np.zeros((rooms + 1, states), dtype=bool)
    reached[rooms] = True
    while True:
        grows = reached[a, state] != reached[b, state]
        if not grows.any():
            return ~reached[:-1]
        reached[a[grows], state[grows]] = True
        reached[b[grows], state[grows]] = True


def _couplings(table: ChoiceTable, choices: Ints, column: Ints, state: Ints) -> Couplings:
    """The couplings that hold in each state, between the links that carry air in it."""
    number = np.full((table.first.size, choices.shape[0]), -1)
    number[column, state] = np.arange(column.size)
    found: list[tuple[Ints, Ints, float, float]] = []
    for source, source_choice, target, target_choice, each in table.couplings:
        there = (choices[:, each.source[0]] == source_choice) & (choices[:, each.target[0]] == target_choice)
        there &= (number[source] >= 0) & (number[target] >= 0)
        found.append((number[source][there], number[target][there], each.sign, each.share))
    return Couplings(
        np.concatenate([np.zeros(0, dtype=np.int64), *(each[0] for each in found)]),
        np.concatenate([np.zeros(0, dtype=np.int64), *(each[1] for each in found)]),
        np.concatenate([np.zeros(0), *(np.full(each[0].size, each[2]) for each in found)]),
        np.concatenate([np.zeros(0), *(np.full(each[0].size, each[3]) for each in found)]),
    )


def _engine(table: ChoiceTable, states: int) -> Engine:
    """What solves the states: compiled code where it is at hand and repays loading, otherwise numpy."""
    engine = compiled.load() if states * table.first.size >= WORTH_LOADING else compiled.loaded()
    return partial(solve_states, table) if engine is None else compiled.CompiledStates(engine, table)


def _parts(states: int, size: int) -> list[slice]:
    return [slice(start, min(start + size, states)) for start in range(0, states, size)]


def _run(work: Callable[[slice], int], parts: Sequence[slice], workers: int) -> Iterator[int]:
    """Do the parts, in threads where there are several, and say after each how much it held."""
    if workers <= 1 or len(parts) <= 1:
        yield from map(work, parts)
        return
    with ThreadPoolExecutor(workers) as pool:
        pending: set[Future[int]] = {pool.submit(work, part) for part in parts}
        try:
            while pending:
                ready, pending = wait(pending, return_when=FIRST_COMPLETED)
                for future in ready:
                    yield future.result()
        finally:
            for future in pending:
                future.cancel()
