"""What must hold for every opening and crack: odd, never decreasing, slopes that agree."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplan.physics import orifice

pressures = st.floats(-500.0, 500.0)
linears = st.floats(1e-4, 10.0)
quadratics = st.floats(0.3, 60.0)
exponents = st.floats(0.5, 1.0)


@given(dp=pressures, a=linears, b=quadratics)
def test_velocity_gives_back_the_pressure_that_it_costs(dp: float, a: float, b: float) -> None:
    v = orifice.face_velocity(dp_pa=dp, linear=a, quadratic=b)
    assert a * v + b * v * abs(v) == pytest.approx(dp, rel=1e-12, abs=1e-280)


@given(dp=pressures, more=st.floats(0.0, 100.0), a=linears, b=quadratics)
def test_more_pressure_never_means_less_velocity(dp: float, more: float, a: float, b: float) -> None:
    low, high = orifice.face_velocity(dp_pa=np.array([dp, dp + more]), linear=a, quadratic=b)
    assert high >= low


@given(dp=pressures, a=linears, b=quadratics)
def test_velocity_is_odd(dp: float, a: float, b: float) -> None:
    ahead, back = orifice.face_velocity(dp_pa=np.array([dp, -dp]), linear=a, quadratic=b)
    assert ahead == -back


@given(dp=pressures, a=linears, b=quadratics)
def test_a_screen_in_front_never_raises_the_flow(dp: float, a: float, b: float) -> None:
    bare_a, bare_b = orifice.orifice_coefficients(discharge=0.62, density=1.2)
    bare = orifice.face_velocity(dp_pa=dp, linear=bare_a, quadratic=bare_b)
    screened = orifice.face_velocity(dp_pa=dp, linear=bare_a + a, quadratic=bare_b + b)
    assert abs(screened) <= abs(bare)


@given(dp=pressures, n=exponents)
def test_crack_flow_is_odd_with_a_positive_slope(dp: float, n: float) -> None:
    flow, slope = orifice.crack_flow(dp_pa=np.array([dp, -dp]), coefficient=0.01, exponent=n)
    assert flow[0] == -flow[1]
    assert np.all(slope > 0.0)


@given(dp=pressures, n=exponents)
def test_crack_slope_agrees_with_the_flow(dp: float, n: float) -> None:
    step = 1e-4 * (abs(dp) + orifice.SMOOTHING_PA)
    (low, high), _ = orifice.crack_flow(dp_pa=np.array([dp - step, dp + step]), coefficient=0.01, exponent=n)
    _, slope = orifice.crack_flow(dp_pa=dp, coefficient=0.01, exponent=n)
    assert (high - low) / (2.0 * step) == pytest.approx(slope, rel=1e-6)
