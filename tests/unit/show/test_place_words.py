"""What ``place`` says about plans: why one ranks lower, little gain, doors to shut, other fans."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from ventplan.advice import PlaceAnswer, place
from ventplan.airing.safety import Hazard, HazardCode
from ventplan.cli.place import wanted_cautions
from ventplan.house import House, read_house
from ventplan.show.place_tables import place_view


@pytest.fixture(scope="module")
def house() -> House:
    return read_house("house_examples/two_storey.yaml")


@pytest.fixture(scope="module")
def answer(house: House) -> PlaceAnswer:
    return place(house, room="main bedroom", details=False)


def words(house: House, answer: PlaceAnswer, one_of: int = 1) -> str:
    file = io.StringIO()
    console = Console(width=100_000, file=file)
    for part in place_view(house, answer, [()] * len(answer.plans), "si", details=False, one_of=one_of):
        console.print(part)
    return file.getvalue()


def test_plan_below_a_weaker_one_says_why(house: House, answer: PlaceAnswer) -> None:
    heads = [line for line in words(house, answer).splitlines() if line.startswith("Plan ")]
    assert "ranked lower" not in heads[0]
    assert "ranked lower because it draws air from the garage" in heads[1]


def test_fan_that_adds_little_may_not_be_worth_its_noise_and_its_range_is_left_out(
    house: House, answer: PlaceAnswer
) -> None:
    text = words(house, answer)
    assert answer.plans[0].value < 1.25 * answer.openings_alone.value
    assert "Plan 1 adds only" in text
    assert "may not be worth its noise" in text
    first = text[text.index("Plan 1:") : text.index("Plan 2:")]
    assert "90 %" not in first
    strong = replace(answer, plans=answer.plans[1:2])
    assert "90 %" in words(house, strong)
    assert "may not be worth" not in words(house, strong)


def test_other_fans_of_the_house_are_mentioned_once(house: House, answer: PlaceAnswer) -> None:
    assert "Uses one of your 2 fans; --fans-at-once 2 tries both." in words(house, answer, one_of=2)
    assert "--fans-at-once" not in words(house, answer)


def test_doors_that_keep_smoke_out_are_doors_that_the_plan_can_spare(house: House) -> None:
    from ventplan.network import solve

    found = place(house, clear="kitchen", details=False)
    for plan in found.plans:
        assert "stairwell" in plan.passes_through
        shut = replace(plan.scenario, shares={**plan.scenario.shares, **dict.fromkeys(plan.doors_to_shut, 0.0)})
        assert found.objective.value(house, shut, solve(house, shut)) >= 0.89 * plan.value
        assert all(house.openings[name].kind == "door" for name in plan.doors_to_shut)
    assert any(plan.doors_to_shut for plan in found.plans)


def test_breeze_on_a_hot_night_is_no_draught_and_cold_air_is() -> None:
    def draught(temperature_c: float, speed_m_s: float) -> Hazard:
        numbers = {"temperature_c": temperature_c, "speed_m_s": speed_m_s, "bothered": 0.9}
        return Hazard(HazardCode.DRAUGHT, ("pillow",), numbers)

    breeze, slow, cold = draught(25.7, 0.71), draught(22.0, 0.4), draught(16.0, 0.7)
    assert wanted_cautions((breeze, slow, cold)) == (slow, cold)
