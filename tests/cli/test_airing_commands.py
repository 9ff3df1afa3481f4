"""``clear`` and ``night`` as a user meets them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from ventplan.cli.clear import clear
from ventplan.cli.night import night
from ventplan.errors import InputError

EXAMPLES = Path(__file__).parents[2] / "house_examples"
HOUSE = str(EXAMPLES / "bungalow.yaml")

app = typer.Typer()
app.command()(clear)
app.command()(night)


def run(*arguments: str) -> str:
    result = CliRunner().invoke(app, list(arguments), catch_exceptions=False, env={"COLUMNS": "80"})
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture
def short_weather(tmp_path: Path) -> str:
    path = tmp_path / "night.csv"
    rows = "\n".join(f"{hour % 24}:00,{26 - 1.2 * min(hour - 20, 9):.1f},60" for hour in range(20, 33))
    path.write_text(f"time,temperature [°C],humidity [%]\n{rows}\n", encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("command", ["clear", "night"])
def test_help_shows_an_example(command: str) -> None:
    assert f"ventplan {command} house_examples/bungalow.yaml" in " ".join(run(command, "--help").split())


def test_clear_compares_plans_within_80_columns() -> None:
    text = run(
        "clear", HOUSE, "--from", "kitchen", "--scenario", "cross breeze", "--scenario", "evening", "--show", "us"
    )
    assert max(map(len, text.splitlines())) <= 80
    assert "cfm" in text
    assert "passes through" in text
    assert "Caution" in text


def test_clear_json_is_si_and_keeps_never_apart() -> None:
    answer = json.loads(run("clear", HOUSE, "--breath", "--scenario", "as it stands", "--json", "--show", "us"))
    clearing = answer["result"]["plans"][0]["clearing"]
    assert answer["units"] == "SI"
    assert clearing["clear_s"] is None
    assert clearing["never"]
    assert answer["result"]["release"]["unit"] == "ppm"


@pytest.mark.parametrize(
    "arguments", [("--to", "fast"), ("--to", "120 %"), ("--from", "attic"), ("--scenario", "dawn")]
)
def test_clear_explains_a_mistake(arguments: tuple[str, str]) -> None:
    with pytest.raises(InputError, match=r"fast|share|no such room|no scenario"):
        run("clear", HOUSE, *arguments)


def test_night_says_when_to_open_and_what_is_gained(short_weather: str) -> None:
    text = run("night", HOUSE, short_weather, "--scenario", "evening")
    assert max(map(len, text.splitlines())) <= 80
    assert "everything shut" in text
    assert "with fans" in text


def test_night_json_holds_the_plan(short_weather: str) -> None:
    answer = json.loads(run("night", HOUSE, short_weather, "--coolest", "64F", "--json"))["result"]
    assert answer["policy"]["coolest_c"] == pytest.approx(17.78, abs=0.01)
    names = [one["name"] for one in answer["night"]["runs"]]
    assert names[0] == "everything shut"
    assert {step["windows"] for step in answer["night"]["runs"][-1]["plan"]} <= {"shut", "open", "with fans"}


def test_the_weather_of_a_night_may_be_named_by_its_option(short_weather: str) -> None:
    assert run("night", HOUSE, "--weather", short_weather) == run("night", HOUSE, short_weather)
    for words in ((), (short_weather, "--weather", short_weather)):
        with pytest.raises(InputError, match="--weather"):
            run("night", HOUSE, *words)


def test_night_draws_the_house_on_every_way_through_it(short_weather: str, tmp_path: Path) -> None:
    drawn = tmp_path / "night.svg"
    assert "Drew it to" in run("night", HOUSE, "--weather", short_weather, "-o", str(drawn))
    words = drawn.read_text("utf-8")
    for name in ("outdoors", "everything shut", "windows open"):
        assert name in words
    with pytest.raises(InputError, match=r"\.svg"):
        run("night", HOUSE, "--weather", short_weather, "-o", "night.txt")


def test_night_takes_steps_as_fine_as_asked(short_weather: str) -> None:
    answer = json.loads(run("night", HOUSE, "--weather", short_weather, "--step", "30 min", "--json"))["result"]
    assert answer["night"]["runs"][0]["times_s"][1] == 1800.0
    assert "calm (wind speed)" in answer["notes"][0]
    with pytest.raises(InputError, match="as long as the weather"):
        run("night", HOUSE, "--weather", short_weather, "--step", "2 d")


def test_night_tells_every_room_in_the_morning_against_windows_alone(short_weather: str) -> None:
    table = run("night", HOUSE, "--weather", short_weather, "--scenario", "evening").split("Air in the rooms, 07:00")[1]
    assert "windows alone" in table
    assert "front bedroom" in table
