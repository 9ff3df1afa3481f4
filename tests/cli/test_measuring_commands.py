"""The measuring commands: JSON in SI, units, files that later commands take, and mistakes that name their place."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from ventplan.cli.app import app
from ventplan.errors import InputError

CAMPAIGN = Path(__file__).parents[2] / "house_examples" / "campaign"


def _run(*words: str) -> str:
    result = CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def _json(*words: str) -> dict:
    printed = json.loads(_run(*words, "--json"))
    assert printed["units"] == "SI"
    return printed["result"]


@pytest.fixture
def vane(tmp_path: Path) -> str:
    path = str(tmp_path / "vane.json")
    _run("measure", "anemometer", str(CAMPAIGN / "vane.csv"), "-o", path)
    return path


@pytest.mark.parametrize(
    "command", [["rank"], ["fit"], *(["measure", c] for c in ("anemometer", "opening", "thrust", "jet", "fan"))]
)
def test_help_shows_an_example(command: list[str]) -> None:
    assert "Example: ventplan" in " ".join(_run(*command, "--help").split())


def test_anemometer_json_is_the_saved_calibration(vane: str) -> None:
    shown = _json("measure", "anemometer", str(CAMPAIGN / "vane.csv"))
    saved = json.loads(Path(vane).read_text(encoding="utf-8"))
    assert shown["slope"] == saved["slope"]


def test_flow_of_the_box_comes_with_its_budget(vane: str) -> None:
    result = _json(
        "measure",
        "opening",
        str(CAMPAIGN / "box.csv"),
        "--size",
        "50 cm x 50 cm",
        "--calibration",
        vane,
        "--box",
        "30 Pa",
    )
    assert result["flow"]["unit"] == "m3/s"
    assert result["without_box"]["free_flow"]["value"] > result["flow"]["value"]
    assert {share["source"] for share in result["flow"]["budget"]} >= {"anemometer calibration", "width by tape"}


def test_positions_are_printed_for_a_size() -> None:
    result = _json("measure", "opening", "--size", "1 m x 2 m", "--positions", "--duct")
    assert result["positions"][0] == {"across_m": 0.074, "up_m": pytest.approx(1.894)}


def test_thrust_saves_one_file_for_each_setting(tmp_path: Path) -> None:
    out = tmp_path / "thrust.json"
    result = _json("measure", "thrust", str(CAMPAIGN / "scale.csv"), "--lever", "30 cm / 60 cm", "-o", str(out))
    assert result["settings"]["medium"]["gram_force"] < result["settings"][""]["gram_force"]
    assert (tmp_path / "thrust_medium.json").exists()


def test_jet_says_what_it_cannot_know(vane: str, tmp_path: Path) -> None:
    rows = (CAMPAIGN / "jet.csv").read_text(encoding="utf-8").splitlines()
    walk = tmp_path / "walk.csv"
    walk.write_text("\n".join(row for row in rows if "across" not in row), encoding="utf-8")
    result = _json("measure", "jet", str(walk), "--calibration", vane)
    assert result["jet"]["thrust"] is None
    assert "Not known: Thrust" in _run("measure", "jet", str(walk), "--calibration", vane)


def test_tables_follow_the_units_asked_for(tmp_path: Path) -> None:
    out = _run("measure", "thrust", str(CAMPAIGN / "scale.csv"), "--show", "us")
    assert "gf" in out.splitlines()[2]


def test_a_fan_goes_into_the_house_file(tmp_path: Path) -> None:
    house = tmp_path / "house.yaml"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    typed = tmp_path / "typed.csv"
    typed.write_text("what,setting,value\nflow,,0.42 m3/s ± 5 %\nthrust,,285 gf ± 3 %\n", encoding="utf-8")
    result = _json("measure", "fan", "circulator", str(typed), "--diameter", "34 cm", "--into", str(house))
    assert result["thrust"]["value"] == pytest.approx(2.795, abs=0.001)
    text = house.read_text(encoding="utf-8")
    assert "thrust: 2.79 N" in text
    assert "# from its box" in text


def test_rank_draws_only_when_asked(tmp_path: Path) -> None:
    picture = tmp_path / "rank.png"
    result = _json("rank", str(CAMPAIGN / "cottage.yaml"), "-o", str(picture))
    assert result["fans"][0]["name"] == "circulator"
    assert picture.stat().st_size > 1000


def test_fit_writes_a_house_file_that_reads(vane: str, tmp_path: Path) -> None:
    out = tmp_path / "calibrated.yaml"
    result = _json(
        "fit", str(CAMPAIGN / "cottage.yaml"), str(CAMPAIGN / "openings.csv"), "--calibration", vane, "-o", str(out)
    )
    assert result["misfit_after"] < result["misfit_before"]
    assert out.read_text(encoding="utf-8").startswith("# Calibrated by the readings in openings.csv.")


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (["measure", "opening", "box.csv", "--size", "50 cm"], "width x height"),
        (["measure", "thrust", "scale.csv", "--lever", "30 kg / 60 cm"], "kg"),
        (["measure", "jet", "nothing.csv"], "nothing.csv"),
        (["fit", "cottage.yaml", "box.csv"], "opening"),
        (["measure", "fan", "x", "vane.csv"], "what"),
    ],
)
def test_a_mistake_is_explained(words: list[str], found: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(CAMPAIGN)
    with pytest.raises(InputError, match=found):
        CliRunner().invoke(app, words, catch_exceptions=False)
