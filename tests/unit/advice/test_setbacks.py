"""How far back a fan should stand: optimum, range, and places to stand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from ventplan.advice import setback_curve
from ventplan.advice.candidates import Stretch, aimed, only_by_hatch, stretches
from ventplan.advice.setback import best_setback, good_range, solve_placed, usual_state
from ventplan.errors import InputError, NoAnswerError
from ventplan.house import House, Placement, read_house
from ventplan.house.geometry import normal_from
from ventplan.show.comparison_tables import setback_view

EXAMPLES = Path(__file__).parents[3] / "house_examples"
HOUSES = ("bungalow", "hallway_rig", "hallway_screened", "one_room_flat", "rambling_house", "two_storey")


def example(name: str) -> House:
    return read_house(EXAMPLES / f"{name}.yaml")


@pytest.mark.parametrize(
    ("name", "fan", "opening"),
    [
        ("hallway_screened", "box fan", "near window"),
        ("hallway_screened", "circulator", "near window"),
        ("bungalow", "pedestal", "east bedroom east"),
    ],
)
def test_the_best_setback_is_the_best_of_a_fine_grid(name: str, fan: str, opening: str) -> None:
    house = example(name)
    curve = setback_curve(house, house.first_scenario(), fan=fan, opening=opening).curves[0]
    joins = house.openings[opening].joins
    share = house.openings[opening].full_share
    state = house.first_scenario()
    screened = frozenset(name for name, one in house.openings.items() if one.screen is not None)
    state = replace(state, shares={**state.shares, opening: state.shares[opening] or share}, screened=screened)
    grid = np.arange(curve.setback_m[0], curve.setback_m[-1], 0.04)
    flows = [
        solve_placed(house, state, Placement(fan, opening, joins[0], float(s))).openings[opening].net_m3_s for s in grid
    ]
    assert curve.best_flow_m3_s >= max(flows) * (1.0 - 1e-4)
    assert curve.best_setback_m == pytest.approx(grid[int(np.argmax(flows))], abs=0.05)
    keeps = grid[np.array(flows) >= 0.9 * curve.best_flow_m3_s]
    # Between points of the curve the edge is found by a straight line: within the distance of two points.
    step = curve.setback_m[1] - curve.setback_m[0]
    assert curve.good_from_m == pytest.approx(keeps.min(), abs=step)
    assert curve.good_to_m == pytest.approx(keeps.max(), abs=step)


def test_the_search_finds_the_top_of_a_hill_between_grid_points_and_over_a_gap() -> None:
    ranges = (Stretch(0.2, 1.0, 0.0), Stretch(2.0, 5.0, 0.0))
    setback, value, pairs = best_setback(lambda s: 3.0 - (s - 3.137) ** 2, ranges)
    assert setback == pytest.approx(3.137, abs=0.005)
    assert value == pytest.approx(3.0, abs=1e-4)
    assert all(s <= 1.0 or s >= 2.0 for s, _ in pairs)


def test_the_range_keeps_nine_tenths_and_stops_where_the_curve_ends() -> None:
    pairs = [(float(s), 1.0 - 0.1 * (s - 2.0) ** 2) for s in np.arange(1.5, 5.0, 0.5)]
    low, high = good_range(pairs, (2.0, 1.0), (Stretch(1.5, 5.0, 0.0),))
    assert low == 1.5
    assert high == pytest.approx(3.0, abs=0.01)


def test_the_range_does_not_reach_over_a_place_where_the_fan_cannot_stand() -> None:
    pairs = [(0.5, 0.95), (1.0, 0.97), (3.0, 1.0), (3.5, 0.95), (4.0, 0.5)]
    low, high = good_range(pairs, (3.0, 1.0), (Stretch(0.5, 1.0, 0.0), Stretch(3.0, 4.0, 0.0)))
    assert (low, high) == (3.0, pytest.approx(3.5 + 0.5 * 0.05 / 0.45))


@pytest.mark.slow
@pytest.mark.parametrize("name", HOUSES)
def test_every_place_to_stand_is_inside_the_room_off_obstacles_and_in_sight(name: str) -> None:
    house = example(name)
    state = house.first_scenario()
    tried = 0
    for fan in house.fans.values():
        for opening in house.openings.values():
            if opening.is_horizontal or opening.full_share <= 0.0:
                continue
            for place in opening.joins:
                if place not in house.rooms:
                    continue
                for stretch in stretches(house, state, fan, opening, place):
                    tried += 1
                    for setback in (stretch.low_m, stretch.high_m):
                        check_spot(house, fan.name, opening.name, place, setback, stretch.aside_m)
    assert tried > 0


def check_spot(house: House, fan_name: str, opening_name: str, place: str, setback: float, aside: float) -> None:
    fan, opening, state = house.fans[fan_name], house.openings[opening_name], house.first_scenario()
    placed = aimed(house, state, Placement(fan_name, opening_name, place, setback, aside_m=aside))
    share = state.shares[opening_name] or opening.full_share
    middle = share / 2.0 if opening.free_along == "width" else 0.5
    (x1, y1), (x2, y2) = opening.start, opening.end
    width = opening.width_m
    (ix, iy) = normal_from(opening, opening.other(place))
    x = x1 + (x2 - x1) * middle + ix * setback + (x2 - x1) / width * aside
    y = y1 + (y2 - y1) * middle + iy * setback + (y2 - y1) / width * aside
    spot = Point(x, y)
    assert Polygon(house.rooms[place].corners).covers(spot), (opening_name, setback)
    axis = LineString([spot, (x1 + (x2 - x1) * middle, y1 + (y2 - y1) * middle)])
    for obstacle in house.obstacles.values():
        if obstacle.room != place:
            continue
        shape = Polygon(obstacle.corners)
        assert shape.distance(spot) >= min(fan.diameter_m / 2.0, setback - 0.02) - 1e-6, (opening_name, obstacle.name)
        if obstacle.height_m > placed.height_m - fan.diameter_m / 2.0:
            assert not shape.intersects(axis), (opening_name, obstacle.name)
    assert fan.lowest_m - 1e-9 <= placed.height_m <= fan.highest_m + 1e-9


@pytest.mark.parametrize(
    ("fan", "opening", "stands_in", "says"),
    [
        ("no such", "near window", None, "no fan 'no such'"),
        ("box fan", "no such", None, "no opening 'no such'"),
        ("box fan", "near window", "kitchen", "not 'kitchen'"),
    ],
)
def test_unknown_names_are_answered_with_the_known_ones(
    fan: str, opening: str, stands_in: str | None, says: str
) -> None:
    with pytest.raises(InputError, match=says):
        setback_curve(example("hallway_screened"), None, fan=fan, opening=opening, stands_in=stands_in)


def test_a_fan_without_a_place_to_stand_has_no_answer() -> None:
    house = example("hallway_rig")
    giant = replace(house.fans["box fan"], diameter_m=3.0)
    house = replace(house, fans={"box fan": giant})
    narrow = replace(house.rooms["hallway"], corners=((7.5, 0.0), (8.0, 0.0), (8.0, 1.2), (7.5, 1.2)))
    house = replace(house, rooms={"hallway": narrow})
    answer = stretches(house, house.first_scenario(), giant, house.openings["return"], "hallway")
    assert answer == ()
    with pytest.raises(NoAnswerError, match="finds no place to stand"):
        setback_curve(house, None, fan="box fan", opening="return")


def test_a_fan_that_cannot_win_against_the_wind_says_so_and_gets_no_range_of_negative_flows() -> None:
    house = read_house("house_examples/bungalow.yaml")
    evening = house.scenarios["evening"]
    storm = replace(evening.outdoors, wind=replace(evening.outdoors.wind, speed_m_s=12.5, from_deg=295.0))
    answer = setback_curve(house, replace(evening, outdoors=storm), fan="box fan", opening="living west window")
    curve = answer.curves[0]
    assert not curve.wins
    assert curve.best_flow_m3_s < 0.0
    assert curve.good_from_m == curve.good_to_m == curve.best_setback_m
    text = "\n".join(str(part) for part in setback_view(house, answer, "us", details=False))
    assert "too weak" in text
    assert "times" not in text


def test_a_fan_that_is_fixed_in_its_opening_has_no_setback() -> None:
    house = read_house(EXAMPLES / "bungalow.yaml")
    fixed = replace(house, fans={**house.fans, "box fan": replace(house.fans["box fan"], stays_at="study window")})
    with pytest.raises(InputError, match="fixed in study window, so it has no setback"):
        setback_curve(fixed, None, fan="box fan", opening="study window")


def test_no_fan_is_proposed_in_a_room_that_is_entered_through_a_hatch_alone() -> None:
    house = read_house(EXAMPLES / "bungalow.yaml")
    assert not any(only_by_hatch(house, room) for room in (*house.rooms, "outdoors"))
    hatch = {
        n: replace(o, kind="hatch") if "study" in o.joins and o.kind == "door" else o for n, o in house.openings.items()
    }
    assert only_by_hatch(replace(house, openings=hatch), "study")
    assert not only_by_hatch(replace(house, openings=hatch), "hall")


def test_without_a_scenario_of_its_own_a_fan_is_judged_where_air_can_follow() -> None:
    house = read_house(EXAMPLES / "bungalow.yaml")
    assert usual_state(house, "box fan", "living west window").name == "evening"
    assert usual_state(house, "pedestal", "bath window").name == "cross breeze"
