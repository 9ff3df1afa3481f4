"""On the page: zoom, pan and cancel, cards, one switch for all screens, what the rooms show, and the air in motion."""

from __future__ import annotations

from typing import Any

import pytest


def scale(user: Any) -> float:
    """Pixels a metre."""
    (left, _), (right, _) = user.on_plan(0.0, 0.0), user.on_plan(1.0, 0.0)
    return float(right - left)


def test_the_wheel_zooms_at_the_pointer_and_dragging_the_floor_pans(served: Any, user: Any) -> None:
    user.open(served.address())
    spot, before = user.on_plan(3.0, 3.0), scale(user)
    user.page.mouse.move(*spot)
    user.page.mouse.wheel(0, -400)
    user.until(f"document.querySelector('#plan').getScreenCTM().a > {1.3 * before}")
    assert user.on_plan(3.0, 3.0) == pytest.approx(spot, abs=1.0), "what was under the pointer is there still"
    user.drag(spot, (spot[0] + 80.0, spot[1] - 40.0))
    assert user.on_plan(3.0, 3.0) == pytest.approx((spot[0] + 80.0, spot[1] - 40.0), abs=1.5)
    user.page.locator("#zoom-fit").click()
    assert scale(user) == pytest.approx(before)
    assert served.session.revision == 1


def test_escape_puts_a_dragged_fan_back(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.mouse.move(*user.middle("fan", "box fan"))
    user.page.mouse.down()
    user.page.mouse.move(*user.on_plan(3.5, 3.2), steps=5)
    user.page.keyboard.press("Escape")
    user.page.mouse.up()
    user.page.wait_for_timeout(300)
    assert served.session.revision == 1
    assert "1.50 m from west window" in user.thing("fan", "box fan").get_attribute("aria-label")


def test_notices_do_not_move_the_plan(served: Any, user: Any) -> None:
    user.open(served.address())
    before = user.on_plan(0.0, 0.0)
    user.click(user.on_plan(0.0, 1.6))
    user.page.wait_for_selector("#notice-held")
    assert user.on_plan(0.0, 0.0) == before


def test_a_pointer_at_an_opening_shows_its_card_and_changes_nothing(served: Any, user: Any) -> None:
    user.open(served.address())
    reading = user.row("openings", "east window")[2]
    user.page.mouse.move(*user.middle("opening", "east window"))
    user.page.wait_for_selector("#card")
    words = user.page.inner_text("#card")
    assert reading in words
    assert "Pa across" in words
    assert served.session.revision == 1
    user.page.mouse.move(*user.on_plan(3.0, 1.0))
    user.page.wait_for_selector("#card", state="hidden")


def test_one_switch_takes_all_screens_off(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.locator("#screens").uncheck()
    user.until("document.querySelector('#undo').title.includes('all screens off')")
    assert not served.session.draft.house.scenarios["evening"].screened
    user.page.locator("#screens").check()
    user.until("document.querySelector('#undo').title.includes('all screens in place')")
    assert served.session.draft.house.scenarios["evening"].screened == {"west window", "east window"}


@pytest.mark.parametrize(
    ("kind", "title"),
    [("air-change", "Outdoor air change rate"), ("age", "Age of the air"), ("temperature", "Temperature"),
     ("total-exchange", "Total air exchange")],
)  # fmt: skip
def test_rooms_show_what_was_chosen_in_colour_and_number_as_in_print(
    served: Any, user: Any, kind: str, title: str
) -> None:
    from ventplan.network import solve
    from ventplan.show.plan_notes import tint_scale

    user.open(served.address())
    user.page.locator("#tint").select_option(kind)
    user.until(f"document.querySelector('#scale').textContent.startsWith('{title}')")
    house = served.session.draft.house
    scenario = house.scenarios["evening"]
    scale = tint_scale(house, scenario, solve(house, scenario), kind, "si")
    for room in house.rooms:
        assert user.thing("room", room).get_attribute("data-tint") == scale.colours[room].replace(" ", "-")
        shown = user.page.locator(f'#plan text.rate[data-of="room {room}"]')
        assert shown.text_content() == scale.values[room]


def test_a_house_that_is_shut_looks_shut(served: Any, user: Any) -> None:
    user.open(served.address("as it stands"))
    for room in ("living", "bedroom"):
        user.until(f"document.querySelector('#plan [data-name={room}]').dataset.tint === 'fresh-1'")
    assert user.page.locator("#plan .band").count() == 0


def test_air_moves_only_where_the_reader_wants_it(served: Any, user: Any, browser: Any) -> None:
    user.open(served.address())
    user.page.wait_for_selector("#plan .band", state="attached")
    specks = user.page.locator("#specks")
    user.until("!document.querySelector('#specks').hidden")
    user.page.locator("#motion").uncheck()
    user.until("document.querySelector('#specks').hidden")
    context = browser.new_context(reduced_motion="reduce")
    page = context.new_page()
    page.goto(served.address())
    page.wait_for_selector("#plan .band", state="attached")
    page.wait_for_timeout(200)
    assert page.locator("#specks").is_hidden()
    assert not page.locator("#motion").is_checked()
    context.close()
    assert specks.is_hidden()


def test_labels_do_not_lie_on_one_another(served: Any, user: Any) -> None:
    user.open(served.address())
    user.until("document.querySelectorAll('#plan text.flow').length > 0")
    boxes = user.page.evaluate(
        "[...document.querySelectorAll('#plan .labels text')].map((n) => n.getBoundingClientRect())"
        ".map((b) => [b.left, b.top, b.right, b.bottom])"
    )
    met = [
        (a, b)
        for i, a in enumerate(boxes)
        for b in boxes[i + 1 :]
        if a[0] + 1 < b[2] and b[0] + 1 < a[2] and a[1] + 3 < b[3] and b[1] + 3 < a[3]
    ]
    assert met == []


@pytest.mark.slow
def test_the_best_range_is_a_band_on_the_curve_and_on_the_floor(served: Any, user: Any) -> None:
    user.open(served.address())
    user.click(user.middle("fan", "box fan"))
    user.page.wait_for_selector("#curve path.good", timeout=30_000)
    assert user.page.locator("#plan path.good").count() == 1
    assert user.page.inner_text("#curve .off-aim") == ""
    user.thing("fan", "box fan").focus()
    user.page.keyboard.press("]")
    user.page.keyboard.press("]")
    user.until("document.querySelector('#curve .off-aim')?.textContent.includes('turned by 10°')")


def test_arrow_keys_aim_the_fan_again_and_the_change_is_announced(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.keyboard.press("Tab")
    user.page.keyboard.press("Enter")
    assert user.page.evaluate("document.activeElement.dataset.name") == "box fan", "the fan is two keys away"
    for _ in range(2):
        user.page.keyboard.press("Shift+ArrowUp")
    user.until("document.querySelector('#undo').title.includes('move box fan')")
    user.wait_for(lambda: abs(served.session.draft.house.scenarios["evening"].placements[0].aside_m) > 0.4)
    placement = served.session.draft.house.scenarios["evening"].placements[0]
    assert abs(placement.aside_m) == pytest.approx(0.5)
    assert abs(placement.turn_deg) == pytest.approx(18.0, abs=1.0), "it still points at its window"
    user.until("document.querySelector('#said').textContent.includes('move box fan')")
    assert "drives" in user.page.text_content("#said")
    assert user.page.evaluate("document.activeElement.dataset.name") == "box fan"


@pytest.mark.slow
def test_the_report_opens_as_a_page_of_its_own_without_controls(served: Any, user: Any) -> None:
    user.open(served.address())
    with user.page.context.expect_page() as opened:
        user.page.locator("#print").click()
    page = opened.value
    page.wait_for_url("**/report/*", timeout=60_000)
    assert "evening" in page.inner_text("body")
    assert page.locator("svg").count() >= 1
    assert page.locator("button, input, select, script").count() == 0
    assert page.request.get(page.url).status == 404, "its address is good once"


@pytest.mark.parametrize("width", [390, 360])
def test_on_a_phone_the_plan_stays_in_view_and_targets_are_large(served: Any, browser: Any, width: int) -> None:
    context = browser.new_context(viewport={"width": width, "height": 780}, has_touch=True)
    page = context.new_page()
    page.goto(served.address())
    page.wait_for_selector("body[data-ready=yes]")
    page.locator("#panel").evaluate("(n) => n.scrollTo(0, 900)")
    box = page.locator("#plan").bounding_box()
    assert box["y"] >= 0
    assert box["y"] + box["height"] < 560
    small = page.evaluate(
        "[...document.querySelectorAll('button, select, summary, input[type=range]')].filter((n) => n.offsetParent)"
        ".map((n) => [n.id || n.textContent, n.getBoundingClientRect()]).filter(([, b]) => b.height < 43.5)"
        ".map(([name, b]) => `${name} ${b.height}`)"
    )
    assert small == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


def test_two_fingers_zoom_the_plan(served: Any, browser: Any) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    page.goto(served.address())
    page.wait_for_selector("body[data-ready=yes]")
    size = "document.querySelector('#plan').getScreenCTM().a"
    before = page.evaluate(size)
    box = page.locator("#plan").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    session = context.new_cdp_session(page)
    for i, far in enumerate((30, 50, 70, 90)):
        points = [{"x": x - far, "y": y, "id": 1}, {"x": x + far, "y": y, "id": 2}]
        kind = "touchStart" if i == 0 else "touchMove"
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    assert page.evaluate(size) == pytest.approx(3.0 * before, rel=0.1)
    assert served.session.revision == 1
    context.close()


@pytest.mark.slow
def test_plans_side_by_side_show_the_same_part(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.locator("summary", has_text="Side by side").click()
    user.page.locator("#beside-name-choice").select_option("shut up")
    user.page.wait_for_selector("#beside-plan [data-kind=room]", timeout=30_000)
    user.page.mouse.move(*user.on_plan(1.0, 1.0))
    user.page.mouse.wheel(0, -300)
    alike = False
    for _ in range(20):
        boxes = [user.page.locator(f"#{name}").get_attribute("viewBox") for name in ("plan", "beside-plan")]
        (x, y, wide, high), (x2, y2, wide2, high2) = (map(float, box.split()) for box in boxes)
        if (x + wide / 2, y + high / 2, wide) == pytest.approx((x2 + wide2 / 2, y2 + high2 / 2, wide2), rel=0.01):
            alike = True
            break
        user.page.wait_for_timeout(100)
    assert alike, boxes


@pytest.mark.parametrize("width", [390, 800, 1000, 1280])
def test_nothing_sticks_out_of_the_page_when_the_scenario_has_a_long_name(served: Any, user: Any, width: int) -> None:
    served.path.write_text(
        served.text().replace("  shut up: {}", "  everything shut up for the whole night: {}"), "utf-8"
    )
    served.start_again()
    user.page.set_viewport_size({"width": width, "height": 800})
    user.open(served.address("everything shut up for the whole night"))
    assert user.page.evaluate("document.documentElement.scrollWidth") <= width
