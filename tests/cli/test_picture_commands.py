"""``draw`` and ``report`` as a user meets them."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from ventplan.cli.draw import draw
from ventplan.cli.report import report
from ventplan.errors import InputError

EXAMPLES = Path(__file__).parents[2] / "house_examples"
RIG, FLAT = str(EXAMPLES / "hallway_rig.yaml"), str(EXAMPLES / "one_room_flat.yaml")

app = typer.Typer()
app.command()(draw)
app.command()(report)


def run(*arguments: str) -> str:
    result = CliRunner().invoke(app, list(arguments), catch_exceptions=False, env={"COLUMNS": "80"})
    assert result.exit_code == 0, result.output
    return result.output


@pytest.mark.parametrize("command", ["draw", "report"])
def test_help_shows_an_example_and_the_units(command: str) -> None:
    text = " ".join(run(command, "--help").split())
    assert f"ventplan {command} house_examples/bungalow.yaml" in text
    assert "--show" in text


@pytest.mark.parametrize(("ending", "head"), [("svg", b"<?xml"), ("png", b"\x89PNG"), ("pdf", b"%PDF")])
def test_draw_writes_the_kind_of_picture_that_the_name_asks_for(ending: str, head: bytes, tmp_path: Path) -> None:
    path = tmp_path / f"plan.{ending}"
    assert str(path) in run("draw", RIG, "--scenario", "box fan at 1 m", "-o", str(path)).replace("\n", "")
    assert path.read_bytes().startswith(head)


@pytest.mark.parametrize("tint", ["air-change", "age", "temperature"])
def test_draw_colours_floors_by_each_quantity_in_either_system(tint: str, tmp_path: Path) -> None:
    plain, tinted = tmp_path / "plain.svg", tmp_path / "tinted.svg"
    run("draw", FLAT, "-o", str(plain), "--show", "us")
    run("draw", FLAT, "--tint", tint, "-o", str(tinted), "--show", "us")
    assert plain.read_bytes() != tinted.read_bytes()


def test_draw_takes_other_weather(tmp_path: Path) -> None:
    calm, windy = tmp_path / "calm.svg", tmp_path / "windy.svg"
    run("draw", FLAT, "--scenario", "evening", "--wind", "calm", "-o", str(calm))
    run("draw", FLAT, "--scenario", "evening", "--wind", "6 m/s from 180", "-o", str(windy))
    assert calm.read_bytes() != windy.read_bytes()


def test_report_is_about_the_first_scenario_with_fans(tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    run("report", RIG, "-o", str(path))
    assert "What “box fan in the doorway” does" in path.read_text("utf-8")


@pytest.mark.slow
def test_report_places_a_fan_where_an_aim_is_given(tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    run("report", RIG, "--target", "doorway", "-o", str(path))
    text = path.read_text("utf-8")
    assert "Where to put a fan: most air through doorway" in text
    assert "in the hallway" in text


@pytest.mark.parametrize(
    "arguments",
    [
        ("draw", RIG, "-o", "plan.gif"),
        ("draw", RIG, "--scenario", "nonsense", "-o", "plan.svg"),
        ("report", RIG, "--room", "hallway", "--target", "doorway", "-o", "report.html"),
        ("report", RIG, "--scenario", "nonsense", "-o", "report.html"),
    ],
)
def test_mistakes_are_explained(arguments: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError):
        run(*arguments)
    assert list(tmp_path.iterdir()) == []
