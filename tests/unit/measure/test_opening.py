"""Flow through openings and boxes from readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ventplan.airing import NoteCode
from ventplan.errors import InputError, NoAnswerError
from ventplan.measure.anemometer import uncalibrated
from ventplan.measure.fan_bench import without_box
from ventplan.measure.opening import PlaceReading, flow_through, place_weights, positions
from ventplan.measure.readings import read_opening_readings, uneven_steps
from ventplan.measure.uncertainty import Estimate
from ventplan.show.cautions import note_words

VANE = uncalibrated(relative=0.02, start_up_m_s=0.3)


def _traverse(speed, width: float = 1.0, height: float = 1.2) -> list[PlaceReading]:
    return [PlaceReading(speed(x, y), across_m=x, up_m=y) for x, y in positions(width_m=width, height_m=height)]


def test_even_stream_is_speed_times_area() -> None:
    result = flow_through(readings=_traverse(lambda x, y: 0.8), width_m=1.0, height_m=1.2, calibration=VANE)
    assert result.flow.value == pytest.approx(0.96)
    assert result.flow.relative == pytest.approx(0.02, abs=0.003)


def test_obstructed_area_is_taken_off_and_counted_as_uncertain() -> None:
    result = flow_through(
        readings=_traverse(lambda x, y: 0.8), width_m=1.0, height_m=1.2, calibration=VANE, obstructed_m2=0.2
    )
    assert result.flow.value == pytest.approx(0.8)
    assert "obstructed area" in {share.name for share in result.flow.budget if share.standard > 0.01}


def test_traverse_of_a_curved_profile_finds_its_mean_within_its_interval() -> None:
    result = flow_through(
        readings=_traverse(lambda x, y: 1.0 + 0.4 * np.sin(3.0 * x) * y), width_m=1.0, height_m=1.2, calibration=VANE
    )
    fine = positions(width_m=1.0, height_m=1.2, spacing_m=0.01)
    exact = 1.2 * np.mean([1.0 + 0.4 * np.sin(3.0 * x) * y for x, y in fine])
    low, high = result.flow.interval
    assert low < exact < high
    assert result.flow.value == pytest.approx(exact, rel=0.01)


def test_places_where_the_vane_does_not_turn_count_as_zero_to_start_up() -> None:
    half = flow_through(
        readings=_traverse(lambda x, y: 0.8 if y > 0.6 else 0.0), width_m=1.0, height_m=1.2, calibration=VANE
    )
    assert half.mean_speed.value == pytest.approx((0.8 + 0.15) / 2.0)
    assert half.censored == 15
    assert {s.name: s.standard for s in half.mean_speed.budget}["speeds below start-up"] > 0.04


def test_a_vane_that_never_turned_gives_a_limit_and_no_number() -> None:
    with pytest.raises(NoAnswerError, match=r"flow below 0\.360"):
        flow_through(readings=_traverse(lambda x, y: 0.0), width_m=1.0, height_m=1.2, calibration=VANE)


def test_one_reading_behind_a_sharp_edge_is_divided_by_the_contraction() -> None:
    plane = flow_through(readings=[PlaceReading(1.0)], width_m=1.0, height_m=1.0, calibration=VANE)
    behind = flow_through(readings=[PlaceReading(1.0)], width_m=1.0, height_m=1.0, calibration=VANE, downstream_m=0.12)
    assert plane.flow.value / behind.flow.value == pytest.approx(1.16, abs=0.01)
    assert behind.flow.relative > plane.flow.relative


def test_contraction_scales_with_the_opening() -> None:
    half = flow_through(readings=[PlaceReading(1.0)], width_m=0.5, height_m=0.5, calibration=VANE, downstream_m=0.06)
    whole = flow_through(readings=[PlaceReading(1.0)], width_m=1.0, height_m=1.0, calibration=VANE, downstream_m=0.12)
    assert whole.flow.value == pytest.approx(4.0 * half.flow.value)


def test_a_screen_evens_the_stream_out() -> None:
    bare = flow_through(readings=[PlaceReading(1.0)], width_m=1.0, height_m=1.0, calibration=VANE, downstream_m=0.12)
    meshed = flow_through(
        readings=[PlaceReading(1.0)], width_m=1.0, height_m=1.0, calibration=VANE, downstream_m=0.12, screened=True
    )
    assert meshed.flow.value == pytest.approx(1.0)
    assert meshed.flow.relative < bare.flow.relative


def test_equal_area_places_have_equal_weights() -> None:
    x, y = np.array(positions(width_m=0.9, height_m=2.0)).T
    weights = place_weights(across_m=x, up_m=y, width_m=0.9, height_m=2.0)
    assert weights == pytest.approx(np.full(x.size, 1.0 / x.size))


def test_box_lowers_the_flow_and_the_free_flow_puts_it_back() -> None:
    result = without_box(flow=Estimate(0.4, 0.012), exit_area_m2=0.25, shutoff_pa=30.0)
    assert result.back_pressure.value == pytest.approx(0.6 * (0.4 / 0.155) ** 2)
    assert result.free_flow.value > 0.4
    assert result.free_flow.relative > 0.03


def test_a_box_that_chokes_the_fan_is_refused() -> None:
    with pytest.raises(NoAnswerError, match="Cut the exit larger"):
        without_box(flow=Estimate(0.4, 0.012), exit_area_m2=0.1, shutoff_pa=30.0)


def test_repeats_and_notes_and_units_in_cells_are_read(tmp_path: Path) -> None:
    path = tmp_path / "window.csv"
    path.write_text(
        "# evening\nacross [cm],up [in],speed,who\n10,4,0.8 m/s,A\n10,4,180 ft/min,A\n\n30,4,0.7,B\n", encoding="utf-8"
    )
    taken = read_opening_readings(path)
    assert len(taken.places) == 2
    assert taken.places[0].indicated == pytest.approx((0.8 + 180 * 0.00508) / 2.0)
    assert taken.places[0].up_m == pytest.approx(0.102, abs=0.001)
    assert taken.places[0].degrees == 1


def test_a_log_is_averaged_with_its_autocorrelation(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    generator = np.random.default_rng(2)
    gusts = np.repeat(generator.standard_normal(40), 5) * 0.1
    path.write_text("speed [m/s]\n" + "\n".join(f"{0.8 + g:.3f}" for g in gusts) + "\n", encoding="utf-8")
    taken = read_opening_readings(path)
    assert "independent ones" in note_words(taken.notes[0])
    assert "Log longer" not in note_words(taken.notes[0])
    assert taken.places[0].standard > np.std(gusts) / np.sqrt(200) * 1.5


def test_a_vane_that_stops_between_gusts_counts_as_zero_to_start_up_for_that_time(tmp_path: Path) -> None:
    path = tmp_path / "gusts.csv"
    path.write_text("speed [m/s]\n0.8\n0\n0.8\n0\n0.8\n0\n0.8\n0\n", encoding="utf-8")
    taken = read_opening_readings(path)
    result = flow_through(readings=taken.places, width_m=1.0, height_m=1.0, calibration=VANE)
    assert result.mean_speed.value == pytest.approx((0.8 + 0.15) / 2.0)


def test_an_uneven_log_is_reported(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    rows = [f"{i if i < 30 else i + 60},{0.8 + 0.01 * (i % 3)}" for i in range(60)]
    path.write_text("time [s],speed [m/s]\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert "1 of 59 time steps" in note_words(read_opening_readings(path).notes[0])


@pytest.mark.parametrize("row", ["20,,0.8", ",20,0.8", ",,0.8"])
def test_a_place_that_is_empty_or_merged_is_an_error_with_its_line(tmp_path: Path, row: str) -> None:
    path = tmp_path / "window.csv"
    path.write_text(f"across [cm],up [cm],speed\n10,10,0.8\n{row}\n", encoding="utf-8")
    with pytest.raises(InputError, match="merged cells") as caught:
        read_opening_readings(path)
    assert caught.value.errors[0].line == 3


def test_a_place_outside_the_opening_is_refused() -> None:
    places = [PlaceReading(0.6, across_m=x, up_m=0.5) for x in (0.1, 0.5, 0.9)]
    with pytest.raises(ValueError, match=r"0.90 m across, 0.50 m up lies outside"):
        flow_through(readings=places, width_m=0.6, height_m=1.0, calibration=VANE)


def test_places_in_one_line_are_less_certain_than_a_traverse() -> None:
    places = [PlaceReading(0.6, across_m=x, up_m=0.5) for x in (0.1, 0.3, 0.5)]
    result = flow_through(readings=places, width_m=0.6, height_m=1.0, calibration=VANE)
    assert result.flow.relative == pytest.approx(np.hypot(0.10, 0.02), abs=0.001)
    assert result.notes[0].code is NoteCode.ONE_LINE_EVEN


@pytest.mark.parametrize("times", ["{} s", "20:00:{:02d}", "8:00:{:02d}", "2030-07-01 23:59:{:02d}"])
def test_times_are_read_as_loggers_write_them(tmp_path: Path, times: str) -> None:
    path = tmp_path / "log.csv"
    rows = [f"{times.format(i if i < 20 else i + 9)};0,{80 + i % 3}" for i in range(40)]
    path.write_text("time;speed [m/s]\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert "1 of 39 time steps" in note_words(read_opening_readings(path).notes[0])


def test_a_log_worth_few_independent_readings_is_reported_as_too_short(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    slow = 0.8 + 0.1 * np.sin(np.arange(120) / 12.0)
    path.write_text("speed [m/s]\n" + "\n".join(f"{v:.3f}" for v in slow) + "\n", encoding="utf-8")
    assert "Log longer" in note_words(read_opening_readings(path).notes[0])


def test_a_log_past_midnight_is_even() -> None:
    assert uneven_steps(["23:59:58", "23:59:59", "00:00:00", "00:00:01"]) == []
    assert uneven_steps(["noon", "one"])[0].code is NoteCode.TIMES_UNREADABLE


def test_readings_along_one_line_of_a_peaked_stream_warn_that_the_flow_is_too_high() -> None:
    # u = U sin(pi x) sin(pi y): the mean along the middle line is pi / 2 times that of the opening.
    places = [PlaceReading(float(np.sin(np.pi * x)), across_m=float(x), up_m=0.5) for x in (np.arange(8) + 0.5) / 8]
    result = flow_through(readings=places, width_m=1.0, height_m=1.0, calibration=VANE)
    low, high = result.flow.interval
    assert low < (2.0 / np.pi) ** 2 < high
    assert result.notes[0].code is NoteCode.ONE_LINE_PEAKED
    assert result.notes[0].numbers["too_high"] == pytest.approx(np.pi / 2.0 - 1.0, abs=0.02)
