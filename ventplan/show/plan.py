"""The floor plan of a solved house: what is on it, its legend, and how it is painted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from ventplan.house.records import House, Point, Scenario, Wind
from ventplan.house.units import System, shown_number, unit_factor
from ventplan.house.units import show as shown
from ventplan.network.flow import Flow
from ventplan.show.paper import STEPS, text_size, wrapped
from ventplan.show.plan_air import is_still, stream_shapes, streams_of, width_per_flow
from ventplan.show.plan_jets import (
    LEVEL_MARK_M,
    Mark,
    fan_shapes,
    jet_areas,
    jet_lines,
    jets_of,
    mark_areas,
    vertical_marks,
)
from ventplan.show.plan_notes import (
    Tint,
    TintScale,
    fan_notes,
    jet_notes,
    mark_notes,
    opening_notes,
    room_notes,
    tint_scale,
)
from ventplan.show.plan_page import (
    TITLE_PT,
    Layout,
    lay_out,
    paint_panels,
)
from ventplan.show.plan_shapes import DASHED, DOTTED, Panel, Sheet, disc
from ventplan.show.plan_storeys import fixed_parts, ghost_of, storeys_of

HEAD_PT = 26.0
NO_STREAM = " Hardly any air moves: no stream is strong enough to draw."


@dataclass(frozen=True)
class Plan:
    """A plan before it is painted."""

    title: str
    subtitle: str
    panels: tuple[Panel, ...]  # its storeys, from the lowest up
    tints: TintScale | None  # what the floors' colours mean, or None
    stream_key: tuple[float, str] | None  # width of a sample of air [m] and the words for it; None where no air moves
    symbols: tuple[str, ...]  # what the legend explains
    north_deg: float  # compass bearing of the top of the plan [deg]
    wind: Wind
    system: System


def plan_of(
    house: House,
    scenario: Scenario,
    flow: Flow,
    *,
    tint: Tint | None = "air-change",
    show: System | None = None,
    title: str | None = None,
) -> Plan:
    """What is on the plan of a solved house, in metres; the arguments are those of `draw_plan`."""
    system = show or house.show
    tints = tint_scale(house, scenario, flow, tint, system)
    jets = jets_of(house, scenario)
    fastest = max((v for jet in jets for v in jet.speeds_m_s), default=1.0)
    colours = {name: tints.colours.get(name, "floor") if tints else "floor" for name in house.rooms}
    panels = []
    below = None
    for storey in storeys_of(house, system):
        areas, lines, walls = fixed_parts(house, scenario, storey, colours)
        if below is not None:
            more_areas, more_lines = ghost_of(house, below, storey)
            areas += more_areas
            lines += more_lines
        below = storey
        streams = streams_of(house, scenario, flow, storey)
        for stream in streams:
            areas += stream_shapes(house, stream)
        for jet in jets:
            if jet.opening in storey.openings:
                areas += jet_areas(house, jet, fastest)
                lines += jet_lines(house, jet)
        for placement in scenario.placements:
            if placement.opening in storey.openings:
                more_areas, more_lines, _ = fan_shapes(house, scenario, placement)
                areas += more_areas
                lines += more_lines
        marks = vertical_marks(house, streams)
        for mark in marks:
            areas += mark_areas(mark)
        notes = [
            *room_notes(house, scenario, flow, storey, tints),
            *fan_notes(house, scenario, flow, storey, system),
            *opening_notes(house, scenario, flow, storey, system),
            *jet_notes(jets, storey, system),
            *mark_notes(house, marks, system),
        ]
        panels.append(Panel(storey.title, tuple(areas), tuple(lines), tuple(notes), walls))
    scale = width_per_flow(house, scenario, flow)
    sample = _round_flow(0.35 / scale, system) if scale > 0.0 and not is_still(flow) else 0.0
    key = (scale * sample, shown(sample, "flow", system)) if sample > 0.0 else None
    subtitle = subtitle_of(scenario, flow, system)
    return Plan(title or house.name, subtitle, tuple(panels), tints, key, symbols_of(panels), house.north_deg,
                scenario.outdoors.wind, system)  # fmt: skip


def _round_flow(flow_m3_s: float, system: System) -> float:
    """The largest flow up to a given one that is 1, 2 or 5 times a power of ten in the unit shown [m3/s]."""
    per_unit = shown_number(1.0, "flow", system)
    shown_flow = flow_m3_s * per_unit
    power = 10.0 ** math.floor(math.log10(shown_flow))
    return float(power * max(n for n in (1.0, 2.0, 5.0) if n * power <= shown_flow * 1.0000001) / per_unit)


def subtitle_of(scenario: Scenario, flow: Flow, system: System) -> str:
    """Scenario and temperatures in a line; a note if hardly any air moves."""
    warm = sorted(scenario.temperatures_c.values())
    low, high = shown(warm[0], "temperature", system), shown(warm[-1], "temperature", system)
    indoors = low if low == high else f"{low} to {high}"
    out = shown(scenario.outdoors.temperature_c, "temperature", system)
    return f"Scenario: {scenario.name}. {out} outdoors, {indoors} indoors.{NO_STREAM * is_still(flow)}"


def layout_of(plan: Plan) -> Layout:
    """A plan on its page, every note in its place."""

    def foot(width: float) -> float:
        return foot_height(width, plan.tints, plan.symbols)

    lines = len(wrapped(plan.subtitle, SUBTITLE_PT, 420.0))
    return lay_out(plan.panels, head_pt=HEAD_PT + 10.5 * lines, foot_height=foot)


def draw_plan(
    house: House,
    scenario: Scenario,
    flow: Flow,
    *,
    tint: Tint | None = "air-change",
    show: System | None = None,
    title: str | None = None,
) -> Any:
    """Draw the floor plan of a solved house to scale, a panel for each storey.

    Parameters
    ----------
    house, scenario
        The house and its state.
    flow
        Its solution.
    tint
        What the floors' colours and the number in each room show: ``air-change`` (from outdoors), ``age``,
        ``temperature`` or ``total-exchange``; None for plain floors.
    show
        Units of the words, ``si`` or ``us``; the house file's own if None.
    title
        The heading; the house's name if None.

    Returns
    -------
    matplotlib.figure.Figure
        For `ventplan.show.paper.save`, `to_bytes` or `as_markup`.

    Raises
    ------
    InputError
        Where the plotting library is not installed.
    """
    return paint(plan_of(house, scenario, flow, tint=tint, show=show, title=title))


def draw_storeys(
    house: House, scenario: Scenario, flow: Flow, *, tint: Tint | None = "air-change", show: System | None = None
) -> list[tuple[str, Any]]:
    """Draw each storey as a picture of its own, those where a fan stands first.

    Returns
    -------
    list of tuple
        Title of the storey, empty where the house has one, and the figure.
    """
    plan = plan_of(house, scenario, flow, tint=tint, show=show)
    with_fans = {p.opening for p in scenario.placements}
    storeys = [bool(with_fans & set(storey.openings)) for storey in storeys_of(house, plan.system)]
    order = sorted(range(len(plan.panels)), key=lambda i: not storeys[i])
    parts = [replace(plan, panels=(plan.panels[i],), symbols=symbols_of((plan.panels[i],))) for i in order]
    return [(part.panels[0].title, paint(part)) for part in parts]


def paint(plan: Plan) -> Any:
    """Draw a plan on a page of its own, as a ``matplotlib.figure.Figure``."""
    layout = layout_of(plan)
    sheet = Sheet(layout.width_pt, layout.height_pt)
    left, _, right, high = layout.head
    sheet.words(left, high - TITLE_PT, plan.title, TITLE_PT, bold=True)
    for i, line in enumerate(wrapped(plan.subtitle, SUBTITLE_PT, right - left)):
        sheet.words(left, high - TITLE_PT - 13.0 - 10.5 * i, line, SUBTITLE_PT, colour="muted")
    paint_panels(sheet, layout)
    _paint_foot(sheet, layout, plan)
    return sheet.figure


LEGEND_PT, SUBTITLE_PT = 7.0, 7.6
ROW_PT = 15.0
SYMBOLS = {
    "window": ("face of ", "window"),
    "door": ("leaf of ", "door"),
    "screen": ("screen of ", "screen in place"),
    "obstacle": ("obstacle ", "furniture and other obstacles"),
    "stream": ("air ", "air, as wide as its flow"),
    "below": ("below: ", "the floor below"),
    "from": ("arrow of air, from ", "from another level"),
    "to": ("arrow of air, to ", "to another level"),
    "fan": ("fan ", "fan, pointing where it blows"),
    "jet": ("jet at ", "jet of a fan, to its edge"),
}
"""By symbol: how the names of the parts begin that it explains, and its words."""


def symbols_of(panels: Sequence[Panel]) -> tuple[str, ...]:
    """The symbols that the legend must explain: those of the parts drawn on a plan."""
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


def _paint_foot(sheet: Sheet, layout: Layout, plan: Plan) -> None:
    """Draw scale bar, samples, compass and legend into the room that was kept for them."""
    left, low, right, _ = layout.foot
    rows = legend_rows(right - left, plan.symbols, plan.tints)
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
    if plan.tints is not None:
        _tint_key(sheet, left, base, plan.tints)
        base += 34.0
    points = layout.panels[0].points_per_m
    after = _scale_bar(sheet, left, base + 10.0, points, layout.scale, plan.system)
    if plan.stream_key is not None:
        width_m, words = plan.stream_key
        half = width_m * points / 2.0
        sheet.box((after, base + 14.0 - half, after + 26.0, base + 14.0 + half), "air", 5.0, 0.42)
        sheet.words(after + 31.0, base + 11.5, words, LEGEND_PT)
    _compass(sheet, right - 20.0, base + 20.0, plan)


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
        sheet.box((x, mid - 2.5, x + 18, mid + 2.5), "air", 5.0, 0.42)
        sheet.area([[(x + 16, mid - 4.5), (x + 26, mid), (x + 16, mid + 4.5)]], "air", 5.1, 0.95)
    elif symbol == "obstacle":
        sheet.box((x, mid - 4.0, x + 26, mid + 4.0), "obstacle", 5.0, edge=0.4)
    elif symbol == "below":
        sheet.box((x, mid - 4.0, x + 26, mid + 4.0), "ghost", 5.0, edge=0.35, dash=DOTTED)
    elif symbol in ("from", "to"):
        size = 5.0 / LEVEL_MARK_M
        for part in mark_areas(Mark((0.0, 0.0), symbol == "to", "", 0.0, "")):
            ring = [(x + 13.0 + size * u, mid + size * v) for u, v in part.rings[0]]
            sheet.area([ring], part.colour, 5.0)
    elif symbol == "fan":
        sheet.box((x + 10, mid - 5, x + 14, mid + 5), "jet", 5.0, edge=0.9, edge_colour="ink")
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
        sheet.box((x + step * i, y + 9.0, x + step * (i + 1), y + 18.0), f"{tints.scale} {i + 1}", 5.0, edge=0.4)
    for i, bound in enumerate(tints.bounds):
        sheet.words(x + step * (i + 1), y + 1.5, bound, LEGEND_PT, align="center")


def _scale_bar(sheet: Sheet, x: float, y: float, points_per_m: float, scale: int, system: System) -> float:
    """A bar of round lengths in two shades, its figures below; where it ends on the page [pt]."""
    unit = unit_factor("ft" if system == "us" else "m", "length")[0]
    lengths = (4, 8, 12, 20, 40) if system == "us" else (1, 2, 4, 6, 10, 20)
    length = next((n for n in lengths if n * unit * points_per_m >= 80.0), lengths[-1])
    whole = length * unit * points_per_m
    for i in range(4):
        part = (x + whole * i / 4, y + 2, x + whole * (i + 1) / 4, y + 6)
        sheet.box(part, "paper" if i % 2 else "ink", 5.0, edge=0.5, edge_colour="ink")
    sheet.words(x, y - 6.5, "0", LEGEND_PT, align="left")
    sheet.words(x + whole, y - 6.5, f"{length} {'ft' if system == 'us' else 'm'}", LEGEND_PT, align="center")
    sheet.words(x + whole / 2.0, y - 6.5, f"1:{scale}", LEGEND_PT, colour="muted", align="center")
    return x + whole + 26.0


def _compass(sheet: Sheet, x: float, y: float, plan: Plan) -> None:
    """North as an arrow through a circle, the wind as an arrow that comes in from outside."""

    def way(bearing_deg: float) -> Point:
        angle = math.radians(bearing_deg - plan.north_deg)
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
    if plan.wind.speed_m_s > 0.0:
        wx, wy = way(plan.wind.from_deg)
        start, end = (at + wx * 13, y + wy * 13), (at - wx * 5, y - wy * 5)
        sheet.line([start, end], "air", 1.6, 5.0)
        qx, qy = -wy, wx
        point = (at - wx * 13, y - wy * 13)
        sheet.area([[point, (end[0] + qx * 5, end[1] + qy * 5), (end[0] - qx * 5, end[1] - qy * 5)]], "air", 5.0)
        at -= 20.0
    sheet.words(at, y - 2.4, wind_words(plan.wind, plan.system), LEGEND_PT, align="right")


def wind_words(wind: Wind, system: System) -> str:
    """The wind in words."""
    if wind.speed_m_s <= 0.0:
        return "no wind"
    return f"wind {shown(wind.speed_m_s, 'wind', system)} from {wind.from_deg:.0f}°"
