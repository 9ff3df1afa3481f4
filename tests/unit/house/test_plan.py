"""Walls, shared walls, what is outside, and where a fan can stand: figures that anyone can check on squared paper."""

from __future__ import annotations

import pytest

from ventplan.house import House, Opening, parse_house
from ventplan.house.geometry import (
    bearing_deg,
    free_rectangle,
    setback_limit_m,
    shared_walls,
)

HOUSE = """\
north: 20 deg
rooms:
  left: {at: [0, 0], size: [4, 3]}
  right: {at: [4.2, 1], size: [3, 4]}            # a wall of 20 cm between them
  tower: {at: [0, 0], size: [4, 3], floor: 2.5}
  corner: {corners: [[0, 3], [0, 6], [4, 6], [4, 5], [1, 5], [1, 3]]}   # L, clockwise
openings:
  west: {kind: window, joins: [left, outdoors], wall: west, along: 1, size: [1, 1], sill: 1}
  east: {kind: window, joins: [outdoors, right], wall: east, along: 1, size: [1, 1], sill: 1}
  north: {kind: window, joins: [right, outdoors], wall: north, along: 1, size: [1, 1], sill: 1}
  inner: {kind: door, joins: [left, right], along: 0.5, size: [0.8, 2]}
  high: {kind: window, joins: [tower, outdoors], wall: east, size: [1, 1], sill: 1}
  second edge: {kind: window, joins: [corner, outdoors], wall: 2, along: 1, size: [1, 1], sill: 1}
obstacles:
  box: {room: left, at: [2, 1], size: [0.5, 0.5], height: 1}
"""


@pytest.fixture(scope="module")
def house() -> House:
    return parse_house(HOUSE)


def test_along_counts_from_the_left_or_lower_end(house: House) -> None:
    assert house.openings["west"].start == pytest.approx((0, 1))
    assert house.openings["north"].start == pytest.approx((5.2, 5))
    assert house.openings["inner"].start == pytest.approx((4, 1.5))
    assert house.openings["second edge"].start == pytest.approx((1, 6))


def test_normals_point_from_the_first_place_into_the_second(house: House) -> None:
    assert house.openings["west"].normal == pytest.approx((-1, 0))
    assert house.openings["inner"].normal == pytest.approx((1, 0))
    assert house.openings["east"].joins == ("right", "outdoors")
    assert house.openings["second edge"].normal == pytest.approx((0, 1))


def test_bearing_adds_the_bearing_of_the_top(house: House) -> None:
    assert bearing_deg(house.north_deg, house.openings["north"].normal) == pytest.approx(20)
    assert bearing_deg(house.north_deg, house.openings["west"].normal) == pytest.approx(290)
    assert bearing_deg(house.north_deg, house.openings["east"].normal) == pytest.approx(110)


def test_rooms_share_a_wall_across_its_thickness(house: House) -> None:
    (wall,) = shared_walls(house.rooms["left"], house.rooms["right"])
    assert wall.length_m == pytest.approx(2.0)
    assert (wall.start, wall.end) == (pytest.approx((4, 1)), pytest.approx((4, 3)))
    assert not shared_walls(house.rooms["tower"], house.rooms["left"])


def test_height_of_a_fall_is_that_above_the_ground(house: House) -> None:
    assert house.openings["high"].drop_m == pytest.approx(3.5)
    assert house.openings["inner"].drop_m == 0.0


def test_setback_ends_at_the_obstacle_or_the_wall(house: House) -> None:
    west, inner = house.openings["west"], house.openings["inner"]

    def limit(room: str, opening: Opening, aside_m: float = 0.0, *, past_obstacles: bool = False) -> float:
        free = free_rectangle(opening, 1.0)
        return setback_limit_m(house, room, opening, free, aside_m, radius_m=0.2, past_obstacles=past_obstacles)

    assert limit("left", west) == pytest.approx(2.0, abs=0.03)
    assert limit("left", west, past_obstacles=True) == pytest.approx(4.0, abs=0.03)
    assert limit("left", west, 0.8) == pytest.approx(4.0, abs=0.03)
    assert limit("left", west, 1.45) == 0.0
    # from the plane of the door on the left room's wall, over the wall's 20 cm and the 3 m of the right room
    assert limit("right", inner) == pytest.approx(3.2, abs=0.03)
    assert limit("outdoors", west) == float("inf")
