"""Figures of one solved scenario agree with one another, and say what they rest on."""

from __future__ import annotations

from dataclasses import replace

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
