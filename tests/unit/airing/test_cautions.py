"""A caution comes when the answer causes it, and only then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from flow_by_hand import solve_by_hand

from ventplan.airing.cautions import Caution, cautions
from ventplan.house.records import House, Placement, Scenario
from ventplan.network.flow import Flow


def subjects(found: tuple[Caution, ...]) -> set[str]:
    return {caution.about for caution in found}


def at_pressure(flow: Flow, pressure_pa: float) -> Flow:
    rooms = {name: replace(room, pressure_pa=pressure_pa) for name, room in flow.rooms.items()}
    return replace(flow, rooms=rooms)


def with_opening(house: House, name: str, **changes: Any) -> House:
    return replace(house, openings={**house.openings, name: replace(house.openings[name], **changes)})


def with_placement(scenario: Scenario, **changes: Any) -> Scenario:
    return replace(scenario, placements=(replace(scenario.placements[0], **changes),))


def outdoors(scenario: Scenario, **changes: Any) -> Scenario:
    return replace(scenario, outdoors=replace(scenario.outdoors, **changes))


@pytest.mark.parametrize(
    ("pressure_pa", "about", "flag"),
    [
        (-0.1, None, ""),
        (-1.0, "a flame in a room that fans draw air from", "2.0 Pa"),
        (-3.0, "a flame in a room under low pressure", "2.0 Pa"),
        (-8.0, "a flame in a room under low pressure", "5.0 Pa"),
        (3.0, None, ""),
    ],
)
def test_a_flame_is_flagged_by_how_low_its_room_is(
    house: House, scenario: Scenario, pressure_pa: float, about: str | None, flag: str
) -> None:
    found = cautions(house, scenario, at_pressure(solve_by_hand(house, scenario), pressure_pa))
    assert subjects(found) == ({about} if about else set())
    for caution in found:
        assert flag in caution.computed
        assert "kitchen" in caution.computed
        assert "licensed" in caution.do
        assert "safe" not in caution.do.lower()


def test_low_pressure_without_a_flame_or_a_fan_says_nothing(house: House, scenario: Scenario) -> None:
    still = replace(scenario, placements=())
    assert cautions(house, still, at_pressure(solve_by_hand(house, still), -1.0)) == ()
    cold = replace(house, rooms={n: replace(r, flame="") for n, r in house.rooms.items()})
    assert cautions(cold, scenario, at_pressure(solve_by_hand(cold, scenario), -9.0)) == ()


def test_air_from_a_garage_is_told_and_air_into_it_is_not(house: House, scenario: Scenario) -> None:
    def used_as_garage(name: str) -> House:
        rooms: Mapping[str, Any] = {
            n: replace(r, flame="", use="garage" if n == name else "") for n, r in house.rooms.items()
        }
        return replace(house, rooms=rooms)

    from_it, into_it = used_as_garage("bedroom"), used_as_garage("kitchen")
    assert "air drawn from a garage" in subjects(cautions(from_it, scenario, solve_by_hand(from_it, scenario)))
    assert cautions(into_it, scenario, solve_by_hand(into_it, scenario)) == ()


def test_smoke_outdoors_matters_when_its_air_comes_in(house: House, scenario: Scenario) -> None:
    smoky = outdoors(scenario, smoke=True)
    assert "smoke or ozone outdoors" in subjects(cautions(house, smoky, solve_by_hand(house, smoky)))
    shut = replace(smoky, shares=dict.fromkeys(smoky.shares, 0.0), placements=())
    assert cautions(house, shut, solve_by_hand(house, shut)) == ()


def test_a_window_above_a_drop_is_told_with_and_without_its_screen(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    high = with_opening(house, "bedroom window", drop_m=4.0)
    bare = cautions(high, scenario, calm)
    screened = cautions(high, replace(scenario, screened=frozenset({"bedroom window"})), calm)
    assert "no screen on" in bare[0].computed
    assert "holds nobody" in screened[0].computed
    ajar = replace(scenario, shares={**scenario.shares, "bedroom window": 0.08})
    assert cautions(high, ajar, calm) == ()
    assert cautions(with_opening(house, "bedroom window", drop_m=1.0), scenario, calm) == ()


@pytest.mark.parametrize(
    ("placement", "rain", "about"),
    [
        ({"sealed": True}, True, {"a fan in the rain"}),
        ({"setback_m": 0.2}, True, {"a fan in the rain"}),
        ({"setback_m": 2.0}, True, set()),
        ({"sealed": True}, False, set()),
        ({"stands_in": "outdoors"}, False, {"a fan outdoors"}),
        ({"opening": "door", "setback_m": 0.1}, False, {"a fan in a doorway"}),
        ({"opening": "door", "setback_m": 1.5}, False, set()),
    ],
)
def test_where_a_fan_stands_brings_its_own_cautions(
    house: House, scenario: Scenario, placement: dict[str, Any], rain: bool, about: set[str]
) -> None:
    state = with_placement(outdoors(scenario, rain=rain), **placement)
    calm = at_pressure(solve_by_hand(house, state), 0.0)
    assert subjects(cautions(house, state, calm)) == about


def test_noise_counts_at_night_where_people_sleep(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    beside_the_bed = with_placement(scenario, stands_in="bedroom", opening="bedroom window")
    assert cautions(house, beside_the_bed, calm) == ()
    loud = cautions(house, beside_the_bed, calm, at_night=True)
    assert subjects(loud) == {"noise at night"}
    assert "52 dB" in loud[0].computed
    two = replace(beside_the_bed, placements=beside_the_bed.placements * 2)
    assert "55 dB" in cautions(house, two, calm, at_night=True)[0].computed
    assert cautions(house, scenario, calm, at_night=True) == ()


def test_muggy_air_into_a_cool_room_is_told(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    muggy = outdoors(scenario, temperature_c=30.0, relative_humidity=0.8)
    found = cautions(house, replace(muggy, placements=()), calm)
    assert subjects(found) == {"damp air into a cool room"}
    assert "26.2 °C" in found[0].computed
    dry = outdoors(scenario, temperature_c=30.0, relative_humidity=0.3)
    assert cautions(house, replace(dry, placements=()), calm) == ()


def test_sentences_follow_the_units(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    high = with_opening(house, "bedroom window", drop_m=4.0)
    assert "13 ft" in cautions(high, scenario, calm, units="us")[0].computed
    assert "4.00 m" in cautions(high, scenario, calm, units="si")[0].computed


def test_every_text_has_its_words() -> None:
    from ventplan.airing.cautions import _texts

    texts = {kind: text for kind, text in _texts().items() if kind != "closing"}
    assert all({"about", "do", "source"} <= set(text) for text in texts.values())


def test_a_placement_elsewhere_needs_no_caution(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    quiet = replace(scenario, placements=(Placement("fan", "kitchen window", "kitchen", setback_m=1.0),))
    assert cautions(house, quiet, calm) == ()
