"""Plans to cool a room are ranked by degrees: the same that a night gives, never worse for a fan more or left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.cli.command_line import EXAMPLES
from ventplan.advice import PlaceAnswer, place
from ventplan.advice.placement import cool_nights
from ventplan.airing.night import night
from ventplan.airing.weather import Weather
from ventplan.airing.weather_files import read_weather
from ventplan.house import House, read_house


@pytest.fixture(scope="module")
def flat() -> House:
    return read_house("house_examples/one_room_flat.yaml")


@pytest.fixture(scope="module")
def weather() -> Weather:
    return read_weather(EXAMPLES / "weather_week.csv")


@pytest.fixture(scope="module")
def answer(flat: House, weather: Weather) -> PlaceAnswer:
    return place(flat, cool="room", weather=weather, fans=["pedestal fan"])


def test_a_plan_cools_by_what_the_night_gives(flat: House, weather: Weather, answer: PlaceAnswer) -> None:
    plan, until = answer.plans[0], weather.until(6.0)
    base = flat.first_scenario()
    runs = {run.name: run for run in night(flat, [base, replace(plan.scenario, name="plan")], until).runs}
    step = int(np.abs(np.array(runs["plan"].times_s) - until.seconds_until(6.0)).argmin())
    shut = runs["everything shut"].rooms_c["room"][step]
    assert plan.value == pytest.approx(shut - runs["plan"].rooms_c["room"][step], abs=1e-9)
    assert plan.without_fans == pytest.approx(shut - runs["plan, windows alone"].rooms_c["room"][step], abs=1e-9)


def test_openings_alone_are_never_worse_than_those_of_a_plan_without_its_fan(answer: PlaceAnswer) -> None:
    assert all(answer.openings_alone.value >= plan.without_fans for plan in answer.plans)
    values = [plan.value for plan in answer.plans]
    assert values[0] >= 0.99 * max(values)


@pytest.mark.slow
def test_two_fans_cool_no_less_than_one(flat: House, weather: Weather, answer: PlaceAnswer) -> None:
    two = place(flat, cool="room", weather=weather, fans_at_once=2)
    assert max(plan.value for plan in two.plans) >= answer.plans[0].value - 1e-9


def test_a_week_says_in_which_nights_the_fan_is_worth_its_noise(
    flat: House, weather: Weather, answer: PlaceAnswer
) -> None:
    two = weather.first(34.0 * 3600.0 + weather.seconds_until(6.0) - 10.0 * 3600.0)
    nights = cool_nights(flat, flat.first_scenario(), answer.plans[0], answer.objective, two)
    assert len(nights) == 2
    assert nights[0].shut_c - nights[0].plan_c == pytest.approx(answer.plans[0].value, abs=1e-6)
    for one in nights:
        assert one.worth_a_fan == (one.windows_c - one.plan_c >= 0.5)
