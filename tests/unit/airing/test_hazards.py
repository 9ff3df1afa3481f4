"""A hazard is found when the answer causes it, and only then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from flow_by_hand import solve_by_hand

from ventplan.airing.hazards import find_hazards, pillow_levels_db, slept_in
from ventplan.airing.safety import NEVER_FIRST, Hazard, HazardCode, draws_from_chimney, flame_is_flagged, reachable
from ventplan.house.records import House, PersonAt, Placement, Room, Scenario
from ventplan.network.flow import Flow


@pytest.fixture
def house(house: House) -> House:
    """The invented pair of rooms with a fan that nobody measured the sound of."""
    return replace(house, fans={"fan": replace(house.fans["fan"], sound_db=None)})


def heard(house: House, sound_db: float = 52.0) -> House:
    """The same with a fan that is heard."""
    return replace(house, fans={"fan": replace(house.fans["fan"], sound_db=sound_db)})


def codes(found: tuple[Hazard, ...]) -> set[str]:
    return {hazard.code.value for hazard in found}


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
    ("pressure_pa", "code", "limit_pa"),
    [
        (-0.1, None, 0.0),
        (-1.0, "flame-mild", 2.0),
        (-3.0, "flame-flagged", 2.0),
        (-8.0, "flame-flagged", 5.0),
        (3.0, None, 0.0),
    ],
)
def test_a_flame_is_flagged_by_how_low_its_room_is(
    house: House, scenario: Scenario, pressure_pa: float, code: str | None, limit_pa: float
) -> None:
    flow = at_pressure(solve_by_hand(house, scenario), pressure_pa)
    found = find_hazards(house, scenario, flow)
    assert codes(found) == ({code} if code else set())
    assert flame_is_flagged(house, flow) == (pressure_pa <= -2.0)
    assert bool(codes(found) & NEVER_FIRST) == (code == "flame-flagged")
    for hazard in found:
        assert hazard.names == ("kitchen", "gas water heater")
        assert hazard.numbers["limit_pa"] == limit_pa
        assert hazard.numbers["depressurisation_pa"] == pytest.approx(-pressure_pa)


@pytest.mark.parametrize(
    ("flame", "draws"),
    [
        ("gas boiler", True),
        ("open fireplace", True),
        ("wood stove", True),
        ("gas water heater", True),
        ("something unusual", True),
        ("gas hob", False),
        ("cooker", False),
        ("gas stove", False),
        ("gas range", False),
        ("room-sealed gas boiler", False),
        ("direct vent heater", False),
        ("", False),
    ],
)
def test_low_pressure_matters_to_what_has_a_chimney(flame: str, draws: bool) -> None:
    assert draws_from_chimney(flame) == draws


def test_a_hob_is_no_chimney(house: House, scenario: Scenario) -> None:
    hob = replace(house, rooms={**house.rooms, "kitchen": replace(house.rooms["kitchen"], flame="gas hob")})
    flow = at_pressure(solve_by_hand(hob, scenario), -8.0)
    assert find_hazards(hob, scenario, flow) == ()
    assert not flame_is_flagged(hob, flow)


def test_what_wind_and_warmth_lower_is_not_put_on_fans(house: House, scenario: Scenario) -> None:
    sealed = with_placement(scenario, sealed=True, setback_m=0.0)
    still = replace(scenario, placements=())
    alone = solve_by_hand(house, still)
    for fans, told in ((sealed, True), (still, False)):
        found = find_hazards(house, fans, at_pressure(alone, -1.0))
        assert any("flame" in hazard.code for hazard in found) == told
    (near_flag,) = (h for h in find_hazards(house, still, at_pressure(alone, -1.8)) if "flame" in h.code)
    assert near_flag.numbers["by_fans_pa"] == 0.0


def test_low_pressure_without_a_flame_or_a_fan_says_nothing(house: House, scenario: Scenario) -> None:
    still = replace(scenario, placements=())
    assert find_hazards(house, still, at_pressure(solve_by_hand(house, still), -1.0)) == ()
    cold = replace(house, rooms={n: replace(r, flame="") for n, r in house.rooms.items()})
    assert find_hazards(cold, scenario, at_pressure(solve_by_hand(cold, scenario), -9.0)) == ()


def test_air_from_a_garage_is_a_hazard_and_air_into_it_is_not(house: House, scenario: Scenario) -> None:
    def used_as_garage(name: str) -> House:
        rooms: Mapping[str, Any] = {
            n: replace(r, flame="", use="garage" if n == name else "") for n, r in house.rooms.items()
        }
        return replace(house, rooms=rooms)

    from_it, into_it = used_as_garage("bedroom"), used_as_garage("kitchen")
    assert "garage-air" in codes(find_hazards(from_it, scenario, solve_by_hand(from_it, scenario)))
    assert find_hazards(into_it, scenario, solve_by_hand(into_it, scenario)) == ()


def test_smoke_outdoors_matters_when_its_air_comes_in(house: House, scenario: Scenario) -> None:
    smoky = outdoors(scenario, smoke=True)
    assert "smoke" in codes(find_hazards(house, smoky, solve_by_hand(house, smoky)))
    shut = replace(smoky, shares=dict.fromkeys(smoky.shares, 0.0), placements=())
    assert find_hazards(house, shut, solve_by_hand(house, shut)) == ()


def test_a_storm_is_a_hazard_where_a_window_is_open(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)

    def told_at(speed_m_s: float, flow: Flow) -> set[str]:
        windy = outdoors(scenario, wind=replace(scenario.outdoors.wind, speed_m_s=speed_m_s))
        return codes(find_hazards(house, windy, flow))

    assert "storm" in told_at(20.0, calm)
    assert "storm" not in told_at(12.0, calm)
    shut = {name: replace(solved, free_area_m2=0.0) for name, solved in calm.openings.items()}
    assert "storm" not in told_at(20.0, replace(calm, openings=shut))


def test_a_window_above_a_drop_is_a_hazard_with_and_without_its_screen(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    high = with_opening(house, "bedroom window", drop_m=4.0)
    bare = find_hazards(high, scenario, calm)
    screened = find_hazards(high, replace(scenario, screened=frozenset({"bedroom window"})), calm)
    assert bare[0].numbers == {"gap_m": 1.0, "drop_m": 4.0, "screened": 0.0}
    assert screened[0].numbers["screened"] == 1.0
    ajar = replace(scenario, shares={**scenario.shares, "bedroom window": 0.08})
    assert find_hazards(high, ajar, calm) == ()
    assert find_hazards(with_opening(house, "bedroom window", drop_m=1.0), scenario, calm) == ()


@pytest.mark.parametrize(
    ("placement", "rain", "about"),
    [
        ({"sealed": True}, True, {"rain"}),
        ({"setback_m": 0.2}, True, {"rain"}),
        ({"setback_m": 2.0}, True, set()),
        ({"sealed": True}, False, set()),
        ({"stands_in": "outdoors"}, False, {"fan-outdoors"}),
        ({"stands_in": "outdoors"}, True, {"fan-outdoors", "rain"}),
        ({"stands_in": "outdoors", "sealed": True}, False, set()),
        ({"stands_in": "outdoors", "sealed": True}, True, {"rain"}),
        ({"opening": "door", "setback_m": 0.1}, False, {"fan-in-doorway"}),
        ({"opening": "door", "setback_m": 0.1}, True, {"fan-in-doorway"}),
        ({"opening": "door", "setback_m": 1.5}, False, set()),
    ],
)
def test_a_fan_pose_has_hazards_of_its_own(
    house: House, scenario: Scenario, placement: dict[str, Any], rain: bool, about: set[str]
) -> None:
    state = with_placement(outdoors(scenario, rain=rain), **placement)
    calm = at_pressure(solve_by_hand(house, state), 0.0)
    found = [one for one in find_hazards(house, state, calm) if one.code != NOISE]
    assert codes(tuple(found)) == about
    assert all(one.names[0] == "fan" for one in found)


def test_no_fall_hazard_indoors_or_down_a_shaft(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    for kind in ("door", "passage", "hatch"):
        assert find_hazards(with_opening(house, "door", kind=kind, drop_m=2.7), scenario, calm) == ()
    assert find_hazards(with_opening(house, "bedroom window", kind="shaft", drop_m=2.7), scenario, calm) == ()
    assert find_hazards(with_opening(house, "bedroom window", kind="door", drop_m=2.7), scenario, calm) != ()


@pytest.mark.parametrize(
    ("watts", "gain_w", "code"),
    [
        (50.0, 0.0, ""),
        (299.0, 150.0, ""),
        (320.0, 0.0, "circuit"),
        (50.0, 1500.0, "heater-beside-fans"),
        (0.0, 1500.0, ""),
        (None, 1500.0, ""),
    ],
)
def test_fans_that_leave_too_little_of_a_circuit_for_a_heater_are_a_hazard(
    house: House, scenario: Scenario, watts: float | None, gain_w: float, code: str
) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    fans = {"fan": replace(house.fans["fan"], power_w=watts)}
    rooms = {**house.rooms, "kitchen": replace(house.rooms["kitchen"], gain_w=gain_w)}
    found = find_hazards(replace(house, fans=fans, rooms=rooms), scenario, calm)
    assert codes(found) == ({code} if code else set())
    for one in found:
        assert one.numbers == {"fans_w": watts, "heater_w": 1500.0}


def test_fans_that_draw_at_a_garage_wall_without_a_door_are_a_hazard(house: House, scenario: Scenario) -> None:
    garage = Room("garage", ((0.0, 4.0), (4.0, 4.0), (4.0, 8.0), (0.0, 8.0)), use="garage")
    with_garage = replace(house, rooms={**house.rooms, "garage": garage})
    scenario = replace(scenario, temperatures_c={**scenario.temperatures_c, "garage": 26.0})
    flow = solve_by_hand(house, scenario)
    rooms = {
        **{name: replace(room, pressure_pa=-0.9) for name, room in flow.rooms.items()},
        "garage": replace(flow.rooms["bedroom"], name="garage", pressure_pa=-0.1),
    }
    drawn = find_hazards(with_garage, scenario, replace(flow, rooms=rooms))
    (told,) = [one for one in drawn if "garage" in one.code]
    assert told.code == HazardCode.GARAGE_WALL
    assert told.numbers["depressurisation_pa"] == pytest.approx(0.8)
    even = {**rooms, "garage": replace(rooms["garage"], pressure_pa=-0.9)}
    assert "garage-wall" not in codes(find_hazards(with_garage, scenario, replace(flow, rooms=even)))
    still = replace(scenario, placements=())
    assert "garage-wall" not in codes(find_hazards(with_garage, still, replace(flow, rooms=rooms)))


NOISE = "noise"


def test_a_fan_in_a_bedroom_or_blowing_at_one_is_loud_there(house: House, scenario: Scenario) -> None:
    house = heard(house)
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    beside_the_bed = with_placement(scenario, stands_in="bedroom", opening="bedroom window")
    loud = find_hazards(house, beside_the_bed, calm)
    assert codes(loud) == {NOISE}
    assert loud[0].numbers["level_db"] == pytest.approx(52.0)
    assert pillow_levels_db(house, beside_the_bed) == {"bedroom": pytest.approx(52.0)}
    two = replace(beside_the_bed, placements=beside_the_bed.placements * 2)
    assert find_hazards(house, two, calm)[0].numbers["level_db"] == pytest.approx(55.0, abs=0.1)
    # 52 dB - 10 lg(0.16 x 38.4 m3 / 0.5 s / 1.6 m2), through the open door
    at_the_door = with_placement(scenario, opening="door", setback_m=1.5)
    assert find_hazards(house, at_the_door, calm)[0].numbers["level_db"] == pytest.approx(43.2, abs=0.1)
    # in the kitchen, at the kitchen's window: through the open door all the same
    assert find_hazards(house, scenario, calm)[0].numbers["level_db"] == pytest.approx(43.2, abs=0.1)


def test_a_quiet_fan_or_a_bedroom_behind_a_shut_door_needs_no_word_on_noise(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    beside_the_bed = with_placement(scenario, stands_in="bedroom", opening="bedroom window")
    quiet, unknown, house = heard(house, 28.0), house, heard(house)
    assert find_hazards(quiet, beside_the_bed, calm) == ()
    assert find_hazards(unknown, beside_the_bed, calm) == ()
    at_the_door = with_placement(scenario, opening="door", setback_m=1.5)
    shut = replace(at_the_door, shares={**at_the_door.shares, "door": 0.0})
    assert find_hazards(house, shut, calm) == ()


def test_people_sleep_in_bedrooms_and_at_places_to_sleep_or_else_wherever_they_are(house: House) -> None:
    def rooms(house: House) -> list[str]:
        return [room.name for room in slept_in(house)]

    crowded = replace(house, rooms={name: replace(room, people=1.0) for name, room in house.rooms.items()})
    assert rooms(crowded) == ["bedroom"]
    sofa = PersonAt("sofa", "kitchen", (5.0, 0.5), 0.6, asleep=True)
    assert rooms(replace(crowded, people_at={"sofa": sofa})) == ["bedroom", "kitchen"]
    assert rooms(replace(crowded, people_at={"sofa": replace(sofa, asleep=False)})) == ["bedroom"]
    unnamed = {name: replace(room, use="") for name, room in crowded.rooms.items()}
    assert rooms(replace(crowded, rooms=unnamed)) == ["bedroom", "kitchen"]


DRAUGHT, STRONG = "draught", "strong-air"


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
def test_a_draught_on_a_sleeping_person_is_reported(
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
    found = [one for one in find_hazards(used, state, flow) if one.code in (DRAUGHT, STRONG)]
    assert codes(tuple(found)) == about
    assert all(one.names == ("bed",) for one in found)


def test_muggy_air_into_a_cool_room_is_reported(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    muggy = outdoors(scenario, temperature_c=30.0, relative_humidity=0.8)
    found = find_hazards(house, replace(muggy, placements=()), calm)
    assert codes(found) == {"damp-air"}
    assert found[0].numbers["dew_point_c"] == pytest.approx(26.2, abs=0.05)
    dry = outdoors(scenario, temperature_c=30.0, relative_humidity=0.3)
    assert find_hazards(house, replace(dry, placements=()), calm) == ()


def test_a_placement_elsewhere_needs_no_caution(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    quiet = replace(scenario, placements=(Placement("fan", "kitchen window", "kitchen", setback_m=1.0),))
    assert find_hazards(house, quiet, calm) == ()


def test_a_small_vent_is_no_fall_hazard(house: House, scenario: Scenario) -> None:
    """A hole of 15 cm x 15 cm is smaller than a child's torso (89 mm x 157 mm); a slot of 15 cm x 40 cm is not."""
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    for length, found in ((0.15, set()), (0.40, {"fall"})):
        vent = with_opening(house, "bedroom window", kind="vent", drop_m=6.0, end=(0.0, 3.0 - length), height_m=0.15)
        assert codes(find_hazards(vent, scenario, calm)) == found


def test_a_fan_in_an_open_window_above_a_drop_can_fall(house: House, scenario: Scenario) -> None:
    high = with_opening(house, "kitchen window", drop_m=5.0)
    for changes, falls in (
        ({"setback_m": 0.1}, True),
        ({"sealed": True, "setback_m": 0.0}, True),
        ({"setback_m": 0.8}, False),
    ):
        state = with_placement(scenario, **changes)
        found = find_hazards(high, state, at_pressure(solve_by_hand(high, state), 0.0))
        assert ("fan-fall" in codes(found)) == falls
        assert not codes(found) & NEVER_FIRST  # it can be fastened
    fixed = replace(high, fans={"fan": replace(high.fans["fan"], stays_at="kitchen window")})
    state = with_placement(scenario, sealed=True, setback_m=0.0)
    assert "fan-fall" not in codes(find_hazards(fixed, state, at_pressure(solve_by_hand(fixed, state), 0.0)))


def test_the_door_to_the_stairs_of_the_building_stays_shut(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    flat = with_opening(house, "bedroom window", kind="door", leads_to="stairs", drop_m=9.0)
    found = find_hazards(flat, scenario, calm)
    assert codes(found) == {"fire-door"}  # and no fall down the stairs
    assert codes(found) & NEVER_FIRST
    shut = {**calm.openings, "bedroom window": replace(calm.openings["bedroom window"], free_area_m2=0.0)}
    assert find_hazards(flat, scenario, replace(calm, openings=shut)) == ()


def test_open_doors_and_windows_within_reach_matter_when_unattended(house: House, scenario: Scenario) -> None:
    calm = at_pressure(solve_by_hand(house, scenario), 0.0)
    low = with_opening(with_opening(house, "bedroom window", drop_m=0.9), "kitchen window", drop_m=4.0)
    assert reachable(low, scenario) == ("bedroom window",)
    assert "open-unattended" not in codes(find_hazards(low, scenario, calm))
    (found,) = [h for h in find_hazards(low, scenario, calm, unattended=True) if h.code == "open-unattended"]
    assert found.names == ("bedroom window",)
    ajar = replace(scenario, shares={**scenario.shares, "bedroom window": 0.2})  # 20 cm: nobody fits through
    assert reachable(low, ajar) == ()
    upstairs = replace(house, rooms={n: replace(r, floor_m=6.0) for n, r in house.rooms.items()})
    balcony = with_opening(upstairs, "bedroom window", kind="door", leads_to="balcony", drop_m=0.0)
    assert reachable(balcony, scenario) == ("kitchen window",)  # whose drop the file does not give


def test_a_fan_close_to_a_pillow_is_louder_there_than_at_a_metre(house: House, scenario: Scenario) -> None:
    house = heard(house)
    state = with_placement(scenario, stands_in="bedroom", opening="bedroom window", setback_m=1.0)
    bed = PersonAt("bed", "bedroom", (1.5, 2.5), 0.6, asleep=True)  # half a metre before the fan at (1, 2.5)
    near = pillow_levels_db(replace(house, people_at={"bed": bed}), state)
    assert near["bedroom"] == pytest.approx(52.0 + 6.0, abs=0.1)
