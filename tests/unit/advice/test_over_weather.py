"""One plan for many kinds of weather: groups that stand for hours, wind roses, and the search over them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ventplan.advice.objective import Objective
from ventplan.advice.optimise import value_in_full
from ventplan.advice.plan import Condition, OverAnswer
from ventplan.advice.weather_placement import (
    hourly_conditions,
    place_over,
    points_of,
    read_wind_rose,
    reduced,
    when_opening_helps,
)
from ventplan.airing.safety import flame_is_flagged
from ventplan.airing.weather_files import read_weather
from ventplan.errors import InputError, NoAnswerError
from ventplan.house import parse_house
from ventplan.house.records import House, Scenario
from ventplan.network import Flow, solve

ROOT = Path(__file__).parents[3]
HOUSE = """
outdoors: {temperature: 20, wind: calm, terrain: open}
indoors: {temperature: 20}
rooms: {room: {at: [0, 0], size: [6, 4], ceiling: 2.5}}
openings:
  west window: {kind: window, joins: [room, outdoors], wall: west, size: [1.2, 1.2], sash: side hinged}
  east window: {kind: window, joins: [room, outdoors], wall: east, size: [1.2, 1.2], sash: side hinged}
fans:
  fan: {flow: 0.3, thrust: 2.5 N, diameter: 0.4, spread: 0.14}
"""


def house() -> House:
    return parse_house(HOUSE)


def wind(speed: float, bearing: float, weight: float) -> Condition:
    outdoors = house().first_scenario().outdoors
    return Condition(replace(outdoors, wind=replace(outdoors.wind, speed_m_s=speed, from_deg=bearing)), weight)


def test_every_hour_of_a_file_counts_for_the_time_it_stands_for() -> None:
    weather = read_weather(ROOT / "house_examples" / "weather_week.csv")
    conditions = hourly_conditions(weather, house().first_scenario().outdoors)
    weights = [condition.weight for condition in conditions]
    assert len(weights) == len(weather.seconds)
    assert sum(weights) == pytest.approx(1.0)
    # Whole hours, and half of one for the first and the last row.
    assert weights[0] == pytest.approx(weights[5] / 2.0)


def test_groups_are_nearer_to_their_hours_the_more_there_are() -> None:
    weather = read_weather(ROOT / "house_examples" / "weather_week.csv")
    state = house().first_scenario()
    conditions = hourly_conditions(weather, state.outdoors)
    points = points_of(house(), state, conditions)
    spread = []
    for groups in (1, 4, 12):
        few, place = reduced(house(), state, conditions, groups)
        assert len(few) <= groups
        assert sum(condition.weight for condition in few) == pytest.approx(1.0)
        spread.append(
            np.mean([np.sum((points[place == g] - points[place == g].mean(axis=0)) ** 2) for g in set(place)])
        )
        assert few[0].weight == max(condition.weight for condition in few)
    assert spread[0] > spread[1] > spread[2]


def test_as_many_groups_as_conditions_are_the_conditions() -> None:
    given = (wind(3.0, 270.0, 0.5), wind(5.0, 90.0, 0.3), wind(0.0, 0.0, 0.2))
    few, place = reduced(house(), house().first_scenario(), given, 10)
    assert place.tolist() == [0, 1, 2]
    for one, other in zip(few, given, strict=True):
        assert one.weight == pytest.approx(other.weight)
        assert one.outdoors.wind.speed_m_s == pytest.approx(other.outdoors.wind.speed_m_s)
        assert one.outdoors.wind.from_deg == pytest.approx(other.outdoors.wind.from_deg)


def test_winds_to_either_side_of_north_mean_wind_from_the_north() -> None:
    few, _ = reduced(house(), house().first_scenario(), (wind(4.0, 350.0, 0.5), wind(4.0, 10.0, 0.5)), 1)
    turned = (few[0].outdoors.wind.from_deg + 180.0) % 360.0
    assert turned == pytest.approx(180.0)
    assert few[0].outdoors.wind.speed_m_s == pytest.approx(4.0)


def rose(folder: Path, text: str) -> tuple[Condition, ...]:
    path = folder / "rose.csv"
    path.write_text(text)
    return read_wind_rose(path, house().first_scenario().outdoors)


def test_what_the_shares_of_a_rose_miss_is_calm(tmp_path: Path) -> None:
    found = rose(tmp_path, "wind from,wind speed [km/h],share [%],temperature [°C]\nSW,18,60,\n40 deg,9,30,12\n")
    assert [round(condition.weight, 6) for condition in found] == [0.6, 0.3, 0.1]
    assert [condition.outdoors.wind.speed_m_s for condition in found] == pytest.approx([5.0, 2.5, 0.0])
    assert [condition.outdoors.wind.from_deg for condition in found[:2]] == [225.0, 40.0]
    assert [condition.outdoors.temperature_c for condition in found] == [20.0, 12.0, 20.0]


def test_calm_in_a_rose_needs_no_bearing_and_wind_does(tmp_path: Path) -> None:
    found = rose(tmp_path, "wind from,wind speed [m/s],share [%]\n,0,20\nWSW,3,80\n")
    assert [(c.outdoors.wind.speed_m_s, c.weight) for c in found] == [(0.0, 0.2), (3.0, 0.8)]
    assert found[1].outdoors.wind.from_deg == 247.5
    with pytest.raises(InputError, match="wind from: found an empty cell"):
        rose(tmp_path, "wind from,wind speed [m/s],share [%]\n,2,20\nWSW,3,80\n")


def test_rose_with_a_wind_from_nowhere_or_too_many_shares_is_explained(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="nowhere"):
        rose(tmp_path, "wind from,wind speed [m/s],share [%]\nnowhere,3,50\n")
    with pytest.raises(InputError, match="add up to 130"):
        rose(tmp_path, "wind from,wind speed [m/s],share [%]\nwest,3,80\neast,3,50\n")


@pytest.fixture(scope="module")
def answer() -> OverAnswer:
    given = (wind(1.5, 270.0, 0.7), wind(1.5, 90.0, 0.3))
    return place_over(house(), given, room="room", hour_by_hour=True)


def test_plan_for_the_wind_that_blows_most_is_best_over_all(answer: OverAnswer) -> None:
    # With the wind: a fan at the lee window blows out, and turns about when the wind does.
    assert answer.plans[0].placements[0].opening == "east window"
    assert [group.plan.placements[0].opening for group in answer.groups] == ["east window", "west window"]
    assert answer.plans[0].near_best == pytest.approx(0.7)


def test_mean_is_what_full_solutions_give(answer: OverAnswer) -> None:
    best, values = answer.plans[0], []
    for group in answer.groups:
        state = replace(answer.base, shares=best.shares, placements=best.placements, outdoors=group.condition.outdoors)
        values.append(answer.objective.value(house(), state, solve(house(), state)))
    assert best.values == pytest.approx(values)
    assert best.value == pytest.approx(0.7 * values[0] + 0.3 * values[1])


def test_best_of_each_group_is_no_worse_there_than_the_best_over_all(answer: OverAnswer) -> None:
    for i, group in enumerate(answer.groups):
        assert group.plan.values[i] >= answer.plans[0].values[i]
        assert group.plan.values[i] > group.before


def test_weather_is_needed() -> None:
    with pytest.raises(InputError, match="weather is needed"):
        place_over(house(), (), room="room")


def test_openings_alone_stand_beside_the_fans_and_win_where_they_do_more() -> None:
    # A fan sealed into the only window of a room stops what the open window swaps by itself.
    one = parse_house(
        """
outdoors: {temperature: 15, wind: calm, terrain: open}
indoors: {temperature: 20}
rooms: {room: {at: [0, 0], size: [5, 4], ceiling: 2.5}}
openings: {window: {kind: window, joins: [room, outdoors], wall: south, size: [1, 1], sash: none}}
fans: {fan: {like: box 20 in}}
"""
    )
    outdoors = one.first_scenario().outdoors
    windy = replace(outdoors, wind=replace(outdoors.wind, speed_m_s=4.0, from_deg=180.0))
    answer = place_over(one, (Condition(outdoors, 0.6), Condition(windy, 0.4)), room="room")
    alone = answer.openings_alone
    assert alone.placements == ()
    for i, group in enumerate(answer.groups):
        state = replace(answer.base, shares=alone.shares, outdoors=group.condition.outdoors)
        assert alone.values[i] == pytest.approx(answer.objective.value(one, state, solve(one, state)))
        assert group.plan.placements == ()
    assert answer.plans == (alone,)
    assert alone.near_best == 1.0


TWO_FANS = HOUSE.replace("fans:\n", "fans:\n  other fan: {flow: 0.3, thrust: 2.5 N, diameter: 0.4, spread: 0.14}\n")


def test_two_fans_over_weather_beat_one_and_push_and_pull_with_the_wind() -> None:
    two = parse_house(TWO_FANS)
    given = (wind(1.5, 270.0, 0.7), wind(1.5, 90.0, 0.3))
    single = place_over(two, given, room="room", fans_outdoors=True)
    pair = place_over(two, given, room="room", fans_at_once=2, fans_outdoors=True)
    best = pair.plans[0]
    assert {placement.opening for placement in best.placements} == {"west window", "east window"}
    assert len({placement.fan for placement in best.placements}) == 2
    assert {placement.stands_in for placement in best.placements} == {"room", "outdoors"}
    assert best.value > 1.1 * single.plans[0].value
    state = replace(
        pair.base, shares=best.shares, placements=best.placements, outdoors=pair.groups[0].condition.outdoors
    )
    assert solve(two, state).openings["east window"].net_m3_s > 0.0


def test_more_fans_than_the_house_has_over_weather_are_refused() -> None:
    with pytest.raises(NoAnswerError, match="the question is for 2"):
        place_over(house(), (wind(1.5, 270.0, 1.0),), room="room", fans_at_once=2)


def test_state_without_an_answer_counts_for_nothing_and_ends_no_search(monkeypatch: pytest.MonkeyPatch) -> None:
    def unsettled(*_: object, **__: object) -> None:
        raise NoAnswerError("the jets do not settle")

    monkeypatch.setattr("ventplan.advice.optimise.solve", unsettled)
    state = house().first_scenario()
    assert value_in_full(house(), state, Objective("room", "room")) == (0.0, None)


def test_only_hours_in_which_opening_helps_count() -> None:
    one, base = house(), house().first_scenario()
    given = wind(1.5, 270.0, 0.25).outdoors
    cool, warm, wet, storm = (
        Condition(outdoors, 0.25)
        for outdoors in (
            replace(given, temperature_c=10.0),
            replace(given, temperature_c=40.0),
            replace(given, temperature_c=10.0, rain=True),
            replace(given, temperature_c=10.0, wind=replace(given.wind, speed_m_s=40.0)),
        )
    )
    kept, share = when_opening_helps(one, base, (cool, warm, wet, storm))
    assert share == pytest.approx(0.25)
    assert kept == (replace(cool, weight=1.0),)
    with pytest.raises(NoAnswerError, match="in no hour"):
        when_opening_helps(one, base, (warm, wet))


FLAME = """
outdoors: {temperature: 20 °C, wind: calm, terrain: open}
indoors: {temperature: 20 °C}
rooms: {kitchen: {at: [0 m, 0 m], size: [4 m, 4 m], flame: gas water heater}}
openings:
  west: {kind: window, joins: [kitchen, outdoors], wall: west, size: [0.6 m, 0.6 m], sash: sliding}
  east: {kind: window, joins: [kitchen, outdoors], wall: east, size: [0.25 m, 0.25 m], sash: none}
fans: {strong: {flow: 0.6 m3/s, thrust: 8 N, diameter: 0.45 m, pressure: 60 Pa, seals: yes, heights: [0.3 m, 1.5 m]}}
"""


@pytest.mark.parametrize("hour_by_hour", [False, True])
def test_over_weather_no_plan_past_the_limit_at_a_flame_is_first_and_its_average_is_the_true_one(
    hour_by_hour: bool,
) -> None:
    kitchen = parse_house(FLAME)
    calm = kitchen.first_scenario().outdoors
    given = (Condition(calm, 0.6), Condition(replace(calm, temperature_c=10.0), 0.4))
    found = place_over(kitchen, given, room="kitchen", hour_by_hour=hour_by_hour, count=9)
    assert not found.plans[0].causes
    flagged = [plan for plan in (*found.plans, found.best_with_fan) if plan is not None and plan.causes]
    for plan in (*flagged, *found.plans):
        values = []
        for condition in given:
            state = replace(found.base, shares=plan.shares, placements=plan.placements, outdoors=condition.outdoors)
            values.append(found.objective.value(kitchen, state, solve(kitchen, state)))
        assert plan.value == pytest.approx(0.6 * values[0] + 0.4 * values[1])
    for group in found.groups:  # The best in one weather may be flagged in another, but not there.
        plan = group.plan
        state = replace(found.base, shares=plan.shares, placements=plan.placements, outdoors=group.condition.outdoors)
        assert not flame_is_flagged(kitchen, solve(kitchen, state))


def test_hour_without_an_answer_counts_for_nothing_and_ends_no_search(monkeypatch: pytest.MonkeyPatch) -> None:
    from ventplan.advice import weather_placement

    def unsettled(house: House, state: Scenario, **more: object) -> Flow:
        if state.placements:
            raise NoAnswerError("the jets do not settle")
        return solve(house, state)

    monkeypatch.setattr(weather_placement, "solve", unsettled)
    found = place_over(house(), (wind(1.5, 270.0, 1.0),), room="room", hour_by_hour=True)
    assert found.plans == (found.openings_alone,)
