"""Readings against the prediction."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.unit.measure.blown_window import house_text
from ventplan.house import parse_house
from ventplan.house.records import House
from ventplan.measure.anemometer import uncalibrated
from ventplan.measure.house_readings import read_house_readings
from ventplan.measure.setback_series import measured_best, scale_of
from ventplan.measure.verification import Verification, verify
from ventplan.network import solve

HOUSE = house_text(spread=0.20, errors="8 %, 8 %, 8 %")
VANE = uncalibrated(relative=0.02, start_up_m_s=0.2)
SETBACKS = (0.3, 0.6, 0.9, 1.2, 1.6, 2.2, 3.0)


def _verified(tmp_path: Path, truth: House, *, factor: float = 1.0) -> Verification:
    """Readings of a true house, with scatter, held against the file."""
    generator = np.random.default_rng(7)
    lines = ["scenario,setback,opening,speed [m/s],takes"]
    state = truth.scenarios["blown"]
    for setback in SETBACKS:
        flow = solve(truth, replace(state, placements=(replace(state.placements[0], setback_m=setback),)))
        speed = factor * flow.openings["inlet"].face_speed_m_s * math.exp(0.03 * generator.standard_normal())
        lines.append(f"blown,{setback} m,inlet,{speed:.3f},mean")
    path = tmp_path / "readings.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    taken = read_house_readings(path, house_text=HOUSE, calibration=VANE)
    return verify(taken.house, taken.readings, VANE)


def _with_fan(**changes: float) -> House:
    house = parse_house(HOUSE)
    return replace(house, fans={"fan": replace(house.fans["fan"], **changes)})


def test_readings_of_the_house_in_the_file_agree_and_need_no_explanation(tmp_path: Path) -> None:
    result = _verified(tmp_path, parse_house(HOUSE))
    assert not result.wrong_here
    assert {one.verdict for one in result.comparisons} == {"agrees"}
    assert result.explanations == ()
    (series,) = result.series
    assert not series.apart


def test_a_jet_that_spreads_less_is_named_with_what_would_decide(tmp_path: Path) -> None:
    result = _verified(tmp_path, _with_fan(spread=0.08))
    assert result.wrong_here
    (series,) = result.series
    assert series.measured is not None
    assert series.measured.setback_m > 1.3 * series.predicted.setback_m
    first = result.explanations[0]
    assert first.cause == "spread of fan"
    assert first.value == pytest.approx(0.08 / 0.20, rel=0.25)
    assert "walk down the jet" in first.decided_by


def test_a_fan_at_a_quarter_of_its_thrust_is_named(tmp_path: Path) -> None:
    result = _verified(tmp_path, _with_fan(thrust_n=0.6))
    assert result.contradicted
    assert "thrust of fan" in {one.cause for one in result.explanations}
    assert result.mean_ratio < 0.75


def test_readings_at_the_wrong_place_may_be_the_probe_and_not_the_house(tmp_path: Path) -> None:
    result = _verified(tmp_path, parse_house(HOUSE), factor=1.55)
    assert "the probe's place in inlet, or its calibration" in {one.cause for one in result.explanations}


def test_a_vane_that_does_not_turn_where_a_fast_stream_is_predicted_contradicts_the_model(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("scenario,opening,speed [m/s],takes\nblown,inlet,0,mean\nas it stands,inlet,0,mean\n", "utf-8")
    text = HOUSE.replace("as it stands: {}", "as it stands: {open: [inlet]}")
    taken = read_house_readings(path, house_text=text, calibration=VANE)
    fast, slow = verify(taken.house, taken.readings, VANE).comparisons
    assert (fast.verdict, slow.verdict) == ("lower", "agrees")


def test_the_band_covers_what_is_uncertain_in_the_file(tmp_path: Path) -> None:
    known = _verified(tmp_path, parse_house(HOUSE))
    path = tmp_path / "readings.csv"
    text = HOUSE.replace("thrust error: 8 %", "thrust error: 30 %")
    taken = read_house_readings(path, house_text=text, calibration=VANE)
    unknown = verify(taken.house, taken.readings, VANE)
    for one, other in zip(known.comparisons, unknown.comparisons, strict=True):
        assert other.high_m_s / other.low_m_s > one.high_m_s / one.low_m_s


def test_a_best_setback_at_the_end_of_its_series_is_marked_as_open() -> None:
    generator = np.random.default_rng(1)
    rising = measured_best([0.5, 1.0, 2.0, 4.0], [0.5, 0.7, 1.0, 1.4], [0.05] * 4, generator=generator)
    assert rising is not None
    assert not rising.bracketed
    assert measured_best([0.5, 1.0, 2.0], [0.5, 0.7, 0.6], [0.05] * 3, generator=generator) is None


@pytest.mark.slow
def test_intervals_of_the_measured_best_hold_the_top_of_a_hill() -> None:
    generator = np.random.default_rng(2)
    places = np.array([0.3, 0.6, 1.0, 1.5, 2.2, 3.2, 4.5])
    held = []
    for top in (0.8, 1.5, 2.5):
        for width in (0.7, 1.0):
            for _ in range(60):
                curve = -0.5 * ((scale_of(places) - scale_of(top)) / width) ** 2
                speeds = np.exp(curve + 0.05 * generator.standard_normal(places.size))
                found = measured_best(places, speeds, np.full(places.size, 0.05), generator=generator, draws=500)
                assert found is not None
                held.append(found.low_m <= top <= found.high_m)
    # Stated: 90 %, on hills as wide and as narrow as setback curves are.
    assert 0.85 <= np.mean(held) <= 0.97
