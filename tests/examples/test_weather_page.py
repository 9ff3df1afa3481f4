"""What the weather page says of the example house is what the search answers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from ventplan.advice import PlaceAnswer, place
from ventplan.house import read_house

ROOT = Path(__file__).parents[2]


def answer(
    room: str, fan: str, *, wind: tuple[float, float] = (0.0, 0.0), outdoors_c: float = 15.0, indoors_c: float = 25.0
) -> PlaceAnswer:
    house = read_house(ROOT / "house_examples" / "two_storey.yaml")
    state = house.first_scenario()
    weather = replace(
        state.outdoors,
        temperature_c=outdoors_c,
        wind=replace(state.outdoors.wind, speed_m_s=wind[0], from_deg=wind[1]),
    )
    temperatures = dict.fromkeys(house.rooms, indoors_c)
    return place(house, replace(state, outdoors=weather, temperatures_c=temperatures), room=room, fans=[fan], count=1)


@pytest.mark.slow
def test_fan_goes_to_the_lee_of_the_room_whose_window_the_wind_meets() -> None:
    plan = answer("main bedroom", "stand fan", wind=(3.0, 70.0)).plans[0]
    assert plan.placement.opening != "main bedroom window"
    assert plan.flow.openings["main bedroom window"].net_m3_s < -0.5
    behind = answer("main bedroom", "stand fan", wind=(3.0, 250.0)).plans[0]
    assert behind.placement.opening == "main bedroom window"
    assert behind.placement.stands_in == "main bedroom"


@pytest.mark.slow
def test_in_a_wind_that_draws_on_the_boiler_no_fan_is_advised_and_the_best_plan_with_one_is_flagged() -> None:
    found = answer("main bedroom", "stand fan", wind=(5.0, 250.0))
    assert found.plans[0].placements == ()
    plan = found.best_with_fan
    assert plan is not None
    assert plan.flame_flagged
    assert plan.value == pytest.approx(-plan.flow.openings["main bedroom window"].net_m3_s, rel=0.1)
    assert plan.value > found.openings_alone.value


@pytest.mark.slow
def test_cold_night_opens_low_and_high_and_a_hot_day_turns_the_column_over() -> None:
    cold = answer("living", "window fan", outdoors_c=2.0, indoors_c=22.0).plans[0]
    assert {"terrace door", "roof window"} <= set(cold.opens)
    assert cold.flow.openings["roof window"].net_m3_s > 0.1
    assert cold.flow.openings["living door"].net_m3_s < 0.0
    hot = answer("living", "window fan", outdoors_c=38.0, indoors_c=24.0).plans[0]
    assert cold.flow.openings["chimney"].net_m3_s > 0.1
    assert hot.flow.openings["chimney"].net_m3_s < -0.1
    assert hot.flow.openings["front door"].net_m3_s > 0.1
    assert hot.placement.opening == "front door"
    assert hot.placement.stands_in == "stairwell"
