"""Hourly tables of other layouts become weather files that ventplan reads."""

from __future__ import annotations

from pathlib import Path

import pytest

from ventplan.airing.weather_files import chosen_columns, read_weather, typical_weather
from ventplan.errors import InputError

HEADED = """Station 12, invented
Date (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C),Dew-point (C),RHum (%),Wdir (degrees),Wspd (m/s),GHI (W/m^2)
06/30/1988,24:00,18.5,11,60,200,1.5,0
07/01/1995,01:00,18.0,11,62,210,1.2,0
07/01/1995,02:00,17.5,11,64,220,1.0,0
"""
BARE = """LOCATION,invented
COMMENTS,none
1999,6,30,24,0,?9,18.5,11,60,100000,0,0,0,0,0,0,0,0,0,0,200,1.5
2003,7,1,1,0,?9,18.0,11,62,100000,0,0,0,0,0,0,0,0,0,0,210,1.2
2003,7,1,2,0,?9,17.5,11,64,100000,0,0,0,5,0,0,0,0,0,0,220,1.0
2003,7,1,3,0,?9,17.0,11,66,100000,0,0,0,9,0,0,0,0,0,0,230,0.8
"""
COLUMNS = "month=2, day=3, hour=4, temperature=7, humidity=9, sun=14, wind from=21, wind speed=22"


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "year.csv"
    path.write_text(text, "utf-8")
    return path


@pytest.mark.parametrize(("text", "columns"), [(HEADED, ""), (BARE, COLUMNS)])
def test_both_layouts_give_the_same_weather(text: str, columns: str, tmp_path: Path) -> None:
    made = tmp_path / "made.csv"
    made.write_text(typical_weather(written(tmp_path, text), columns=chosen_columns(columns), month=7), "utf-8")
    weather = read_weather(made)
    assert weather.begin.strftime("%m-%d %H:%M") == "07-01 00:00"
    assert weather.seconds[:3] == (0.0, 3600.0, 7200.0)
    assert weather.temperature_c[:3] == (18.5, 18.0, 17.5)
    assert weather.wind_m_s[:3] == (1.5, 1.2, 1.0)
    assert weather.wind_from_deg[:3] == (200.0, 210.0, 220.0)


def test_columns_are_named_by_heading_too(tmp_path: Path) -> None:
    path = written(tmp_path, "Moment;Air outside\n2030-07-01 22:00;21.5\n2030-07-01 23:00;20\n")
    text = typical_weather(path, columns=chosen_columns("time=Moment, temperature=Air outside"))
    assert text.splitlines()[1:] == ["2030-07-01 22:00,21.5", "2030-07-01 23:00,20"]


def test_the_unit_of_a_heading_is_kept(tmp_path: Path) -> None:
    text = "time,temperature [°F],wind speed (mph),wind from\n2030-07-01 22:00,68,10,180\n2030-07-01 23:00,66,5,180\n"
    made = tmp_path / "made.csv"
    made.write_text(typical_weather(written(tmp_path, text)), "utf-8")
    weather = read_weather(made)
    assert weather.temperature_c[0] == pytest.approx(20.0)
    assert weather.wind_m_s[0] == pytest.approx(4.4704)


@pytest.mark.parametrize(
    ("text", "columns", "says"),
    [
        (BARE, "", "Say which column is which"),
        (BARE, "month=2, day=3, hour=4, temperature=6", "column 6 holds no temperatures"),
        (BARE, "month=2, day=3, hour=4", "no heading names the temperature"),
        (HEADED, "time=Moment, temperature=Dry-bulb", "no such column for time"),
        (BARE, COLUMNS.replace("month=2", "month=7"), "month, day and hour as numbers"),
    ],
)
def test_what_is_missing_is_said_with_a_row_of_the_file(text: str, columns: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=says):
        typical_weather(written(tmp_path, text), columns=chosen_columns(columns))


@pytest.mark.parametrize("text", ["temp=3", "temperature", "temperature="])
def test_a_column_that_is_not_known_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="--columns"):
        chosen_columns(text)


def test_a_month_without_rows_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no rows of month 2"):
        typical_weather(written(tmp_path, HEADED), month=2)
