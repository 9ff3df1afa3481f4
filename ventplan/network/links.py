"""A house as arrays: rooms are nodes, and every link for air between two of them is a strip or a crack.

Node i < n is a room, node n is outdoors. The unknown of a room is its static pressure at ground level, relative to the
still air outdoors at that level. A strip is a rectangle with one loss law over its height

    dp(z) = p_a - p_b + offset - gradient (z - z_mid),    dp = a v + b v^2

whose offset is what wind, stack and jets add at its middle. An opening is one strip; with a jet aimed at it, two or
three (the covered part, and the rest in each direction). The flow of every strip and crack never decreases with dp, so
the house has exactly one solution (``docs/model.md``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ventplan.physics.buoyancy import one_way_flow
from ventplan.physics.orifice import crack_flow

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Driver = Literal["wind", "stack", "fan"]
DRIVERS: tuple[Driver, ...] = ("wind", "stack", "fan")

FIGURES = 9
SIZE, OFFSET, DENSITY_A, DENSITY_B, SHAPE, LINEAR_A, QUADRATIC_A, LINEAR_B, QUADRATIC_B = range(FIGURES)
"""Rows of the figures of links. Size: area of a strip [m2], or flow of a crack at 1 Pa [m3/s]. Shape: change of dp from
the middle of a strip to its ends [Pa], or exponent of a crack [-]."""


@dataclass(frozen=True)
class Strip:
    """One rectangle of an opening with one loss law.

    Attributes
    ----------
    owner
        Index of the opening it belongs to.
    a, b
        Nodes; flow is counted from a to b.
    width_m, height_m
        Free width and height [m].
    linear_a, quadratic_a, linear_b, quadratic_b
        Loss coefficients for air from a and from b [Pa s/m], [Pa s2/m2].
    density_a, density_b
        Density of the air at a and b [kg/m3].
    gradient_pa_m
        Decrease of dp per height, g (density_a - density_b); 0 for a horizontal opening [Pa/m].
    wind_pa, stack_pa, fan_pa
        Parts of the offset [Pa].
    jet_from
        Node that the jet comes from if one covers this strip, else -1.
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

    def losses(self, sign: float) -> tuple[float, float]:
        """Linear and quadratic loss coefficient for air from a to b (sign 1) or from b to a (sign -1)."""
        return (self.linear_a, self.quadratic_a) if sign > 0.0 else (self.linear_b, self.quadratic_b)

    @property
    def figures(self) -> tuple[float, ...]:
        """Its figures, in the order of the rows `SIZE` to `QUADRATIC_B`."""
        return (
            self.width_m * self.height_m,
            self.wind_pa + self.stack_pa + self.fan_pa,
            self.density_a,
            self.density_b,
            abs(self.gradient_pa_m) * self.height_m / 2.0,
            self.linear_a,
            self.quadratic_a,
            self.linear_b,
            self.quadratic_b,
        )


@dataclass(frozen=True)
class Crack:
    """A leak with mass flow = density C dp^n.

    Attributes
    ----------
    owner
        Index of the opening it belongs to, or -1 for the walls of a room.
    a, b
        Nodes; flow is counted from a to b.
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

    @property
    def figures(self) -> tuple[float, ...]:
        """Its figures, in the order of the rows `SIZE` to `QUADRATIC_B`."""
        offset = self.wind_pa + self.stack_pa + self.fan_pa
        return (self.coefficient, offset, self.density_a, self.density_b, self.exponent, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Coupling:
    """A link that is also driven by a share of the pressure drop at another one, in line with it.

    Attributes
    ----------
    source, target
        Indices of the link that a jet comes through and of the one that captures it; strips first, then cracks.
    sign
        1 if the jet goes from a to b of the source link, -1 if it goes from b to a.
    share
        Part of the drop that arrives, counted from a to b of the target link; negative if the jet goes from b to a of
        it [-].
    """

    source: int
    target: int
    sign: float
    share: float


class Couplings:
    """Links that are also driven by a share of the drop at others, as arrays.

    Parameters
    ----------
    source, target
        Indices of links, shape (couplings,).
    sign, share
        As in `ventplan.network.links.Coupling`, shape (couplings,).
    """

    def __init__(self, source: Ints, target: Ints, sign: Floats, share: Floats) -> None:
        self.source, self.target, self.sign, self.share = source, target, sign, share

    @classmethod
    def of(cls, couplings: Sequence[Coupling]) -> Couplings:
        """From single couplings."""
        return cls(
            np.array([each.source for each in couplings], dtype=np.int64),
            np.array([each.target for each in couplings], dtype=np.int64),
            np.array([each.sign for each in couplings], dtype=float),
            np.array([each.share for each in couplings], dtype=float),
        )

    def __len__(self) -> int:
        return int(self.source.size)

    def gains(self, static: Floats) -> Floats:
        """Slope of each coupling: what the target's driving pressure gains for each pascal at the source."""
        sign = self.sign
        return np.where(sign * static[self.source] > 0.0, sign * self.share, 0.0)

    def drive(self, static: Floats, gains: Floats) -> Floats:
        """Driving pressures: the static differences of all links, plus what couplings of these slopes add."""
        if not self.source.size:
            return static
        driving: Floats = static + np.bincount(self.target, gains * static[self.source], static.size)
        return driving

    def drawn(self, by_driving: Floats, gains: Floats) -> Floats:
        """Derivatives by the static differences, from those by the driving pressures: the transpose of `drive`."""
        if not self.source.size:
            return by_driving
        back: Floats = by_driving + np.bincount(self.source, gains * by_driving[self.target], by_driving.size)
        return back

    def only(self, links: Bools) -> Couplings:
        """Those between some of the links; source and target are both kept or both left out."""
        number, keep = np.cumsum(links) - 1, links[self.source]
        return Couplings(number[self.source[keep]], number[self.target[keep]], self.sign[keep], self.share[keep])


class LinkLaws:
    """The laws of many links, in numpy.

    Parameters
    ----------
    figures
        Figures of the links, strips first, shape (`FIGURES`, links).
    strips
        Number of strips.

    Attributes
    ----------
    bend_pa
        Driving pressure below which a link does not follow a square root, because air passes both ways; infinite for
        cracks, shape (links,) [Pa].
    """

    def __init__(self, figures: Floats, strips: int) -> None:
        self.figures, self.strips = figures, strips
        self._half = figures[SHAPE, :strips]
        self._linear = figures[[LINEAR_A, LINEAR_B], :strips]
        self._quadratic = figures[[QUADRATIC_A, QUADRATIC_B], :strips]
        self._area, self._coefficient = figures[SIZE, :strips], figures[SIZE, strips:]
        self._exponent = figures[SHAPE, strips:]
        self._density = figures[[DENSITY_A, DENSITY_B]]
        self._carried = self._density[:, :strips] * self._area
        self._has_cracks = strips < figures.shape[1]
        self.bend_pa: Floats = np.append(self._half, np.full(figures.shape[1] - strips, np.inf))

    def mass_flow_and_slope(self, driving_pa: Floats) -> tuple[Floats, Floats]:
        """Net mass flow of each link from a to b, and its slope over the driving pressure.

        Parameters
        ----------
        driving_pa
            Driving pressure at the middle of each link, shape (links,) [Pa].

        Returns
        -------
        tuple of ndarray
            Mass flows [kg/s] and slopes [kg/(s Pa)], both of shape (links,).
        """
        velocity, slope = self._strip_flows(driving_pa[: self.strips])
        carried, steepness = self._carried * velocity, self._carried * slope
        flow, steep = carried[0] - carried[1], steepness[0] + steepness[1]
        if not self._has_cracks:
            return flow, steep
        volume, rise = crack_flow(driving_pa[self.strips :], self._coefficient, self._exponent)
        density_a, density_b = self._density[:, self.strips :]
        density = np.where(np.asarray(volume) >= 0.0, density_a, density_b)
        return np.concatenate([flow, density * volume]), np.concatenate([steep, density * rise])

    def volume_flows(self, driving_pa: Floats) -> tuple[Floats, Floats]:
        """Volume flow of each link from a to b, and from b to a.

        Parameters
        ----------
        driving_pa
            Driving pressure at the middle of each link, shape (links,) [Pa].

        Returns
        -------
        tuple of ndarray
            Forward and backward flow, both >= 0 and of shape (links,) [m3/s].
        """
        velocity, _ = self._strip_flows(driving_pa[: self.strips])
        volume, _ = crack_flow(driving_pa[self.strips :], self._coefficient, self._exponent)
        forward = np.concatenate([self._area * velocity[0], np.maximum(volume, 0.0)])
        return forward, np.concatenate([self._area * velocity[1], np.maximum(-np.asarray(volume), 0.0)])

    def only(self, keep: Bools) -> LinkLaws:
        """The laws of some of the links."""
        return LinkLaws(self.figures[:, keep], int(np.count_nonzero(keep[: self.strips])))

    def _strip_flows(self, driving_pa: Floats) -> tuple[Floats, Floats]:
        """Velocity over the whole area each way, and its slope, both of shape (2, strips)."""
        both_ways = np.stack([driving_pa, -driving_pa])
        velocity, slope = one_way_flow(both_ways, self._half, self._linear, self._quadratic)
        return np.asarray(velocity), np.asarray(slope)


class FlowNetwork:
    """Arrays of all strips and cracks of one house in one state; not changed once made.

    Parameters
    ----------
    nodes
        Names of the rooms, without outdoors.
    strips, cracks
        The links.
    couplings
        Links that are also driven by the drop at others.

    Attributes
    ----------
    a, b, owner
        Nodes and opening of every link, strips first, shape (links,).
    laws
        The laws of the links.
    offset_pa
        Parts of the offset by driver, each of shape (links,) [Pa].
    """

    def __init__(
        self,
        nodes: Sequence[str],
        strips: Sequence[Strip],
        cracks: Sequence[Crack],
        couplings: Sequence[Coupling] = (),
    ) -> None:
        links: list[Strip | Crack] = [*strips, *cracks]
        self.nodes, self.links = tuple(nodes), len(links)
        self.couplings = Couplings.of(couplings)
        ends = np.array([(link.a, link.b, link.owner) for link in links], dtype=np.int64).reshape(-1, 3)
        self.a, self.b, self.owner = ends.T.copy()
        offsets = np.array([(link.wind_pa, link.stack_pa, link.fan_pa) for link in links], dtype=float).reshape(-1, 3)
        self.offset_pa = dict(zip(DRIVERS, offsets.T, strict=True))
        figures = np.array([link.figures for link in links], dtype=float).reshape(-1, FIGURES)
        self.laws = LinkLaws(figures.T.copy(), len(strips))

    def static_pressure(self, pressure_pa: Floats) -> Floats:
        """Pressure difference at the middle of each link, p_a - p_b + offset, for pressures of the rooms [Pa]."""
        with_outdoors = np.append(pressure_pa, 0.0)
        static: Floats = with_outdoors[self.a] - with_outdoors[self.b] + self.laws.figures[OFFSET]
        return static

    def driving_pressure(self, pressure_pa: Floats) -> Floats:
        """Pressure that drives each link: its static difference, plus what couplings add [Pa]."""
        static = self.static_pressure(pressure_pa)
        return self.couplings.drive(static, self.couplings.gains(static))

    def coupling_gains(self, pressure_pa: Floats) -> Floats:
        """Gain of each coupling's target for each pascal at its source (`Couplings.gains`), shape (couplings,)."""
        return self.couplings.gains(self.static_pressure(pressure_pa))

    def mass_flow_and_slope(self, driving_pa: Floats) -> tuple[Floats, Floats]:
        """Net mass flow of each link [kg/s] and its slope [kg/(s Pa)], as `LinkLaws.mass_flow_and_slope`."""
        return self.laws.mass_flow_and_slope(driving_pa)

    def volume_flows(self, driving_pa: Floats) -> tuple[Floats, Floats]:
        """Volume flow of each link both ways [m3/s], as `LinkLaws.volume_flows`."""
        return self.laws.volume_flows(driving_pa)

    def imbalance(self, mass_flow: Floats) -> Floats:
        """Net mass flow that leaves each room, for net mass flows of the links [kg/s]."""
        size = len(self.nodes) + 1
        out = np.bincount(self.a, mass_flow, size) - np.bincount(self.b, mass_flow, size)
        return out[:-1].astype(np.float64, copy=False)
