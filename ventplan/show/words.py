"""How tables, pages and reports word a number, a fan in its place, a direction, and the weather."""

from __future__ import annotations

from ventplan.house.records import OUTDOORS, House, Placement, Scenario
from ventplan.house.shown import show, show_length, shown_unit
from ventplan.house.units import System
from ventplan.network.flow import OpeningFlow
from ventplan.network.weather import local_wind_speed
from ventplan.physics.air import REFERENCE_DENSITY

LEAST_NET_M3_S = 5e-4
"""A net flow below this goes nowhere [m3/s]."""


def number(value: float, quantity: str, system: System) -> str:
    """A value without its unit, for a column whose head names the unit."""
    text = show(value, quantity, system)
    unit = shown_unit(quantity, system)
    return text.removesuffix(unit).strip()


def per_hour(value: float) -> str:
    """An air change rate [1/h] with the digits that it deserves."""
    return f"{value:.0f}" if value >= 20.0 else f"{value:.1f}"


def sentence(text: str) -> str:
    """A text with a full stop at its end."""
    return text if text.endswith((".", "!", "?")) else f"{text}."


def shown_change_rate(value_per_s: float) -> str:
    """An air change rate [1/s] as changes an hour."""
    return f"{per_hour(3600.0 * value_per_s)} air changes an hour"


def weather_line(scenario: Scenario, system: System) -> str:
    """The weather of a scenario in one line."""
    outdoors = scenario.outdoors
    temperatures = set(scenario.temperatures_c.values())
    indoors = (
        show(temperatures.pop(), "temperature", system)
        if len(temperatures) == 1
        else f"{show(min(temperatures), 'temperature', system)} to {show(max(temperatures), 'temperature', system)}"
    )
    wind = "no wind"
    if outdoors.wind.speed_m_s > 0.0:
        wind = f"wind {show(outdoors.wind.speed_m_s, 'wind', system)} from {outdoors.wind.from_deg:.0f}°"
    return f"outdoors {show(outdoors.temperature_c, 'temperature', system)}, {wind}; indoors {indoors}"


def wind_line(house: House, scenario: Scenario, system: System) -> str:
    """What of the station's wind arrives at the house; empty in a calm."""
    outdoors = scenario.outdoors
    if outdoors.wind.speed_m_s <= 0.0:
        return ""
    here = show(local_wind_speed(house, scenario), "wind", system)
    shelter = "" if outdoors.shelter == 1.0 else f", shelter factor {outdoors.shelter:g}"
    return f"At the eaves of the house the wind is {here} (terrain: {outdoors.terrain}{shelter})."


def placement_line(house: House, placement: Placement, system: System) -> str:
    """A placed fan in one line."""
    opening = house.openings[placement.opening]
    outwards = opening.other(placement.stands_in) == OUTDOORS
    way = "out of" if outwards else "in at" if placement.stands_in == OUTDOORS else "through"
    setting = f" on {placement.setting}" if placement.setting else ""
    if placement.sealed:
        return f"{placement.fan}{setting} sealed into {placement.opening}, blowing {'out' if outwards else 'in'}"
    head = f"{placement.fan}{setting} in {placement.stands_in}, blowing {way} {placement.opening}"
    return ", ".join([head, f"{show_length(placement.setback_m, system)} back", *stance(house, placement, system)])


def stance(house: House, placement: Placement, system: System) -> list[str]:
    """How high a placed fan stands, how far to the side, and its tilt."""
    opening, parts = house.openings[placement.opening], []
    if placement.height_m is not None:
        parts.append(f"axis {show_length(placement.height_m, system)} above the floor")
    if abs(placement.aside_m) >= 0.01:
        towards = "right" if placement.aside_m * _right_hand(opening.normal, placement, house) > 0 else "left"
        parts.append(f"{show_length(abs(placement.aside_m), system)} to the {towards} of the middle, aimed at it")
    if placement.tilt_deg >= 1.0:
        parts.append(f"tilted up {placement.tilt_deg:.0f}°")
    elif placement.tilt_deg <= -1.0:
        parts.append(f"tilted down {-placement.tilt_deg:.0f}°")
    return parts


def _right_hand(normal: tuple[float, float], placement: Placement, house: House) -> float:
    """+1 where the opening's end lies to the right of somebody who looks at it from where the fan stands."""
    opening = house.openings[placement.opening]
    sign = 1.0 if opening.joins[0] == placement.stands_in else -1.0
    nx, ny = sign * normal[0], sign * normal[1]
    tx, ty = opening.end[0] - opening.start[0], opening.end[1] - opening.start[1]
    return 1.0 if tx * ny - ty * nx > 0.0 else -1.0


def told_net(flow: OpeningFlow) -> float:
    """Net volume flow [m3/s]; 0 where as much mass goes each way, though the warmer air takes more room."""
    return flow.net_m3_s if abs(flow.net_kg_s) >= LEAST_NET_M3_S * REFERENCE_DENSITY else 0.0


def direction(flow: OpeningFlow) -> str:
    """Where the net flow goes, in words."""
    a, b = flow.joins
    if told_net(flow) == 0.0:
        return "no net flow"
    start, end = (a, b) if flow.net_m3_s > 0.0 else (b, a)
    if end == OUTDOORS:
        return f"out of {start}"
    return f"into {end}" if start == OUTDOORS else f"{start} to {end}"
