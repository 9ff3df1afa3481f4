"""Wind and stack at a house: outlines, roofs, shafts, leaks, and what a room with one window gets."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ventplan.errors import InputError, NoAnswerError
from ventplan.house import parse_house
from ventplan.house.records import House, Placement
from ventplan.network import Flow, solve
from ventplan.network.weather import (
    COURT,
    exposure_of,
    local_wind_speed,
    outlines,
    wall_leaks,
    wind_pressures,
)
from ventplan.physics import air, wind

L_SHAPE = """
outdoors: {temperature: 20, wind: {speed: 4, from: west}, terrain: open}
rooms:
  long: {at: [0, 0], size: [12, 4]}
  wing: {at: [0, 4], size: [4, 5]}
  upper: {at: [0, 0], size: [6, 4], floor: 2.7}
  shed: {at: [20, 0], size: [2, 2]}
openings:
  south: {kind: window, joins: [long, outdoors], wall: south, along: 1, size: [1, 1]}
  east of wing: {kind: window, joins: [wing, outdoors], wall: east, along: 1, size: [1, 1]}
  upstairs: {kind: window, joins: [upper, outdoors], wall: south, along: 1, size: [1, 1]}
  shed window: {kind: window, joins: [shed, outdoors], wall: south, along: 0.5, size: [1, 1]}
"""

COURTYARD = """
outdoors: {temperature: 20, wind: {speed: 4, from: 200 deg}, terrain: open}
indoors: {temperature: 20}
rooms:
  south: {at: [0, 0], size: [10, 3]}
  north: {at: [0, 7], size: [10, 3]}
  west: {at: [0, 3], size: [3, 4]}
  east: {at: [7, 3], size: [3, 4]}
openings:
  to court: {kind: window, joins: [south, outdoors], wall: north, along: 4.5, size: [1, 1], open: yes}
  from court: {kind: window, joins: [north, outdoors], wall: south, along: 4.5, size: [1, 1], open: yes}
  outer: {kind: window, joins: [south, outdoors], wall: south, along: 1, size: [1, 1], open: yes}
"""

ROOM = """
outdoors: {{temperature: {outdoors}, wind: {{speed: {speed}, from: {bearing}}}, terrain: suburb}}
indoors: {{temperature: {indoors}}}
rooms: {{room: {{at: [0, 0], size: [6, 4], ceiling: 2.5}}}}
openings:
  west window: {{kind: window, joins: [room, outdoors], wall: west, size: [1.2, 1.2], {west}}}
  east window: {{kind: window, joins: [room, outdoors], wall: east, size: [1.2, 1.2], {east}}}
fans:
  fan: {{flow: 0.4, thrust: 2 N, diameter: 0.4, spread: 0.14, seals: yes, pressure: 25 Pa}}
"""


def room(
    *,
    outdoors: float = 20.0,
    indoors: float = 20.0,
    speed: float = 0.0,
    bearing: float = 270.0,
    west: str = "open: yes",
    east: str = "open: yes",
) -> House:
    return parse_house(
        ROOM.format(outdoors=outdoors, indoors=indoors, speed=speed, bearing=f"{bearing} deg", west=west, east=east)
    )


def side_ratio(house: House, opening: str) -> float:
    return exposure_of(outlines(house), house.openings[opening]).side_ratio


def test_side_ratio_of_an_l_shape_is_that_of_the_whole_storey() -> None:
    house = parse_house(L_SHAPE)
    assert side_ratio(house, "south") == pytest.approx(12.0 / 9.0)
    assert side_ratio(house, "east of wing") == pytest.approx(9.0 / 12.0)


def test_upper_storey_and_a_building_apart_have_side_ratios_of_their_own() -> None:
    house = parse_house(L_SHAPE)
    assert side_ratio(house, "upstairs") == pytest.approx(6.0 / 4.0)
    assert side_ratio(house, "shed window") == pytest.approx(1.0)


def test_a_wall_in_the_corner_of_an_l_shape_is_no_court() -> None:
    house = parse_house(L_SHAPE)
    assert not exposure_of(outlines(house), house.openings["east of wing"]).in_court


def test_every_wall_of_a_court_has_one_pressure_whatever_the_wind() -> None:
    house = parse_house(COURTYARD)
    for bearing in (0.0, 90.0, 200.0):
        scenario = house.first_scenario()
        outdoors = replace(scenario.outdoors, wind=replace(scenario.outdoors.wind, from_deg=bearing))
        pressures = wind_pressures(house, replace(scenario, outdoors=outdoors))
        assert pressures["to court"] == pressures["from court"] < 0.0
    assert pressures["to court"] / COURT == pytest.approx(1.2 * local_wind_speed(house, scenario) ** 2 / 2, rel=0.01)


def test_own_pressure_coefficient_replaces_the_correlation() -> None:
    plain, own = room(speed=5.0), room(speed=5.0, west="open: yes, wind pressure: -1.1")
    ratio = wind_pressures(own, own.first_scenario())["west window"]
    ratio /= wind_pressures(plain, plain.first_scenario())["west window"]
    coefficient = wind.wall_pressure_coefficient(wind_angle_deg=0.0, side_ratio=4.0 / 6.0)
    assert ratio == pytest.approx(-1.1 / float(coefficient))


def roofed(bearing: float, more: str) -> tuple[House, float]:
    house = parse_house(
        f"north: 90 deg\nroof pitch: 45 deg\noutdoors: {{temperature: 20, wind: {{speed: 4, from: {bearing} deg}}}}\n"
        "rooms: {attic: {at: [0, 0], size: [6, 4]}}\nopenings:\n"
        f"  pane: {{kind: roof window, joins: [attic, outdoors], at: [1, 1], size: [1, 1], open: yes{more}}}\n"
    )
    return house, wind_pressures(house, house.first_scenario())["pane"]


def test_steep_roof_window_is_pushed_in_by_wind_up_its_slope_and_sucked_by_all_other_wind() -> None:
    # The top of the plan faces east, so a slope to the south of the plan faces west.
    _, windward = roofed(270.0, ", faces: south")
    _, lee = roofed(90.0, ", faces: south")
    _, across = roofed(0.0, ", faces: south")
    _, unsaid = roofed(270.0, "")
    assert windward > 0.0 > lee
    assert across == pytest.approx(unsaid)


def test_own_pitch_of_a_roof_window_replaces_that_of_the_house() -> None:
    _, flat = roofed(270.0, ", faces: south, pitch: 5 deg")
    assert flat < 0.0


def test_warm_air_leaves_and_cold_air_enters_one_pitched_roof_window() -> None:
    house, _ = roofed(270.0, ", faces: south")
    scenario = house.first_scenario()
    calm = replace(scenario.outdoors, temperature_c=5.0, wind=replace(scenario.outdoors.wind, speed_m_s=0.0))
    pane = solve(house, replace(scenario, outdoors=calm)).openings["pane"]
    assert pane.forward_m3_s > 0.02
    assert pane.backward_m3_s > 0.02


CHIMNEY = """
outdoors: {{temperature: {outdoors}, wind: {{speed: {speed}, from: west}}}}
indoors: {{temperature: 20}}
rooms: {{room: {{at: [0, 0], size: [6, 4], ceiling: 2.5}}}}
openings:
  hole: {{kind: vent, joins: [room, outdoors], wall: west, size: [1, 0.4], wind pressure: 0}}
  chimney: {{kind: shaft, joins: [room, outdoors], at: [3, 2], size: [0.25, 0.25], level: 0.5, {more}}}
"""


def drawn(more: str, outdoors: float = 0.0, speed: float = 0.0) -> float:
    return solve(parse_house(CHIMNEY.format(outdoors=outdoors, speed=speed, more=more))).openings["chimney"].net_m3_s


def test_chimney_draws_with_the_root_of_its_height() -> None:
    # Friction of the longer shaft out of the way by a stated discharge coefficient; heights count from the hole.
    short, tall = drawn("top: 6.0, discharge: 0.5"), drawn("top: 18.0, discharge: 0.5")
    assert tall / short == pytest.approx(((18.0 - 2.0) / (6.0 - 2.0)) ** 0.5, rel=0.01)


def test_chimney_draws_more_with_a_warm_column_less_with_bends_and_more_with_wind_over_its_top() -> None:
    plain = drawn("top: 8")
    assert drawn("top: 8, column: 60 °C") > 1.3 * plain
    assert drawn("top: 8, loss: 4") < 0.8 * plain
    assert drawn("top: 8", speed=6.0) > 1.1 * plain


def test_chimney_of_a_cool_house_draws_downwards_in_summer() -> None:
    assert drawn("top: 8", outdoors=32.0) < -0.01


def test_top_of_a_shaft_must_be_above_its_lower_end_and_belongs_to_shafts() -> None:
    with pytest.raises(InputError, match="above its lower end"):
        drawn("top: 0.2")
    with pytest.raises(InputError, match="only for a shaft"):
        room(west="open: yes, top: 5")
    with pytest.raises(InputError, match="only for a roof window"):
        room(west="open: yes, faces: south")


def test_leaking_walls_see_the_wind_of_the_side_they_face() -> None:
    house = parse_house(L_SHAPE + "leakage: {ach50: 8}\n")
    shares = wall_leaks(house, house.first_scenario())
    assert all(sum(share for share, _ in walls) == pytest.approx(1.0) for walls in shares.values())
    pressures = {round(pressure, 3) for _, pressure in shares["long"]}
    assert min(pressures) < 0.0 < max(pressures)
    flow = solve(house)
    assert flow.rooms["long"].outdoor_m3_s > 1e-3


def fan_flow(bearing: float, speed: float, *, sealed: bool = False) -> float:
    house = room(speed=speed, bearing=bearing)
    blowing = Placement("fan", "west window", "room", 0.0 if sealed else 0.8, sealed=sealed)
    return solve(house, replace(house.first_scenario(), placements=(blowing,))).fans[0].driven_m3_s


@pytest.mark.parametrize("sealed", [False, True])
def test_fan_blows_out_less_against_the_wind_and_more_with_it(sealed: bool) -> None:
    against, calm, along = (fan_flow(b, s, sealed=sealed) for b, s in ((270.0, 5.0), (270.0, 0.0), (90.0, 5.0)))
    assert against < calm < along


def total_exchange(flow: Flow) -> float:
    return flow.rooms["room"].direct_air_change_per_h


def test_room_with_one_open_window_has_an_air_change_and_two_on_one_side_count_both() -> None:
    one = solve(room(speed=4.0, east="open: no"))
    assert total_exchange(one) > 3.0
    text = ROOM.format(
        outdoors=20, indoors=20, speed=4, bearing="270 deg", west="along: 0.2, open: yes", east="open: no"
    )
    second = "  second: {kind: window, joins: [room, outdoors], wall: west, along: 2.2, size: [1.2, 1.2], open: yes}\n"
    two = solve(parse_house(text.replace("fans:", second + "fans:")))
    assert total_exchange(two) == pytest.approx(2.0 * total_exchange(one), rel=0.02)


def test_heavier_air_above_a_hatch_exchanges_with_that_below_and_lighter_air_does_not() -> None:
    def swapped(above_c: float) -> float:
        house = parse_house(
            "outdoors: {temperature: 15, wind: calm}\nrooms:\n"
            "  below: {at: [0, 0], size: [5, 5], temperature: 22}\n"
            f"  above: {{at: [0, 0], size: [5, 5], floor: 2.7, temperature: {above_c}}}\nopenings:\n"
            "  hatch: {kind: hatch, joins: [below, above], at: [2, 2], size: [1, 1], open: yes}\n"
            "  pane: {kind: window, joins: [below, outdoors], wall: west, size: [1, 1]}\n"
        )
        return solve(house).openings["hatch"].exchange_m3_s

    assert swapped(18.0) > 0.01
    assert swapped(26.0) == 0.0


def test_parts_of_wind_stack_and_fan_add_up_to_the_net_flow() -> None:
    house = room(speed=4.0, outdoors=5.0)
    blowing = Placement("fan", "west window", "room", 0.8)
    flow = solve(house, replace(house.first_scenario(), placements=(blowing,)))
    inside, outside = (float(air.density(temperature_c=t)) for t in (20.0, 5.0))
    for opening in flow.openings.values():
        parts = opening.wind_m3_s + opening.stack_m3_s + opening.fan_m3_s
        carried = inside if opening.net_kg_s > 0.0 else outside
        assert parts * carried == pytest.approx(opening.net_kg_s, abs=1e-9)
    assert flow.openings["west window"].wind_m3_s < 0.0 < flow.openings["west window"].fan_m3_s


@pytest.mark.parametrize(
    ("outdoors", "speed"), [(-40.0, 40.0), (-40.0, 0.0), (45.0, 40.0), (20.0, 0.0), (20.0, 1e-9), (50.0, 60.0)]
)
@pytest.mark.parametrize("state", ["open: yes", "open: no"])
def test_extreme_weather_has_an_answer_that_balances(outdoors: float, speed: float, state: str) -> None:
    flow = solve(room(outdoors=outdoors, speed=speed, west=state, east=state))
    assert flow.imbalance_kg_s < 1e-8
    assert all(abs(opening.net_m3_s) < 60.0 for opening in flow.openings.values())


def test_house_without_a_path_for_air_is_an_error() -> None:
    house = parse_house(
        "rooms: {one: {at: [0, 0], size: [3, 3]}, two: {at: [3, 0], size: [3, 3]}}\n"
        "openings: {door: {kind: door, joins: [one, two], size: [0.8, 2]}}\n"
    )
    with pytest.raises(NoAnswerError, match="open a window"):
        solve(house)


def test_high_house_has_lighter_air() -> None:
    low = room(speed=5.0)
    scenario = low.first_scenario()
    high = replace(scenario, outdoors=replace(scenario.outdoors, altitude_m=3000.0))
    ratio = wind_pressures(low, high)["west window"] / wind_pressures(low, scenario)["west window"]
    # US Standard Atmosphere 1976: 70.1 kPa at 3000 m; the temperature is the same here.
    assert ratio == pytest.approx(70.1 / 101.3, rel=0.002)
