"""Who sends air to whom: purging at the density that is there, and doors that keep a counterflow."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ventplan.airing.age import purging_air_change_rates_per_h
from ventplan.airing.air_paths import air_paths
from ventplan.airing.clearing import clear, share_released
from ventplan.house import House, parse_house
from ventplan.network import solve

ONE_ROOM = """
outdoors: {temperature: 20, altitude: ALTITUDE, wind: {speed: 3, from: 270}}
indoors: {temperature: 20}
rooms: {room: {at: [0, 0], size: [5, 4], ceiling: 2.5}}
openings:
  west: {kind: window, joins: [room, outdoors], wall: west, along: 1, size: [1, 1], sash: none}
  east: {kind: window, joins: [room, outdoors], wall: east, along: 1, size: [1, 1], sash: none}
scenarios: {open: {}}
"""

THREE_IN_LINE = """
outdoors: {temperature: 25, wind: {speed: SPEED, from: 270}}
indoors: {temperature: 25}
rooms:
  west: {at: [0, 0], size: [4, 4], ceiling: 2.5}
  middle: {at: [4, 0], size: [4, 4], ceiling: 2.5}
  east: {at: [8, 0], size: [4, 4], ceiling: 2.5}
openings:
  in: {kind: window, joins: [west, outdoors], wall: west, along: 1, size: [1, 1], sash: none}
  first: {kind: door, joins: [west, middle], along: 1, size: [0.9, 2]}
  second: {kind: door, joins: [middle, east], along: 1, size: [0.9, 2]}
  out: {kind: window, joins: [east, outdoors], wall: east, along: 1, size: [1, 1], sash: none}
scenarios: {open: {}}
"""


def three_in_line(speed_m_s: float) -> House:
    return parse_house(THREE_IN_LINE.replace("SPEED", str(speed_m_s)))


@pytest.mark.parametrize("altitude", [0, 2000])
def test_purging_of_a_single_room_is_its_outdoor_air_change_at_any_altitude(altitude: int) -> None:
    house = parse_house(ONE_ROOM.replace("ALTITUDE", str(altitude)))
    state = house.first_scenario()
    flow = solve(house, state)
    rates = purging_air_change_rates_per_h(house, state, flow)
    assert rates["room"] == pytest.approx(flow.rooms["room"].direct_air_change_per_h, rel=1e-6)


def test_a_door_with_a_small_net_flow_still_has_counterflow() -> None:
    """Air of a tenth of a kelvin goes against a breeze until that reaches 2.83 times the exchange at rest."""
    house = three_in_line(0.25)
    state = house.first_scenario()
    still = replace(state, shares={**state.shares, "in": 0.0, "out": 0.0})
    at_rest = air_paths(house, still, solve(house, still)).flow_kg_s[0, 1]
    paths = air_paths(house, state, solve(house, state))
    along, against = paths.flow_kg_s[0, 1], paths.flow_kg_s[1, 0]
    assert 0.4 * at_rest < along - against < 2.8 * at_rest
    assert 0.05 * at_rest < against < 0.8 * at_rest
    assert clear(paths, share_released(["middle"])).rooms["west"].peak > 0.02


def test_a_strong_breeze_leaves_no_counterflow() -> None:
    house = three_in_line(3.0)
    state = house.first_scenario()
    paths = air_paths(house, state, solve(house, state))
    assert paths.flow_kg_s[1, 0] == 0.0


def test_more_net_flow_never_means_more_counterflow() -> None:
    against = []
    for speed in (0.0, 0.1, 0.2, 0.3, 0.4, 0.6, 0.8):
        house = three_in_line(speed)
        state = house.first_scenario()
        against.append(air_paths(house, state, solve(house, state)).flow_kg_s[1, 0])
    assert against == sorted(against, reverse=True)
