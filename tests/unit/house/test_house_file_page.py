"""The page on the house file names every key, and its examples read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

from ventplan.house import parse_house
from ventplan.house.catalogue import METRIC_TEXT, fan_specs, sashes, screens, starter_text
from ventplan.house.reading import key_words
from ventplan.house.schema import (
    FanSpec,
    FileSpec,
    LeakageSpec,
    ObstacleSpec,
    OpeningSpec,
    OutdoorsSpec,
    PersonAtSpec,
    PlacementSpec,
    RoomSpec,
    ScenarioSpec,
    ScreenSpec,
    WindSpec,
)

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs" / "house_file.md").read_text("utf-8")
STARTER = (ROOT / "ventplan" / "house" / "starter.yaml").read_text("utf-8")
MODELS = [FileSpec, OutdoorsSpec, WindSpec, RoomSpec, OpeningSpec, ScreenSpec, FanSpec, ObstacleSpec, LeakageSpec]
MODELS += [PersonAtSpec, ScenarioSpec, PlacementSpec]  # type: ignore[list-item]
ONLY_CATALOGUE = {"source", "note"}


@pytest.mark.parametrize("model", MODELS, ids=lambda m: m.__name__)
def test_page_and_starter_name_every_key(model: type[BaseModel]) -> None:
    for key in set(key_words(model)) - ONLY_CATALOGUE:
        assert re.search(rf"\b{key}\b", PAGE), key
        assert re.search(rf"\b{key}\b", STARTER), key


def test_the_starter_in_us_units_is_the_same_house_in_feet_and_inches() -> None:
    text = starter_text("us")
    assert METRIC_TEXT.search(text) is None
    house, metric = parse_house(text), parse_house(STARTER)
    assert house.show == "us"
    assert list(house.openings) == list(metric.openings)
    assert list(house.scenarios) == list(metric.scenarios)
    assert len(house.remarks) == len(metric.remarks)
    for name, room in metric.rooms.items():
        assert house.rooms[name].volume_m3 == pytest.approx(room.volume_m3, rel=0.1)


def test_page_names_everything_in_the_catalogues() -> None:
    for name in (*fan_specs(), *screens(), *sashes()):
        assert f"`{name}`" in PAGE, name


def test_examples_on_the_page_read() -> None:
    blocks = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
    assert blocks
    for block in blocks:
        assert parse_house(block).scenarios["evening"].placements
