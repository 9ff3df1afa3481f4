"""What limits an aim: exact derivatives against small changes solved again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ventplan.advice import Change
from ventplan.advice.bottlenecks import bottlenecks_of, derivatives
from ventplan.advice.objective import Objective
from ventplan.house import House, Opening, Scenario, read_house
from ventplan.network import solve
from ventplan.show.tables import bottleneck_words, objective_words, steering_words

SMALL = 1e-4


def larger(opening: Opening) -> Opening:
    (x1, y1), (x2, y2) = opening.start, opening.end
    return replace(opening, end=(x2 + (x2 - x1) * SMALL, y2 + (y2 - y1) * SMALL))


def gain(house: House, changed: House, scenario: Scenario, aim: Objective) -> float:
    before = aim.value(house, scenario, solve(house, scenario))
    return 0.1 * (aim.value(changed, scenario, solve(changed, scenario)) / before - 1.0) / SMALL


@pytest.mark.parametrize(
    "aim", [Objective("opening", "living west window"), Objective("room", "front bedroom")], ids=["opening", "room"]
)
def test_a_tenth_more_area_gains_what_a_slightly_larger_opening_gains_tenfold(aim: Objective) -> None:
    house = read_house("house_examples/bungalow.yaml")
    scenario = house.scenarios["evening"]
    told = {bottleneck_words(limit): limit.gain for limit in derivatives(house, scenario, aim, solve(house, scenario))}
    for name in ("living south window", "kitchen window", "front bedroom window"):
        changed = replace(house, openings={**house.openings, name: larger(house.openings[name])})
        found = gain(house, changed, scenario, aim)
        # A larger opening also loses a little less by the width of its room, which the derivative leaves out.
        assert told[f"a tenth more free area at {name}"] == pytest.approx(found, rel=0.04, abs=2e-5)


def test_a_tenth_more_thrust_gains_what_a_slightly_stronger_fan_gains_tenfold() -> None:
    house = read_house("house_examples/hallway_rig.yaml")
    scenario, aim = house.scenarios["box fan at 2 m"], Objective("opening", "doorway")
    told = {bottleneck_words(limit): limit.gain for limit in derivatives(house, scenario, aim, solve(house, scenario))}
    fan = house.fans["box fan"]
    stronger = replace(fan, thrust_n=fan.thrust_n * (1 + SMALL), flow_m3_s=fan.flow_m3_s * (1 + SMALL) ** 0.5)
    found = gain(house, replace(house, fans={**house.fans, fan.name: stronger}), scenario, aim)
    assert told["a tenth more thrust from box fan"] == pytest.approx(found, rel=1e-3)


def test_the_largest_gain_of_a_screened_plan_is_taking_a_screen_off() -> None:
    house = read_house("house_examples/hallway_screened.yaml")
    scenario = house.scenarios["box fan at 1 m"]
    aim, flow = Objective("opening", "near window"), solve(house, scenario)
    limits = bottlenecks_of(house, scenario, aim, aim.value(house, scenario, flow), flow)
    assert limits[0].change == Change.SCREEN_OFF
    assert [limit.gain for limit in limits] == sorted((limit.gain for limit in limits), reverse=True)


def test_a_cool_morning_is_named_and_its_limits_are_said_to_be_of_the_flow() -> None:
    from tests.unit.show.solved_examples import EXAMPLES
    from ventplan.advice import Objective
    from ventplan.airing.weather_files import read_weather

    aim = Objective("cool", "room", read_weather(EXAMPLES / "weather_week.csv").until(7.0), 7.0)
    assert objective_words(aim) == "room coolest by Tue 02 Jul 07:00"
    assert steering_words(aim) == "the outdoor air that reaches room"
    assert steering_words(Objective("room", "room")) == objective_words(Objective("room", "room"))
