"""No plan opens a house to its garage."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from ventplan.advice import place
from ventplan.advice.candidates import everything_open
from ventplan.house import House, read_house

FILE = """
rooms:
  bedroom: {at: [0 m, 0 m], size: [4 m, 4 m], use: bedroom}
  garage: {at: [4 m, 0 m], size: [4 m, 4 m]}
openings:
  window: {kind: window, joins: [bedroom, outdoors], wall: west, size: [1 m, 1 m]}
  garage door: {kind: door, joins: [bedroom, garage], size: [0.8 m, 2 m], open: no}
  gate: {kind: door, joins: [garage, outdoors], wall: east, size: [2.4 m, 2 m], open: no}
fans:
  fan: {like: box 20 in}
"""


@pytest.fixture
def house(tmp_path: Path) -> House:
    file = tmp_path / "house.yaml"
    file.write_text(FILE, encoding="utf-8")
    return read_house(file)


def test_no_plan_opens_a_shut_door_to_a_garage(house: House) -> None:
    answer = place(house, room="bedroom")
    assert all("garage door" not in plan.opens for plan in (answer.openings_alone, *answer.plans))


def test_a_door_to_a_garage_that_is_open_already_is_left_to_the_plan(house: House) -> None:
    base = house.first_scenario()
    opened = replace(base, shares={**base.shares, "garage door": 1.0})
    assert everything_open(house, opened).shares["garage door"] == 1.0
    assert everything_open(house, base).shares["garage door"] == 0.0
    assert everything_open(house, base).shares["gate"] > 0.0
