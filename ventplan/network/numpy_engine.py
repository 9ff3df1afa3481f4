"""Newton's method with arrays: one network, or many states of one house whose links lie end to end in flat arrays.

The operations that `ventplan.network.newton.settle` asks for. A `Graph` says how the links join the rooms: one state
with a dense matrix (`DenseGraph`), one large state with sparse factors (`SparseGraph`), or many states (`StateGraph`).
"""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ventplan.network.factors import factors_of
from ventplan.network.links import OFFSET, Couplings, LinkLaws
from ventplan.network.newton import LEAST_POINT_PA, NEAR, TOLERANCE_KG_S, pick, settle

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NEAR_IN_LARGE_NETWORKS = 1e-6
"""As `NEAR`: Newton steps take many more balances there than flow steps [-]."""
FEW_LEFT = 0.75
"""Share of the states still going below which the settled ones leave the arrays [-]."""


class Graph(Protocol):
    """How links join rooms. Pressures and imbalances have the shape (rooms,), or (rooms, states).

    Attributes
    ----------
    near
        Change of a flow over the largest flow at which flow steps give way to Newton steps [-].
    """

    near: float

    def across(self, pressure: Floats) -> Floats:
        """Pressure difference of every link, without its offset."""

    def leaving(self, flow: Floats) -> Floats:
        """Net flow that leaves every room."""

    def solve(self, slope: Floats, right: Floats, couplings: Couplings, gains: Floats) -> Floats:
        """Solve the linear balance of the rooms with the slopes of the links."""

    def dot(self, left: Floats, right: Floats) -> Any:
        """Sum of products over the rooms: one number, or (states,)."""

    def largest(self, rooms: Floats) -> Any:
        """Largest size of any room: one number, or (states,)."""

    def largest_link(self, links: Floats) -> Any:
        """Largest size of any link: one number, or (states,)."""


class _OneState:
    """What dense and sparse graphs of one state share."""

    near = NEAR

    def dot(self, left: Floats, right: Floats) -> float:
        return float(left @ right)

    def largest(self, rooms: Floats) -> float:
        return float(np.abs(rooms).max(initial=0.0))

    def largest_link(self, links: Floats) -> float:
        return float(np.abs(links).max(initial=0.0))


class DenseGraph(_OneState):
    """One state of few rooms, by its incidence matrix.

    Parameters
    ----------
    a, b
        Nodes of every link, shape (links,); outdoors is node ``rooms``.
    rooms
        Number of rooms.
    """

    def __init__(self, a: Ints, b: Ints, rooms: int) -> None:
        nodes = np.arange(rooms)[:, None]
        self._incidence = (nodes == a).astype(float) - (nodes == b)

    def across(self, pressure: Floats) -> Floats:
        """As `Graph.across`."""
        difference: Floats = pressure @ self._incidence
        return difference

    def leaving(self, flow: Floats) -> Floats:
        """As `Graph.leaving`."""
        left: Floats = self._incidence @ flow
        return left

    def solve(self, slope: Floats, right: Floats, couplings: Couplings, gains: Floats) -> Floats:
        """As `Graph.solve`."""
        incidence = self._incidence
        matrix = (incidence * slope) @ incidence.T
        if len(couplings):
            target, source = couplings.target, couplings.source
            matrix += (incidence[:, target] * (slope[target] * gains)) @ incidence[:, source].T
        return np.linalg.solve(matrix, right)


class SparseGraph(_OneState):
    """One state of many rooms.

    Parameters
    ----------
    a, b
        Nodes of every link, shape (links,); outdoors is node ``rooms``.
    rooms
        Number of rooms.
    """

    def __init__(self, a: Ints, b: Ints, rooms: int) -> None:
        self._a, self._b, self._rooms = a, b, rooms
        self.near = NEAR_IN_LARGE_NETWORKS
        self._factors = factors_of(a, b, rooms)

    def across(self, pressure: Floats) -> Floats:
        """As `Graph.across`."""
        with_outdoors = np.append(pressure, 0.0)
        difference: Floats = with_outdoors[self._a] - with_outdoors[self._b]
        return difference

    def leaving(self, flow: Floats) -> Floats:
        """As `Graph.leaving`."""
        size = self._rooms + 1
        left = np.bincount(self._a, flow, size) - np.bincount(self._b, flow, size)
        return left[:-1].astype(np.float64, copy=False)

    def solve(self, slope: Floats, right: Floats, couplings: Couplings, gains: Floats) -> Floats:
        """As `Graph.solve`."""
        if not len(couplings):
            return self._factors.solve(slope, right)
        from scipy.sparse import csc_matrix
        from scipy.sparse.linalg import spsolve

        target, source = couplings.target, couplings.source
        links, size = self._a.size, self._rooms + 1
        ends = np.concatenate([self._a, self._b]), np.tile(np.arange(links), 2)
        incidence = csc_matrix((np.repeat([1.0, -1.0], links), ends), shape=(size, links))[:-1]
        bends = csc_matrix((gains, (target, source)), shape=(links, links))
        straight = csc_matrix((slope, (np.arange(links), np.arange(links))), shape=(links, links))
        found: Floats = spsolve((incidence @ (straight + straight @ bends) @ incidence.T).tocsc(), right)
        return found


class StateGraph:
    """Many states of few rooms; links of all states lie end to end.

    Parameters
    ----------
    state, a, b
        State and nodes of every link, shape (links,); outdoors is node ``rooms``.
    isolated
        1 for rooms without a path to outdoors, shape (rooms, states).
    """

    def __init__(self, state: Ints, a: Ints, b: Ints, isolated: Floats) -> None:
        self.state, self.a, self.b, self.isolated, self.near = state, a, b, isolated, NEAR
        self._rooms, self._states = isolated.shape
        self._at_a, self._at_b = a * self._states + state, b * self._states + state

    def only(self, keep: Bools) -> StateGraph:
        """Some of the states."""
        number, links = np.cumsum(keep) - 1, keep[self.state]
        return StateGraph(number[self.state[links]], self.a[links], self.b[links], self.isolated[:, keep])

    def across(self, pressure: Floats) -> Floats:
        """As `Graph.across`."""
        nodes = np.append(pressure, np.zeros((1, self._states)))
        difference: Floats = nodes[self._at_a] - nodes[self._at_b]
        return difference

    def leaving(self, flow: Floats) -> Floats:
        """As `Graph.leaving`."""
        left = self._sums(self._at_a, flow, self._rooms + 1) - self._sums(self._at_b, flow, self._rooms + 1)
        return left.reshape(self._rooms + 1, self._states)[:-1]

    def solve(self, slope: Floats, right: Floats, couplings: Couplings, gains: Floats) -> Floats:
        """As `Graph.solve`."""
        nodes, a, b = self._rooms + 1, self.a, self.b
        entries, values = [(a, a), (b, b), (a, b), (b, a)], [slope, slope, -slope, -slope]
        states = [self.state] * 4
        if len(couplings):
            target, source = couplings.target, couplings.source
            more = slope[target] * gains
            entries += [(i[target], j[source]) for i in (a, b) for j in (a, b)]
            values += [more, -more, -more, more]
            states += [self.state[target]] * 4
        at = [(i * nodes + j) * self._states + state for (i, j), state in zip(entries, states, strict=True)]
        matrix = sum(self._sums(place, value, nodes * nodes) for place, value in zip(at, values, strict=True))
        matrix = np.asarray(matrix).reshape(nodes, nodes, self._states)[:-1, :-1]
        diagonal = np.arange(self._rooms)
        matrix[diagonal, diagonal] += self.isolated
        return _eliminate(matrix, right.copy())

    def dot(self, left: Floats, right: Floats) -> Floats:
        """As `Graph.dot`."""
        total: Floats = np.sum(left * right, axis=0)
        return total

    def largest(self, rooms: Floats) -> Floats:
        """As `Graph.largest`."""
        largest: Floats = np.max(np.abs(rooms), axis=0, initial=0.0)
        return largest

    def largest_link(self, links: Floats) -> Floats:
        """As `Graph.largest_link`."""
        largest = np.zeros(self._states)
        np.maximum.at(largest, self.state, np.abs(links))
        return largest

    def _sums(self, at: Ints, values: Floats, size: int) -> Floats:
        return np.bincount(at, values, size * self._states).astype(np.float64, copy=False)


def _eliminate(matrix: Floats, right: Floats) -> Floats:
    """Solve systems (n, n, states) for (n, states), in place; their diagonals are the pivots."""
    count = right.shape[0]
    for k in range(count - 1):
        factor = matrix[k + 1 :, k] / matrix[k, k]
        matrix[k + 1 :, k + 1 :] -= factor[:, None] * matrix[k, k + 1 :]
        right[k + 1 :] -= factor * right[k]
    for k in range(count - 1, -1, -1):
        right[k] -= np.sum(matrix[k, k + 1 :] * right[k + 1 :], axis=0)
        right[k] /= matrix[k, k]
    return right


class ArrayWork:
    """States on their way to balance.

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

    def settle(self, *, started: bool) -> Any:
        """Find the pressures; True where a state does not balance (`ventplan.network.newton.settle`)."""
        going = np.ones(self.pressure.shape[1], dtype=bool) if self.pressure.ndim == 2 else True
        return settle(self, going, len(self._couplings) > 0, started)

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
        """Balance at a share of the step: slope of the potential along it, largest imbalance and largest flow."""
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
    """Many states on their way to balance; what the method sees has the shape (states,), settled ones leave the arrays.

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
        """As `ArrayWork.take`, and keep what was found."""
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
