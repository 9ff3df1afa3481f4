"""The page on the house file names every key, and its examples read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

from ventplan.house import parse_house
from ventplan.house.catalogue import fan_specs, sashes, screens
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


def test_page_names_everything_in_the_catalogues() -> None:
    for name in (*fan_specs(), *screens(), *sashes()):
        assert f"`{name}`" in PAGE, name


def test_examples_on_the_page_read() -> None:
    blocks = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
    assert blocks
    for block in blocks:
        assert parse_house(block).scenarios["evening"].placements
