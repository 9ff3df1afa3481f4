"""Walls and roofs that face outdoors, against areas counted by hand."""

from __future__ import annotations

import pytest

from ventplan.airing.thermal import fabric_of, outer_areas_m2
from ventplan.house import House, parse_house


def house_of(rooms: str) -> House:
    return parse_house(f"outdoors: {{temperature: 20}}\nrooms: {{{rooms}}}\nopenings: {{}}\nscenarios: {{shut: {{}}}}")


def test_a_stairwell_beside_rooms_on_two_storeys_loses_heat_through_its_free_walls_only() -> None:
    """Stairwell 2 m x 5 m, 5.2 m high; along its east side a room on each storey with 0.3 m of floor between."""
    house = house_of(
        "stairs: {at: [0, 0], size: [2, 5], ceiling: 5.2}, low: {at: [2, 0], size: [4, 5], ceiling: 2.5}, "
        "high: {at: [2, 0], size: [4, 5], floor: 2.8, ceiling: 2.4}"
    )
    walls, roofs = outer_areas_m2(house)
    assert walls == pytest.approx([5.2 * (2 + 2 + 5), 2.5 * (4 + 4 + 5), 2.4 * (4 + 4 + 5)])
    assert roofs == pytest.approx([10.0, 0.0, 20.0])


def test_a_tall_room_beside_a_low_one_loses_heat_through_the_wall_above_it() -> None:
    house = house_of("hall: {at: [0, 0], size: [4, 4], ceiling: 5}, side: {at: [4, 0], size: [3, 4], ceiling: 2.5}")
    walls, roofs = outer_areas_m2(house)
    assert walls[0] == pytest.approx(5.0 * 12.0 + (5.0 - 2.5 - 0.4) * 4.0)
    assert roofs == pytest.approx([16.0, 12.0])


def test_rooms_drawn_with_the_thickness_of_a_wall_between_them_share_it() -> None:
    close = house_of("one: {at: [0, 0], size: [4, 4]}, two: {at: [4, 0], size: [4, 4]}")
    apart = house_of("one: {at: [0, 0], size: [4, 4]}, two: {at: [4.2, 0], size: [4, 4]}")
    assert fabric_of(apart).envelope_w_k == pytest.approx(fabric_of(close).envelope_w_k)
