"""``flow`` tells what people feel, where the house file says that people are."""

from __future__ import annotations

import json
from pathlib import Path

import typer
from typer.testing import CliRunner

from ventplan.cli.flow import flow

EXAMPLES = Path(__file__).parents[2] / "house_examples"

app = typer.Typer()
app.command()(flow)


def run(*arguments: str) -> str:
    result = CliRunner().invoke(app, list(arguments), catch_exceptions=False, env={"COLUMNS": "80"})
    assert result.exit_code == 0, result.output
    return result.output


def test_a_house_with_places_to_sit_has_a_table_of_them_within_80_columns() -> None:
    text = run(str(EXAMPLES / "bungalow.yaml"), "--scenario", "box fan blowing in", "--details")
    assert "Where people are" in text
    assert "armchair" in text
    assert "cooler by" in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_house_without_such_places_has_no_such_table() -> None:
    assert "Where people are" not in run(str(EXAMPLES / "two_storey.yaml"), "--details")


def test_json_holds_a_record_for_each_place_in_si() -> None:
    answer = json.loads(
        run(str(EXAMPLES / "bungalow.yaml"), "--scenario", "box fan blowing in", "--json", "--show", "us")
    )
    places = {place["name"]: place for place in answer["result"]["people_at"]}
    assert list(places) == ["sofa", "armchair", "wide bed", "single bed", "east bed"]
    assert places["armchair"]["most_from"] == "living west window"
    assert 0.8 < places["armchair"]["speed_m_s"] < 3.0
    assert 17.7 < places["armchair"]["temperature_c"] < 26.1
    assert places["wide bed"]["asleep"]
    nobody = json.loads(run(str(EXAMPLES / "two_storey.yaml"), "--json"))
    assert nobody["result"]["people_at"] == []
