"""Fans are judged by what they add: against openings alone, and without the air that only circles around a jet."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ventplan.advice import place, setback_curve, trade_off
from ventplan.advice.objective import outdoor_air_m3_s
from ventplan.airing.age import purging_flow_rates_m3_s
from ventplan.airing.air_paths import air_paths
from ventplan.airing.hazards import find_hazards
from ventplan.house import House, Scenario, read_house
from ventplan.network import solve


@pytest.fixture(scope="module")
def flat() -> House:
    return read_house("house_examples/one_room_flat.yaml")


def opened(house: House, plan_shares: dict[str, float]) -> Scenario:
    first = house.first_scenario()
    return replace(first, shares={**first.shares, **plan_shares})


def test_each_plan_tells_what_its_openings_do_without_a_fan(flat: House) -> None:
    answer = place(flat, room="room", count=1)
    plan = answer.plans[0]
    still = replace(plan.scenario, placements=())
    reaching = outdoor_air_m3_s(flat, still, air_paths(flat, still, solve(flat, still)))["room"]
    assert plan.without_fans == pytest.approx(reaching)
    assert plan.value > answer.openings_alone.value >= plan.without_fans * 0.99
    assert answer.openings_alone.placements == ()


def test_openings_alone_are_the_cheapest_where_they_do(flat: House) -> None:
    answer = trade_off(flat, cost="noise", at_least=5.0, room="room")
    assert answer.chosen is not None
    assert answer.chosen.placements == ()
    assert answer.chosen.opens


def test_the_price_of_more_air_includes_its_cautions(flat: House) -> None:
    answer = trade_off(flat, cost="noise", at_least=5.0, room="room")
    loud = [point for point in answer.points if point.placements and point.placements[0].stands_in == "room"]
    assert loud
    assert all("noise" in {one.code for one in point.cautions} for point in loud)
    assert answer.chosen is not None
    assert "noise" not in {one.code for one in answer.chosen.cautions}


def test_air_that_circles_around_a_jet_does_not_count_as_fresh() -> None:
    rig = read_house("house_examples/hallway_rig.yaml")
    scenario = rig.scenarios["box fan in the doorway"]
    flow = solve(rig, scenario)
    door = flow.openings["doorway"]
    assert door.circling_m3_s == pytest.approx(min(door.forward_m3_s, door.backward_m3_s))
    assert flow.rooms["hallway"].outdoor_m3_s == pytest.approx(door.net_m3_s, rel=1e-6)
    assert purging_flow_rates_m3_s(rig, scenario, flow)["hallway"] == pytest.approx(door.net_m3_s, rel=0.02)


def test_a_plan_to_clear_a_room_tells_where_the_smoke_goes() -> None:
    house = read_house("house_examples/bungalow.yaml")
    plans = place(house, clear="kitchen", fans=["box fan"]).plans
    out = [plan for plan in plans if house.openings[plan.placement.opening].joins == ("kitchen", "outdoors")]
    assert out
    assert all(sum(plan.passes_through.values()) < 0.5 for plan in out)


def test_a_setback_in_a_shut_house_says_so(flat: House) -> None:
    fan = next(iter(flat.fans))
    shut = setback_curve(flat, "as it stands", fan=fan, opening="south window")
    assert shut.shut_in
    state = opened(flat, {"balcony door": 1.0})
    assert not setback_curve(flat, state, fan=fan, opening="south window").shut_in


def test_a_setback_without_a_scenario_takes_the_one_with_that_fan_there() -> None:
    house = read_house("house_examples/bungalow.yaml")
    answer = setback_curve(house, None, fan="box fan", opening="living west window")
    assert answer.scenario == "evening"


@pytest.mark.parametrize(("outdoor_c", "cautioned"), [(35.0, True), (15.0, False)])
def test_bringing_in_warmer_air_is_cautioned(flat: House, outdoor_c: float, cautioned: bool) -> None:
    scenario = flat.scenarios["evening"]
    state = replace(scenario, outdoors=replace(scenario.outdoors, temperature_c=outdoor_c))
    found = [hazard.code for hazard in find_hazards(flat, state, solve(flat, state))]
    assert ("warm-air" in found) == cautioned
