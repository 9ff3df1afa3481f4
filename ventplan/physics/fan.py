"""A fan sealed into an opening, and a fan on another speed setting."""

from __future__ import annotations

from ventplan.physics.arrays import Numbers

LINEAR_SHARE = 0.5
"""Share of the shut-off pressure that falls linearly with flow, the rest with its square [-]: common practice, no
source; the curve of a small axial fan lies between a straight line and a parabola where it does not stall."""


def sealed_coefficients(*, flow_m3_s: Numbers, shutoff_pa: Numbers, area_m2: Numbers) -> tuple[Numbers, Numbers]:
    """Pressure curve of a sealed fan in the form of a loss, p(Q) = p_shutoff - a v - b v^2 with v = Q / A.

    Parameters
    ----------
    flow_m3_s
        Flow at no pressure difference [m3/s].
    shutoff_pa
        Static pressure at no flow [Pa].
    area_m2
        Area of the blades [m2].

    Returns
    -------
    tuple of Numbers
        a [Pa s/m] and b [Pa s2/m2], so that p = p_shutoff at no flow and 0 at ``flow_m3_s``.
    """
    face_speed = flow_m3_s / area_m2
    return (
        LINEAR_SHARE * shutoff_pa / face_speed,
        (1.0 - LINEAR_SHARE) * shutoff_pa / face_speed**2,
    )


def at_speed(
    *, flow_m3_s: Numbers, thrust_n: Numbers, power_w: Numbers, speed: Numbers
) -> tuple[Numbers, Numbers, Numbers]:
    """Fan laws: flow, thrust and power by the first, second and third power of the rotational speed.

    Parameters
    ----------
    flow_m3_s, thrust_n, power_w
        Figures at full speed [m3/s], [N], [W].
    speed
        Share of full speed [-].

    Returns
    -------
    tuple of Numbers
        Flow [m3/s], thrust [N] and power in the air [W].

    Examples
    --------
    >>> flow, thrust, power = at_speed(flow_m3_s=1.0, thrust_n=1.0, power_w=1.0, speed=0.83)
    >>> round(float(thrust), 2)
    0.69
    """
    return flow_m3_s * speed, thrust_n * speed**2, power_w * speed**3
