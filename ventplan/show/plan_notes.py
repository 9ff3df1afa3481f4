"""The words on a plan: every number straight from the solution, in the units that were asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite
from typing import Literal

from ventplan.house.fan_pose import fan_height_m
from ventplan.house.geometry import free_rectangle, polygon
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Point, Scenario
from ventplan.house.units import System, rounded, show, show_time
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.show.paper import STEPS, tint
from ventplan.show.plan_jets import Jet, Mark, fan_spot
from ventplan.show.plan_shapes import Note
from ventplan.show.plan_storeys import Storey
from ventplan.show.tables import show_setback

Tint = Literal["air-change", "age", "temperature", "total-exchange"]
TINTS: tuple[Tint, ...] = ("air-change", "age", "temperature", "total-exchange")
AIR_CHANGE_BOUNDS_PER_H = (0.5, 2.0, 5.0, 10.0, 20.0)
"""Bounds of the colours for air change rates in every picture and on the page [1/h]: below the first one a room
has too little, since homes should have about 0.35 to 0.5 (ASHRAE 62-2001 asked for 0.35, from memory)."""
AGE_BOUNDS_S = (120.0, 300.0, 900.0, 3600.0, 14400.0)
NEGLIGIBLE = 0.01
"""An opening below this share of the strongest stream is labelled `NO_AIR` [-]."""
NEGLIGIBLE_M3_S = 0.003
"""Below this too: about what a crack of 1 m passes; shown figures would be 0 [m3/s] (common practice, no source)."""
LEAST_READING_M_S = 0.05
"""Slower streams are below what a vane anemometer shows [m/s] (common practice, no source)."""
NO_AIR = "hardly any air"


@dataclass(frozen=True)
class TintScale:
    """What the floors' colours mean."""

    title: str  # what is shown, with its unit
    scale: str  # name of the sequential scale
    bounds: tuple[str, ...]  # bounds between its steps, as they are shown
    colours: Mapping[str, str]  # colour of each room
    values: Mapping[str, str]  # text of each room's value
    note: str  # what the bold number in a room is, for the legend


def tint_scale(
    house: House,
    scenario: Scenario,
    flow: Flow,
    kind: Tint | None,
    system: System,
    rates_per_h: Mapping[str, float] | None = None,
) -> TintScale | None:
    """Colours and texts of the rooms for one quantity; None for plain floors.

    Parameters
    ----------
    house, scenario, flow
        A solved state.
    kind
        The quantity.
    system
        Units of the texts.
    rates_per_h
        Outdoor air change rates of the rooms where they are known already [1/h].
    """
    if kind is None:
        return None
    if kind == "temperature":
        return _temperatures(scenario, system)
    if kind in ("air-change", "total-exchange"):
        outdoor = kind == "air-change"
        values = (
            (rates_per_h or _outdoor_rates(house, scenario, flow))
            if outdoor
            else {name: room.air_change_per_h for name, room in flow.rooms.items()}
        )
        texts = {name: rate_label(v) for name, v in values.items()}
        bounds = tuple(f"{b:g}" for b in AIR_CHANGE_BOUNDS_PER_H)
        title = "Outdoor air change rate, per hour" if outdoor else "Total air exchange, per hour (other rooms too)"
        return _scale(title, "fresh", AIR_CHANGE_BOUNDS_PER_H, bounds, values, texts)
    from ventplan.airing.age import age_of_air
    from ventplan.airing.air_paths import air_paths

    found = {} if flow.isolated_rooms else age_of_air(air_paths(house, scenario, flow)).rooms
    ages = {name: room.age_s for name, room in found.items()}
    texts = {name: f"{show_time(age)} old" if isfinite(age) else "never renewed" for name, age in ages.items()}
    bounds = ("2 min", "5 min", "15 min", "1 h", "4 h")
    return _scale("Age of the air", "warm", AGE_BOUNDS_S, bounds, ages, texts)


def _temperatures(scenario: Scenario, system: System) -> TintScale:
    values = dict(scenario.temperatures_c)
    bounds = temperature_bounds_c(list(values.values()), system)
    texts = {name: show(v, "temperature", system) for name, v in values.items()}
    return _scale("Temperature", "warm", bounds, tuple(show(b, "temperature", system) for b in bounds), values, texts)


def temperature_bounds_c(values_c: Sequence[float], system: System) -> tuple[float, ...]:
    """Bounds of the colours for some temperatures, round in the unit shown [°C]."""
    degree, zero = (1.8, 32.0) if system == "us" else (1.0, 0.0)
    low, high = min(values_c) * degree + zero, max(values_c) * degree + zero
    step = next((s for s in (0.5, 1.0, 2.0, 3.0, 5.0) if 4.0 * s >= high - low), 10.0)
    first = step * round(0.5 * (low + high) / step - 2.0)
    return tuple((first + step * i - zero) / degree for i in range(STEPS - 1))


def _scale(
    title: str,
    scale: str,
    bounds: Sequence[float],
    shown: tuple[str, ...],
    values: Mapping[str, float],
    texts: Mapping[str, str],
) -> TintScale:
    colours = {n: tint(scale, v, bounds) for n, v in values.items()}
    return TintScale(title, scale, shown, colours, texts, f"number in a room: {title[0].lower()}{title[1:]}")


def rate_label(per_h: float) -> str:
    """An air change rate in words [1/h]; a house is never airtight, so the least is "below 0.1"."""
    return f"{rounded(per_h, 2, 1)} /h" if per_h >= 0.05 else "below 0.1 /h"


def _outdoor_rates(house: House, scenario: Scenario, flow: Flow) -> dict[str, float]:
    from ventplan.airing.age import outdoor_air_change_rates_per_h

    return outdoor_air_change_rates_per_h(house, scenario, flow)


def room_notes(house: House, scenario: Scenario, flow: Flow, storey: Storey, tints: TintScale | None) -> list[Note]:
    """Name and figures of each room; rooms from below are named again, and said to be open."""
    notes = []
    rates = {} if tints is not None else _outdoor_rates(house, scenario, flow)
    for name in storey.all_rooms:
        outline = polygon(house.rooms[name].corners)
        at = middle_of(house.rooms[name].corners)
        if name in storey.passing:
            notes.append(Note(f"room: {name}", (name, "open to below"), at, inside=outline, quiet=True))
            continue
        lines = [name]
        if name in flow.isolated_rooms:
            lines.append("isolated")
        elif tints is not None and name in tints.values:
            lines.append(tints.values[name])
        elif name in rates:
            lines.append(rate_label(rates[name]))
        notes.append(Note(f"room: {name}", tuple(lines), at, inside=outline))
    return notes


@lru_cache(maxsize=256)
def middle_of(corners: tuple[Point, ...]) -> Point:
    """Where the name of a room is written [m]."""
    from shapely.ops import polylabel

    outline = polygon(corners)
    spot = outline.centroid if outline.convex_hull.area - outline.area < 1e-6 else polylabel(outline, 0.1)
    return float(spot.x), float(spot.y)


def opening_notes(house: House, scenario: Scenario, flow: Flow, storey: Storey, system: System) -> list[Note]:
    """Name, flow and reading of each opening."""
    strongest = max((max(o.forward_m3_s, o.backward_m3_s) for o in flow.openings.values()), default=0.0)
    notes = [
        Note(f"opening: {name}", (f"{name}, to {opening.other(room)}",), opening.centre[:2], quiet=True)
        for name, opening in house.openings.items()
        for room in opening.joins
        if name not in storey.openings and room in storey.rooms and storey.shows(opening, room)
    ]
    for name in storey.openings:
        opening = house.openings[name]
        share = scenario.shares[name]
        sealed = any(p.sealed and p.opening == name for p in scenario.placements)
        x, y = opening.centre[:2]
        lines = [name]
        air = flow.openings.get(name)
        if share <= 0.0 and not sealed:
            notes.append(Note(f"opening: {name}", (f"{name}, shut",), (x, y), _prefer(opening), quiet=True))
            continue
        if air is not None:
            lines += flow_lines(house, opening, air, strongest, system)
            reading = air.reading_m_s or 0.0
            if reading >= LEAST_READING_M_S and lines[-1] != NO_AIR:
                lines.append(f"reading {show(reading, 'speed', system)}")
        if share > 0.0:
            free = free_rectangle(opening, share)
            x, y = free.x, free.y
        still = len(lines) == 2 and lines[1] == NO_AIR
        notes.append(Note(f"opening: {name}", tuple(lines), (x, y), _prefer(opening), quiet=still))
    return notes


def _prefer(opening: Opening) -> Point:
    return opening.normal if opening.is_external else (0.0, 0.0)


def rises(house: House, opening: Opening) -> bool:
    """True where the second of the two places that an opening joins lies higher."""
    first, second = (house.rooms[place].floor_m for place in opening.joins)
    return second > first


def flow_lines(house: House, opening: Opening, air: OpeningFlow, strongest_m3_s: float, system: System) -> list[str]:
    """The flow through an opening in words: in or out at an outside wall, and both directions of a two-way flow."""
    least = max(NEGLIGIBLE * strongest_m3_s, NEGLIGIBLE_M3_S)
    forward, backward = (show(q, "flow", system) for q in (air.forward_m3_s, air.backward_m3_s))
    two_way = min(air.forward_m3_s, air.backward_m3_s) > max(least, 0.05 * max(air.forward_m3_s, air.backward_m3_s))
    if max(air.forward_m3_s, air.backward_m3_s) <= least:
        return [NO_AIR]
    if opening.is_horizontal and not opening.is_external:
        up, down = ("up", "down") if rises(house, opening) else ("down", "up")
        return [f"{up} {forward}"] * (air.forward_m3_s > least) + [f"{down} {backward}"] * (air.backward_m3_s > least)
    if opening.joins[1] == OUTDOORS:
        if two_way:
            return [f"in {backward}", f"out {forward}"]
        net = show(abs(air.net_m3_s), "flow", system)
        return [f"out {net}" if air.net_m3_s > 0.0 else f"in {net}"]
    if two_way:
        return [f"to {opening.joins[1]} {forward}", f"to {opening.joins[0]} {backward}"]
    return [show(abs(air.net_m3_s), "flow", system)]


def fan_notes(house: House, scenario: Scenario, flow: Flow, storey: Storey, system: System) -> list[Note]:
    """Where each fan stands and what it drives."""
    notes = []
    running = [p for p in scenario.placements if p.opening in flow.openings]
    for placement, driven in zip(running, flow.fans, strict=True):
        if placement.opening not in storey.openings:
            continue
        lines = [placement.fan + (f", {placement.setting}" if placement.setting else "")]
        lines.append(fan_place(house, scenario, placement, system))
        if sum(p.opening == placement.opening for p in running) == 1:
            lines.append(driven_words(driven.driven_m3_s, system))
        notes.append(Note(f"fan: {placement.fan}", tuple(lines), fan_spot(house, scenario, placement)))
    return notes


def driven_words(flow_m3_s: float, system: System) -> str:
    """Net flow through a fan's opening, or against the fan where wind or other fans are stronger."""
    net = show(abs(flow_m3_s), "flow", system)
    return f"{net} net through its opening" if flow_m3_s >= 0.0 else f"{net} net against it"


def fan_place(house: House, scenario: Scenario, placement: Placement, system: System) -> str:
    """How far back and how high a fan stands, in a few words."""
    if placement.sealed:
        return f"sealed in {placement.opening}"
    free = free_rectangle(house.openings[placement.opening], scenario.shares[placement.opening])
    height = fan_height_m(house, placement, free)
    return f"{show_setback(placement.setback_m, system)} back, axis {show(height, 'length', system)} high"


def jet_notes(jets: Sequence[Jet], storey: Storey, system: System) -> list[Note]:
    """Speed in the middle of each jet where it reaches its opening.

    Notes
    -----
    Nobody reads the model's speed on the axis at the blades: there the air is slower at the hub and swirls.
    """
    notes = []
    for jet in jets:
        if jet.opening not in storey.openings or len(jet.axis) < 3 or jet.setbacks_m[0] < 0.2:
            continue
        arrives = show(jet.speeds_m_s[-1], "speed", system)
        whose = f"jet of {jet.fan}" if jet.fan else f"jet past {jet.after}"
        middle = jet.axis[len(jet.axis) // 2]
        notes.append(Note(f"jet: {jet.opening}", (whose, f"{arrives} in its middle", "at the opening"), middle))
    return notes


def mark_notes(house: House, marks: Sequence[Mark], system: System) -> list[Note]:
    """How much air goes up or down inside a room that reaches through the floors; the words stay in that room."""
    return [
        Note(
            "level",
            (f"{'to' if mark.away else 'from'} another floor", show(mark.flow_m3_s, "flow", system)),
            mark.at,
            inside=polygon(house.rooms[mark.room].corners),
            near=True,
        )
        for mark in marks
        if not mark.opening
    ]
