"""``measure anemometer``, ``opening``, ``thrust`` and ``jet``: JSON in SI, saved results, errors at their place."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from measuring import CAMPAIGN, answer, say
from typer.testing import CliRunner

from ventplan.cli.app import app
from ventplan.errors import InputError


@pytest.fixture
def vane(tmp_path: Path) -> str:
    path = str(tmp_path / "vane.json")
    say("measure", "anemometer", str(CAMPAIGN / "vane.csv"), "-o", path)
    return path


@pytest.mark.parametrize(
    "command",
    [
        ["rank"],
        ["fit"],
        ["verify"],
        *(["measure", c] for c in ("anemometer", "opening", "thrust", "jet", "fan", "forms", "all")),
    ],
)
def test_help_shows_an_example(command: list[str]) -> None:
    assert "Example: ventplan" in " ".join(say(*command, "--help").split())


def test_anemometer_json_is_the_saved_calibration(vane: str) -> None:
    shown = answer("measure", "anemometer", str(CAMPAIGN / "vane.csv"))
    saved = json.loads(Path(vane).read_text(encoding="utf-8"))
    assert shown["slope"] == saved["slope"]


def test_flow_of_the_box_comes_with_its_budget(vane: str) -> None:
    result = answer(
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
    result = answer("measure", "opening", "--size", "1 m x 2 m", "--positions", "--duct")
    assert result["positions"][0] == {"across_m": 0.074, "up_m": pytest.approx(1.894)}


def test_thrust_saves_one_file_for_each_setting(tmp_path: Path) -> None:
    out = tmp_path / "thrust.json"
    result = answer("measure", "thrust", str(CAMPAIGN / "scale.csv"), "--lever", "30 cm / 60 cm", "-o", str(out))
    assert result["settings"]["medium"]["gram_force"] < result["settings"][""]["gram_force"]
    assert (tmp_path / "thrust_medium.json").exists()


def test_jet_names_what_is_not_known(vane: str, tmp_path: Path) -> None:
    rows = (CAMPAIGN / "jet.csv").read_text(encoding="utf-8").splitlines()
    walk = tmp_path / "walk.csv"
    walk.write_text("\n".join(row for row in rows if "across" not in row), encoding="utf-8")
    result = answer("measure", "jet", str(walk), "--calibration", vane)
    assert result["jet"]["thrust"] is None
    assert "Not known: thrust" in say("measure", "jet", str(walk), "--calibration", vane)


def test_tables_follow_the_units_asked_for(tmp_path: Path) -> None:
    out = say("measure", "thrust", str(CAMPAIGN / "scale.csv"), "--show", "us")
    assert "gf" in out.splitlines()[2]


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
def test_an_error_is_explained(words: list[str], found: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(CAMPAIGN)
    with pytest.raises(InputError, match=found):
        CliRunner().invoke(app, words, catch_exceptions=False)


WINDOW = ("measure", "opening", "box.csv", "--size", "50 cm x 50 cm")


WALK = ("measure", "jet", "jet.csv")


@pytest.mark.parametrize(
    ("words", "allowed"),
    [
        (("measure", "opening", "box.csv", "--size", "-1 m x 1 m"), "0.01 m to 20 m"),
        (("measure", "opening", "box.csv", "--size", "0 m x 1 m"), "0.01 m to 20 m"),
        (("measure", "opening", "--positions", "--size", "0 m x 1 m"), "0.01 m to 20 m"),
        ((*WINDOW, "--obstructed", "5 m2"), "0 m² to 0.225 m²"),
        ((*WINDOW, "--obstructed", "-0.1 m2"), "0 m² to"),
        ((*WINDOW, "--downstream", "-1 m"), "0 m to 10 m"),
        ((*WINDOW, "--box", "0 Pa"), "above 0"),
        ((*WINDOW, "--box", "30 Pa", "--temperature", "-300"), "−60 °C to 60 °C"),
        ((*WINDOW, "--box", "30 Pa", "--altitude", "99999"), "−500 m to 9000 m"),
        (("measure", "thrust", "scale.csv", "--lever", "30 cm / 0 cm"), "0.005 m to 10 m"),
        (("measure", "thrust", "scale.csv", "--lever", "0"), "0.01 to 100"),
        (("measure", "thrust", "scale.csv", "--lever", "-2"), "0.01 to 100"),
        (("measure", "thrust", "scale.csv", "--step", "0 gf"), "above 0"),
        (("measure", "thrust", "scale.csv", "--scale-error", "-1 %"), "above 0, at most 100 %"),
        ((*WALK, "--thrust", "-1 N"), "above 0"),
        ((*WALK, "--thrust", "0 N"), "above 0"),
        ((*WALK, "--flow", "0 m3/s"), "above 0"),
        ((*WALK, "--altitude", "99999"), "−500 m to 9000 m"),
        ((*WALK, "--temperature", "-300"), "−60 °C to 60 °C"),
        ((*WALK, "--beyond", "-1 m"), "0 m to 50 m"),
        ((*WALK, "--zero-error", "-1 cm"), "0 m to 1 m"),
        (("measure", "fan", "x", "typed.csv", "--diameter", "0 m"), "0.05 m to 2.5 m"),
        (("measure", "anemometer", "vane.csv", "--reference-error", "-4 %"), "above 0, at most 100 %"),
        (("measure", "anemometer", "vane.csv", "--start-up", "-1 m/s"), "0 m/s to 5 m/s"),
        (("fit", "cottage.yaml", "openings.csv", "--model-error", "-16 %"), "above 0, at most 100 %"),
    ],
    ids=lambda said: " ".join(said) if isinstance(said, tuple) else "",
)
def test_an_impossible_option_is_answered_with_what_is_allowed(
    words: tuple[str, ...], allowed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(CAMPAIGN)
    with pytest.raises(InputError) as caught:
        CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert allowed in caught.value.errors[0].allowed
    assert caught.value.errors[0].key.startswith("--")


@pytest.mark.parametrize(
    "words",
    [
        ("anemometer", "vane.csv"),
        ("opening", "box.csv", "--size", "50 x 50 cm"),
        ("thrust", "scale.csv"),
        ("jet", "jet.csv"),
    ],
    ids=lambda words: words[0],
)
def test_a_saved_result_is_written_over_only_when_asked(
    words: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(CAMPAIGN)
    out = tmp_path / "saved.json"
    out.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="exists already"):
        say("measure", *words, "-o", str(out))
    assert out.read_text(encoding="utf-8") == "mine"
    say("measure", *words, "-o", str(out), "--replace")
    assert out.read_text(encoding="utf-8").startswith("{")
    with pytest.raises(InputError, match="there is no folder"):
        say("measure", *words, "-o", str(tmp_path / "none" / "saved.json"))


def test_none_of_several_results_is_written_where_one_is_there(tmp_path: Path) -> None:
    (tmp_path / "thrust_medium.json").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"thrust_medium.json exists already"):
        say("measure", "thrust", str(CAMPAIGN / "scale.csv"), "-o", str(tmp_path / "thrust.json"))
    assert not (tmp_path / "thrust.json").exists()


@pytest.mark.parametrize(("command", "unit"), [("anemometer", "[m/s]"), ("opening", "[m/s]"), ("thrust", "[g]")])
def test_help_says_what_unit_to_write_in_a_heading(command: str, unit: str) -> None:
    assert unit in say("measure", command, "--help")
