"""On the page: a house is drawn from nothing, pulled about, saved, and never lost."""

from __future__ import annotations

from typing import Any

import pytest

from ventplan.house import read_house


def draw_mode(user: Any) -> None:
    user.page.locator("label", has_text="Draw walls").click()


def draw_room(user: Any, low: tuple[float, float], high: tuple[float, float]) -> None:
    user.page.locator("button[data-tool=room]").click()
    user.drag(user.on_plan(*low), user.on_plan(*high))


@pytest.mark.slow
def test_a_house_drawn_from_nothing_can_be_read_and_solved(from_nothing: Any, user: Any) -> None:
    user.page.goto(from_nothing.address(""))
    user.page.wait_for_selector("body[data-ready=yes]")
    draw_room(user, (1.0, 1.0), (5.03, 4.02))
    user.until("document.querySelectorAll('#plan [data-kind=room]').length === 1")
    draw_room(user, (5.1, 1.1), (8.0, 3.9))
    user.until("document.querySelectorAll('#plan [data-kind=room]').length === 2")
    rooms = from_nothing.session.draft.house.rooms
    assert rooms["room"].corners[2] == (5.0, 4.0)
    assert rooms["room 2"].corners[0] == (5.0, 1.0), "a new room snaps to its neighbour's walls"
    user.page.locator("button[data-tool=window]").click()
    user.click(user.on_plan(1.0, 2.5))
    user.until("document.querySelectorAll('#plan [data-kind=opening]').length === 1")
    user.page.locator("button[data-tool=door]").click()
    user.click(user.on_plan(5.0, 2.5))
    user.until("document.querySelectorAll('#plan [data-kind=opening]').length === 2")
    user.page.locator("button[data-tool=window]").click()
    user.click(user.on_plan(8.0, 2.5))
    user.until("document.querySelectorAll('#plan [data-kind=opening]').length === 3")
    user.page.keyboard.press("Control+s")
    user.until("!document.querySelector('#file-state').textContent.includes('not saved')")
    house = read_house(from_nothing.path)
    assert list(house.openings) == ["room window", "room to room 2", "room 2 window"]
    assert house.openings["room to room 2"].joins == ("room", "room 2")
    assert house.openings["room window"].joins == ("room", "outdoors")


def test_a_room_is_pulled_by_its_edge_and_moved(served: Any, user: Any) -> None:
    user.open(served.address())
    draw_mode(user)
    user.click(user.middle("room", "bedroom"))
    handle = user.page.locator('#plan rect[data-pull="edge 2"]').bounding_box()
    spot = handle["x"] + handle["width"] / 2, handle["y"] + handle["height"] / 2
    user.drag(spot, user.on_plan(7.0, 5.02))
    user.until("document.querySelector('#undo').title.includes('change bedroom')")
    assert served.session.draft.house.rooms["bedroom"].corners[2] == (9.0, 5.0)
    assert "# the big one" in served.session.draft.text


def test_an_opening_slides_along_its_wall_and_stops_at_its_end(served: Any, user: Any) -> None:
    user.open(served.address())
    draw_mode(user)
    user.drag(user.on_plan(0.0, 2.0), user.on_plan(0.1, 5.5))
    user.until("document.querySelector('#undo').title.includes('move west window')")
    window = served.session.draft.house.openings["west window"]
    assert max(window.start[1], window.end[1]) == pytest.approx(4.0)
    assert not served.session.draft.errors


def test_an_error_that_a_step_causes_elsewhere_is_shown_at_that_thing(served: Any, user: Any) -> None:
    user.open(served.address())
    draw_mode(user)
    user.click(user.middle("room", "bedroom"))
    user.drag(user.middle("room", "bedroom"), user.on_plan(8.5, 2.0))
    user.page.wait_for_selector("#errors li")
    assert "middle door" in user.page.inner_text("#errors")
    assert "share no wall" in user.page.inner_text("#errors")
    user.page.keyboard.press("Control+z")
    user.until("document.querySelector('#errors').hidden")
    assert served.session.draft.house.openings["middle door"]


def test_an_invalid_length_is_refused_at_its_field(served: Any, user: Any) -> None:
    user.open(served.address())
    draw_mode(user)
    user.click(user.middle("room", "living"))
    field = user.page.locator("#thing [data-field=ceiling]")
    field.fill("high")
    field.press("Enter")
    user.page.wait_for_selector("#thing .error")
    assert user.page.locator("#thing [data-field=ceiling]").get_attribute("aria-invalid") == "true"
    assert "high" not in served.session.draft.text


def test_names_change_wherever_they_are_used_and_things_go_with_all_that_names_them(served: Any, user: Any) -> None:
    user.open(served.address())
    draw_mode(user)
    user.page.locator("#table-openings").get_by_role("button", name="west window").click()
    field = user.page.locator("#thing [data-field=name]")
    field.fill("sunset window")
    field.press("Enter")
    user.until("document.querySelector('#thing h2')?.textContent.startsWith('sunset window')")
    house = served.session.draft.house
    assert house.scenarios["evening"].placements[0].opening == "sunset window"
    assert "open: [sunset window, east window]" in served.session.draft.text
    user.page.get_by_role("button", name="Remove").click()
    user.until("!document.querySelector('#plan [data-name=\"sunset window\"]')")
    assert "sunset" not in served.session.draft.text
    assert not served.session.draft.errors


def test_steps_are_undone_and_redone(served: Any, user: Any) -> None:
    user.open(served.address())
    text = served.session.draft.text
    user.click(user.middle("opening", "east window"))
    user.until("!document.querySelector('#undo').disabled")
    changed = served.session.draft.text
    user.page.locator("#undo").click()
    user.until("document.querySelector('#undo').disabled")
    assert served.session.draft.text == text
    user.page.keyboard.press("Control+Shift+Z")
    user.until("document.querySelector('#redo').disabled")
    assert served.session.draft.text == changed


def test_saving_keeps_comments_and_order_and_loading_reads_the_file_again(served: Any, user: Any) -> None:
    user.open(served.address())
    old = served.text()
    user.click(user.middle("opening", "east window"))
    user.until("!document.querySelector('#save').disabled")
    user.page.locator("#save").click()
    user.until("document.querySelector('#save').disabled")
    new = served.text()
    assert [line for line in old.splitlines() if line not in new.splitlines()] == [
        "    open: [west window, east window]"
    ]
    served.path.write_text(old.replace("Page house", "Other name"), "utf-8")
    user.page.locator("#load").click()
    user.until("document.querySelector('#house-name').textContent === 'Other name'")


@pytest.mark.slow
def test_a_reload_and_a_new_start_bring_unsaved_work_back(served: Any, user: Any) -> None:
    user.open(served.address())
    user.click(user.middle("opening", "east window"))
    user.until("!document.querySelector('#save').disabled")
    changed = served.session.draft.text
    user.page.locator("#scenario").select_option("shut up")
    user.page.reload()
    user.page.wait_for_selector("body[data-ready=yes]")
    assert served.session.draft.text == changed
    assert user.page.input_value("#scenario") == "shut up", "a reload keeps the scenario in hand"
    served.start_again()
    assert served.session.draft.text != changed
    user.page.reload()
    user.page.wait_for_selector("#notice-draft")
    assert served.session.draft.text == changed
    assert "is back" in user.page.inner_text("#notice-draft")
    assert served.text() != changed, "only saving writes the file"


def test_a_reload_right_after_a_slider_loses_nothing(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.locator("#slide-wind").fill("9")
    user.page.reload()
    user.page.wait_for_selector("body[data-ready=yes]")
    user.until("document.querySelector('#undo').title.includes('wind')")
    assert served.session.draft.house.scenarios["evening"].outdoors.wind.speed_m_s == 9.0


def test_saving_right_after_a_slider_saves_it_too(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.locator("#slide-wind").fill("9")
    user.page.keyboard.press("Control+s")
    user.until("document.querySelector('#undo').title.includes('wind') && document.querySelector('#save').disabled")
    assert "speed: 9 m/s" in served.text()


def test_newer_changes_on_disk_are_not_overwritten_without_asking(served: Any, user: Any) -> None:
    user.open(served.address())
    user.click(user.middle("opening", "east window"))
    user.until("!document.querySelector('#save').disabled")
    other = served.text().replace("# the big one", "# changed by another program")
    served.path.write_text(other, "utf-8")
    user.page.locator("#save").click()
    user.page.wait_for_selector("dialog[open]")
    assert served.text() == other
    words = user.page.inner_text("dialog")
    assert "Load the file" in words
    assert "is lost" in words
    user.page.get_by_role("button", name="Load the file").click()
    user.until("document.querySelector('#text').textContent.includes('changed by another program')")
    user.page.locator("#undo").click()
    user.until("document.querySelector('#text').textContent.includes('# the big one')")
    user.page.locator("#save").click()
    user.until("document.querySelector('#save').disabled")
    assert "# the big one" in served.text()


def test_errors_of_a_file_are_shown_at_their_thing_with_their_line(served: Any, user: Any) -> None:
    served.path.write_text(served.text().replace("along: 1.5 m", "along: 9 m"), "utf-8")
    served.start_again()
    user.open(served.address())
    words = user.page.inner_text("#errors")
    assert "openings > middle door > along" in words
    assert "(line 11)" in words
    assert user.page.locator("#plan [data-kind=room]").count() == 2, "what is right is drawn"


def test_a_file_that_is_not_yaml_is_explained_and_loaded_once_it_is_repaired(served: Any, user: Any) -> None:
    good = served.text()
    served.path.write_text("rooms: {living: [", "utf-8")
    served.start_again()
    user.page.goto(served.address())
    user.page.wait_for_selector("#errors li")
    served.path.write_text(good, "utf-8")
    user.page.locator("#load").click()
    user.until("document.querySelectorAll('#plan [data-kind=room]').length === 2")


def test_a_file_broken_on_disk_keeps_the_last_plan_and_says_what_is_wrong(served: Any, user: Any) -> None:
    user.open(served.address())
    good = served.text()
    served.path.write_text(good.replace("rooms:", "rooms: {living: ["), "utf-8")
    user.page.locator("#load").click()
    user.page.wait_for_selector("#notice-older")
    assert "(line" in user.page.inner_text("#errors")
    assert user.page.locator("#plan [data-kind=room]").count() == 2
    user.until("document.querySelector('#table-rooms tr[data-name=living] td').textContent.includes('/h')")
    user.page.locator("#notice-older").get_by_role("button", name="Undo").click()
    user.until("document.querySelector('#errors').hidden && !document.querySelector('#redo').disabled")
    assert user.page.locator("#notice-older").count() == 0
    assert served.session.draft.text == good


@pytest.mark.parametrize("choice", ["keep later as it is", "take out of later", "Leave everything as it was"])
def test_a_step_that_would_break_another_scenario_asks_first(served: Any, user: Any, choice: str) -> None:
    later = "  later: {based on: evening, fans: [{fan: box fan, blows out: west window, setback: 2 m}]}\n"
    served.path.write_text(served.text() + later, "utf-8")
    served.start_again()
    user.open(served.address())
    before = served.session.draft.house.scenarios["later"]
    user.click(user.on_plan(0.0, 1.6))
    user.page.locator("#notice-held").get_by_role("button", name="Take box fan away and shut it").click()
    user.page.wait_for_selector("dialog[open]")
    assert "would break later" in user.page.inner_text("dialog")
    assert "which is shut in this scenario" in user.page.inner_text("dialog")
    user.page.locator("dialog").get_by_role("button", name=choice).click()
    user.until("!document.querySelector('dialog').open")
    if choice.startswith("Leave"):
        user.page.wait_for_timeout(200)
        assert served.session.revision == 1
        user.until("document.querySelector('#plan [data-kind=fan]') !== null")
        return
    user.until("document.querySelector('#undo').title.includes('shut west window')")
    scenarios = served.session.draft.house.scenarios
    assert not served.session.draft.errors
    assert scenarios["evening"].shares["west window"] == 0.0
    assert (scenarios["later"] == before) == choice.startswith("keep")


def test_a_second_page_sees_what_the_first_one_did_before_it_changes_anything(
    served: Any, user: Any, browser: Any
) -> None:
    user.open(served.address())
    context = browser.new_context()
    other = context.new_page()
    other.goto(served.address())
    other.wait_for_selector("body[data-ready=yes]")
    user.click(user.middle("opening", "east window"))
    user.until("!document.querySelector('#undo').disabled")
    text = served.session.draft.text
    other.locator("#slide-wind").fill("9")
    other.wait_for_selector("#notice-trouble")
    assert served.session.draft.text == text
    words = other.inner_text("#notice-trouble")
    assert "Not done: wind" in words, "what was dropped is said"
    assert "last: shut east window" in words
    assert "shut" in other.locator('#plan [data-name="east window"]').get_attribute("aria-label")
    context.close()
