"""Put a laid-out plan on a sheet of the plotting library."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from ventplan.house.units import System
from ventplan.show.paper import wrapped
from ventplan.show.plan_layout import PANEL_PT, TITLE_PT, Layout, list_columns, list_line
from ventplan.show.plan_legend import LEGEND_PT, paint_foot
from ventplan.show.plan_notes import TintScale
from ventplan.show.plan_panel import NOTE_PT, PanelOnPage, Placed
from ventplan.show.plan_shapes import LAYERS
from ventplan.show.plan_sheet import Sheet, disc


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
    symbols: Sequence[str],
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
    symbols
        What the legend explains.
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
    paint_foot(sheet, layout, tints, north_deg, wind_from_deg, wind_text, stream_key, symbols, system)
    return sheet.figure


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
        sheet.area([[(left, low), (right, low), (right, high), (left, high)]], "paper", 21.0, 0.78)
    for i, line in enumerate(placed.lines):
        y = high - 0.8 - placed.size_pt * 0.93 - step * i
        bold = i < placed.names and not (placed.note.quiet and not placed.note.what.startswith("room"))
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
