"""What can be true and hardly is: accepted, and remarked on; and words that people write for the wind."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pydantic_core import PydanticCustomError

from tests.unit.house.test_errors_have_their_place import HOUSE, errors
from ventplan.house import House, parse_house
from ventplan.house.catalogue import fan_specs
from ventplan.show.house_tables import check_view


def changed(old: str, new: str) -> House:
    """The house with a change, and the remarks that the change brings."""
    assert old in HOUSE
    before, house = parse_house(HOUSE).remarks, parse_house(HOUSE.replace(old, new))
    return replace(house, remarks=tuple(remark for remark in house.remarks if remark not in before))


def test_an_odd_thrust_is_a_remark_and_a_usual_one_is_none() -> None:
    assert changed("flow: 0.2 m3/s", "flow: 0.2 m3/s, thrust: 120 gf").remarks == ()
    (remark,) = changed("flow: 0.2 m3/s", "flow: 0.2 m3/s, thrust: 4 N").remarks
    assert "small fan" in remark
    assert "4.1 times the 0.98 N" in remark


def test_every_generic_fan_is_plausible() -> None:
    for name in fan_specs():
        assert changed("like: box 20 in", f"like: {name}").remarks == ()


def test_cold_and_hot_indoor_air_is_remarked_on_once() -> None:
    (remark,) = changed("rooms:\n", "indoors: {temperature: 26 °F}\nrooms:\n").remarks
    assert "−3.3 °C in every room" in remark
    (remark,) = changed("evening: {", "evening: {indoors: {rooms: {bath: 50 °C}}, ").remarks
    assert "50.0 °C in scenario evening" in remark


def test_check_prints_the_remarks() -> None:
    from rich.console import Console

    screen = Console(width=200, record=True, file=None)
    house = changed("rooms:\n", "indoors: {temperature: 26 °F}\nrooms:\n")
    with screen.capture() as printed:
        for part in check_view(house, "si"):
            screen.print(part)
    assert "is the unit right?" in printed.get()


def test_a_decimal_comma_in_braces_is_one_error_only() -> None:
    assert len(errors(HOUSE.replace("flow: 0.2 m3/s", "flow: 900,5 m3/h"))) == 1


def test_a_window_shut_in_a_scenario_with_the_fan_of_another_is_an_error_where_it_is_shut() -> None:
    text = HOUSE + "  later: {based on: evening, shut: [living window]}\n"
    (error,) = errors(text)
    assert error.key == "scenarios > later"
    assert "shut in this scenario" in error.found


@pytest.mark.parametrize(
    ("words", "speed_m_s", "from_deg"),
    [("10 km/h SW", 2.778, 225.0), ("15 km/h west", 4.167, 270.0), ("3 m/s 240 deg", 3.0, 240.0),
     ("8 mph north west", 3.576, 315.0), ("3 m/s from the south-west", 3.0, 225.0)],
)  # fmt: skip
def test_wind_is_read_with_and_without_from(words: str, speed_m_s: float, from_deg: float) -> None:
    wind = changed("rooms:\n", f"outdoors: {{wind: {words}}}\nrooms:\n").first_scenario().outdoors.wind
    assert wind.speed_m_s == pytest.approx(speed_m_s, abs=1e-3)
    assert wind.from_deg == from_deg


@pytest.mark.parametrize("words", ["10 m/s", "7 240", "SW"])
def test_wind_without_unit_or_bearing_is_refused(words: str) -> None:
    (error,) = errors(HOUSE.replace("rooms:\n", f"outdoors: {{wind: {words}}}\nrooms:\n"))
    assert "3 m/s south-west" in error.allowed


@pytest.mark.parametrize("kind", ["vent", "passage"])
def test_a_plain_hole_moves_only_where_the_file_names_its_sash_or_shuts_it(kind: str) -> None:
    plain = f"  hole: {{kind: {kind}, joins: [hall, outdoors], wall: east, along: 1 m, size: [0.3 m, 0.2 m]"

    def moves(more: str) -> bool:
        return changed("fans:\n", f"{plain}{more}}}\nfans:\n").openings["hole"].can_move

    assert not moves("")
    assert moves(", sash: louvre")
    assert moves(", open: no")


def test_outdoor_air_that_hardly_any_place_has_is_remarked_on() -> None:
    (remark,) = changed("rooms:\n", "outdoors: {temperature: 55}\nrooms:\n").remarks
    assert "is it 55 °F" in remark
    assert changed("rooms:\n", "outdoors: {temperature: 44}\nrooms:\n").remarks == ()


def test_a_share_in_per_cent_is_not_guessed_to_be_another_in_per_cent() -> None:
    from ventplan.house.fields import Amount, to_amount

    with pytest.raises(PydanticCustomError) as plain:
        to_amount("1.5")
    with pytest.raises(PydanticCustomError) as said:
        to_amount("150 %")
    assert "Is it 1.5 %?" in str(plain.value.context)
    assert said.value.context == {"found": "150 %", "allowed": "from 0 % to 100 %", "hint": ""}
    assert to_amount("15 %") == Amount("share", 0.15)
