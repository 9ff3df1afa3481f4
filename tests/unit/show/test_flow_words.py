"""Figures of one solved scenario agree with one another, and say what they rest on."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from types import SimpleNamespace

import pytest

from tests.unit.show.solved_examples import solved
from ventplan.airing.age import outdoor_air_change_rates_per_h, purging_air_change_rates_per_h, supply_of_rooms
from ventplan.airing.clearing import clear_house, share_released
from ventplan.house.units import fixed
from ventplan.show.flow_tables import fan_words, opening_rows

SOLVED = [("bungalow", "as it stands"), ("bungalow", "evening"), ("two_storey", "night")]


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_outdoor_air_and_purging_are_at_most_all_air_of_a_room(name: str, scenario: str) -> None:
    house, state, flow = solved(name, scenario)
    supply = supply_of_rooms(house, state, flow)
    outdoor = outdoor_air_change_rates_per_h(house, state, flow)
    purging = purging_air_change_rates_per_h(house, state, flow)
    for room, air in supply.items():
        most = air.air_change_per_h * (1.0 + 1e-9)
        assert max(outdoor[room], purging[room], air.direct_air_change_per_h) <= most
        assert 0.0 <= air.assumed <= 1.0


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_air_changes_until_clear_are_outdoor_air_times_time_over_volume(name: str, scenario: str) -> None:
    house, state, _ = solved(name, scenario)
    cold = replace(state, outdoors=replace(state.outdoors, temperature_c=5.0))
    (answer,) = clear_house(house, [cold], share_released([next(iter(house.rooms))]))
    volume = sum(room.volume_m3 for room in house.rooms.values())
    wanted = answer.outdoor_m3_s * answer.clearing.clear_s / volume
    assert answer.clearing.air_changes == pytest.approx(wanted)


def test_speed_in_the_details_is_net_flow_over_free_area() -> None:
    _, _, flow = solved("two_storey", "night")
    rows = {row[0]: row for row in opening_rows(flow, "si")}
    for name, row in rows.items():
        opening = flow.openings[name]
        if opening.free_area_m2 <= 0.0:
            assert row[4] == "–"
        elif row[1] == "no net flow":
            assert float(row[4]) == 0.0
        else:
            assert float(row[4]) == pytest.approx(abs(opening.net_m3_s) / opening.free_area_m2, abs=0.0051)


def test_speed_of_a_sealed_fan_is_a_dash() -> None:
    _, _, flow = solved("bungalow", "box fan sealed in")
    sealed = {fan.opening for fan in flow.fans if fan.sealed}
    rows = {row[0]: row for row in opening_rows(flow, "si")}
    assert sealed
    assert all(rows[name][4] == "–" for name in sealed)


def test_a_fan_line_says_net_flow_both_ways_and_that_circling_air_is_not_outdoor_air() -> None:
    _, _, flow = solved("bungalow", "evening")
    fan = flow.fans[0]
    opening = flow.openings[fan.opening]
    circling = replace(opening, forward_m3_s=0.8, backward_m3_s=0.1, net_m3_s=0.7, circling_m3_s=0.1)
    flow = replace(flow, openings={**flow.openings, fan.opening: circling})
    text = fan_words(replace(fan, driven_m3_s=0.7, ratio=1.25), flow, "si")
    assert "net passes through the opening (0.8" in text
    assert ", 0.10" in text
    assert text.endswith("what comes back does not count as outdoor air")
    assert fixed(1.25, 2) in text


def test_a_shut_garage_does_not_count_in_the_age_of_the_house() -> None:
    house, state, _ = solved("two_storey", "night")
    (answer,) = clear_house(house, [state], share_released(["kitchen"]))
    ages = {name: room.age_s for name, room in answer.age.rooms.items()}
    lived = max(age for name, age in ages.items() if not house.rooms[name].is_garage)
    assert ages["garage"] > lived > answer.age.mean_age_s


def printed(parts: Iterable[object]) -> str:
    from rich.console import Console

    screen = Console(width=200)
    with screen.capture() as caught:
        for part in parts:
            screen.print(part)
    return caught.get()


def test_times_of_a_clearing_table_are_all_in_minutes_and_what_was_never_high_stays_below_the_limit() -> None:
    from ventplan.show.airing_tables import clearing_view

    house, _, _ = solved("two_storey", "night")
    release = share_released(["kitchen"])
    states = [house.scenarios[name] for name in ("stack alone", "night, sealed fan")]
    text = printed(clearing_view(clear_house(house, states, release), "it", release=release, system="si"))
    assert "the soonest of 2 scenarios" in text
    assert "ventplan place --clear kitchen" in text
    assert "stays below 5 %" in text
    assert " min" in text
    assert not re.search(r"\d (s|h)\b", text)


def test_a_night_leads_with_its_mornings() -> None:
    from ventplan.airing.night import Morning, Night
    from ventplan.show.airing_tables import night_headline

    runs = tuple(SimpleNamespace(name=name, settled_c=(30.0, end)) for name, end in (("shut", 29.0), ("fan", 25.0)))
    answer = Night(runs=runs, gained_k={"fan": 4.0}, cooling_per_fan={})  # type: ignore[arg-type]
    days = [
        Morning("Mon 01 Jul 07:00", 18.0, {"shut": 27.0, "fan": 22.0}, {}),
        Morning("Tue 02 Jul 07:00", 18.0, {"shut": 28.0, "fan": 21.0}, {}),
    ]
    assert night_headline(answer, days, "si") == (
        "fan: the house is at 21.0 to 22.0 °C at 07:00 on 2 mornings, 5.0 to 7.0 K cooler than with everything shut."
    )
    assert night_headline(answer, [], "si").startswith("fan: the house ends at 25.0 °C")


def test_a_comparison_names_fans_and_weather_and_turns_rows_the_way_the_first_air_goes() -> None:
    from ventplan.advice import compare
    from ventplan.show.comparison_tables import compare_view

    house, state, flow = solved("bungalow", "evening")
    states = [state, house.scenarios["box fan blowing in"]]
    lines = printed(compare_view(house, states, compare(house, states), ["bath"], "si")).splitlines()
    assert sum(line.startswith("Weather: outdoors") for line in lines) == 1
    assert any(line.startswith("box fan  ") for line in lines)
    assert any(line.startswith("Rough figures") and line.rstrip().endswith("bath.") for line in lines)
    start = next(i for i, line in enumerate(lines) if line.startswith("Net flow at openings"))
    rows = [line for line in lines[start:] if re.split(r"  +", line)[0] in flow.openings]
    assert len(rows) > 5
    for row in rows:
        name, goes, first, _ = re.split(r"  +", row.strip())
        assert not first.startswith("−"), row
        forward = goes == " to ".join(flow.openings[name].joins)
        assert forward == (flow.openings[name].net_m3_s >= 0.0)
