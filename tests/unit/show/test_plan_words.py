"""Words on plans: free of one another, inside the page, and as the solver has it."""

from __future__ import annotations

import itertools
import re

import pytest

from tests.unit.show.solved_examples import SOLVED, planned, solved
from ventplan.house.units import System, rounded, show
from ventplan.show.plan import Plan
from ventplan.show.plan_labels import overlap, within
from ventplan.show.plan_notes import Tint
from ventplan.show.plan_shapes import Note


def every_note(plan: Plan) -> list[Note]:
    return [note for panel in plan.panels for note in panel.notes]


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
@pytest.mark.parametrize("system", ["si", "us"])
def test_notes_do_not_overlap_and_stay_on_the_page(name: str, scenario: str, system: System) -> None:
    plan, layout = planned(name, scenario, "air-change", system)
    page = (0.0, 0.0, layout.width_pt, layout.height_pt)
    placed = [p for panel in layout.panels for p in panel.placed]
    assert len(placed) == len(every_note(plan))
    for one in placed:
        assert within(one.box, page)
    for panel in layout.panels:
        for one in panel.placed:
            assert within(one.box, panel.box)
        for one, other in itertools.combinations(panel.placed, 2):
            assert not overlap(one.box, other.box, 0.0), (one.lines, other.lines)


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_painted_words_take_no_more_room_than_was_kept_for_them(name: str, scenario: str) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    from ventplan.show.plan import draw_plan

    figure = draw_plan(*solved(name, scenario))
    renderer = FigureCanvasAgg(figure).get_renderer()
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in figure.axes[0].texts]
    width, height = figure.get_figwidth() * 72.0, figure.get_figheight() * 72.0
    for text, box in boxes:
        assert box.x0 >= -0.5, text
        assert box.x1 <= width + 0.5, text
        assert box.y0 >= -0.5, text
        assert box.y1 <= height + 0.5, text
    for (one, a), (other, b) in itertools.combinations(boxes, 2):
        shared = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
        # painted letters are hinted to whole pixels: lines of one note may touch by that
        assert min(shared) < 1.0, (one, other)


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
@pytest.mark.parametrize("system", ["si", "us"])
def test_every_number_at_an_opening_is_the_solvers(name: str, scenario: str, system: System) -> None:
    _, _, flow = solved(name, scenario)
    plan, _ = planned(name, scenario, "air-change", system)
    seen = set()
    for note in every_note(plan):
        kind, _, owner = note.what.partition(": ")
        if kind != "opening" or owner not in flow.openings:
            continue
        air = flow.openings[owner]
        flows = {show(q, "flow", system) for q in (air.forward_m3_s, air.backward_m3_s, abs(air.net_m3_s))}
        for line in note.lines[1:]:
            if line.startswith("reading "):
                assert line == f"reading {show(air.reading_m_s, 'speed', system)}"
            elif re.search(r"\d", line):
                assert any(line.endswith(text) for text in flows), line
                seen.add(owner)
    strongest = max(abs(o.net_m3_s) for o in flow.openings.values())
    assert seen >= {
        name for name, o in flow.openings.items() if abs(o.net_m3_s) > 0.02 * strongest and o.free_area_m2 > 0
    }


@pytest.mark.parametrize(("name", "scenario"), [("bungalow", "evening, two fans"), ("two_storey", "night")])
def test_the_note_of_a_fan_gives_the_net_flow_of_its_opening(name: str, scenario: str) -> None:
    _, state, flow = solved(name, scenario)
    notes = {note.what: note for note in every_note(planned(name, scenario, None, "si")[0])}
    for placement in state.placements:
        air = flow.openings[placement.opening]
        net = show(abs(air.net_m3_s), "flow", "si")
        assert f"{net} net through its opening" in notes[f"fan: {placement.fan}"].lines
        said = notes[f"opening: {placement.opening}"].lines
        assert f"out {net}" in said or f"out {show(air.forward_m3_s, 'flow', 'si')}" in said


def test_the_note_of_a_jet_gives_its_speed_at_its_opening() -> None:
    from ventplan.show.plan_jets import jets_of

    house, scenario, _ = solved("two_storey", "night")
    (jet,) = jets_of(house, scenario)
    (note,) = [n for n in every_note(planned("two_storey", "night", None, "si")[0]) if n.what.startswith("jet")]
    arrives = show(jet.speeds_m_s[-1], "speed", "si")
    assert note.lines == ("jet of stand fan", f"{arrives} in its middle", "at the opening")


def test_storeys_stand_above_one_another_with_little_room_between() -> None:
    _, layout = planned("two_storey", "night", None, "si")
    lower, upper = layout.panels
    assert lower.origin[0] == pytest.approx(upper.origin[0])
    assert lower.points_per_m == upper.points_per_m
    for panel in layout.panels:
        _, low, _, high = panel.panel.bounds()
        assert panel.box[3] - panel.box[1] < (high - low) * panel.points_per_m + 60.0


def test_the_way_to_another_floor_is_written_in_its_own_room_off_the_walls() -> None:
    from shapely import box

    _, layout = planned("two_storey", "night", None, "si")
    seen = 0
    for panel in layout.panels:
        for placed in panel.placed:
            if placed.note.what == "level":
                (left, low, right, high), (x, y), scale = placed.box, panel.origin, panel.points_per_m
                words = box((left - x) / scale, (low - y) / scale, (right - x) / scale, (high - y) / scale)
                assert placed.note.inside.covers(words)
                assert not words.intersects(panel.panel.walls)
                seen += 1
    assert seen == 2


def test_a_window_and_its_fan_are_drawn_where_their_room_is() -> None:
    from ventplan.house import parse_house
    from ventplan.show.plan_storeys import storeys_of

    house = parse_house(
        """
rooms:
  low: {at: [0, 0], size: [4, 4], ceiling: 2.4 m}
  half up: {at: [4, 0], size: [4, 4], floor: 1.2 m}
  top: {at: [0, 4], size: [4, 4], floor: 2.7 m}
openings:
  low window: {kind: window, joins: [low, outdoors], wall: west, size: [1, 1], sill: 1.1 m}
  top window: {kind: window, joins: [top, outdoors], wall: west, size: [1, 1], sill: 0.9 m}
fans: {box fan: {like: box 20 in}}
scenarios:
  night: {open: [top window], fans: [{fan: box fan, blows out: top window, setback: 1 m}]}
"""
    )
    where = {name: storey.rooms for storey in storeys_of(house, "si") for name in storey.openings}
    assert where == {"low window": ("low",), "top window": ("top",)}


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
@pytest.mark.parametrize("kind", ["air-change", "total-exchange"])
def test_every_room_is_named_with_its_own_air_change_rate(name: str, scenario: str, kind: Tint) -> None:
    from ventplan.airing.age import outdoor_air_change_rates_per_h

    house, state, flow = solved(name, scenario)
    outdoor = outdoor_air_change_rates_per_h(house, state, flow)
    plan, _ = planned(name, scenario, kind, "si")
    found = {n.what.partition(": ")[2]: n.lines for n in every_note(plan) if n.what.startswith("room") and not n.quiet}
    assert set(found) == set(house.rooms)
    for room, lines in found.items():
        air = flow.rooms[room]
        rate = outdoor[room] if kind == "air-change" else air.air_change_per_h
        assert lines == (room, f"{rounded(rate, 2, 1)} /h" if rate >= 0.05 else "below 0.1 /h")


def test_cracks_of_a_shut_house_are_no_streams_and_no_figure_is_zero() -> None:
    from ventplan.network import solve
    from ventplan.show.plan import plan_of, subtitle_of

    house, _, aired = solved("bungalow", "evening, two fans")
    shut = house.first_scenario()
    flow = solve(house, shut)
    assert max(abs(o.net_m3_s) for o in flow.openings.values()) > 0.0
    plan = plan_of(house, shut, flow)
    assert "stream" not in plan.symbols
    assert plan.stream_key is None
    assert set(plan.tints.colours.values()) == {"fresh 1"}, "a house that is shut looks shut"
    assert not [line for note in every_note(plan) for line in note.lines if re.match(r"(in |out )?0 ", line)]
    assert "Hardly any air moves" in subtitle_of(shut, flow, "us")
    assert "Hardly any" not in subtitle_of(shut, aired, "us")


@pytest.mark.parametrize("kind", ["age", "temperature"])
def test_floors_show_age_and_temperature_as_computed(kind: Tint) -> None:
    from ventplan.airing.age import age_of_air
    from ventplan.airing.air_paths import air_paths
    from ventplan.house.units import show_time

    house, scenario, flow = solved("two_storey", "night")
    plan, _ = planned("two_storey", "night", kind, "si")
    ages = age_of_air(air_paths(house, scenario, flow)).rooms
    for room in house.rooms:
        wanted = (
            f"{show_time(ages[room].age_s)} old"
            if kind == "age"
            else show(scenario.temperatures_c[room], "temperature", "si")
        )
        assert plan.tints.values[room] == wanted


def test_a_room_without_outdoor_air_is_called_isolated() -> None:
    from dataclasses import replace

    from ventplan.network import solve
    from ventplan.show.plan import draw_plan, plan_of

    house, scenario, _ = solved("one_room_flat", "evening")
    tight = {n: replace(o, leak_m3_s=0.0) if n.startswith("bath") else o for n, o in house.openings.items()}
    rooms = {n: replace(r, leak_m3_s=0.0) if n == "bath" else r for n, r in house.rooms.items()}
    shut = replace(scenario, shares={n: 0.0 if n.startswith("bath") else s for n, s in scenario.shares.items()})
    alone = replace(house, openings=tight, rooms=rooms)
    flow = solve(alone, shut)
    assert flow.isolated_rooms == ("bath",)
    for tint in (None, "air-change", "age", "temperature"):
        draw_plan(alone, shut, flow, tint=tint)
    notes = [n.lines for n in every_note(plan_of(alone, shut, flow)) if n.what == "room: bath"]
    assert notes == [("bath", "isolated")]


@pytest.mark.slow
def test_what_finds_no_place_is_numbered_and_listed_below() -> None:
    from dataclasses import replace

    from ventplan.show.plan import plan_of
    from ventplan.show.plan_page import lay_out, list_line

    house, scenario, flow = solved("one_room_flat", "evening")
    panel = plan_of(house, scenario, flow).panels[0]
    notes = tuple(
        replace(panel.notes[0], what=f"opening: {i}", lines=(f"crowded note {i}", "of two lines"), inside=None)
        for i in range(40)
    )
    layout = lay_out((replace(panel, notes=notes),), head_pt=30.0, foot_height=lambda _: 60.0)
    placed = layout.panels[0].placed
    assert len(placed) == len(notes)
    assert layout.listed
    assert [p.number for p in layout.listed] == list(range(1, len(layout.listed) + 1))
    assert list_line(layout.listed[0]).startswith("1  crowded note")
    for one, other in itertools.combinations(placed, 2):
        assert not overlap(one.box, other.box, 0.0)


def test_rooms_too_narrow_for_their_names_are_named_inside_all_the_same() -> None:
    from shapely import box

    _, layout = planned("crowded_cottage", "everything open", "air-change", "si")
    (panel,) = layout.panels
    outside = []
    for placed in panel.placed:
        if placed.note.what.startswith("room: "):
            corners = [(value - panel.origin[i % 2]) / panel.points_per_m for i, value in enumerate(placed.box)]
            if placed.note.inside.intersection(box(*corners)).area < 0.7 * box(*corners).area:
                outside.append(placed.note.lines[0])
            assert " ".join(placed.lines[: placed.names]) == placed.note.lines[0]
    assert outside == ["housekeeper's larder"]  # a single word is wider than that room


def test_a_crowded_plan_is_drawn_larger_than_an_airy_one_of_its_size() -> None:
    from dataclasses import replace

    from ventplan.show.plan_page import scale_for

    plan, layout = planned("crowded_cottage", "everything open", "air-change", "si")
    airy = tuple(replace(panel, notes=panel.notes[:8]) for panel in plan.panels)
    assert layout.scale < scale_for(airy)


def test_a_fan_that_the_wind_overcomes_is_given_the_flow_against_it() -> None:
    _, _, flow = solved("crowded_cottage", "everything open")
    beaten = next(fan for fan in flow.fans if fan.driven_m3_s < 0.0)
    notes = {note.what: note for note in every_note(planned("crowded_cottage", "everything open", None, "si")[0])}
    net = show(-beaten.driven_m3_s, "flow", "si")
    assert notes[f"fan: {beaten.name}"].lines[-1] == f"{net} net against it"


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_no_reading_is_asked_for_that_an_anemometer_would_not_show(name: str, scenario: str) -> None:
    from ventplan.show.plan_notes import LEAST_READING_M_S

    _, _, flow = solved(name, scenario)
    for note in every_note(planned(name, scenario, "air-change", "si")[0]):
        if any(line.startswith("reading ") for line in note.lines):
            assert flow.openings[note.lines[0]].reading_m_s >= LEAST_READING_M_S


def test_the_legend_explains_just_what_is_drawn() -> None:
    plan, _ = planned("hallway_rig", "both fans side by side")
    assert plan.symbols == ("stream", "fan", "jet")
    plan, _ = planned("two_storey", "night")
    assert plan.symbols == ("window", "door", "screen", "obstacle", "stream", "below", "from", "to", "fan", "jet")


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_lines_from_notes_seldom_cross_one_another(name: str, scenario: str) -> None:
    import numpy as np

    from ventplan.show.plan_labels import meet

    _, layout = planned(name, scenario, "air-change", "si")
    for panel in layout.panels:
        lines = np.array([(*p.leader[0], *p.leader[1]) for p in panel.placed if p.leader]).reshape(-1, 4)
        assert meet(lines, lines).sum() / 2 <= 0.05 * len(panel.placed)
