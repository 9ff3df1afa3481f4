"""The floor plan of a solved house: where the fans stand, how their jets widen, and the way that the air takes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from ventplan.house.records import House, Scenario
from ventplan.house.units import System, shown_number
from ventplan.house.units import show as shown
from ventplan.network.flow import Flow
from ventplan.show.paper import wrapped
from ventplan.show.plan_air import is_still, stream_shapes, streams_of, width_per_flow
from ventplan.show.plan_jets import fan_shapes, jet_areas, jet_lines, jets_of, mark_areas, vertical_marks
from ventplan.show.plan_legend import LEGEND_PT, foot_height, paint_foot, symbols_of, wind_words
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
from ventplan.show.plan_page import PANEL_PT, TITLE_PT, Layout, Sheet, disc, lay_out, list_columns, list_line
from ventplan.show.plan_panel import NOTE_PT, PanelOnPage, Placed
from ventplan.show.plan_shapes import LAYERS, Panel
from ventplan.show.plan_storeys import fixed_parts, ghost_of, storeys_of

HEAD_PT = 26.0
STILL = " Hardly any air moves: no stream is strong enough to draw."


@dataclass(frozen=True)
class Plan:
    """A plan before it is painted.

    Attributes
    ----------
    panels
        Its storeys, from the lowest up.
    tints
        What the floors' colours mean, or None.
    stream_key
        Width of a sample of air [m] and the words for it, or None.
    symbols
        What the legend explains.
    """

    panels: tuple[Panel, ...]
    tints: TintScale | None
    stream_key: tuple[float, str] | None
    symbols: tuple[str, ...]


def plan_of(
    house: House, scenario: Scenario, flow: Flow, *, tint: Tint | None = "air-change", show: System | None = None
) -> Plan:
    """What is on the plan of a solved house, in metres.

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
    """
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
    return Plan(tuple(panels), tints, key, symbols_of(panels))


def _round_flow(flow_m3_s: float, system: System) -> float:
    """A flow not above another that is round in the unit shown, 1, 2 or 5 times a power of ten [m3/s]."""
    from math import floor, log10

    per_unit = shown_number(1.0, "flow", system)
    shown_flow = flow_m3_s * per_unit
    power = 10.0 ** floor(log10(shown_flow))
    return float(power * max(n for n in (1.0, 2.0, 5.0) if n * power <= shown_flow * 1.0000001) / per_unit)


def subtitle_of(scenario: Scenario, flow: Flow, system: System) -> str:
    """Scenario and temperatures in a line, and that hardly any air moves where that is so."""
    warm = sorted(scenario.temperatures_c.values())
    low, high = shown(warm[0], "temperature", system), shown(warm[-1], "temperature", system)
    indoors = low if low == high else f"{low} to {high}"
    out = shown(scenario.outdoors.temperature_c, "temperature", system)
    return f"Scenario: {scenario.name}. {out} outdoors, {indoors} indoors.{STILL * is_still(flow)}"


def layout_of(plan: Plan, subtitle: str = "") -> Layout:
    """A plan on its page, every note in its place."""

    def foot(width: float) -> float:
        return foot_height(width, plan.tints, plan.symbols)

    lines = len(wrapped(subtitle, 7.6, 420.0))
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
    system = show or house.show
    plan = plan_of(house, scenario, flow, tint=tint, show=system)
    return _painted(house, scenario, flow, plan, system, title or house.name)


def draw_storeys(
    house: House, scenario: Scenario, flow: Flow, *, tint: Tint | None = "air-change", show: System | None = None
) -> list[tuple[str, Any]]:
    """Draw each storey as a picture of its own, those where a fan stands first.

    Parameters
    ----------
    house, scenario, flow, tint, show
        As for `draw_plan`.

    Returns
    -------
    list of tuple
        Title of the storey, empty where the house has one, and the figure.
    """
    system = show or house.show
    plan = plan_of(house, scenario, flow, tint=tint, show=system)
    with_fans = {p.opening for p in scenario.placements}
    storeys = [bool(with_fans & set(storey.openings)) for storey in storeys_of(house, system)]
    order = sorted(range(len(plan.panels)), key=lambda i: not storeys[i])
    parts = [replace(plan, panels=(plan.panels[i],), symbols=symbols_of((plan.panels[i],))) for i in order]
    return [(part.panels[0].title, _painted(house, scenario, flow, part, system, house.name)) for part in parts]


def _painted(house: House, scenario: Scenario, flow: Flow, plan: Plan, system: System, title: str) -> Any:
    subtitle = subtitle_of(scenario, flow, system)
    wind = scenario.outdoors.wind
    return paint(
        layout_of(plan, subtitle),
        title=title,
        subtitle=subtitle,
        tints=plan.tints,
        north_deg=house.north_deg,
        wind_from_deg=wind.from_deg if wind.speed_m_s > 0.0 else None,
        wind_text=wind_words(wind.speed_m_s, wind.from_deg, system),
        stream_key=plan.stream_key,
        symbols=plan.symbols,
        system=system,
    )


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
