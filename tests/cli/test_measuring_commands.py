"""The measuring commands: JSON in SI, units, files that later commands take, and errors that name their place."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import pytest
from typer.testing import CliRunner

from ventplan.cli.app import app
from ventplan.errors import InputError, NoAnswerError

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
    "command",
    [
        ["rank"],
        ["fit"],
        ["verify"],
        *(["measure", c] for c in ("anemometer", "opening", "thrust", "jet", "fan", "forms", "all")),
    ],
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


def test_verify_draws_the_readings_and_says_whether_they_agree(vane: str, tmp_path: Path) -> None:
    files = (str(CAMPAIGN / "cottage.yaml"), str(CAMPAIGN / "openings.csv"), "--calibration", vane)
    picture = tmp_path / "verified.svg"
    said = _run("verify", *files, "-o", str(picture))
    assert "readings agree" in " ".join(said.split())
    assert picture.stat().st_size > 0
    result = _json("verify", *files)
    assert len(result["comparisons"]) == 22
    assert isinstance(result["wrong_here"], bool)


def test_a_form_for_several_fans_is_written_filled_in_and_worked_out(tmp_path: Path) -> None:
    form = tmp_path / "fans.csv"
    said = _run("measure", "forms", "--names", "box fan, circulator", "-o", str(form))
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
    said = _run("measure", "all", str(form), "-o", str(tmp_path / "pictures"))
    assert said.count("Still missing: jet, profile") == 2
    assert "By flow through a bare window" in said
    assert {path.name for path in (tmp_path / "pictures").iterdir()} == {
        "box_fan_thrust.png",
        "circulator_thrust.png",
        "ranking.png",
    }


def test_a_house_is_not_written_from_readings_that_contradict_it_unless_asked(vane: str, tmp_path: Path) -> None:
    rows = "\n".join(f"living to bedroom,{name},{speed}" for name, speed in (("bedroom window", 5), ("living door", 5)))
    (tmp_path / "r.csv").write_text(f"scenario,opening,speed [m/s]\n{rows}\n", encoding="utf-8")
    out = tmp_path / "new.yaml"
    words = ("fit", str(CAMPAIGN / "cottage.yaml"), str(tmp_path / "r.csv"), "--calibration", vane, "-o", str(out))
    with pytest.raises(InputError, match="Nothing was written into"):
        _run(*words)
    assert not out.exists()
    _run(*words, "--doubtful")
    assert out.exists()


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
    _run("measure", "thrust", "scale.csv", "-o", "thrust.json")
    _run("measure", "jet", "walk.csv", "--thrust", "thrust.json", "-o", "jet.json")
    _run("new", "h.yaml")
    return tmp_path


FAN = ("measure", "fan", "small fan", "thrust.json", "thrust_low.json", "jet.json", "--diameter", "28 cm")


def test_a_setting_called_high_and_one_left_blank_are_the_same(weighed: Path) -> None:
    result = _json(*FAN, "--into", "h.yaml")
    assert result["thrust"]["value"] == pytest.approx(1.46, abs=0.01)
    assert result["speeds"]["low"]["value"] == pytest.approx((0.54 / 1.46) ** 0.5, abs=0.01)
    assert result["doubts"] == []
    assert "thrust: 1.46 N" in (weighed / "h.yaml").read_text(encoding="utf-8")


def test_readings_that_are_all_tagged_make_a_card(weighed: Path) -> None:
    _run("measure", "jet", "walk.csv", "--setting", "high", "--thrust", "thrust.json", "-o", "jet.json", "--replace")
    assert _json(*FAN)["thrust"]["value"] == pytest.approx(1.46, abs=0.01)


def test_settings_that_cannot_be_told_apart_are_asked_about(weighed: Path) -> None:
    for path in weighed.glob("thrust*.json"):
        named = path.read_text(encoding="utf-8").replace('"high"', '"3"').replace('"low"', '"1"')
        path.write_text(named, encoding="utf-8")
    with pytest.raises(InputError, match="may be the fan's highest or not"):
        _json(*FAN)
    assert _json(*FAN, "--highest", "3")["thrust"]["value"] == pytest.approx(1.46, abs=0.01)


def test_a_card_that_cannot_be_true_is_not_written_unless_asked(weighed: Path) -> None:
    before = (weighed / "h.yaml").read_text(encoding="utf-8")
    wrong = (*FAN[:-1], "50 cm")
    with pytest.raises(InputError, match="can hardly be true"):
        _run(*wrong, "--into", "h.yaml")
    assert (weighed / "h.yaml").read_text(encoding="utf-8") == before
    assert "CAUTION, this can hardly be true" in _run(*wrong)
    _run(*wrong, "--into", "h.yaml", "--doubtful")
    assert (weighed / "h.yaml").read_text(encoding="utf-8") != before


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
def test_nonsense_in_an_option_is_answered_with_what_is_allowed(
    words: tuple[str, ...], allowed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(CAMPAIGN)
    with pytest.raises(InputError) as caught:
        CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert allowed in caught.value.errors[0].allowed
    assert caught.value.errors[0].key.startswith("--")


def test_a_typed_figure_that_is_not_above_zero_is_an_error_in_its_line(tmp_path: Path) -> None:
    typed = tmp_path / "typed.csv"
    typed.write_text("what,value\nflow,0.4 m3/s\nthrust,-2 N\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"typed.csv:3: thrust: .*above zero"):
        _run("measure", "fan", "x", str(typed))


@pytest.mark.slow
def test_fit_writes_over_no_file_unless_asked(tmp_path: Path) -> None:
    house = tmp_path / "cottage.yaml"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    # With no calibration the vane's readings contradict the house a little.
    words = ("fit", str(house), str(CAMPAIGN / "openings.csv"), "-o", str(house), "--doubtful")
    with pytest.raises(InputError, match="exists already"):
        _run(*words)
    assert "Calibrated" not in house.read_text(encoding="utf-8")
    _run(*words, "--replace")
    assert house.read_text(encoding="utf-8").startswith("# Calibrated")


def test_grams_may_stand_in_the_cells(weighed: Path) -> None:
    plain = _json("measure", "thrust", "scale.csv")
    cells = [row if row.endswith("[g]") else f"{row} g" for row in SCALE.replace(" [g]", "").splitlines()]
    cells[0] = cells[0].removesuffix(" g")
    (weighed / "cells.csv").write_text("\n".join(cells), encoding="utf-8")
    assert _json("measure", "thrust", "cells.csv") == plain


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
        _run("measure", *words, "-o", str(out))
    assert out.read_text(encoding="utf-8") == "mine"
    _run("measure", *words, "-o", str(out), "--replace")
    assert out.read_text(encoding="utf-8").startswith("{")
    with pytest.raises(InputError, match="there is no folder"):
        _run("measure", *words, "-o", str(tmp_path / "none" / "saved.json"))


def test_none_of_several_results_is_written_where_one_is_there(tmp_path: Path) -> None:
    (tmp_path / "thrust_medium.json").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"thrust_medium.json exists already"):
        _run("measure", "thrust", str(CAMPAIGN / "scale.csv"), "-o", str(tmp_path / "thrust.json"))
    assert not (tmp_path / "thrust.json").exists()


def test_a_diameter_in_the_house_file_need_not_be_typed_again(tmp_path: Path) -> None:
    house, typed = tmp_path / "house.yaml", tmp_path / "typed.csv"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    typed.write_text("what,value\nflow,0.42 m3/s ± 5 %\n", encoding="utf-8")
    result = _json("measure", "fan", "circulator", str(typed), "--into", str(house))
    typical = 1.15 * 1.2 * 0.42**2 / (math.pi / 4.0 * 0.34**2)
    assert result["thrust"]["value"] == pytest.approx(typical, rel=0.01)


def test_readings_that_contradict_one_another_wildly_are_not_written(tmp_path: Path) -> None:
    house, typed = tmp_path / "house.yaml", tmp_path / "typed.csv"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    typed.write_text("what,value\nflow,0.42 m3/s ± 5 %\nthrust,2.8 N ± 3 %\nthrust,1.4 N ± 3 %\n", encoding="utf-8")
    with pytest.raises(InputError, match="the readings contradict one another"):
        _run("measure", "fan", "circulator", str(typed), "--into", str(house))


def test_names_that_a_house_lacks_are_told_all_at_once_with_their_places(tmp_path: Path) -> None:
    rows = "living to bedrom,bedroom window,1.2\nliving to bedroom,bedroom windw,1.2\n"
    (tmp_path / "r.csv").write_text(f"scenario,opening,speed [m/s]\n{rows}", encoding="utf-8")
    with pytest.raises(InputError) as wrong:
        _run("fit", str(CAMPAIGN / "cottage.yaml"), str(tmp_path / "r.csv"))
    assert [(one.key, one.line, one.column) for one in wrong.value.errors] == [("scenario", 2, 1), ("opening", 3, 19)]


def test_a_reading_at_a_shut_window_is_told_with_its_file(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text("opening,speed [m/s]\nbedroom window,1.2\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"r\.csv: shut in its set-up"):
        _run("fit", str(CAMPAIGN / "cottage.yaml"), str(tmp_path / "r.csv"))


def test_a_fan_that_is_not_in_the_house_is_said_to_be_missing_where_its_readings_do_not_settle_it(
    tmp_path: Path,
) -> None:
    house, typed = tmp_path / "house.yaml", tmp_path / "typed.csv"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    typed.write_text("what,value\nflow,0.42 m3/s ± 5 %\n", encoding="utf-8")
    with pytest.raises(NoAnswerError, match="Did you mean circulator"):
        _run("measure", "fan", "circulater", str(typed), "--into", str(house))


@pytest.mark.parametrize(("command", "unit"), [("anemometer", "[m/s]"), ("opening", "[m/s]"), ("thrust", "[g]")])
def test_help_says_what_unit_to_write_in_a_heading(command: str, unit: str) -> None:
    assert unit in _run("measure", command, "--help")


def test_brackets_in_a_name_are_printed_as_they_are(tmp_path: Path) -> None:
    typed = tmp_path / "typed.csv"
    typed.write_text("what,setting,value\nflow,,0.42 m3/s\nthrust,,2.8 N\nspeed,low [/night],60 %\n", encoding="utf-8")
    assert "On low [/night]: flow 60%" in _run("measure", "fan", "c", str(typed), "--highest", "high")


def test_rank_puts_fans_in_the_order_asked_for() -> None:
    orders = {
        by: [fan["name"] for fan in _json("rank", str(CAMPAIGN.parent / "bungalow.yaml"), "--by", by)["fans"]]
        for by in ("flow", "thrust", "watt")
    }
    assert orders["flow"] == orders["thrust"] == ["pedestal", "box fan", "circulator"]
    assert orders["watt"] == ["pedestal", "circulator", "box fan"]


def test_rank_refuses_a_file_that_is_no_picture() -> None:
    with pytest.raises(InputError, match=r"\.svg, \.png or \.pdf"):
        _run("rank", str(CAMPAIGN / "cottage.yaml"), "-o", "rank.txt")


def test_rank_speaks_in_the_units_asked_for_and_fits_its_lines() -> None:
    us = _run("rank", str(CAMPAIGN / "cottage.yaml"), "--show", "us")
    assert "gf/W" in us
    assert "3 ft 3 in x 3 ft 7 in" in us
    for word in ("mN/W", " m ", "1.0 x 1.1"):
        assert word not in us
    lines = _run("rank", str(CAMPAIGN / "cottage.yaml")).splitlines()
    assert lines[1].split()[0] == "circulator"
    assert "63 mN/W" in lines[1]
    assert lines[2].startswith("- ")


def test_rank_says_which_fans_a_choice_by_power_or_noise_leaves_out() -> None:
    said = " ".join(_run("rank", str(CAMPAIGN / "cottage.yaml")).split())
    assert "No sound in the house file: circulator." in said
    assert "No power" not in said


EXAMPLES = CAMPAIGN.parent
NIGHT = """time,temperature [°C],humidity [%]
20:00,26,60
23:00,20,60
02:00,17,60
"""


@pytest.fixture
def mild(tmp_path: Path) -> str:
    (tmp_path / "mild.csv").write_text(NIGHT, encoding="utf-8")
    return str(tmp_path / "mild.csv")


def _table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_night_saves_what_happens_step_by_step(mild: str, tmp_path: Path) -> None:
    saved, house = tmp_path / "steps.csv", str(EXAMPLES / "bungalow.yaml")
    result = _json("night", house, mild, "--save", str(saved), "--show", "si")
    rows = _table(saved)
    runs = result["night"]["runs"]
    assert len(rows) == len(runs[0]["times_s"]) == 25  # six hours in quarters, both ends
    assert float(rows[0]["outdoors [°C]"]) == pytest.approx(runs[0]["outdoor_c"][0], abs=0.01)
    for run in runs:
        room, track = next(iter(run["rooms_c"].items()))
        assert float(rows[-1][f"{run['name']}: {room} [°C]"]) == pytest.approx(track[-1], abs=0.01)
    fans = [row[f"{runs[-1]['name']}: windows"] for row in rows]
    assert "with fans" in fans
    assert {row["everything shut: windows"] for row in rows} == {"shut"}
    with pytest.raises(InputError, match="exists already"):
        _run("night", house, mild, "--save", str(saved))


def test_night_begins_with_the_house_and_counts_its_progress(mild: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from contextlib import contextmanager

    seen: list[tuple[int, int]] = []

    @contextmanager
    def recorded(what: str):  # type: ignore[no-untyped-def]
        yield lambda done, total: seen.append((done, total))

    monkeypatch.setattr("ventplan.cli.output.progress_line", recorded)
    out = _run("night", str(EXAMPLES / "bungalow.yaml"), mild)
    assert out.startswith("Bungalow: ")
    assert "heat by fans / fans" not in out
    assert seen == sorted(seen)
    assert seen[-1] == (18, 18)  # hours of three runs


def test_clear_saves_the_concentrations_and_names_one_peak(tmp_path: Path) -> None:
    saved, house = tmp_path / "air.csv", str(EXAMPLES / "bungalow.yaml")
    words = ("clear", house, "--breath", "--scenario", "as it stands", "--save", str(saved))
    result = _json(*words)
    clearing = result["plans"][0]["clearing"]
    rows = _table(saved)
    assert len(rows) == len(clearing["times_s"])
    assert float(rows[-1]["living [ppm]"]) == pytest.approx(clearing["concentrations"][-1][0], rel=1e-3)
    out = _run(*words, "--replace")
    end = f"{clearing['rooms']['living']['end']:.0f}"
    row = out[out.index("living ") : out.index("hall ")]
    assert "e+0" not in out
    assert row.count(end) == 2  # where it settles, and so its peak
    assert "in the end" in row


@pytest.mark.parametrize(
    ("words", "allowed"),
    [
        (("night", "bungalow.yaml", "weather_week.csv", "--margin", "-3"), "0 K to 20 K"),
        (("night", "bungalow.yaml", "weather_week.csv", "--fan-margin", "-3"), "0 K to 20 K"),
        (("night", "bungalow.yaml", "weather_week.csv", "--coolest", "-300 C"), "-50 °C to 60 °C"),
        (("night", "bungalow.yaml", "weather_week.csv", "--dew-point", "-300 C"), "-50 °C to 60 °C"),
        (("clear", "bungalow.yaml", "--to", "-5 %"), "above 0"),
        (("clear", "bungalow.yaml", "--breath", "--below", "-1"), "above 0"),
        (("clear", "bungalow.yaml", "--breath", "--start", "-1"), "0 to 100000"),
    ],
    ids=lambda said: " ".join(said[2:]) if isinstance(said, tuple) else "",
)
def test_airing_options_say_what_is_allowed(
    words: tuple[str, ...], allowed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(EXAMPLES)
    with pytest.raises(InputError) as caught:
        CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert allowed in caught.value.errors[0].allowed
