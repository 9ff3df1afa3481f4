"""The fast parser and the plain one give the same data and places for every house file here."""

from __future__ import annotations

from pathlib import Path

import pytest
from ruamel.yaml import YAML

from ventplan.house import yaml_text

ROOT = Path(__file__).parents[3]
FILES = [*sorted((ROOT / "house_examples").glob("*.yaml")), ROOT / "ventplan" / "house" / "starter.yaml"]
FILES += sorted((ROOT / "ventplan" / "house" / "data").glob("*.yaml"))
ODD = "a: {b: 5'6\", c: 50 %, d: [1, -2, +3, 0x1F, 012, 1_000, 1:30, .5, yes, ~, 2020-01-01], e: 'it''s', f: x#y}\n"


@pytest.mark.parametrize("text", [*(f.read_text("utf-8") for f in FILES), ODD], ids=[*(f.stem for f in FILES), "odd"])
def test_same_data_and_places(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    fast = yaml_text.parse_yaml(text)
    monkeypatch.setattr(yaml_text, "compose", lambda text, file: YAML(typ="safe", pure=True).compose(text))
    plain = yaml_text.parse_yaml(text)
    assert fast.data == plain.data
    assert (fast.keys, fast.values) == (plain.keys, plain.values)
