"""Every pose that the search proposes is one that a house file may have."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.unit.advice.brute_force import random_house
from ventplan.advice.candidates import STEP_M, aimed, candidates, everything_open
from ventplan.house import House, Placement, Scenario, parse_house, read_house
from ventplan.house.fan_pose import fan_pose, free_setbacks, pose_problem

EXAMPLES = sorted((Path(__file__).parents[3] / "house_examples").glob("*.yaml"))
ROOM = """
outdoors: {temperature: 18}
indoors: {temperature: 25}
rooms:
  left: {at: [0, 0], size: [4, 3], ceiling: 2.5}
openings:
  west: {kind: window, joins: [left, outdoors], wall: west, along: 0.65, size: [1.2, 1.2], sill: 0.4, sash: none}
obstacles:
  chest: {room: left, at: [2, 1], size: [0.5, 0.5], height: 1.1}
fans:
  fan: {flow: 0.3, thrust: 2.5 N, diameter: 0.4, spread: 0.14, heights: [0.4, 1.5]}
"""


def proposed(house: House) -> Iterator[tuple[Scenario, Placement]]:
    """Poses 5 cm apart of every fan at every opening, with every opening open."""
    state = everything_open(house, house.first_scenario())
    for candidate in candidates(house, state, list(house.fans), fans_outdoors=True):
        for stretch in candidate.ranges:
            for setback in np.arange(stretch.low_m, stretch.high_m + STEP_M / 2.0, STEP_M).tolist():
                yield state, aimed(house, state, replace(candidate.placement, setback_m=setback))
        if candidate.placement.sealed:
            yield state, candidate.placement


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_pose_proposed_for_an_example_can_be_set_up(path: Path) -> None:
    house = read_house(path)
    for state, placement in proposed(house):
        assert pose_problem(house, fan_pose(house, placement, state.shares[placement.opening])) is None, placement


@pytest.mark.parametrize("seed", range(40))
def test_every_pose_proposed_for_a_random_house_can_be_set_up(seed: int) -> None:
    house = random_house(seed)
    for state, placement in proposed(house):
        assert pose_problem(house, fan_pose(house, placement, state.shares[placement.opening])) is None, placement


def is_free(text: str, setbacks: list[float], *, aside: float = 0.0, height: float | None = None) -> list[bool]:
    house = parse_house(text)
    placement = Placement("fan", "west", "left", aside_m=aside, height_m=height)
    return free_setbacks(house, fan_pose(house, placement, 1.0), np.array(setbacks)).tolist()


def test_a_fan_has_room_around_it_behind_it_and_a_clear_line_to_its_opening() -> None:
    # The chest begins 2 m from the window: 0.2 m of radius, 0.05 m to spare, and 0.2 m of air to draw from behind.
    assert is_free(ROOM, [1.0, 1.5, 1.6, 3.3]) == [True, True, False, False]
    # Beside the chest the wall comes at 4 m; above the chest only the frame itself must clear it.
    assert is_free(ROOM, [3.4, 3.6], aside=0.8) == [True, False]
    assert is_free(ROOM, [1.7, 1.8, 3.3], height=1.4) == [True, False, True]
    assert is_free(ROOM, [1.0], aside=1.6) == [False]


def test_a_fan_does_not_stand_beyond_a_neck_that_is_narrower_than_it_is() -> None:
    neck = "corners: [[0, 0], [4, 0], [4, 3], [1.5, 3], [1.5, 1.4], [1, 1.4], [1, 3], [0, 3]]"
    empty = ROOM.replace("chest: {room: left, at: [2, 1]", "chest: {room: left, at: [3.5, 2.5]")
    assert is_free(empty, [0.5, 2.5]) == [True, True]
    narrow = empty.replace("at: [0, 0], size: [4, 3]", neck).replace("wall: west", "wall: 8")
    assert is_free(narrow, [0.5, 2.5]) == [True, False]
