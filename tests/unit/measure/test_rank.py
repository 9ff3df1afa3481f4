"""Ranking fans: by flow, thrust, watts and noise, at the reference window or one of the house."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ventplan.advice.setback import setback_curve
from ventplan.errors import NoAnswerError
from ventplan.house import parse_house
from ventplan.house.records import Wind
from ventplan.measure.rank import best_in_house, in_order, rank_fans

HOUSE = parse_house("""
outdoors: {temperature: 20 °C}
indoors: {temperature: 20 °C}
rooms: {room: {at: [0 m, 0 m], size: [5 m, 4 m], ceiling: 2.5 m}}
openings:
  small: {kind: window, joins: [room, outdoors], wall: east, along: 1.7 m, size: [0.5 m, 0.6 m], sill: 0.9 m,
          full: 100 %}
  supply: {kind: door, joins: [room, outdoors], wall: west, along: 1.5 m, size: [0.9 m, 2 m]}
fans:
  strong: {flow: 0.6 m3/s, thrust: 3.0 N, diameter: 50 cm, spread: 0.17, power: 90 W, sound: 60 dB}
  quiet: {flow: 0.3 m3/s, thrust: 1.2 N, diameter: 34 cm, spread: 0.12, power: 30 W, sound: 45 dB}
  unknown: {flow: 0.2 m3/s, thrust: 0.6 N, diameter: 30 cm, spread: 0.12}
scenarios: {as it stands: {open: [small, supply]}}
""")


def test_least_power_and_noise_come_first_and_fans_without_them_last() -> None:
    ranking = rank_fans(HOUSE.fans)
    for by in ("power", "noise", "watt"):
        assert [fan.name for fan in in_order(ranking, by=by).fans] == ["quiet", "strong", "unknown"]  # type: ignore[arg-type]
    assert [fan.name for fan in ranking.fans] == ["strong", "quiet", "unknown"]


def test_at_an_opening_of_the_house_a_fan_drives_the_best_flow_of_its_setback_curve() -> None:
    best, unplaced = best_in_house(HOUSE, None, "small")
    assert unplaced == ()
    curve = setback_curve(HOUSE, HOUSE.first_scenario(), fan="quiet", opening="small").curves[0]
    assert best["quiet"] == (curve.best_flow_m3_s, curve.best_setback_m)
    ranking = rank_fans(HOUSE.fans, best, opening="small")
    assert ranking.opening == "small"
    assert {fan.name for fan in ranking.fans} == set(HOUSE.fans)


def test_a_fan_that_moves_no_air_against_the_wind_is_left_out_and_named() -> None:
    windy = replace(HOUSE.first_scenario().outdoors, wind=Wind(speed_m_s=20.0, from_deg=90.0))
    best, unplaced = best_in_house(HOUSE, replace(HOUSE.first_scenario(), outdoors=windy), "small")
    assert best == {}
    assert unplaced == tuple(HOUSE.fans)
    with pytest.raises(NoAnswerError, match="small"):
        rank_fans(HOUSE.fans, best, opening="small")
    calm, _ = best_in_house(HOUSE, None, "small")
    assert rank_fans(HOUSE.fans, {"quiet": calm["quiet"]}, opening="small").unplaced == ("strong", "unknown")
