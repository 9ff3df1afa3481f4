"""Calibration of an anemometer, and what readings of nothing mean."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ventplan.errors import InputError
from ventplan.measure.anemometer import calibrate, read_calibration, save_calibration
from ventplan.measure.readings import read_calibration_pairs


def _line(**options: float):
    return calibrate(
        indicated=[0.0, 0.2, 0.7, 1.2, 2.0, 2.9], reference_m_s=[0.2, 0.36, 0.83, 1.3, 2.06, 2.91], **options
    )


def test_a_vane_that_does_not_turn_is_left_off_the_line_and_brackets_start_up() -> None:
    line = _line()
    assert line.start_up_m_s == 0.36
    assert np.isnan(line.speed(0.0))


def test_an_exact_reference_leaves_the_degrees_of_freedom_of_the_scatter_and_a_doubtful_one_more() -> None:
    assert _line(reference_error=0.0).degrees == pytest.approx(3.0)
    # u^4 / (u_scatter^4 / 3), Welch and Satterthwaite (JCGM 100:2008, G.2b).
    middle = (0.2 + 0.7 + 1.2 + 2.0 + 2.9) / 5.0
    ratio = float(_line().standard_at(middle)) / float(_line(reference_error=0.0).standard_at(middle))
    assert _line().degrees == pytest.approx(3.0 * ratio**4)


def test_line_corrects_a_reading() -> None:
    assert float(_line().speed(1.2)) == pytest.approx(1.3, abs=0.03)


def test_error_of_the_reference_scales_the_whole_line() -> None:
    exact, doubtful = _line(reference_error=0.0), _line(reference_error=0.03)
    added = float(doubtful.standard_at(2.0)) ** 2 - float(exact.standard_at(2.0)) ** 2
    assert added**0.5 == pytest.approx(0.03 * float(exact.speed(2.0)))


@pytest.mark.parametrize("suffix", ["json", "yaml"])
def test_saved_calibration_reads_back_the_same(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"vane.{suffix}"
    save_calibration(_line(), path)
    back = read_calibration(path)
    assert back.slope == _line().slope
    assert back.covariance == pytest.approx(_line().covariance)


def test_a_file_that_is_no_calibration_says_how_to_make_one(tmp_path: Path) -> None:
    path = tmp_path / "vane.json"
    path.write_text("{}", encoding="utf-8")
    with pytest.raises(InputError, match="ventplan measure anemometer"):
        read_calibration(path)


def test_pulses_and_a_walk_through_still_air_need_no_other_instrument(tmp_path: Path) -> None:
    path = tmp_path / "pulses.csv"
    path.write_text(
        "pulses;counting time [s];distance [m];time [s];note\n"
        "0;20;10;50;stood still\n\n40;20;10;18,5;\n100;20;10;9,1;\n200;20;10;4,9;\n320;20;10;3,1;\n",
        encoding="utf-8",
    )
    pairs = read_calibration_pairs(path)
    assert pairs.indication == "Hz"
    assert pairs.indicated == pytest.approx([0.0, 2.0, 5.0, 10.0, 16.0])
    assert pairs.reference_m_s[1] == pytest.approx(10.0 / 18.5)
    line = calibrate(indicated=pairs.indicated, reference_m_s=pairs.reference_m_s, indication="Hz")
    assert float(line.speed(7.0)) == pytest.approx(1.48, abs=0.1)


def test_a_missing_reference_is_named_by_its_line(tmp_path: Path) -> None:
    path = tmp_path / "pairs.csv"
    path.write_text("indicated,reference\n1.0,1.1\n2.0,\n3.0,3.1\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_calibration_pairs(path)
    assert caught.value.errors[0].line == 3


def test_start_up_is_above_every_speed_at_which_the_vane_did_not_turn() -> None:
    line = calibrate(indicated=[0.0, 0.1, 0.5, 1.0, 2.0], reference_m_s=[0.4, 0.3, 0.6, 1.1, 2.1])
    assert line.start_up_m_s == 0.6
    assert line.lowest_m_s == 0.3


def test_a_line_that_falls_is_no_calibration() -> None:
    with pytest.raises(ValueError, match="does not rise"):
        calibrate(indicated=[1.0, 2.0, 3.0], reference_m_s=[3.1, 2.1, 1.2])


def test_a_pair_far_off_is_numbered_among_all_pairs() -> None:
    line = calibrate(
        indicated=[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5], reference_m_s=[0.2, 0.6, 1.1, 1.62, 2.11, 6.1, 3.12, 3.6]
    )
    assert line.outliers == (5,)


def test_pairs_that_agree_to_the_last_digit_make_no_outlier_of_the_rest() -> None:
    line = calibrate(indicated=[0.5, 1.0, 2.0, 3.0], reference_m_s=[0.61, 1.1, 2.1, 3.1])
    assert line.outliers == ()


def test_a_line_of_three_pairs_has_the_interval_of_student_not_of_the_normal() -> None:
    line = calibrate(indicated=[0.5, 1.5, 3.0], reference_m_s=[0.55, 1.62, 3.05], reference_error=0.0)
    assert line.degrees == pytest.approx(1.0)
    # t of table G.2 of JCGM 100:2008 for one degree of freedom.
    assert float(line.expanded_at(1.5)) == pytest.approx(12.71 * float(line.standard_at(1.5)), rel=1e-3)
