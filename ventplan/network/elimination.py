"""In which order to eliminate the rooms of a house, so that few new entries arise."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


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
