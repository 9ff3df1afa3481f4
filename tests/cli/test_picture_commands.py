"""``draw`` and ``report`` as a user meets them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from ventplan.cli.clear import clear
from ventplan.cli.flow import compare, setback
from ventplan.cli.house import draw
from ventplan.cli.report import report
from ventplan.errors import InputError

EXAMPLES = Path(__file__).parents[2] / "house_examples"
RIG, FLAT = str(EXAMPLES / "hallway_rig.yaml"), str(EXAMPLES / "one_room_flat.yaml")

app = typer.Typer()
app.command()(draw)
app.command()(report)
app.command()(setback)
app.command()(compare)
app.command()(clear)
CURVES = [
    ("setback", RIG, "--fan", "box fan", "--opening", "doorway"),
    ("compare", RIG, "box fan at 1 m", "box fan at 2 m"),
    ("clear", FLAT, "--from", "room", "--scenario", "evening"),
    ("clear", FLAT, "--breath", "--scenario", "evening", "--scenario", "as it stands"),
]


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


@pytest.mark.parametrize("tint", ["air-change", "age", "temperature", "total-exchange"])
def test_draw_colours_floors_by_each_quantity_in_either_system(tint: str, tmp_path: Path) -> None:
    plain, tinted = tmp_path / "plain.svg", tmp_path / "tinted.svg"
    run("draw", FLAT, "--tint", "none", "-o", str(plain), "--show", "us")
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
    assert "Plan for most air through doorway" in text
    assert "in hallway, " in text


@pytest.mark.parametrize(
    "arguments",
    [
        ("draw", RIG, "-o", "plan.gif"),
        ("draw", RIG, "--scenario", "nonsense", "-o", "plan.svg"),
        ("report", RIG, "--room", "hallway", "--target", "doorway", "-o", "report.html"),
        ("report", RIG, "--scenario", "nonsense", "-o", "report.html"),
        ("report", RIG, "--cool", "hallway", "-o", "report.html"),
        ("report", RIG, "--room", "hallway", "--by", "25", "-o", "report.html"),
    ],
)
def test_errors_are_explained(arguments: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError):
        run(*arguments)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("question", CURVES, ids=lambda q: q[0])
def test_answers_are_drawn_besides_being_printed(question: tuple[str, ...], tmp_path: Path) -> None:
    for ending, head in (("svg", b"<?xml"), ("png", b"\x89PNG"), ("pdf", b"%PDF")):
        path = tmp_path / f"chart.{ending}"
        plain, drawn = run(*question), run(*question, "-o", str(path))
        assert drawn.startswith(plain.rstrip("\n"))
        assert str(path) in drawn.replace("\n", "")
        assert path.read_bytes().startswith(head)
        assert run(*question, "--json", "-o", str(path), "--replace") == run(*question, "--json")


@pytest.mark.parametrize("question", CURVES, ids=lambda q: q[0])
def test_a_picture_of_another_kind_is_refused_before_any_work(question: tuple[str, ...], tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"\.svg, \.png or \.pdf"):
        run(*question, "-o", str(tmp_path / "chart.gif"))


def test_the_plotting_library_is_loaded_only_for_a_picture() -> None:
    code = (
        "import sys; from ventplan.cli.flow import compare; from pathlib import Path;"
        f"compare(Path({RIG!r}), ['box fan at 1 m', 'box fan at 2 m']); print('matplotlib' in sys.modules)"
    )
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.split()[-1] == "False"


def test_one_scenario_is_not_compared_with_itself() -> None:
    with pytest.raises(InputError, match="two or more scenarios, and found 'box fan at 1 m' alone"):
        run("compare", RIG, "box fan at 1 m")


def test_a_report_is_a_web_page_by_name_too(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"\.html or \.htm"):
        run("report", RIG, "-o", str(tmp_path / "report.pdf"))
    assert not list(tmp_path.iterdir())
