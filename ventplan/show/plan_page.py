"""A plan laid out on a page of print, all in points: storeys, notes in their places, a list of what does not fit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from ventplan.house.records import Point
from ventplan.show.paper import POINTS_PER_M, text_size, wrapped
from ventplan.show.plan_labels import (
    Box,
    CoveringInside,
    Label,
    Place,
    Spot,
    candidate_places,
    covering_of,
    grid_places,
    place_labels,
)
from ventplan.show.plan_shapes import LAYERS, Note, Panel, Sheet, disc

SCALES = (50, 75, 100, 125, 150, 200, 300, 500)
WIDEST_PT, TALLEST_PT = 760.0, 620.0
"""Largest size of one storey on the page [pt]; the scale follows from it."""
CROWDED, LARGER = 0.32, 1.6
"""A storey may be larger by this factor where its words would take up more than this share of it [-]."""
MARGIN_PT = 16.0
EDGE_PT, HEADING_PT = 7.0, 20.0
"""Room round a storey with its notes, and for its heading [pt]."""
TITLE_PT, PANEL_PT = 13.0, 9.5
SIDE_BY_SIDE_PT = 760.0
LEAST_WIDTH_PT = 430.0


@dataclass(frozen=True)
class Layout:
    """A whole page; y counts upwards from its lower edge."""

    # its size [pt]
    width_pt: float
    height_pt: float
    scale: int  # denominator of the scale
    panels: tuple[PanelOnPage, ...]  # the storeys
    listed: tuple[Placed, ...]  # notes listed below, by number
    foot: Box  # room for scale bar, compass and legend [pt]
    # room for the list, and for the title [pt]
    list_box: Box
    head: Box


def scale_for(panels: tuple[Panel, ...]) -> int:
    """The denominator of the largest usual scale that fits a page; a crowded plan may take a larger page."""
    usual = _largest(panels, 1.0)
    crowded = any(crowding(panel, POINTS_PER_M / usual) > CROWDED for panel in panels)
    return _largest(panels, LARGER) if crowded else usual


def _largest(panels: tuple[Panel, ...], page: float) -> int:
    """The denominator of the largest usual scale that fits a page, enlarged by a factor."""
    for scale in SCALES:
        points = POINTS_PER_M / scale / page
        sizes = [panel.bounds() for panel in panels]
        if all((b[2] - b[0]) * points <= WIDEST_PT and (b[3] - b[1]) * points <= TALLEST_PT for b in sizes):
            return scale
    return SCALES[-1]


def lay_out(panels: tuple[Panel, ...], *, head_pt: float, foot_height: Callable[[float], float]) -> Layout:
    """Arrange storeys and notes on a page of the size that they need.

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
        put, listed = panel_on_page(panel, room, points, first_number=len(numbered) + 1)
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
    """Bounds of a storey with its notes [pt]."""
    x0, y0, x1, y1 = put.panel.bounds()
    corners = [(*put.on_page((x0, y0)), *put.on_page((x1, y1))), *(p.box for p in put.placed)]
    return (
        min(c[0] for c in corners) - EDGE_PT,
        min(c[1] for c in corners) - EDGE_PT,
        max(c[2] for c in corners) + EDGE_PT,
        max(c[3] for c in corners) + EDGE_PT,
    )


def _put_together(loose: Sequence[PanelOnPage]) -> tuple[tuple[PanelOnPage, ...], float, float]:
    """Storeys side by side, or aligned one above the other; with width and height of the whole [pt]."""
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
        replace(
            p,
            box=box(p.box),
            leader=p.leader
            and ((p.leader[0][0] + dx, p.leader[0][1] + dy), (p.leader[1][0] + dx, p.leader[1][1] + dy)),
        )
        for p in put.placed
    )
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


BESIDE_PT, ABOVE_PT = 130.0, 56.0
"""Room beside, and above and below a storey for notes outdoors [pt]; what they leave over is cut off."""
NOTE_PT, ROOM_PT = 7.0, 8.2
BESIDE_WORDS_PT = 2.0
"""What a note is wider than its longest line [pt]."""
CLEAR_OF_WALLS_PT = 3.0
"""What the name of a room leaves free of the width between its walls [pt]."""


@dataclass(frozen=True)
class Placed:
    """A note in its place."""

    note: Note  # the note
    lines: tuple[str, ...]  # its words: the note's own, or its number in the list below
    box: Box  # what it takes up [pt]
    leader: tuple[Spot, Spot] | None  # a line from what it belongs to, or None [pt]
    size_pt: float  # size of its letters [pt]
    number: int = 0  # its number in the list below, or 0
    covers: bool = False  # true where it lies on something drawn
    names: int = 1  # how many of its lines are its name


@dataclass(frozen=True)
class PanelOnPage:
    """A storey in its place."""

    panel: Panel
    box: Box  # its part of the page [pt]
    origin: Spot  # where the plan's (0, 0) is on the page [pt]
    points_per_m: float  # scale [pt/m]
    placed: tuple[Placed, ...]  # its notes

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
    """A storey with its notes, where the plan's (0, 0) is that of the page."""
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


def paint_panels(sheet: Sheet, layout: Layout) -> None:
    """Draw the storeys with their notes, and the list of the numbered ones."""
    for put in layout.panels:
        _paint_panel(sheet, put)
    _paint_list(sheet, layout)


def _paint_panel(sheet: Sheet, put: PanelOnPage) -> None:
    order = {layer: 1.0 + i for i, layer in enumerate(LAYERS)}
    for area in put.panel.areas:
        rings = [[put.on_page(p) for p in ring] for ring in area.rings]
        top = 0.5 if area.what.startswith("arrow of air") else 0.0
        sheet.area(rings, area.colour, order[area.layer] + top, area.opacity)
    for line in put.panel.lines:
        points = [put.on_page(p) for p in line.points]
        sheet.line(points, line.colour, line.width_pt, order[line.layer] + 0.3, line.dash)
    if put.panel.title:
        sheet.words(put.box[0] + 4.0, put.box[3] - PANEL_PT - 2.0, put.panel.title, PANEL_PT, bold=True)
    for placed in put.placed:
        _paint_note(sheet, placed)


def _paint_note(sheet: Sheet, placed: Placed) -> None:
    left, low, right, high = placed.box
    if placed.leader:
        sheet.line(placed.leader, "muted", 0.5, 20.0)
        (x, y), _ = placed.leader
        sheet.area([disc(x, y, 1.1)], "muted", 20.0)
    middle, step = (left + right) / 2.0, placed.size_pt * 1.22
    colour = "muted" if placed.note.quiet else "ink"
    if placed.number:
        ring = disc(middle, (low + high) / 2.0, 0.62 * placed.size_pt + 1.5)
        sheet.area([ring], "paper", 21.0)
        sheet.line(ring, "muted", 0.5, 21.0)
    elif placed.covers:
        sheet.box(placed.box, "paper", 21.0, 0.78)
    for i, line in enumerate(placed.lines):
        y = high - 0.8 - placed.size_pt * 0.93 - step * i
        room = placed.note.what.startswith("room")
        bold = i >= placed.names and not placed.note.quiet if room else i < placed.names and not placed.note.quiet
        sheet.words(middle, y, line, placed.size_pt, colour=colour, bold=bold, align="center")


def _paint_list(sheet: Sheet, layout: Layout) -> None:
    left, _, right, high = layout.list_box
    if not layout.listed:
        return
    columns = list_columns(layout.listed, right - left)
    rows = math.ceil(len(layout.listed) / columns)
    for i, placed in enumerate(layout.listed):
        x = left + (right - left) / columns * (i // rows)
        sheet.words(x, high - 6.0 - NOTE_PT * 1.45 * (i % rows + 0.7), list_line(placed), NOTE_PT)
