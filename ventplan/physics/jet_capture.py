"""What of a fan's jet arrives at a rectangular opening, and what that does to the air in it.

In the plane of the opening the momentum flux density of all jets and of their mirror images adds (Reichardt;
`ventplan.physics.jet_path`), m = sum of m_i, and

    captured flow      Qc = integral of sqrt(m / rho) over the opening
    captured momentum  Mc = integral of m over the opening
    covered area       Ac = the part of the opening inside the edge of a jet

The covered part then passes air by the momentum balance of an ejector, the rest is a plain orifice:

    Mc + dp Ac = beta rho Q^2 / Ac + Ac (a v + b v^2),   v = Q / Ac,   beta = Mc Ac / (rho Qc^2)

with a, b the loss of a screen in it. Both are the one law of `ventplan.physics.orifice`, the covered part with the
pressure Mc / Ac added to dp; so an opening with a jet is as monotone as one without.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplan.physics.jet_path import JetAtPlane, Source

Floats = NDArray[np.float64]

STRETCH = 12.0
"""Longest stretch of an opening, in half-widths, that 32 nodes integrate a jet over to within 1e-6 [-]."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)


@dataclass(frozen=True)
class JetCapture:
    """What arrives at an opening from all jets blown at it.

    Attributes
    ----------
    flow_m3_s
        Captured flow Qc at no pressure difference [m3/s].
    momentum_n
        Captured momentum Mc [N].
    covered_m2
        Covered area Ac [m2].
    pressure_rise_pa
        Pressure before the opening over that in the rest of the room [Pa].
    """

    flow_m3_s: float
    momentum_n: float
    covered_m2: float
    pressure_rise_pa: float

    def covered_coefficients(self, *, density: float) -> tuple[float, float]:
        """Driving pressure Mc / Ac [Pa] and quadratic coefficient beta rho = Mc Ac / Qc^2 [Pa s2/m2].

        Parameters
        ----------
        density
            Air density [kg/m3]; the coefficient is not let below 0.5 rho, the least that a real stream can have.
        """
        if self.covered_m2 <= 0.0 or self.flow_m3_s <= 0.0:
            return 0.0, density
        beta_density = self.momentum_n * self.covered_m2 / self.flow_m3_s**2
        return self.momentum_n / self.covered_m2, max(beta_density, 0.5 * density)


def _profile(at: Floats, centre: float, images: tuple[float, ...], half_width: float) -> Floats:
    centres = np.array((centre, *images))
    density: Floats = np.exp(-2.0 * ((at[:, None] - centres) / half_width) ** 2).sum(axis=1)
    return density


def _nodes(cuts_m: Sequence[float]) -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes and weights on each stretch between neighbouring cuts."""
    edges = np.asarray(cuts_m, dtype=float)
    middles, halves = (edges[1:] + edges[:-1]) / 2.0, (edges[1:] - edges[:-1]) / 2.0
    return (middles[:, None] + halves[:, None] * _NODES).ravel(), (halves[:, None] * _WEIGHTS).ravel()


def _fine_nodes(length_m: float, narrowest_m: float) -> tuple[Floats, Floats]:
    """Nodes over an opening, on stretches short enough that the narrowest jet is not stepped over."""
    stretches = max(1, math.ceil(length_m / (STRETCH * narrowest_m)))
    return _nodes(np.linspace(-length_m / 2.0, length_m / 2.0, stretches + 1).tolist())


def _caught(centres_m: tuple[float, ...], half_width_m: float, length_m: float) -> float:
    """Integral of exp(-2 ((x - c) / b)^2) over the opening, summed over the centres c [m]."""
    narrow, half = half_width_m / math.sqrt(2.0), length_m / 2.0
    share = 0.0
    for centre in centres_m:
        near, far = (abs(centre) - half) / narrow, (abs(centre) + half) / narrow
        # Beside the opening both error functions are close to 1, and only their complements differ.
        share += math.erfc(near) - math.erfc(far) if near > 0.0 else math.erf(far) - math.erf(near)
    return narrow * math.sqrt(math.pi) / 2.0 * share


def _covered_area(jets: Sequence[JetAtPlane], width_m: float, height_m: float) -> float:
    """Area of the opening inside the edge of any jet: the union of the chords of their ellipses, over y."""
    side, bottom, top = width_m / 2.0, -height_m / 2.0, height_m / 2.0
    ends = [jet.y_m + sign * jet.y_edge_m for jet in jets for sign in (-1.0, 1.0)]
    y, y_weights = _nodes(sorted({-side, side, *(end for end in ends if -side < end < side)}))
    chords = []
    for jet in jets:
        inside = np.maximum(1.0 - ((y - jet.y_m) / jet.y_edge_m) ** 2, 0.0)
        reach = jet.z_edge_m * np.sqrt(inside)
        low = np.clip(jet.z_m - reach, bottom, top)
        high = np.clip(jet.z_m + reach, bottom, top)
        chords.append((low, high))
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


def capture_jets(*, jets: Sequence[JetAtPlane], width_m: float, height_m: float, density: float) -> JetCapture:
    """Sum up what the jets bring to an opening.

    Parameters
    ----------
    jets
        Jets as they cross the plane, in metres from the middle of the opening.
    width_m, height_m
        Free width and height of the opening [m].
    density
        Air density [kg/m3].

    Returns
    -------
    JetCapture
        Captured flow, captured momentum, covered area and pressure rise.

    Notes
    -----
    The momentum is a sum of error functions. The flow, a root of a sum, takes Gauss-Legendre quadrature with 32 nodes
    on each stretch of `STRETCH` half-widths or less. For one jet without images the integrals are
    Qc = sqrt(2 pi T / rho) b F_w F_h, F_L = [erf((L/2 - d)/b) + erf((L/2 + d)/b)] / 2, and Mc = T G_w G_h, the same
    with b / sqrt(2).
    """
    y, y_weights = _fine_nodes(width_m, min(jet.y_half_width_m for jet in jets))
    z, z_weights = _fine_nodes(height_m, min(jet.z_half_width_m for jet in jets))
    momentum_density = np.zeros((y.size, z.size))
    momentum = 0.0
    for jet in jets:
        peak = 2.0 * jet.momentum_n / (math.pi * jet.y_half_width_m * jet.z_half_width_m)
        along_y = _profile(y, jet.y_m, jet.y_images_m, jet.y_half_width_m)
        along_z = _profile(z, jet.z_m, jet.z_images_m, jet.z_half_width_m)
        momentum_density += peak * np.outer(along_y, along_z)
        caught_y = _caught((jet.y_m, *jet.y_images_m), jet.y_half_width_m, width_m)
        caught_z = _caught((jet.z_m, *jet.z_images_m), jet.z_half_width_m, height_m)
        momentum += peak * caught_y * caught_z
    return JetCapture(
        flow_m3_s=float(y_weights @ np.sqrt(momentum_density / density) @ z_weights),
        momentum_n=momentum,
        covered_m2=_covered_area(jets, width_m, height_m),
        pressure_rise_pa=sum(jet.pressure_rise_pa for jet in jets),
    )


def jet_behind(*, capture: JetCapture, width_m: float, height_m: float, spread: float, density: float) -> Source:
    """The jet that leaves an opening on the far side, as a source in the plane of that opening.

    Parameters
    ----------
    capture
        What passes the opening.
    width_m, height_m
        Free width and height of the opening [m].
    spread
        Growth of the half-width for each metre [-].
    density
        Air density [kg/m3].

    Returns
    -------
    Source
        A round jet of the same flow and momentum.
    """
    half = capture.flow_m3_s / math.sqrt(2.0 * math.pi * max(capture.momentum_n, 1e-12) / density)
    radius = math.sqrt(max(min(capture.covered_m2, width_m * height_m), 1e-9) / math.pi)
    return Source(thrust_n=capture.momentum_n, start_half_width_m=half, spread=spread, radius_m=radius)
