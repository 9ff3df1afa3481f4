"""Put a laid-out plan on a sheet of the plotting library."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from ventplan.house.records import Point
from ventplan.house.shown import show
from ventplan.house.units import System, unit_factor
from ventplan.show.colours import STEPS, light
from ventplan.show.paper import SETTINGS, new_figure, plotting, text_size
from ventplan.show.plan_layout import (
    NOTE_PT,
    PANEL_PT,
    TITLE_PT,
    Layout,
    PanelOnPage,
    Placed,
    list_columns,
    list_line,
)
from ventplan.show.plan_notes import TintScale
from ventplan.show.plan_shapes import DASHED, LAYERS

LEGEND_PT = 7.0
ROW_PT = 15.0


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


def paint(
    layout: Layout,
    *,
    title: str,
    subtitle: str,
    tints: TintScale | None,
    north_deg: float,
    wind_from_deg: float | None,
    wind_text: str,
    stream_key: tuple[float, str] | None,
    has_jets: bool,
    system: System,
) -> Any:
    """Draw a laid-out plan.

    Parameters
    ----------
    layout
        The page.
    title, subtitle
        Its heading.
    tints
        What the floors' colours mean, or None.
    north_deg
        Compass bearing of the top of the plan [deg].
    wind_from_deg, wind_text
        Where the wind comes from [deg], None where there is none, and its words.
    stream_key
        Width of a sample of air on the plan [m] and the flow it stands for; None where no air moves.
    has_jets
        True where the legend explains jets.
    system
        Units of the scale bar.
    """
    sheet = Sheet(layout.width_pt, layout.height_pt)
    left, _, right, high = layout.head
    sheet.words(left, high - TITLE_PT, title, TITLE_PT, bold=True)
    for i, line in enumerate(wrapped(subtitle, LEGEND_PT + 0.6, right - left)):
        sheet.words(left, high - TITLE_PT - 13.0 - 10.5 * i, line, LEGEND_PT + 0.6, colour="muted")
    for put in layout.panels:
        _paint_panel(sheet, put)
    _paint_list(sheet, layout)
    _paint_foot(sheet, layout, tints, north_deg, wind_from_deg, wind_text, stream_key, has_jets, system)
    return sheet.figure


def wrapped(text: str, size_pt: float, width_pt: float) -> list[str]:
    """Text in lines that fit a width, broken between words."""
    lines, current = [], ""
    for word in text.split():
        trial = f"{current} {word}".strip()
        if current and text_size(trial, size_pt)[0] > width_pt:
            lines.append(current)
            current = word
        else:
            current = trial
    return [*lines, current] if current else lines


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
        sheet.area([_disc(x, y, 1.1)], "muted", 20.0)
    middle, step = (left + right) / 2.0, placed.size_pt * 1.22
    colour = "muted" if placed.note.quiet else "ink"
    if placed.number:
        disc = _disc(middle, (low + high) / 2.0, 0.62 * placed.size_pt + 1.5)
        sheet.area([disc], "paper", 21.0)
        sheet.line(disc, "muted", 0.5, 21.0)
    elif placed.covers:
        sheet.area([[(left, low), (right, low), (right, high), (left, high)]], "paper", 21.0, 0.78)
    for i, line in enumerate(placed.lines):
        y = high - 0.8 - placed.size_pt * 0.93 - step * i
        bold = i == 0 and not (placed.note.quiet and not placed.note.what.startswith("room"))
        sheet.words(middle, y, line, placed.size_pt, colour=colour, bold=bold, align="center")


def _disc(x: float, y: float, radius: float) -> list[Point]:
    return [(x + radius * math.cos(0.1 * math.pi * i), y + radius * math.sin(0.1 * math.pi * i)) for i in range(21)]


def _paint_list(sheet: Sheet, layout: Layout) -> None:
    left, _, right, high = layout.list_box
    if not layout.listed:
        return
    columns = list_columns(layout.listed, right - left)
    rows = math.ceil(len(layout.listed) / columns)
    for i, placed in enumerate(layout.listed):
        x = left + (right - left) / columns * (i // rows)
        sheet.words(x, high - 6.0 - NOTE_PT * 1.45 * (i % rows + 0.7), list_line(placed), NOTE_PT)


def legend_rows(width_pt: float, *, stream: bool, jets: bool) -> list[list[tuple[str, str, float]]]:
    """The legend in rows that fit a width: symbol, words, width [pt]."""
    items = [("window", "window"), ("door", "door"), ("screen", "screen in place")]
    if stream:
        items.append(("stream", "air, as wide as its flow"))
    if jets:
        items.append(("jet", "jet of a fan, to its edge"))
    items.append(("", "reading: what an anemometer shows just past the middle of the opening"))
    rows: list[list[tuple[str, str, float]]] = [[]]
    used = 0.0
    for symbol, words in items:
        width = text_size(words, LEGEND_PT)[0] + (32.0 if symbol else 0.0) + 14.0
        if rows[-1] and used + width > width_pt:
            rows.append([])
            used = 0.0
        rows[-1].append((symbol, words, width))
        used += width
    return rows


def foot_height(width_pt: float, tints: TintScale | None, *, stream: bool, jets: bool) -> float:
    """Height of scale bar, compass, tint scale and legend [pt]."""
    rows = len(legend_rows(width_pt, stream=stream, jets=jets))
    return 58.0 + (34.0 if tints else 0.0) + ROW_PT * rows


def _paint_foot(
    sheet: Sheet,
    layout: Layout,
    tints: TintScale | None,
    north_deg: float,
    wind_from_deg: float | None,
    wind_text: str,
    stream_key: tuple[float, str] | None,
    has_jets: bool,
    system: System,
) -> None:
    left, low, right, _ = layout.foot
    rows = legend_rows(right - left, stream=stream_key is not None, jets=has_jets)
    y = low + ROW_PT * (len(rows) - 1) + 4.0
    for row in rows:
        x = left
        for symbol, words, width in row:
            if symbol:
                _symbol(sheet, symbol, x, y)
            sheet.words(x + (32.0 if symbol else 0.0), y, words, LEGEND_PT, colour="muted")
            x += width
        y -= ROW_PT
    base = low + ROW_PT * len(rows) + 6.0
    if tints is not None:
        _tint_key(sheet, left, base, tints)
        base += 34.0
    points = layout.panels[0].points_per_m
    after = _scale_bar(sheet, left, base + 10.0, points, layout.scale, system)
    if stream_key is not None:
        width_m, words = stream_key
        low_y, high_y = base + 14.0 - width_m * points / 2, base + 14.0 + width_m * points / 2
        band = [(after, low_y), (after + 26, low_y), (after + 26, high_y), (after, high_y)]
        sheet.area([band], "air", 5.0, 0.42)
        sheet.words(after + 31.0, base + 11.5, words, LEGEND_PT)
    _compass(sheet, right - 20.0, base + 20.0, north_deg, wind_from_deg, wind_text)


def _symbol(sheet: Sheet, symbol: str, x: float, y: float) -> None:
    mid = y + 2.4
    if symbol == "window":
        sheet.line([(x, mid - 2.4), (x + 26, mid - 2.4)], "wall", 0.6, 5.0)
        sheet.line([(x, mid), (x + 26, mid)], "glass", 1.0, 5.0)
        sheet.line([(x, mid + 2.4), (x + 26, mid + 2.4)], "wall", 0.6, 5.0)
    elif symbol == "door":
        sheet.line([(x + 20, mid - 4), (x + 20, mid + 7)], "ink", 1.3, 5.0)
        arc = [(x + 20 - 11 * math.cos(a), mid - 4 + 11 * math.sin(a)) for a in [0.05 * math.pi * i for i in range(11)]]
        sheet.line(arc, "muted", 0.4, 5.0)
    elif symbol == "screen":
        sheet.line([(x, mid), (x + 26, mid)], "glass", 1.1, 5.0, DASHED)
    elif symbol == "stream":
        sheet.area([[(x, mid - 2.5), (x + 18, mid - 2.5), (x + 18, mid + 2.5), (x, mid + 2.5)]], "air", 5.0, 0.42)
        sheet.area([[(x + 16, mid - 4.5), (x + 26, mid), (x + 16, mid + 4.5)]], "air", 5.1, 0.95)
    elif symbol == "jet":
        for i in range(5):
            a, b = x + 5.2 * i, x + 5.2 * (i + 1)
            h0, h1 = 1.6 + 0.8 * i, 1.6 + 0.8 * (i + 1)
            sheet.area([[(a, mid - h0), (b, mid - h1), (b, mid + h1), (a, mid + h0)]], "jet", 5.0, 0.6 - 0.1 * i)


def _tint_key(sheet: Sheet, x: float, y: float, tints: TintScale) -> None:
    sheet.words(x, y + 22.0, tints.title, LEGEND_PT, bold=True)
    step = max(30.0, max(text_size(b, LEGEND_PT)[0] for b in tints.bounds) + 8.0)
    for i in range(STEPS):
        a, b = x + step * i, x + step * (i + 1)
        corners = [(a, y + 9.0), (b, y + 9.0), (b, y + 18.0), (a, y + 18.0)]
        sheet.area([corners], f"{tints.scale} {i + 1}", 5.0)
        sheet.line([*corners, corners[0]], "muted", 0.4, 5.1)
    for i, bound in enumerate(tints.bounds):
        sheet.words(x + step * (i + 1), y + 1.5, bound, LEGEND_PT, align="center")


def _scale_bar(sheet: Sheet, x: float, y: float, points_per_m: float, scale: int, system: System) -> float:
    """A bar of round lengths in two shades, its figures below; where it ends on the page [pt]."""
    unit = unit_factor("ft" if system == "us" else "m", "length")[0]
    lengths = (4, 8, 12, 20, 40) if system == "us" else (1, 2, 4, 6, 10, 20)
    length = next((n for n in lengths if n * unit * points_per_m >= 80.0), lengths[-1])
    whole = length * unit * points_per_m
    for i in range(4):
        a, b = x + whole * i / 4, x + whole * (i + 1) / 4
        sheet.area([[(a, y + 2), (b, y + 2), (b, y + 6), (a, y + 6)]], "ink" if i % 2 == 0 else "paper", 5.0)
    frame = [(x, y + 2), (x + whole, y + 2), (x + whole, y + 6), (x, y + 6), (x, y + 2)]
    sheet.line(frame, "ink", 0.5, 5.1)
    sheet.words(x, y - 6.5, "0", LEGEND_PT, align="left")
    sheet.words(x + whole, y - 6.5, f"{length} {'ft' if system == 'us' else 'm'}", LEGEND_PT, align="center")
    sheet.words(x + whole / 2.0, y - 6.5, f"1:{scale}", LEGEND_PT, colour="muted", align="center")
    return x + whole + 26.0


def _compass(sheet: Sheet, x: float, y: float, north_deg: float, wind_from_deg: float | None, wind_text: str) -> None:
    """North as an arrow through a circle, the wind as an arrow that comes in from outside."""

    def way(bearing_deg: float) -> Point:
        angle = math.radians(bearing_deg - north_deg)
        return math.sin(angle), math.cos(angle)

    nx, ny = way(0.0)
    radius = 11.0
    sheet.line(_disc(x, y, radius), "muted", 0.6, 5.0)
    px, py = -ny, nx
    tip = (x + nx * radius, y + ny * radius)
    right, left = (x + px * 4 - nx * 6, y + py * 4 - ny * 6), (x - px * 4 - nx * 6, y - py * 4 - ny * 6)
    head = [tip, right, (x - nx * 2.5, y - ny * 2.5), left]
    sheet.area([head], "ink", 5.2)
    sheet.words(x + nx * (radius + 6.5), y + ny * (radius + 6.5) - 2.4, "N", LEGEND_PT, bold=True, align="center")
    at = x - 34.0
    if wind_from_deg is not None:
        wx, wy = way(wind_from_deg)
        start, end = (at + wx * 13, y + wy * 13), (at - wx * 5, y - wy * 5)
        sheet.line([start, end], "air", 1.6, 5.0)
        qx, qy = -wy, wx
        point = (at - wx * 13, y - wy * 13)
        sheet.area([[point, (end[0] + qx * 5, end[1] + qy * 5), (end[0] - qx * 5, end[1] - qy * 5)]], "air", 5.0)
        at -= 20.0
    sheet.words(at, y - 2.4, wind_text, LEGEND_PT, align="right")


def wind_words(speed_m_s: float, from_deg: float, system: System) -> str:
    """The wind in words."""
    if speed_m_s <= 0.0:
        return "no wind"
    return f"wind {show(speed_m_s, 'wind', system)} from {from_deg:.0f}°"
