"""A house as arrays: rooms are nodes, and every way for air is a strip or a crack between two of them.

Node i < n is a room, node n is outdoors. The unknown of a room is its static pressure at ground level, against the
air outdoors at that level without wind. A strip is a rectangle with one loss law over its height

    dp(z) = p_a - p_b + offset - gradient (z - z_mid),    dp = a v + b v^2

whose offset holds what wind, stack and jets add at its middle. An opening is one strip; with a jet blown at it,
two (the covered part and the rest). Every strip and crack is a function of dp that never decreases, so the house
has exactly one solution (``docs/model.md``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from operator import attrgetter
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ventplan.physics.buoyancy import net_mass_flow_and_slope, two_way_flow
from ventplan.physics.crack import crack_flow, crack_flow_slope

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Driver = Literal["wind", "stack", "fan"]
DRIVERS: tuple[Driver, ...] = ("wind", "stack", "fan")


@dataclass(frozen=True)
class Strip:
    """One rectangle of an opening with one loss law.

    Attributes
    ----------
    owner
        Index of the opening it belongs to.
    a, b
        Nodes; flow counts from a to b.
    width_m, height_m
        Free width and height [m].
    linear_a, quadratic_a, linear_b, quadratic_b
        Loss coefficients for air from a and from b [Pa s/m], [Pa s2/m2].
    density_a, density_b
        Density of the air at a and b [kg/m3].
    gradient_pa_m
        Fall of dp for each metre of height, g (density_a - density_b), 0 for a horizontal opening [Pa/m].
    wind_pa, stack_pa, fan_pa
        Parts of the offset [Pa].
    jet_from
        Node that the jet comes from which covers this strip, or -1.
    """

    owner: int
    a: int
    b: int
    width_m: float
    height_m: float
    linear_a: float
    quadratic_a: float
    linear_b: float
    quadratic_b: float
    density_a: float = 1.2
    density_b: float = 1.2
    gradient_pa_m: float = 0.0
    wind_pa: float = 0.0
    stack_pa: float = 0.0
    fan_pa: float = 0.0
    jet_from: int = -1


@dataclass(frozen=True)
class Crack:
    """A leak, mass flow = density C dp^n.

    Attributes
    ----------
    owner
        Index of the opening it belongs to, or -1 for the walls of a room.
    a, b
        Nodes; flow counts from a to b.
    coefficient, exponent
        C, flow at 1 Pa [m3/s], and n [-].
    density_a, density_b
        Density of the air at a and b [kg/m3].
    wind_pa, stack_pa, fan_pa
        Parts of the offset [Pa].
    """

    owner: int
    a: int
    b: int
    coefficient: float
    exponent: float
    density_a: float = 1.2
    density_b: float = 1.2
    wind_pa: float = 0.0
    stack_pa: float = 0.0
    fan_pa: float = 0.0


def _columns(rows: Sequence[Strip] | Sequence[Crack], kind: type[Strip] | type[Crack]) -> dict[str, Floats]:
    names = [f.name for f in fields(kind)]
    table = np.array(list(map(attrgetter(*names), rows)), dtype=float).reshape(len(rows), len(names))
    return dict(zip(names, table.T, strict=True))


class FlowNetwork:
    """Arrays of all strips and cracks of one house in one state; not changed once made.

    Parameters
    ----------
    nodes
        Names of the rooms, without outdoors.
    strips, cracks
        The ways for air.

    Attributes
    ----------
    a, b, owner
        Nodes and opening of every link, strips first, shape (links,).
    offset_pa
        Parts of the offset by driver, each of shape (links,) [Pa].
    """

    def __init__(self, nodes: Sequence[str], strips: Sequence[Strip], cracks: Sequence[Crack]) -> None:
        self.nodes = tuple(nodes)
        self.strip_count = len(strips)
        self._strip = _columns(strips, Strip)
        self._crack = _columns(cracks, Crack)
        self.a: Ints = self._both("a").astype(np.int64)
        self.b: Ints = self._both("b").astype(np.int64)
        self.owner: Ints = self._both("owner").astype(np.int64)
        self.offset_pa = {driver: self._both(f"{driver}_pa") for driver in DRIVERS}
        self.total_offset_pa: Floats = sum(self.offset_pa.values(), np.zeros(self.a.size))
        strip = self._strip
        self._strip_law = {
            "stack_gradient_pa_m": strip["gradient_pa_m"],
            "width_m": strip["width_m"],
            "height_m": strip["height_m"],
            "linear_forward": strip["linear_a"],
            "quadratic_forward": strip["quadratic_a"],
            "linear_backward": strip["linear_b"],
            "quadratic_backward": strip["quadratic_b"],
        }

    def _both(self, name: str) -> Floats:
        return np.concatenate([self._strip[name], self._crack[name]])

    @property
    def links(self) -> int:
        """Number of strips and cracks."""
        return int(self.a.size)

    @property
    def strip_figures(self) -> Mapping[str, Floats]:
        """Figures of the strips by the names of `Strip`, each of shape (strips,)."""
        return self._strip

    @property
    def crack_figures(self) -> Mapping[str, Floats]:
        """Figures of the cracks by the names of `Crack`, each of shape (cracks,)."""
        return self._crack

    def driving_pressure(self, pressure_pa: Floats) -> Floats:
        """Pressure difference that drives each link at its middle, p_a - p_b + offset.

        Parameters
        ----------
        pressure_pa
            Pressures of the rooms, shape (rooms,) [Pa].

        Returns
        -------
        ndarray
            Shape (links,) [Pa].
        """
        with_outdoors = np.append(pressure_pa, 0.0)
        driving: Floats = with_outdoors[self.a] - with_outdoors[self.b] + self.total_offset_pa
        return driving

    def mass_flow_and_slope(self, driving_pa: Floats) -> tuple[Floats, Floats]:
        """Net mass flow of each link from a to b, and its slope over the driving pressure.

        Parameters
        ----------
        driving_pa
            As from `driving_pressure`, shape (links,) [Pa].

        Returns
        -------
        tuple of ndarray
            Mass flows [kg/s] and slopes [kg/(s Pa)], both of shape (links,).
        """
        s, strip, crack = self.strip_count, self._strip, self._crack
        flow, slope = np.empty(self.links), np.empty(self.links)
        flow[:s], slope[:s] = net_mass_flow_and_slope(
            dp_mid_pa=driving_pa[:s],
            density_forward=strip["density_a"],
            density_backward=strip["density_b"],
            **self._strip_law,
        )
        if crack["a"].size:
            law = {"coefficient": crack["coefficient"], "exponent": crack["exponent"]}
            density = np.where(driving_pa[s:] >= 0.0, crack["density_a"], crack["density_b"])
            flow[s:] = density * crack_flow(dp_pa=driving_pa[s:], **law)
            slope[s:] = density * crack_flow_slope(dp_pa=driving_pa[s:], **law)
        return flow, slope

    def volume_flows(self, driving_pa: Floats) -> tuple[Floats, Floats]:
        """Volume flow of each link from a to b and from b to a, both >= 0.

        Parameters
        ----------
        driving_pa
            As from `driving_pressure`, shape (links,) [Pa].

        Returns
        -------
        tuple of ndarray
            Forward and backward flow, both of shape (links,) [m3/s].
        """
        s, crack = self.strip_count, self._crack
        forward, backward = np.zeros(self.links), np.zeros(self.links)
        forward[:s], backward[:s] = two_way_flow(dp_mid_pa=driving_pa[:s], **self._strip_law)
        if crack["a"].size:
            flow = crack_flow(dp_pa=driving_pa[s:], coefficient=crack["coefficient"], exponent=crack["exponent"])
            forward[s:], backward[s:] = np.maximum(flow, 0.0), np.maximum(-flow, 0.0)
        return forward, backward

    def imbalance(self, mass_flow: Floats) -> Floats:
        """Net mass that leaves each room.

        Parameters
        ----------
        mass_flow
            Net mass flow of each link, shape (links,) [kg/s].

        Returns
        -------
        ndarray
            Shape (rooms,) [kg/s].
        """
        size = len(self.nodes) + 1
        out = np.bincount(self.a, mass_flow, size) - np.bincount(self.b, mass_flow, size)
        return out[:-1].astype(np.float64, copy=False)
