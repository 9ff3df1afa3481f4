"""One storey with its notes: each in its place, in a form that fits there, or a number. All in points.

What a note would cover is looked up in a coarse picture of each kind of thing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ventplan.house.records import Point
from ventplan.show.paper import text_size, wrapped
from ventplan.show.plan_labels import (
    Box,
    Label,
    Place,
    Spot,
    candidate_places,
    grid_places,
    place_labels,
)
from ventplan.show.plan_shapes import Note, Panel, Rings, rings_of

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
    """Where something is on a page, in cells, with sums that give the covered share of any box at once.

    Parameters
    ----------
    page
        The part of the page that it is about [pt].
    """

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
    """What boxes on the page would cover: walls, symbols, fans, streams and jets, each as a share of the box.

    Parameters
    ----------
    panel
        What is drawn.
    page
        The panel's part of the page [pt].
    origin
        Where the plan's (0, 0) is on the page [pt].
    points_per_m
        Scale [pt/m].
    """

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


BESIDE_PT, ABOVE_PT = 130.0, 56.0
"""Room beside, and above and below a storey for notes outdoors [pt]; what they leave over is cut off."""
NOTE_PT, ROOM_PT = 7.0, 8.2
BESIDE_WORDS_PT = 2.0
"""What a note is wider than its longest line [pt]."""
CLEAR_OF_WALLS_PT = 3.0
"""What the name of a room leaves free of the width between its walls [pt]."""


@dataclass(frozen=True)
class Placed:
    """A note in its place.

    Attributes
    ----------
    note
        The note.
    lines
        Its words: the note's own, or its number in the list below.
    box
        What it takes up [pt].
    leader
        A line from what it belongs to, or None [pt].
    size_pt
        Size of its letters [pt].
    number
        Its number in the list below, or 0.
    covers
        True where it lies on something drawn.
    names
        How many of its lines are its name.
    """

    note: Note
    lines: tuple[str, ...]
    box: Box
    leader: tuple[Spot, Spot] | None
    size_pt: float
    number: int = 0
    covers: bool = False
    names: int = 1


@dataclass(frozen=True)
class PanelOnPage:
    """A storey in its place.

    Attributes
    ----------
    panel
        What is on it.
    box
        Its part of the page [pt].
    origin
        Where the plan's (0, 0) is on the page [pt].
    points_per_m
        Scale [pt/m].
    placed
        Its notes.
    """

    panel: Panel
    box: Box
    origin: Spot
    points_per_m: float
    placed: tuple[Placed, ...]

    def on_page(self, point: Point) -> Spot:
        """A point of the plan on the page [pt]."""
        return self.origin[0] + point[0] * self.points_per_m, self.origin[1] + point[1] * self.points_per_m


@dataclass(frozen=True)
class Form:
    """A way to write a note: its lines, how many of them are its name, and the size of its letters [pt]."""

    lines: tuple[str, ...]
    names: int
    size_pt: float

    @property
    def size(self) -> tuple[float, float]:
        """Width and height [pt]."""
        return note_size(self.lines, self.size_pt, self.names)


def note_size(lines: tuple[str, ...], size_pt: float, names: int = 1) -> tuple[float, float]:
    """Width and height of a note [pt]; the lines of its name are bold."""
    widths = [text_size(line, size_pt, bold=i < names)[0] for i, line in enumerate(lines)]
    return max(widths) + BESIDE_WORDS_PT, len(lines) * size_pt * 1.22 + 1.6


def broken(note: Note, size_pt: float, width_pt: float) -> Form:
    """A note with its lines broken between words to fit a width."""
    width = width_pt - BESIDE_WORDS_PT
    name = wrapped(note.lines[0], size_pt, width, bold=True)
    others = [part for line in note.lines[1:] for part in wrapped(line, size_pt, width)]
    return Form((*name, *others), len(name), size_pt)


def form_of(note: Note, points_per_m: float) -> Form:
    """How a note is written: in its own lines, or broken, or smaller, where its room is too narrow for them."""
    plain = Form(note.lines, 1, ROOM_PT if note.what.startswith("room") else NOTE_PT)
    if note.inside is None or note.near:
        return plain
    width, height = room_for_words(note, points_per_m)
    for form in (plain, broken(note, ROOM_PT, width), broken(note, NOTE_PT, width)):
        if form.size[0] <= width and form.size[1] <= height:
            return form
    return plain


def room_for_words(note: Note, points_per_m: float) -> tuple[float, float]:
    """Width and height that the walls leave for the words of a note inside a room [pt]."""
    x0, y0, x1, y1 = note.inside.bounds
    return points_per_m * (x1 - x0) - CLEAR_OF_WALLS_PT, points_per_m * (y1 - y0) - CLEAR_OF_WALLS_PT


def crowding(panel: Panel, points_per_m: float) -> float:
    """Area of the words of a storey over that of its plan [-]."""
    x0, y0, x1, y1 = panel.bounds()
    sizes = [note_size(note.lines, NOTE_PT) for note in panel.notes]
    return sum(w * h for w, h in sizes) / max((x1 - x0) * (y1 - y0) * points_per_m**2, 1e-9)


def panel_on_page(panel: Panel, box: Box, points: float, first_number: int) -> tuple[PanelOnPage, list[Placed]]:
    """A storey with its notes, where the plan's (0, 0) is that of the page.

    Parameters
    ----------
    panel
        What is on it.
    box
        Its part of the page [pt].
    points
        Scale [pt/m].
    first_number
        Of the first note that finds no place and is listed below.
    """
    origin = (0.0, 0.0)
    bare = PanelOnPage(panel, box, origin, points, ())
    x0, y0, x1, y1 = (points * value for value in panel.bounds())
    allowed = (x0 - BESIDE_PT, y0 - ABOVE_PT, x1 + BESIDE_PT, y1 + ABOVE_PT)
    covering = covering_of(panel, box, origin, points)

    numbers: dict[int, int] = {}
    forms = [form_of(note, points) for note in panel.notes]
    while True:
        for i, number in numbers.items():
            forms[i] = Form((str(number),), 1, NOTE_PT)
        labels = [
            Label(str(i), _places(bare, note, forms[i].size, allowed, covering, i in numbers))
            for i, note in enumerate(panel.notes)
        ]
        found = place_labels(labels)
        missing = [i for i in range(len(panel.notes)) if str(i) not in found and i not in numbers]
        if not missing:
            break
        for i in missing:
            numbers[i] = first_number + len(numbers)
    placed = []
    for i, note in enumerate(panel.notes):
        place: Place | None = found.get(str(i))
        if place is not None:
            form, number = forms[i], numbers.get(i, 0)
            placed.append(
                Placed(note, form.lines, place.box, place.leader, form.size_pt, number, place.covers, form.names)
            )
    listed = sorted((p for p in placed if p.number), key=lambda p: p.number)
    return PanelOnPage(panel, box, origin, points, tuple(placed)), listed


def _places(
    page: PanelOnPage,
    note: Note,
    size: tuple[float, float],
    allowed: Box,
    covering: CoveringInside,
    numbered: bool,
) -> tuple[Place, ...]:
    anchor = page.on_page(note.at)

    def anywhere(boxes: Sequence[Box]) -> Sequence[tuple[float, bool]]:
        return covering(boxes, None)

    def inside(boxes: Sequence[Box]) -> Sequence[tuple[float, bool]]:
        return covering(boxes, note.inside)

    def off_other_rooms(boxes: Sequence[Box]) -> Sequence[tuple[float, bool]]:
        return covering(boxes, note.inside, elsewhere=False)

    if numbered:
        near = candidate_places(anchor, size, allowed, prefer=note.prefer, covering=anywhere)
        count = int(max(allowed[2] - allowed[0], allowed[3] - allowed[1]) // (1.5 * max(size)))
        return (*near, *grid_places(allowed, anchor, size, allowed, covering=anywhere, count=count, leaders=True))
    if note.inside is None:
        return candidate_places(anchor, size, allowed, prefer=note.prefer, covering=anywhere)
    if note.near:
        return candidate_places(anchor, size, allowed, prefer=note.prefer, covering=inside)
    width, height = room_for_words(note, page.points_per_m)
    if size[0] > width or size[1] > height:
        return candidate_places(anchor, size, allowed, prefer=(0.0, 0.0), covering=off_other_rooms)
    x0, y0, x1, y1 = note.inside.bounds
    return grid_places((*page.on_page((x0, y0)), *page.on_page((x1, y1))), anchor, size, allowed, covering=inside)
