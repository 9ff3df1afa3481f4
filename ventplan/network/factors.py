"""Newton steps: the matrix of the rooms, in which order to eliminate them, and its factors in large networks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WIDEST_BAND = 50
"""Bands up to this width are factored as bands (see the table of large networks in ``docs/speed.md``)."""


def elimination_order(rooms: int, a: Ints, b: Ints) -> tuple[Ints, Ints, Ints]:
    """Order the rooms by least degree and say which later rooms each one touches when its turn comes.

    Parameters
    ----------
    rooms
        Number of rooms; outdoors is the node of that number and is left out.
    a, b
        Nodes that each way for air joins, shape (ways,).

    Returns
    -------
    tuple of ndarray
        The order, shape (rooms,); and, as rows laid end to end, the later neighbours of each room in that order: where
        each row starts, shape (rooms + 1,), and the rows.

    Notes
    -----
    The pattern of a Cholesky factor by symbolic elimination; least degree first is common practice for sparse
    symmetric matrices. A tree of rooms gets no new entries at all.
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
    The first factor orders the rooms by least degree; the next ones take that order over, which saves half their
    time. In that order the matrix needs no pivots, since it is symmetric and positive definite.
    """

    def __init__(self, a: Ints, b: Ints, rooms: int) -> None:
        self._rooms = rooms
        rows, columns = np.concatenate([a, b, a, b]), np.concatenate([a, b, b, a])
        self._inside = np.flatnonzero((rows < rooms) & (columns < rooms))
        self._rows, self._columns = rows[self._inside], columns[self._inside]
        self._order: Ints | None = None

    def _lay_out(self, order: Ints) -> None:
        """Work out where each weight goes in the matrix when room ``order[i]`` stands at place i."""
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
    """Solves as `SparseFactors`, with the rooms ordered so that all weights lie in a narrow band.

    Parameters
    ----------
    a, b
        Nodes of every link, shape (links,); outdoors is node ``rooms``.
    rooms
        Number of rooms.

    Attributes
    ----------
    width
        How far from the diagonal a weight lies at most. Factors cost rooms times its square.

    Notes
    -----
    Rooms are ordered by the reverse of Cuthill and McKee's method. Below `WIDEST_BAND` the factors of a band matrix
    take less time than sparse ones, whose every entry has to be looked up. They cannot be made where weights differ so
    much that rounding eats a pivot; the sparse ones, which put up with that, step in.
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
        self._entry = np.concatenate([place[a[starts]], place[b[stops]], (far - near) * rooms + near])
        self._sign = np.where(np.arange(self._links.size) < starts.size + stops.size, 1.0, -1.0)

    def solve(self, weights: Floats, right: Floats) -> Floats:
        """Solve for one set of weights, as `SparseFactors.solve`."""
        from scipy.linalg import solveh_banded

        values = self._sign * weights[self._links]
        band = np.bincount(self._entry, values, (self.width + 1) * self._rooms).reshape(self.width + 1, self._rooms)
        try:
            found = solveh_banded(band, right[self._order], overwrite_ab=True, lower=True, check_finite=False)
        except np.linalg.LinAlgError:
            return SparseFactors(*self._graph, self._rooms).solve(weights, right)
        step = np.empty_like(right)
        step[self._order] = found
        return step


def factors_of(a: Ints, b: Ints, rooms: int) -> BandFactors | SparseFactors:
    """The cheaper of the two for a graph.

    Parameters
    ----------
    a, b
        Nodes of every link, shape (links,); outdoors is node ``rooms``.
    rooms
        Number of rooms.
    """
    band = BandFactors(a, b, rooms)
    return band if band.width <= WIDEST_BAND else SparseFactors(a, b, rooms)
