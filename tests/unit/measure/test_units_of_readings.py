"""Units of what people type: never guessed in silence."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ventplan.errors import InputError
from ventplan.measure.readings import parse_units, read_calibration_pairs, read_jet_readings, read_opening_readings
from ventplan.show.cautions import note_words

FEET = "distance,speed\n3,7\n5,4.5\n8,3\n12,2\n"


def _file(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "readings.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_jet_walk_in_feet_without_a_unit_is_asked_about(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"3 to 12, which are implausible in SI units.*--units ft"):
        read_jet_readings(_file(tmp_path, FEET))


@pytest.mark.parametrize("speed", ["45", "450"])
def test_a_speed_above_that_of_any_fan_is_asked_about(tmp_path: Path, speed: str) -> None:
    with pytest.raises(InputError, match=r"without a unit|has no unit"):
        read_opening_readings(_file(tmp_path, f"speed\n{speed}\n"))


def test_units_that_are_set_hold_for_numbers_without_one(tmp_path: Path) -> None:
    taken = read_jet_readings(_file(tmp_path, FEET.replace("7", "7 m/s")), units=parse_units("ft,ft/min"))
    assert taken.distances_m == pytest.approx(0.3048 * np.array([3.0, 5.0, 8.0, 12.0]))
    assert taken.indicated[0] == 7.0
    assert taken.indicated[1] == pytest.approx(4.5 * 0.00508)
    assert [note_words(note) for note in taken.notes] == [
        "Numbers without a unit were read as: distance in ft; speed in ft/min."
    ]


def test_the_unit_that_was_assumed_is_always_named(tmp_path: Path) -> None:
    taken = read_opening_readings(_file(tmp_path, "speed,across [cm],up [cm]\n0.5,10,10\n0.6,30,10\n"))
    assert note_words(taken.notes[0]) == "Numbers without a unit were read as: speed in m/s."


def test_units_in_headings_need_no_note(tmp_path: Path) -> None:
    pairs = read_calibration_pairs(_file(tmp_path, "indicated [m/s],reference (ft/min)\n1,200\n2,400\n3,590\n"))
    assert pairs.notes == ()


@pytest.mark.parametrize("text", ["feet per fortnight", "ft,m", ""])
def test_a_word_that_is_no_unit_or_a_second_one_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="--units"):
        parse_units(text)
