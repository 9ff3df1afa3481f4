"""What must hold for every opening and crack: odd, never decreasing, slopes and integrals that agree."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplan.physics import crack, orifice

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
def test_velocity_is_odd_and_its_integral_even(dp: float, a: float, b: float) -> None:
    both = np.array([dp, -dp])
    velocity = orifice.face_velocity(dp_pa=both, linear=a, quadratic=b)
    integral = orifice.face_velocity_integral(dp_pa=both, linear=a, quadratic=b)
    second = orifice.face_velocity_second_integral(dp_pa=both, linear=a, quadratic=b)
    assert velocity[0] == -velocity[1]
    assert integral[0] == integral[1] >= 0.0
    assert second[0] == -second[1]


@given(dp=pressures, a=linears, b=quadratics)
def test_each_function_of_an_opening_is_the_slope_of_the_next(dp: float, a: float, b: float) -> None:
    # Mean value theorem: the mean slope over a short stretch lies between the extremes of the slope, which
    # are at its ends or at zero pressure, where the curves have a corner in a higher derivative.
    step = 1e-4 * (abs(dp) + a * a / (4.0 * b))
    ends = np.array([dp - step, dp + step])
    candidates = np.append(ends, np.clip(0.0, *ends))
    chain = (
        orifice.face_velocity_slope,
        orifice.face_velocity,
        orifice.face_velocity_integral,
        orifice.face_velocity_second_integral,
    )
    for inner, outer in pairwise(chain):
        low, high = outer(dp_pa=ends, linear=a, quadratic=b)
        slopes = inner(dp_pa=candidates, linear=a, quadratic=b)
        rounding = 1e-14 * max(abs(low), abs(high)) / step
        assert slopes.min() - rounding <= (high - low) / (2.0 * step) <= slopes.max() + rounding


@given(dp=pressures, a=linears, b=quadratics)
def test_a_screen_in_front_never_raises_the_flow(dp: float, a: float, b: float) -> None:
    bare_a, bare_b = orifice.orifice_coefficients(discharge=0.62, density=1.2)
    bare = orifice.face_velocity(dp_pa=dp, linear=bare_a, quadratic=bare_b)
    screened = orifice.face_velocity(dp_pa=dp, linear=bare_a + a, quadratic=bare_b + b)
    assert abs(screened) <= abs(bare)


@given(areas=st.lists(st.floats(0.01, 10.0), min_size=1, max_size=6))
def test_openings_in_series_pass_less_than_the_smallest_and_side_by_side_more_than_the_largest(
    areas: list[float],
) -> None:
    assert orifice.series_area(areas_m2=areas) <= min(areas) * (1.0 + 1e-12)
    assert orifice.parallel_area(areas_m2=areas) >= max(areas)


@given(discharge=st.floats(0.05, 1.0))
def test_loss_and_discharge_coefficient_turn_back_into_each_other(discharge: float) -> None:
    loss = orifice.loss_coefficient(discharge=discharge)
    assert orifice.discharge_coefficient(loss=loss) == pytest.approx(discharge, rel=1e-14)


@given(dp=pressures, n=exponents)
def test_crack_flow_is_odd_with_a_positive_slope_and_a_convex_integral(dp: float, n: float) -> None:
    both = np.array([dp, -dp])
    flow = crack.crack_flow(dp_pa=both, coefficient=0.01, exponent=n)
    assert flow[0] == -flow[1]
    assert np.all(crack.crack_flow_slope(dp_pa=both, coefficient=0.01, exponent=n) > 0.0)
    assert np.all(crack.crack_flow_integral(dp_pa=both, coefficient=0.01, exponent=n) >= 0.0)


@given(dp=pressures, n=exponents)
def test_crack_slope_and_integral_agree_with_the_flow(dp: float, n: float) -> None:
    step = 1e-4 * (abs(dp) + crack.SMOOTHING_PA)
    ends = np.array([dp - step, dp + step])
    flow = crack.crack_flow(dp_pa=ends, coefficient=0.01, exponent=n)
    integral = crack.crack_flow_integral(dp_pa=ends, coefficient=0.01, exponent=n)
    slope = crack.crack_flow_slope(dp_pa=dp, coefficient=0.01, exponent=n)
    middle = crack.crack_flow(dp_pa=dp, coefficient=0.01, exponent=n)
    assert (flow[1] - flow[0]) / (2.0 * step) == pytest.approx(slope, rel=1e-6)
    rounding = 1e-13 * integral.max() / step
    assert (integral[1] - integral[0]) / (2.0 * step) == pytest.approx(middle, rel=1e-6, abs=rounding)
