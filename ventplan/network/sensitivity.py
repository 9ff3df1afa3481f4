"""Exact derivatives of the flows of a solved house by the figures of every link, with one more linear solve.

In the solution the imbalances F(p, x) of the rooms are zero for any figures x. With the multipliers l of

    (dF/dp)^T l = (dJ/dp)^T

a weighted sum J of the mass flows of the links, forward and backward, changes with a figure of link k by

    dJ/dx_k = dJ_k/dx_k - (l_a - l_b) dm_k/dx_k      at a fixed driving pressure,

where J_k is the part of the link in the sum, m_k its net mass flow, and a and b its nodes (l is 0 outdoors). The matrix
is that of Newton's method, so all derivatives together cost as much as one of its steps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplan.network.links import (
    DENSITY_A,
    DENSITY_B,
    LINEAR_A,
    LINEAR_B,
    QUADRATIC_A,
    QUADRATIC_B,
    SHAPE,
    SIZE,
    FlowNetwork,
)
from ventplan.network.solver import solve_linear
from ventplan.physics.buoyancy import one_way_flow
from ventplan.physics.orifice import face_velocity

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class FlowSum:
    """A weighted sum of the mass flows of the links [kg/s].

    Attributes
    ----------
    forward, backward
        Weight of the flow each way, both flows counted >= 0, shape (links,) [-].
    """

    forward: Floats
    backward: Floats


def net_flow(network: FlowNetwork, opening: int) -> FlowSum:
    """Net mass flow through one opening, from node a to node b.

    Parameters
    ----------
    network
        The house as arrays.
    opening
        Index of the opening.
    """
    mine = (network.owner == opening).astype(np.float64)
    return FlowSum(mine, -mine)


@dataclass(frozen=True)
class Sensitivity:
    """A sum of flows and its derivatives by figures of the links, strips first.

    Attributes
    ----------
    value
        The sum itself [kg/s].
    offset
        By the offset, which wind, stack and jets add to, shape (links,) [kg/(s Pa)].
    area
        By the area of a strip at its height, shape (strips,) [kg/(s m2)].
    linear_a, linear_b
        By the linear loss coefficients of a strip, shape (strips,) [kg/s per Pa s/m].
    """

    value: float
    offset: Floats
    area: Floats
    linear_a: Floats
    linear_b: Floats


def adjoint(network: FlowNetwork, pressure_pa: Floats, of: FlowSum) -> Sensitivity:
    """Derivatives of a sum of flows by figures of every link.

    Parameters
    ----------
    network
        The house as arrays; every room must have a path to outdoors.
    pressure_pa
        Its solved pressures, shape (rooms,) [Pa].
    of
        The sum.
    """
    driving = network.driving_pressure(pressure_pa)
    ahead, back = _OneWay(network, driving), _OneWay(network, driving, backward=True)
    # A rise of the driving pressure lowers the flow back, which is counted with the driving pressure reversed.
    by_driving = of.forward * ahead.slope - of.backward * back.slope
    slope = ahead.slope + back.slope
    gains = network.coupling_gains(pressure_pa)
    right = network.imbalance(network.couplings.drawn(by_driving, gains))
    multiplier = np.append(solve_linear(network, slope, right, gains=gains, transposed=True), 0.0)
    across = multiplier[network.a] - multiplier[network.b]
    strips = slice(network.laws.strips)
    forward, backward = (of.forward - across)[strips], (of.backward + across)[strips]
    return Sensitivity(
        value=float(of.forward @ ahead.flow + of.backward @ back.flow),
        offset=network.couplings.drawn(by_driving - across * slope, gains),
        area=forward * ahead.by_area + backward * back.by_area,
        linear_a=forward * ahead.by_linear,
        linear_b=backward * back.by_linear,
    )


class _OneWay:
    """Mass flow of each link one way, its slope over the pressure that way, and its derivatives by figures.

    Where dp = a v + b v^2, dv/da = -v dv/dp; the integral over the part of a strip's height that air passes this way,
    from face velocity v1 down to v2, is a polynomial in v1 and v2.
    """

    def __init__(self, network: FlowNetwork, driving: Floats, *, backward: bool = False) -> None:
        s, figures = network.laws.strips, network.laws.figures
        rows = (DENSITY_B, LINEAR_B, QUADRATIC_B) if backward else (DENSITY_A, LINEAR_A, QUADRATIC_A)
        density, linear, quadratic = figures[rows, :s]
        towards = -driving if backward else driving
        area, half, middle = figures[SIZE, :s], figures[SHAPE, :s], towards[:s]
        velocity, slope = one_way_flow(middle, half, linear, quadratic)
        fast, slow = (face_velocity(np.maximum(dp, 0.0), linear, quadratic) for dp in (middle + half, middle - half))
        self.by_area = density * velocity
        self.by_linear = -area * density * slope * (fast + slow) / 2.0
        # The law of a crack takes its density from the sign of the pressure from a to b.
        flow, steepness = network.mass_flow_and_slope(driving)
        here = (driving[s:] < 0.0) if backward else (driving[s:] >= 0.0)
        self.flow = np.append(area * self.by_area, np.where(here, np.abs(flow[s:]), 0.0))
        self.slope = np.append(area * density * slope, np.where(here, steepness[s:], 0.0))
