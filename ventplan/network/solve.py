"""The pressures of one network, by the one method of `ventplan.network.newton`."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplan.errors import NoAnswerError
from ventplan.network import compiled
from ventplan.network.links import SIZE, Couplings, FlowNetwork
from ventplan.network.newton import MAX_ROUNDS
from ventplan.network.numpy_engine import ArrayWork, DenseGraph, Graph, SparseGraph

Floats = NDArray[np.float64]

DENSE_LIMIT = 150
"""Rooms up to which the matrix is dense."""


def isolated_rooms(network: FlowNetwork) -> tuple[str, ...]:
    """Rooms with no path for air to outdoors, by the graph of the links that carry any.

    Parameters
    ----------
    network
        The house as arrays.

    Returns
    -------
    tuple of str
        Names in the network's order.
    """
    carries = network.laws.figures[SIZE] > 0.0
    a, b = network.a[carries], network.b[carries]
    reached = np.arange(len(network.nodes) + 1) == len(network.nodes)
    while np.any(front := reached[a] != reached[b]):
        reached[a[front]] = reached[b[front]] = True
    return tuple(name for name, found in zip(network.nodes, reached[:-1], strict=True) if not found)


def solve_pressures(network: FlowNetwork, *, start_pa: Floats | None = None) -> Floats:
    """Find the pressures at which the air of every room balances.

    Parameters
    ----------
    network
        The house as arrays; every room must have a path to outdoors (`isolated_rooms`).
    start_pa
        Where to start, shape (rooms,) [Pa]; without couplings any start gives the same answer, a near one sooner.

    Returns
    -------
    ndarray
        Static pressures at ground level, shape (rooms,) [Pa].

    Raises
    ------
    NoAnswerError
        Where the balance is not reached; says the worst room and its imbalance.
    """
    rooms = len(network.nodes)
    if rooms == 0:
        return np.zeros(0)
    engine = compiled.loaded()
    if engine is not None and rooms <= DENSE_LIMIT:
        pressure, failed = compiled.solve_network(engine, network, start_pa)
    else:
        start = np.zeros(rooms) if start_pa is None else np.array(start_pa, dtype=float)
        work = ArrayWork(network.laws, _graph(network), network.couplings, start)
        failed = work.settle(started=start_pa is not None)
        pressure = work.pressure
    if failed:
        left = network.imbalance(network.mass_flow_and_slope(network.driving_pressure(pressure))[0])
        worst = int(np.argmax(np.abs(left)))
        raise NoAnswerError(
            f"the air of {network.nodes[worst]!r} does not balance: {left[worst]:.3g} kg/s are left after "
            f"{MAX_ROUNDS} rounds. Please report this house: every house should have an answer."
        )
    return pressure


def solve_linear(
    network: FlowNetwork, slope: Floats, right: Floats, *, gains: Floats | None = None, transposed: bool = False
) -> Floats:
    """Solve (graph Laplacian weighted by the slopes, without outdoors) x = right.

    Parameters
    ----------
    network
        The house as arrays.
    slope
        Slope of each link's mass flow over its driving pressure, shape (links,) [kg/(s Pa)].
    right
        Right-hand side, shape (rooms,), or several, shape (rooms, sides); the matrix is factored once.
    gains
        Slopes of the network's couplings in the solution (`FlowNetwork.coupling_gains`), shape (couplings,); left out,
        couplings are not part of the matrix.
    transposed
        Solve with the transposed matrix, which differs with couplings alone.

    Returns
    -------
    ndarray
        The shape of ``right``.
    """
    couplings = network.couplings
    if gains is None:
        return _graph(network).solve(slope, right, Couplings.of(()), slope[:0])
    if transposed:
        weights = slope[couplings.target] * gains / slope[couplings.source]
        turned = Couplings(couplings.target, couplings.source, couplings.sign, couplings.share)
        return _graph(network).solve(slope, right, turned, weights)
    return _graph(network).solve(slope, right, couplings, gains)


def _graph(network: FlowNetwork) -> Graph:
    kind = DenseGraph if len(network.nodes) <= DENSE_LIMIT else SparseGraph
    return kind(network.a, network.b, len(network.nodes))
