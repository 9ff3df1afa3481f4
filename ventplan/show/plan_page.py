"""A plan laid out on a page of print, and the sheet that it is painted on. All in points.

Scale, panels, notes in their places, and a list of what does not fit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ventplan.house.records import Point
from ventplan.show.colours import light
from ventplan.show.paper import POINTS_PER_M, SETTINGS, new_figure, plotting, text_size
from ventplan.show.plan_labels import Box
from ventplan.show.plan_panel import (
    ABOVE_PT,
    BESIDE_PT,
    NOTE_PT,
    PanelOnPage,
    Placed,
    crowding,
    panel_on_page,
)
from ventplan.show.plan_shapes import Panel


class Sheet:
    """A page in points, y upwards, with the few things that a plan needs.

    Parameters
    ----------
    width_pt, height_pt
        Its size [pt].
    """

    def __init__(self, width_pt: float, height_pt: float) -> None:
        with plotting().rc_context(SETTINGS):
            self.figure = new_figure(width_pt, height_pt)
            self.figure.patch.set_facecolor(light("paper"))
            self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
            self.axes.set_xlim(0.0, width_pt)
            self.axes.set_ylim(0.0, height_pt)
            self.axes.set_axis_off()

    def area(self, rings: Sequence[Sequence[Point]], colour: str, order: float, opacity: float = 1.0) -> None:
        """Fill a shape with holes."""
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        vertices: list[Point] = []
        codes: list[int] = []
        for ring in rings:
            closed = [*ring, ring[0]] if ring[0] != ring[-1] else list(ring)
            vertices += closed
            codes += [int(Path.MOVETO), *[int(Path.LINETO)] * (len(closed) - 2), int(Path.CLOSEPOLY)]
        path = Path(vertices, codes)
        self.axes.add_patch(
            PathPatch(path, facecolor=light(colour), edgecolor="none", alpha=opacity, zorder=order, linewidth=0.0)
        )

    def line(
        self, points: Sequence[Point], colour: str, width: float, order: float, dash: tuple[float, ...] = ()
    ) -> None:
        """Draw a line."""
        from matplotlib.lines import Line2D

        style: Any = (0.0, dash) if dash else "-"
        xs, ys = zip(*points, strict=True)
        self.axes.add_line(
            Line2D(xs, ys, color=light(colour), linewidth=width, linestyle=style, zorder=order,
                   solid_capstyle="round", solid_joinstyle="round", dash_capstyle="butt")
        )  # fmt: skip

    def words(self, x: float, y: float, text: str, size: float, *, colour: str = "ink", bold: bool = False,
              align: str = "left", order: float = 50.0) -> None:  # fmt: skip
        """Write a line of text; y is its base line."""
        self.axes.text(
            x, y, text, fontsize=size, color=light(colour), fontweight="bold" if bold else "normal", ha=align,
            va="baseline", zorder=order, parse_math=False,
        )  # fmt: skip


def disc(x: float, y: float, radius: float) -> list[Point]:
    """Corners of a circle."""
    return [(x + radius * math.cos(0.1 * math.pi * i), y + radius * math.sin(0.1 * math.pi * i)) for i in range(21)]


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
    """The denominator of the largest usual scale that fits a page; a crowded plan may take a larger page."""
    usual = _largest(panels, 1.0)
    crowded = any(crowding(panel, POINTS_PER_M / usual) > CROWDED for panel in panels)
    return _largest(panels, LARGER) if crowded else usual


def _largest(panels: tuple[Panel, ...], page: float) -> int:
    """The denominator of the largest usual scale that fits so many times a page."""
    for scale in SCALES:
        points = POINTS_PER_M / scale / page
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
