"""Bearings as people write them."""

from __future__ import annotations

import pytest

from ventplan.house.records import Wind
from ventplan.house.units import UnitError, parse_bearing
from ventplan.house.weather import read_wind


@pytest.mark.parametrize(
    ("text", "bearing"),
    [
        ("n", 0.0),
        ("WSW", 247.5),
        ("south-west", 225.0),
        ("North West", 315.0),
        ("southsouthwest", 202.5),
        ("east-north-east", 67.5),
        ("240°", 240.0),
        ("-90", 270.0),
        (360, 0.0),
    ],
)
def test_degrees_letters_and_words_are_bearings(text: object, bearing: float) -> None:
    assert parse_bearing(text) == bearing


@pytest.mark.parametrize("text", ["sws", "south-north", "up", "400", "", "nan"])
def test_what_is_no_bearing_is_explained(text: str) -> None:
    with pytest.raises(UnitError, match=r"allowed: (a bearing such as|from -360)"):
        parse_bearing(text)


@pytest.mark.parametrize("text", ["3 m/s from WSW", "3 m/s wsw", "3 m/s from west south west", "3 m/s 247.5"])
def test_wind_on_the_command_line_takes_all_sixteen_points(text: str) -> None:
    assert read_wind(text, Wind()) == Wind(speed_m_s=3.0, from_deg=247.5)
