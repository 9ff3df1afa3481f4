"""An opening between air of different density, which air passes both ways at once.

Two columns of air of different density have pressures that fall with height at different rates, so the
pressure difference across an opening between them is a straight line over its height,

    dp(z) = dp_mid - g (rho_a - rho_b) (z - z_mid)

With the law of `ventplan.physics.orifice` the flow each way is the integral of v(dp(z)) over the part of the
height where dp has that sign. Written in the velocities at the two ends of that part, v1 and v2, the
difference of pressures and that of antiderivatives share the factor (v1 - v2), which divides out:

    mean of v over the part = [a (v1 + v2) / 2 + 2 b (v1^2 + v1 v2 + v2^2) / 3] / [a + b (v1 + v2)]

That is exact for every gradient, down to zero, and needs no series and no switch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplan.physics.arrays import Numbers
from ventplan.physics.orifice import face_velocity

GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall [m/s2] (3rd General Conference on Weights and Measures, 1901)."""

_TINY = 1e-300


@dataclass(frozen=True)
class _Stream:
    """The part of the height that air passes in one direction.

    Attributes
    ----------
    fast, slow
        Face velocities at its two ends, both >= 0 [m/s].
    share
        Its share of the height [-].
    linear, quadratic
        Coefficients of its loss.
    """

    fast: Numbers
    slow: Numbers
    share: Numbers
    linear: Numbers
    quadratic: Numbers

    def steepness(self) -> Numbers:
        """Pressure difference over velocity difference between the ends, a + b (v1 + v2) [Pa s/m]."""
        return self.linear + self.quadratic * (self.fast + self.slow) + _TINY

    def mean_velocity(self) -> Numbers:
        """Integral of v over its part of the height, for the whole height [m/s]."""
        total, product = self.fast + self.slow, self.fast * self.slow
        squares = total * total - product
        integral = self.linear * total / 2.0 + 2.0 * self.quadratic * squares / 3.0
        return self.share * integral / self.steepness()

    def mean_slope(self) -> Numbers:
        """Slope of `mean_velocity` over the pressure difference at mid-height [m/(s Pa)]."""
        return self.share / self.steepness()

    def mean_potential(self) -> Numbers:
        """Integral of `mean_velocity` over the pressure difference at mid-height [Pa m/s]."""
        v1, v2, a, b = self.fast, self.slow, self.linear, self.quadratic
        squares = v1 * v1 + v1 * v2 + v2 * v2
        cubes = (v1 + v2) * (v1 * v1 + v2 * v2)
        fourths = v1 * cubes + v2**4
        integral = a * a * squares / 6.0 + 5.0 * a * b * cubes / 12.0 + 4.0 * b * b * fourths / 15.0
        return self.share * integral / self.steepness()


def _streams(
    *,
    dp_mid_pa: Numbers,
    stack_gradient_pa_m: Numbers,
    height_m: Numbers,
    linear_forward: Numbers,
    quadratic_forward: Numbers,
    linear_backward: Numbers,
    quadratic_backward: Numbers,
) -> tuple[_Stream, _Stream]:
    """The forward and the backward stream of an opening over height."""
    half = np.abs(stack_gradient_pa_m) * height_m / 2.0
    high, low = dp_mid_pa + half, dp_mid_pa - half
    high_forward, low_forward = np.maximum(high, 0.0), np.maximum(low, 0.0)
    high_backward, low_backward = np.maximum(-high, 0.0), np.maximum(-low, 0.0)
    span = high_forward + low_backward + _TINY

    def stream(fast_pa: Numbers, slow_pa: Numbers, linear: Numbers, quadratic: Numbers) -> _Stream:
        return _Stream(
            fast=face_velocity(dp_pa=fast_pa, linear=linear, quadratic=quadratic),
            slow=face_velocity(dp_pa=slow_pa, linear=linear, quadratic=quadratic),
            share=(fast_pa + 0.5 * _TINY) / span,
            linear=linear,
            quadratic=quadratic,
        )

    forward = stream(high_forward, low_forward, linear_forward, quadratic_forward)
    backward = stream(low_backward, high_backward, linear_backward, quadratic_backward)
    return forward, backward


def two_way_flow(
    *,
    dp_mid_pa: Numbers,
    stack_gradient_pa_m: Numbers,
    width_m: Numbers,
    height_m: Numbers,
    linear_forward: Numbers,
    quadratic_forward: Numbers,
    linear_backward: Numbers,
    quadratic_backward: Numbers,
) -> tuple[Numbers, Numbers]:
    """Volume flows each way through an upright opening between side a and side b.

    Parameters
    ----------
    dp_mid_pa
        Static pressure of side a minus that of side b at mid-height [Pa].
    stack_gradient_pa_m
        Fall of that difference for each metre of height, g (rho_a - rho_b) [Pa/m].
    width_m, height_m
        Free width and height [m].
    linear_forward, quadratic_forward
        Loss coefficients a [Pa s/m] and b [Pa s2/m2] for air from side a, at its density.
    linear_backward, quadratic_backward
        The same for air from side b, at its density.

    Returns
    -------
    tuple of Numbers
        Flow from a to b and flow from b to a, both >= 0 [m3/s], each at the density of the air where it comes
        from.

    Examples
    --------
    A doorway of 0.9 x 2.0 m, 3 K of difference, Cd 0.65, no net flow:

    >>> b = 1.2 / (2 * 0.65**2)
    >>> out, back = two_way_flow(dp_mid_pa=0.0, stack_gradient_pa_m=9.80665 * 1.2 * 3 / 295, width_m=0.9,
    ...     height_m=2.0, linear_forward=0.0, quadratic_forward=b, linear_backward=0.0, quadratic_backward=b)
    >>> round(float(out), 3), round(float(back), 3)
    (0.174, 0.174)
    """
    forward, backward = _streams(
        dp_mid_pa=dp_mid_pa,
        stack_gradient_pa_m=stack_gradient_pa_m,
        height_m=height_m,
        linear_forward=linear_forward,
        quadratic_forward=quadratic_forward,
        linear_backward=linear_backward,
        quadratic_backward=quadratic_backward,
    )
    area = width_m * height_m
    return area * forward.mean_velocity(), area * backward.mean_velocity()


def net_mass_flow_and_slope(
    *,
    dp_mid_pa: Numbers,
    stack_gradient_pa_m: Numbers,
    width_m: Numbers,
    height_m: Numbers,
    linear_forward: Numbers,
    quadratic_forward: Numbers,
    linear_backward: Numbers,
    quadratic_backward: Numbers,
    density_forward: Numbers,
    density_backward: Numbers,
) -> tuple[Numbers, Numbers]:
    """Net mass flow from side a to side b, and its slope over the pressure at mid-height, in one pass.

    Parameters
    ----------
    dp_mid_pa, stack_gradient_pa_m, width_m, height_m
        As in `two_way_flow` [Pa], [Pa/m], [m], [m].
    linear_forward, quadratic_forward, linear_backward, quadratic_backward
        As in `two_way_flow` [Pa s/m], [Pa s2/m2]; linear ones > 0 where the pressure difference may vanish.
    density_forward, density_backward
        Density of the air of side a and of side b [kg/m3].

    Returns
    -------
    tuple of Numbers
        Net mass flow [kg/s], and its slope [kg/(s Pa)], which is never negative. Two densities of 1 give the
        net volume flow and its slope.
    """
    forward, backward = _streams(
        dp_mid_pa=dp_mid_pa,
        stack_gradient_pa_m=stack_gradient_pa_m,
        height_m=height_m,
        linear_forward=linear_forward,
        quadratic_forward=quadratic_forward,
        linear_backward=linear_backward,
        quadratic_backward=quadratic_backward,
    )
    area = width_m * height_m
    net = density_forward * forward.mean_velocity() - density_backward * backward.mean_velocity()
    slope = density_forward * forward.mean_slope() + density_backward * backward.mean_slope()
    return area * net, area * slope


def net_mass_flow_potential(
    *,
    dp_mid_pa: Numbers,
    stack_gradient_pa_m: Numbers,
    width_m: Numbers,
    height_m: Numbers,
    linear_forward: Numbers,
    quadratic_forward: Numbers,
    linear_backward: Numbers,
    quadratic_backward: Numbers,
    density_forward: Numbers,
    density_backward: Numbers,
) -> Numbers:
    """Antiderivative of the net mass flow over the pressure at mid-height: convex, never negative.

    Parameters
    ----------
    dp_mid_pa, stack_gradient_pa_m, width_m, height_m
        As in `two_way_flow` [Pa], [Pa/m], [m], [m].
    linear_forward, quadratic_forward, linear_backward, quadratic_backward
        As in `two_way_flow` [Pa s/m], [Pa s2/m2].
    density_forward, density_backward
        Density of the air of side a and of side b [kg/m3].

    Returns
    -------
    Numbers
        Potential [kg Pa/s]; the integral over height of that of each slice, which is zero where its dp is
        zero.
    """
    forward, backward = _streams(
        dp_mid_pa=dp_mid_pa,
        stack_gradient_pa_m=stack_gradient_pa_m,
        height_m=height_m,
        linear_forward=linear_forward,
        quadratic_forward=quadratic_forward,
        linear_backward=linear_backward,
        quadratic_backward=quadratic_backward,
    )
    each = density_forward * forward.mean_potential() + density_backward * backward.mean_potential()
    return width_m * height_m * each


def stack_gradient(*, density_a: Numbers, density_b: Numbers) -> Numbers:
    """Fall, for each metre of height, of the pressure difference from side a to side b: g (rho_a - rho_b).

    Parameters
    ----------
    density_a, density_b
        Densities of the air on the two sides [kg/m3].

    Returns
    -------
    Numbers
        Gradient [Pa/m], positive where side a is the heavier.
    """
    return GRAVITY_M_S2 * (density_a - density_b)
