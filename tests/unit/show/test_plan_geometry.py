"""Plans are to scale, and jets and bands of air are as wide as the solver has them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from shapely import LineString, Point, Polygon, unary_union

from tests.unit.show.solved_examples import SOLVED, planned, solved
from ventplan.network.answer import solve_arrays
from ventplan.network.weather import densities
from ventplan.physics.jet_path import axis_speed
from ventplan.show.paper import POINTS_PER_M
from ventplan.show.plan_air import stream_shapes, streams_of, width_per_flow
from ventplan.show.plan_jets import fan_direction, fan_spot, jet_areas, jets_of, own_jet
from ventplan.show.plan_shapes import frame_of
from ventplan.show.plan_storeys import hole, storeys_of, wall_gap_m, walls_of


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_rooms_on_the_page_are_to_the_scale_that_the_page_says(name: str, scenario: str) -> None:
    house, _, _ = solved(name, scenario)
    plan, layout = planned(name, scenario)
    for panel in layout.panels:
        assert panel.points_per_m == pytest.approx(POINTS_PER_M / layout.scale)
        for area in panel.panel.areas:
            if area.what.startswith("room "):
                corners = [panel.on_page(p) for p in area.rings[0]]
                wanted = house.rooms[area.what.removeprefix("room ")].area_m2
                assert Polygon(corners).area / panel.points_per_m**2 == pytest.approx(wanted)
    assert len(plan.panels) == len(layout.panels)


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_every_opening_in_a_wall_is_a_hole_of_its_own_width(name: str, scenario: str) -> None:
    house, _, _ = solved(name, scenario)
    for storey in storeys_of(house, "si"):
        walls = walls_of(house, storey)
        for opening_name in storey.openings:
            opening = house.openings[opening_name]
            if opening.is_horizontal:
                continue
            gap = Polygon(hole(frame_of(opening, wall_gap_m(house, opening))))
            assert walls.intersection(gap).area < 1e-9
            assert math.dist(*list(gap.exterior.coords)[:2]) == pytest.approx(opening.width_m)
            beside = LineString([opening.start, opening.end]).buffer(0.2).intersection(walls)
            assert beside.area > 0.0, f"{opening_name} is in no wall"


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_every_opening_and_room_is_on_just_one_storey(name: str, scenario: str) -> None:
    house, _, _ = solved(name, scenario)
    storeys = storeys_of(house, "si")
    assert sorted(n for s in storeys for n in s.openings) == sorted(house.openings)
    assert sorted(n for s in storeys for n in s.rooms) == sorted(house.rooms)


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_jets_reach_their_openings_as_wide_and_fast_as_the_solver_has_them(name: str, scenario: str) -> None:
    house, state, _ = solved(name, scenario)
    at_openings = {(b.opening, b.after): b for b in solve_arrays(house, state)[0].jets}
    density = densities(house, state)
    jets = jets_of(house, state)
    assert len(jets) >= sum(not p.sealed for p in state.placements)
    for jet in jets:
        if not jet.after and len([j for j in jets if j.opening == jet.opening]) > 1:
            continue
        there = at_openings[jet.opening, jet.after].at_plane
        assert math.dist(jet.low[-1], jet.high[-1]) == pytest.approx(there.y_edge_m[1] - there.y_edge_m[0])
        assert jet.speeds_m_s[-1] == pytest.approx(axis_speed(jet=there, density=density[jet.place]))
        assert jet.setbacks_m[-1] == pytest.approx(0.0, abs=1e-12)
        assert all(a >= b for a, b in zip(jet.speeds_m_s, jet.speeds_m_s[1:], strict=False))


@pytest.mark.slow
def test_a_second_jet_is_what_the_first_opening_left_over() -> None:
    house, state, flow = solved("rambling_house", "upstairs at night")
    assert flow.in_line
    assert {b.opening for b in solve_arrays(house, state)[0].jets if b.after} == set(flow.in_line)


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_fans_stand_as_far_back_as_they_are_placed(name: str, scenario: str) -> None:
    house, state, _ = solved(name, scenario)
    for placement in state.placements:
        if placement.sealed:
            continue
        opening = house.openings[placement.opening]
        wall = LineString([opening.start, opening.end])
        along = frame_of(opening).u
        longer = LineString(
            [(opening.start[0] - 9 * along[0], opening.start[1] - 9 * along[1]),
             (opening.end[0] + 9 * along[0], opening.end[1] + 9 * along[1])]
        )  # fmt: skip
        assert wall.length == pytest.approx(opening.width_m)
        assert longer.distance(Point(fan_spot(house, state, placement))) == pytest.approx(placement.setback_m, abs=1e-6)


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_bands_of_air_are_as_wide_as_their_flow_and_balance_in_each_opening(name: str, scenario: str) -> None:
    house, state, flow = solved(name, scenario)
    scale = width_per_flow(house, state, flow)
    strongest = max(max(o.forward_m3_s, o.backward_m3_s) for o in flow.openings.values())
    for storey in storeys_of(house, "si"):
        streams = streams_of(house, state, flow, storey)
        for stream in streams:
            assert stream.width_m == pytest.approx(scale * stream.flow_m3_s)
        for name_ in storey.openings:
            air = flow.openings[name_]
            if house.openings[name_].is_external and not house.openings[name_].is_horizontal:
                outside = sum(s.flow_m3_s for s in streams if s.place == "outdoors" and name_ in (s.start, s.end))
                inside = sum(s.flow_m3_s for s in streams if s.place != "outdoors" and name_ in (s.start, s.end))
                assert outside == pytest.approx(air.forward_m3_s + air.backward_m3_s, abs=0.04 * strongest)
                assert inside <= outside * 1.3 + 0.1 * strongest


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_bands_of_air_stay_inside_their_rooms(name: str, scenario: str) -> None:
    house, state, flow = solved(name, scenario)
    for storey in storeys_of(house, "si"):
        for stream in streams_of(house, state, flow, storey):
            if stream.place == "outdoors":
                continue
            room = Polygon(house.rooms[stream.place].corners).buffer(0.3)
            line = LineString(stream.points)
            assert line.difference(room).length < 0.15 * max(line.length, 1.0), (stream.start, stream.end)


def test_furniture_and_walls_do_not_hide_fans() -> None:
    house, state, _ = solved("bungalow", "evening, two fans")
    plan, _ = planned("bungalow", "evening, two fans")
    fans = unary_union([Polygon(a.rings[0]) for a in plan.panels[0].areas if a.what.startswith("fan ")])
    assert fans.area == pytest.approx(sum(house.fans[p.fan].diameter_m * 0.16 for p in state.placements), rel=1e-6)
    assert plan.panels[0].walls.intersection(fans).area < 1e-9


@pytest.mark.parametrize("turn_deg", [-50.0, 0.0, 35.0])
@pytest.mark.parametrize("stands_in", ["living", "outdoors"])
def test_the_jet_of_a_turned_fan_begins_at_its_blades_and_ends_at_walls(turn_deg: float, stands_in: str) -> None:
    house, state, _ = solved("bungalow", "evening, two fans")
    placement = replace(
        state.placements[0], opening="living west window", stands_in=stands_in, turn_deg=turn_deg, aside_m=0.2,
        setback_m=1.0, height_m=None,
    )  # fmt: skip
    moved = replace(state, placements=(placement,))
    jet = own_jet(house, moved, placement, densities(house, moved)[stands_in])
    at, way = fan_spot(house, state, placement), fan_direction(house, placement)
    base = LineString([jet.low[0], jet.high[0]])
    assert Point(at).distance(base) < 1e-9
    assert math.dist(base.centroid.coords[0], at) < 1e-9, "the base is centred on the blades"
    assert (jet.high[0][0] - jet.low[0][0]) * way[0] + (jet.high[0][1] - jet.low[0][1]) * way[1] == pytest.approx(0.0)
    drawn = unary_union([Polygon(r) for a in jet_areas(house, jet, 3.0) for r in a.rings])
    rooms = [Polygon(r.corners) for r in house.rooms.values()]
    if stands_in == "outdoors":
        assert drawn.intersection(unary_union(rooms)).area < 1e-9
    else:
        assert drawn.difference(Polygon(house.rooms["living"].corners).buffer(0.07, join_style="mitre")).area < 1e-9


@pytest.mark.parametrize(("name", "scenario"), SOLVED)
def test_bands_of_air_cross_no_wall_and_keep_off_furniture_where_they_can(name: str, scenario: str) -> None:
    house, state, flow = solved(name, scenario)
    over_furniture = drawn = 0.0
    for storey in storeys_of(house, "si"):
        for stream in streams_of(house, state, flow, storey):
            if stream.place == "outdoors":
                continue
            band = unary_union([Polygon(a.rings[0]) for a in stream_shapes(house, stream) if a.opacity < 0.9])
            room = Polygon(house.rooms[stream.place].corners).buffer(0.07, join_style="mitre")
            assert band.difference(room).area < 1e-6, (stream.start, stream.end)
            things = [Polygon(o.corners) for o in house.obstacles.values() if o.room == stream.place]
            over_furniture += band.intersection(unary_union(things)).area
            drawn += band.area
    assert over_furniture <= 0.02 * drawn


def test_an_upper_storey_shows_the_floor_below_where_it_does_not_cover_it() -> None:
    house, _, _ = solved("two_storey", "night")
    plan, _ = planned("two_storey", "night")
    ground, upper = plan.panels
    ghosts = [Polygon(a.rings[0]) for a in upper.areas if a.layer == "below"]
    assert not [a for a in ground.areas if a.layer == "below"]
    assert ghosts
    rooms_above = [Polygon(a.rings[0]) for a in upper.areas if a.what.startswith("room ")]
    assert unary_union(ghosts).intersection(unary_union(rooms_above)).area < 1e-9
    garage = Polygon(house.rooms["garage"].corners)
    assert unary_union(ghosts).intersection(garage).area > 0.9 * garage.area
