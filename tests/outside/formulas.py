"""Formulas of handbooks, written with the functions that ventplan uses."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ventplan.physics.jet import momentum_share, thrust_of_uniform_jet
from ventplan.physics.jet_path import JetAtPlane, JetPath, JetSource, jet_at_plane
from ventplan.physics.orifice import face_velocity, orifice_coefficients


def orifice_flow(*, dp_pa: Any, area_m2: float, discharge: float, density: float) -> Any:
    """Volume flow through a plain opening [m3/s]."""
    linear, quadratic = orifice_coefficients(discharge=discharge, density=density)
    return area_m2 * face_velocity(dp_pa=dp_pa, linear=linear, quadratic=quadratic)


def stream_speed(
    *,
    start_speed_m_s: float,
    width_m: float,
    height_m: float,
    distance_m: float,
    aside_m: Any = 0.0,
    above_m: Any = 0.0,
) -> Any:
    """Speed in a free inflow jet, V0 sqrt(F(y, w) F(z, h)) [m/s]."""
    across = momentum_share(aside_m=aside_m, width_m=width_m, distance_m=distance_m)
    up = momentum_share(aside_m=above_m, width_m=height_m, distance_m=distance_m)
    return start_speed_m_s * np.sqrt(across * up)


def fan_jet(*, flow_m3_s: float, area_m2: float, spread: float, distance_m: float) -> JetAtPlane:
    """The jet in the open of a fan that blows evenly through its blades."""
    thrust = float(thrust_of_uniform_jet(flow_m3_s=flow_m3_s, area_m2=area_m2, density=1.2))
    source = JetSource(thrust, math.sqrt(area_m2), math.sqrt(area_m2), spread, math.sqrt(area_m2 / math.pi))
    return jet_at_plane(source=source, path=JetPath(distance_m))
