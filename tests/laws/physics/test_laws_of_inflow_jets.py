"""What holds for every inflow jet."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.outside.formulas import stream_speed
from ventplan.physics.jet import approach_speed, drop_m, entering_share

speeds, sides = st.floats(0.01, 10.0), st.floats(0.02, 3.0)
places = st.floats(-3.0, 3.0)

SLACK = 1e-4
"""Relative error of the profile: of the error function, and of a Gaussian in place of a narrow source [-]."""


@given(speeds, sides, sides, st.floats(0.0, 20.0), st.floats(0.0, 5.0))
def test_speed_on_the_axis_falls_with_distance(
    speed: float, width: float, height: float, distance: float, farther: float
) -> None:
    jet = {"start_speed_m_s": speed, "width_m": width, "height_m": height}
    near, far = (float(stream_speed(**jet, distance_m=x)) for x in (distance, distance + farther))
    assert far <= near * (1.0 + SLACK)
    assert near <= speed * (1.0 + SLACK)


@given(speeds, sides, sides, places, places)
def test_speed_in_the_plane_of_the_opening_is_finite(
    speed: float, width: float, height: float, aside: float, above: float
) -> None:
    there = stream_speed(
        start_speed_m_s=speed, width_m=width, height_m=height, distance_m=0.0, aside_m=aside, above_m=above
    )
    assert math.isfinite(there)
    assert 0.0 <= there <= speed * (1.0 + SLACK)


@given(speeds, sides, sides, st.floats(0.0, 10.0), st.floats(0.0, 3.0), st.floats(0.0, 1.0))
def test_speed_falls_aside_of_the_axis(
    speed: float, width: float, height: float, distance: float, aside: float, more: float
) -> None:
    jet = {"start_speed_m_s": speed, "width_m": width, "height_m": height, "distance_m": distance}
    one, other = (float(stream_speed(**jet, aside_m=y)) for y in (aside, aside + more))
    assert other <= one + SLACK * speed
    assert float(stream_speed(**jet, aside_m=-aside)) == pytest.approx(one)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_the_share_of_entering_air_falls_with_the_speed_left(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert 0.0 <= entering_share(speed_over_start=low) <= entering_share(speed_over_start=high) <= 1.0


@given(speeds, sides, st.floats(0.0, 12.0), st.floats(0.0, 3.0), st.floats(0.0, 20.0))
def test_cool_air_sinks_farther_the_farther_it_goes_and_warm_air_rises_as_much(
    speed: float, side: float, distance: float, farther: float, cooler: float
) -> None:
    jet = {"start_speed_m_s": speed, "area_m2": side**2, "temperature_k": 298.0}
    near = drop_m(**jet, distance_m=distance, cooler_k=cooler)
    assert 0.0 <= near <= drop_m(**jet, distance_m=distance + farther, cooler_k=cooler) + 1e-12
    assert drop_m(**jet, distance_m=distance, cooler_k=-cooler) == pytest.approx(-near)


@given(st.floats(0.0, 3.0), sides, st.floats(0.0, 9.0))
def test_air_on_its_way_out_is_no_faster_than_in_the_opening(flow: float, side: float, distance: float) -> None:
    speed = approach_speed(flow_m3_s=flow, area_m2=side**2, distance_m=distance)
    assert 0.0 <= speed <= flow / side**2
