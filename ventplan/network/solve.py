"""The one solver: room pressures at which every room's air balances.

The imbalances are the gradient of a convex potential of the pressures (each link never decreases), so Newton's
direction always leads downhill and a line search on the slope along it cannot fail: from any start there is one
answer. Houses of up to `DENSE_LIMIT` rooms use dense Cholesky-sized systems, larger ones sparse factors.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplan.errors import NoAnswerError
from ventplan.network.links import FlowNetwork

Floats = NDArray[np.float64]

DENSE_LIMIT = 150
TOLERANCE_KG_S = 1e-10
MAX_STEPS = 200


def cut_off_rooms(network: FlowNetwork) -> tuple[str, ...]:
    """Rooms with no way for air to outdoors, by the graph.

    Parameters
    ----------
    network
        The house as arrays.

    Returns
    -------
    tuple of str
        Names in the network's order.
    """
    import networkx as nx

    outdoors = len(network.nodes)
    graph = nx.Graph(zip(network.a.tolist(), network.b.tolist(), strict=True))
    graph.add_nodes_from(range(outdoors + 1))
    reached = nx.node_connected_component(graph, outdoors)
    return tuple(name for i, name in enumerate(network.nodes) if i not in reached)


def solve_pressures(network: FlowNetwork, *, start_pa: Floats | None = None) -> Floats:
    """Find the pressures at which the air of every room balances.

    Parameters
    ----------
    network
        The house as arrays; every room must have a way to outdoors (`cut_off_rooms`).
    start_pa
        Where to start, shape (rooms,) [Pa]; any start gives the same answer, a near one sooner.

    Returns
    -------
    ndarray
        Static pressures at ground level, shape (rooms,) [Pa].

    Raises
    ------
    NoAnswerError
        Where the balance is not reached; says the worst room and its imbalance.

    Notes
    -----
    Newton's method with a line search: for a convex potential E with gradient F (the imbalances) and direction d,
    the slope of E along d is F(p + t d) . d, which rises with t; t is accepted where it has lost half of its size,
    and is found by regula falsi with bisection.
    """
    count = len(network.nodes)
    if count == 0:
        return np.zeros(0)
    pressure = np.zeros(count) if start_pa is None else np.array(start_pa, dtype=float)
    if start_pa is None:
        # One step with every link's chord at a pascal: the slopes at rest are far too stiff to start from.
        driving = network.driving_pressure(pressure)
        _, slope = network.mass_flow_and_slope(np.where(np.abs(driving) > 1.0, driving, 1.0))
        pressure = _newton_step(network, slope, network.imbalance(slope * network.total_offset_pa))
    imbalance, slope = _evaluate(network, pressure)
    for _ in range(MAX_STEPS):
        scale = _throughput(network, pressure)
        if np.max(np.abs(imbalance)) <= TOLERANCE_KG_S * max(1.0, scale):
            return _polish(network, pressure, imbalance, slope)
        step = _newton_step(network, slope, imbalance)
        pressure, imbalance, slope = _search(network, pressure, step, imbalance)
    worst = int(np.argmax(np.abs(imbalance)))
    raise NoAnswerError(
        f"the air of {network.nodes[worst]!r} does not balance: {imbalance[worst]:.3g} kg/s are left after "
        f"{MAX_STEPS} steps. Please report this house: every house should have an answer."
    )


def _evaluate(network: FlowNetwork, pressure: Floats) -> tuple[Floats, Floats]:
    flow, slope = network.mass_flow_and_slope(network.driving_pressure(pressure))
    return network.imbalance(flow), slope


def _throughput(network: FlowNetwork, pressure: Floats) -> float:
    flow, _ = network.mass_flow_and_slope(network.driving_pressure(pressure))
    return float(np.max(np.abs(flow), initial=0.0))


def _polish(network: FlowNetwork, pressure: Floats, imbalance: Floats, slope: Floats) -> Floats:
    """One more step where it helps: it brings the imbalance to rounding."""
    closer = pressure + _newton_step(network, slope, imbalance)
    after, _ = _evaluate(network, closer)
    return closer if np.max(np.abs(after)) < np.max(np.abs(imbalance)) else pressure


def _newton_step(network: FlowNetwork, slope: Floats, imbalance: Floats) -> Floats:
    """Solve (weighted graph Laplacian without outdoors) step = -imbalance."""
    count = len(network.nodes)
    a, b = network.a, network.b
    if count <= DENSE_LIMIT:
        size = count + 1
        diagonal = np.bincount(a, slope, size) + np.bincount(b, slope, size)
        matrix = -np.bincount(a * size + b, slope, size * size).reshape(size, size)
        matrix = matrix + matrix.T
        matrix[np.diag_indices(size)] += diagonal
        step: Floats = np.linalg.solve(matrix[:count, :count], -imbalance)
        return step
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import splu

    rows = np.concatenate([a, b, a, b])
    columns = np.concatenate([a, b, b, a])
    values = np.concatenate([slope, slope, -slope, -slope])
    inside = (rows < count) & (columns < count)
    laplacian = coo_matrix((values[inside], (rows[inside], columns[inside])), shape=(count, count)).tocsc()
    factors = splu(
        laplacian, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    sparse_step: Floats = factors.solve(-imbalance)
    return sparse_step


def _search(
    network: FlowNetwork, pressure: Floats, step: Floats, imbalance: Floats
) -> tuple[Floats, Floats, Floats]:
    """Go along the step to where the potential's slope has lost half its size."""
    start_slope = float(imbalance @ step)
    low, low_slope, high, high_slope = 0.0, start_slope, np.inf, np.inf
    share = 1.0
    for _ in range(60):
        trial = pressure + share * step
        trial_imbalance, slope = _evaluate(network, trial)
        along = float(trial_imbalance @ step)
        if abs(along) <= 0.5 * abs(start_slope) or share * np.max(np.abs(step)) < 1e-14:
            break
        if along < 0.0:
            low, low_slope = share, along
            share = share * 2.0 if not np.isfinite(high) else 0.5 * (low + high)
        else:
            high, high_slope = share, along
            chord = low - low_slope * (high - low) / (high_slope - low_slope)
            share = min(max(chord, low + 0.1 * (high - low)), high - 0.1 * (high - low))
    return trial, trial_imbalance, slope
