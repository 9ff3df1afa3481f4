"""Where to put which fan: the search against trying everything."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from tests.unit.advice.brute_force import COARSE_M, poses, sets_of
from ventplan.advice import Change, Objective, PlaceAnswer, place
from ventplan.errors import InputError, NoAnswerError
from ventplan.house import House, Scenario, parse_house
from ventplan.network import Flow, solve

TWO_ROOMS = """
name: Two rooms
outdoors: {temperature: 18 °C, wind: 2 m/s from south-west}
indoors: {temperature: 24 °C}
rooms:
  day:   {at: [0 m, 0 m], size: [5 m, 4 m]}
  night: {at: [5 m, 0 m], size: [3 m, 4 m]}
openings:
  door:         {kind: door, joins: [day, night], along: 1.6 m, size: [0.8 m, 2 m]}
  day west:     {kind: window, joins: [day, outdoors], wall: west, along: 1.4 m, size: [1.2 m, 1.2 m], sash: side hinged}
  day south:    {kind: window, joins: [day, outdoors], wall: south, along: 2 m, size: [1 m, 1.2 m], sash: sliding, screen: fine 18x16}
  night window: {kind: window, joins: [night, outdoors], wall: east, along: 1.4 m, size: [1.2 m, 1.2 m], sash: side hinged, screen: fine 18x16}
fans:
  box: {like: box 20 in}
"""  # noqa: E501


@pytest.fixture(scope="module")
def house() -> House:
    return parse_house(TWO_ROOMS)


def every_state(house: House) -> Iterator[Scenario]:
    """Every set of openings with the fan at every opening, from every side, on everything that it can stand on."""
    for state in sets_of(house, house.first_scenario()):
        for pose in poses(house, state, COARSE_M):
            yield replace(state, placements=(pose,))


def value_of(answer: PlaceAnswer, house: House, state: Scenario) -> float:
    return answer.objective.verdict(house, state, solve(house, state))


@pytest.fixture(scope="module")
def everything(house: House) -> list[tuple[Scenario, Flow]]:
    return [(state, solve(house, state)) for state in every_state(house)]


@pytest.mark.slow
@pytest.mark.parametrize("aim", [{"target": "night window"}, {"room": "night"}, {"whole_house": True}])
def test_on_a_small_house_the_plan_is_as_good_as_the_best_of_everything(
    house: House, everything: list[tuple[Scenario, Flow]], aim: dict[str, str]
) -> None:
    answer = place(house, **aim)
    allowed = [(s, f) for s, f in everything if "target" not in aim or s.shares[aim["target"]] > 0.0]
    best = max(answer.objective.verdict(house, state, flow) for state, flow in allowed)
    # Changes that bring less than half a per cent are not asked for.
    assert answer.plans[0].value >= 0.99 * best


@pytest.fixture(scope="module")
def answer(house: House) -> PlaceAnswer:
    return place(house, room="night")


def test_what_a_plan_promises_is_what_its_state_gives_when_solved(house: House, answer: PlaceAnswer) -> None:
    for plan in answer.plans:
        assert value_of(answer, house, plan.scenario) == pytest.approx(plan.value, rel=1e-9)
        assert plan.scenario.placements == plan.placements


def test_plans_are_in_order_and_really_differ(answer: PlaceAnswer) -> None:
    values = [plan.value for plan in answer.plans]
    assert len(values) >= 2
    # Plans that are as good as the best come in the order of the trouble that they are.
    rest = [value for value in values if value < 0.99 * max(values)]
    assert values[: len(values) - len(rest)] == [value for value in values if value >= 0.99 * max(values)]
    assert rest == sorted(rest, reverse=True)
    kinds = {(p.placement.opening, p.placement.stands_in, p.placement.sealed) for p in answer.plans}
    assert len(kinds) == len(answer.plans)


def test_what_to_open_and_shut_is_the_difference_from_the_state_asked_about(house: House, answer: PlaceAnswer) -> None:
    before = house.first_scenario().shares
    for plan in answer.plans:
        for name in house.openings:
            now, then = plan.scenario.shares[name] > 0.0, before[name] > 0.0
            assert (name in plan.opens) == (now and not then)
            assert (name in plan.shuts) == (then and not now)


def test_a_plan_is_better_than_no_fan(answer: PlaceAnswer) -> None:
    assert answer.plans[0].value > answer.before


def test_the_limits_name_changes_that_do_gain_what_they_say(house: House, answer: PlaceAnswer) -> None:
    plan = answer.plans[0]
    off = [limit for limit in plan.limits if limit.change == Change.SCREEN_OFF]
    assert off
    for limit in off:
        name = limit.names[0]
        state = replace(plan.scenario, screened=plan.scenario.screened - {name})
        assert value_of(answer, house, state) / plan.value - 1.0 == pytest.approx(limit.gain, abs=1e-6)


def test_turning_by_more_than_the_aim_allows_loses_a_tenth() -> None:
    house = parse_house(TWO_ROOMS.replace("box 20 in", "pedestal 16 in"))
    answer = place(house, room="night")
    plan = answer.plans[0]
    allowed = plan.stands[0].aim_off_deg
    assert allowed is not None
    assert allowed < 45.0

    def worst(angle: float) -> float:
        turned = (replace(plan.placement, turn_deg=plan.placement.turn_deg + side * angle) for side in (1.0, -1.0))
        return min(value_of(answer, house, replace(plan.scenario, placements=(p,))) for p in turned)

    assert worst(allowed - 0.5) > 0.9 * plan.value > worst(allowed + 0.5)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({}, "exactly one"),
        ({"room": "night", "target": "door"}, "exactly one"),
        ({"room": "nigth"}, "Did you mean 'night'"),
        ({"target": "nite window"}, "Did you mean 'night window'"),
        ({"room": "night", "fans": ["bx"]}, "no fan 'bx'"),
    ],
)
def test_questions_that_name_nothing_are_explained(house: House, asked: dict[str, object], says: str) -> None:
    with pytest.raises(InputError, match=says):
        place(house, **asked)


def test_a_house_without_fans_has_no_answer(house: House) -> None:
    with pytest.raises(NoAnswerError, match="fans"):
        place(replace(house, fans={}), room="night")


def test_an_opening_that_stays_as_it_is_is_never_moved(house: House) -> None:
    stays = replace(house.openings["day south"], can_move=False)
    fixed = replace(house, openings={**house.openings, "day south": stays})
    for plan in place(fixed, room="night").plans:
        assert "day south" not in (*plan.opens, *plan.shuts)


def test_the_aim_of_an_opening_counts_either_way(house: House) -> None:
    state = house.first_scenario()
    state = replace(state, shares=dict.fromkeys(house.openings, 1.0))
    flow = solve(house, state)
    aim = Objective("opening", "night window")
    assert aim.verdict(house, state, flow) == pytest.approx(abs(flow.openings["night window"].net_m3_s))
