"""What the page changes is changed in the text; everything else in it stays as it was."""

from __future__ import annotations

import difflib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.live.conftest import HOUSE
from ventplan.errors import InputError
from ventplan.house import parse_house
from ventplan.house.units import parse_quantity
from ventplan.live.house_file import HouseFile, added_to_section, removed, removed_with_mentions, renamed
from ventplan.live.scenario_edits import (
    length_text,
    scenario_of,
    state_of,
    temperature_text,
    wind_speed_text,
    with_state,
)
from ventplan.live.session import (
    BreaksScenarios,
    OtherPageChanged,
    Session,
    apply_changes,
    open_session,
    read_draft,
)

EXAMPLES = sorted(Path("house_examples").glob("*.yaml"))


def changed_lines(old: str, new: str) -> list[str]:
    return [line for line in difflib.ndiff(old.splitlines(), new.splitlines()) if line[0] in "+-"]


def test_a_share_changes_its_own_line_only() -> None:
    house = parse_house(HOUSE)
    evening = house.scenarios["evening"]
    text = with_state(HOUSE, house, replace(evening, shares={**evening.shares, "east window": 0.25}))
    assert changed_lines(HOUSE, text) == [
        "-     open: [west window, east window]",
        "+     open: {west window: 100 %, east window: 50 %}",
    ]


def test_what_the_scenario_does_not_change_is_not_written() -> None:
    house = parse_house(HOUSE)
    assert with_state(HOUSE, house, house.scenarios["evening"]) == HOUSE


def test_a_fan_that_moved_changes_only_its_figure() -> None:
    house = parse_house(HOUSE)
    evening = house.scenarios["evening"]
    moved = replace(evening.placements[0], setback_m=2.0)
    text = with_state(HOUSE, house, replace(evening, placements=(moved,)))
    assert text == HOUSE.replace("setback: 1.5 m", "setback: 2 m")


def test_the_last_opening_that_is_shut_again_leaves_no_empty_list() -> None:
    house = parse_house(HOUSE)
    evening = house.scenarios["evening"]
    shares = {**evening.shares, "west window": 0.0, "east window": 0.0}
    text = with_state(HOUSE, house, replace(evening, shares=shares, placements=()))
    assert "open:" not in text.split("scenarios:")[1]
    assert parse_house(text).scenarios["evening"].shares["west window"] == 0.0


def state_changes(house: Any, draw: Any) -> Any:
    scenario = house.scenarios[draw(st.sampled_from(list(house.scenarios)))]
    blown_at = {p.opening for one in house.scenarios.values() for p in one.placements}  # not to be shut under a fan
    movable = [n for n, o in house.openings.items() if o.can_move and o.full_share > 0.0 and n not in blown_at]
    chosen = draw(st.lists(st.sampled_from(movable), max_size=5, unique=True)) if movable else []
    shares = {n: house.openings[n].full_share * draw(st.sampled_from((0.0, 0.25, 0.5, 1.0))) for n in chosen}
    screens = [n for n, o in house.openings.items() if o.screen]
    on = frozenset(draw(st.lists(st.sampled_from(screens), unique=True))) if screens else frozenset()
    outdoors = replace(scenario.outdoors, temperature_c=draw(st.integers(-10, 35)) * 1.0)
    return replace(
        scenario,
        shares={**scenario.shares, **shares},
        screened=on,
        outdoors=replace(outdoors, wind=replace(outdoors.wind, speed_m_s=draw(st.integers(0, 20)) * 0.5)),
        placements=scenario.placements[: draw(st.integers(0, 2))],
    )


@pytest.mark.slow
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
@settings(max_examples=6, deadline=None)
@given(data=st.data())
def test_a_written_state_is_read_back_unchanged(path: Path, data: Any) -> None:
    text = path.read_text("utf-8")
    house = parse_house(text, str(path))
    after = state_changes(house, data.draw)
    again = parse_house(with_state(text, house, after), str(path)).scenarios[after.name]
    assert again.shares == pytest.approx(after.shares, abs=1e-3)
    assert again.screened == after.screened
    assert len(again.placements) == len(after.placements)
    assert again.outdoors.temperature_c == pytest.approx(after.outdoors.temperature_c, abs=0.06)
    assert again.outdoors.wind.speed_m_s == pytest.approx(after.outdoors.wind.speed_m_s, abs=0.03)


def test_the_page_state_and_the_scenario_are_the_same_thing() -> None:
    house = parse_house(HOUSE)
    for name, scenario in house.scenarios.items():
        assert scenario_of(house, name, state_of(scenario)) == scenario


def test_rooms_are_added_one_to_a_line() -> None:
    text = added_to_section("name: x\nrooms:\n\nopenings:\n", "rooms", "living", {"at": ["0 m", "0 m"]})
    text = added_to_section(text, "rooms", "hall", {"at": ["1 m", "0 m"]})
    assert text == "name: x\nrooms:\n  living: {at: [0 m, 0 m]}\n  hall: {at: [1 m, 0 m]}\n\nopenings:\n"
    with pytest.raises(InputError):
        added_to_section(text, "rooms", "hall", {})


@pytest.mark.parametrize(
    ("text", "path", "after"),
    [
        ("a: {b: 1, c: 2}\n", ("a", "b"), "a: {c: 2}\n"),
        ("a: {b: 1, c: 2}\n", ("a", "c"), "a: {b: 1}\n"),
        ("a: [x, y, z]\n", ("a", 1), "a: [x, z]\n"),
        ("a:\n  b: 1   # one\n  c: 2   # two\n", ("a", "b"), "a:\n  c: 2   # two\n"),
        ("a:\n  b: 1\n", ("a", "b"), "a: {}\n"),
        ("a:\n  - {x: 1}\n  - {x: 2}\n", ("a", 0), "a:\n  - {x: 2}\n"),
        ("a: {b: 1}\n", ("a", "z"), "a: {b: 1}\n"),
    ],
)
def test_removing_takes_away_no_more_than_asked(text: str, path: tuple[Any, ...], after: str) -> None:
    assert removed(text, path) == after


def test_a_new_name_is_used_everywhere() -> None:
    text = renamed(HOUSE, "rooms", "living", "parlour")
    house = parse_house(text)
    assert house.openings["middle door"].joins == ("parlour", "bedroom")
    assert text.replace("parlour", "living") == HOUSE
    with pytest.raises(InputError):
        renamed(HOUSE, "rooms", "living", "bedroom")


def test_a_thing_that_goes_takes_its_mentions_along() -> None:
    text = removed_with_mentions(HOUSE, "openings", "west window")
    assert "west window" not in text
    assert parse_house(text).scenarios["evening"].placements == ()
    assert "# both windows" in text


@given(st.floats(-30.0, 30.0))
@example(24.994140625)  # 82 ft to a tenth of an inch
def test_lengths_survive_being_written(value_m: float) -> None:
    assert parse_quantity(length_text(value_m, "si"), "length") == pytest.approx(value_m, abs=6e-4)
    assert parse_quantity(length_text(value_m, "us"), "length") == pytest.approx(value_m, abs=1.3e-3)


@given(st.floats(-40.0, 50.0))
def test_temperatures_and_winds_survive_being_written(value: float) -> None:
    for system in ("si", "us"):
        assert parse_quantity(temperature_text(value, system), "temperature") == pytest.approx(value, abs=0.051)  # type: ignore[arg-type]
        assert parse_quantity(wind_speed_text(abs(value), system), "speed") == pytest.approx(abs(value), abs=0.03)  # type: ignore[arg-type]


def test_an_invalid_change_is_refused_and_one_that_makes_others_invalid_is_accepted(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(HOUSE, "utf-8")
    session = open_session(HouseFile(path))
    bad = [{"path": ["rooms", "living", "ceiling"], "set": "tall"}]
    with pytest.raises(InputError):
        session.change("ceiling", ["rooms > living"], lambda text: apply_changes(text, bad))
    assert session.draft.text == HOUSE
    away = [{"path": ["rooms", "bedroom", "at"], "set": ["7 m", "0 m"]}]
    session.change("move", ["rooms > bedroom"], lambda text: apply_changes(text, away))
    assert [m.key for m in session.draft.errors] == ["openings > middle door > joins"]
    session.step(back=True)
    assert session.draft.text == HOUSE
    assert not session.draft.errors


def test_a_page_that_has_not_seen_the_latest_step_cannot_make_one(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(HOUSE, "utf-8")
    session = open_session(HouseFile(path))
    session.set_text("something", HOUSE + "# more\n")
    with pytest.raises(OtherPageChanged, match=r"Not done: move the bed.*last: something"):
        session.check_revision(1, "move the bed")


LATER = "  later: {based on: evening, fans: [{fan: box fan, blows out: west window, setback: 2 m}]}\n"


def shut_west_window(session: Session, repair: str) -> None:
    house = session.draft.house
    assert house is not None
    evening = house.scenarios["evening"]
    after = replace(evening, shares={**evening.shares, "west window": 0.0}, placements=())

    def make(text: str) -> str:
        now = read_draft(text, session.file.path).house
        assert now is not None
        return with_state(text, now, after)

    session.change("shut west window", ["scenarios > evening"], make, repair=repair)


def test_a_step_that_breaks_another_scenario_is_refused_with_repairs_that_leave_no_error(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(HOUSE + LATER, "utf-8")
    session = open_session(HouseFile(path))
    assert session.draft.house is not None
    later = session.draft.house.scenarios["later"]
    with pytest.raises(BreaksScenarios) as caught:
        shut_west_window(session, "")
    assert session.draft.text == HOUSE + LATER
    assert set(caught.value.repairs) == {"separate", "leave out"}
    for repair in caught.value.repairs:
        shut_west_window(session, repair)
        assert not session.draft.errors
        assert session.draft.house is not None
        assert (session.draft.house.scenarios["later"] == later) == (repair == "separate")
        session.step(back=True)


def test_people_move_with_the_name_of_their_room_and_go_with_it() -> None:
    text = "rooms:\n  den: {at: [0, 0], size: [3, 3]}\n\npeople at:\n  bed: {room: den, at: [1, 1]}\n"
    assert "bed: {room: lounge, at: [1, 1]}" in renamed(text, "rooms", "den", "lounge")
    assert "bed" not in removed_with_mentions(text, "rooms", "den")


def test_the_settings_for_tonight_follow_a_renamed_room_and_drop_a_removed_one() -> None:
    text = HOUSE + "\ntonight: {rooms: [bedroom], keep out: living}\n"
    assert parse_house(renamed(text, "rooms", "living", "parlour")).tonight.keep_out == ("parlour",)
    assert "tonight: {rooms: [bedroom]}" in removed_with_mentions(text, "rooms", "living")


def test_a_fan_fixed_in_a_window_follows_its_new_name_and_stays_without_it() -> None:
    text = HOUSE.replace("desk fan: {like: table 12 in}", "desk fan: {like: table 12 in, stays: east window}")
    assert "stays: sunrise window" in renamed(text, "openings", "east window", "sunrise window")
    assert "desk fan: {like: table 12 in}" in removed_with_mentions(text, "openings", "east window")


def test_what_a_fan_stands_on_goes_along_when_it_is_moved() -> None:
    text = HOUSE.replace("setback: 1.5 m}", "setback: 1.5 m, stands on: chair}")
    house = parse_house(text)
    before = house.scenarios["evening"]
    assert scenario_of(house, "evening", state_of(before)) == before
    state = state_of(before)
    state["fans"][0]["setback_m"] = 1.2
    after = with_state(text, house, scenario_of(house, "evening", state))
    assert "setback: 1.2 m, stands on: chair}" in after
