"""The plan as the page draws it: the areas, lines and notes of the printed plan, as paths of SVG in metres.

Geometry, tints and words come from `ventplan.show.plan` and its parts; a page's y axis runs down, so y is negated here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ventplan.house import House, Placement, Scenario
from ventplan.house.geometry import free_rectangle, normal_from
from ventplan.house.records import OUTDOORS, Point
from ventplan.house.units import System
from ventplan.network.flow import Flow
from ventplan.network.weather import densities
from ventplan.show.plan_air import Stream, stream_shapes, streams_of
from ventplan.show.plan_jets import fan_outline, jet_areas, mark_areas, own_jet, vertical_marks
from ventplan.show.plan_notes import TINTS, Tint, mark_notes, opening_notes, tint_scale
from ventplan.show.plan_shapes import Area, Line, Rings
from ventplan.show.plan_storeys import Storey, ghost_of, opening_lines, storeys_of

Shape = list[Any]
"""Class, path, and opacity where it is not 1."""
SLICES = 8
"""Parts that a jet is followed in while it is dragged."""
MAX_CACHED_JETS = 200
"""Jets that are remembered."""
MIN_ARROW_FLOW_M3_S = 0.004
"""Weaker flows get no arrow while something is dragged [m3/s]."""


def path_of(rings: Iterable[Sequence[Point]], closed: bool = True) -> str:
    """A path of SVG in metres to the millimetre."""
    return "".join(
        "M" + "L".join(f"{round(x, 3):g},{round(-y, 3) + 0.0:g}" for x, y in ring) + ("Z" if closed else "")
        for ring in rings
    )


def area_shape(area: Area, kind: str) -> Shape:
    """A filled area."""
    return [kind, path_of(area.rings), *([round(area.opacity, 3)] if area.opacity < 1.0 else [])]


def line_shape(line: Line) -> Shape:
    """A line with a class of the first word of what it represents and its colour."""
    return [f"{line.what.partition(' ')[0]} {line.colour}", path_of([line.points], closed=False)]


def wall_paths(rings: Iterable[Rings]) -> list[str]:
    """Walls, each with its holes."""
    return [path_of(ring) for ring in rings]


def ghost_paths(house: House, below: Storey, storey: Storey) -> list[str]:
    """The floor below, where this one leaves it open to the sky."""
    return [path_of(area.rings) for area in ghost_of(house, below, storey)[0]]


def fan_symbol(radius_m: float) -> list[Shape]:
    """A fan at the origin, blowing to the right."""
    areas, lines = fan_outline(radius_m)
    return [area_shape(a, f"fan-{a.what}") for a in areas] + [line_shape(line) for line in lines]


def symbols(house: House, scenario: Scenario, names: Iterable[str]) -> dict[str, dict[str, Any]]:
    """Symbols of openings in a state, by name; unknown names are left out."""
    return {
        name: {
            "share": scenario.shares[name],
            "screened": name in scenario.screened and house.openings[name].screen is not None,
            "shapes": [line_shape(line) for line in opening_lines(house, scenario, house.openings[name])],
        }
        for name in names
        if name in house.openings
    }


def jets(house: House, scenario: Scenario) -> list[dict[str, Any]]:
    """The jet of each fan on its way to its own opening, in layers that fade with its speed."""
    density = densities(house, scenario) if scenario.placements else {}
    return [
        drawn
        for placement in scenario.placements
        if (drawn := _drawn_jet(house, scenario, placement, density[placement.stands_in])) is not None
    ]


def _drawn_jet(house: House, scenario: Scenario, placement: Placement, density: float) -> dict[str, Any] | None:
    """One jet, cached: of several fans only one is dragged at a time."""
    key = (placement, scenario.shares[placement.opening], round(density, 4))
    if _drawn.get("house") is not house:
        _drawn.clear()
        _drawn["house"] = house
    if key not in _drawn:
        if len(_drawn) > MAX_CACHED_JETS:
            _drawn.clear()
            _drawn["house"] = house
        jet = own_jet(house, scenario, placement, density, SLICES)
        _drawn[key] = (
            None
            if jet is None
            else {
                "fan": jet.fan,
                "place": jet.place,
                "opening": jet.opening,
                "shapes": [area_shape(area, "jet") for area in jet_areas(house, jet, max(jet.speeds_m_s))],
            }
        )
    found: dict[str, Any] | None = _drawn[key]
    return found


_drawn: dict[Any, Any] = {}


def arrows(house: House, scenario: Scenario, flow: Flow) -> dict[str, str]:
    """An arrow at each opening that passes air one way, as large as the root of its flow; by name."""
    found = {}
    for name, air in flow.openings.items():
        opening, share, net = house.openings[name], scenario.shares[name], air.net_m3_s
        if opening.is_horizontal or share <= 0.0 or abs(net) < MIN_ARROW_FLOW_M3_S:
            continue
        free = free_rectangle(opening, share)
        sign = 1.0 if net > 0.0 else -1.0
        nx, ny = opening.normal[0] * sign, opening.normal[1] * sign
        size = min(0.2 + 0.42 * math.sqrt(abs(net)), 0.6)
        corners = ((-0.5, 0.42), (0.62, 0.0), (-0.5, -0.42))
        found[name] = path_of(
            [[(free.x + size * (a * nx - b * ny), free.y + size * (a * ny + b * nx)) for a, b in corners]]
        )
    return found


def standing_strip(house: House, scenario: Scenario, placement: Placement, from_m: float, to_m: float) -> str:
    """The strip of floor where a fan may stand in front of its opening, as wide as its blades.

    Parameters
    ----------
    house, scenario
        The house and its state.
    placement
        The fan.
    from_m, to_m
        Least and largest setback [m].
    """
    opening = house.openings[placement.opening]
    free = free_rectangle(opening, scenario.shares[opening.name])
    nx, ny = normal_from(opening, placement.stands_in)
    half = house.fans[placement.fan].diameter_m / 2.0
    corners = ((from_m, -half), (to_m, -half), (to_m, half), (from_m, half))
    return path_of([[(free.x - nx * back - ny * side, free.y - ny * back + nx * side) for back, side in corners]])


def tints(
    house: House, scenario: Scenario, flow: Flow, kind: str, system: System, rates_per_h: Mapping[str, float]
) -> dict[str, Any]:
    """Colour and text of each room, and what they mean; ``rates_per_h`` are their outdoor air change rates."""
    known: Tint = next((tint for tint in TINTS if tint == kind), "air-change")
    scale = tint_scale(house, scenario, flow, known, system, rates_per_h)
    if scale is None:
        return {}
    return {
        "kind": known,
        "title": scale.title,
        "scale": scale.scale,
        "bounds": scale.bounds,
        "rooms": {name: [scale.colours[name], scale.values[name]] for name in scale.values},
    }


def opening_labels(house: House, scenario: Scenario, flow: Flow, system: System) -> dict[str, dict[str, Any]]:
    """The words at each opening, and where they belong, by name."""
    found = {}
    for storey in storeys_of(house, system):
        for note in opening_notes(house, scenario, flow, storey, system):
            name = note.what.partition(": ")[2]
            if name in storey.openings:
                found[name] = {"lines": note.lines[1:], "at": note.at, "prefer": note.prefer, "quiet": note.quiet}
    return found


def air_of_storey(house: House, scenario: Scenario, flow: Flow, storey: Storey, system: System) -> dict[str, Any]:
    """Bands of air on a storey, the marks where air comes from or goes to another level, and how fast it moves.

    Parameters
    ----------
    house, scenario, flow
        A solved state.
    storey
        The storey.
    system
        Units of the words.
    """
    streams = streams_of(house, scenario, flow, storey)
    marks = vertical_marks(house, streams)
    heads = {"air": "mark", "paper": "mark-inside"}
    return {
        "bands": [
            area_shape(a, "band" if a.what.startswith("air") else "head")
            for stream in streams
            for a in stream_shapes(house, stream)
        ],
        "ways": [
            {"points": s.points, "width_m": s.width_m, "speeds_m_s": _speeds_m_s(house, scenario, s, flow)}
            for s in streams
        ],
        "marks": [area_shape(a, heads[a.colour]) for mark in marks for a in mark_areas(mark)],
        "levels": [
            {"at": mark.at, "lines": note.lines}
            for mark, note in zip([m for m in marks if not m.opening], mark_notes(house, marks, system), strict=True)
        ],
    }


def _speeds_m_s(house: House, scenario: Scenario, stream: Stream, flow: Flow) -> list[float]:
    """Mean speed of a stream where it begins, on its way through its room, and where it ends [m/s].

    Notes
    -----
    In an opening: its flow over its free area. In between: what enters the room over the square root of its floor area
    times its height, a wall's worth of cross-section, but at least a tenth of the slower end.
    """

    def at(name: str) -> float | None:
        air = flow.openings.get(name)
        if air is None or air.free_area_m2 <= 0.0:
            return None
        return (air.forward_m3_s + air.backward_m3_s) / air.free_area_m2

    first, last = at(stream.start), at(stream.end)
    ends = [v for v in (first, last) if v is not None] or [0.1]
    if stream.place == OUTDOORS:
        return [ends[0]] * 3
    room = house.rooms[stream.place]
    inflow = flow.rooms[stream.place].inflow_m3_s if stream.place in flow.rooms else 0.0
    middle = max(inflow / (math.sqrt(room.area_m2) * room.ceiling_m), 0.1 * min(ends))
    return [round(v, 4) for v in (first or ends[0], middle, last or ends[0])]
