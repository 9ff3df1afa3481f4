"""Thrust from a kitchen scale."""

from __future__ import annotations

from pathlib import Path

import pytest

from ventplan.airing import NoteCode
from ventplan.errors import InputError, NoAnswerError
from ventplan.measure.fan_bench import read_scale_readings, thrust_from_scale
from ventplan.measure.fan_reading import from_estimate

OFF_ON = [False, True, False, True, False, True, False]


def _run(force_g: float, drift_g: float = 0.0, tare_g: float = 300.0) -> list[float]:
    jitter = [0.3, -0.2, 0.1, 0.4, -0.4, -0.1, 0.2]
    return [tare_g + drift_g * i + force_g * on + jitter[i] for i, on in enumerate(OFF_ON)]


def test_tare_and_drift_drop_out() -> None:
    result = thrust_from_scale(readings_g=_run(170.0, drift_g=2.0), running=OFF_ON)
    assert result.gram_force == pytest.approx(170.0, abs=0.5)
    assert result.drift_g == pytest.approx(12.0, abs=1.0)
    assert result.thrust.value == pytest.approx(170.0 * 9.80665e-3, abs=0.005)


def test_both_directions_cancel_the_pull_of_the_cable() -> None:
    readings = _run(170.0 + 8.0) + _run(-170.0 + 8.0)
    result = thrust_from_scale(readings_g=readings, running=OFF_ON * 2, reverse=[False] * 7 + [True] * 7)
    assert result.gram_force == pytest.approx(170.0, abs=0.5)
    assert result.bias_g == pytest.approx(8.0, abs=0.5)
    assert not result.notes


def test_one_direction_alone_allows_for_the_pull_of_the_cable() -> None:
    result = thrust_from_scale(readings_g=_run(170.0), running=OFF_ON)
    assert result.thrust.relative > 0.05
    assert result.notes[0].code is NoteCode.ONE_DIRECTION


def test_lever_multiplies_force_and_adds_its_error() -> None:
    readings, turned = _run(170.0) + _run(-170.0), [False] * 7 + [True] * 7
    result = thrust_from_scale(
        readings_g=readings, running=OFF_ON * 2, reverse=turned, lever=0.5, lever_error=0.02, scale_error=0.0
    )
    assert result.gram_force == pytest.approx(85.0, abs=0.3)
    assert result.thrust.relative == pytest.approx(0.02, abs=0.003)


def test_a_fan_that_was_not_turned_round_is_detected() -> None:
    readings = _run(170.0) + _run(168.0)
    result = thrust_from_scale(readings_g=readings, running=OFF_ON * 2, reverse=[False] * 7 + [True] * 7)
    assert NoteCode.SAME_DIRECTION in [note.code for note in result.notes]


def test_without_a_tare_there_is_no_thrust() -> None:
    with pytest.raises(ValueError, match="off"):
        thrust_from_scale(readings_g=[300.0, 301.0], running=[True, True])


def test_settings_are_read_apart(tmp_path: Path) -> None:
    path = tmp_path / "scale.csv"
    path.write_text(
        "setting,fan,reading [gf]\nhigh,off,300\nhigh,on,470\nhigh,off,301\nlow,off,300\nlow,on,0.4 kgf\nlow,off,299\n",
        encoding="utf-8",
    )
    high, low = read_scale_readings(path)
    assert (high.setting, low.setting) == ("high", "low")
    assert low.readings_g[1] == pytest.approx(400.0)
    assert low.lines == (5, 6, 7)


def test_grams_are_read_as_the_display_shows_them(tmp_path: Path) -> None:
    path = tmp_path / "scale.csv"
    path.write_text("fan;reading [g]\noff;300,5\non;470\noff;301\n", encoding="utf-8")
    assert read_scale_readings(path)[0].readings_g == pytest.approx([300.5, 470.0, 301.0])


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("reading", ("1240 g", "1.41 kg", "1241 g")),
        ("reading [g]", ("1240", "1,41 kg", "1241 g")),
        ("reading [kg]", ("1,24", "1.41", "1241 g")),
        ("reading [gf]", ("1240", "1410 g", "1241")),
        ("reading", ("1240 g", "1.41 kgf", "1241 gf")),
    ],
)
def test_masses_may_stand_in_the_heading_or_in_the_cells(
    tmp_path: Path, heading: str, cells: tuple[str, str, str]
) -> None:
    path = tmp_path / "scale.csv"
    off, on, again = cells
    path.write_text(f"fan;{heading}\noff;{off}\non;{on}\noff;{again}\n", encoding="utf-8")
    assert read_scale_readings(path)[0].readings_g == pytest.approx([1240.0, 1410.0, 1241.0])


def test_grams_without_a_unit_are_not_read_as_newtons(tmp_path: Path) -> None:
    path = tmp_path / "scale.csv"
    path.write_text("fan,reading\noff,0\non,45\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"its unit. Head the column `reading \[g\]`, or write `45 g` in the cell"):
        read_scale_readings(path)


def test_the_unit_is_that_of_the_heading_whatever_a_comment_says(tmp_path: Path) -> None:
    path = tmp_path / "scale.csv"
    path.write_text("# reading [oz] was the old scale\nfan,reading [g]\noff,0\non,150\n", encoding="utf-8")
    assert read_scale_readings(path)[0].readings_g == pytest.approx([0.0, 150.0])


@pytest.mark.parametrize(
    ("row", "key"),
    [("high,forward,off,0\n,forward,on,150\n", "setting"), ("high,forward,off,0\nhigh,,on,150\n", "direction")],
)
def test_a_merged_cell_is_not_taken_for_the_highest_setting_or_for_forward(tmp_path: Path, row: str, key: str) -> None:
    path = tmp_path / "scale.csv"
    path.write_text(f"setting,direction,fan,reading [g]\n{row}", encoding="utf-8")
    with pytest.raises(InputError, match=f"3: {key}: found an empty cell below a filled one.*merged cells"):
        read_scale_readings(path)


def test_readings_with_the_fan_off_may_belong_to_every_setting(tmp_path: Path) -> None:
    path = tmp_path / "scale.csv"
    path.write_text("setting,fan,reading [g]\nhigh,on,150\n,off,0\nlow,on,90\n", encoding="utf-8")
    assert [list(run.readings_g) for run in read_scale_readings(path)] == [[150.0, 0.0], [0.0, 90.0]]


def test_a_word_that_is_neither_on_nor_off_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "scale.csv"
    path.write_text("fan,reading [gf]\noff,300\nrunning,470\n", encoding="utf-8")
    with pytest.raises(InputError, match="on or off"):
        read_scale_readings(path)


def test_no_thrust_is_reported_as_none_and_cannot_be_combined() -> None:
    result = thrust_from_scale(readings_g=[100, 101, 102, 100, 101], running=[False, True, False, True, False])
    assert result.notes[0].code is NoteCode.THRUST_NEAR_ZERO
    assert result.outliers == ()
    with pytest.raises(NoAnswerError, match="does not differ from zero"):
        from_estimate("thrust", result.thrust)
