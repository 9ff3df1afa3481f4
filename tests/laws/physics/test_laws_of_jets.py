"""What holds for every jet at every opening."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import Point, box, union_all
from shapely.affinity import scale

from ventplan.physics.jet_capture import JetCapture, capture_jets
from ventplan.physics.jet_path import JetAtPlane, JetPath, JetSource, jet_at_plane

DENSITY = 1.2


@st.composite
def sources(draw: st.DrawFn) -> JetSource:
    side = draw(st.floats(0.12, 0.75))
    return JetSource(
        thrust_n=draw(st.floats(0.2, 10.0)),
        width_m=side,
        height_m=side,
        spread=draw(st.floats(0.1, 0.22)),
        radius_m=draw(st.floats(0.08, 0.3)),
    )


@st.composite
def paths(draw: st.DrawFn, *, walls: bool = True) -> JetPath:
    inside = draw(st.booleans()) and walls
    sides = {"y_walls_m": (-2.0, 2.5), "z_walls_m": (-1.2, 1.3)} if inside else {}
    return JetPath(
        setback_m=draw(st.floats(0.0, 6.0)),
        y_m=draw(st.floats(-1.0, 1.0)),
        z_m=draw(st.floats(-0.9, 0.9)),
        y_slope=draw(st.one_of(st.just(0.0), st.floats(-0.8, 0.8))),
        z_slope=draw(st.one_of(st.just(0.0), st.floats(-0.6, 0.6))),
        **sides,
    )


lengths = st.floats(0.3, 3.0)


def at(source: JetSource, path: JetPath, width: float, height: float) -> JetCapture:
    jet = jet_at_plane(source=source, path=path)
    return capture_jets(jets=[jet], width_m=width, height_m=height, density=DENSITY)


@given(sources(), paths(walls=False), lengths, lengths)
def test_without_walls_no_opening_captures_more_momentum_than_the_thrust(
    source: JetSource, path: JetPath, width: float, height: float
) -> None:
    # Beside the axis of a jet at an angle its profile is taken as locally that of a straight one.
    slack = 1e-3 if path.cosine == 1.0 else 0.05
    assert at(source, path, width, height).momentum_n <= source.thrust_n * (1.0 + slack)


@given(sources(), paths(), lengths, lengths)
@example(JetSource(1.0, 0.16, 0.16, 0.125, 0.25), JetPath(1.0, y_m=1.0, y_slope=0.05), 0.5, 1.0)
def test_captured_flow_is_at_most_that_of_its_momentum_spread_evenly_over_the_opening(
    source: JetSource, path: JetPath, width: float, height: float
) -> None:
    found = at(source, path, width, height)
    assert found.flow_m3_s <= math.sqrt(found.momentum_n * width * height / DENSITY) * (1.0 + 1e-5) + 1e-12


@given(sources(), paths(), lengths, lengths)
def test_a_jet_covers_no_more_than_the_opening(source: JetSource, path: JetPath, width: float, height: float) -> None:
    assert -1e-12 <= at(source, path, width, height).covered_m2 <= width * height * (1.0 + 1e-9)


@given(sources(), paths(), lengths, lengths, st.floats(1.1, 4.0))
def test_captured_flow_follows_the_square_root_of_thrust(
    source: JetSource, path: JetPath, width: float, height: float, times: float
) -> None:
    stronger = replace(source, thrust_n=source.thrust_n * times)
    one, other = at(source, path, width, height), at(stronger, path, width, height)
    assert other.flow_m3_s == pytest.approx(one.flow_m3_s * math.sqrt(times), rel=1e-6)
    assert other.covered_m2 == pytest.approx(one.covered_m2, rel=1e-9, abs=1e-12)


@given(sources(), paths(), lengths, lengths)
def test_a_mirrored_jet_is_captured_as_well(source: JetSource, path: JetPath, width: float, height: float) -> None:
    low, high = path.y_walls_m
    mirrored = replace(path, y_m=-path.y_m, y_slope=-path.y_slope, y_walls_m=(-high, -low))
    one, other = at(source, path, width, height), at(source, mirrored, width, height)
    assert other.flow_m3_s == pytest.approx(one.flow_m3_s, rel=1e-6, abs=1e-12)
    assert other.momentum_n == pytest.approx(one.momentum_n, rel=1e-9, abs=1e-15)
    assert other.covered_m2 == pytest.approx(one.covered_m2, rel=1e-6, abs=1e-9)


@given(sources(), st.floats(0.0, 8.0))
def test_momentum_lost_in_a_closed_room_raises_the_pressure(source: JetSource, setback: float) -> None:
    path = JetPath(setback, y_walls_m=(-2.0, 2.0), z_walls_m=(-1.2, 1.3))
    jet = jet_at_plane(source=source, path=path)
    assert jet.momentum_n + jet.pressure_rise_pa * path.room_area_m2 == pytest.approx(source.thrust_n, rel=1e-12)


edges = st.floats(0.05, 1.5)
places = st.floats(-1.5, 1.5)


@settings(max_examples=50)
@given(st.lists(st.tuples(places, places, edges, edges), min_size=1, max_size=3), lengths, lengths)
def test_the_covered_area_is_the_union_of_ellipses(
    ellipses: list[tuple[float, float, float, float]], width: float, height: float
) -> None:
    jets = [
        JetAtPlane(1.0, y, z, 0.3, 0.3, (-y_edge, y_edge), (-z_edge, z_edge), y_mixing_m=0.3, z_mixing_m=0.3)
        for y, z, y_edge, z_edge in ellipses
    ]
    found = capture_jets(jets=jets, width_m=width, height_m=height, density=DENSITY).covered_m2
    shapes = [scale(Point(y, z).buffer(1.0, quad_segs=200), ye, ze) for y, z, ye, ze in ellipses]
    opening = box(-width / 2.0, -height / 2.0, width / 2.0, height / 2.0)
    assert found == pytest.approx(union_all(shapes).intersection(opening).area, abs=0.001 * opening.area)
