"""The one solver: room pressures at which every room's air balances.

The imbalances are the gradient of a convex potential of the pressures (each link never decreases), so Newton's
direction always leads downhill and a line search on the slope along it cannot fail: from any start there is one
answer. Houses of up to `DENSE_LIMIT` rooms use dense matrices, larger ones sparse factors and a start that saves steps.
"""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np
from numpy.typing import NDArray

from ventplan.errors import NoAnswerError
from ventplan.network.factors import factors_of
from ventplan.network.laws import mass_law
from ventplan.network.links import FlowNetwork

Floats = NDArray[np.float64]

DENSE_LIMIT = 150
TOLERANCE_KG_S = 1e-10
MAX_STEPS = 200
FLOW_STEPS = 30
NEAR = 1e-6
"""Change of flow over the largest flow at which a start is near enough [-]."""
LEAST_POINT_PA = 1e-15


def cut_off_rooms(network: FlowNetwork) -> tuple[str, ...]:
    """Rooms with no way for air to outdoors, by the graph of the links that carry any.

    Parameters
    ----------
    network
        The house as arrays.

    Returns
    -------
    tuple of str
        Names in the network's order.
    """
    strip, crack = network.strip_figures, network.crack_figures
    carries = np.append(strip["width_m"] * strip["height_m"], crack["coefficient"]) > 0.0
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
    newton = _newton(network)
    pressure = newton.start() if start_pa is None else np.array(start_pa, dtype=float)
    imbalance, flow, slope = newton.balance(pressure)
    for _ in range(MAX_STEPS):
        scale = float(np.max(np.abs(flow), initial=0.0))
        step = newton.step(slope, imbalance)
        if np.max(np.abs(imbalance)) <= TOLERANCE_KG_S * max(1.0, scale):
            # One more step where it helps: it brings the imbalance to rounding.
            after, _, _ = newton.balance(pressure + step)
            return pressure + step if np.max(np.abs(after)) < np.max(np.abs(imbalance)) else pressure
        pressure, imbalance, flow, slope = _search(newton, pressure, step, imbalance)
    worst = int(np.argmax(np.abs(imbalance)))
    raise NoAnswerError(
        f"the air of {network.nodes[worst]!r} does not balance: {imbalance[worst]:.3g} kg/s are left after "
        f"{MAX_STEPS} steps. Please report this house: every house should have an answer."
    )


def solve_linear(network: FlowNetwork, slope: Floats, right: Floats) -> Floats:
    """Solve (graph Laplacian weighted by the slopes, without outdoors) x = right.

    Parameters
    ----------
    network
        The house as arrays.
    slope
        Slope of each link's mass flow over its driving pressure, shape (links,) [kg/(s Pa)].
    right
        Right-hand side, shape (rooms,), or several, shape (rooms, sides); the matrix is factored once.

    Returns
    -------
    ndarray
        The shape of ``right``.
    """
    return _newton(network).step(slope, -right)


class _Newton(ABC):
    """The balance of one network, and the step that Newton's method takes from it."""

    def __init__(self, network: FlowNetwork) -> None:
        self.network = network
        self.law = mass_law(network)

    def balance(self, pressure: Floats) -> tuple[Floats, Floats, Floats]:
        """Imbalances of the rooms, flows and slopes of the links."""
        flow, slope = self.law(self.network.driving_pressure(pressure))
        return self.network.imbalance(flow), flow, slope

    @abstractmethod
    def step(self, slope: Floats, imbalance: Floats) -> Floats:
        """Solve (graph Laplacian weighted by the slopes, without outdoors) step = -imbalance."""

    def start(self) -> Floats:
        """One step with every link's chord at a pascal: the slopes at rest are far too stiff to start from."""
        offset = self.network.total_offset_pa
        _, slope = self.law(np.where(np.abs(offset) > 1.0, offset, 1.0))
        return self.step(slope, self.network.imbalance(slope * offset))


class _DenseNewton(_Newton):
    def step(self, slope: Floats, imbalance: Floats) -> Floats:
        a, b, count = self.network.a, self.network.b, len(self.network.nodes)
        size = count + 1
        diagonal = np.bincount(a, slope, size) + np.bincount(b, slope, size)
        one_way = np.bincount(a * size + b, slope, size * size).reshape(size, size)
        matrix = np.diag(diagonal) - one_way - one_way.T
        step: Floats = np.linalg.solve(matrix[:count, :count], -imbalance)
        return step


class _SparseNewton(_Newton):
    def __init__(self, network: FlowNetwork) -> None:
        super().__init__(network)
        self._factors = factors_of(network.a, network.b, len(network.nodes))

    def step(self, slope: Floats, imbalance: Floats) -> Floats:
        return self._factors.solve(slope, -imbalance)

    def start(self) -> Floats:
        """Go on from the first step with Newton's method for the flows, which needs half the steps in large networks.

        Each link is a straight line through a point of its law. Where the law is nearly a square root, a step of
        pressure from x to x' moves that point as a step of flow would: to (x + x')^2 / 4x. This is Todini and
        Pilati's gradient method (1988) for pipes, carried over; it only has to come near.
        """
        network, offset = self.network, self.network.total_offset_pa
        pressure = super().start()
        point = network.driving_pressure(pressure)
        half = _half_spread(network)
        for _ in range(FLOW_STEPS):
            point = np.where(np.abs(point) < LEAST_POINT_PA, LEAST_POINT_PA, point)
            flow, slope = self.law(point)
            pressure = self.step(slope, network.imbalance(flow + slope * (offset - point)))
            driving = network.driving_pressure(pressure)
            if np.max(np.abs(slope * (driving - point))) < NEAR * np.max(np.abs(flow)):
                break
            middle = point + driving
            moved = middle * np.abs(middle) / (4.0 * np.abs(point))
            point = np.where((np.abs(point) > half) & (np.abs(moved) > half), moved, driving)
        return pressure


def _newton(network: FlowNetwork) -> _Newton:
    return _DenseNewton(network) if len(network.nodes) <= DENSE_LIMIT else _SparseNewton(network)


def _half_spread(network: FlowNetwork) -> Floats:
    """How far the driving pressure of each link changes from its middle to its ends; endless for cracks [Pa]."""
    half = np.full(network.links, np.inf)
    strip = network.strip_figures
    half[: network.strip_count] = np.abs(strip["gradient_pa_m"]) * strip["height_m"] / 2.0
    return half


def _search(
    newton: _Newton, pressure: Floats, step: Floats, imbalance: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Go along the step to where the potential's slope has lost half its size."""
    start_slope = float(imbalance @ step)
    low, low_slope, high, high_slope = 0.0, start_slope, np.inf, np.inf
    share = 1.0
    for _ in range(60):
        trial = pressure + share * step
        trial_imbalance, flow, slope = newton.balance(trial)
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
    return trial, trial_imbalance, flow, slope
