"""Which way the air goes."""

from __future__ import annotations

import pytest

from ventplan.house import read_house
from ventplan.network import solve
from ventplan.network.flow import ways


def test_air_of_a_hallway_goes_one_way_through_its_openings_in_series() -> None:
    rig = read_house("house_examples/hallway_rig.yaml")
    flow = solve(rig, "box fan at 2 m")
    (way,) = ways(flow)
    assert way.openings == ("return", "doorway")
    assert way.rooms == ("hallway",)
    assert way.share == pytest.approx(1.0)
    assert way.tightest == "return"


@pytest.mark.parametrize("scenario", ["cross breeze", "evening", "evening, two fans", "box fan sealed in"])
def test_ways_are_connected_and_carry_no_more_than_comes_in(scenario: str) -> None:
    house = read_house("house_examples/bungalow.yaml")
    flow = solve(house, scenario)
    found = ways(flow)
    assert 0.7 < sum(way.share for way in found) <= 1.0 + 1e-9
    for way in found:
        assert len(way.openings) == len(way.rooms) + 1
        places = ("outdoors", *way.rooms, "outdoors")
        for name, a, b in zip(way.openings, places, places[1:], strict=False):
            opening = flow.openings[name]
            start, end = opening.joins if opening.net_kg_s > 0.0 else opening.joins[::-1]
            assert (start, end) == (a, b)
            assert abs(opening.net_kg_s) >= way.flow_kg_s * (1.0 - 1e-9)


def test_a_shut_house_without_wind_has_no_ways() -> None:
    rig = read_house("house_examples/hallway_rig.yaml")
    assert ways(solve(rig, "as it stands")) == ()
