"""Laws of wind and stack that hold for every house."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplan.house import parse_house
from ventplan.network import Flow, solve

HOUSE = """
outdoors: {{temperature: {outdoors}, wind: {{speed: {speed}, from: {bearing} deg}}, terrain: {terrain}}}
indoors: {{temperature: {indoors}}}
rooms:
  west room: {{at: [0, 0], size: [4, 5]}}
  east room: {{at: [4, 0], size: [4, 5]}}
openings:
  door: {{kind: passage, joins: [west room, east room], along: 2, size: [1, 2]}}
  west window:
    {{kind: vent, joins: [west room, outdoors], wall: west, along: 2, sill: 0.8, size: [1, 0.8]}}
  east window:
    {{kind: vent, joins: [east room, outdoors], wall: east, along: 2, sill: {sill}, size: [1, 0.8]}}
"""

temperatures = st.floats(-30.0, 40.0)
speeds = st.floats(2.0, 20.0)
bearings = st.floats(0.0, 360.0)


def solved(
    *,
    outdoors: float = 20.0,
    indoors: float = 20.0,
    speed: float = 0.0,
    bearing: float = 270.0,
    terrain: str = "suburb",
    sill: float = 0.8,
) -> Flow:
    text = HOUSE.format(
        outdoors=outdoors,
        indoors=indoors,
        speed=speed,
        bearing=bearing,
        terrain=terrain,
        sill=sill,
    )
    return solve(parse_house(text))


@settings(max_examples=30, deadline=None)
@given(speed=speeds, bearing=bearings, outdoors=temperatures, indoors=temperatures)
def test_wind_from_the_other_side_mirrors_the_answer_of_a_symmetric_house(
    speed: float, bearing: float, outdoors: float, indoors: float
) -> None:
    one = solved(speed=speed, bearing=bearing, outdoors=outdoors, indoors=indoors)
    other = solved(speed=speed, bearing=(360.0 - bearing) % 360.0, outdoors=outdoors, indoors=indoors)
    for side, mirrored in (("west window", "east window"), ("east window", "west window")):
        assert one.openings[side].net_kg_s == pytest.approx(other.openings[mirrored].net_kg_s, abs=1e-6)
        assert one.openings[side].backward_m3_s == pytest.approx(other.openings[mirrored].backward_m3_s, abs=1e-6)
    assert one.openings["door"].net_kg_s == pytest.approx(-other.openings["door"].net_kg_s, abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(temperature=temperatures, bearing=bearings)
def test_without_wind_and_warmth_nothing_flows(temperature: float, bearing: float) -> None:
    flow = solved(outdoors=temperature, indoors=temperature, bearing=bearing)
    for opening in flow.openings.values():
        assert (opening.forward_m3_s, opening.backward_m3_s) == pytest.approx((0.0, 0.0), abs=1e-12)


@settings(max_examples=30, deadline=None)
@given(speed=speeds, factor=st.floats(1.5, 3.0), bearing=st.sampled_from([270.0, 250.0, 300.0, 90.0]))
def test_flow_by_wind_alone_goes_with_the_wind_speed(speed: float, factor: float, bearing: float) -> None:
    slow, fast = solved(speed=speed, bearing=bearing), solved(speed=speed * factor, bearing=bearing)
    ratio = fast.openings["door"].net_m3_s / slow.openings["door"].net_m3_s
    # The laminar part of the orifice law takes up to a thousandth from slow air.
    assert ratio == pytest.approx(factor, rel=0.001)
    assert ratio >= factor * (1.0 - 1e-9)


@settings(max_examples=30, deadline=None)
@given(outdoors=st.floats(-20.0, 20.0), less=st.floats(1.0, 10.0), more=st.floats(1.0, 10.0), sill=st.floats(0.9, 1.5))
def test_more_warmth_moves_more_air(outdoors: float, less: float, more: float, sill: float) -> None:
    cool = solved(outdoors=outdoors, indoors=outdoors + less, sill=sill)
    warm = solved(outdoors=outdoors, indoors=outdoors + less + more, sill=sill)
    assert warm.openings["door"].net_kg_s > cool.openings["door"].net_kg_s > 0.0


@settings(max_examples=20, deadline=None)
@given(speed=speeds, bearing=bearings)
def test_wind_slows_from_open_ground_to_the_city(speed: float, bearing: float) -> None:
    flows = [
        abs(solved(speed=speed, bearing=bearing, terrain=terrain).openings["door"].net_m3_s)
        for terrain in ("waterside", "open", "suburb", "city")
    ]
    assert all(before >= after - 1e-9 for before, after in pairwise(flows))
