"""Paths of the air through the house."""

from __future__ import annotations

import pytest

from ventplan.house import read_house
from ventplan.network import solve
from ventplan.network.flow import flow_paths


def test_air_of_a_hallway_goes_one_way_through_its_openings_in_series() -> None:
    rig = read_house("house_examples/hallway_rig.yaml")
    flow = solve(rig, "box fan at 2 m")
    (path,) = flow_paths(flow)
    assert path.openings == ("return", "doorway")
    assert path.rooms == ("hallway",)
    assert path.share == pytest.approx(1.0)
    assert path.tightest == "return"


@pytest.mark.parametrize("scenario", ["cross breeze", "evening", "evening, two fans", "box fan sealed in"])
def test_paths_are_connected_and_carry_no_more_than_comes_in(scenario: str) -> None:
    house = read_house("house_examples/bungalow.yaml")
    flow = solve(house, scenario)
    found = flow_paths(flow)
    assert 0.7 < sum(path.share for path in found) <= 1.0 + 1e-9
    for path in found:
        assert len(path.openings) == len(path.rooms) + 1
        places = ("outdoors", *path.rooms, "outdoors")
        for name, a, b in zip(path.openings, places, places[1:], strict=False):
            opening = flow.openings[name]
            start, end = opening.joins if opening.net_kg_s > 0.0 else opening.joins[::-1]
            assert (start, end) == (a, b)
            assert abs(opening.net_kg_s) >= path.flow_kg_s * (1.0 - 1e-9)


def test_a_shut_house_without_wind_has_no_paths() -> None:
    rig = read_house("house_examples/hallway_rig.yaml")
    assert flow_paths(solve(rig, "as it stands")) == ()
