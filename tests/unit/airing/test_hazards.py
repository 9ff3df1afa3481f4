"""A caution comes when the answer causes it, and only then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from flow_by_hand import solve_by_hand

from ventplan.airing.hazard import Caution, texts
from ventplan.airing.hazards import cautions
from ventplan.house.records import House, PersonAt, Placement, Room, Scenario
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
        (-1.0, "a flame in a room below the pressure outdoors", "2.0 Pa"),
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


def test_what_wind_and_warmth_lower_is_not_put_on_fans(house: House, scenario: Scenario) -> None:
    sealed = with_placement(scenario, sealed=True, setback_m=0.0)
    still = replace(scenario, placements=())
    alone = solve_by_hand(house, still)
    for fans, told in ((sealed, True), (still, False)):
        found = cautions(house, fans, at_pressure(alone, -1.0))
        assert any("flame" in caution.about for caution in found) == told
    (near_flag,) = (c for c in cautions(house, still, at_pressure(alone, -1.8)) if "flame" in c.about)
    assert "by fans" not in near_flag.computed


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


def test_a_storm_is_told_where_something_is_open_to_it(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)

    def told_at(speed_m_s: float, flow: Flow) -> set[str]:
        windy = outdoors(scenario, wind=replace(scenario.outdoors.wind, speed_m_s=speed_m_s))
        return subjects(cautions(house, windy, flow))

    assert "windows open in a storm" in told_at(20.0, calm)
    assert "windows open in a storm" not in told_at(12.0, calm)
    shut = {name: replace(solved, free_area_m2=0.0) for name, solved in calm.openings.items()}
    assert "windows open in a storm" not in told_at(20.0, replace(calm, openings=shut))


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
        ({"stands_in": "outdoors"}, True, {"a fan outdoors", "a fan in the rain"}),
        ({"stands_in": "outdoors", "sealed": True}, False, set()),
        ({"stands_in": "outdoors", "sealed": True}, True, {"a fan in the rain"}),
        ({"opening": "door", "setback_m": 0.1}, False, {"a fan in a doorway"}),
        ({"opening": "door", "setback_m": 0.1}, True, {"a fan in a doorway"}),
        ({"opening": "door", "setback_m": 1.5}, False, set()),
    ],
)
def test_where_a_fan_stands_brings_its_own_cautions(
    house: House, scenario: Scenario, placement: dict[str, Any], rain: bool, about: set[str]
) -> None:
    state = with_placement(outdoors(scenario, rain=rain), **placement)
    calm = at_pressure(solve_by_hand(house, state), 0.0)
    found = [one for one in cautions(house, state, calm) if one.about != NOISE]
    assert subjects(tuple(found)) == about
    for one in found:
        assert "fan" in one.computed
        assert "Local codes" in one.do
        assert "cord" in one.do + one.computed or "rain" in one.about


def test_no_fall_is_told_indoors_or_down_a_shaft(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    for kind in ("door", "passage", "hatch"):
        assert cautions(with_opening(house, "door", kind=kind, drop_m=2.7), scenario, calm) == ()
    assert cautions(with_opening(house, "bedroom window", kind="shaft", drop_m=2.7), scenario, calm) == ()
    assert cautions(with_opening(house, "bedroom window", kind="door", drop_m=2.7), scenario, calm) != ()


@pytest.mark.parametrize(
    ("watts", "gain_w", "words"),
    [
        (50.0, 0.0, ""),
        (299.0, 150.0, ""),
        (320.0, 0.0, "1820 W"),
        (50.0, 1500.0, "50 W beside 1500 W"),
        (0.0, 1500.0, ""),
        (None, 1500.0, ""),
    ],
)
def test_fans_that_leave_no_room_for_a_heater_on_their_circuit_are_told(
    house: House, scenario: Scenario, watts: float | None, gain_w: float, words: str
) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    fans = {"fan": replace(house.fans["fan"], power_w=watts)}
    rooms = {**house.rooms, "kitchen": replace(house.rooms["kitchen"], gain_w=gain_w)}
    found = cautions(replace(house, fans=fans, rooms=rooms), scenario, calm)
    assert subjects(found) == ({"fans and a heater on one circuit"} if words else set())
    for one in found:
        assert words in one.computed
        assert "Local codes" in one.do


def test_fans_that_draw_at_a_garage_wall_without_a_door_are_told(house: House, scenario: Scenario) -> None:
    garage = Room("garage", ((0.0, 4.0), (4.0, 4.0), (4.0, 8.0), (0.0, 8.0)), use="garage")
    with_garage = replace(house, rooms={**house.rooms, "garage": garage})
    scenario = replace(scenario, temperatures_c={**scenario.temperatures_c, "garage": 26.0})
    flow = solve_by_hand(house, scenario)
    rooms = {
        **{name: replace(room, pressure_pa=-0.9) for name, room in flow.rooms.items()},
        "garage": replace(flow.rooms["bedroom"], name="garage", pressure_pa=-0.1),
    }
    drawn = cautions(with_garage, scenario, replace(flow, rooms=rooms))
    assert "air drawn from a garage" in subjects(drawn)
    (told,) = [one for one in drawn if "garage" in one.about]
    assert "0.80 Pa" in told.computed
    assert "Local codes" in told.do
    even = {**rooms, "garage": replace(rooms["garage"], pressure_pa=-0.9)}
    assert "air drawn from a garage" not in subjects(cautions(with_garage, scenario, replace(flow, rooms=even)))
    still = replace(scenario, placements=())
    assert "air drawn from a garage" not in subjects(cautions(with_garage, still, replace(flow, rooms=rooms)))


NOISE = "noise where people sleep"


def test_a_fan_in_a_bedroom_or_blowing_at_one_is_loud_there(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    beside_the_bed = with_placement(scenario, stands_in="bedroom", opening="bedroom window")
    loud = cautions(house, beside_the_bed, calm)
    assert subjects(loud) == {NOISE}
    assert "52 dB" in loud[0].computed
    two = replace(beside_the_bed, placements=beside_the_bed.placements * 2)
    assert "55 dB" in cautions(house, two, calm)[0].computed
    # 52 dB - 10 lg(0.16 x 38.4 m3 / 0.5 s / 1.6 m2), through the open door
    at_the_door = with_placement(scenario, opening="door", setback_m=1.5)
    assert "43 dB" in cautions(house, at_the_door, calm)[0].computed
    assert cautions(house, scenario, calm) == ()  # in the kitchen, at the kitchen's window


def test_a_quiet_fan_or_a_bedroom_behind_a_shut_door_needs_no_word_on_noise(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    beside_the_bed = with_placement(scenario, stands_in="bedroom", opening="bedroom window")
    quiet = replace(house, fans={"fan": replace(house.fans["fan"], sound_db=28.0)})
    unknown = replace(house, fans={"fan": replace(house.fans["fan"], sound_db=None)})
    assert cautions(quiet, beside_the_bed, calm) == ()
    assert cautions(unknown, beside_the_bed, calm) == ()
    at_the_door = with_placement(scenario, opening="door", setback_m=1.5)
    shut = replace(calm, openings={**calm.openings, "door": replace(calm.openings["door"], free_area_m2=0.0)})
    assert cautions(house, at_the_door, shut) == ()


def test_people_sleep_in_bedrooms_and_at_places_to_sleep_or_else_wherever_they_are(
    house: House, scenario: Scenario
) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    crowded = {name: replace(room, people=1.0) for name, room in house.rooms.items()}
    assert cautions(replace(house, rooms=crowded), scenario, calm) == ()
    sofa = PersonAt("sofa", "kitchen", (5.0, 0.5), 0.6, asleep=True)
    assert NOISE in subjects(cautions(replace(house, people_at={"sofa": sofa}), scenario, calm))
    chair = replace(sofa, asleep=False)
    assert NOISE not in subjects(cautions(replace(house, people_at={"sofa": chair}), scenario, calm))
    unnamed = {name: replace(room, use="") for name, room in crowded.items()}
    assert subjects(cautions(replace(house, rooms=unnamed), scenario, calm)) == {NOISE}


DRAUGHT, STRONG = "a draught where somebody sleeps", "strong air where somebody sleeps"


@pytest.mark.parametrize(
    ("at", "height", "asleep", "room_c", "about"),
    [
        ((5.2, 2.5), 1.5, True, 22.0, {STRONG}),  # before the fan
        ((5.2, 2.5), 1.5, False, 22.0, set()),
        ((1.0, 2.5), 1.5, True, 22.0, {DRAUGHT}),  # before the window, at 18 °C outdoors
        ((1.0, 2.5), 1.5, False, 22.0, set()),
        ((0.5, 0.2), 0.6, True, 22.0, set()),  # in the corner
        ((1.0, 2.5), 1.5, True, 31.0, set()),  # as fast, and warm
    ],
)
def test_a_draught_on_somebody_asleep_is_told_as_a_matter_of_comfort(
    house: House,
    scenario: Scenario,
    at: tuple[float, float],
    height: float,
    asleep: bool,
    room_c: float,
    about: set[str],
) -> None:
    room = "bedroom" if at[0] < 4.0 else "kitchen"
    used = replace(house, people_at={"bed": PersonAt("bed", room, at, height, asleep)})
    state = with_placement(replace(scenario, temperatures_c=dict.fromkeys(house.rooms, room_c)), setback_m=3.5)
    if room_c > 26.0:
        state = outdoors(state, temperature_c=30.0)
    flow = at_pressure(solve_by_hand(house, state), 0.0)
    flow = replace(flow, openings={n: replace(o, net_kg_s=0.0) for n, o in flow.openings.items()})
    found = [one for one in cautions(used, state, flow) if one.about in (DRAUGHT, STRONG)]
    assert subjects(tuple(found)) == about
    for one in found:
        assert "comfort" in one.do
        assert "bed" in one.computed


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
    kinds = {kind: text for kind, text in texts().items() if kind != "closing"}
    assert all({"about", "do", "source"} <= set(text) for text in kinds.values())
    comfort = {"draught", "strong air", "noise", "damp air", "damp walls", "damp walls, shut", "warm air"}
    assert {kind for kind, text in kinds.items() if not text.get("defer")} == comfort


def test_a_placement_elsewhere_needs_no_caution(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    quiet = replace(scenario, placements=(Placement("fan", "kitchen window", "kitchen", setback_m=1.0),))
    assert cautions(house, quiet, calm) == ()
