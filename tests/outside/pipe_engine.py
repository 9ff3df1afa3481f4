"""Networks of purely quadratic losses, for our solver and for the engine of EPANET.

A room is a junction without demand; each opening to outdoors ends at a reservoir of its own whose head is the wind
pressure there. Units are feet and cubic feet a second in name only: the engine then solves h = m q^2 with no
conversion, so that its head is our pascal and its flow our m3/s.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ventplan.network.links import FlowNetwork, Strip

NEARLY_NO_LINEAR = 1e-8
"""Linear over quadratic coefficient of our strips [m/s]: it takes off 0.1 % at 5e-6 m3/s."""
MINOR_LOSS = 0.02517
"""m = 0.02517 K / d^4 for a loss coefficient K, in feet and seconds (Rossman et al. 2020, EPANET 2.2 User Manual,
EPA/600/R-20/133, section 3.1, minor losses; from memory)."""


@dataclass(frozen=True)
class QuadraticNetwork:
    """Rooms joined by dp = loss q |q|.

    Attributes
    ----------
    rooms
        Number of rooms; that number itself stands for outdoors.
    a, b
        Ends of each link; only ``b`` may be outdoors.
    loss
        Loss of each link [Pa s2/m6].
    outside_pa
        Pressure outdoors at each link, 0 for links between rooms [Pa].
    """

    rooms: int
    a: np.ndarray
    b: np.ndarray
    loss: np.ndarray
    outside_pa: np.ndarray

    def as_strips(self) -> list[Strip]:
        """One strip of a square metre each, with density 1 so that mass flow is volume flow."""
        return [
            Strip(i, int(a), int(b), 1.0, 1.0, NEARLY_NO_LINEAR * m, m, NEARLY_NO_LINEAR * m, m, 1.0, 1.0, wind_pa=-p)
            for i, (a, b, m, p) in enumerate(zip(self.a, self.b, self.loss, self.outside_pa, strict=True))
        ]

    def as_flow_network(self) -> FlowNetwork:
        """The same for our solver."""
        return FlowNetwork([f"room {i}" for i in range(self.rooms)], self.as_strips(), [])


def random_quadratic(seed: int, rooms: int) -> QuadraticNetwork:
    """A tree over the rooms, about as many links again across it, and windows in a third of the rooms."""
    random = np.random.default_rng(seed)
    a, b = [], []
    for room in range(1, rooms):
        a.append(int(random.integers(max(0, room - 5), room)))
        b.append(room)
    for _ in range(rooms - 1):
        first, second = random.choice(rooms, 2, replace=False) if rooms > 1 else (0, 0)
        a.append(int(first))
        b.append(int(second))
    outside = random.choice(rooms, max(2, rooms // 3), replace=rooms < 2)
    return _with_outdoors(random, rooms, a, b, outside.tolist())


def square_grid(seed: int, side: int) -> QuadraticNetwork:
    """Rooms on a square grid, each joined to its neighbours, with windows along the four sides."""
    random = np.random.default_rng(seed)
    number = np.arange(side * side).reshape(side, side)
    a = [*number[:, :-1].ravel().tolist(), *number[:-1].ravel().tolist()]
    b = [*number[:, 1:].ravel().tolist(), *number[1:].ravel().tolist()]
    outside = [*number[0].tolist(), *number[-1].tolist(), *number[:, 0].tolist(), *number[:, -1].tolist()]
    return _with_outdoors(random, side * side, a, b, outside)


def _with_outdoors(
    random: np.random.Generator, rooms: int, a: list[int], b: list[int], outside: list[int]
) -> QuadraticNetwork:
    wind = np.concatenate([np.zeros(len(a)), random.normal(0.0, 3.0, len(outside))])
    a, b = a + outside, b + [rooms] * len(outside)
    area = 10.0 ** random.uniform(-2.0, 0.3, len(a))
    return QuadraticNetwork(rooms, np.array(a), np.array(b), 1.2 / (2.0 * (0.62 * area) ** 2), wind)


class PipeEngine:
    """EPANET's engine on one such network; use as a context.

    Parameters
    ----------
    network
        What to solve.
    tolerance
        Head error of any pipe at which the engine stops, besides its finest relative accuracy of 1e-5.
    """

    def __init__(self, network: QuadraticNetwork, *, tolerance: float = 1e-7) -> None:
        from epanet import toolkit

        self._toolkit = toolkit
        self.network = network
        self._folder = tempfile.TemporaryDirectory()
        folder = Path(self._folder.name)
        (folder / "net.inp").write_text(_input_file(network, tolerance))
        self._project = toolkit.createproject()
        toolkit.open(self._project, str(folder / "net.inp"), str(folder / "net.rpt"), str(folder / "net.out"))
        toolkit.openH(self._project)

    def solve(self) -> None:
        """Solve once from the engine's own starting flows."""
        self._toolkit.initH(self._project, self._toolkit.INITFLOW)
        self._toolkit.runH(self._project)

    def flows(self) -> np.ndarray:
        """Flow of each link as last solved, shape (links,)."""
        value = self._toolkit.getlinkvalue
        return np.array([value(self._project, i + 1, self._toolkit.FLOW) for i in range(self.network.a.size)])

    def trials(self) -> float:
        """How many Newton steps the last solve took."""
        return float(self._toolkit.getstatistic(self._project, self._toolkit.ITERATIONS))

    def __enter__(self) -> PipeEngine:
        return self

    def __exit__(self, *_: object) -> None:
        self._toolkit.closeH(self._project)
        self._toolkit.close(self._project)
        self._toolkit.deleteproject(self._project)
        self._folder.cleanup()


def _input_file(network: QuadraticNetwork, tolerance: float) -> str:
    """The network in the engine's own format: pipes of a foot with next to no friction and K = m / 0.02517."""
    outside = network.b == network.rooms
    junctions = [f" J{i} 0" for i in range(network.rooms)]
    reservoirs = [f" R{i} {network.outside_pa[i]:.12g}" for i in np.flatnonzero(outside)]
    ends = [f"R{i}" if outside[i] else f"J{network.b[i]}" for i in range(network.a.size)]
    pipes = [
        f" P{i} J{network.a[i]} {ends[i]} 1e-6 12 1e4 {network.loss[i] / MINOR_LOSS:.12g} Open"
        for i in range(network.a.size)
    ]
    return "\n".join(
        [
            "[JUNCTIONS]",
            *junctions,
            "[RESERVOIRS]",
            *reservoirs,
            "[PIPES]",
            *pipes,
            "[TIMES]",
            " Duration 0",
            "[REPORT]",
            " Status No",
            " Messages No",
            "[OPTIONS]",
            " Units CFS",
            " Headloss H-W",
            " Trials 200",
            " Accuracy 1e-5",
            f" HeadError {tolerance:g}",
            "[END]",
            "",
        ]
    )
