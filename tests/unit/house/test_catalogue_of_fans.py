"""The catalogue of generic fans: every figure has a source and an uncertainty, and is physically possible."""

from __future__ import annotations

import math

import pytest

from ventplan.house import parse_house
from ventplan.house.catalogue import data, fan_specs

HOUSE = """
rooms: {{room: {{at: [0 m, 0 m], size: [5 m, 4 m]}}}}
openings: {{window: {{kind: window, joins: [room, outdoors], wall: north, along: 1 m, size: [1 m, 1 m]}}}}
fans: {{fan: {{{fan}}}}}
"""


@pytest.mark.parametrize("name", list(fan_specs()))
def test_every_figure_of_the_catalogue_has_a_source_or_is_said_to_be_typical(name: str) -> None:
    sources = data("fans.yaml")[name]["sources"]
    assert set(sources) == {"flow", "thrust", "spread", "power", "pressure", "sound"}
    for said in sources.values():
        assert "from memory" in said or "second hand" in said


@pytest.mark.parametrize("name", list(fan_specs()))
def test_the_uncertainty_of_the_catalogue_is_that_of_a_fan_like_it(name: str) -> None:
    spec, fan = fan_specs()[name], parse_house(HOUSE.format(fan=f"like: {name}")).fans["fan"]
    assert (fan.flow_error, fan.thrust_error, fan.spread_error) == (
        spec.flow_error,
        spec.thrust_error,
        spec.spread_error,
    )
    known = parse_house(HOUSE.format(fan=f"like: {name}, flow: {spec.flow} m3/s, flow error: 3 %")).fans["fan"]
    assert known.flow_error == 0.03
    assert known.thrust_error == spec.thrust_error


@pytest.mark.parametrize("name", list(fan_specs()))
def test_thrust_is_that_of_the_stream_through_the_blades_within_a_factor(name: str) -> None:
    spec = fan_specs()[name]
    assert spec.flow
    assert spec.thrust
    assert spec.diameter
    even = 1.2 * spec.flow**2 / (math.pi / 4.0 * spec.diameter**2)
    # No stream of this flow has less momentum than an even one.
    assert 0.97 <= spec.thrust / even <= 1.6


def test_a_measured_floor_fan_is_within_the_uncertainty_of_the_catalogue() -> None:
    # 1.0 m3/s and 8.6 N by velocity profile, 9.5 N by scale, 270 W (a private measurement of one fan, second hand).
    fan = fan_specs()["floor 20 in"]
    assert fan.flow_error
    assert fan.thrust_error
    assert fan.flow == pytest.approx(1.0, rel=fan.flow_error)
    for measured in (8.6, 9.5):
        assert fan.thrust == pytest.approx(measured, rel=fan.thrust_error)
