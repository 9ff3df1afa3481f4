"""Weather files: read, bridged, and explained where they are wrong."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from ventplan.airing import Note, NoteCode
from ventplan.airing.weather_files import read_weather
from ventplan.errors import InputError
from ventplan.house.records import Outdoors

EXAMPLES = Path(__file__).parents[3] / "house_examples"


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "weather.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_invented_week_reads_and_is_what_its_script_makes() -> None:
    weather = read_weather(EXAMPLES / "weather_week.csv")
    assert len(weather.seconds) == 7 * 24 + 1
    kept = (EXAMPLES / "weather_week.csv").read_bytes()
    code = (
        "import runpy, pathlib, sys; m = runpy.run_path(sys.argv[1]); rows = [m['row'](h) for h in range(169)];"
        "sys.stdout.write('\\n'.join(','.join(r) for r in rows))"
    )
    root = {"PYTHONPATH": str(EXAMPLES.parent)}
    made = subprocess.run(
        [sys.executable, "-c", code, str(EXAMPLES / "make_weather_week.py")], capture_output=True, check=True, env=root
    )
    assert made.stdout.decode().split("\n") == kept.decode().rstrip().split("\n")[2:]


def test_units_and_clock_times_of_a_handwritten_night(tmp_path: Path) -> None:
    text = "time;temperature [°F];wind speed [mph];wind from\n22:00;77;4,5;WSW\n23:00;75,2;0;\n0:00;73,4;2;270\n"
    weather = read_weather(write(tmp_path, text))
    assert weather.seconds == (0.0, 3600.0, 7200.0)
    assert weather.temperature_c == pytest.approx((25.0, 24.0, 23.0))
    assert weather.wind_m_s == pytest.approx((2.01168, 0.0, 0.89408))
    assert weather.wind_from_deg == (247.5, 247.5, 270.0)  # a calm row keeps the bearing of the row before it
    assert weather.label(5400.0) == "23:30"
    assert not weather.dated


def test_weather_between_rows_is_interpolated_and_wind_turns_by_the_smaller_angle(tmp_path: Path) -> None:
    text = "time,temperature,humidity [%],wind speed,wind from\n22:00,20,60,2,350\n23:00,18,70,2,10\n"
    now = read_weather(write(tmp_path, text)).at(1800.0, Outdoors(altitude_m=300.0, smoke=True))
    assert now.temperature_c == pytest.approx(19.0)
    assert now.wind.from_deg == pytest.approx(0.0, abs=1e-9) or now.wind.from_deg == pytest.approx(360.0)
    assert 0.6 < now.relative_humidity < 0.7
    assert (now.altitude_m, now.smoke) == (300.0, True)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("time,temperature\n22:00,20\nlater,19\n", ":3: time"),
        ("time,temperature\n2030-07-01 22:00,20\n2030-07-01 21:00,19\n", "rows in the order of time"),
        ("time,temperature\n2030-07-01 22:00,20\n2030-07-03 21:00,19\n", "gap of 47.0 h"),
        ("time,temperature\n22:00,20\n", "at least two rows"),
        ("time,temperature\n22:00,20\n23:00,1900\n", ":3:7: temperature"),
        ("time,temperature,wind speed\n22:00,20,3\n23:00,19,2\n", "wind from: found a speed, and no bearing"),
        ("time,temperature,wind from\n22:00,20,SW\n23:00,19,SW\n", "wind speed: found no speed"),
        ("time,temperature,wind speed,wind from\n22:00,20,3,SW\n23:00,19,,SW\n", ":3: wind speed: found an empty"),
        ("time,temperature,wind speed,wind from\n22:00,20,3,SW\n23:00,19,2,\n", ":3: wind from: found an empty"),
        ("time,temp\n22:00,20\n23:00,19\n", "temperature"),
        ("time,temperature,humidity\n22:00,20,60\n23:00,19,60\n", "humidity"),
    ],
)
def test_errors_name_line_and_column(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        read_weather(write(tmp_path, text))
    assert message in str(caught.value)


def test_missing_columns_and_unknown_headings_are_noted(tmp_path: Path) -> None:
    notes = read_weather(write(tmp_path, "time,temperature,hum\n22:00,20,60\n23:00,19,60\n")).notes
    assert notes[0].code == NoteCode.WEATHER_ASSUMED
    assert notes[0].numbers["humidity"] == 0.6
    assert notes[1] == Note(NoteCode.HEADINGS_UNKNOWN, ("hum",))
    assert read_weather(EXAMPLES / "weather_week.csv").notes == ()


def test_weather_reaches_to_the_hour_or_says_where_it_ends(tmp_path: Path) -> None:
    night = read_weather(write(tmp_path, "time,temperature\n22:00,20\n02:00,18\n06:00,17\n10:00,22\n"))
    assert night.seconds_until(6.0) == 8 * 3600.0
    assert night.until(5.0).seconds == night.until(6.0).seconds == (0.0, 14400.0, 28800.0)
    assert night.seconds_until(22.0) == 86400.0
    with pytest.raises(InputError, match="ends at 10:00, before 11:00"):
        night.until(11.0)
