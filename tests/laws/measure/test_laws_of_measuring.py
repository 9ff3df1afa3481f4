"""What must hold for any readings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplan.measure.anemometer import fit_line
from ventplan.measure.fan_bench import share_of_free_flow, thrust_from_scale
from ventplan.measure.fan_data import combine
from ventplan.measure.fan_reading import FanReading
from ventplan.measure.jet import fit_profile, fit_walk, jet_from_walk
from ventplan.measure.opening import place_weights, positions
from ventplan.measure.uncertainty import Estimate, Share, effective_degrees, propagate, single
from ventplan.physics.jet import start_half_width

SIDE = st.floats(0.2, 3.0)
PLACES = np.array([0.5, 0.8, 1.1, 1.5, 2.0, 2.6, 3.2])


@given(thrust=st.floats(0.3, 10.0), flow=st.floats(0.1, 1.2), spread=st.floats(0.10, 0.20))
@settings(max_examples=30, deadline=None)
def test_a_walk_without_noise_gives_back_the_fan_of_the_jet_model(thrust: float, flow: float, spread: float) -> None:
    start = start_half_width(flow_m3_s=flow, thrust_n=thrust, density=1.2)
    speeds = np.sqrt(2.0 * thrust / (np.pi * 1.2)) / (start + spread * PLACES)
    walk = fit_walk(distances_m=PLACES, speeds_m_s=speeds)
    jet = jet_from_walk(walk, density_kg_m3=1.2, flow=Estimate(flow, 0.001 * flow), draws=200)
    assert walk.core == ()
    assert jet.thrust is not None
    assert jet.spread is not None
    assert jet.thrust.value == pytest.approx(thrust, rel=1e-6)
    assert jet.spread.value == pytest.approx(spread, rel=1e-6)


@given(factor=st.floats(0.5, 2.0))
@settings(max_examples=20, deadline=None)
def test_speeds_that_are_all_too_high_by_a_factor_make_profile_thrust_too_high_by_its_square(factor: float) -> None:
    offsets = np.linspace(-0.6, 0.6, 9)
    speeds = 3.0 * np.exp(-(((offsets - 0.03) / 0.35) ** 2))
    one = fit_profile(offsets_m=offsets, speeds_m_s=speeds, density_kg_m3=1.2)
    other = fit_profile(offsets_m=offsets, speeds_m_s=factor * speeds, density_kg_m3=1.2)
    assert other.thrust.value / one.thrust.value == pytest.approx(factor**2, rel=1e-5)


@given(width=SIDE, height=SIDE)
def test_every_traverse_counts_the_whole_opening_once(width: float, height: float) -> None:
    across, up = np.array(positions(width_m=width, height_m=height)).T
    weights = place_weights(across_m=across, up_m=up, width_m=width, height_m=height)
    assert weights.sum() == pytest.approx(1.0)
    # Positions are rounded to the millimetre when cells are made of them.
    assert weights == pytest.approx(np.full(weights.size, 1.0 / weights.size), rel=0.03)
    assert 0.0 < across.min() <= across.max() < width
    assert 0.0 < up.min() <= up.max() < height


@given(width=SIDE, height=SIDE, tilt_x=st.floats(-1.0, 1.0), tilt_y=st.floats(-1.0, 1.0))
def test_equal_areas_are_exact_for_a_profile_that_leans(
    width: float, height: float, tilt_x: float, tilt_y: float
) -> None:
    across, up = np.array(positions(width_m=width, height_m=height)).T
    speeds = 2.0 + tilt_x * (across / width - 0.5) + tilt_y * (up / height - 0.5)
    assert speeds.mean() == pytest.approx(2.0)


@given(
    st.lists(st.tuples(st.floats(0.01, 10.0), st.floats(1.0, 100.0)), min_size=1, max_size=8),
)
def test_effective_degrees_lie_between_the_fewest_and_the_sum(parts: list[tuple[float, float]]) -> None:
    shares = [Share(str(i), u, degrees) for i, (u, degrees) in enumerate(parts)]
    effective = effective_degrees(shares)
    assert min(degrees for _, degrees in parts) * (1.0 - 1e-9) <= effective
    assert effective <= sum(degrees for _, degrees in parts) * (1.0 + 1e-9)


@given(a=st.floats(0.01, 1.0), b=st.floats(0.01, 1.0))
def test_more_sources_never_make_a_result_more_certain(a: float, b: float) -> None:
    one = propagate(lambda x: x, [single("a", mean=1.0, standard=a)])
    two = propagate(lambda x, y: x + y, [single("a", mean=1.0, standard=a), single("b", mean=0.0, standard=b)])
    assert two.standard >= one.standard


@given(shift=st.floats(-50.0, 50.0), stretch=st.floats(0.1, 10.0))
def test_a_line_is_the_same_in_other_units_and_from_another_zero_of_x(shift: float, stretch: float) -> None:
    x = np.array([0.3, 1.0, 2.2, 3.1, 4.4])
    y = np.array([1.0, 1.9, 3.0, 4.2, 5.1])
    line, moved = fit_line(x, y), fit_line(shift + stretch * x, y)
    assert moved.at(shift + stretch * 2.0) == pytest.approx(line.at(2.0), rel=1e-7)
    assert moved.standard_at(shift + stretch * 2.0) == pytest.approx(line.standard_at(2.0), rel=1e-5)


@given(
    tare=st.floats(0.0, 2000.0), drift=st.floats(-5.0, 5.0), force=st.floats(20.0, 500.0), bias=st.floats(-20.0, 20.0)
)
def test_tare_drift_and_cable_cancel_in_the_thrust(tare: float, drift: float, force: float, bias: float) -> None:
    on = [False, True, False, True, False, True, False]
    readings = [
        tare + drift * i + (sign * force + bias) * running for sign in (1.0, -1.0) for i, running in enumerate(on)
    ]
    result = thrust_from_scale(readings_g=readings, running=on * 2, reverse=[False] * 7 + [True] * 7)
    assert result.gram_force == pytest.approx(force, rel=1e-6)
    assert result.bias_g == pytest.approx(bias, abs=1e-6)


@given(pressure=st.floats(0.0, 1.0), linear=st.floats(0.0, 1.0))
def test_a_fan_curve_is_between_shut_off_and_free_delivery(pressure: float, linear: float) -> None:
    share = float(share_of_free_flow(pressure_ratio=pressure, linear_share=linear))
    assert 0.0 <= share <= 1.0
    assert 1.0 - linear * share - (1.0 - linear) * share**2 == pytest.approx(pressure, abs=1e-9)


@given(speed=st.floats(0.3, 1.0), thrust=st.floats(0.3, 10.0), flow=st.floats(0.1, 1.2))
@settings(max_examples=30, deadline=None)
def test_readings_on_a_lower_setting_give_the_same_fan_by_the_fan_laws(
    speed: float, thrust: float, flow: float
) -> None:
    def reading(measured: str, value: float, setting: str = "") -> FanReading:
        return FanReading(measured, np.array([value]), np.array([[1e-4]]), setting=setting, label=measured)  # type: ignore[arg-type]

    card = combine(
        [
            reading("speed", speed, "low"),
            reading("flow", flow * speed, "low"),
            reading("thrust", thrust * speed**2, "low"),
        ],
        density_kg_m3=1.2,
    )
    assert (card.flow.value, card.thrust.value) == pytest.approx((flow, thrust), rel=1e-6)
    assert math.isnan(card.chance)
