"""Where words go on a plan: on no other words, inside the page, off walls and symbols where they can.

Each note has a list of places it could stand in, each with a cost of its own: how far it is from what it belongs to
and what it would cover. Places are then taken greedily and improved one by one in a fixed random order while other
notes are in the way (min-conflicts). A note without a free place is left out; the caller numbers and lists it.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ventplan.show.plan_shapes import Panel, Rings, rings_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
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
    """One place where a note could stand."""

    box: Box  # what it would take up [pt]
    cost: float  # what stands against it, other notes aside
    leader: tuple[Spot, Spot] | None = None  # a line from the place that it belongs to, or None
    covers: bool = False  # true where it would lie on something drawn


@dataclass(frozen=True)
class Label:
    """A note that needs a place."""

    key: str  # names it
    places: tuple[Place, ...] = field(repr=False)  # where it could stand, any order


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


def crosses(lines: Floats, boxes: Floats) -> Bools:
    """Whether straight lines pass through boxes (clipping by Liang and Barsky 1984).

    Parameters
    ----------
    lines
        Ends x1, y1, x2, y2, shape (l, 4) [pt]; not a number for no line.
    boxes
        Shape (b, 4) [pt].

    Returns
    -------
    ndarray
        Shape (l, b).
    """
    x1, y1, x2, y2 = (lines[:, i, None] for i in range(4))
    low, high = np.zeros((len(lines), len(boxes))), np.ones((len(lines), len(boxes)))
    for start, step, least, most in ((x1, x2 - x1, 0, 2), (y1, y2 - y1, 1, 3)):
        with np.errstate(divide="ignore", invalid="ignore"):
            one, other = (boxes[None, :, least] - start) / step, (boxes[None, :, most] - start) / step
        inside = (start >= boxes[None, :, least]) & (start <= boxes[None, :, most])
        level = step == 0.0
        entry = np.where(level, np.where(inside, -np.inf, np.inf), np.minimum(one, other))
        leave = np.where(level, np.where(inside, np.inf, -np.inf), np.maximum(one, other))
        low, high = np.maximum(low, entry), np.minimum(high, leave)
    return np.asarray(low < high)


def meet(one: Floats, other: Floats) -> Bools:
    """Whether straight lines cross one another: shapes (a, 4) and (b, 4) give (a, b); not a number for no line."""
    p, q = one[:, None, :], other[None, :, :]

    def side(a: Floats, x: Floats, y: Floats) -> Floats:
        """Which side of lines points are on."""
        return np.asarray((a[..., 2] - a[..., 0]) * (y - a[..., 1]) - (a[..., 3] - a[..., 1]) * (x - a[..., 0]))

    apart = side(p, q[..., 0], q[..., 1]) * side(p, q[..., 2], q[..., 3]) < 0.0
    return np.asarray(apart & (side(q, p[..., 0], p[..., 1]) * side(q, p[..., 2], p[..., 3]) < 0.0))


def overlaps(one: Floats, other: Floats, padding: float = PADDING_PT) -> Bools:
    """Which boxes are closer than the padding [pt]: shapes (a, 4) and (b, 4) give (a, b)."""
    a, b = one[:, None, :], other[None, :, :]
    across = (a[..., 0] < b[..., 2] + padding) & (b[..., 0] < a[..., 2] + padding)
    return np.asarray(across & (a[..., 1] < b[..., 3] + padding) & (b[..., 1] < a[..., 3] + padding))


class _Choice:
    """Notes with the places chosen for them so far."""

    def __init__(self, labels: Sequence[Label]) -> None:
        self.boxes = [np.array([p.box for p in label.places], dtype=float).reshape(-1, 4) for label in labels]
        self.lines = [np.array([_ends(p) for p in label.places], dtype=float).reshape(-1, 4) for label in labels]
        self.costs = [np.array([p.cost for p in label.places], dtype=float) for label in labels]
        self.taken: dict[int, int] = {}

    def best(self, i: int) -> int | None:
        """The cheapest place of a note, given the places of the others."""
        if not len(self.costs[i]):
            return None
        total = self.costs[i]
        others = [j for j in self.taken if j != i]
        if others:
            boxes = np.array([self.boxes[j][self.taken[j]] for j in others])
            lines = np.array([self.lines[j][self.taken[j]] for j in others])
            met = overlaps(self.boxes[i], boxes).sum(axis=1)
            crossed = crosses(self.lines[i], boxes).sum(axis=1) + crosses(lines, self.boxes[i]).sum(axis=0)
            crossed += meet(self.lines[i], lines).sum(axis=1)
            total = total + OVERLAP_COST * met + CROSSED_COST * crossed
        return int(np.argmin(total))

    def without_overlaps(self) -> dict[int, int]:
        """The places without overlaps: notes that overlap most others are left out first, and no more than needed."""
        kept = dict(self.taken)
        while kept:
            order = list(kept)
            boxes = np.array([self.boxes[i][kept[i]] for i in order])
            met = overlaps(boxes, boxes).sum(axis=1) - 1
            if met.max() == 0:
                break
            costs = [self.costs[i][kept[i]] for i in order]
            worst = max(zip(met, costs, order, strict=True))
            del kept[worst[2]]
        return kept


def _ends(place: Place) -> tuple[float, float, float, float]:
    if place.leader is None:
        return (np.nan,) * 4
    return (*place.leader[0], *place.leader[1])


def place_labels(labels: Sequence[Label]) -> dict[str, Place]:
    """Choose a place for each note.

    Returns
    -------
    dict
        By key; notes that would overlap another one wherever they stand are missing.
    """
    chooser = random.Random(SEED)
    order = sorted(range(len(labels)), key=lambda i: len(labels[i].places))
    choice = _Choice(labels)
    for _ in range(ROUNDS):
        changed = False
        for i in order:
            place = choice.best(i)
            if place is not None and place != choice.taken.get(i):
                choice.taken[i], changed = place, True
        if not changed:
            break
        chooser.shuffle(order)
    return {labels[i].key: labels[i].places[k] for i, k in choice.without_overlaps().items()}


Covering = Callable[[Sequence[Box]], Sequence[tuple[float, bool]]]
"""For each box, the cost of what it would cover, and whether it covers anything."""
DISTANCES_PT = (3.0, 7.0, 12.0, 20.0, 30.0, 42.0, 58.0)
_STEPS = (-1.0, -0.6, -0.25, 0.0, 0.25, 0.6, 1.0)
_WAYS = tuple((dx, dy) for dx in _STEPS for dy in _STEPS if max(abs(dx), abs(dy)) == 1.0)


def candidate_places(
    anchor: Spot, size: tuple[float, float], page: Box, *, prefer: Spot, covering: Covering
) -> tuple[Place, ...]:
    """Places around an anchor, nearer ones and those on the preferred side cheaper; (0, 0) prefers no side."""
    spots = []
    for dx, dy in _WAYS:
        side = 6.0 * (1.0 - (dx * prefer[0] + dy * prefer[1])) if prefer != (0.0, 0.0) else 0.0
        for distance in DISTANCES_PT:
            x, y = anchor[0] + dx * (distance + size[0] / 2.0), anchor[1] + dy * (distance + size[1] / 2.0)
            spots.append((x, y, 0.25 * distance + side))
    return _places_at(spots, anchor, size, page, covering, leaders=True, leader_cost=4.0)


def grid_places(
    inside: Box,
    anchor: Spot,
    size: tuple[float, float],
    page: Box,
    *,
    covering: Covering,
    count: int = 11,
    leaders: bool = False,
) -> tuple[Place, ...]:
    """Places on a grid over an area, those near an anchor cheaper; with lines to the anchor if asked."""
    left, low, right, high = inside
    steps = [i / (count - 1) for i in range(count)]
    xs = [left + size[0] / 2.0 + (right - left - size[0]) * step for step in steps]
    ys = [low + size[1] / 2.0 + (high - low - size[1]) * step for step in steps]
    spots = [(x, y, 0.06 * (abs(x - anchor[0]) + abs(y - anchor[1]))) for x in xs for y in ys]
    return _places_at(spots, anchor, size, page, covering, leaders=leaders)


def _places_at(
    spots: Sequence[tuple[float, float, float]],
    anchor: Spot,
    size: tuple[float, float],
    page: Box,
    covering: Covering,
    *,
    leaders: bool,
    leader_cost: float = 0.0,
) -> tuple[Place, ...]:
    """Boxes around spots (x, y, cost) as far as they lie on the page, with the cost of what they cover."""
    width, height = size
    boxes, costs = [], []
    for x, y, cost in spots:
        box = (x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0)
        if within(box, page):
            boxes.append(box)
            costs.append(cost)
    places = []
    for box, cost, (covered, covers) in zip(boxes, costs, covering(boxes), strict=True):
        leader = leader_to(anchor, box) if leaders else None
        places.append(Place(box, cost + covered + (leader_cost if leader else 0.0), leader, covers))
    return tuple(places)


COSTS = {
    "wall": 70.0,
    "fan": 70.0,
    "opening": 40.0,
    "head": 40.0,
    "stream": 16.0,
    "jet": 8.0,
    "obstacle": 3.0,
    "outside": 90.0,
    "elsewhere": 36.0,
}
"""What it costs to cover something wholly with a note."""
TOUCHED = 0.3
"""Part of that cost from the first touch of a wall or of an opening's thin lines [-]."""
CELL_PT = 1.5
"""Size of a cell of the coarse picture [pt]."""


class CoveringInside(Protocol):
    """For boxes on the page: cost of each, and whether it covers anything.

    They should stay in a room where one is given; or, with ``elsewhere`` False, only keep out of the other rooms.
    """

    def __call__(self, boxes: Sequence[Box], inside: Any, *, elsewhere: bool = True) -> Sequence[tuple[float, bool]]:
        """Cost and covering of each box."""
        ...


class Mask:
    """Where something is on a page, in cells, with sums that give the covered share of any box at once."""

    def __init__(self, page: Box) -> None:
        from PIL import Image, ImageDraw

        self.page = page
        size = (int((page[2] - page[0]) / CELL_PT) + 2, int((page[3] - page[1]) / CELL_PT) + 2)
        self._image = Image.new("1", size)
        self._draw = ImageDraw.Draw(self._image)
        self._sums: NDArray[np.int64] | None = None

    def _cells(self, points: Iterable[Spot]) -> list[Spot]:
        return [((x - self.page[0]) / CELL_PT, (y - self.page[1]) / CELL_PT) for x, y in points]

    def fill(self, rings: Sequence[Sequence[Spot]]) -> None:
        """Add a shape with holes [pt]; a hole is empty even where something was."""
        for i, ring in enumerate(rings):
            self._draw.polygon(self._cells(ring), fill=0 if i else 1)

    def stroke(self, points: Sequence[Spot]) -> None:
        """Add a line [pt]."""
        self._draw.line(self._cells(points), fill=1, width=2)

    def shares(self, boxes: NDArray[np.float64]) -> NDArray[np.float64]:
        """Share of each box that is covered: boxes of shape (n, 4) [pt] give (n,) [-]."""
        if self._sums is None:
            cells = np.asarray(self._image, dtype=np.int64)
            self._sums = np.pad(cells.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
        rows, columns = self._sums.shape
        left, low = np.floor((boxes[:, :2] - np.array(self.page[:2])) / CELL_PT).astype(np.int64).T
        right, high = np.ceil((boxes[:, 2:] - np.array(self.page[:2])) / CELL_PT).astype(np.int64).T
        left, right = np.clip(left, 0, columns - 1), np.clip(right, 1, columns - 1)
        low, high = np.clip(low, 0, rows - 1), np.clip(high, 1, rows - 1)
        inside = self._sums[high, right] - self._sums[low, right] - self._sums[high, left] + self._sums[low, left]
        return np.asarray(inside / np.maximum((right - left) * (high - low), 1))


def covering_of(panel: Panel, page: Box, origin: Spot, points_per_m: float) -> CoveringInside:
    """What boxes on the page would cover: walls, symbols, fans, streams and jets, each as a share of the box."""

    def on_page(points: Iterable[tuple[float, float]]) -> list[Spot]:
        return [(origin[0] + x * points_per_m, origin[1] + y * points_per_m) for x, y in points]

    def mask(shapes: Iterable[Rings]) -> Mask:
        made = Mask(page)
        for rings in shapes:
            made.fill([on_page(ring) for ring in rings])
        return made

    areas = panel.areas
    layers = {
        "fan": mask(a.rings for a in areas if a.layer == "fan"),
        "head": mask(a.rings for a in areas if a.what.startswith("arrow of air")),
        "stream": mask(a.rings for a in areas if a.layer == "stream"),
        "jet": mask(a.rings for a in areas if a.layer == "jet"),
        "obstacle": mask(a.rings for a in areas if a.what.startswith("obstacle")),
        "wall": mask(rings_of(panel.walls)),
        "opening": Mask(page),
    }
    for line in panel.lines:
        if line.layer == "opening":
            layers["opening"].stroke(on_page(line.points))
    floors = mask(a.rings for a in areas if a.what.startswith("room"))
    rooms: dict[int, Mask] = {}

    def cost(boxes: Sequence[Box], inside: Any, *, elsewhere: bool = True) -> Sequence[tuple[float, bool]]:
        if not boxes:
            return []
        corners = np.array(boxes, dtype=float)
        total, covers = np.zeros(len(boxes)), np.zeros(len(boxes), dtype=bool)
        for name, layer in layers.items():
            share = layer.shares(corners)
            covers |= share > 0.0
            least = TOUCHED if name in ("wall", "opening") else 0.12
            total += np.where(share > 0.0, COSTS[name] * np.minimum(1.0, least + 3.0 * share), 0.0)
        if inside is not None:
            if id(inside) not in rooms:
                rooms[id(inside)] = mask(rings_of(inside))
            own = rooms[id(inside)].shares(corners)
            total += (
                COSTS["outside"] * (1.0 - own) if elsewhere else COSTS["elsewhere"] * (floors.shares(corners) - own)
            )
        return list(zip(total.tolist(), covers.tolist(), strict=True))

    return cost
