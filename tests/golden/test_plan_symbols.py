"""Doors, windows, screens and walls are drawn as they were when somebody last looked at them."""

import json

import pytest

from tests.golden.plan_symbols import CASES, DATA, symbols


@pytest.mark.parametrize(("name", "scenario"), CASES)
def test_symbols_are_drawn_as_before(name, scenario):
    assert symbols(name, scenario) == json.loads(DATA.read_text("utf-8"))[name]
