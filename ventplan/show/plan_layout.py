"""A plan on a page: scale, panels, notes in their places, and what does not fit listed below. All in points."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ventplan.house.records import Point
from ventplan.show.paper import POINTS_PER_M, text_size
from ventplan.show.plan_covering import CoveringInside, covering_of
from ventplan.show.plan_labels import (
    Box,
    Label,
    Place,
    Spot,
    candidate_places,
    grid_places,
    place_labels,
)
from ventplan.show.plan_shapes import Note, Panel

SCALES = (50, 75, 100, 125, 150, 200, 300, 500)
WIDEST_PT, TALLEST_PT = 760.0, 620.0
"""Largest size of one storey on the page [pt]; the scale follows from it."""
MARGIN_PT = 16.0
BESIDE_PT, ABOVE_PT = 130.0, 56.0
"""Room beside, and above and below a storey for notes outdoors [pt]; what they leave over is cut off."""
EDGE_PT, HEADING_PT = 7.0, 20.0
"""Room round a storey with its notes, and for its heading [pt]."""
NOTE_PT, ROOM_PT, TITLE_PT, PANEL_PT = 7.0, 8.2, 13.0, 9.5
SIDE_BY_SIDE_PT = 760.0
LEAST_WIDTH_PT = 430.0


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
    """

    note: Note
    lines: tuple[str, ...]
    box: Box
    leader: tuple[Spot, Spot] | None
    size_pt: float
    number: int = 0
    covers: bool = False


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
class Layout:
    """A whole page; y counts upwards from its lower edge.

    Attributes
    ----------
    width_pt, height_pt
        Its size [pt].
    scale
        Denominator of the scale.
    panels
        The storeys.
    listed
        Notes listed below, by number.
    foot
        Room for scale bar, compass and legend [pt].
    list_box, head
        Room for the list, and for the title [pt].
    """

    width_pt: float
    height_pt: float
    scale: int
    panels: tuple[PanelOnPage, ...]
    listed: tuple[Placed, ...]
    foot: Box
    list_box: Box
    head: Box


def scale_for(panels: tuple[Panel, ...]) -> int:
    """The denominator of the largest usual scale that fits a page."""
    for scale in SCALES:
        points = POINTS_PER_M / scale
        sizes = [panel.bounds() for panel in panels]
        if all((b[2] - b[0]) * points <= WIDEST_PT and (b[3] - b[1]) * points <= TALLEST_PT for b in sizes):
            return scale
    return SCALES[-1]


def lay_out(panels: tuple[Panel, ...], *, head_pt: float, foot_height: Callable[[float], float]) -> Layout:
    """Put storeys and notes on a page that is as large as they need.

    Parameters
    ----------
    panels
        The storeys.
    head_pt
        Height of the title [pt].
    foot_height
        Height of scale bar, compass and legend for a width of the page [pt].
    """
    scale = scale_for(panels)
    points = POINTS_PER_M / scale
    bounds = [panel.bounds() for panel in panels]
    room = (min(b[0] for b in bounds) * points - BESIDE_PT, min(b[1] for b in bounds) * points - ABOVE_PT,
            max(b[2] for b in bounds) * points + BESIDE_PT, max(b[3] for b in bounds) * points + ABOVE_PT)  # fmt: skip
    loose: list[PanelOnPage] = []
    numbered: list[Placed] = []
    for panel in panels:
        put, listed = _panel(panel, room, points, first_number=len(numbered) + 1)
        loose.append(put)
        numbered += listed
    first, inner, body = _put_together(loose)
    foot, listing = foot_height(inner), _list_height(numbered, inner)
    below = MARGIN_PT + foot + listing
    moved = tuple(_moved(put, MARGIN_PT, below) for put in first)
    height = below + body + head_pt + MARGIN_PT
    return Layout(
        width_pt=inner + 2 * MARGIN_PT,
        height_pt=height,
        scale=scale,
        panels=moved,
        listed=tuple(numbered),
        foot=(MARGIN_PT, MARGIN_PT, MARGIN_PT + inner, MARGIN_PT + foot),
        list_box=(MARGIN_PT, MARGIN_PT + foot, MARGIN_PT + inner, below),
        head=(MARGIN_PT, below + body, MARGIN_PT + inner, height - MARGIN_PT),
    )


def _extent(put: PanelOnPage) -> Box:
    """What a storey and its notes take up, as it stands [pt]."""
    x0, y0, x1, y1 = put.panel.bounds()
    corners = [(*put.on_page((x0, y0)), *put.on_page((x1, y1))), *(p.box for p in put.placed)]
    return (
        min(c[0] for c in corners) - EDGE_PT,
        min(c[1] for c in corners) - EDGE_PT,
        max(c[2] for c in corners) + EDGE_PT,
        max(c[3] for c in corners) + EDGE_PT,
    )


def _put_together(loose: Sequence[PanelOnPage]) -> tuple[tuple[PanelOnPage, ...], float, float]:
    """Storeys close to one another, walls above walls (or level with them); with width and height of the whole [pt]."""
    extents = [_extent(put) for put in loose]
    low, high = min(e[1] for e in extents), max(e[3] for e in extents)
    left, right = min(e[0] for e in extents), max(e[2] for e in extents)
    headings = [HEADING_PT if put.panel.title else 0.0 for put in loose]
    total = sum(e[2] - e[0] for e in extents)
    first = []
    if total <= SIDE_BY_SIDE_PT:
        inner, body = max(LEAST_WIDTH_PT, total), high - low + max(headings)
        x = (inner - total) / 2.0
        for put, extent in zip(loose, extents, strict=True):
            width = extent[2] - extent[0]
            first.append(_moved(put, x - extent[0], -low, (x, 0.0, x + width, body)))
            x += width
        return tuple(first), inner, body
    inner = max(LEAST_WIDTH_PT, right - left)
    body = y = sum(e[3] - e[1] + heading for e, heading in zip(extents, headings, strict=True))
    for put, extent, heading in zip(loose, extents, headings, strict=True):
        height = extent[3] - extent[1] + heading
        dx = (inner - (right - left)) / 2.0 - left
        first.append(_moved(put, dx, y - heading - extent[3], (0.0, y - height, inner, y)))
        y -= height
    return tuple(first), inner, body


def _moved(put: PanelOnPage, dx: float, dy: float, part: Box | None = None) -> PanelOnPage:
    """A storey moved on the page; its part of the page moves with it where no other is given [pt]."""

    def box(b: Box) -> Box:
        return b[0] + dx, b[1] + dy, b[2] + dx, b[3] + dy

    placed = tuple(
        Placed(p.note, p.lines, box(p.box),
               p.leader and ((p.leader[0][0] + dx, p.leader[0][1] + dy), (p.leader[1][0] + dx, p.leader[1][1] + dy)),
               p.size_pt, p.number, p.covers)
        for p in put.placed
    )  # fmt: skip
    return PanelOnPage(
        put.panel, part or box(put.box), (put.origin[0] + dx, put.origin[1] + dy), put.points_per_m, placed
    )


def list_line(placed: Placed) -> str:
    """A numbered note as one line of the list."""
    return f"{placed.number}  {placed.note.lines[0]}: {', '.join(placed.note.lines[1:])}".removesuffix(": ")


def list_columns(listed: list[Placed] | tuple[Placed, ...], width_pt: float) -> int:
    """How many columns the list has."""
    widest = max((text_size(list_line(p), NOTE_PT)[0] for p in listed), default=1.0) + 14.0
    return max(1, int(width_pt // widest))


def _list_height(listed: list[Placed], width_pt: float) -> float:
    if not listed:
        return 0.0
    return math.ceil(len(listed) / list_columns(listed, width_pt)) * NOTE_PT * 1.45 + 10.0


def note_size(lines: tuple[str, ...], size_pt: float) -> tuple[float, float]:
    """Width and height of a note [pt]; its first line is bold."""
    widths = [text_size(line, size_pt, bold=i == 0)[0] for i, line in enumerate(lines)]
    return max(widths) + 2.0, len(lines) * size_pt * 1.22 + 1.6


def _panel(panel: Panel, box: Box, points: float, first_number: int) -> tuple[PanelOnPage, list[Placed]]:
    """A storey with its notes, where the plan's (0, 0) is that of the page."""
    origin = (0.0, 0.0)
    bare = PanelOnPage(panel, box, origin, points, ())
    x0, y0, x1, y1 = (points * value for value in panel.bounds())
    allowed = (x0 - BESIDE_PT, y0 - ABOVE_PT, x1 + BESIDE_PT, y1 + ABOVE_PT)
    covering = covering_of(panel, box, origin, points)

    numbers: dict[int, int] = {}
    while True:
        labels, sizes = [], {}
        for i, note in enumerate(panel.notes):
            lines = (str(numbers[i]),) if i in numbers else note.lines
            size_pt = ROOM_PT if note.what.startswith("room") and i not in numbers else NOTE_PT
            sizes[i] = (lines, size_pt)
            places = _places(bare, note, note_size(lines, size_pt), allowed, covering, i in numbers)
            labels.append(Label(str(i), places))
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
            lines, size_pt = sizes[i]
            number = numbers.get(i, 0)
            placed.append(Placed(note, lines, place.box, place.leader, size_pt, number, place.covers))
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

    if numbered:
        near = candidate_places(anchor, size, allowed, prefer=note.prefer, covering=anywhere)
        count = int(max(allowed[2] - allowed[0], allowed[3] - allowed[1]) // (1.5 * max(size)))
        return (*near, *grid_places(allowed, anchor, size, allowed, covering=anywhere, count=count, leaders=True))
    if note.inside is None:
        return candidate_places(anchor, size, allowed, prefer=note.prefer, covering=anywhere)
    if note.near:
        return candidate_places(anchor, size, allowed, prefer=note.prefer, covering=inside)
    x0, y0, x1, y1 = note.inside.bounds
    low, high = page.on_page((x0, y0)), page.on_page((x1, y1))
    if high[0] - low[0] < size[0] or high[1] - low[1] < size[1]:
        return candidate_places(anchor, size, allowed, prefer=(0.0, 0.0), covering=anywhere)
    return grid_places((*low, *high), anchor, size, allowed, covering=inside)
