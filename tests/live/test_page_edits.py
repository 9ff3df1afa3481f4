"""On the page: every kind of edit is drawn at once, can be undone and redone, and later edits find new names."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest


def draw_mode(user: Any) -> None:
    user.page.locator("label", has_text="Draw walls").click()


def pick(user: Any, kind: str, name: str) -> None:
    """Select a thing by its row, which the plan cannot cover."""
    user.page.locator(f"#table-{kind}s tr[data-name='{name}'] button").click()
    user.until(f"document.querySelector('#thing h2')?.textContent.startsWith('{name}')")


def type_in(user: Any, field: str, value: str) -> None:
    entry = user.page.locator(f"#thing [data-field='{field}']")
    entry.fill(value)
    entry.press("Enter")


def rename_room(user: Any) -> None:
    draw_mode(user)
    pick(user, "room", "living")
    type_in(user, "name", "lounge")


def remove_room(user: Any) -> None:
    draw_mode(user)
    pick(user, "room", "bedroom")
    user.page.get_by_role("button", name="Remove", exact=True).click()


def add_room(user: Any) -> None:
    draw_mode(user)
    user.page.get_by_role("button", name="Add room").click()


def rename_opening(user: Any) -> None:
    draw_mode(user)
    pick(user, "opening", "middle door")
    type_in(user, "name", "arch")


def remove_opening(user: Any) -> None:
    draw_mode(user)
    pick(user, "opening", "middle door")
    user.page.get_by_role("button", name="Remove", exact=True).click()


def add_opening(user: Any) -> None:
    draw_mode(user)
    pick(user, "room", "bedroom")
    user.page.locator("ul.sites li", has_text="outdoors, north").get_by_role("button", name="+ window").click()


def move_room(user: Any) -> None:
    draw_mode(user)
    user.click(user.middle("room", "bedroom"))
    user.drag(user.middle("room", "bedroom"), user.on_plan(7.0, 2.5))


def change_ceiling(user: Any) -> None:
    draw_mode(user)
    pick(user, "room", "living")
    type_in(user, "ceiling", "3 m")


def change_kind(user: Any) -> None:
    draw_mode(user)
    pick(user, "opening", "middle door")
    user.page.locator("#thing [data-field=kind]").select_option("passage")


def add_fan(user: Any) -> None:
    user.page.locator("summary", has_text="Add a fan to the house").click()
    user.page.get_by_role("button", name="Add fan").click()


def add_scenario(user: Any) -> None:
    user.page.get_by_role("button", name="New", exact=True).click()
    user.page.locator("#scenario-name").fill("later")
    user.page.keyboard.press("Enter")


def shut_window(user: Any) -> None:
    user.thing("opening", "east window").focus()
    user.page.keyboard.press("Enter")


def take_screen_off(user: Any) -> None:
    user.thing("opening", "east window").focus()
    user.page.keyboard.press("s")


def take_fan_away(user: Any) -> None:
    user.thing("fan", "box fan").focus()
    user.page.keyboard.press("Delete")


def put_fan_in(user: Any) -> None:
    user.page.locator("#fans li", has_text="desk fan").get_by_role("button", name="Place it").click()


def change_wind(user: Any) -> None:
    user.page.locator("#slide-wind").fill("9")


def add_furniture(user: Any) -> None:
    draw_mode(user)
    user.page.locator("button[data-tool=furniture]").click()
    user.drag(user.on_plan(3.0, 2.5), user.on_plan(4.5, 3.5))


def turn_north(user: Any) -> None:
    draw_mode(user)
    type_in(user, "north", "30")


def add_own_fan(user: Any) -> None:
    draw_mode(user)
    user.page.locator("summary", has_text="Add a fan to the house").click()
    user.page.get_by_role("button", name="Add my fan").click()


def take_all_screens_off(user: Any) -> None:
    user.page.locator("#screens").uncheck()


EDITS: tuple[Callable[[Any], None], ...] = (
    rename_room, remove_room, add_room, rename_opening, remove_opening, add_opening, move_room, change_ceiling,
    change_kind, add_fan, add_scenario, shut_window, take_screen_off, take_fan_away, put_fan_in, change_wind,
    add_furniture, turn_north, add_own_fan, take_all_screens_off,
)  # fmt: skip


def names_drawn(user: Any) -> tuple[list[str], list[str]]:
    """Rooms and openings on the plan, and in the tables."""
    on_plan, in_tables = (
        user.page.evaluate(
            "(where) => [...new Set([...document.querySelectorAll(where)].map((n) => n.dataset.name))].sort()", where
        )
        for where in ("#plan :is([data-kind=room], [data-kind=opening])", "#tables tr[data-name]")
    )
    return on_plan, in_tables


def names_in_file(served: Any) -> list[str]:
    house = served.session.draft.house
    return sorted([*house.rooms, *house.openings])


@pytest.mark.parametrize("edit", EDITS, ids=lambda edit: edit.__name__)
def test_an_edit_is_drawn_undone_and_redone(served: Any, user: Any, edit: Callable[[Any], None]) -> None:
    user.open(served.address())
    before = served.session.draft.text
    edit(user)
    user.until("!document.querySelector('#undo').disabled")
    after = served.session.draft.text
    assert after != before
    assert names_drawn(user) == (names_in_file(served),) * 2
    for name, text in (("undo", before), ("redo", after), ("undo", before)):
        user.page.locator(f"#{name}").click()
        waiting = "#redo" if name == "undo" else "#undo"
        user.until(f"!document.querySelector('{waiting}').disabled")
        assert served.session.draft.text == text
        assert names_drawn(user) == (names_in_file(served),) * 2
        assert user.page.input_value("#scenario") in served.session.draft.house.scenarios


def test_an_edit_after_a_new_name_goes_to_the_new_name(served: Any, user: Any) -> None:
    user.open(served.address())
    rename_room(user)
    user.until("document.querySelector('#thing h2')?.textContent.startsWith('lounge')")
    type_in(user, "ceiling", "3 m")
    user.until("document.querySelector('#undo').title.includes('ceiling of lounge')")
    assert served.session.draft.house.rooms["lounge"].ceiling_m == 3.0
    type_in(user, "name", "salon")
    user.until("document.querySelector('#thing h2')?.textContent.startsWith('salon')")
    assert names_drawn(user) == (names_in_file(served),) * 2


def test_a_renamed_thing_stays_selected_and_the_step_is_announced(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.click("label:has-text('Draw walls')")
    user.thing("room", "living").click()
    name = user.page.locator("#thing [data-field=name]")
    name.fill("parlour")
    name.press("Enter")
    said, head = "document.querySelector('#said').textContent", "document.querySelector('#thing h2').textContent"
    user.until(f"{head}.startsWith('parlour') && {said}.startsWith('rename living')")
    assert user.page.evaluate("document.activeElement.dataset.field") == "name"
    user.page.locator("#undo").click()
    user.until(f"{head}.startsWith('living') && {said}.startsWith('Undone')")
    user.page.locator("#redo").click()
    user.until(f"{head}.startsWith('parlour') && {said}.startsWith('Redone')")


def test_a_file_with_other_rooms_is_loaded(served: Any, user: Any) -> None:
    user.open(served.address())
    served.path.write_text(served.text().replace("bedroom", "study"), "utf-8")
    user.page.locator("#load").click()
    user.until("document.querySelector('#plan [data-name=study]') !== null")
    assert names_drawn(user) == (names_in_file(served),) * 2
    user.until("document.querySelector('#table-rooms tr[data-name=study] td').textContent.includes('/h')")


def test_undo_of_a_room_that_was_added_to_nothing_leaves_an_empty_plan(from_nothing: Any, user: Any) -> None:
    user.page.goto(from_nothing.address(""))
    user.page.wait_for_selector("body[data-ready=yes]")
    user.page.get_by_role("button", name="Add room").click()
    user.until("document.querySelectorAll('#plan [data-kind=room]').length === 1")
    user.page.keyboard.press("Escape")
    user.page.locator("#undo").click()
    user.until("document.querySelectorAll('#plan [data-kind=room]').length === 0")
    user.page.get_by_role("button", name="Add room").click()
    user.until("document.querySelectorAll('#plan [data-kind=room]').length === 1")
