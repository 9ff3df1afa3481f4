"""A solved scenario for the terminal, with what the air feels like where people are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from ventplan.airing.comfort import DRAUGHT_C, DRAUGHT_M_S, TURBULENCE, LocalComfort
from ventplan.house.records import House, Scenario
from ventplan.house.shown import fixed, show, show_length, shown_unit
from ventplan.house.units import System
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.show.tables import (
    direction,
    number,
    paragraphs,
    per_hour,
    placement_line,
    sentence,
    table,
    told_net,
    weather_line,
    wind_line,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.airing.comfort import LocalComfort
    from ventplan.airing.hazard import Caution
    from ventplan.network.flow import Way


BALANCED_KG_S = 1e-6
"""Differences below this are rounding, a millionth of what a fan moves [kg/s]."""
LEAST_SHOWN_M3_S = 5e-3
"""Parts of a flow below this are not worth a row [m3/s]."""
NEUTRAL_APART_M = 0.3
"""Rooms whose neutral level is farther from the house's than this are told one by one [m]."""


def driver_rows(flow: Flow, system: System) -> Iterator[Sequence[str]]:
    """What wind, stack and fans each add to the net flow of an opening, in its direction; small flows are left out."""
    for opening in flow.openings.values():
        parts = (opening.wind_m3_s, opening.stack_m3_s, opening.fan_m3_s)
        if max(map(abs, parts)) < LEAST_SHOWN_M3_S:
            continue
        sign = 1.0 if opening.net_m3_s >= 0.0 else -1.0
        net = number(abs(opening.net_m3_s), "flow", system)
        yield (opening.name, direction(opening), net, *(number(sign * part + 0.0, "flow", system) for part in parts))


def drivers(flow: Flow) -> int:
    """How many of wind, stack and fans move air worth showing somewhere."""
    return sum(
        any(abs(getattr(opening, f"{driver}_m3_s")) >= LEAST_SHOWN_M3_S for opening in flow.openings.values())
        for driver in ("wind", "stack", "fan")
    )


def neutral_lines(house: House, flow: Flow, system: System) -> Iterator[str]:
    """Where the pressure indoors is that of the air outdoors: of the house, and of rooms that differ from it."""
    if flow.neutral_level_m is not None:
        yield f"Neutral pressure level: {show_length(flow.neutral_level_m, system)} above the ground."
    apart = [
        f"{room.name} {show_length(room.neutral_level_m, system)}"
        for room in flow.rooms.values()
        if room.neutral_level_m is not None
        and (flow.neutral_level_m is None or abs(room.neutral_level_m - flow.neutral_level_m) > NEUTRAL_APART_M)
    ]
    if apart:
        yield f"Neutral pressure level of single rooms, above the ground: {', '.join(apart)}."


def main_driver(flow: OpeningFlow) -> str:
    """What drives the net flow most, in its direction: wind, stack or fan; – where there is none."""
    if told_net(flow) == 0.0:
        return "–"
    parts = {"wind": flow.wind_m3_s, "stack": flow.stack_m3_s, "fan": flow.fan_m3_s}
    along = {name: part if flow.net_m3_s >= 0.0 else -part for name, part in parts.items()}
    name = max(along, key=lambda key: along[key])
    return name if along[name] > 1e-5 else "–"


def opening_rows(flow: Flow, system: System) -> Iterator[Sequence[str]]:
    """Rows of the opening table; shut openings are left out."""
    for opening in flow.openings.values():
        if opening.free_area_m2 <= 0.0 and told_net(opening) == 0.0:
            continue
        reading = "–" if opening.reading_m_s is None else number(opening.reading_m_s, "speed", system)
        back = opening.backward_m3_s if opening.net_m3_s >= 0.0 else opening.forward_m3_s
        yield (
            opening.name,
            direction(opening),
            number(abs(told_net(opening)), "flow", system),
            number(back, "flow", system),
            number(opening.dp_pa, "pressure", system),
            number(opening.face_speed_m_s, "speed", system),
            reading,
            main_driver(opening),
        )


def openings_view(flow: Flow, system: System) -> Iterator[RenderableType]:
    """The opening table and what its headings mean, or a word where there is nothing to tell."""
    from rich.text import Text

    rows = list(opening_rows(flow, system))
    if not rows:
        yield Text("\nNo opening is open, and next to nothing is driven through the cracks of the shut ones.")
        return
    flow_unit, speed = shown_unit("flow", system), shown_unit("speed", system)
    yield table(
        f"Openings (flow {flow_unit}, pressure {shown_unit('pressure', system)}, speed {speed})",
        ("opening", "net flow goes", "net", "back", "dp", "mean", "reading", "by"),
        rows,
        words=2,
    )
    yield Text(
        "back: air against the net flow at the same time. dp: pressure of the room minus that of the other place. "
        "mean: over the free area. reading: a small anemometer in the middle of the stream, 12 cm (5 in) downstream; "
        "– where one reading says nothing. by: what drives it most.",
        style="dim",
    )


def flow_view(
    house: House,
    scenario: Scenario,
    flow: Flow,
    effective_per_h: Mapping[str, float],
    cautions: Sequence[Caution],
    people: Sequence[LocalComfort],
    system: System,
) -> Iterator[RenderableType]:
    """Everything that ``ventplan flow`` prints, in order."""
    from rich.text import Text

    yield Text(f"{house.name}: {scenario.name}", style="bold")
    yield Text(weather_line(scenario, system))
    if at_eaves := wind_line(house, scenario, system):
        yield Text(at_eaves)
    for placement in scenario.placements:
        yield Text(placement_line(house, placement, system))
    flow_unit = shown_unit("flow", system)
    yield from openings_view(flow, system)
    if drivers(flow) > 1:
        yield table(
            f"What drives each opening (flow {flow_unit}; negative: against the net flow)",
            ("opening", "net flow goes", "net", "wind", "stack", "fan"),
            driver_rows(flow, system),
            words=2,
        )
        yield Text(
            "What each would drive alone with every resistance as it is now; where they all but cancel, the parts are "
            "larger than the net flow.",
            style="dim",
        )
    yield Text("")
    yield table(
        "Rooms",
        (
            "room",
            f"pressure {shown_unit('pressure', system)}",
            f"air in {flow_unit}",
            "changes/h",
            "effective/h",
            "outdoor/h",
        ),
        (
            (
                room.name,
                number(room.pressure_pa, "pressure", system),
                number(room.inflow_m3_s, "flow", system),
                per_hour(room.air_change_per_h),
                per_hour(effective_per_h[room.name]),
                per_hour(room.direct_air_change_per_h),
            )
            for room in flow.rooms.values()
        ),
    )
    yield Text(
        "changes: all air that enters. effective: what carries things out of the room; not air that leaves and comes "
        "back, as around a jet in a doorway, but also a slow exchange through open inner doors, as for 0.1 K: it can "
        "be more than the changes. outdoor: straight from outdoors.",
        style="dim",
    )
    if flow.fans:
        yield table(
            f"Fans (flow {flow_unit})",
            ("fan", "at", "through blades", "through opening", "ratio"),
            (
                (
                    fan.name,
                    fan.opening + (" (sealed)" if fan.sealed else ""),
                    number(fan.blades_m3_s, "flow", system),
                    number(fan.driven_m3_s, "flow", system),
                    fixed(fan.ratio, 2),
                )
                for fan in flow.fans
            ),
            words=2,
        )
    yield from people_view(people, system)
    for line in neutral_lines(house, flow, system):
        yield Text(line)
    if flow.in_line:
        yield Text(f"A jet also reaches, in line: {', '.join(flow.in_line)}.")
    if flow.cut_off:
        yield Text(f"No way for air to outdoors: {', '.join(flow.cut_off)}; the air there stands still.")
    entering = sum(room.outdoor_m3_s for room in flow.rooms.values())
    yield Text(
        f"Air from outdoors into the house: {show(entering, 'flow', system)}. " + balance_words(flow.imbalance_kg_s)
    )
    yield from caution_view(cautions)


def balance_words(imbalance_kg_s: float) -> str:
    """How well the air that enters each room [kg/s] matches what leaves it, in plain words."""
    if imbalance_kg_s <= BALANCED_KG_S:
        return "In every room, as much air leaves as enters."
    return f"What leaves a room differs from what enters by up to {imbalance_kg_s:.0e} kg/s."


def caution_view(cautions: Sequence[Caution]) -> Iterator[RenderableType]:
    """Cautions, if any."""
    from rich.text import Text

    if cautions:
        yield Text("")
        yield paragraphs("Caution", (f"{c.about}: {sentence(c.computed)} {c.do}" for c in cautions))


def ways_view(found: Sequence[Way]) -> Iterator[RenderableType]:
    """Which way the air goes."""
    from rich.text import Text

    yield Text("")
    if not found:
        yield Text("No net flow goes through the house.")
        return
    rows = [(f"{way.share:.0%}", ", ".join(way.openings), way.tightest or "–") for way in found]
    yield table("Which way the air goes", ("share", "through, in this order", "costs most pressure"), rows, words=3)


def people_rows(people: Sequence[LocalComfort], system: System) -> Iterator[Sequence[str]]:
    """Rows of the table of places where people sit or sleep."""
    for there in people:
        warm = there.temperature_c > DRAUGHT_C[1]
        yield (
            there.name,
            there.most_from or "–",
            number(there.speed_m_s, "speed", system),
            number(there.temperature_c, "temperature", system),
            number(there.relief_k, "temperature difference", system),
            "–" if warm else f"{100.0 * there.draught_rate:.0f}",
        )


def people_view(people: Sequence[LocalComfort], system: System) -> Iterator[RenderableType]:
    """What the air feels like where people sit or sleep; nothing where the house has no such places."""
    from rich.text import Text

    if not people:
        return
    speed, temperature = shown_unit("speed", system), shown_unit("temperature", system)
    yield table(
        "Where people are",
        ("place", "mostly from", speed, f"air {temperature}", "cooler by", "draught %"),
        people_rows(people, system),
        words=2,
    )
    yield Text(
        f"cooler by: how many {'°F' if system == 'us' else 'K'} warmer the room may be for the same comfort, above "
        f"{show(25.0, 'temperature', system)}. draught: share of people whom it bothers, at a turbulence of "
        f"{100.0 * TURBULENCE:.0f} %; a guide only above {show(DRAUGHT_M_S, 'speed', system)}, and – above "
        f"{show(DRAUGHT_C[1], 'temperature', system)}, where moving air is welcome.",
        style="dim",
    )
