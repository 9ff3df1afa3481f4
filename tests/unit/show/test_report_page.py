"""A report stands alone, is valid, can be read by everybody, and has the solver's numbers."""

from __future__ import annotations

import re
from functools import cache
from html.parser import HTMLParser
from typing import Any

import html5lib
import pytest

from tests.unit.show.solved_examples import solved
from ventplan.advice import Objective
from ventplan.advice.comparison import outdoor_air
from ventplan.advice.plan import PlaceAnswer
from ventplan.house.records import House
from ventplan.house.units import show
from ventplan.show.cautions import texts
from ventplan.show.report import report_page
from ventplan.show.report_data import Report, report_of
from ventplan.show.tables import number, objective_words

CASES = [("one_room_flat", "evening"), ("two_storey", "night, sealed fan"), ("hallway_rig", "as it stands")]
EVERY = pytest.mark.parametrize(("name", "scenario"), CASES)


@cache
def content(name: str, scenario: str) -> Report:
    house, plan, flow = solved(name, scenario)
    return report_of(house, plan, flow, question="What does it do?", draws=16)


@cache
def page(name: str, scenario: str) -> str:
    return report_page(content(name, scenario))


@cache
def tree(name: str, scenario: str) -> Any:
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page(name, scenario))


@pytest.mark.slow
@EVERY
def test_pages_are_valid_html(name: str, scenario: str) -> None:
    assert tree(name, scenario).find("body") is not None


@EVERY
def test_pages_ask_nothing_from_any_host_and_run_nothing(name: str, scenario: str) -> None:
    text = page(name, scenario)
    assert "<script" not in text
    assert "@import" not in text
    found = re.findall(r'(?:href|src|srcset|action|poster|data)="([^"]*)"', text)
    assert all(link.startswith("#") for link in found)
    outside = set(re.findall(r"https?://[^\"'\s<]+", text)) - {
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xlink",
    }
    assert outside == set()
    assert re.findall(r"url\((?!#)[^)]*\)", text) == []


@EVERY
def test_pages_have_one_first_head_and_no_gap_in_heads(name: str, scenario: str) -> None:
    levels = [
        int(e.tag[1]) for e in tree(name, scenario).iter() if isinstance(e.tag, str) and re.fullmatch(r"h[1-6]", e.tag)
    ]
    assert levels.count(1) == 1
    assert set(levels) == {1, 2}
    assert tree(name, scenario).attrib["lang"] == "en"


@EVERY
def test_tables_are_real_and_pictures_have_words(name: str, scenario: str) -> None:
    for table in tree(name, scenario).iter("table"):
        assert table.find("caption").text
        assert all(th.attrib["scope"] == "col" for th in table.find("thead").iter("th"))
        assert all(row.find("th").attrib["scope"] == "row" for row in table.find("tbody").iter("tr"))
    pictures = [e for e in tree(name, scenario).iter() if isinstance(e.tag, str) and e.tag.endswith("svg")]
    assert pictures
    for picture in pictures:
        assert picture.attrib["role"] == "img"
        ids = {e.attrib["id"]: e for e in picture.iter() if "id" in e.attrib}
        named = picture.attrib["aria-labelledby"].split()
        assert all("".join(ids[one].itertext()).strip() for one in named)


@EVERY
def test_every_id_is_used_once(name: str, scenario: str) -> None:
    ids = [e.attrib["id"] for e in tree(name, scenario).iter() if "id" in getattr(e, "attrib", {})]
    assert len(ids) == len(set(ids))


@EVERY
def test_colours_follow_light_and_dark(name: str, scenario: str) -> None:
    text = page(name, scenario)
    assert "prefers-color-scheme: dark" in text
    drawn = text[text.index("<body>") :]
    codes = set(re.findall(r"(?:fill|stroke): (#[0-9a-f]{6})", drawn))
    assert codes == set()


@EVERY
def test_the_page_has_the_solvers_numbers(name: str, scenario: str) -> None:
    house, _, flow = solved(name, scenario)
    text = re.sub(r"\s+", " ", "".join(tree(name, scenario).itertext()))
    system = house.show
    assert show(outdoor_air(flow), "flow", system) in text
    for fan in flow.fans:
        assert show(fan.driven_m3_s, "flow", system) in text
        assert show(fan.blades_m3_s, "flow", system) in text
    rows = {row[0]: row for row in content(name, scenario).openings[1]}
    for opening, row in rows.items():
        assert row[2] == number(abs(flow.openings[opening].net_m3_s), "flow", system)
    for row in content(name, scenario).readings[1]:
        assert row[2] == number(flow.openings[row[0]].reading_m_s, "speed", system)
    for _, tasks in content(name, scenario).tasks:
        assert all(task in text for task in tasks)
    assert all(task in text for task in content(name, scenario).later)


def test_screens_on_are_compared_with_screens_off() -> None:
    from dataclasses import replace

    from ventplan.network import solve

    house, plan, _ = solved("one_room_flat", "evening")
    bare = outdoor_air(solve(house, replace(plan, screened=frozenset())))
    flows = content("one_room_flat", "evening").screen_flows
    assert flows["every screen off"] == pytest.approx(bare)
    assert bare > flows["every screen in place, as planned"]
    assert content("hallway_rig", "as it stands").screens[1] == ()


def test_limits_come_largest_first_and_for_the_objective_that_was_asked() -> None:
    house, plan, flow = solved("one_room_flat", "evening")
    report = report_of(house, plan, flow, question="?", aim=Objective("room", "room"), draws=16)
    gains = [float(row[1].split()[0].replace("−", "-")) for row in report.limits[1] if "%" in row[1]]
    assert gains == sorted(gains, reverse=True)
    assert report.limits[0][1] == objective_words(Objective("room", "room"))


def test_the_gravest_caution_comes_before_what_to_do_and_every_remedy_once() -> None:
    text = page("two_storey", "night, sealed fan")
    assert 0 < text.index('id="caution"') < text.index('id="evening"') < text.index('id="picture"')
    remedies = {c.do for c in content("two_storey", "night, sealed fan").cautions}
    assert remedies
    plain, closing = html_text(text), texts()["closing"]
    assert plain.count(closing) == 1
    for remedy in remedies:
        assert plain.count(" ".join(remedy.removesuffix(closing).split())) == 1


def test_the_rest_comes_only_when_asked_for() -> None:
    short, full = page("one_room_flat", "evening"), report_page(content("one_room_flat", "evening"), full=True)
    for part in ("distance", "screens", "limits", "all", "sources", "assumed"):
        assert f'id="{part}"' not in short
        assert f'id="{part}"' in full
    house, _, _ = solved("one_room_flat", "evening")
    assert all(sentence[1:] in html_text(full) for sentence in house.defaults)


def test_each_storey_has_a_picture_of_its_own_those_with_a_fan_first() -> None:
    text = page("two_storey", "night")
    assert 'id="plan-title"' in text
    assert 'id="plan1-title"' in text
    first = text[text.index('id="plan-title"') : text.index('id="plan1-title"')]
    assert "upper" in first.lower() or "first floor" in first.lower() or "2.8" in first


def html_text(text: str) -> str:
    parts = []
    parser = HTMLParser()
    parser.handle_data = parts.append
    parser.feed(text)
    return " ".join("".join(parts).split())


def test_names_cannot_break_out_of_the_page() -> None:
    from dataclasses import replace

    house, plan, flow = solved("hallway_rig", "box fan at 1 m")
    odd = replace(house, name='<script>alert("x")</script>')
    text = report_page(report_of(odd, plan, flow, question="<b>?</b>", draws=16))
    assert "<script" not in text
    assert "<b>" not in text


def test_cautions_that_are_not_the_gravest_are_named_on_the_first_page() -> None:
    text = page("one_room_flat", "evening")
    first = html_text(text[: text.index('id="numbers"')])
    assert all(c.about in first for c in content("one_room_flat", "evening").cautions)


def test_all_flows_leave_out_what_is_shut_and_hardly_leaks() -> None:
    _, plan, flow = solved("two_storey", "night, sealed fan")
    listed = {row[0] for row in content("two_storey", "night, sealed fan").openings[1]}
    opened = {name for name, share in plan.shares.items() if share > 0.0}
    assert opened <= listed
    strongest = max(abs(air.net_m3_s) for air in flow.openings.values())
    assert all(abs(flow.openings[name].net_m3_s) > 0.01 * strongest for name in listed - opened)
    assert "front door" not in listed


def test_what_was_asked_for_a_room_has_its_interval() -> None:
    house, plan, flow = solved("one_room_flat", "evening")
    asked = [("outdoor air", "0.52 m³/s"), ("as it stands", "0.01 m³/s")]
    report = report_of(house, plan, flow, question="?", aim=Objective("room", "room"), asked=asked, draws=16)
    through, before = (row[2] for row in report.figures[1][:2])
    assert before == "–"
    low, high = (float(text) for text in through.split(" to "))
    assert low < 0.52 < high


@cache
def placed(**aim: str) -> tuple[House, PlaceAnswer]:
    from ventplan.advice import place

    house, _, _ = solved("one_room_flat", "evening")
    return house, place(house, house.first_scenario(), fans=["pedestal fan"], count=1, **aim)


@pytest.mark.slow
def test_a_report_on_smoke_says_when_each_room_is_clear() -> None:
    from ventplan.airing.clearing import clear_house, share_released
    from ventplan.house.units import show_time
    from ventplan.show.report import course_of
    from ventplan.show.report_data import aim_rows

    house, answer = placed(clear="room")
    best = answer.plans[0]
    course = course_of(house, best.scenario, answer.objective, "si")
    (cleared,) = clear_house(house, [best.scenario], share_released(["room"]))
    assert f"room is clear after {show_time(cleared.clearing.rooms['room'].clear_s)}" in course.words
    rows = aim_rows(answer, "si")
    assert rows[0] == ("Room cleared soonest, with this plan", show_time(1.0 / best.value))
    report = report_of(house, best.scenario, best.flow, question="?", aim=answer.objective, asked=rows, draws=16)
    text = report_page(report, course=course)
    assert html5lib.HTMLParser(strict=True).parse(text) is not None
    assert all(words in html_text(text) and value in html_text(text) for words, value in rows)
    assert course.words in html_text(text)


@pytest.mark.slow
def test_a_report_on_a_cool_morning_says_how_cool_and_when_to_open() -> None:
    from tests.unit.show.solved_examples import EXAMPLES
    from ventplan.advice.objective import Objective as Asked
    from ventplan.airing.weather_files import read_weather
    from ventplan.show.report import course_of

    house, plan, flow = solved("one_room_flat", "evening")
    weather = read_weather(EXAMPLES / "weather_week.csv")
    aim = Asked("cool", "room", weather, 6.0)
    words = course_of(house, plan, aim, "si").words
    cool, warm = (float(text) for text in re.findall(r"([0-9.]+) °C", words))
    assert warm - cool == pytest.approx(aim.verdict(house, plan, flow), abs=0.11)
    assert re.search(r"Windows open: \d+:\d\d to \d+:\d\d", words)


def test_periods_that_follow_one_another_are_joined() -> None:
    from ventplan.show.report import joined

    assert joined([(0.0, 1.0), (1.0, 2.0), (3.0, 4.0)]) == [(0.0, 2.0), (3.0, 4.0)]
