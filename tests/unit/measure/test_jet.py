"""Walks down a jet and profiles across it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from ventplan.cli.measure_common import known
from ventplan.errors import InputError, NoAnswerError
from ventplan.measure.jet import core_readings, fit_profile, fit_walk, jet_from_walk
from ventplan.measure.readings import read_jet_readings
from ventplan.measure.uncertainty import Array, Estimate, Share, Source

DENSITY, THRUST, FLOW, SPREAD = 1.2, 1.7, 0.30, 0.13
START = FLOW / math.sqrt(2.0 * math.pi * THRUST / DENSITY)
PLACES = np.array([0.1, 0.3, 0.5, 0.9, 1.2, 1.5, 1.9, 2.3, 2.7, 3.1])


def _centre(distance: Array, core: float = 0.0) -> Array:
    return math.sqrt(2.0 * THRUST / (math.pi * DENSITY)) / (START + SPREAD * np.maximum(distance, core))


def _walk(noise: float = 0.0, core: float = 0.0, seed: int = 1):
    factor = np.exp(noise * np.random.default_rng(seed).standard_normal(PLACES.size))
    return fit_walk(distances_m=PLACES, speeds_m_s=_centre(PLACES, core) * factor)


def test_flow_through_the_blades_determines_thrust_and_spread() -> None:
    jet = jet_from_walk(_walk(), density_kg_m3=DENSITY, flow=Estimate(FLOW, 0.01))
    assert jet.thrust is not None
    assert jet.spread is not None
    assert jet.thrust.value == pytest.approx(THRUST)
    assert jet.spread.value == pytest.approx(SPREAD)


def test_thrust_from_a_scale_determines_flow_and_spread() -> None:
    jet = jet_from_walk(_walk(), density_kg_m3=DENSITY, thrust=Estimate(THRUST, 0.03))
    assert jet.flow is not None
    assert jet.spread is not None
    assert jet.flow.value == pytest.approx(FLOW)
    assert jet.spread.value == pytest.approx(SPREAD)


def test_a_walk_alone_gives_two_ratios_and_says_what_is_missing() -> None:
    jet = jet_from_walk(_walk(), density_kg_m3=DENSITY)
    assert jet.thrust is None
    assert jet.origin is not None
    assert jet.spread_squared_over_thrust is not None
    assert jet.origin.value == pytest.approx(START / SPREAD)
    assert jet.spread_squared_over_thrust.value == pytest.approx(SPREAD**2 / THRUST)
    assert jet.by == ""


def test_a_figure_whose_interval_reaches_down_to_zero_is_not_called_known() -> None:
    walk = fit_walk(distances_m=np.array([1.0, 2.0, 3.0]), speeds_m_s=np.array([4.0, 2.1, 1.5]))
    jet = jet_from_walk(walk, density_kg_m3=DENSITY, thrust=Estimate(2.06, 0.03))
    assert jet.flow is not None
    assert jet.flow.interval[0] < 0.0
    assert jet.by == "thrust"
    assert not known(jet.flow)
    assert jet.spread is not None
    assert known(jet.spread)


def test_two_fans_of_four_times_the_thrust_and_twice_the_spread_make_the_same_walk() -> None:
    wide = math.sqrt(2.0 * 4.0 * THRUST / (math.pi * DENSITY)) / (2.0 * START + 2.0 * SPREAD * PLACES)
    assert wide == pytest.approx(_centre(PLACES))


def test_readings_in_the_core_are_found_and_left_out() -> None:
    walk = _walk(noise=0.02, core=0.7)
    assert walk.core == (0, 1, 2)
    assert walk.line.slope == pytest.approx(
        fit_walk(distances_m=PLACES, speeds_m_s=_centre(PLACES)).line.slope, rel=0.1
    )


def test_a_slow_hub_in_front_of_the_blades_counts_as_core() -> None:
    speeds = _centre(PLACES)
    speeds[0] *= 0.4
    assert 0 in core_readings(PLACES, speeds)


def test_a_walk_without_a_core_keeps_all_readings() -> None:
    assert _walk().core == ()


def test_a_walk_that_does_not_fall_is_refused() -> None:
    with pytest.raises(NoAnswerError, match="does not clearly fall"):
        fit_walk(distances_m=[0.1, 0.2, 0.3, 0.4], speeds_m_s=[4.0, 4.1, 3.95, 4.05])


def test_a_shared_anemometer_counts_twice_in_the_thrust() -> None:
    scale = Source("anemometer calibration", np.array([0.0, 1.0]), np.diag([0.0, 0.04**2]))
    speeds = _centre(PLACES)
    walk = fit_walk(distances_m=PLACES, speeds_m_s=speeds, calibration=scale, indicated=speeds, zero_error_m=0.0)
    flow = Estimate(FLOW, 0.04 * FLOW, budget=(Share("anemometer calibration", 0.04 * FLOW),))
    apart = jet_from_walk(walk, density_kg_m3=DENSITY, flow=flow, profile_error=1e-6)
    shared = jet_from_walk(walk, density_kg_m3=DENSITY, flow=flow, profile_error=1e-6, same_anemometer=True)
    assert apart.thrust is not None
    assert shared.thrust is not None
    assert apart.thrust.relative == pytest.approx(0.04 * math.sqrt(2.0), rel=0.02)
    assert shared.thrust.relative == pytest.approx(0.08, rel=0.02)
    # Where only lengths are left, the scale drops out of a shared anemometer altogether.
    assert shared.spread is not None
    assert shared.spread.relative < 0.001


def test_a_flow_that_contradicts_thrust_and_walk_is_reported() -> None:
    jet = jet_from_walk(_walk(), density_kg_m3=DENSITY, thrust=Estimate(THRUST, 0.02), flow=Estimate(0.6, 0.02))
    assert jet.flow_apart is not None
    assert jet.flow_apart > 2.0


def _profile(noise: float = 0.0, start_up: float = 0.0):
    offsets = np.arange(-0.75, 0.76, 0.15)
    width = START + SPREAD * 2.0
    speeds = float(_centre(np.array(2.0))) * np.exp(-(((offsets - 0.04) / width) ** 2))
    speeds = speeds * np.exp(noise * np.random.default_rng(2).standard_normal(offsets.size))
    return fit_profile(offsets_m=offsets, speeds_m_s=speeds, density_kg_m3=DENSITY, start_up_m_s=start_up)


def test_a_profile_gives_thrust_with_no_scale() -> None:
    profile = _profile()
    assert profile.thrust.value == pytest.approx(THRUST)
    assert profile.off_centre_m == pytest.approx(0.04)
    assert profile.flow.value == pytest.approx(FLOW * (1.0 + SPREAD * 2.0 / START))


def test_the_edge_of_a_profile_below_start_up_is_left_out_and_counted() -> None:
    profile = _profile(start_up=0.4)
    assert len(profile.censored) == 4
    assert profile.thrust.value == pytest.approx(THRUST)


def test_a_profile_without_a_peak_is_refused() -> None:
    with pytest.raises(NoAnswerError, match="peak"):
        fit_profile(offsets_m=[-0.1, 0.0, 0.1, 0.2, 0.3], speeds_m_s=[1.0, 1.1, 1.2, 1.3, 1.4], density_kg_m3=1.2)


def test_walk_and_profile_come_from_one_file(tmp_path: Path) -> None:
    path = tmp_path / "jet.csv"
    path.write_text(
        "distance,speed,offset,note\n3 ft,4.0,,\n5 ft,3.0,,\n2 m,1.0,-30 cm,a\n2 m,2.0,0,b\n", encoding="utf-8"
    )
    taken = read_jet_readings(path)
    assert taken.distances_m == pytest.approx([0.9144, 1.524])
    offsets, _, lines = taken.profiles[2.0]
    assert offsets == pytest.approx([-0.3, 0.0])
    assert lines == (4, 5)


def test_an_empty_speed_is_an_error_and_not_a_zero(tmp_path: Path) -> None:
    path = tmp_path / "jet.csv"
    path.write_text("distance [m],speed [m/s]\n1,4.0\n2,\n", encoding="utf-8")
    with pytest.raises(InputError, match="0 means that the vane did not turn"):
        read_jet_readings(path)


def test_a_walk_spoiled_by_a_typing_error_names_the_reading() -> None:
    distances = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0]
    with pytest.raises(NoAnswerError, match=r"mistyped: 0.30 m/s at 2.00 m"):
        fit_walk(distances_m=distances, speeds_m_s=[5.0, 3.9, 0.3, 2.6, 2.2, 1.7])
