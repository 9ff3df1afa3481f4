"""How links join rooms, and the linear balance of a Newton step: dense, band or sparse, or many states at once.

A `Graph` is one state with a dense matrix (`DenseGraph`), one large state with band or sparse factors (`SparseGraph`),
or many states whose links lie end to end in flat arrays (`StateGraph`).
"""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ventplan.network.links import Couplings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NEAR = 1e-2
"""Change of a flow over the largest flow at which flow steps give way to Newton steps [-]."""
NEAR_IN_LARGE_NETWORKS = 1e-6
"""As `NEAR` for large networks, where Newton steps need many more balances than flow steps [-]."""
WIDEST_BAND = 64
"""Width up to which a band is factored as one (see the table of large networks in ``docs/speed.md``)."""


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
    """Sums and maxima of one state."""

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
        band = BandFactors(a, b, rooms)
        self._factors = band if band.width <= WIDEST_BAND else SparseFactors(a, b, rooms)

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
    """Many states of few rooms; the links of all states lie end to end.

    Parameters
    ----------
    state, a, b
        State and nodes of every link, shape (links,); outdoors is node ``rooms``.
    isolated
        1 for isolated rooms, shape (rooms, states).
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
    """Solve systems (n, n, states) for (n, states) in place, with their diagonals as pivots."""
    count = right.shape[0]
    for k in range(count - 1):
        factor = matrix[k + 1 :, k] / matrix[k, k]
        matrix[k + 1 :, k + 1 :] -= factor[:, None] * matrix[k, k + 1 :]
        right[k + 1 :] -= factor * right[k]
    for k in range(count - 1, -1, -1):
        right[k] -= np.sum(matrix[k, k + 1 :] * right[k + 1 :], axis=0)
        right[k] /= matrix[k, k]
    return right


def elimination_order(rooms: int, a: Ints, b: Ints) -> tuple[Ints, Ints, Ints]:
    """Order the rooms by least degree, and list the later neighbours of each when it is eliminated.

    Parameters
    ----------
    rooms
        Number of rooms; outdoors is the node of that number and is left out.
    a, b
        Nodes of every link, shape (links,).

    Returns
    -------
    tuple of ndarray
        The order, shape (rooms,); and the later neighbours of each room in that order, as rows laid end to end: where
        each row starts, shape (rooms + 1,), and the rows.

    Notes
    -----
    The pattern of a Cholesky factor by symbolic elimination. Least degree first is common practice for sparse symmetric
    matrices; a tree of rooms gets no new entries at all.
    """
    near: dict[int, set[int]] = {room: set() for room in range(rooms)}
    for i, j in zip(a.tolist(), b.tolist(), strict=True):
        if i != j and i < rooms and j < rooms:
            near[i].add(j)
            near[j].add(i)
    order: list[int] = []
    first, later = [0], []
    while near:
        room = min(near, key=lambda each: (len(near[each]), each))
        touched = near.pop(room)
        for other in touched:
            near[other] |= touched
            near[other] -= {room, other}
        order.append(room)
        later += sorted(touched)
        first.append(len(later))
    return np.array(order, dtype=np.int64), np.array(first, dtype=np.int64), np.array(later, dtype=np.int64)


class SparseFactors:
    """Solves (weighted graph Laplacian without outdoors) step = right, for many weights on one graph.

    Parameters
    ----------
    a, b
        Nodes of every link, shape (links,); outdoors is node ``rooms``.
    rooms
        Number of rooms.

    Notes
    -----
    The first factorisation orders the rooms by least degree; later ones reuse that order, which saves half their time.
    The matrix is symmetric and positive definite, so it needs no pivoting.
    """

    def __init__(self, a: Ints, b: Ints, rooms: int) -> None:
        self._rooms = rooms
        rows, columns = np.concatenate([a, b, a, b]), np.concatenate([a, b, b, a])
        self._inside = np.flatnonzero((rows < rooms) & (columns < rooms))
        self._rows, self._columns = rows[self._inside], columns[self._inside]
        self._order: Ints | None = None

    def _lay_out(self, order: Ints) -> None:
        """Where each weight goes in the matrix if room ``order[i]`` is at place i."""
        rooms = self._rooms
        place = np.argsort(order)
        keys, self._entry = np.unique(place[self._columns] * rooms + place[self._rows], return_inverse=True)
        columns, indices = np.divmod(keys, rooms)
        self._indices = indices.astype(np.int32)
        self._starts = np.searchsorted(columns, np.arange(rooms + 1)).astype(np.int32)
        self._order = order

    def solve(self, weights: Floats, right: Floats) -> Floats:
        """Solve for one set of weights.

        Parameters
        ----------
        weights
            Weight of each link, > 0, shape (links,).
        right
            Right-hand side, shape (rooms,), or several, shape (rooms, sides).

        Returns
        -------
        ndarray
            The shape of ``right``.
        """
        from scipy.sparse import coo_matrix, csc_matrix
        from scipy.sparse.linalg import splu

        shape, symmetric = (self._rooms, self._rooms), {"SymmetricMode": True}
        values = np.concatenate([weights, weights, -weights, -weights])[self._inside]
        if self._order is None:
            matrix = coo_matrix((values, (self._rows, self._columns)), shape=shape).tocsc()
            factors = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=symmetric)
            self._lay_out(np.argsort(factors.perm_c))
            first: Floats = factors.solve(right)
            return first
        data = np.bincount(self._entry, values, self._indices.size).astype(np.float64, copy=False)
        matrix = csc_matrix((data, self._indices, self._starts), shape=shape)
        factors = splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, relax=1, panel_size=1, options=symmetric)
        step = np.empty_like(right)
        step[self._order] = factors.solve(right[self._order])
        return step


class BandFactors:
    """As `SparseFactors`, with the rooms ordered so that all weights lie in a narrow band.

    Parameters
    ----------
    a, b
        Nodes of every link, shape (links,); outdoors is node ``rooms``.
    rooms
        Number of rooms.

    Attributes
    ----------
    width
        Largest distance of a weight from the diagonal. A factorisation costs rooms times its square.

    Notes
    -----
    Rooms are in reverse Cuthill-McKee order. Up to `WIDEST_BAND` factors of a band matrix take less time than sparse
    ones, whose entries have to be looked up. If weights differ so much that rounding leaves no positive pivot, sparse
    factors, which tolerate that, are used instead.
    """

    def __init__(self, a: Ints, b: Ints, rooms: int) -> None:
        from scipy.sparse import csr_matrix
        from scipy.sparse.csgraph import reverse_cuthill_mckee

        inner = np.flatnonzero((a < rooms) & (b < rooms))
        ends = np.concatenate([a[inner], b[inner]]), np.concatenate([b[inner], a[inner]])
        graph = csr_matrix((np.ones(2 * inner.size), ends), shape=(rooms, rooms))
        self._order: Ints = reverse_cuthill_mckee(graph, symmetric_mode=True).astype(np.int64)
        place = np.empty(rooms, dtype=np.int64)
        place[self._order] = np.arange(rooms)
        near, far = (end(place[a[inner]], place[b[inner]]) for end in (np.minimum, np.maximum))
        self.width = int(np.max(far - near, initial=0))
        self._rooms, self._graph = rooms, (a, b)
        starts, stops = np.flatnonzero(a < rooms), np.flatnonzero(b < rooms)
        self._links = np.concatenate([starts, stops, inner])
        column = np.concatenate([place[a[starts]], place[b[stops]], near])
        below = np.concatenate([np.zeros(starts.size + stops.size, dtype=np.int64), far - near])
        self._entry = column * (self.width + 1) + below
        self._sign = np.where(np.arange(self._links.size) < starts.size + stops.size, 1.0, -1.0)

    def solve(self, weights: Floats, right: Floats) -> Floats:
        """Solve for one set of weights, as `SparseFactors.solve`."""
        from scipy.linalg import solveh_banded

        values = self._sign * weights[self._links]
        band = np.bincount(self._entry, values, (self.width + 1) * self._rooms).reshape(self._rooms, self.width + 1).T
        try:
            found = solveh_banded(band, right[self._order], overwrite_ab=True, lower=True, check_finite=False)
        except np.linalg.LinAlgError:
            return SparseFactors(*self._graph, self._rooms).solve(weights, right)
        step = np.empty_like(right)
        step[self._order] = found
        return step
