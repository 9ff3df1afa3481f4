"""What holds for every command: help with an example, exit codes, units, JSON that is described."""

from __future__ import annotations

import re
import shlex
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
from command_line import EXAMPLES, ROOT, commands, run

PAGE = (ROOT / "docs" / "json.md").read_text("utf-8")
BUNGALOW, RIG, FLAT = (str(EXAMPLES / f"{name}.yaml") for name in ("bungalow", "hallway_rig", "one_room_flat"))

QUESTIONS = {
    "check": (FLAT, "--details"),
    "flow": (BUNGALOW, "--scenario", "evening, two fans"),
    "place": (FLAT, "--target", "south window"),
    "setback": (RIG, "--fan", "box fan", "--opening", "doorway"),
    "compare": (BUNGALOW, "evening", "evening, no screens"),
}
MORE_JSON = {
    "tonight": (FLAT, "--high", "33C", "--low", "19C"),
    "clear": (BUNGALOW, "--from", "kitchen"),
    "night": (BUNGALOW, "--weather", str(EXAMPLES / "weather_week.csv")),
    "rank": (BUNGALOW,),
}


@pytest.mark.parametrize("command", list(commands()), ids=" ".join)
def test_help_ends_with_an_example_of_the_command(command: tuple[str, ...]) -> None:
    answer = run(*command, "--help")
    assert answer.code == 0
    text = " ".join(answer.out.split())
    assert f"Example: ventplan {' '.join(command)} " in text


@pytest.mark.parametrize("command", [("flow",), ("place",), ("setback",), ("compare",), ("check",)], ids=" ".join)
def test_the_example_in_the_help_runs(command: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    text = " ".join(run(*command, "--help").out.split())
    found = re.search(r"Example: ventplan (.*?) ╭", text)
    assert found is not None
    assert run(*shlex.split(found.group(1))).code == 0


@pytest.mark.parametrize("command", QUESTIONS)
def test_answers_fit_a_terminal_of_80_columns(command: str) -> None:
    answer = run(command, *QUESTIONS[command])
    assert answer.code == 0
    assert answer.err == ""
    assert max(len(line.rstrip()) for line in answer.out.splitlines()) <= 80
    assert "\x1b" not in answer.out


@pytest.mark.parametrize("command", QUESTIONS)
def test_units_are_those_that_were_asked_for(command: str) -> None:
    us = run(command, *QUESTIONS[command], "--show", "us").out
    si = run(command, *QUESTIONS[command], "--show", "si").out
    assert re.search(r"cfm|ft", us)
    assert not re.search(r"m³|\bm/s", us)
    assert re.search(r"m³", si)
    assert not re.search(r"cfm|\bft\b|°F", si)


def keys_of(value: Any, known: set[str]) -> set[str]:
    """Keys in a result; names of the user's own things (rooms, openings, fans, scenarios) are left out."""
    if isinstance(value, list):
        return set().union(*(keys_of(item, known) for item in value)) if value else set()
    if not isinstance(value, dict):
        return set()
    own = {key for key in value if key not in known}
    return own.union(*(keys_of(item, known) for item in value.values())) if value else own


@pytest.mark.slow
@pytest.mark.parametrize("command", [*QUESTIONS, *MORE_JSON])
def test_json_has_the_keys_that_its_page_describes(command: str) -> None:
    question = {**QUESTIONS, **MORE_JSON}[command]
    answer = run(command, *question, "--json")
    assert answer.code == 0
    house = run("check", question[0], "--json").result
    names = {"outdoors"}.union(*(own for own in house.values() if isinstance(own, dict)))
    keys = keys_of(answer.result, names)
    described = set(re.findall(r"`([a-z0-9_]+)`", PAGE))
    # Keys of ours are single words; names of runs and of places in a room are the user's.
    assert sorted(key for key in keys - described if " " not in key) == []


@pytest.mark.parametrize("command", QUESTIONS)
def test_json_is_in_si_units_whatever_is_shown(command: str) -> None:
    us, si = (run(command, *QUESTIONS[command], "--json", "--show", system) for system in ("us", "si"))
    drop = re.compile(r'"(computed|do)": ".*"')
    assert drop.sub("", us.out) == drop.sub("", si.out)
    assert us.out.startswith(f'{{\n  "format": 1,\n  "command": "{command}",\n  "units": "SI"')


@pytest.mark.parametrize("command", [("flow",), ("check",), ("place", "--whole-house"), ("compare", "a")], ids=" ".join)
def test_a_file_that_is_not_there_ends_with_2_and_says_so(command: tuple[str, ...], tmp_path: Path) -> None:
    answer = run(command[0], tmp_path / "nowhere.yaml", *command[1:])
    assert answer.code == 2
    assert answer.out == ""
    assert "nowhere.yaml" in answer.err
    assert "no such file" in answer.err


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("flow", BUNGALOW, "--scenario", "evenin"), "Did you mean 'evening'"),
        (("flow", BUNGALOW, "--wind", "strong"), "wind"),
        (("flow", BUNGALOW, "--outdoor", "warm"), "warm"),
        (("place", BUNGALOW, "--room", "front bedrom"), "Did you mean 'front bedroom'"),
        (("place", BUNGALOW, "--room", "study", "--fan", "nofan"), "nofan"),
        (("setback", RIG, "--fan", "box fann", "--opening", "doorway"), "Did you mean 'box fan'"),
        (("setback", RIG, "--fan", "box fan", "--opening", "dorway"), "Did you mean 'doorway'"),
        (("setback", RIG, "--fan", "box fan", "--opening", "doorway", "--from", "attic"), "attic"),
        (("compare", BUNGALOW, "evening", "no such"), "no such"),
        (("flow", BUNGALOW, "--no-such-option"), "no-such-option"),
        (("nonsense",), "nonsense"),
    ],
)
def test_what_cannot_be_asked_ends_with_2_and_an_explanation(arguments: tuple[str, ...], says: str) -> None:
    answer = run(*arguments)
    assert answer.code == 2
    assert answer.out == ""
    assert says in " ".join(answer.err.split())
    assert "Traceback" not in answer.err


BROKEN = """
rooms:
  living: {at: [0 m, 0 m], size: [5 m, 4 m]}
  hall: {at: [5 m, 0 m], size: [1 m, 4 m], celing: 2.4 m}
openings:
  door: {kind: door, joins: [living, hal], along: 1 m, size: [0.8 m, 2 m]}
  window: {kind: window, joins: [living, outdoors], wall: west, along: 3.5 m, size: [1 pound, 1 m]}
"""


def test_every_error_of_a_broken_file_is_listed_at_once_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "broken.yaml"
    path.write_text(BROKEN, "utf-8")
    answer = run("check", path)
    assert answer.code == 2
    for line, word in ((4, "celing"), (6, "hal"), (7, "pound")):
        assert any(f"broken.yaml:{line}:" in told and word in told for told in answer.err.splitlines()), (line, word)


def test_check_answers_in_a_screen_and_lists_everything_with_details() -> None:
    short, full = run("check", BUNGALOW), run("check", BUNGALOW, "--details")
    assert short.out.startswith("Bungalow: no errors. 8 rooms, 19 openings, 3 fans, 8 scenarios.")
    assert short.out.count("\n") <= 24
    assert "--details" in short.out
    assert "living south window" not in short.out
    assert "living south window" in full.out
    assert "discharge coefficient 0.62" in full.out


SHUT_UP = """
rooms:
  cell: {at: [0 m, 0 m], size: [3 m, 3 m]}
openings:
  window: {kind: window, joins: [cell, outdoors], wall: west, along: 1 m, size: [1 m, 1 m], open: no, leak: 0 m3/s}
"""


def test_a_house_without_a_way_for_air_ends_with_3(tmp_path: Path) -> None:
    path = tmp_path / "cell.yaml"
    path.write_text(SHUT_UP, "utf-8")
    answer = run("flow", path)
    assert answer.code == 3
    assert "open a window or door" in answer.err


def test_a_house_without_fans_ends_with_3_when_asked_where_to_put_them(tmp_path: Path) -> None:
    path = tmp_path / "cell.yaml"
    path.write_text(SHUT_UP.replace("open: no, leak: 0 m3/s", "open: 50 %"), "utf-8")
    answer = run("place", path, "--room", "cell")
    assert answer.code == 3
    assert "no fans" in answer.err


def test_new_writes_a_file_that_can_be_solved_and_never_over_another(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    assert run("new", path).code == 0
    assert run("flow", path, "--scenario", "evening").code == 0
    before = path.read_text("utf-8")
    again = run("new", path)
    assert again.code == 2
    assert "exists already" in again.err
    assert path.read_text("utf-8") == before


def test_without_arguments_the_commands_are_listed() -> None:
    answer = run()
    for command in commands():
        assert command[0] in answer.out + answer.err


def test_the_wind_and_temperature_of_the_command_line_take_the_place_of_the_files() -> None:
    state = run("flow", BUNGALOW, "--wind", "5 m/s from 90", "--outdoor", "10C", "--json").result["state"]
    assert state["outdoors"]["wind"]["speed_m_s"] == pytest.approx(5.0)
    assert state["outdoors"]["wind"]["from_deg"] == pytest.approx(90.0)
    assert state["outdoors"]["temperature_c"] == pytest.approx(10.0)


def test_version_is_that_of_the_package() -> None:
    assert run("--version").out == f"ventplan {version('ventplan')}\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--target", "south window", "--whole-house"), "--target and --whole-house are 2 aims"),
        (("--room", "studio", "--keep-out", "studio"), "--keep-out studio shuts the room that you ask about"),
        (("--cool", "studio"), "--cool needs the weather of the night: --weather CSV"),
    ],
    ids=str,
)
def test_place_names_the_options_for_its_aim(words: tuple[str, ...], said: str) -> None:
    answer = run("place", FLAT, *words)
    assert answer.code == 2
    assert said in answer.err


def test_place_without_an_aim_is_for_the_whole_house_and_says_so() -> None:
    unasked, asked = run("place", FLAT), run("place", FLAT, "--whole-house")
    assert unasked.code == 0
    assert unasked.out.startswith("No objective given: --whole-house is used.")
    assert "No objective given" not in asked.out
    assert unasked.out.endswith(asked.out)
