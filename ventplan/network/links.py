"""A house as arrays: rooms are nodes, and every link for air is a strip or a crack between two of them.

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

from ventplan.physics.buoyancy import one_way_flow
from ventplan.physics.crack import crack_flow

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Driver = Literal["wind", "stack", "fan"]
DRIVERS: tuple[Driver, ...] = ("wind", "stack", "fan")

FIGURES = 9
SIZE, OFFSET, DENSITY_A, DENSITY_B, SHAPE, LINEAR_A, QUADRATIC_A, LINEAR_B, QUADRATIC_B = range(FIGURES)
"""Rows of the figures of a link. Its size is the area of a strip [m2] or the flow of a crack at 1 Pa [m3/s]; its shape
is the change of dp from the middle of a strip to its ends [Pa] or the exponent of a crack [-]."""


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

    @property
    def figures(self) -> tuple[float, ...]:
        """Its figures, in the order of `SIZE` and what follows it."""
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

    @property
    def figures(self) -> tuple[float, ...]:
        """Its figures, in the order of `SIZE` and what follows it."""
        offset = self.wind_pa + self.stack_pa + self.fan_pa
        return (self.coefficient, offset, self.density_a, self.density_b, self.exponent, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Coupling:
    """A link that is also driven by a share of the pressure drop at another one, in line with it.

    Attributes
    ----------
    source, target
        Indices of the link that the stream comes through and of the one that catches it; strips first, then cracks.
    sign
        1 where the stream goes from a to b of the source link, -1 where it goes from b to a.
    share
        Part of the drop that arrives, counted from a to b of the target link, so negative where the stream goes from
        b to a of it [-].
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
        """Driving pressures: the static differences of all links, and what couplings of these slopes add."""
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
        """Those among some of the links, whose source and target are both there or both gone."""
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
        Driving pressure below which a link does not follow a square root: where air passes a strip both ways; endless
        for cracks, shape (links,) [Pa].
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
        """Volume flow of each link from a to b and from b to a, both >= 0.

        Parameters
        ----------
        driving_pa
            Driving pressure at the middle of each link, shape (links,) [Pa].

        Returns
        -------
        tuple of ndarray
            Forward and backward flow, both of shape (links,) [m3/s].
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
    strip_figures, crack_figures
        Figures by the names of `Strip` and of `Crack`, each of shape (strips,) or (cracks,).
    """

    def __init__(
        self,
        nodes: Sequence[str],
        strips: Sequence[Strip],
        cracks: Sequence[Crack],
        couplings: Sequence[Coupling] = (),
    ) -> None:
        self.nodes = tuple(nodes)
        self.strip_count = len(strips)
        self.couplings = Couplings.of(couplings)
        self.strip_figures: Mapping[str, Floats] = _columns(strips, Strip)
        self.crack_figures: Mapping[str, Floats] = _columns(cracks, Crack)
        self.a: Ints = self._both("a").astype(np.int64)
        self.b: Ints = self._both("b").astype(np.int64)
        self.owner: Ints = self._both("owner").astype(np.int64)
        self.offset_pa = {driver: self._both(f"{driver}_pa") for driver in DRIVERS}
        figures = [*(strip.figures for strip in strips), *(crack.figures for crack in cracks)]
        self.laws = LinkLaws(np.array(figures, dtype=float).reshape(len(figures), FIGURES).T.copy(), len(strips))
        self.total_offset_pa: Floats = self.laws.figures[OFFSET]

    def _both(self, name: str) -> Floats:
        return np.concatenate([self.strip_figures[name], self.crack_figures[name]])

    @property
    def links(self) -> int:
        """Number of strips and cracks."""
        return int(self.a.size)

    def static_pressure(self, pressure_pa: Floats) -> Floats:
        """Pressure difference of each link at its middle, p_a - p_b + offset, without couplings.

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
        static: Floats = with_outdoors[self.a] - with_outdoors[self.b] + self.total_offset_pa
        return static

    def driving_pressure(self, pressure_pa: Floats) -> Floats:
        """Pressure that drives each link at its middle: its static difference, and what couplings add.

        Parameters
        ----------
        pressure_pa
            Pressures of the rooms, shape (rooms,) [Pa].

        Returns
        -------
        ndarray
            Shape (links,) [Pa].
        """
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
