"""Plans that a person can set up, and would want: fans as people own them, safe, quiet and out of the way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ventplan.advice import PlaceAnswer, place
from ventplan.advice.candidates import HEAD_CLEAR_M
from ventplan.advice.objective import Objective
from ventplan.advice.optimise import Optimised
from ventplan.advice.placement import without_idle_fans
from ventplan.advice.search import Constraints
from ventplan.airing.hazards import pillow_levels_db
from ventplan.airing.safety import HazardCode
from ventplan.errors import InputError, NoAnswerError
from ventplan.house import House, Placement, parse_house, read_house
from ventplan.house.fan_pose import fan_pose

HOUSE = """
outdoors: {temperature: 18 °C, wind: 2 m/s from south-west}
indoors: {temperature: 25 °C}
rooms:
  day:   {at: [0 m, 0 m], size: [5 m, 4 m]}
  night: {at: [5 m, 0 m], size: [3.4 m, 4 m], use: bedroom}
openings:
  door:         {kind: door, joins: [day, night], along: 1.6 m, size: [0.8 m, 2 m], open: no}
  day west:     {kind: window, joins: [day, outdoors], wall: west, along: 1.4 m, size: [1.2 m, 1.2 m], sash: sliding}
  day south:    {kind: window, joins: [day, outdoors], wall: south, along: 2 m, size: [1 m, 1.2 m], sash: sliding}
  night window: {kind: window, joins: [night, outdoors], wall: east, along: 1.4 m, size: [1.2 m, 1.2 m], sash: sliding}
fans:
  box: {like: box 20 in, seals: no}
  stand: {like: pedestal 16 in}
people at:
  pillow: {room: night, at: [8 m, 2 m], height: 0.6 m, asleep: yes}
"""


@pytest.fixture(scope="module")
def house() -> House:
    return parse_house(HOUSE)


@pytest.fixture(scope="module")
def answer(house: House) -> PlaceAnswer:
    return place(house, whole_house=True, fans_at_once=2)


def test_a_fan_stands_on_something_of_a_stated_height_and_tilts_only_if_it_can(house: House) -> None:
    for fan in house.fans.values():
        plan = place(house, target="day west", fans=[fan.name], count=1).plans[0].placement
        assert plan.stands_on in ("floor", *house.surfaces)
        low, high = fan.tilt_range_deg
        assert low <= plan.tilt_deg <= high
        assert plan.height_m is not None
        assert plan.support_m is not None
        assert fan.axis_m[0] - 1e-6 <= plan.height_m - plan.support_m <= fan.axis_m[1] + 1e-6


def test_what_is_lost_on_the_floor_is_what_the_fan_gives_there(house: House) -> None:
    found = place(house, target="day west", fans=["box"], count=1)
    plan = found.plans[0]
    assert plan.placement.stands_on != "floor"
    kept = plan.stands[0].on_floor
    assert kept is not None
    assert 0.0 < kept < 0.99


def test_setbacks_are_those_of_a_tape_measure(answer: PlaceAnswer) -> None:
    for plan in answer.plans:
        for placement in plan.placements:
            assert placement.setback_m * 10.0 == pytest.approx(round(placement.setback_m * 10.0), abs=1e-6)


def test_more_fans_are_never_worse_than_fewer(house: House, answer: PlaceAnswer) -> None:
    one = place(house, whole_house=True)
    assert max(plan.value for plan in answer.plans) >= one.plans[0].value * (1.0 - 1e-9)


def test_fans_keep_clear_of_heads_and_out_of_doorways(house: House, answer: PlaceAnswer) -> None:
    head = house.people_at["pillow"]
    for plan in (*answer.plans, *place(house, room="night", count=3).plans):
        for placement in plan.placements:
            pose = fan_pose(house, placement, plan.scenario.shares[placement.opening])
            if placement.stands_in == head.room:
                apart = float(np.hypot(pose.x - head.at[0], pose.y - head.at[1]))
                assert apart >= HEAD_CLEAR_M + pose.radius_m - 0.11
            if house.openings[placement.opening].kind == "door":
                assert placement.setback_m >= 0.5 - 1e-9


def test_quiet_plans_are_quiet_where_people_sleep(house: House) -> None:
    quiet = place(house, room="night", constraints=Constraints(quiet_db=40.0)).plans
    assert quiet
    assert all(pillow_levels_db(house, plan.scenario)["night"] <= 40.0 for plan in quiet)
    # A fan in the next room is heard through the open door between, sealed into its window or not.
    sealed = replace(house, fans={"box": replace(house.fans["box"], can_seal=True)})
    limits = Constraints(quiet_db=45.0)
    for plan in place(sealed, room="night", constraints=limits).plans:
        assert pillow_levels_db(sealed, plan.scenario)["night"] <= 45.0
    with pytest.raises(NoAnswerError, match="quiet enough"):
        place(house, target="night window", constraints=Constraints(keep_out=frozenset({"day"}), quiet_db=40.0))


def test_rooms_to_keep_out_of_and_openings_to_keep_shut_stay_shut(house: House) -> None:
    for plan in place(house, target="day west", constraints=Constraints(keep_out=frozenset({"night"}))).plans:
        assert all(placement.stands_in != "night" for placement in plan.placements)
        assert plan.scenario.shares["door"] == plan.scenario.shares["night window"] == 0.0
    for plan in place(house, target="day west", constraints=Constraints(keep_shut=frozenset({"day south"}))).plans:
        assert plan.scenario.shares["day south"] == 0.0
    with pytest.raises(InputError, match="Did you mean 'night'"):
        place(house, target="day west", constraints=Constraints(keep_out=frozenset({"nigth"})))
    with pytest.raises(InputError, match="kept shut"):
        place(house, target="day west", constraints=Constraints(keep_shut=frozenset({"day west"})))


FLAME = """
outdoors: {temperature: 20 °C, wind: calm}
indoors: {temperature: 20 °C}
rooms:
  kitchen: {at: [0 m, 0 m], size: [4 m, 4 m], flame: gas water heater}
openings:
  west: {kind: window, joins: [kitchen, outdoors], wall: west, size: [0.6 m, 0.6 m], sash: sliding}
  east: {kind: window, joins: [kitchen, outdoors], wall: east, size: [0.25 m, 0.25 m], sash: none}
fans:
  strong: {flow: 0.6 m3/s, thrust: 8 N, diameter: 0.45 m, pressure: 60 Pa, seals: yes, heights: [0.3 m, 1.5 m]}
"""


def test_a_plan_past_the_limit_at_a_flame_is_never_first() -> None:
    found = place(parse_house(FLAME), room="kitchen")
    assert not found.plans[0].flame_flagged
    flags = [plan.flame_flagged for plan in found.plans]
    assert flags == sorted(flags)


def test_a_fixed_fan_stays_and_is_not_carried_elsewhere(house: House) -> None:
    fixed = replace(house, fans={**house.fans, "box": replace(house.fans["box"], stays_at="day west")})
    assert all(p.fan != "box" for plan in place(fixed, whole_house=True).plans for p in plan.placements)
    with pytest.raises(InputError, match="fixed in day west"):
        place(fixed, whole_house=True, fans=["box"])


def test_a_further_plan_does_not_add_a_fan_that_brings_nothing() -> None:
    one, more = Placement("a", "window", "room"), Placement("b", "door", "room")
    plans = [Optimised((), team, {}, value) for team, value in (((one,), 1.0), ((one, more), 1.01), ((more,), 0.9))]
    assert without_idle_fans(Objective("house"), plans, lambda plan: plan.value) == [plans[0], plans[2]]
    helped = [plans[0], Optimised((), (one, more), {}, 1.2)]
    assert without_idle_fans(Objective("house"), helped, lambda plan: plan.value) == helped


def test_plan_that_draws_air_from_the_garage_ranks_below_a_weaker_one_that_does_not() -> None:
    two_storey = read_house("house_examples/two_storey.yaml")
    first, *others = place(two_storey, room="main bedroom", details=False).plans
    assert not first.causes
    assert {*others[0].causes} == {HazardCode.GARAGE_AIR}
    assert others[0].value > first.value


def test_outdoor_air_of_a_room_is_what_its_own_windows_bring_where_no_other_room_sends_air() -> None:
    # One volume of air at the density outdoors for both: the room is warmer than outdoors by 20 K, 7 % thinner air.
    warm = parse_house(FLAME.replace("indoors: {temperature: 20 °C}", "indoors: {temperature: 40 °C}"))
    plan = place(warm, room="kitchen", details=False).plans[0]
    assert plan.value == pytest.approx(plan.flow.rooms["kitchen"].outdoor_m3_s, rel=1e-3)
