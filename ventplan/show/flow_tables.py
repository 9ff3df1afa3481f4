"""A solved scenario for the terminal, with what the air feels like where people are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from ventplan.airing.air_paths import MIN_ROOM_DIFFERENCE_K
from ventplan.airing.comfort import DRAUGHT_C, DRAUGHT_M_S, TURBULENCE, LocalComfort
from ventplan.house.records import House, Scenario
from ventplan.house.units import System, fixed, show, show_length, shown_unit
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.show.cautions import cautions_view
from ventplan.show.instructions import placement_line
from ventplan.show.tables import (
    direction,
    number,
    percent,
    rate_words,
    reported_net_m3_s,
    table,
    upper_first,
    weather_line,
    wind_line,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.airing.age import RoomSupply
    from ventplan.airing.comfort import LocalComfort
    from ventplan.airing.safety import Hazard
    from ventplan.network.flow import FanFlow, FlowPath


MAX_ROUNDING_IMBALANCE_KG_S = 1e-6
"""A smaller imbalance is rounding: about a millionth of what a fan moves [kg/s]."""
MIN_REPORTED_FLOW_M3_S = 5e-3
"""Flows below this get no row of their own [m3/s]."""
MOSTLY_ASSUMED = 0.5
"""Share of a room's air that an assumed exchange supplies from which on its figures are marked as rough [-]."""
SEPARATE_NEUTRAL_LEVEL_M = 0.3
"""Rooms whose neutral level is farther from the house's than this are listed by name [m]."""


def driver_rows(flow: Flow, system: System) -> Iterator[Sequence[str]]:
    """What wind, stack and fans each add to the net flow of an opening, in its direction; small flows are left out."""
    for opening in flow.openings.values():
        parts = (opening.wind_m3_s, opening.stack_m3_s, opening.fan_m3_s)
        if max(map(abs, parts)) < MIN_REPORTED_FLOW_M3_S:
            continue
        sign = 1.0 if opening.net_m3_s >= 0.0 else -1.0
        net = number(abs(opening.net_m3_s), "flow", system)
        yield (opening.name, direction(opening), net, *(number(sign * part + 0.0, "flow", system) for part in parts))


def drivers(flow: Flow) -> int:
    """How many of wind, stack and fans move air worth showing somewhere."""
    return sum(
        any(abs(getattr(opening, f"{driver}_m3_s")) >= MIN_REPORTED_FLOW_M3_S for opening in flow.openings.values())
        for driver in ("wind", "stack", "fan")
    )


def _level(height_m: float, system: System) -> str:
    """A height that is only known to 10 cm or half a foot."""
    return f"{height_m:.1f} m" if system == "si" else show_length(0.1524 * round(height_m / 0.1524), system)


def neutral_lines(house: House, flow: Flow, system: System) -> Iterator[str]:
    """Where the pressure indoors is that of the air outdoors: of the house, and of rooms that differ from it."""
    if flow.neutral_level_m is not None:
        yield (
            f"Neutral pressure level, where the pressure indoors equals that outdoors: "
            f"{_level(flow.neutral_level_m, system)} above the ground."
        )
    apart = [
        f"{room.name} {_level(room.neutral_level_m, system)}"
        for room in flow.rooms.values()
        if room.neutral_level_m is not None
        and (
            flow.neutral_level_m is None or abs(room.neutral_level_m - flow.neutral_level_m) > SEPARATE_NEUTRAL_LEVEL_M
        )
    ]
    if apart:
        yield f"Rooms with a neutral level of their own, above the ground: {', '.join(apart)}."


def main_driver(flow: OpeningFlow) -> str:
    """What drives the net flow most, in its direction: wind, stack or fan; – where there is none."""
    if reported_net_m3_s(flow) == 0.0:
        return "–"
    parts = {"wind": flow.wind_m3_s, "stack": flow.stack_m3_s, "fan": flow.fan_m3_s}
    along = {name: part if flow.net_m3_s >= 0.0 else -part for name, part in parts.items()}
    name = max(along, key=lambda key: along[key])
    return name if along[name] > 1e-5 else "–"


def opening_rows(flow: Flow, system: System) -> Iterator[Sequence[str]]:
    """Rows of the opening table; shut openings are left out."""
    for opening in flow.openings.values():
        if opening.free_area_m2 <= 0.0 and reported_net_m3_s(opening) == 0.0:
            continue
        yield (
            opening.name,
            direction(opening),
            number(abs(reported_net_m3_s(opening)), "flow", system),
            number(opening.dp_pa, "pressure", system),
            _net_speed(opening, system),
            main_driver(opening),
        )


def _net_speed(opening: OpeningFlow, system: System) -> str:
    """Net flow over the free area; – where a fan is sealed into the opening, which leaves none."""
    if opening.free_area_m2 <= 0.0:
        return "–"
    return number(abs(reported_net_m3_s(opening)) / opening.free_area_m2, "speed", system)


def flow_view(
    house: House,
    scenario: Scenario,
    flow: Flow,
    outdoor_per_h: Mapping[str, float],
    supply: Mapping[str, RoomSupply],
    hazards: Sequence[Hazard],
    system: System,
    *,
    details: bool,
) -> Iterator[RenderableType]:
    """What ``ventplan flow`` prints first: the answer in a sentence, fans, outdoor air by room, flows, cautions.

    `details` is True where the details follow, so that nothing points to them.
    """
    from rich.text import Text

    yield Text(headline(house, flow, outdoor_per_h, system), style="bold")
    yield Text(f"Scenario: {scenario.name}. {upper_first(weather_line(house, scenario, system))}.")
    for placement, fan in zip(scenario.placements, flow.fans, strict=True):
        yield Text(f"{upper_first(placement_line(house, placement, system))}: {fan_words(fan, flow, system)}.")
    if flow.isolated_rooms:
        yield Text(f"No open path to outdoors, so the air there is not renewed: {', '.join(flow.isolated_rooms)}.")
    yield table(
        "Rooms: outdoor air, direct or through other rooms (1 / mean age of its air)",
        ("room", "outdoor air changes/h"),
        [(name, rate_words(outdoor_per_h[name])) for name in flow.rooms],
    )
    if rest := [name for name, air in supply.items() if air.assumed > MOSTLY_ASSUMED]:
        yield Text(assumed_line(rest), style="dim")
    rows = list(passing_rows(flow, system))
    if rows:
        unit, speed = shown_unit("flow", system), shown_unit("speed", system)
        yield table(
            f"Air through openings ({unit}), and what a small anemometer would read ({speed})",
            ("opening", "air goes", "flow", "other way", "reading"),
            rows,
            words=2,
        )
        yield Text(
            "Reading: in the middle of the stream, 12 cm (5 in) past the opening; – where a single reading does not "
            "give the flow.",
            style="dim",
        )
    else:
        yield Text("\nEvery opening is shut; only a little air passes through cracks.")
    yield from cautions_view({"": hazards}, system)
    if not details:
        yield Text("\nPressures, what drives the flows, and comfort: add --details.", style="dim")


def headline(house: House, flow: Flow, outdoor_per_h: Mapping[str, float], system: System) -> str:
    """The answer in a sentence or two: outdoor air of the house, and the rooms that get least and most of it."""
    entering = sum(room.outdoor_m3_s for room in flow.rooms.values())
    rate = 3600.0 * entering / sum(room.volume_m3 for room in house.rooms.values())
    if rate < 0.05:
        return f"{house.name}: hardly any outdoor air enters, less than 0.1 outdoor air changes an hour."
    first = (
        f"{house.name}: {show(entering, 'flow', system)} of outdoor air enters, "
        f"{rate_words(rate)} outdoor air changes an hour."
    )
    if len(outdoor_per_h) < 2:
        return first
    least, most = (pick(outdoor_per_h, key=lambda name: outdoor_per_h[name]) for pick in (min, max))
    return (
        f"{first} By room: {rate_words(outdoor_per_h[least])} ({least}) to {rate_words(outdoor_per_h[most])} ({most})."
    )


def assumed_line(rooms: Sequence[str]) -> str:
    """Which rooms get most of their air by the exchange that is assumed at open inner doors."""
    return (
        f"Rough figures, because they rest mostly on an assumed exchange through open inner doors, as for "
        f"{MIN_ROOM_DIFFERENCE_K:g} K between rooms: {', '.join(rooms)}."
    )


def fan_words(fan: FanFlow, flow: Flow, system: System) -> str:
    """What a fan does, in words."""
    through, blades = show(fan.driven_m3_s, "flow", system), show(fan.blades_m3_s, "flow", system)
    if fan.sealed:
        return f"{through} passes through it"
    ratio = fixed(fan.ratio, 2)
    times = f"{ratio} times the {blades} through the blades"
    opening = flow.openings[fan.opening]
    one, back = opening.forward_m3_s, opening.backward_m3_s
    if opening.net_m3_s < 0.0:
        one, back = back, one
    if back < MIN_REPORTED_FLOW_M3_S:
        return f"{through} of air passes through the opening, {times}"
    both = f"{number(one, 'flow', system)} {direction(opening)}, {number(back, 'flow', system)} back"
    circling = "; what comes back does not count as outdoor air" if opening.circling_m3_s > 0.0 else ""
    return f"{through} of air net passes through the opening ({both}), {times}{circling}"


def passing_rows(flow: Flow, system: System) -> Iterator[Sequence[str]]:
    """Openings with a flow worth a row: direction, flow, flow the other way, and reading of an anemometer."""
    for opening in flow.openings.values():
        net = reported_net_m3_s(opening)
        back = opening.backward_m3_s if opening.net_m3_s >= 0.0 else opening.forward_m3_s
        if max(abs(net), back) < MIN_REPORTED_FLOW_M3_S:
            continue
        reading = "–" if opening.reading_m_s is None else number(opening.reading_m_s, "speed", system)
        other = number(back, "flow", system) if back >= MIN_REPORTED_FLOW_M3_S else ""
        yield opening.name, direction(opening), number(abs(net) + back, "flow", system), other, reading


def flow_details_view(
    house: House,
    scenario: Scenario,
    flow: Flow,
    supply: Mapping[str, RoomSupply],
    purging_per_h: Mapping[str, float],
    people: Sequence[LocalComfort],
    system: System,
) -> Iterator[RenderableType]:
    """What ``ventplan flow --details`` adds: pressures, drivers, total exchange, comfort, neutral levels."""
    from rich.text import Text

    unit, pressure, speed = (shown_unit(kind, system) for kind in ("flow", "pressure", "speed"))
    yield table(
        f"Openings in detail (net flow {unit}, pressure difference {pressure}, speed {speed})",
        ("opening", "net flow goes", "net", "pressure", "speed", "driven by"),
        opening_rows(flow, system),
        words=2,
    )
    yield Text(
        "Pressure: of the first room in the file's `joins` minus the other side. Speed: net flow over the "
        "free area; – where it is shut or a fan is sealed in.",
        style="dim",
    )
    if drivers(flow) > 1:
        yield table(
            f"What drives each opening ({unit}; negative: against the net flow)",
            ("opening", "net flow goes", "net", "wind", "stack", "fan"),
            driver_rows(flow, system),
            words=2,
        )
        yield Text(
            "Stack: warm air rises, cool air sinks. The three parts add up to the net flow; where they nearly cancel, "
            "each can be larger than it.",
            style="dim",
        )
    yield table(
        "Rooms in detail",
        ("room", f"pressure {pressure}", f"all air in {unit}", "all air/h", "direct/h", "purging/h"),
        [
            (
                room.name,
                number(room.pressure_pa, "pressure", system),
                number(supply[room.name].inflow_m3_s, "flow", system),
                rate_words(supply[room.name].air_change_per_h),
                rate_words(supply[room.name].direct_air_change_per_h),
                rate_words(purging_per_h[room.name]),
            )
            for room in flow.rooms.values()
        ],
    )
    yield Text(
        "Pressure: at the floor, against still air outdoors at that height. All air: what enters from outdoors and "
        "from other rooms, with the exchange assumed at open inner doors. Direct: outdoor air supplied straight to the "
        "room. Purging: how fast something released in the room is carried out of it. All three count air changes an "
        "hour at the density of the room's air.",
        style="dim",
    )
    yield from people_view(people, system)
    if at_eaves := wind_line(scenario):
        yield Text(at_eaves)
    for line in neutral_lines(house, flow, system):
        yield Text(line)
    if flow.in_line:
        yield Text(f"After its own opening, a jet also reaches: {', '.join(flow.in_line)}.")
    if flow.imbalance_kg_s <= MAX_ROUNDING_IMBALANCE_KG_S:
        yield Text("In every room, as much air leaves as enters.")
    else:
        yield Text(f"What leaves a room differs from what enters by up to {flow.imbalance_kg_s:.0e} kg/s.")


def ways_view(found: Sequence[FlowPath]) -> Iterator[RenderableType]:
    """The main paths of the air through the house."""
    from rich.text import Text

    if not found:
        yield Text("\nNo net flow goes through the house.")
        return
    rows = [(percent(way.share), ", ".join(way.openings), way.tightest or "–") for way in found]
    yield table("Main paths of the air", ("share", "passes, in this order", "tightest opening"), rows, words=3)


def people_view(people: Sequence[LocalComfort], system: System) -> Iterator[RenderableType]:
    """What the air feels like where people sit or sleep; nothing where the house has no such places."""
    from rich.text import Text

    if not people:
        return
    speed, temperature = shown_unit("speed", system), shown_unit("temperature", system)
    yield table(
        "Where people are",
        ("place", "jet from", f"speed {speed}", f"air {temperature}", "cooler by", "draught %"),
        (
            (
                there.name,
                there.most_from or "–",
                number(there.speed_m_s, "speed", system),
                number(there.temperature_c, "temperature", system),
                number(there.relief_k, "temperature difference", system),
                "–" if there.temperature_c > DRAUGHT_C[1] else f"{100.0 * there.draught_rate:.0f}",
            )
            for there in people
        ),
        words=2,
    )
    degree = "°F" if system == "us" else "K"
    yield Text(
        f"Cooler by: how many {degree} warmer the room may be for the same comfort, as the air moves; counts above "
        f"{show(25.0, 'temperature', system)}. Draught: share of people who would find it unpleasant (turbulence "
        f"{100.0 * TURBULENCE:.0f} %); only a guide above {show(DRAUGHT_M_S, 'speed', system)}, and none above "
        f"{show(DRAUGHT_C[1], 'temperature', system)}, where moving air is welcome.",
        style="dim",
    )
