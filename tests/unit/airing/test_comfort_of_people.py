"""What people feel: in a fan's jet, in the stream of an opening, beside both, and behind furniture."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplan.airing.air_speed import inflow_jets, jet_speed
from ventplan.airing.comfort import LocalComfort, comfort_of_people
from ventplan.house import parse_house
from ventplan.house.records import House
from ventplan.network import solve
from ventplan.network.jets import Ray
from ventplan.physics.jet_path import JetSource

HOUSE = """
indoors: {temperature: INDOORS}
outdoors: {temperature: OUTDOORS}
rooms:
  room: {at: [0, 0], size: [6, 4], ceiling: 2.6, use: bedroom}
  next: {at: [6, 0], size: [4, 4], ceiling: 2.6}
openings:
  west: {kind: window, joins: [room, outdoors], wall: west, along: 1.4, size: [1.2, 1.2], sash: none}
  door: {kind: door, joins: [room, next], along: 1.5, size: [1, 2]}
  east: {kind: window, joins: [next, outdoors], wall: east, along: 1.4, size: [1.2, 1.2], sash: none}
fans: {fan: {flow: 0.5, thrust: 2, diameter: 0.4, spread: 0.15, seals: yes}}
people at: {PEOPLE}
scenarios:
  through: {fans: [{fan: fan, blows through: door, stands in: room, setback: 3, height: 1.1}]}
  out: {fans: [{fan: fan, blows out: east, setback: 1, height: 1.3}]}
  in: {fans: [{fan: fan, blows in: west, sealed: yes}]}
"""


def house_of(people: str, indoors: float = 28.0, outdoors: float = 28.0) -> House:
    text = HOUSE.replace("INDOORS", str(indoors)).replace("OUTDOORS", str(outdoors))
    return parse_house(text.replace("{PEOPLE}", f"{{{people}}}"))


def feel(people: str, scenario: str, indoors: float = 28.0, outdoors: float = 28.0) -> dict[str, LocalComfort]:
    house = house_of(people, indoors, outdoors)
    state = house.scenarios[scenario]
    return {there.name: there for there in comfort_of_people(house, state, solve(house, state))}


def test_a_house_without_such_places_says_nothing() -> None:
    house = replace(house_of("p: {room: room, at: [1, 2]}"), people_at={})
    state = house.scenarios["through"]
    assert comfort_of_people(house, state, solve(house, state)) == ()


def test_the_air_moves_in_the_jet_and_not_behind_the_fan() -> None:
    there = feel(
        "before: {room: room, at: [4.5, 2]}, far: {room: room, at: [5.5, 2]}, behind: {room: room, at: [2, 2]}, "
        "aside: {room: room, at: [4.5, 3.7]}",
        "through",
    )
    assert there["before"].most_from == "fan"
    assert there["before"].fans_m_s > there["far"].fans_m_s > 1.0
    assert there["behind"].fans_m_s == 0.0
    assert there["aside"].fans_m_s < 0.2
    assert there["before"].relief_k == pytest.approx(2.2)


def test_the_jet_in_the_open_has_a_core_and_becomes_the_gaussian_jet() -> None:
    house = house_of("p: {room: room, at: [1, 2]}")
    start = 0.155
    even = math.sqrt(2.0 * math.pi) * start
    source = JetSource(thrust_n=2.0, width_m=even, height_m=even, spread=0.15, radius_m=0.2)
    ray = Ray("outdoors", 0.0, 0.0, 50.0, 1.0, 0.0, 0.0, source)
    slipstream = math.sqrt(2.0 / 1.2) / even
    assert jet_speed(house, ray, (0.1, 0.0, 50.0), 1.2) == pytest.approx(slipstream, rel=0.01)
    half = start + 0.15 * 6.0
    middle = math.sqrt(2.0 * 2.0 / (math.pi * 1.2)) / half
    assert jet_speed(house, ray, (6.0, 0.0, 50.0), 1.2) == pytest.approx(middle, rel=0.01)
    beside = math.exp(-((0.6 / half) ** 2))
    assert jet_speed(house, ray, (6.0, 0.6, 50.0), 1.2) == pytest.approx(middle * beside, rel=0.02)
    assert jet_speed(house, ray, (-0.1, 0.0, 50.0), 1.2) == 0.0


def test_a_stream_starts_with_the_flow_over_the_contracted_opening() -> None:
    house = house_of("p: {room: room, at: [1, 2]}")
    state = house.scenarios["out"]
    flow = solve(house, state)
    (stream,) = inflow_jets(house, state, flow, "room")
    entering = flow.openings["west"].backward_m3_s + flow.openings["west"].exchange_m3_s
    assert stream.opening == "west"
    assert stream.along == (1.0, 0.0, 0.0)
    assert stream.start_speed_m_s * stream.area_m2 == pytest.approx(entering)
    assert stream.area_m2 == pytest.approx(0.62 * 1.44)


def test_an_inflow_jet_moves_the_air_before_the_window_and_through_the_door() -> None:
    there = feel(
        "at window: {room: room, at: [0, 2]}, window: {room: room, at: [1, 2]}, across: {room: room, at: [4, 2]}, "
        "corner: {room: room, at: [1, 0.2]}, door: {room: next, at: [7, 2]}",
        "out",
    )
    assert all(math.isfinite(one.speed_m_s) for one in there.values())
    assert there["at window"].streams_m_s >= there["window"].streams_m_s > there["across"].streams_m_s > 0.1
    assert there["corner"].streams_m_s < 0.1
    assert (there["window"].most_from, there["door"].most_from) == ("west", "door")
    assert 0.3 < there["door"].streams_m_s < 0.6
    for one in there.values():
        assert one.speed_m_s == pytest.approx(math.hypot(one.fans_m_s, one.streams_m_s, one.background_m_s))


def test_cool_air_arrives_cool_near_the_window_and_mixed_farther_in() -> None:
    there = feel(
        "near: {room: room, at: [0.5, 2], height: 1.5}, far: {room: room, at: [5, 2], height: 0.5}", "in", 24.0, 20.0
    )
    assert 20.0 <= there["near"].temperature_c < 21.0 < there["far"].temperature_c < 24.0
    assert there["near"].draught_rate >= there["far"].draught_rate
    assert there["near"].relief_k == 0.0


def test_a_fan_that_blows_through_a_door_makes_a_jet_behind_it() -> None:
    there = feel("on axis: {room: next, at: [7.5, 2]}, aside: {room: next, at: [7.5, 3.8]}", "through")
    assert there["on axis"].most_from == "door"
    assert there["on axis"].speed_m_s > 0.3 > there["aside"].speed_m_s
    house = house_of("p: {room: next, at: [8, 2]}")
    state = house.scenarios["through"]
    flow = solve(house, state)
    (stream,) = inflow_jets(house, state, flow, "next")
    assert stream.width_m < 1.0  # narrower than the door, as the jet is
    assert inflow_jets(house, state, flow, "room")[0].opening == "west"  # what comes back round the jet is none
    assert len(inflow_jets(house, state, flow, "room")) == 1


def test_tall_furniture_blocks_a_jet_and_the_bed_of_the_person_does_not() -> None:
    bed = "p: {room: room, at: [4.5, 2], height: 0.7, asleep: yes}"
    plain = house_of(bed)
    own = "obstacles: {bed: {room: room, at: [4, 1], size: [1, 2], height: 0.6}}\n"
    low = "obstacles: {desk: {room: room, at: [3.5, 1], size: [0.4, 2], height: 0.8}}\n"
    text = HOUSE.replace("INDOORS", "28").replace("OUTDOORS", "28").replace("{PEOPLE}", f"{{{bed}}}")
    speeds = []
    desk = parse_house(text + low)
    wardrobe = replace(desk, obstacles={"wardrobe": replace(desk.obstacles["desk"], height_m=2.0)})
    for house in (plain, parse_house(text + own), desk, wardrobe):
        state = house.scenarios["through"]
        (there,) = comfort_of_people(house, state, solve(house, state))
        speeds.append(there.fans_m_s)
    assert speeds[0] == speeds[1] == speeds[2] > 0.5
    assert speeds[3] == 0.0


def test_a_draught_rate_is_claimed_only_where_it_was_made_for() -> None:
    there = feel("near: {room: room, at: [1, 2], height: 1.5}, corner: {room: room, at: [5, 0.3]}", "in", 24.0, 23.0)
    assert not there["near"].draught_applies  # above 0.5 m/s
    assert there["corner"].draught_applies
    warm = feel("corner: {room: room, at: [5, 0.3]}", "in", 29.0, 29.0)
    assert not warm["corner"].draught_applies


def test_people_in_a_room_that_is_cut_off_still_have_an_answer() -> None:
    house = house_of("p: {room: next, at: [8, 2]}")
    openings = {n: replace(o, leak_m3_s=0.0) for n, o in house.openings.items()}
    state = replace(house.scenarios["as it stands"], shares={"west": 1.0, "door": 0.0, "east": 0.0})
    house = replace(house, openings=openings)
    flow = solve(house, state)
    assert flow.isolated_rooms == ("next",)
    assert comfort_of_people(house, state, flow)[0].speed_m_s == 0.0


@given(st.floats(0.0, 6.0), st.floats(0.0, 4.0), st.floats(0.0, 2.6), st.sampled_from(["through", "out", "in"]))
def test_everywhere_in_the_room_the_answer_is_a_number(x: float, y: float, z: float, name: str) -> None:
    house, flow = SOLVED[name]
    person = replace(house.people_at["p"], at=(x, y), height_m=z)
    state = house.scenarios[name]
    (there,) = comfort_of_people(replace(house, people_at={"p": person}), state, flow)
    assert math.isfinite(there.speed_m_s)
    assert 0.0 <= there.speed_m_s < 20.0
    assert 17.999 <= there.temperature_c <= 26.001
    assert 0.0 <= there.draught_rate <= 1.0


def _solved(name: str):  # type: ignore[no-untyped-def]
    house = house_of("p: {room: room, at: [1, 2]}", 26.0, 18.0)
    return house, solve(house, house.scenarios[name])


SOLVED = {name: _solved(name) for name in ("through", "out", "in")}
