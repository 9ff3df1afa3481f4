"""``measure fan``, ``forms`` and ``all``: fans into the house file, their settings, and figures hardly possible."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from measuring import CAMPAIGN, answer, say
from typer.testing import CliRunner

from ventplan.cli.app import app
from ventplan.errors import InputError, NoAnswerError

SCALE = """setting,direction,fan,reading [g]
high,forward,off,500
high,forward,on,649
high,forward,off,500
high,forward,on,650
high,forward,off,501
low,forward,off,500
low,forward,on,555
low,forward,off,500
low,forward,on,556
low,forward,off,501
"""


@pytest.fixture
def weighed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a fan weighed on settings called high and low, and a walk down its jet on one left blank."""
    monkeypatch.chdir(tmp_path)
    rows = (CAMPAIGN / "jet.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "walk.csv").write_text("\n".join(row for row in rows if "across" not in row), encoding="utf-8")
    (tmp_path / "scale.csv").write_text(SCALE, encoding="utf-8")
    say("measure", "thrust", "scale.csv", "-o", "thrust.json")
    say("measure", "jet", "walk.csv", "--thrust", "thrust.json", "-o", "jet.json")
    say("new", "h.yaml")
    return tmp_path


FAN = ("measure", "fan", "small fan", "thrust.json", "thrust_low.json", "jet.json", "--diameter", "28 cm")


def test_a_fan_goes_into_the_house_file(tmp_path: Path) -> None:
    house = tmp_path / "house.yaml"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    typed = tmp_path / "typed.csv"
    typed.write_text("what,setting,value\nflow,,0.42 m3/s ± 5 %\nthrust,,285 gf ± 3 %\n", encoding="utf-8")
    result = answer("measure", "fan", "circulator", str(typed), "--diameter", "34 cm", "--into", str(house))
    assert result["thrust"]["value"] == pytest.approx(2.795, abs=0.001)
    text = house.read_text(encoding="utf-8")
    assert "thrust: 2.79 N" in text
    assert "# from its box" in text


def test_a_form_for_several_fans_is_written_and_worked_out(tmp_path: Path) -> None:
    form = tmp_path / "fans.csv"
    said = say("measure", "forms", "--names", "box fan, circulator", "-o", str(form))
    assert "2 fans" in said
    assert (tmp_path / "fans.html").exists()
    with pytest.raises(InputError, match="--replace"):
        CliRunner().invoke(app, ["measure", "forms", "-o", str(form)], catch_exceptions=False)
    lines = form.read_text(encoding="utf-8").splitlines()
    grams = iter([900, 1080, 901, 1081, 902, 902, 723, 901, 722, 900] * 2)
    filled = [
        ",".join([*cells[:9], str(next(grams)), *cells[10:]]) if cells[1] == "thrust" else ",".join(cells)
        for cells in (line.split(",") for line in lines if "," in line and '"' not in line)
    ]
    filled += ["box fan,diameter,,,,,,,,,,50 cm,", "circulator,diameter,,,,,,,,,,28 cm,"]
    form.write_text("\n".join(filled) + "\n", encoding="utf-8")
    said = say("measure", "all", str(form), "-o", str(tmp_path / "pictures"))
    assert said.count("Still to read: jet, profile") == 2
    assert said.startswith("Most air through a bare window")
    assert {path.name for path in (tmp_path / "pictures").iterdir()} == {
        "box_fan_thrust.png",
        "circulator_thrust.png",
        "ranking.png",
    }


def test_a_setting_called_high_and_one_left_blank_are_the_same(weighed: Path) -> None:
    result = answer(*FAN, "--into", "h.yaml")
    assert result["thrust"]["value"] == pytest.approx(1.46, abs=0.01)
    assert result["speeds"]["low"]["value"] == pytest.approx((0.54 / 1.46) ** 0.5, abs=0.01)
    assert result["doubts"] == []
    assert "thrust: 1.46 N" in (weighed / "h.yaml").read_text(encoding="utf-8")


def test_readings_that_all_name_their_setting_are_combined(weighed: Path) -> None:
    say("measure", "jet", "walk.csv", "--setting", "high", "--thrust", "thrust.json", "-o", "jet.json", "--replace")
    assert answer(*FAN)["thrust"]["value"] == pytest.approx(1.46, abs=0.01)


def test_a_name_that_may_be_the_highest_setting_is_asked_about(weighed: Path) -> None:
    for path in weighed.glob("thrust*.json"):
        named = path.read_text(encoding="utf-8").replace('"high"', '"3"').replace('"low"', '"1"')
        path.write_text(named, encoding="utf-8")
    with pytest.raises(InputError, match="may be the fan's highest or not"):
        answer(*FAN)
    assert answer(*FAN, "--highest", "3")["thrust"]["value"] == pytest.approx(1.46, abs=0.01)


def test_figures_that_are_hardly_possible_are_not_written_unless_asked(weighed: Path) -> None:
    before = (weighed / "h.yaml").read_text(encoding="utf-8")
    wrong = (*FAN[:-1], "50 cm")
    with pytest.raises(InputError, match="hardly possible"):
        say(*wrong, "--into", "h.yaml")
    assert (weighed / "h.yaml").read_text(encoding="utf-8") == before
    assert "CAUTION, this is hardly possible" in say(*wrong)
    say(*wrong, "--into", "h.yaml", "--doubtful")
    assert (weighed / "h.yaml").read_text(encoding="utf-8") != before


def test_a_typed_figure_that_is_not_above_zero_is_an_error_in_its_line(tmp_path: Path) -> None:
    typed = tmp_path / "typed.csv"
    typed.write_text("what,value\nflow,0.4 m3/s\nthrust,-2 N\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"typed.csv:3: thrust: .*above zero"):
        say("measure", "fan", "x", str(typed))


def test_grams_may_stand_in_the_cells(weighed: Path) -> None:
    plain = answer("measure", "thrust", "scale.csv")
    cells = [row if row.endswith("[g]") else f"{row} g" for row in SCALE.replace(" [g]", "").splitlines()]
    cells[0] = cells[0].removesuffix(" g")
    (weighed / "cells.csv").write_text("\n".join(cells), encoding="utf-8")
    assert answer("measure", "thrust", "cells.csv") == plain


def test_a_diameter_in_the_house_file_need_not_be_typed_again(tmp_path: Path) -> None:
    house, typed = tmp_path / "house.yaml", tmp_path / "typed.csv"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    typed.write_text("what,value\nflow,0.42 m3/s ± 5 %\n", encoding="utf-8")
    result = answer("measure", "fan", "circulator", str(typed), "--into", str(house))
    typical = 1.15 * 1.2 * 0.42**2 / (math.pi / 4.0 * 0.34**2)
    assert result["thrust"]["value"] == pytest.approx(typical, rel=0.01)


def test_readings_that_contradict_one_another_wildly_are_not_written(tmp_path: Path) -> None:
    house, typed = tmp_path / "house.yaml", tmp_path / "typed.csv"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    typed.write_text("what,value\nflow,0.42 m3/s ± 5 %\nthrust,2.8 N ± 3 %\nthrust,1.4 N ± 3 %\n", encoding="utf-8")
    with pytest.raises(InputError, match="the readings contradict one another"):
        say("measure", "fan", "circulator", str(typed), "--into", str(house))


def test_a_fan_that_is_not_in_the_house_is_named_where_its_readings_do_not_determine_it(
    tmp_path: Path,
) -> None:
    house, typed = tmp_path / "house.yaml", tmp_path / "typed.csv"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    typed.write_text("what,value\nflow,0.42 m3/s ± 5 %\n", encoding="utf-8")
    with pytest.raises(NoAnswerError, match="Did you mean circulator"):
        say("measure", "fan", "circulater", str(typed), "--into", str(house))


def test_brackets_in_a_name_are_printed_as_they_are(tmp_path: Path) -> None:
    typed = tmp_path / "typed.csv"
    typed.write_text("what,setting,value\nflow,,0.42 m3/s\nthrust,,2.8 N\nspeed,low [/night],60 %\n", encoding="utf-8")
    assert "speed on low [/night]" in say("measure", "fan", "c", str(typed), "--highest", "high")
