"""What stands below a plan: scale bar, samples, compass and wind, and what the symbols mean."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ventplan.house.records import Point
from ventplan.house.units import System, show, unit_factor
from ventplan.show.colours import STEPS
from ventplan.show.paper import text_size
from ventplan.show.plan_jets import LEVEL_MARK_M, Mark, mark_areas
from ventplan.show.plan_notes import TintScale
from ventplan.show.plan_page import Layout, Sheet, disc
from ventplan.show.plan_shapes import DASHED, DOTTED, Panel

LEGEND_PT = 7.0
ROW_PT = 15.0


SYMBOLS = {
    "window": ("face of ", "window"),
    "door": ("leaf of ", "door"),
    "screen": ("screen of ", "screen in place"),
    "obstacle": ("obstacle ", "in the way of fans and jets"),
    "stream": ("air ", "air, as wide as its flow"),
    "below": ("below: ", "the floor below"),
    "from": ("arrow of air on its way from ", "from another level"),
    "to": ("arrow of air on its way to ", "to another level"),
    "fan": ("fan ", "fan, pointing where it blows"),
    "jet": ("jet at ", "jet of a fan, to its edge"),
}
"""By symbol: how the names of the parts begin that it explains, and its words."""


def symbols_of(panels: Sequence[Panel]) -> tuple[str, ...]:
    """The symbols that a plan needs explained: those of what is drawn on it."""
    drawn = [area.what for panel in panels for area in panel.areas]
    drawn += [line.what for panel in panels for line in panel.lines]
    return tuple(symbol for symbol, (begin, _) in SYMBOLS.items() if any(what.startswith(begin) for what in drawn))


def legend_rows(width_pt: float, symbols: Sequence[str], tints: TintScale | None) -> list[list[tuple[str, str, float]]]:
    """The legend in rows that fit a width: symbol, words, width [pt]."""
    items = [(symbol, SYMBOLS[symbol][1]) for symbol in symbols]
    items.append(("", tints.note if tints else "number in a room: outdoor air change rate, per hour"))
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


def foot_height(width_pt: float, tints: TintScale | None, symbols: Sequence[str]) -> float:
    """Height of scale bar, compass, tint scale and legend [pt]."""
    rows = len(legend_rows(width_pt, symbols, tints))
    return 58.0 + (34.0 if tints else 0.0) + ROW_PT * rows


def paint_foot(
    sheet: Sheet,
    layout: Layout,
    tints: TintScale | None,
    north_deg: float,
    wind_from_deg: float | None,
    wind_text: str,
    stream_key: tuple[float, str] | None,
    symbols: Sequence[str],
    system: System,
) -> None:
    """Draw scale bar, samples, compass and legend into the room that was kept for them."""
    left, low, right, _ = layout.foot
    rows = legend_rows(right - left, symbols, tints)
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
    elif symbol == "obstacle":
        corners = [(x, mid - 4.0), (x + 26, mid - 4.0), (x + 26, mid + 4.0), (x, mid + 4.0)]
        sheet.area([corners], "obstacle", 5.0)
        sheet.line([*corners, corners[0]], "muted", 0.4, 5.1)
    elif symbol == "below":
        corners = [(x, mid - 4.0), (x + 26, mid - 4.0), (x + 26, mid + 4.0), (x, mid + 4.0)]
        sheet.area([corners], "ghost", 5.0)
        sheet.line([*corners, corners[0]], "muted", 0.35, 5.1, DOTTED)
    elif symbol in ("from", "to"):
        size = 5.0 / LEVEL_MARK_M
        for part in mark_areas(Mark((0.0, 0.0), symbol == "to", "", 0.0, "")):
            ring = [(x + 13.0 + size * u, mid + size * v) for u, v in part.rings[0]]
            sheet.area([ring], part.colour, 5.0)
    elif symbol == "fan":
        body = [(x + 10, mid - 5), (x + 14, mid - 5), (x + 14, mid + 5), (x + 10, mid + 5)]
        sheet.area([body], "jet", 5.0)
        sheet.line([*body, body[0]], "ink", 0.9, 5.1)
        sheet.area([[(x + 14, mid - 3), (x + 20, mid), (x + 14, mid + 3)]], "jet", 5.2)
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
    sheet.line(disc(x, y, radius), "muted", 0.6, 5.0)
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
