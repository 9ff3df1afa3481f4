"""On the page: fans are dragged, windows opened, screens taken off, the weather changed, and the numbers follow."""

from __future__ import annotations

from typing import Any

import pytest

from ventplan.house import parse_house
from ventplan.house.units import show
from ventplan.network import solve


def evening(served: Any) -> Any:
    return parse_house(served.session.draft.text).scenarios["evening"]


def wait_for_step(user: Any, served: Any, before: int) -> None:
    for _ in range(100):
        if served.session.revision > before:
            return
        user.page.wait_for_timeout(50)
    raise AssertionError("the step did not reach the program")


def test_a_dragged_fan_stands_where_it_was_dropped_and_the_page_says_what_the_solver_says(
    served: Any, user: Any
) -> None:
    user.open(served.address())
    before = served.session.revision
    user.drag(user.middle("fan", "box fan"), user.on_plan(2.3, 2.0))
    wait_for_step(user, served, before)
    placement = evening(served).placements[0]
    assert abs(placement.setback_m - 2.3) < 0.06
    assert placement.aside_m == 0.0
    house = parse_house(served.session.draft.text)
    driven = show(solve(house, "evening").fans[0].driven_m3_s, "flow", "si")
    user.until(f"document.querySelector('#thing .air').textContent.includes('drives {driven} through west window')")
    assert "# the big one" in served.session.draft.text


def test_numbers_change_while_the_fan_is_being_dragged(served: Any, user: Any) -> None:
    user.open(served.address())
    first = user.row("openings", "west window")[1]
    user.page.mouse.move(*user.middle("fan", "box fan"))
    user.page.mouse.down()
    user.page.mouse.move(*user.on_plan(4.2, 3.2), steps=6)
    cell = "#table-openings tr[data-name='west window'] td:nth-child(3)"
    user.until(f'document.querySelector("{cell}").textContent !== {first!r}')
    assert served.session.revision == 1
    user.page.mouse.up()


def test_a_fan_dragged_into_another_room_blows_at_that_rooms_window(served: Any, user: Any) -> None:
    user.open(served.address())
    before = served.session.revision
    user.drag(user.middle("fan", "box fan"), user.on_plan(7.6, 2.0), steps=12)
    wait_for_step(user, served, before)
    placement = evening(served).placements[0]
    assert (placement.opening, placement.stands_in) == ("east window", "bedroom")


def test_a_fan_cannot_be_dragged_through_a_wall(served: Any, user: Any) -> None:
    user.open(served.address())
    before = served.session.revision
    user.drag(user.middle("fan", "box fan"), user.on_plan(2.0, 3.98), steps=12)
    wait_for_step(user, served, before)
    assert not served.session.draft.errors
    x, y = 0.0, 2.0 + abs(evening(served).placements[0].aside_m)
    assert y <= 4.0 - 0.2
    assert x == 0.0


def test_a_fan_is_drawn_where_the_solver_has_it_also_at_a_window_that_opens_from_its_far_end(
    served: Any, user: Any
) -> None:
    from ventplan.house.fan_pose import fan_pose

    served.path.write_text(served.text().replace("sash: sliding,", "sash: sliding, opens: north,"), "utf-8")
    served.start_again()
    user.open(served.address())
    user.page.locator("#fans li", has_text="desk fan").get_by_role("button", name="Place it").click()
    user.page.locator("#thing [data-field=opening]").select_option("east window")
    user.until("document.querySelector('#undo').title.includes('desk fan at east window')")
    house = served.session.draft.house
    scenario = house.scenarios["evening"]
    placement = scenario.placements[1]
    pose = fan_pose(house, placement, scenario.shares["east window"])
    box = user.thing("fan", "desk fan").locator(".hit").bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert middle == pytest.approx(user.on_plan(pose.x, pose.y), abs=1.0)


def test_the_handle_turns_the_fan(served: Any, user: Any) -> None:
    user.open(served.address())
    user.click(user.middle("fan", "box fan"))
    handle = user.page.locator("#plan .turn").bounding_box()
    before = served.session.revision
    start = handle["x"] + handle["width"] / 2, handle["y"] + handle["height"] / 2
    user.drag(start, (start[0], start[1] - 30))
    wait_for_step(user, served, before)
    assert 10.0 < abs(evening(served).placements[0].turn_deg) < 80.0


def test_setting_and_seal_are_chosen_beside_the_plan(served: Any, user: Any) -> None:
    user.open(served.address())
    user.click(user.middle("fan", "box fan"))
    before = served.session.revision
    user.page.locator("#thing [data-field=setting]").select_option("low")
    wait_for_step(user, served, before)
    assert evening(served).placements[0].setting == "low"
    before = served.session.revision
    user.page.locator("#thing [data-field=sealed]").check()
    wait_for_step(user, served, before)
    assert evening(served).placements[0].sealed


def test_a_click_shuts_a_window_and_a_drag_opens_it_part_way(served: Any, user: Any) -> None:
    user.open(served.address())
    before = served.session.revision
    user.click(user.middle("opening", "east window"))
    wait_for_step(user, served, before)
    assert evening(served).shares["east window"] == 0.0
    assert "shut" in user.thing("opening", "east window").get_attribute("aria-label")
    before = served.session.revision
    user.drag(user.on_plan(9.0, 1.5), user.on_plan(9.0, 2.0))
    wait_for_step(user, served, before)
    assert abs(evening(served).shares["east window"] - 0.25) < 0.06
    assert "# both windows" in served.session.draft.text


def test_a_window_that_a_fan_blows_at_says_so_and_shuts_once_the_fan_is_away(served: Any, user: Any) -> None:
    user.open(served.address())
    user.click(user.on_plan(0.0, 1.6))
    user.page.wait_for_selector("#notice-held")
    assert "west window: box fan blows at it: it stays open" in user.page.inner_text("#notice-held")
    assert "box fan blows at it" in user.page.inner_text("#thing")
    assert evening(served).shares["west window"] > 0.0
    user.page.locator("#notice-held").get_by_role("button", name="Take box fan away and shut it").click()
    user.until("document.querySelector('#undo').title.includes('shut west window')")
    assert evening(served).shares["west window"] == 0.0
    assert not evening(served).placements
    assert user.page.locator("#notice-held").count() == 0
    assert not served.session.draft.errors


def test_a_window_with_a_fan_sealed_in_is_called_so_and_is_neither_opened_nor_shut(served: Any, user: Any) -> None:
    served.path.write_text(served.text().replace("setback: 1.5 m", "sealed: yes"), "utf-8")
    served.start_again()
    user.open(served.address())
    window = user.thing("opening", "west window")
    assert "box fan sealed in" in window.get_attribute("aria-label")
    assert user.row("openings", "west window")[0].startswith("box fan sealed in")
    window.focus()
    user.page.keyboard.press("Enter")
    user.page.wait_for_selector("#notice-held")
    assert served.session.revision == 1
    user.page.locator("#thing").get_by_role("button", name="Take box fan out").click()
    user.until("document.querySelector('#undo').title.includes('take box fan out')")
    assert "open" in window.get_attribute("aria-label")


def test_a_fan_is_put_on_a_chair_and_dragged_along_with_it(served: Any, user: Any) -> None:
    user.open(served.address())
    user.click(user.middle("fan", "box fan"))
    user.page.locator("#thing [data-field='stands on']").select_option("chair")
    user.until("document.querySelector('#undo').title.includes('box fan on chair')")
    assert "stands on: chair" in served.session.draft.text
    before = served.session.draft.house.scenarios["evening"].placements[0]
    assert before.support_m == pytest.approx(served.session.draft.house.surfaces["chair"])
    user.drag(user.middle("fan", "box fan"), user.on_plan(2.5, 2.0))
    user.until("document.querySelector('#undo').title.includes('move box fan')")
    after = served.session.draft.house.scenarios["evening"].placements[0]
    assert after.stands_on == "chair"
    assert after.setback_m > before.setback_m


def test_a_shut_window_opens_with_the_fan_that_is_put_at_it(served: Any, user: Any) -> None:
    user.open(served.address("shut up"))
    user.page.locator("#fans li", has_text="box fan").get_by_role("button", name="Place it").click()
    user.page.locator("#thing [data-field=opening]").select_option("west window")
    user.until("document.querySelector('#undo').title.includes('box fan at west window')")
    state = parse_house(served.session.draft.text).scenarios["shut up"]
    assert state.placements[0].opening == "west window"
    assert state.shares["west window"] == 1.0
    assert not served.session.draft.errors


def test_the_panel_follows_the_fan_into_another_room(served: Any, user: Any) -> None:
    user.open(served.address())
    user.drag(user.middle("fan", "box fan"), user.on_plan(7.6, 2.0), steps=12)
    user.until("document.querySelector('#thing [data-field=\"stands in\"]').value === 'bedroom'")
    assert user.page.locator("#thing [data-field=opening]").input_value() == "east window"


def test_a_door_is_opened_by_the_slider_and_screens_come_off(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.locator("#table-openings").get_by_role("button", name="middle door").click()
    before = served.session.revision
    user.page.locator("#thing [data-field=way]").fill("40")
    wait_for_step(user, served, before)
    assert abs(evening(served).shares["middle door"] - 0.4) < 1e-6
    user.page.locator("#table-openings").get_by_role("button", name="west window").click()
    before = served.session.revision
    user.page.locator("#thing [data-field=screened]").uncheck()
    wait_for_step(user, served, before)
    assert evening(served).screened == {"east window"}
    assert user.row("openings", "west window")[0].endswith("no screen")


def test_wind_and_temperatures_change_with_their_sliders(served: Any, user: Any) -> None:
    user.open(served.address())
    before = served.session.revision
    user.page.locator("#slide-wind").fill("8")
    user.page.locator("#slide-from").fill("90")
    user.page.locator("#slide-outdoor").fill("5")
    user.page.locator("#slide-indoor").fill("20")
    wait_for_step(user, served, before)
    state = evening(served)
    assert (state.outdoors.wind.speed_m_s, state.outdoors.wind.from_deg) == (8.0, 90.0)
    assert state.outdoors.temperature_c == 5.0
    assert set(state.temperatures_c.values()) == {20.0}
    assert user.page.locator("#slide-wind").get_attribute("aria-valuetext") == "8.0 m/s"


def test_the_reading_to_expect_is_the_solvers(served: Any, user: Any) -> None:
    user.open(served.address())
    house = parse_house(served.session.draft.text)
    reading = solve(house, "evening").openings["east window"].reading_m_s
    assert reading is not None
    assert user.row("openings", "east window")[2] == show(reading, "speed", "si")


def test_jets_streams_and_tints_are_drawn(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.wait_for_selector("#plan .band", state="attached")
    assert user.page.locator("#plan .jet").count() > 0
    assert user.page.locator("#plan .head").count() >= 2
    assert user.thing("room", "living").get_attribute("data-tint").startswith("fresh-")


def test_a_fan_is_placed_and_removed(served: Any, user: Any) -> None:
    user.open(served.address())
    before = served.session.revision
    user.page.locator("#fans li", has_text="desk fan").get_by_role("button", name="Place it").click()
    wait_for_step(user, served, before)
    assert [p.fan for p in evening(served).placements] == ["box fan", "desk fan"]
    before = served.session.revision
    user.page.get_by_role("button", name="Take away").click()
    wait_for_step(user, served, before)
    assert [p.fan for p in evening(served).placements] == ["box fan"]


def test_an_invalid_value_is_refused_at_its_field(served: Any, user: Any) -> None:
    user.open(served.address())
    user.click(user.middle("fan", "box fan"))
    field = user.page.locator("#thing [data-field=setback]")
    field.fill("9 m")
    field.press("Enter")
    user.page.wait_for_selector("#thing .error")
    assert "up to" in user.page.inner_text("#thing .error")
    assert user.page.locator("#thing [data-field=setback]").get_attribute("aria-invalid") == "true"
    assert evening(served).placements[0].setback_m == 1.5
    field = user.page.locator("#thing [data-field=setback]")
    field.fill("2 m")
    field.press("Enter")
    user.page.wait_for_selector("#thing .error", state="detached")
    assert user.page.locator("#notice-trouble").count() == 0
    assert evening(served).placements[0].setback_m == 2.0
