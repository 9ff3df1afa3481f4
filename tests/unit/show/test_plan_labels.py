"""Notes find places without touching one another."""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence

import numpy as np
import pytest
from shapely import LineString, Polygon

from ventplan.show.plan_labels import (
    Box,
    Label,
    Place,
    candidate_places,
    crosses,
    leader_to,
    overlap,
    place_labels,
    within,
)


def nothing(boxes: Sequence[Box]) -> list[tuple[float, bool]]:
    return [(0.0, False)] * len(boxes)


@pytest.mark.parametrize("seed", range(5))
def test_crowded_notes_never_overlap_and_stay_on_the_page(seed: int) -> None:
    chooser = random.Random(seed)
    page = (0.0, 0.0, 400.0, 300.0)
    labels = []
    for i in range(40):
        anchor = (chooser.uniform(10, 390), chooser.uniform(10, 290))
        size = (chooser.uniform(20, 60), chooser.uniform(8, 26))
        labels.append(Label(str(i), candidate_places(anchor, size, page, prefer=(0.0, 0.0), covering=nothing)))
    placed = place_labels(labels)
    assert len(placed) >= 30
    assert all(within(place.box, page) for place in placed.values())
    for one, other in itertools.combinations(placed.values(), 2):
        assert not overlap(one.box, other.box, 0.0)


def test_a_note_without_a_free_place_is_left_out() -> None:
    only = Place((0.0, 0.0, 10.0, 10.0), 0.0)
    placed = place_labels([Label("a", (only,)), Label("b", (only,))])
    assert len(placed) == 1


def test_the_same_notes_get_the_same_places() -> None:
    labels = [
        Label(
            str(i),
            candidate_places((50.0 + i, 50.0), (30.0, 10.0), (0, 0, 200, 200), prefer=(1.0, 0.0), covering=nothing),
        )
        for i in range(12)
    ]
    assert place_labels(labels) == place_labels(labels)


def test_notes_stand_on_the_side_they_prefer_when_it_is_free() -> None:
    places = candidate_places((100.0, 100.0), (30.0, 10.0), (0, 0, 200, 200), prefer=(1.0, 0.0), covering=nothing)
    best = place_labels([Label("a", places)])["a"]
    assert best.box[0] > 100.0


def test_far_notes_get_a_line_that_ends_at_their_edge() -> None:
    line = leader_to((0.0, 0.0), (30.0, -5.0, 60.0, 5.0))
    assert line == ((0.0, 0.0), (30.0, 0.0))
    assert leader_to((0.0, 0.0), (5.0, -5.0, 60.0, 5.0)) is None


@pytest.mark.parametrize(
    ("line", "hit"),
    [
        ((0, 5, 20, 5), True),
        ((0, 20, 20, 20), False),
        ((0, 0, 20, 20), True),
        ((0, 11, 9, 20), False),
        ((9, 4, 9, 6), True),
    ],
)
def test_lines_through_a_box_are_seen(line: tuple[int, ...], hit: bool) -> None:
    box = np.array([[5.0, 0.0, 15.0, 10.0]])
    assert crosses(np.array([line], dtype=float), box)[0, 0] == hit
    # shapely as an independent judge
    inside = LineString([line[:2], line[2:]]).intersection(Polygon([(5, 0), (15, 0), (15, 10), (5, 10)]))
    assert (inside.length > 0) == hit


def test_no_line_crosses_nothing() -> None:
    assert not crosses(np.full((1, 4), np.nan), np.array([[5.0, 0.0, 15.0, 10.0]])).any()


def test_crossing_lines_are_found_and_others_are_not() -> None:
    from ventplan.show.plan_labels import meet

    cross, aside, none = (0.0, 0.0, 2.0, 2.0), (0.0, 2.0, 0.9, 1.1), (np.nan,) * 4
    found = meet(np.array([cross]), np.array([(0.0, 2.0, 2.0, 0.0), aside, cross, none]))
    assert found.tolist() == [[True, False, False, False]]
