"""What a house file says for advice: what fans can do, where they stand, what openings lead to, and what is wanted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.house.test_errors_have_their_place import HOUSE, errors
from ventplan.house import House, parse_house
from ventplan.house.catalogue import fan_specs
from ventplan.house.fan_pose import fan_pose, pose_problem
from ventplan.house.geometry import free_rectangle


def changed(*pairs: tuple[str, str]) -> House:
    text = HOUSE
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return parse_house(text)


def refused(*pairs: tuple[str, str]) -> str:
    text = HOUSE
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return " / ".join(map(str, errors(text)))


def axis_height(house: House) -> float:
    scenario = house.scenarios["evening"]
    (placement,) = scenario.placements
    return fan_pose(house, placement, scenario.shares[placement.opening]).height_m


def test_fans_tilt_as_their_kind_does() -> None:
    tilts = {name: spec.tilts for name, spec in fan_specs().items()}
    assert tilts["box 20 in"] == tilts["tower 40 in"] == tilts["twin window 9 in"] == (0.0, 0.0)
    assert tilts["pedestal 16 in"] == (-10.0, 20.0)
    assert all(spec.axis for spec in fan_specs().values())
    house = changed(("diameter: 25 cm", "diameter: 25 cm, tilts: [-5 deg, 30 deg]"))
    assert house.fans["small fan"].tilt_range_deg == (-5.0, 30.0)
    assert house.fans["box fan"].tilt_range_deg == (0.0, 0.0)


def test_a_tilt_beyond_the_stated_range_is_an_error_and_beyond_a_typical_one_a_remark() -> None:
    tilted = ("setback: 1.5 m", "setback: 1.5 m, tilt: 10 deg")
    remark = changed(tilted).remarks[0]
    assert "box fan is tilted by 10 deg" in remark
    assert "no tilt" in refused(tilted, ("like: box 20 in", "like: box 20 in, tilts: no"))


@pytest.mark.parametrize("tilts", ["yes", "30 deg", "[20 deg, -10 deg]", "[0, 120 deg]", "[1, 2, 3]", "[a, b]"])
def test_a_range_of_tilt_is_no_or_two_angles(tilts: str) -> None:
    assert "[-10 deg, 30 deg]" in refused(("diameter: 25 cm", f"diameter: 25 cm, tilts: {tilts}"))


def test_a_fan_on_something_has_its_axis_that_much_higher() -> None:
    def height(on: str) -> float:
        house = changed(("setback: 1.5 m", f"setback: 1.5 m, stands on: {on}"))
        return axis_height(house)

    assert height("floor") == pytest.approx(0.27)
    assert height("chair") == pytest.approx(0.72)
    assert height("table") == pytest.approx(1.02)
    assert height("0.6 m") == pytest.approx(0.87)


def test_a_fan_stands_on_a_desk_that_can_hold_it_and_on_no_other_obstacle() -> None:
    where = ("setback: 1.5 m", "setback: 3.5 m, stands on: sofa")
    assert "holds fan: yes" in refused(where)
    house = changed(where, ("height: 0.8 m}", "height: 0.8 m, holds fan: yes}"))
    assert axis_height(house) == pytest.approx(1.07)
    off = pose_problem(house, fan_pose(house, replace(house.scenarios["evening"].placements[0], aside_m=1.2), 0.5))
    assert off is not None
    assert off.reason == "off its support"
    assert "sofa" in refused(("setback: 1.5 m", "setback: 3.5 m"))


def test_surfaces_of_ones_own_replace_the_usual_ones() -> None:
    assert changed(("rooms:\n", "rooms:\n")).surfaces == {"chair": 0.45, "table": 0.75}
    house = changed(("rooms:\n", "surfaces: {stool: 60 cm}\nrooms:\n"))
    assert house.surfaces == {"stool": 0.6}
    assert changed(("rooms:\n", "surfaces: none\nrooms:\n")).surfaces == {}
    stands = ("setback: 1.5 m", "setback: 1.5 m, stands on: stol")
    assert "Did you mean stool?" in refused(("rooms:\n", "surfaces: {stool: 60 cm}\nrooms:\n"), stands)


def test_a_sill_holds_a_fan_close_to_its_window_only() -> None:
    assert "at most 0.3 m" in refused(("setback: 1.5 m", "setback: 1.5 m, stands on: sill"))
    house = changed(("setback: 1.5 m", "setback: 0.1 m, stands on: sill"))
    assert axis_height(house) == pytest.approx(0.9 + 0.27)


VENT = (
    "fans:\n",
    "  gable vent: {kind: vent, joins: [loft, outdoors], wall: west, along: 1 m, size: [0.6 m, 0.6 m]}\nfans:\n"
    "  attic fan: {flow: 0.4 m3/s, diameter: 40 cm, stays: gable vent}\n",
)


def test_a_fan_that_stays_is_sealed_where_it_stays_and_nowhere_else() -> None:
    house = changed(VENT)
    assert house.fans["attic fan"].stays_at == "gable vent"
    assert house.fans["attic fan"].can_seal
    house = changed(VENT, ("setback: 1.5 m}", "setback: 1.5 m}, {fan: attic fan, blows out: gable vent}"))
    assert house.scenarios["evening"].placements[1].sealed
    away = ("fan: box fan, blows", "fan: attic fan, blows")
    assert "gable vent, where attic fan stays" in refused(VENT, away)
    text = HOUSE.replace(*VENT).replace("stays: gable vent", "stays: gable vent, tilts: no")
    assert "Leave" in str(errors(text)[0]) or "leave" in str(errors(text)[0])
    text = HOUSE.replace(*VENT).replace("diameter: 40 cm", "diameter: 80 cm")
    assert "at least as wide" in str(errors(text)[0])


def test_what_an_opening_leads_to_and_what_stays_shut() -> None:
    house = changed(
        ("wall: south, along: 0.1 m", "wall: south, leads to: stairwell, keep: shut, along: 0.1 m"),
        ("hall: {at: [5 m, 0 m], size: [1.2 m, 6 m]}", "hall: {at: [5 m, 0 m], size: [1.2 m, 6 m], floor: 0.2 m}"),
    )
    door = house.openings["front door"]
    assert (door.leads_to, door.keep, door.drop_m) == ("stairs", "shut", 0.0)
    assert "balcony" in refused(("wall: south, along: 0.1 m", "wall: south, leads to: garden, along: 0.1 m"))
    assert "only for an opening to outdoors" in refused(("along: 2 m, size: [0.8", "leads to: stairs, size: [0.8"))


def test_the_half_that_opens_is_the_one_that_a_person_in_the_room_sees() -> None:
    def middle(opens: str) -> float:
        opening = changed(("screen: fine", f"{opens}screen: fine")).openings["living window"]
        return free_rectangle(opening, 0.5).y

    # The window is in the west wall: a person who faces it has south to the left.
    assert middle("") == middle("opens: left, ") == middle("opens: south, ") == pytest.approx(1.3)
    assert middle("opens: right, ") == middle("opens: north, ") == pytest.approx(1.9)
    assert "south or north" in refused(("screen: fine", "opens: west, screen: fine"))
    assert "opens for the sash none" in refused(("screen: fine", "sash: none, opens: left, screen: fine"))


@pytest.mark.parametrize(
    ("said", "kind", "sash"),
    [
        ("kind: casement", "window", "side hinged"),
        ("kind: window, sash: casement", "window", "side hinged"),
        ("kind: window, sash: Double-Hung", "window", "hung"),
        ("kind: sash window", "window", "hung"),
        ("kind: transom", "window", "bottom hinged"),
        ("kind: transom, sash: top hinged", "window", "top hinged"),
        ("kind: French door, sill: 0", "door", "hinged door"),
    ],
)
def test_words_of_the_trade_are_read(said: str, kind: str, sash: str) -> None:
    opening = changed(("kind: window", said)).openings["living window"]
    assert (opening.kind, opening.sash) == (kind, sash)


def test_tilt_and_turn_is_answered_with_the_two_sashes_it_can_be() -> None:
    assert "bottom hinged where it is tilted" in refused(("kind: window", "kind: window, sash: tilt and turn"))


def test_indoors_may_be_a_temperature_alone() -> None:
    house = changed(("rooms:\n", "indoors: 27 °C\nrooms:\n"), ("evening: {", "evening: {indoors: 29 °C, "))
    assert house.rooms["hall"].temperature_c == 27.0
    assert house.scenarios["evening"].temperatures_c["hall"] == 29.0


def test_tonight_is_read_with_its_defaults() -> None:
    night = changed(
        ("rooms:\n", "tonight: {bedtime: 10:45 pm, waking: 6:30, high: 31 °C, low: 17 °C, rooms: living}\nrooms:\n")
    ).tonight
    assert (night.bedtime_h, night.waking_h, night.high_c, night.low_c) == (22.75, 6.5, 31.0, 17.0)
    assert (night.rooms, night.quiet_db, night.noise_db, night.keep_out) == (("living",), 40.0, None, ())
    assert parse_house(HOUSE).tonight.bedtime_h == 22.5
    for wrong, word in (
        ("bedtime: 25:00", "22:30"),
        ("high: 10, low: 20", "below the low"),
        ("rooms: [attic]", "attic"),
    ):
        assert word in refused(("rooms:\n", f"tonight: {{{wrong}}}\nrooms:\n"))
