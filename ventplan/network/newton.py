"""Newton's method for the pressures of the rooms: one source for one state or many, with numpy or compiled.

What is solved
--------------
Every link carries a mass flow m(x) that never falls as its driving pressure x rises. With node pressures p, links from
a to b, and offsets o (wind, stack, fans), the static difference of a link is y = p_a - p_b + o, and

    x_j = y_j + sum over couplings i -> j of share * max(sign * y_i, 0),        F(p) = sum of m leaving each room = 0.

A coupling (`ventplan.network.links.Coupling`) means that opening j is also driven by a share of the drop at opening i
in line with it. Without couplings F is the gradient of a convex potential, and there is one solution. With couplings,
the shares that leave an opening one way, and those that arrive at an opening, must each add up to less than 1: air
cannot pass on more than it has. Then every start leads to one solution in hundreds of random houses
(``tests/laws/network/test_couplings.py``); with larger sums there may be none.

How
---
1. *Flow steps*, if there is no start: each link is linearised at a point of its law. Where the law is nearly a square
   root, a step of pressure from x to x' moves that point as a step of flow would, to (x + x')^2 / 4x (Todini and Pilati
   1988, the gradient method for pipes). They only have to come near the solution.
2. *Newton steps* with a line search. Without couplings the search follows the slope of the potential along the step,
   F . d, until it has lost half its size; it cannot fail, because the potential is convex. With couplings there is no
   potential, and a step is halved until it lowers the largest imbalance; since F . dF < 0 along a Newton step, a short
   enough one always does.
3. *Stop* where the largest imbalance is below `ROUNDING_KG_S`, or below `TOLERANCE_KG_S` after one more step.

How to use it
-------------
`ventplan.network.solver.solve_pressures` solves one network, `ventplan.network.solver.solve_choices` many states of one
house. An engine has four operations on its own kind of ``work``: `flow_step`, `evaluate`, `newton_step` and `take`.
`ArrayWork` does them with arrays: numbers and flags are floats and bools for one state, arrays (states,) for many.
`ventplan.network.numba_engine` compiles `balance` itself, and runs it state by state.
"""

from __future__ import annotations

from collections import namedtuple
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ventplan.network.graphs import Graph, StateGraph
from ventplan.network.links import FIGURES, OFFSET, Couplings, LinkLaws

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TOLERANCE_KG_S = 1e-10
"""Largest imbalance of any room, over 1 + the largest flow [kg/s]."""
ROUNDING_KG_S = 1e-12
"""Imbalance that one more step hardly improves on, over 1 + the largest flow [kg/s]."""
FLOW_STEPS = 30
MAX_ROUNDS = 600
"""Largest number of balances for a state."""
LINE_SEARCH_TRIALS = 60
LEAST_MOVE_PA = 1e-14
LEAST_POINT_PA = 1e-15
DECREASE = 1e-4
"""Share of the decrease predicted by a Newton step that it must reach, with couplings [-] (Armijo 1966)."""


def pick(condition: Any, yes: Any, no: Any) -> Any:
    """``yes`` if the condition holds, else ``no``; for one state or for arrays of states."""
    if isinstance(condition, np.ndarray):
        return np.where(condition, yes, no)
    return yes if condition else no


def some(condition: Any) -> bool:
    """True if the condition holds for any state."""
    return bool(condition.any()) if isinstance(condition, np.ndarray) else bool(condition)


def flow_step(work: Any, going: Any) -> Any:
    """One flow step; True for a state that still moves."""
    return work.flow_step(going)


def evaluate(work: Any, share: Any, going: Any) -> tuple[Any, Any, Any]:
    """Balance at pressure + share * step: F . d, the largest imbalance and the largest flow [kg/s]."""
    found: tuple[Any, Any, Any] = work.evaluate(share, going)
    return found


def newton_step(work: Any, fresh: Any) -> tuple[Any, Any]:
    """The step d from the last balance: F . d, and the largest change of pressure [Pa]."""
    found: tuple[Any, Any] = work.newton_step(fresh)
    return found


def take(work: Any, taken: Any) -> None:
    """The trial becomes the pressure."""
    work.take(taken)


def balance(work: Any, going: Any, coupled: bool, started: bool) -> Any:
    """Find the pressures at which every room balances.

    Parameters
    ----------
    work
        The states, as the engine holds them.
    going
        True for every state: one flag, or an array (states,).
    coupled
        True if there are couplings.
    started
        True if ``work`` has pressures to start from, which saves the flow steps.

    Returns
    -------
    bool or ndarray
        True for a state that does not balance.
    """
    moving = going
    if not started:
        for _ in range(FLOW_STEPS):
            moving = flow_step(work, moving)
            if not some(moving):
                break
    share = low = low_slope = reach = trials = pick(going, 0.0, 0.0)
    start = high = high_slope = before = pick(going, np.inf, np.inf)  # The first balance, without a step, is accepted.
    polished = pick(going, False, False)
    for _ in range(MAX_ROUNDS):
        along, worst, most = evaluate(work, share, going)
        trials = trials + 1.0
        good = worst <= (1.0 - DECREASE * share) * before if coupled else abs(along) <= 0.5 * abs(start)
        good = good | polished | (trials >= LINE_SEARCH_TRIALS) | (share * reach < LEAST_MOVE_PA)
        taken = going & good
        take(work, taken)
        near = worst <= TOLERANCE_KG_S * (1.0 + most)
        balanced = taken & near & (polished | (worst <= ROUNDING_KG_S * (1.0 + most)))
        going = going & (balanced ^ True)
        if not some(going):
            break
        if coupled:
            share = 0.5 * share
        else:
            short, far = along < 0.0, along >= 0.0
            low, low_slope = pick(short, share, low), pick(short, along, low_slope)
            high, high_slope = pick(far, share, high), pick(far, along, high_slope)
            bounded = high < np.inf
            top, top_slope = pick(bounded, high, 2.0 * share), pick(bounded, high_slope, 0.0)
            chord = low - low_slope * (top - low) / pick(top_slope > low_slope, top_slope - low_slope, 1.0)
            chord = pick(chord < 0.9 * low + 0.1 * top, 0.9 * low + 0.1 * top, chord)
            chord = pick(chord > 0.1 * low + 0.9 * top, 0.1 * low + 0.9 * top, chord)
            share = pick(going, pick(far, chord, pick(bounded, 0.5 * (low + top), 2.0 * share)), 0.0)
        fresh = taken & going
        if some(fresh):
            slope, length = newton_step(work, fresh)
            start, reach, before = pick(fresh, slope, start), pick(fresh, length, reach), pick(fresh, worst, before)
            low, low_slope, trials = pick(fresh, 0.0, low), pick(fresh, slope, low_slope), pick(fresh, 0.0, trials)
            high, high_slope = pick(fresh, np.inf, high), pick(fresh, np.inf, high_slope)
            share, polished = pick(fresh, 1.0, share), pick(fresh, near, polished)
    return going


FEW_LEFT = 0.75
"""Share of the states still going below which the balanced ones leave the arrays [-]."""


class ArrayWork:
    """States on their way to balance, with numpy.

    Parameters
    ----------
    laws
        Laws of all links.
    graph
        How they join the rooms.
    couplings
        Between links of the same state.
    pressure
        Where to start, shape (rooms,), or (rooms, states) [Pa].
    """

    def __init__(self, laws: LinkLaws, graph: Graph, couplings: Couplings, pressure: Floats) -> None:
        self._laws, self._graph, self._couplings = laws, graph, couplings
        self.pressure, self._trial, self._step = pressure, pressure, np.zeros_like(pressure)
        self._point: Floats | None = None
        self._gains = np.zeros(0)

    def balance(self, *, started: bool) -> Any:
        """Find the pressures; True for a state that does not balance (`ventplan.network.newton.balance`)."""
        going = np.ones(self.pressure.shape[1], dtype=bool) if self.pressure.ndim == 2 else True
        return balance(self, going, len(self._couplings) > 0, started)

    def flow_step(self, moving: Any) -> Any:
        """One step of Newton's method for the flows; see `ventplan.network.newton`."""
        offset, graph, point = self._laws.figures[OFFSET], self._graph, self._point
        if point is None:  # The slopes at rest are far too stiff to start from: one at a pascal, from rest.
            _, slope = self._laws.mass_flow_and_slope(np.where(np.abs(offset) > 1.0, offset, 1.0))
            flow, point = np.zeros_like(offset), np.zeros_like(offset)
        else:
            point = np.where(np.abs(point) < LEAST_POINT_PA, LEAST_POINT_PA, point)
            flow, slope = self._laws.mass_flow_and_slope(point)
        static = graph.across(self.pressure) + offset
        gains = self._couplings.gains(static)
        at_rest = self._couplings.drive(offset, gains)
        right = -graph.leaving(flow + slope * (at_rest - point))
        self.pressure = self._trial = graph.solve(slope, right, self._couplings, gains)
        driving = self._couplings.drive(graph.across(self.pressure) + offset, gains)
        change, most = graph.largest_link(slope * (driving - point)), graph.largest_link(flow)
        if self._point is None:
            self._point = driving
            return moving
        middle, half = point + driving, self._laws.bend_pa
        moved = middle * np.abs(middle) / (4.0 * np.abs(point))
        self._point = np.where((np.abs(point) > half) & (np.abs(moved) > half), moved, driving)
        return moving & (change > graph.near * most + TOLERANCE_KG_S)

    def evaluate(self, share: Any, going: Any) -> tuple[Any, Any, Any]:
        """Balance after a share of the step: slope of the potential along it, largest imbalance and largest flow."""
        graph = self._graph
        self._trial = self.pressure + share * self._step
        static = graph.across(self._trial) + self._laws.figures[OFFSET]
        self._gains = self._couplings.gains(static)
        self._flow, self._slope = self._laws.mass_flow_and_slope(self._couplings.drive(static, self._gains))
        self._left = graph.leaving(self._flow)
        return graph.dot(self._left, self._step), graph.largest(self._left), graph.largest_link(self._flow)

    def newton_step(self, fresh: Any) -> tuple[Any, Any]:
        """The step from the last balance: slope of the potential along it, and its largest change of pressure."""
        step = self._graph.solve(self._slope, -self._left, self._couplings, self._gains)
        self._step = pick(fresh, step, self._step)
        return self._graph.dot(self._left, self._step), self._graph.largest(self._step)

    def take(self, taken: Any) -> None:
        """The trial becomes the pressure."""
        self.pressure = pick(taken, self._trial, self.pressure)


class StatesWork(ArrayWork):
    """Many states on their way to balance; balanced ones leave the arrays, but the method sees all, shape (states,).

    Parameters
    ----------
    laws, graph, couplings
        As in `ArrayWork`.
    """

    def __init__(self, laws: LinkLaws, graph: StateGraph, couplings: Couplings) -> None:
        super().__init__(laws, graph, couplings, np.zeros_like(graph.isolated))
        self._states, self._live = graph, np.arange(graph.isolated.shape[1])
        self.found = self.pressure

    def evaluate(self, share: Floats, going: Bools) -> tuple[Floats, Floats, Floats]:
        """As `ArrayWork.evaluate`, for the states that are still there."""
        keep = going[self._live]
        if np.count_nonzero(keep) < FEW_LEFT * keep.size:
            self._narrow(keep)
        slope, worst, most = super().evaluate(share[self._live], going)
        return self._spread(slope), self._spread(worst), self._spread(most)

    def newton_step(self, fresh: Bools) -> tuple[Floats, Floats]:
        """As `ArrayWork.newton_step`, for the states that are still there."""
        slope, reach = super().newton_step(fresh[self._live])
        return self._spread(slope), self._spread(reach)

    def take(self, taken: Bools) -> None:
        """As `ArrayWork.take`, and keep the pressures."""
        super().take(taken[self._live])
        self.found[:, self._live] = self.pressure

    def _spread(self, values: Floats) -> Floats:
        every = np.zeros(self.found.shape[1])
        every[self._live] = values
        return every

    def _narrow(self, keep: Bools) -> None:
        links = keep[self._states.state]
        self._laws, self._couplings = self._laws.only(links), self._couplings.only(links)
        self._graph = self._states = self._states.only(keep)
        self._live, self.pressure, self._step = self._live[keep], self.pressure[:, keep], self._step[:, keep]


# The compiled engine works on blocks of memory that numpy makes and fills; the names below are their rows. The part of
# the house is what `ventplan.network.choices.ChoiceTable` holds, with the pattern of
# `ventplan.network.graphs.elimination_order`; the rest is one state of it, with the links that carry air side by side.

Blocks = namedtuple("Blocks", "sizes table later link_ints node_ints pair_ints links nodes pairs")
"""The blocks, in the order in which their addresses are passed: sizes (`SIZES`,); the table of figures (rows,
`FIGURES`); later neighbours in the order of elimination; whole numbers and floats by link, by node (outdoors is the
last) and by pair of coupled links."""

SIZES = 13
STATES, OPENINGS, STARTED, COLUMN_STRIPS, COLUMNS, ROWS, NODES, TOUCHED, PAIRS = range(9)
STRIPS, LINKS, COUPLINGS, FLOW_STEPS_DONE = range(9, SIZES)
"""Of the house: numbers of states, openings, 1 if there is a start, strip columns, columns, rows of the table, nodes,
later neighbours and coupled pairs. Of the state: strips, links, couplings, and flow steps done."""

LINK_INTS = 9
FIRST_ROW, COLUMN_A, COLUMN_B, COLUMN_OPENING, A, B, OPENING, ROW, NUMBER = range(LINK_INTS)
"""Of each column: its first row, nodes and opening. Of each link: its nodes and opening. Of each column in this state:
its row, and the number of its link or -1."""

NODE_INTS = 3
ORDER, FIRST_LATER, REACHED = range(NODE_INTS)
"""Which room is eliminated in each turn, where its later neighbours begin, and 0 for isolated rooms."""

PAIR_INTS = 6
SOURCE_COLUMN, SOURCE_CHOICE, TARGET_COLUMN, TARGET_CHOICE, SOURCE, TARGET = range(PAIR_INTS)
"""Of each pair: the columns and choices that it couples. Of each coupling in this state: its links."""

LINK_FLOATS = FIGURES + 4
FLOW, SLOPE, DRIVING, POINT = range(FIGURES, LINK_FLOATS)
"""After the figures of each link: mass flow, slope, driving pressure, and the point of its law in flow steps."""

NODE_FLOATS = 4
LEFT, PRESSURE, TRIAL, STEP = range(NODE_FLOATS)
"""Net flow that leaves each node, pressure, trial and step; the matrix has the rows after them."""

PAIR_FLOATS = 6
PAIR_SIGN, PAIR_SHARE, SIGN, SHARE, GAIN, GIVEN = range(PAIR_FLOATS)
"""Sign and share of each pair; of each coupling in this state sign, share, gain and what it adds."""
