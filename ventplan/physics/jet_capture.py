"""What of the jets aimed at a rectangular opening it captures, and how that drives air through it.

In the plane of the opening the momentum flux density of all jets and of their mirror images adds (Reichardt;
`ventplan.physics.jet_path`), m = sum of m_i, and

    captured flow      Qc = integral of sqrt(m / rho) over the opening
    captured momentum  Mc = integral of m over the opening
    covered area       Ac = area of the opening inside the edge of a jet

The covered part then passes air by the momentum balance of an ejector, and the rest is a plain orifice:

    Mc + dp Ac = beta rho Q^2 / Ac + Ac (a v + b v^2),   v = Q / Ac,   beta = Mc Ac / (rho Qc^2)

with a, b the loss of a screen in it, which evens the flow out, so beta is 1 there (Taylor & Batchelor 1949, Q. J. Mech.
Appl. Math. 2:1: a screen of loss coefficient 2 leaves a tenth of a variation of speed; from memory). Both parts follow
the law of `ventplan.physics.orifice`, the covered part with the pressure Mc / Ac added to dp, so an opening with a jet
is as monotone as one without. Air returns beside the jet only if the pressure overcomes the drag of the edge of the jet
(`JetCapture.drag_pa`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ventplan.physics.jet_path import JetAtPlane, drag_share, momentum_density

Floats = NDArray[np.float64]

LONGEST_PIECE = 10.0
"""Longest piece of an opening over which 32 nodes integrate a jet to within 1e-6, in half-widths [-]."""
SHARP_EDGE = 0.5
"""Mixing over the side of the source below which the edges of the core of a jet get pieces of their own [-]."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)


@dataclass(frozen=True)
class JetCapture:
    """What an opening captures of all jets from one side.

    Attributes
    ----------
    flow_m3_s
        Captured flow Qc at no pressure difference, without the air that a fan close by draws back from outside [m3/s].
    momentum_n
        Captured momentum Mc [N].
    covered_m2
        Covered area Ac [m2].
    pressure_rise_pa
        Pressure before the opening above that in the rest of the room [Pa].
    drag_pa
        Pressure against the jets up to which no air returns beside them [Pa].
    """

    flow_m3_s: float
    momentum_n: float
    covered_m2: float
    pressure_rise_pa: float
    drag_pa: float = 0.0

    def covered_coefficients(self, *, density: float, screened: bool = False) -> tuple[float, float]:
        """Driving pressure Mc / Ac [Pa] and quadratic coefficient beta rho = Mc Ac / Qc^2 [Pa s2/m2].

        Parameters
        ----------
        density
            Air density [kg/m3]; the coefficient is at least 0.5 rho, the least that a real flow can have.
        screened
            True with a screen in place: beta is 1.
        """
        if self.covered_m2 <= 0.0 or self.flow_m3_s <= 0.0:
            return 0.0, density
        beta_density = self.momentum_n * self.covered_m2 / self.flow_m3_s**2
        return self.momentum_n / self.covered_m2, density if screened else max(beta_density, 0.5 * density)


def _nodes(cuts_m: Sequence[float]) -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes and weights on each piece between neighbouring cuts."""
    edges = np.asarray(cuts_m, dtype=float)
    middles, halves = (edges[1:] + edges[:-1]) / 2.0, (edges[1:] - edges[:-1]) / 2.0
    return (middles[:, None] + halves[:, None] * _NODES).ravel(), (halves[:, None] * _WEIGHTS).ravel()


def _fine_nodes(length_m: float, jets: Sequence[tuple[float, float, float, float]]) -> tuple[Floats, Floats]:
    """Nodes over an opening, on pieces short enough for jets of these middles, half-widths, sides and mixings."""
    side = length_m / 2.0
    pieces = max(1, math.ceil(length_m / (LONGEST_PIECE * min(jet[1] for jet in jets))))
    cuts = set(np.linspace(-side, side, pieces + 1).tolist())
    for middle, _, core, mixing in jets:
        if mixing < SHARP_EDGE * core:
            cuts |= {cut for cut in (middle - core / 2.0, middle + core / 2.0) if abs(cut) < side}
    return _nodes(sorted(cuts))


def _covered_area(jets: Sequence[JetAtPlane], width_m: float, height_m: float) -> float:
    """Area of the opening inside the edge of any jet: the union of the chords of their ellipses, over y."""
    side, bottom, top = width_m / 2.0, -height_m / 2.0, height_m / 2.0
    ends = [jet.y_m + edge for jet in jets for edge in jet.y_edge_m]
    y, y_weights = _nodes(sorted({-side, side, *(end for end in ends if -side < end < side)}))
    chords = []
    for jet in jets:
        y_middle, y_reach = jet.y_m + sum(jet.y_edge_m) / 2.0, (jet.y_edge_m[1] - jet.y_edge_m[0]) / 2.0
        z_middle, z_reach = jet.z_m + sum(jet.z_edge_m) / 2.0, (jet.z_edge_m[1] - jet.z_edge_m[0]) / 2.0
        reach = z_reach * np.sqrt(np.maximum(1.0 - ((y - y_middle) / y_reach) ** 2, 0.0))
        chords.append((np.clip(z_middle - reach, bottom, top), np.clip(z_middle + reach, bottom, top)))
    if len(chords) == 1:
        low, high = chords[0]
        return float(y_weights @ (high - low))
    starts = np.stack([low for low, _ in chords])
    stops = np.stack([high for _, high in chords])
    order = np.argsort(starts, axis=0)
    starts, stops = np.take_along_axis(starts, order, axis=0), np.take_along_axis(stops, order, axis=0)
    reached = np.maximum.accumulate(stops, axis=0)
    before = np.vstack([np.full((1, y.size), bottom), reached[:-1]])
    fresh = np.maximum(stops - np.maximum(starts, before), 0.0)
    return float(y_weights @ fresh.sum(axis=0))


MEETING = 0.6
"""Half-width of two jets side by side over the distance between them at which they have met [-]: their half-speed radii
touch."""


def merged(jets: Sequence[JetAtPlane]) -> list[JetAtPlane]:
    """Join parallel jets that have met.

    Parameters
    ----------
    jets
        Jets as they cross the plane of an opening, from one side.

    Returns
    -------
    list of JetAtPlane
        With those that have met replaced by one of their momentum and flow.

    Notes
    -----
    Two parallel jets act as one of twice the area once they have met (ASHRAE Handbook Fundamentals 2021, ch. 20). They
    attract each other: the joint jet is as wide as each of them along the line between them, and wider across it, as
    much as their flow needs (the axes of such a jet switch, as in simulations of two fans).
    """
    left = sorted(jets, key=lambda jet: (jet.y_m, jet.z_m, jet.momentum_n))
    for i, one in enumerate(left):
        for j in range(i + 1, len(left)):
            other = left[j]
            half = math.sqrt(one.y_half_width_m * one.z_half_width_m)
            half = (half + math.sqrt(other.y_half_width_m * other.z_half_width_m)) / 2.0
            apart = math.hypot(other.y_m - one.y_m, other.z_m - one.z_m)
            if 0.0 < apart < half / MEETING and (one.y_slope, one.z_slope) == (other.y_slope, other.z_slope):
                rest = left[:i] + left[i + 1 : j] + left[j + 1 :]
                return merged([*rest, _joint(one, other, apart)])
    return left


def _joint(one: JetAtPlane, other: JetAtPlane, apart_m: float) -> JetAtPlane:
    """Two jets that have met, as one."""
    momentum = one.momentum_n + other.momentum_n
    part = other.momentum_n / momentum
    y, z = one.y_m + part * (other.y_m - one.y_m), one.z_m + part * (other.z_m - one.z_m)
    along_y = ((other.y_m - one.y_m) / apart_m) ** 2
    y_half = one.y_half_width_m + part * (other.y_half_width_m - one.y_half_width_m)
    z_half = one.z_half_width_m + part * (other.z_half_width_m - one.z_half_width_m)
    # Both start with the width of one; together they need that of both flows.
    start = math.sqrt(one.width_m * one.height_m / (2.0 * math.pi))
    more = (math.sqrt(2.0) - 1.0) * start
    wider = (1.0 + more / y_half) * (1.0 + more / z_half)
    y_wider, z_wider = wider ** (1.0 - along_y), wider**along_y
    return replace(
        one,
        momentum_n=momentum,
        y_m=y,
        z_m=z,
        y_half_width_m=y_half * y_wider,
        z_half_width_m=z_half * z_wider,
        y_edge_m=(one.y_edge_m[0] * y_wider, one.y_edge_m[1] * y_wider),
        z_edge_m=(one.z_edge_m[0] * z_wider, one.z_edge_m[1] * z_wider),
        y_mixing_m=one.y_mixing_m * y_wider,
        z_mixing_m=one.z_mixing_m * z_wider,
        y_images_m=tuple(image + one.y_m - y for image in one.y_images_m),
        z_images_m=tuple(image + one.z_m - z for image in one.z_images_m),
        pressure_rise_pa=one.pressure_rise_pa + other.pressure_rise_pa,
    )


def capture_jets(*, jets: Sequence[JetAtPlane], width_m: float, height_m: float, density: float) -> JetCapture:
    """What an opening captures of jets from one side.

    Parameters
    ----------
    jets
        Jets as they cross the plane.
    width_m, height_m
        Free width and height of the opening [m].
    density
        Air density [kg/m3].

    Returns
    -------
    JetCapture
        Captured flow, captured momentum, covered area, pressure rise and drag.

    Notes
    -----
    Gauss-Legendre quadrature with 32 nodes on each piece of `LONGEST_PIECE` half-widths or less. For one far jet
    without images the integrals are Qc = sqrt(2 pi T / rho) b F_w F_h with
    F_L = [erf((L/2 - d)/b) + erf((L/2 + d)/b)] / 2, and Mc = T G_w G_h, the same with b / sqrt(2).
    """
    light = _captured(tuple(jets), width_m, height_m)
    return replace(light, flow_m3_s=light.flow_m3_s / math.sqrt(density))


@lru_cache(maxsize=4096)
def _captured(jets: tuple[JetAtPlane, ...], width_m: float, height_m: float) -> JetCapture:
    """As `capture_jets` for air of 1 kg/m3, cached: a search asks for the same fan at the same opening many times."""
    y, y_weights = _fine_nodes(width_m, [(jet.y_m, jet.y_half_width_m, jet.width_m, jet.y_mixing_m) for jet in jets])
    z, z_weights = _fine_nodes(height_m, [(jet.z_m, jet.z_half_width_m, jet.height_m, jet.z_mixing_m) for jet in jets])
    total = np.zeros((y.size, z.size))
    momentum, outside, drag = 0.0, 0.0, 0.0
    for jet in jets:
        there = momentum_density(jet=jet, y_m=y, z_m=z)
        mine = float(y_weights @ there @ z_weights)
        total += there
        momentum += mine
        outside += mine * jet.outside_share
        drag += mine * drag_share(spread=jet.spread)
    flow = float(y_weights @ np.sqrt(total) @ z_weights)
    return JetCapture(
        flow_m3_s=flow * (1.0 - (outside / momentum if momentum > 0.0 else 0.0)),
        momentum_n=momentum,
        covered_m2=_covered_area(jets, width_m, height_m),
        pressure_rise_pa=sum(jet.pressure_rise_pa for jet in jets),
        drag_pa=drag / (width_m * height_m),
    )
