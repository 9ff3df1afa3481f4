"""A survey goes on where it was stopped, and a house with errors costs only its own row."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from ventplan.advice import survey_runner as module
from ventplan.advice.survey_files import COLUMNS, Journal, content_hash, house_files
from ventplan.advice.survey_runner import SurveyQuestion, survey, survey_row
from ventplan.cli.app import app
from ventplan.errors import InputError
from ventplan.house import read_house
from ventplan.network import solve

HUT = """
name: {name}
rooms:
  room: {{at: [0 m, 0 m], size: [5 m, 4 m]}}
openings:
  door:   {{kind: door, joins: [room, outdoors], wall: west, along: 1 m, size: [0.9 m, 2 m]}}
  window: {{kind: window, joins: [room, outdoors], wall: east, along: 1 m, size: [1 m, {height} m]}}
fans:
  fan: {{like: box 20 in}}
scenarios:
  evening: {{open: [door, window], fans: [{{fan: fan, blows out: door, setback: 1.5 m}}]}}
"""


def hut(folder: Path, name: str, height: float = 1.0) -> Path:
    path = folder / f"{name}.yaml"
    path.write_text(HUT.format(name=name, height=height), encoding="utf-8")
    return path


@pytest.fixture
def huts(tmp_path: Path) -> Path:
    folder = tmp_path / "huts"
    folder.mkdir()
    for name in ("a", "b"):
        hut(folder, name)
    return folder


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the houses whose rows are worked out."""
    seen: list[str] = []

    def row(house, scenario, question):  # type: ignore[no-untyped-def]
        seen.append(f"{house.name} {scenario.name}")
        return survey_row(house, scenario, question)

    monkeypatch.setattr(module, "survey_row", row)
    return seen


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_a_row_says_what_the_house_says(huts: Path, tmp_path: Path) -> None:
    answer = survey([huts], output=tmp_path / "t.csv")
    assert [(row["house"], row["scenario"]) for row in answer.rows] == [
        ("a", "as it stands"), ("a", "evening"), ("b", "as it stands"), ("b", "evening"),
    ]  # fmt: skip
    flow = solve(read_house(huts / "a.yaml"), "evening")
    row = table(tmp_path / "t.csv")[1]
    assert float(row["outdoor_air_m3_s"]) == pytest.approx(flow.rooms["room"].outdoor_m3_s, rel=1e-5)
    assert float(row["fan_ratio"]) == pytest.approx(flow.fans[0].ratio, rel=1e-5)
    assert row["fans"] == "fan at door"


def test_done_rows_are_not_worked_out_again(huts: Path, tmp_path: Path, counted: list[str]) -> None:
    first = survey([huts], output=tmp_path / "t.csv")
    again = survey([huts], output=tmp_path / "t.csv")
    assert (first.computed, first.kept) == (4, 0)
    assert (again.computed, again.kept) == (0, 4)
    assert again.rows == first.rows
    assert len(counted) == 4


def test_a_changed_house_is_worked_out_again_and_the_others_are_kept(
    huts: Path, tmp_path: Path, counted: list[str]
) -> None:
    before = survey([huts], output=tmp_path / "t.csv").rows
    hut(huts, "b", height=1.2)
    counted.clear()
    after = survey([huts], output=tmp_path / "t.csv").rows
    assert counted == ["b as it stands", "b evening"]
    assert after[:2] == before[:2]
    assert after[3]["outdoor_air_m3_s"] > before[3]["outdoor_air_m3_s"]  # type: ignore[operator]


def test_a_changed_table_that_a_house_names_counts_as_a_change(tmp_path: Path) -> None:
    house = tmp_path / "h.yaml"
    house.write_text("fans: {fan: {jet: my walk.csv, flow: 1 m3/s}}", encoding="utf-8")
    before = content_hash(house)
    (tmp_path / "my walk.csv").write_text("distance,speed\n", encoding="utf-8")
    assert content_hash(house) != before
    assert content_hash(house, "another question") != content_hash(house)


def test_a_stopped_survey_goes_on_where_it_was(
    huts: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, counted: list[str]
) -> None:
    def stop(done: int, total: int) -> None:
        if done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        survey([huts], output=tmp_path / "t.csv", progress=stop)
    assert not (tmp_path / "t.csv").exists()
    answer = survey([huts], output=tmp_path / "t.csv")
    assert (answer.computed, answer.kept) == (1, 3)
    assert len(counted) == 4
    assert len(table(tmp_path / "t.csv")) == 4


def test_a_line_that_was_cut_off_is_left_out_and_the_next_one_kept(tmp_path: Path) -> None:
    path = tmp_path / "t.csv.journal"
    path.write_text(json.dumps({"key": "a", "value": 1}) + "\n" + '{"key": "b", "val', encoding="utf-8")
    with Journal(path) as journal:
        assert journal.done == {"a": 1}
        journal.add("c", 3)
    assert Journal(path).done == {"a": 1, "c": 3}


def test_a_house_with_errors_is_a_row_that_says_so(huts: Path, tmp_path: Path) -> None:
    (huts / "b.yaml").write_text("rooms: {room: {size: [3 m, 4 furlong]}}", encoding="utf-8")
    answer = survey([huts], output=tmp_path / "t.csv")
    assert [bool(row.get("error")) for row in answer.rows] == [False, False, True]
    wrong = table(tmp_path / "t.csv")[2]
    assert wrong["file"].endswith("b.yaml")
    assert "furlong" in wrong["error"] or "size" in wrong["error"]
    assert "\n" not in wrong["error"]


def test_a_scenario_that_a_house_lacks_is_a_row_that_says_so(huts: Path, tmp_path: Path) -> None:
    answer = survey([huts], SurveyQuestion(scenarios=("morning",)), output=tmp_path / "t.csv")
    assert len(answer.errors) == 2
    assert "'as it stands', 'evening'" in str(answer.rows[0]["error"])


def test_a_bug_costs_one_row_and_is_tried_again(huts: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stumble(house, scenario, question):  # type: ignore[no-untyped-def]
        if house.name == "a":
            raise ZeroDivisionError("by nought")
        return survey_row(house, scenario, question)

    with monkeypatch.context() as patch:
        patch.setattr(module, "survey_row", stumble)
        answer = survey([huts], output=tmp_path / "t.csv")
    assert "an error inside ventplan, ZeroDivisionError: by nought" in str(answer.rows[0]["error"])
    assert not answer.rows[2].get("error")
    again = survey([huts], output=tmp_path / "t.csv")
    assert (again.computed, again.errors) == (2, ())


def test_other_questions_do_not_mix(huts: Path, tmp_path: Path) -> None:
    survey([huts], output=tmp_path / "t.csv")
    answer = survey(
        [huts / "a.yaml"], SurveyQuestion(("evening",), whole_house=True, draws=16), output=tmp_path / "t.csv"
    )
    assert answer.computed == 1
    row = answer.rows[0]
    assert row["plan_fans"] == "fan"
    assert row["aim_planned"] > row["aim_before"]  # type: ignore[operator]
    assert row["outdoor_air_low_m3_s"] < row["outdoor_air_m3_s"] < row["outdoor_air_high_m3_s"]  # type: ignore[operator]
    assert set(row) <= set(COLUMNS)


def test_two_aims_are_an_error() -> None:
    with pytest.raises(InputError, match="at most one aim"):
        SurveyQuestion(room="room", whole_house=True)


def test_rows_are_the_same_through_any_joblib_backend(huts: Path, tmp_path: Path) -> None:
    joblib = pytest.importorskip("joblib")
    alone = survey([huts], output=tmp_path / "one.csv")
    with joblib.parallel_config(backend="threading", n_jobs=2):
        together = survey([huts], output=tmp_path / "two.csv")
    assert together.rows == alone.rows


def test_parquet_holds_what_csv_holds(huts: Path, tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    answer = survey([huts], output=tmp_path / "t.parquet")
    read = parquet.read_table(tmp_path / "t.parquet").to_pylist()
    assert [row["outdoor_air_m3_s"] for row in read] == [row["outdoor_air_m3_s"] for row in answer.rows]
    assert [row["scenario"] for row in read] == [row["scenario"] for row in answer.rows]


def test_parquet_without_its_library_is_said_before_any_work(
    huts: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, counted: list[str]
) -> None:
    monkeypatch.setattr("ventplan.advice.survey_files.find_spec", lambda name: None)
    with pytest.raises(InputError, match=r"Parquet needs pyarrow. Install it with: pip install 'ventplan\[survey\]'"):
        survey([huts], output=tmp_path / "t.parquet")
    assert counted == []


@pytest.mark.parametrize("name", ["t.xlsx", "t", "no such folder/t.csv"])
def test_a_table_that_cannot_be_written_is_said_before_any_work(huts: Path, tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError):
        survey([huts], output=tmp_path / name)


def test_a_folder_stands_for_its_house_files(huts: Path) -> None:
    (huts / "notes.txt").write_text("", encoding="utf-8")
    assert [path.name for path in house_files([huts, huts / "a.yaml"])] == ["a.yaml", "b.yaml"]


def test_a_house_or_folder_that_is_not_there_is_an_error(huts: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"there is no file or folder .*nofolder"):
        survey([huts, tmp_path / "nofolder"], output=tmp_path / "t.csv")
    assert not list(tmp_path.glob("t.csv*"))


def test_a_file_that_is_no_table_of_a_survey_is_not_written_over(huts: Path, tmp_path: Path) -> None:
    mine, older = tmp_path / "readings.csv", tmp_path / "t.csv"
    mine.write_text("time,speed\n", encoding="utf-8")
    with pytest.raises(InputError, match="exists already"):
        survey([huts], output=mine)
    assert mine.read_text("utf-8") == "time,speed\n"
    survey([huts / "a.yaml"], output=older)
    survey([huts], output=older)
    assert len(table(older)) == 4


def test_a_folder_without_houses_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no house files"):
        house_files([tmp_path])


def test_the_command_says_what_it_did(huts: Path, tmp_path: Path) -> None:
    hut(huts, "b").write_text("rooms: 3\n", encoding="utf-8")
    out = str(tmp_path / "t.csv")
    run = CliRunner().invoke(app, ["survey", str(huts), "-o", out, "--jobs", "1", "--scenario", "evening"])
    assert run.exit_code == 0, run.output
    lines = run.output.splitlines()
    assert lines[0] == f"{out}: 2 rows, 2 worked out now, 0 from before."
    assert lines[1] == "1 of them without an answer; the column `error` says why:"
    assert lines[2].startswith(f"  {huts / 'b.yaml'}:1:")
    assert lines[3].startswith(f"{out}.journal keeps what is done")


def test_the_rows_are_printed_as_json_too(huts: Path, tmp_path: Path) -> None:
    out = str(tmp_path / "t.csv")
    run = CliRunner().invoke(app, ["survey", str(huts), "-o", out, "--jobs", "1", "--scenario", "evening", "--json"])
    result = json.loads(run.output)["result"]
    assert (result["table"], result["computed"], result["kept"]) == (out, 2, 0)
    assert [row["house"] for row in result["rows"]] == ["a", "b"]


@pytest.mark.parametrize("jobs", [0, -2])
def test_no_number_of_jobs_is_an_error(huts: Path, tmp_path: Path, jobs: int) -> None:
    with pytest.raises(InputError, match="1 or more, or -1 for all cores"):
        survey([huts], output=tmp_path / "t.csv", jobs=jobs)
