"""The page by keyboard, by touch, on a phone, for a screen reader, in either unit system, in light and dark."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.live.conftest import User


@pytest.fixture
def phone(browser: Any) -> Iterator[User]:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, color_scheme="dark")
    someone = User(context.new_page())
    someone.page.set_default_timeout(10_000)
    yield someone
    context.close()
    assert someone.errors == []


def colour(user: User, where: str, what: str = "background-color") -> str:
    found: str = user.page.evaluate(
        "([where, what]) => getComputedStyle(document.querySelector(where)).getPropertyValue(what)", [where, what]
    )
    return found


def test_the_keyboard_opens_moves_turns_and_undoes(served: Any, user: User) -> None:
    user.open(served.address())
    user.thing("opening", "east window").focus()
    user.page.keyboard.press("Enter")
    user.until("document.querySelector('#undo').title.includes('shut east window')")
    user.page.keyboard.press("s")
    user.until("document.querySelector('#undo').title.includes('screen off at east window')")
    user.thing("fan", "box fan").focus()
    user.page.keyboard.press("ArrowRight")
    user.page.keyboard.press("]")
    user.page.keyboard.press(",")
    user.until("document.querySelector('#undo').title.includes('box fan on medium')")
    placement = served.session.draft.house.scenarios["evening"].placements[0]
    assert placement.setback_m == pytest.approx(1.55)
    assert placement.turn_deg == 5.0
    assert placement.setting == "medium"
    user.page.keyboard.press("Control+z")
    user.until("document.querySelector('#undo').title.includes('screen off')")


def test_everything_on_the_plan_can_be_reached_and_says_what_it_is(served: Any, user: User) -> None:
    user.open(served.address())
    things = user.page.locator("#plan [data-kind]")
    assert things.count() == 2 + 3 + 1
    for i in range(things.count()):
        assert things.nth(i).get_attribute("tabindex") == "0"
        assert things.nth(i).get_attribute("role") == "button"
        assert things.nth(i).get_attribute("aria-label")


def test_the_tables_give_a_screen_reader_all_that_the_plan_shows(served: Any, user: User) -> None:
    user.open(served.address())
    tree = user.page.locator("#tables").aria_snapshot()
    for name in ("living", "bedroom", "middle door", "west window", "east window"):
        assert f'rowheader "{name}"' in tree
    assert 'columnheader "Outdoor air change rate"' in tree
    assert 'columnheader "Reading"' in tree


def test_every_control_has_a_name(served: Any, user: User) -> None:
    user.open(served.address())
    user.click(user.middle("fan", "box fan"))
    nameless = user.page.evaluate(
        "[...document.querySelectorAll('button, input, select')].filter((n) => !n.closest('[hidden]'))"
        ".filter((n) => !(n.getAttribute('aria-label') || n.textContent.trim() || n.labels?.length))"
        ".map((n) => n.outerHTML)"
    )
    assert nameless == []


def test_units_change_on_the_page_and_not_in_the_file(served: Any, user: User) -> None:
    user.open(served.address())
    user.page.locator("#units").select_option("us")
    user.until("document.querySelector('#summary').textContent.includes('cfm')")
    user.click(user.middle("fan", "box fan"))
    field = user.page.locator("#thing [data-field=setback]")
    assert field.input_value() == "4 ft 11 in"
    field.fill("6")
    field.press("Enter")
    user.until("document.querySelector('#undo').title.includes('setback of box fan')")
    assert "setback: 1.829 m" in served.session.draft.text
    assert field.input_value() == "6 ft"


@pytest.mark.parametrize("typed", ["6.3 ft", "2 ft 7 in", "30 in", "1.25 m"])
def test_a_length_comes_back_as_it_was_typed(served: Any, user: User, typed: str) -> None:
    user.open(served.address())
    user.page.locator("#units").select_option("us")
    user.until("document.querySelector('#summary').textContent.includes('cfm')")
    user.click(user.middle("fan", "box fan"))
    field = user.page.locator("#thing [data-field=setback]")
    field.fill(typed)
    field.press("Enter")
    user.until("document.querySelector('#undo').title.includes('setback of box fan')")
    user.page.wait_for_timeout(300)
    assert field.input_value() == typed


def test_a_reader_in_feet_sees_the_sizes_of_a_file_in_metres_in_feet(served: Any, user: User) -> None:
    user.open(served.address())
    user.page.locator("#units").select_option("us")
    user.page.locator("label", has_text="Draw walls").click()
    user.click(user.on_plan(2.0, 1.0))
    field = user.page.locator("#thing [data-field=size]")
    assert field.input_value() == "16 ft 5 in, 13 ft 1 in"
    field.fill("16.5 ft, 13 ft 1 in")
    field.press("Enter")
    user.until("document.querySelector('#undo').title.includes('change size of living')")
    assert "size: [16.5 ft, 13 ft 1 in]" in served.session.draft.text
    assert field.input_value() == "16.5 ft, 13 ft 1 in"


@pytest.mark.parametrize("metres", [0.05, 0.3, 0.59, 0.61, 1.5, 3.962, 4.2, 10.0])
@pytest.mark.parametrize("units", ["si", "us"])
def test_the_page_writes_a_length_as_the_program_does(served: Any, user: User, metres: float, units: str) -> None:
    from ventplan.house.units import show

    user.open(served.address())
    user.page.locator("#units").select_option(units)
    user.page.wait_for_timeout(200)
    shown = user.page.evaluate("(v) => import('/static/units.js').then((m) => m.shownLength(v))", metres)
    assert shown == show(metres, "length", units)


@pytest.mark.slow
def test_dark_and_light_follow_the_system_and_the_switch(served: Any, user: User, phone: User) -> None:
    user.open(served.address())
    light = colour(user, "html")
    user.page.locator("#look").select_option("dark")
    dark = colour(user, "html")
    assert light != dark
    phone.open(served.address())
    assert colour(phone, "html") == dark
    phone.page.locator("#look").select_option("light")
    assert colour(phone, "html") == light


def test_a_phone_shows_it_all_without_scrolling_sideways(served: Any, phone: User) -> None:
    phone.open(served.address())
    wide = phone.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= 390
    box = phone.page.locator("#plan").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < 844, "the plan is in view without scrolling"


@pytest.mark.parametrize("who", ["user", "phone"])
def test_a_plan_that_is_zoomed_covers_no_controls(served: Any, request: pytest.FixtureRequest, who: str) -> None:
    someone: User = request.getfixturevalue(who)
    someone.open(served.address())
    someone.page.locator("#zoom-in").click(click_count=3)
    for name in ("load", "units", "zoom-fit"):
        someone.page.locator(f"#{name}").scroll_into_view_if_needed()
        box = someone.page.locator(f"#{name}").bounding_box()
        assert box is not None
        spot = [box["x"] + box["width"] / 2, box["y"] + box["height"] / 2]
        hit = someone.page.evaluate("([x, y]) => document.elementFromPoint(x, y).id", spot)
        assert hit == name


def test_flows_at_the_windows_are_written_whole(served: Any, user: User) -> None:
    user.open(served.address())
    user.until("document.querySelectorAll('#plan text.flow').length > 0")
    outside = user.page.evaluate(
        "(() => { const all = document.querySelector('#plan').getBoundingClientRect();"
        " return [...document.querySelectorAll('#plan text.flow')].map((n) => n.getBoundingClientRect())"
        ".filter((b) => b.left < all.left || b.right > all.right).length; })()"
    )
    assert outside == 0


def test_the_keyboard_focus_stays_in_the_panel(from_nothing: Any, user: User) -> None:
    user.page.goto(from_nothing.address(""))
    user.page.wait_for_selector("body[data-ready=yes]")
    user.page.get_by_role("button", name="Add room").focus()
    user.page.keyboard.press("Enter")
    user.until("document.querySelector('#thing h2')?.textContent.startsWith('room 1')")
    user.until("document.activeElement.closest('#thing') !== null")
    user.page.locator("ul.sites button", has_text="+ window").first.focus()
    user.page.keyboard.press("Enter")
    user.until("document.querySelector('#thing h2').textContent.startsWith('room 1 window')")
    user.until("document.activeElement.closest('#thing') !== null")


def test_touch_opens_a_window_and_drags_a_fan(served: Any, phone: User) -> None:
    phone.open(served.address())
    phone.page.touchscreen.tap(*phone.middle("opening", "east window"))
    phone.page.wait_for_selector("#card.pinned")
    assert "reading" in phone.page.inner_text("#card")
    assert served.session.revision == 1, "a first tap shows the opening's card and changes nothing"
    phone.page.touchscreen.tap(*phone.middle("opening", "east window"))
    phone.until("document.querySelector('#undo').title.includes('shut east window')")
    start, end = phone.middle("fan", "box fan"), phone.on_plan(2.6, 2.0)
    session = phone.page.context.new_cdp_session(phone.page)
    points = [(start[0] + (end[0] - start[0]) * i / 6, start[1] + (end[1] - start[1]) * i / 6) for i in range(7)]
    for i, (x, y) in enumerate(points):
        kind = "touchStart" if i == 0 else "touchMove"
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    phone.until("document.querySelector('#undo').title.includes('move box fan')")
    assert served.session.draft.house.scenarios["evening"].placements[0].setback_m > 2.0


def test_the_page_asks_no_other_host(served: Any, user: User) -> None:
    user.open(served.address())
    user.click(user.middle("fan", "box fan"))
    user.page.wait_for_timeout(300)
    assert {url.split("/")[2] for url in user.requests} == {f"127.0.0.1:{served.port}"}


def test_without_the_key_the_page_shows_nothing_of_the_house(served: Any, browser: Any) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.origin)
    page.wait_for_selector("#notice-gone")
    assert "key" in page.inner_text("#notice-gone")
    assert page.locator("#plan [data-kind]").count() == 0
    context.close()


def test_a_name_in_the_file_never_becomes_markup(served: Any, user: User) -> None:
    served.path.write_text(served.text().replace("living", '"<img src=x onerror=alert(1)>"'), "utf-8")
    served.start_again()
    user.open(served.address())
    assert user.page.locator("img").count() == 0
    assert "<img" in user.page.inner_text("#table-rooms")
