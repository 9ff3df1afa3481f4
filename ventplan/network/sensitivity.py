"""Exact derivatives of what a solved house does, with respect to the figures of every link, by one more solve.

In the solution the imbalances F(p, x) of the rooms are zero, whatever the figures x are. With the multipliers l of

    (dF/dp)^T l = (dJ/dp)^T

an aim J, a weighted sum of the mass flows forward and backward of the links, changes with a figure of link k by

    dJ/dx_k = dJ_k/dx_k - (l_a - l_b) dm_k/dx_k      at a fixed driving pressure,

where J_k is the link's part of the aim, m_k its net mass flow, and a and b its nodes (l is 0 outdoors). The matrix is
that of Newton's method, so all derivatives together cost as much as one of its steps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplan.network.links import FlowNetwork
from ventplan.network.solver import solve_linear
from ventplan.physics.orifice import face_velocity

Floats = NDArray[np.float64]

FIGURES = ("area", "coefficient", "linear_a", "quadratic_a", "linear_b", "quadratic_b")


@dataclass(frozen=True)
class Aim:
    """A weighted sum of the mass flows of the links [kg/s].

    Attributes
    ----------
    forward, backward
        Weight of the flow each way, both flows counted >= 0, shape (links,) [-].
    """

    forward: Floats
    backward: Floats


def net_flow(network: FlowNetwork, opening: int) -> Aim:
    """Net mass flow through one opening as an aim.

    Parameters
    ----------
    network
        The house as arrays.
    opening
        Index of the opening.

    Returns
    -------
    Aim
        Counts from node a to node b.
    """
    mine = (network.owner == opening).astype(np.float64)
    return Aim(mine, -mine)


@dataclass(frozen=True)
class Sensitivity:
    """Value of an aim and its derivatives by link, strips first; zero where a link has no such figure.

    Attributes
    ----------
    value
        The aim itself [kg/s].
    offset
        By the offset, which jet, wind and stack add [kg/(s Pa)], shape (links,).
    area
        By the area of a strip at its height [kg/(s m2)], shape (links,).
    coefficient
        By the flow of a crack at 1 Pa [kg/m3], shape (links,).
    linear_a, linear_b
        By the linear loss coefficients of a strip [kg/s for each Pa s/m], shape (links,).
    quadratic_a, quadratic_b
        By its quadratic loss coefficients [kg/s for each Pa s2/m2], shape (links,).
    added_mass
        By mass that is let into each room from nowhere [-], shape (rooms,).
    """

    value: float
    offset: Floats
    area: Floats
    coefficient: Floats
    linear_a: Floats
    quadratic_a: Floats
    linear_b: Floats
    quadratic_b: Floats
    added_mass: Floats


def adjoint(network: FlowNetwork, pressure_pa: Floats, aim: Aim) -> Sensitivity:
    """Derivatives of an aim by every figure of every link.

    Parameters
    ----------
    network
        The house as arrays; every room must have a way to outdoors.
    pressure_pa
        Its solved pressures, shape (rooms,) [Pa].
    aim
        What to take derivatives of.

    Returns
    -------
    Sensitivity
        The aim and its derivatives.
    """
    driving = network.driving_pressure(pressure_pa)
    ahead, back = _one_way(network, driving, "a"), _one_way(network, -driving, "b")
    # A rise of the driving pressure lowers the flow back, which was counted with the driving pressure reversed.
    by_driving = aim.forward * ahead["offset"] - aim.backward * back["offset"]
    slope = ahead["offset"] + back["offset"]
    gains = network.coupling_gains(pressure_pa)
    multiplier = _multipliers(network, slope, network.couplings.drawn(by_driving, gains), gains)
    across = multiplier[network.a] - multiplier[network.b]
    forward, backward = aim.forward - across, aim.backward + across
    by_figure = {name: forward * ahead[name] + backward * back[name] for name in FIGURES}
    return Sensitivity(
        value=float(aim.forward @ ahead["flow"] + aim.backward @ back["flow"]),
        offset=network.couplings.drawn(by_driving - across * slope, gains),
        added_mass=multiplier[:-1],
        **by_figure,
    )


def _multipliers(network: FlowNetwork, slope: Floats, by_static: Floats, gains: Floats) -> Floats:
    """Solve the transposed system for the aim; the last entry, outdoors, is 0."""
    right = network.imbalance(by_static)
    return np.append(solve_linear(network, slope, right, gains=gains, transposed=True), 0.0)


def _one_way(network: FlowNetwork, driving: Floats, end: str) -> dict[str, Floats]:
    """Mass flow of each link with the driving pressure, and its derivatives by ``offset`` and by the figures.

    Over the part of a strip's height that air passes this way, from face velocity v1 down to v2, dp = a v + b v^2
    gives dv/da = -v dv/dp and dv/db = -v^2 dv/dp, whose integrals over dp are polynomials in v1 and v2.
    """
    s, strip, crack = network.strip_count, network.strip_figures, network.crack_figures
    found = {name: np.zeros(network.links) for name in ("flow", "offset", *FIGURES)}
    area, density = strip["width_m"] * strip["height_m"], strip[f"density_{end}"]
    linear, quadratic = strip[f"linear_{end}"], strip[f"quadratic_{end}"]
    half = np.abs(strip["gradient_pa_m"]) * strip["height_m"] / 2.0
    fast_pa, slow_pa = np.maximum(driving[:s] + half, 0.0), np.maximum(driving[:s] - half, 0.0)
    fast = face_velocity(dp_pa=fast_pa, linear=linear, quadratic=quadratic)
    slow = face_velocity(dp_pa=slow_pa, linear=linear, quadratic=quadratic)
    upright = half > 0.0
    whole = np.heaviside(driving[:s], 0.5)  # At rest each way has half of the slope.
    share = np.where(upright, (fast_pa - slow_pa) / np.where(upright, 2.0 * half, 1.0), whole)
    squares = fast * fast + fast * slow + slow * slow
    per_pa = density * share / (linear + quadratic * (fast + slow))
    found["area"][:s] = per_pa * (linear * (fast + slow) / 2.0 + 2.0 * quadratic * squares / 3.0)
    found["flow"][:s] = area * found["area"][:s]
    found["offset"][:s] = area * per_pa
    found[f"linear_{end}"][:s] = -area * per_pa * (fast + slow) / 2.0
    found[f"quadratic_{end}"][:s] = -area * per_pa * squares / 3.0

    signed = driving if end == "a" else -driving
    flow, slope = network.mass_flow_and_slope(signed)
    ahead = (driving[s:] > 0.0) if end == "b" else (driving[s:] >= 0.0)
    found["flow"][s:] = np.where(ahead, np.abs(flow[s:]), 0.0)
    found["offset"][s:] = np.where(ahead, slope[s:], 0.0)
    leak = crack["coefficient"]
    found["coefficient"][s:] = found["flow"][s:] / np.where(leak > 0.0, leak, np.inf)
    return found
