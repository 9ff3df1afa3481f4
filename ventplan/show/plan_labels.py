"""Where words go on a plan: on no other words, inside the page, off walls and symbols where they can.

Each note has a list of places it could stand in, each with a cost of its own: how far it is from what it belongs to
and what it would cover. Places are then taken greedily and improved one by one in a fixed random order while other
notes are in the way (min-conflicts). What finds no free place at all is left out, for its caller to number and list.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

Box = tuple[float, float, float, float]
"""Left, low, right, high [pt]."""
Spot = tuple[float, float]

PADDING_PT = 1.6
"""Least distance between two notes [pt]."""
LEADER_PT = 11.0
"""A note farther than this from its place gets a line to it [pt]."""
OVERLAP_COST = 1000.0
CROSSED_COST = 40.0
ROUNDS = 60
SEED = 20


@dataclass(frozen=True)
class Place:
    """One place where a note could stand.

    Attributes
    ----------
    box
        What it would take up [pt].
    cost
        What stands against it, other notes aside.
    leader
        A line from the place that it belongs to, or None.
    covers
        True where it would lie on something drawn.
    """

    box: Box
    cost: float
    leader: tuple[Spot, Spot] | None = None
    covers: bool = False


@dataclass(frozen=True)
class Label:
    """A note that needs a place.

    Attributes
    ----------
    key
        Names it.
    places
        Where it could stand, any order.
    """

    key: str
    places: tuple[Place, ...] = field(repr=False)


def overlap(a: Box, b: Box, padding: float = PADDING_PT) -> bool:
    """True where two boxes are closer than the padding [pt]."""
    return a[0] < b[2] + padding and b[0] < a[2] + padding and a[1] < b[3] + padding and b[1] < a[3] + padding


def within(box: Box, page: Box) -> bool:
    """True where a box lies inside a page."""
    return box[0] >= page[0] and box[1] >= page[1] and box[2] <= page[2] and box[3] <= page[3]


def leader_to(anchor: Spot, box: Box) -> tuple[Spot, Spot] | None:
    """A line from an anchor to the nearest point of a box; None where they are close."""
    x = min(max(anchor[0], box[0]), box[2])
    y = min(max(anchor[1], box[1]), box[3])
    away = ((x - anchor[0]) ** 2 + (y - anchor[1]) ** 2) ** 0.5
    return (anchor, (x, y)) if away > LEADER_PT else None


def crosses(line: tuple[Spot, Spot], box: Box) -> bool:
    """True where a straight line passes through a box (clipping by Liang and Barsky 1984)."""
    (x1, y1), (x2, y2) = line
    low, high = 0.0, 1.0
    for p, q in ((x1 - x2, x1 - box[0]), (x2 - x1, box[2] - x1), (y1 - y2, y1 - box[1]), (y2 - y1, box[3] - y1)):
        if p == 0.0:
            if q < 0.0:
                return False
            continue
        t = q / p
        if p < 0.0:
            low = max(low, t)
        else:
            high = min(high, t)
    return low < high


def _between(one: Place, other: Place) -> float:
    """What two notes cost each other."""
    cost = OVERLAP_COST if overlap(one.box, other.box) else 0.0
    if one.leader and crosses(one.leader, other.box):
        cost += CROSSED_COST
    if other.leader and crosses(other.leader, one.box):
        cost += CROSSED_COST
    return cost


def place_labels(labels: Sequence[Label]) -> dict[str, Place]:
    """Choose a place for each note.

    Parameters
    ----------
    labels
        Notes with the places that they could take.

    Returns
    -------
    dict
        By key; notes that would overlap another one wherever they stand are missing.
    """
    chooser = random.Random(SEED)
    order = sorted(range(len(labels)), key=lambda i: len(labels[i].places))
    chosen: dict[int, Place] = {}

    def best(i: int) -> Place | None:
        others = [place for j, place in chosen.items() if j != i]
        ranked = sorted(labels[i].places, key=lambda place: place.cost)
        found, least = None, float("inf")
        for place in ranked:
            if place.cost >= least:
                break
            cost = place.cost + sum(_between(place, other) for other in others)
            if cost < least:
                found, least = place, cost
        return found

    for i in order:
        place = best(i)
        if place is not None:
            chosen[i] = place
    for _ in range(ROUNDS):
        chooser.shuffle(order)
        changed = False
        for i in order:
            place = best(i) if i in chosen else None
            if place is not None and place is not chosen[i]:
                chosen[i], changed = place, True
        if not changed:
            break
    return {labels[i].key: place for i, place in _without_overlaps(labels, chosen).items()}


def _without_overlaps(labels: Sequence[Label], chosen: dict[int, Place]) -> dict[int, Place]:
    """Leave out as few notes as it takes for the others to stand free, those in most others' way first."""
    kept = dict(chosen)
    while True:
        trouble = {
            i: sum(overlap(place.box, other.box) for j, other in kept.items() if j != i) for i, place in kept.items()
        }
        worst = max(trouble, key=lambda i: (trouble[i], kept[i].cost, labels[i].key), default=None)
        if worst is None or trouble[worst] == 0:
            return kept
        del kept[worst]


Covering = Callable[[Sequence[Box]], Sequence[tuple[float, bool]]]
"""For each box, the cost of what it would cover, and whether it covers anything."""

DISTANCES_PT = (3.0, 7.0, 12.0, 20.0, 30.0, 42.0, 58.0)
_STEPS = (-1.0, -0.6, -0.25, 0.0, 0.25, 0.6, 1.0)
_WAYS = tuple((dx, dy) for dx in _STEPS for dy in _STEPS if max(abs(dx), abs(dy)) == 1.0)


def candidate_places(
    anchor: Spot, size: tuple[float, float], page: Box, *, prefer: Spot, covering: Covering
) -> tuple[Place, ...]:
    """Places around an anchor, nearer ones and those on the preferred side cheaper.

    Parameters
    ----------
    anchor
        What the note belongs to [pt].
    size
        Width and height of the note [pt].
    page
        Where it may stand [pt].
    prefer
        Unit vector to the side it would best stand on, or (0, 0) for any.
    covering
        What boxes would cover.
    """
    width, height = size
    boxes, costs = [], []
    for dx, dy in _WAYS:
        side = 6.0 * (1.0 - (dx * prefer[0] + dy * prefer[1])) if prefer != (0.0, 0.0) else 0.0
        for distance in DISTANCES_PT:
            x = anchor[0] + dx * (distance + width / 2.0)
            y = anchor[1] + dy * (distance + height / 2.0)
            box = (x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0)
            if within(box, page):
                boxes.append(box)
                costs.append(0.25 * distance + side)
    places = []
    for box, cost, (covered, covers) in zip(boxes, costs, covering(boxes), strict=True):
        leader = leader_to(anchor, box)
        places.append(Place(box, cost + covered + (4.0 if leader else 0.0), leader, covers))
    return tuple(places)


def grid_places(
    inside: Box, anchor: Spot, size: tuple[float, float], page: Box, *, covering: Covering, count: int = 11
) -> tuple[Place, ...]:
    """Places on a grid over an area, those near an anchor cheaper; no lines."""
    width, height = size
    left, low, right, high = inside
    boxes, costs = [], []
    for i in range(count):
        for j in range(count):
            x = left + width / 2.0 + (right - left - width) * i / (count - 1)
            y = low + height / 2.0 + (high - low - height) * j / (count - 1)
            box = (x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0)
            if within(box, page):
                boxes.append(box)
                costs.append(0.06 * (abs(x - anchor[0]) + abs(y - anchor[1])))
    found = zip(boxes, costs, covering(boxes), strict=True)
    return tuple(Place(box, cost + covered, None, covers) for box, cost, (covered, covers) in found)
