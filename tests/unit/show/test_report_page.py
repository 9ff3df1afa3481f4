"""A report stands alone, is valid, can be read by everybody, and has the solver's numbers."""

import re
from functools import cache
from html.parser import HTMLParser

import html5lib
import pytest

from tests.unit.show.solved_examples import solved
from ventplan.advice import Aim
from ventplan.advice.compare import outdoor_air
from ventplan.house.shown import show
from ventplan.show.flow_tables import number
from ventplan.show.report import report_page
from ventplan.show.report_data import report_of

CASES = [("one_room_flat", "evening"), ("two_storey", "night, sealed fan"), ("hallway_rig", "as it stands")]
EVERY = pytest.mark.parametrize(("name", "scenario"), CASES)


@cache
def content(name, scenario):
    house, plan, flow = solved(name, scenario)
    return report_of(house, house.first_scenario(), plan, flow, question="What does it do?", draws=16)


@cache
def page(name, scenario):
    return report_page(content(name, scenario))


@cache
def tree(name, scenario):
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page(name, scenario))


@pytest.mark.slow
@EVERY
def test_pages_are_valid_html(name, scenario):
    assert tree(name, scenario).find("body") is not None


@EVERY
def test_pages_ask_nothing_from_any_host_and_run_nothing(name, scenario):
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
def test_pages_have_one_first_head_and_no_gap_in_heads(name, scenario):
    levels = [
        int(e.tag[1]) for e in tree(name, scenario).iter() if isinstance(e.tag, str) and re.fullmatch(r"h[1-6]", e.tag)
    ]
    assert levels.count(1) == 1
    assert set(levels) == {1, 2}
    assert tree(name, scenario).attrib["lang"] == "en"


@EVERY
def test_tables_are_real_and_pictures_have_words(name, scenario):
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
def test_no_id_stands_twice(name, scenario):
    ids = [e.attrib["id"] for e in tree(name, scenario).iter() if "id" in getattr(e, "attrib", {})]
    assert len(ids) == len(set(ids))


@EVERY
def test_colours_follow_light_and_dark(name, scenario):
    text = page(name, scenario)
    assert "prefers-color-scheme: dark" in text
    drawn = text[text.index("<body>") :]
    codes = set(re.findall(r"(?:fill|stroke): (#[0-9a-f]{6})", drawn))
    assert codes == set()


@EVERY
def test_the_page_has_the_solvers_numbers(name, scenario):
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
    for step in content(name, scenario).steps:
        assert step in text
    for sentence in house.defaults:
        assert sentence[1:] in text


def test_screens_are_held_against_no_screens():
    from dataclasses import replace

    from ventplan.network import solve

    house, plan, _ = solved("one_room_flat", "evening")
    bare = outdoor_air(solve(house, replace(plan, screened=frozenset())))
    flows = content("one_room_flat", "evening").screen_flows
    assert flows["every screen off"] == pytest.approx(bare)
    assert bare > flows["every screen in place, as planned"]
    assert content("hallway_rig", "as it stands").screens[1] == ()


def test_limits_come_largest_first_and_for_the_aim_that_was_asked():
    house, plan, flow = solved("one_room_flat", "evening")
    report = report_of(house, plan, plan, flow, question="?", aim=Aim("room", "room"), draws=16)
    gains = [float(row[1].split()[0].replace("−", "-")) for row in report.limits[1] if "%" in row[1]]
    assert gains == sorted(gains, reverse=True)
    assert report.limits[0][1] == Aim("room", "room").words()


def test_cautions_stand_before_the_picture_and_once_for_each_remedy():
    text = page("two_storey", "night, sealed fan")
    assert 0 < text.index('id="cautions"') < text.index('id="picture"')
    remedies = {c.do for c in content("two_storey", "night, sealed fan").cautions}
    assert remedies
    plain = html_text(text)
    for remedy in remedies:
        assert plain.count(" ".join(remedy.split())) == 1


def html_text(text):
    parts = []
    parser = HTMLParser()
    parser.handle_data = parts.append
    parser.feed(text)
    return " ".join("".join(parts).split())


def test_names_cannot_break_out_of_the_page():
    from dataclasses import replace

    house, plan, flow = solved("hallway_rig", "box fan at 1 m")
    odd = replace(house, name='<script>alert("x")</script>')
    text = report_page(report_of(odd, house.first_scenario(), plan, flow, question="<b>?</b>", draws=16))
    assert "<script" not in text
    assert "<b>" not in text
