"""``clear`` and ``night`` as a user meets them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from ventplan.cli.clear import clear
from ventplan.cli.night import night
from ventplan.cli.place import place
from ventplan.errors import InputError

EXAMPLES = Path(__file__).parents[2] / "house_examples"
HOUSE = str(EXAMPLES / "bungalow.yaml")
FLAT = str(EXAMPLES / "one_room_flat.yaml")

app = typer.Typer()
app.command()(clear)
app.command()(night)
app.command()(place)


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


def test_times_that_rest_on_a_tight_house_point_to_its_leakage(short_weather: str) -> None:
    note = "The house file gives no leakage of walls"
    shut = " ".join(run("clear", FLAT, "--scenario", "as it stands").split())
    assert note in shut
    assert note not in " ".join(run("clear", FLAT, "--scenario", "windows alone").split())
    assert note in " ".join(run("night", FLAT, "--weather", short_weather).split())


@pytest.mark.parametrize(
    ("words", "said"),
    [(("--from", "kichen"), "Did you mean 'kitchen'"), (("--to", "5"), 'write "5 %"')],
    ids=str,
)
def test_a_slip_in_an_option_of_clear_is_answered_with_what_was_meant(words: tuple[str, str], said: str) -> None:
    with pytest.raises(InputError, match=said):
        run("clear", HOUSE, *words)


def test_a_file_without_weather_is_answered_with_the_columns_that_are_needed(tmp_path: Path) -> None:
    (tmp_path / "scale.csv").write_text("fan,reading [g],note\non,612,\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"there are `fan`, `reading`, `note`.*needed: `time`, `temperature`"):
        run("night", HOUSE, "--weather", str(tmp_path / "scale.csv"))


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
def test_clear_explains_an_error(arguments: tuple[str, str]) -> None:
    with pytest.raises(InputError, match=r"fast|share|no room|no scenario"):
        run("clear", HOUSE, *arguments)


def test_night_says_when_to_open_and_what_is_gained(short_weather: str) -> None:
    text = run("night", HOUSE, "--weather", short_weather, "--scenario", "evening")
    assert max(map(len, text.splitlines())) <= 80
    assert "everything shut" in text
    assert "with fans" in text


def test_night_json_holds_the_plan(short_weather: str) -> None:
    answer = json.loads(run("night", HOUSE, "--weather", short_weather, "--coolest", "64F", "--json"))["result"]
    assert answer["policy"]["coolest_c"] == pytest.approx(17.78, abs=0.01)
    names = [one["name"] for one in answer["night"]["runs"]]
    assert names[0] == "everything shut"
    assert {step["windows"] for step in answer["night"]["runs"][-1]["plan"]} <= {"shut", "open", "with fans"}


def test_a_step_of_seconds_is_refused_as_a_forgotten_unit(short_weather: str) -> None:
    with pytest.raises(InputError, match="such as 15 min"):
        run("night", HOUSE, "--weather", short_weather, "--step", "15")


def test_a_night_without_weather_names_the_option_that_gives_it() -> None:
    with pytest.raises(InputError, match="--weather"):
        run("night", HOUSE)


def test_night_draws_the_house_in_every_run(short_weather: str, tmp_path: Path) -> None:
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


def test_night_lists_every_room_in_the_morning_against_windows_alone(short_weather: str) -> None:
    table = run("night", HOUSE, "--weather", short_weather, "--scenario", "evening").split("Air in the rooms, 07:00")[1]
    assert "windows alone" in table
    assert "front bedroom" in table


def test_clear_follows_levels_of_anything_over_a_background_outdoors() -> None:
    words = (
        "clear",
        HOUSE,
        "--from",
        "kitchen",
        "--scenario",
        "evening",
        "--start",
        "300 µg/m3",
        "--below",
        "35 µg/m3",
    )
    text = run(*words, "--outdoors", "12 µg/m3")
    assert "from 300 to 35 µg/m3" in text
    assert "300 µg/m3" in text
    plan = json.loads(run(*words, "--outdoors", "12 µg/m3", "--json"))["result"]["plans"][0]["clearing"]
    share = json.loads(run(*words[:6], "--to", f"{23 / 288}", "--json"))["result"]["plans"][0]["clearing"]
    assert plan["rooms"]["kitchen"]["clear_s"] == pytest.approx(
        share["rooms"]["kitchen"]["clear_s"]
    )  # 35 - 12 of 300 - 12
    smoky = json.loads(run(*words, "--outdoors", "40", "--json"))["result"]["plans"][0]["clearing"]
    assert set(smoky["never"].values()) == {"outdoors-above-limit"}


def test_a_room_that_nothing_reaches_has_no_dose_instead_of_rounding() -> None:
    house = str(EXAMPLES / "two_storey.yaml")
    levels = ("--start", "300 µg/m3", "--below", "35 µg/m3", "--outdoors", "12 µg/m3")
    text = run("clear", house, "--from", "kitchen", "--scenario", "stack alone", *levels)
    living = next(line for line in text.splitlines() if line.startswith("living"))
    assert " 0 µg/m3 h" in living
    assert "e-" not in text


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--breath", "--from", "kitchen"), "do not go with --breath"),
        (("--start", "900"), "go together"),
        (("--to", "5 %", "--start", "4", "--below", "3"), "take one"),
        (("--outdoors", "5"), "--outdoors goes with"),
        (("--start", "5 ppm", "--below", "3 mg/m3"), "one unit"),
        (("--breath", "--start", "5 mg/m3"), "in ppm"),
        (("--start", "much", "--below", "4"), "a level such as"),
    ],
)
def test_options_of_clear_that_would_be_passed_over_are_refused(words: tuple[str, ...], message: str) -> None:
    with pytest.raises(InputError, match=message):
        run("clear", HOUSE, *words)


def test_clear_lists_the_age_of_the_air_in_each_room() -> None:
    words = ("clear", str(EXAMPLES / "rambling_house.yaml"), "--scenario", "smoke outdoors")
    text = run(*words, "--age")
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 80
    fresh = text.split("age of the air")[1]
    ages = json.loads(run(*words, "--json"))["result"]["plans"][0]["age"]
    assert ages["without_outdoor_air"] == ["utility"]
    assert "utility" in next(line for line in fresh.splitlines() if "isolated" in line)
    assert "mean age" in fresh
    assert "mean age" not in run(*words)
    assert "Clearing" not in text
    assert "Clearing what is in living" in run(*words, "--age", "--from", "living")


def test_a_long_weather_is_listed_and_drawn_by_its_mornings(tmp_path: Path) -> None:
    rows = [f"2030-07-{1 + h // 24:02d} {h % 24:02d}:00,{24 - 6 * (h % 24 < 8)}" for h in range(0, 24 * 16, 3)]
    weather, drawn = tmp_path / "weeks.csv", tmp_path / "weeks.svg"
    weather.write_text("time,temperature [°C]\n" + "\n".join(rows), encoding="utf-8")
    flat = str(EXAMPLES / "one_room_flat.yaml")
    text = run("night", flat, "--weather", str(weather), "--step", "3 h", "-o", str(drawn))
    assert "The 14 warmest of 16 mornings" in text
    assert "Mon 01 Jul 07:00" in drawn.read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--least", "power", "--clear", "room"), "--least goes with"),
        (("--least", "power", "--room", "room", "--at-least", "-1"), "above zero"),
        (("--room", "room", "--weather", str(EXAMPLES / "weather_week.csv")), "--weather goes with --cool"),
    ],
)
def test_options_of_place_that_would_be_passed_over_are_refused(words: tuple[str, ...], message: str) -> None:
    with pytest.raises(InputError, match=message):
        run("place", str(EXAMPLES / "one_room_flat.yaml"), *words)


def test_a_room_cannot_be_coolest_at_an_hour_after_the_weather_ends(short_weather: str) -> None:
    with pytest.raises(InputError, match="ends at 08:00"):
        run("place", str(EXAMPLES / "one_room_flat.yaml"), "--cool", "room", "--weather", short_weather, "--by", "9")


def test_what_more_air_costs_ends_with_its_cautions() -> None:
    text = run("place", str(EXAMPLES / "one_room_flat.yaml"), "--least", "noise", "--room", "room")
    assert "Noise where people sleep" in text.split("Cautions")[1]


def test_the_coolest_room_by_morning_is_json_too(short_weather: str) -> None:
    flat = str(EXAMPLES / "one_room_flat.yaml")
    answer = json.loads(run("place", flat, "--cool", "room", "--weather", short_weather, "--json"))["result"]
    assert answer["answer"]["objective"]["weather"]["begin"].endswith("20:00:00")
    assert all(answer["cautions"])


def test_cautions_follow_the_units_that_were_asked_for(short_weather: str) -> None:
    flat, plan = str(EXAMPLES / "one_room_flat.yaml"), ("--scenario", "evening", "--show", "us")
    for text in (run("clear", flat, *plan), run("night", flat, "--weather", short_weather, *plan)):
        assert "above a drop of 22 ft" in " ".join(text.split())
