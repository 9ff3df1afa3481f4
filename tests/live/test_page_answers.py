"""On the page: the search, the setback curve, two scenarios side by side, and readings against the model."""

from __future__ import annotations

import math
from typing import Any

import pytest

from ventplan.advice import setback_curve
from ventplan.errors import InputError
from ventplan.house.units import show
from ventplan.live.over_time import tonight


def open_part(user: Any, words: str) -> None:
    user.page.locator("summary", has_text=words).click()


def search_bedroom(user: Any) -> None:
    open_part(user, "Find a better place")
    user.page.locator("#aim").select_option("room")
    user.page.locator("#aim-name").select_option("bedroom")
    user.page.locator("#search-fan").select_option("box fan")
    user.page.locator("#search-go").click()
    user.page.wait_for_selector("#found .card", timeout=60_000)


@pytest.mark.slow
def test_a_plan_of_the_search_is_shown_first_and_used_in_a_new_scenario(served: Any, user: Any) -> None:
    served.path.write_text(served.text() + "  follows: {based on: evening}\n", "utf-8")
    served.start_again()
    user.open(served.address())
    before, text = served.session.draft.house.scenarios, served.session.draft.text
    search_bedroom(user)
    assert "What would bring more" in user.page.inner_text("#found")
    assert served.session.draft.text == text, "a search changes nothing"
    user.page.locator("#found .card").first.get_by_role("button", name="Show on the plan").click()
    user.page.wait_for_selector("body[data-preview]")
    assert served.session.draft.text == text, "seeing a plan changes nothing"
    title = user.page.inner_text("#found .card.shown h3")
    name = user.page.get_by_label("Name of the new scenario").input_value()
    user.page.get_by_role("button", name="Use this", exact=True).click()
    user.until(f"document.querySelector('#scenario').value === '{name}'")
    after = served.session.draft.house.scenarios
    assert {n: after[n] for n in before} == dict(before), "the other scenarios are as they were"
    assert after[name].placements[0].opening in title
    assert not served.session.draft.errors
    user.page.locator("#undo").click()
    user.until("document.querySelector('#undo').disabled")
    assert served.session.draft.text == text


@pytest.mark.slow
def test_a_change_ends_the_preview(served: Any, user: Any) -> None:
    user.open(served.address())
    search_bedroom(user)
    user.page.locator("#found .card").last.get_by_role("button", name="Show on the plan").click()
    user.page.wait_for_selector("body[data-preview]")
    user.page.locator("#slide-wind").fill("9")
    user.until("document.querySelector('#undo').title.includes('wind')")
    assert user.page.locator("body[data-preview]").count() == 0
    evening = served.session.draft.house.scenarios["evening"]
    assert evening.outdoors.wind.speed_m_s == 9.0
    assert evening.placements[0].setback_m == 1.5


@pytest.mark.slow
def test_several_fans_are_placed_together(served: Any, user: Any) -> None:
    user.open(served.address("shut up"))
    open_part(user, "Find a better place")
    user.page.locator("#search-count").select_option("2")
    user.page.locator("#search-go").click()
    user.page.wait_for_selector("#found .card", timeout=90_000)
    user.page.locator("#found .card").first.get_by_role("button", name="Show on the plan").click()
    user.until("document.querySelectorAll('#plan .fan').length === 2")


@pytest.mark.slow
def test_a_search_can_be_stopped(served: Any, user: Any) -> None:
    user.open(served.address("shut up"))
    open_part(user, "Find a better place")
    user.page.locator("#search-go").click()
    user.page.get_by_role("button", name="Stop").click()
    user.until("document.querySelector('#found').textContent.includes('Stopped')")
    assert not served.session.draft.house.scenarios["shut up"].placements


@pytest.mark.slow
def test_the_setback_curve_is_the_librarys_and_marks_where_the_fan_stands(served: Any, user: Any) -> None:
    user.open(served.address())
    user.click(user.middle("fan", "box fan"))
    user.page.wait_for_selector("#curve circle.here", timeout=30_000)
    house = served.session.draft.house
    answer = setback_curve(house, "evening", fan="box fan", opening="west window", stands_in="living")
    for curve in answer.curves:
        assert f"best {show(curve.best_setback_m, 'length', 'si')} back" in user.page.inner_text("#curve")
    before = user.page.locator("#curve circle.here").get_attribute("cx")
    user.thing("fan", "box fan").focus()
    user.page.keyboard.press("Shift+ArrowRight")
    user.until(f"document.querySelector('#curve circle.here').getAttribute('cx') !== '{before}'")
    assert not user.page.locator("#curve .stale").count(), "the curve is the same wherever the fan stands"


@pytest.mark.slow
def test_two_scenarios_are_shown_side_by_side(served: Any, user: Any) -> None:
    user.open(served.address())
    open_part(user, "Side by side")
    user.page.locator("#beside-name-choice").select_option("shut up")
    user.page.wait_for_selector("#compared table", timeout=30_000)
    assert user.page.locator("#beside-plan [data-kind=room]").count() == 2
    assert user.page.locator("#beside-figure").is_visible()
    words = user.page.inner_text("#compared")
    assert "living" in words
    assert "What explains the difference" in words


def test_a_new_scenario_is_a_copy_of_the_current_one(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.get_by_role("button", name="New", exact=True).click()
    user.page.locator("#scenario-name").fill("east shut")
    user.page.keyboard.press("Enter")
    user.until("document.querySelector('#scenario').value === 'east shut'")
    user.click(user.middle("opening", "east window"))
    user.until("document.querySelector('#undo').title.includes('shut east window')")
    scenarios = served.session.draft.house.scenarios
    assert scenarios["east shut"].shares["east window"] == 0.0
    assert scenarios["evening"].shares["east window"] > 0.0
    assert scenarios["east shut"].placements == scenarios["evening"].placements


def test_readings_are_compared_with_the_model(served: Any, user: Any) -> None:
    user.open(served.address())
    expected = user.row("openings", "east window")[2]
    open_part(user, "Readings")
    user.page.locator("#reading-rows select").first.select_option("east window")
    entry = user.page.locator("#reading-rows input").first
    entry.fill(expected)
    entry.press("Enter")
    user.until("document.querySelector('#reading-rows tr td:nth-child(4)').textContent.startsWith('agree')")
    assert user.page.locator("#reading-rows tr").first.locator("td").nth(2).inner_text() == expected
    entry = user.page.locator("#reading-rows input").first
    entry.fill("9")
    entry.press("Enter")
    user.until("document.querySelector('#reading-rows tr td:nth-child(4)').textContent.startsWith('measured more')")
    entry = user.page.locator("#reading-rows input").first
    entry.fill("fast")
    entry.press("Enter")
    user.until("document.querySelector('#reading-rows tr td:nth-child(4)').textContent.includes('a speed such as')")


@pytest.mark.slow
def test_a_plan_for_tonight_is_followed_on_the_plan_by_its_slider_and_used(served: Any, user: Any) -> None:
    served.path.write_text(served.text().replace("size: [4 m, 4 m]}", "size: [4 m, 4 m], use: bedroom}"), "utf-8")
    served.start_again()
    user.open(served.address())
    text = served.session.draft.text
    open_part(user, "Tonight")
    user.page.locator("#tonight-go").click()
    user.page.wait_for_selector("#tonight-found .error", timeout=60_000)
    assert "such as 31 °C" in user.page.inner_text("#tonight-found")
    for key, value in (("high", "30 °C"), ("low", "15 °C"), ("quiet", "70 dB")):
        user.page.locator(f"#tonight [data-field={key}]").fill(value)
    user.page.locator("#tonight-go").click()
    user.page.wait_for_selector("#tonight-time", timeout=120_000)
    assert user.page.locator("#tonight-found .timeline > li").count() >= 2
    last = user.page.locator("#tonight-time").get_attribute("max")
    user.page.locator("#tonight-time").fill(str(int(last) * 3 // 4))
    user.until("document.querySelector('#scale').textContent.startsWith('Temperature')")
    user.until("document.querySelector('#plan text.rate').textContent.includes('°C')")
    assert served.session.draft.text == text, "looking at the night changes nothing"
    user.page.get_by_role("button", name="Back to now").click()
    user.until("document.querySelector('#scale').textContent.startsWith('Outdoor air')")
    user.page.locator("#tonight-time").fill("0")
    user.until("document.body.hasAttribute('data-preview')")
    open_part(user, "Smoke or a smell")
    user.page.locator("#smoke-go").click()
    user.page.wait_for_selector("#smoke-time", timeout=60_000)
    assert user.page.evaluate("!document.body.hasAttribute('data-preview')"), "smoke is about the scenario in hand"
    user.page.locator("#smoke-time").fill("1")
    user.until("document.querySelector('#scale').textContent.startsWith('Left of the smoke in')")
    user.page.locator("#tonight-time").fill("2")
    user.until("document.querySelector('#scale').textContent.startsWith('Temperature')")
    user.page.get_by_role("button", name="Use the night as a new scenario").click()
    user.until("document.querySelector('#scenario').value === 'tonight, night'")
    assert "tonight, night" in served.session.draft.house.scenarios


WEATHER = "time,temperature\n" + "".join(
    f"{hour % 24}:00,{22 + 8 * math.cos((hour - 15) * math.pi / 12):.1f}\n" for hour in range(17, 37)
)
"""From 17:00 to noon, warmest at 15:00; invented."""


@pytest.mark.slow
def test_a_weather_file_replaces_the_high_and_the_low_for_tonight(served: Any, user: Any) -> None:
    served.path.write_text(served.text().replace("size: [4 m, 4 m]}", "size: [4 m, 4 m], use: bedroom}"), "utf-8")
    served.start_again()
    user.open(served.address())
    open_part(user, "Tonight")
    open_part(user, "Hourly weather from a file")

    def choose(text: str) -> None:
        content = {"name": "forecast.csv", "mimeType": "text/csv", "buffer": text.encode()}
        user.page.locator("#weather-file").set_input_files(content)
        user.page.wait_for_selector("#tonight >> text=forecast.csv")

    choose("time,temperature\n17:00,warm\n18:00,20\n")
    assert user.page.locator("#tonight [data-field=high]").count() == 0
    user.page.locator("#tonight-go").click()
    user.page.wait_for_selector("#tonight-found .error", timeout=60_000)
    assert "line 2, temperature" in user.page.inner_text("#tonight-found")
    user.page.get_by_role("button", name="Use a high and a low instead").click()
    assert user.page.locator("#tonight [data-field=high]").count() == 1
    open_part(user, "Hourly weather from a file")
    choose(WEATHER)
    user.page.locator("#tonight-go").click()
    user.page.wait_for_selector("#tonight-time", timeout=120_000)
    user.page.locator("#tonight-time").fill("0")
    user.until("document.querySelector('.moment').textContent.startsWith('17:00, outdoors 28.9 °C')")
    assert "humidity" in user.page.inner_text("#tonight-found"), "what the file lacks is assumed, and said so"


def asked(**typed: str) -> dict[str, str]:
    return {"high": "30", "low": "15", **typed}


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"waking": "22:40"}, "1 to 16 hours after it"),
        ({"high": "warm"}, "tonight > high"),
        ({"bedtime": "late"}, "a time of day such as 22:30"),
        ({"weather": WEATHER, "waking": "14:00"}, "the weather ends at 12:00, before people wake"),
    ],
)
def test_a_night_that_cannot_be_planned_is_refused_with_what_is_allowed(
    served: Any, typed: dict[str, str], words: str
) -> None:
    house = served.routes.house()
    with pytest.raises(InputError, match=words):
        tonight(house, house.scenarios["evening"], asked(**typed), "si", lambda done, total: None)


@pytest.mark.slow
def test_a_bare_forecast_is_in_the_units_that_are_shown(served: Any) -> None:
    served.path.write_text(served.text().replace("size: [4 m, 4 m]}", "size: [4 m, 4 m], use: bedroom}"), "utf-8")
    served.start_again()
    house = served.routes.house()
    answer = tonight(house, house.scenarios["evening"], {"high": "86", "low": "59"}, "us", lambda done, total: None)
    outdoors_f = [float(f["note"].split()[1]) for f in answer["course"]["frames"]]
    assert 59.0 <= min(outdoors_f) < max(outdoors_f) <= 86.0


@pytest.mark.slow
def test_smoke_is_seen_to_clear_by_its_slider(served: Any, user: Any) -> None:
    user.open(served.address())
    open_part(user, "Smoke or a smell")
    user.page.locator("#smoke-go").click()
    user.page.wait_for_selector("#smoke-time", timeout=60_000)
    rate = '#plan text.rate[data-of="room living"]'
    user.page.locator("#smoke-time").fill("0")
    user.page.locator("#smoke-time").dispatch_event("input")
    user.until(f"document.querySelector('{rate}').textContent === '100 %'")
    user.page.locator("#smoke-time").fill(user.page.locator("#smoke-time").get_attribute("max"))
    user.until(f"parseInt(document.querySelector('{rate}').textContent) <= 5")
