"""Plain houses through the whole solver, one number each, for the published values of wind and stack.

Every house is written as a house file, so that the reader, the wind, the solver and the reading back all take part.
"""

from __future__ import annotations

from unittest.mock import patch

import numpy as np

from ventplan.house import parse_house
from ventplan.house.records import House
from ventplan.network import Flow, solve
from ventplan.network.weather import local_wind_speed, wind_pressures
from ventplan.physics.air import density

FT2 = 0.3048**2
TIGHT = "leak: 1e-9 m3/s"


def solved(text: str) -> tuple[House, Flow]:
    """A house file as it stands, solved.

    The formulas of handbooks stand for holes between large spaces, and lose each stream behind its hole. So they are
    compared without what narrow rooms and openings in line change; that has evidence of its own.
    """
    house = parse_house(text)
    with (
        patch("ventplan.network.openings.confined_loss_ratio", lambda **_: 1.0),
        patch("ventplan.network.assemble.couplings_in_line", lambda *_: []),
    ):
        return house, solve(house)


def window(name: str, wall: str, *, area_m2: float, along: float, sill: float, height: float, more: str = "") -> str:
    """A plain hole in a wall of the only room."""
    width = area_m2 / height
    return (
        f"  {name}: {{kind: vent, joins: [room, outdoors], wall: {wall}, along: {along}, sill: {sill}, "
        f"size: [{width}, {height}]{', ' + more if more else ''}}}\n"
    )


def station(speed: float, bearing: float) -> str:
    """Wind that reaches eaves of 10 m in open country as the station measures it."""
    return f"wind: {{speed: {speed}, from: {bearing} deg, height: 10 m, terrain: open}}, terrain: open"


def eaves_wind_speed(*, station_speed_m_s: float, station_terrain: str, eaves_m: float, terrain: str) -> float:
    """Wind at the eaves of a house [m/s]."""
    house = parse_house(
        f"outdoors: {{wind: {{speed: {station_speed_m_s}, from: 0 deg, height: 10 m, terrain: {station_terrain}}}, "
        f"terrain: {terrain}}}\n"
        f"rooms: {{room: {{at: [0, 0], size: [10, 10], ceiling: {eaves_m}}}}}\nopenings:\n"
        + window("hole", "west", area_m2=1.0, along=1.0, sill=1.0, height=1.0)
    )
    return local_wind_speed(house, house.first_scenario())


def square_plan_coefficients(*, wind_from_deg: list[float]) -> list[float]:
    """Wind pressure on a window in the north wall of a square house over U^2 rho / 2, by the wind's bearing."""
    found = []
    for bearing in wind_from_deg:
        house = parse_house(
            f"outdoors: {{temperature: 20 °C, {station(4.0, bearing)}}}\n"
            "rooms: {room: {at: [0, 0], size: [8, 8], ceiling: 10}}\nopenings:\n"
            + window("hole", "north", area_m2=1.0, along=1.0, sill=1.0, height=1.0)
        )
        pressure = wind_pressures(house, house.first_scenario())["hole"]
        found.append(pressure / (float(density(temperature_c=20.0)) * 4.0**2 / 2.0))
    return found


def cross_house(
    *,
    west_m2: list[float],
    east_m2: list[float],
    wind_speed_m_s: float,
    discharge: float,
    coefficients: tuple[float, float] | None = None,
    bearing: float = 270.0,
) -> Flow:
    """A room with holes in its west and east walls, nothing between them, as warm as outdoors."""
    holes = ""
    for wall, areas, own in zip(("west", "east"), (west_m2, east_m2), coefficients or (None, None), strict=True):
        more = f"discharge: {discharge}" + ("" if own is None else f", wind pressure: {own}")
        holes += "".join(
            window(f"{wall} {i}", wall, area_m2=area, along=0.5 + 4.0 * i, sill=1.0, height=1.0, more=more)
            for i, area in enumerate(areas)
        )
    text = (
        f"outdoors: {{temperature: 20 °C, {station(wind_speed_m_s, bearing)}}}\nindoors: {{temperature: 20 °C}}\n"
        f"rooms: {{room: {{at: [0, 0], size: [10, 10], ceiling: 10}}}}\nopenings:\n{holes}"
    )
    return solved(text)[1]


def cross_flow(
    *,
    west_m2: list[float],
    east_m2: list[float],
    wind_speed_m_s: float,
    discharge: float,
    pressure_coefficient_difference: float,
) -> float:
    """Air that wind drives from the west holes to the east ones [m3/s]."""
    flow = cross_house(
        west_m2=west_m2,
        east_m2=east_m2,
        wind_speed_m_s=wind_speed_m_s,
        discharge=discharge,
        coefficients=(0.7, 0.7 - pressure_coefficient_difference),
    )
    return flow.rooms["room"].outdoor_m3_s - sum(o.exchange_m3_s for o in flow.openings.values())


def effective_area_ft2(*, inlets_ft2: list[float], outlets_ft2: list[float]) -> float:
    """Area of one hole that would pass what inlets and outlets pass in series [ft2]."""
    discharge, speed, difference = 0.6, 4.0, 1.0
    flow = cross_flow(
        west_m2=[area * FT2 for area in inlets_ft2],
        east_m2=[area * FT2 for area in outlets_ft2],
        wind_speed_m_s=speed,
        discharge=discharge,
        pressure_coefficient_difference=difference,
    )
    return flow / (discharge * speed * np.sqrt(difference)) / FT2


def effectiveness(*, bearing_deg: float, outlet_over_inlet: float) -> float:
    """Flow over inlet area and wind speed at the eaves, windows in opposite walls of a square house [-]."""
    flow = cross_house(
        west_m2=[1.0], east_m2=[outlet_over_inlet], wind_speed_m_s=3.0, discharge=0.65, bearing=bearing_deg
    )
    return flow.openings["west 0"].backward_m3_s / 3.0


def stack_house(
    *, low_m2: float, high_m2: float, between_m: float, indoors_c: float, outdoors_c: float, discharge: float
) -> Flow:
    """A tall room with a low and a high slot, 10 cm high, and no wind; the middle of the low one is 0.5 m up."""
    more = f"discharge: {discharge}"
    text = (
        f"outdoors: {{temperature: {outdoors_c} °C, wind: calm}}\nindoors: {{temperature: {indoors_c} °C}}\n"
        "rooms: {room: {at: [0, 0], size: [20, 20], ceiling: 10}}\nopenings:\n"
        + window("low", "west", area_m2=low_m2, along=0.5, sill=0.45, height=0.1, more=more)
        + window("high", "east", area_m2=high_m2, along=0.5, sill=0.45 + between_m, height=0.1, more=more)
    )
    return solved(text)[1]


def stack_flow(
    *, low_m2: float, high_m2: float, between_m: float, indoors_c: float, outdoors_c: float, discharge: float
) -> float:
    """Mean of the flow in below and out above [m3/s]."""
    flow = stack_house(
        low_m2=low_m2,
        high_m2=high_m2,
        between_m=between_m,
        indoors_c=indoors_c,
        outdoors_c=outdoors_c,
        discharge=discharge,
    )
    return (flow.openings["low"].backward_m3_s + flow.openings["high"].forward_m3_s) / 2.0


def inflow_below_neutral_level(
    *, area_m2: float, neutral_height_m: float, indoor_k: float, outdoor_k: float, discharge: float
) -> float:
    """Flow in at a low slot whose neutral level is that far above it, by an equal slot high up [m3/s]."""
    flow = stack_house(
        low_m2=area_m2,
        high_m2=area_m2,
        between_m=neutral_height_m * (1.0 + indoor_k / outdoor_k),
        indoors_c=indoor_k - 273.15,
        outdoors_c=outdoor_k - 273.15,
        discharge=discharge,
    )
    assert flow.neutral_level_m is not None
    assert abs(flow.neutral_level_m - 0.5 - neutral_height_m) < 0.01
    return flow.openings["low"].backward_m3_s


def doorway_flow(*, width_m: float, height_m: float, difference_k: float, mean_k: float, discharge: float) -> float:
    """Air that a door between two rooms of different warmth, shut to outdoors, passes each way [m3/s]."""
    mean = mean_k - 273.15
    text = (
        f"outdoors: {{temperature: {mean} °C, wind: calm}}\n"
        "rooms:\n"
        f"  warm: {{at: [0, 0], size: [4, 4], temperature: {mean + difference_k / 2.0} °C}}\n"
        f"  cool: {{at: [4, 0], size: [4, 4], temperature: {mean - difference_k / 2.0} °C}}\n"
        "openings:\n"
        f"  door: {{kind: door, joins: [warm, cool], size: [{width_m}, {height_m}], discharge: {discharge}}}\n"
        f"  pane: {{kind: window, joins: [cool, outdoors], wall: east, size: [1, 1], {TIGHT}}}\n"
    )
    door = solved(text)[1].openings["door"]
    assert abs(door.net_kg_s) < 1e-6
    return (door.forward_m3_s + door.backward_m3_s) / 2.0


def single_window_exchange(
    *, area_m2: float, height_m: float, wind_speed_m_s: float, temperature_difference_k: float
) -> float:
    """Air that a room with one open window takes in [m3/s]."""
    text = (
        f"outdoors: {{temperature: 20 °C, {station(wind_speed_m_s, 270.0)}}}\n"
        f"indoors: {{temperature: {20.0 + temperature_difference_k} °C}}\n"
        "rooms: {room: {at: [0, 0], size: [6, 6], ceiling: 3}}\nopenings:\n"
        + window("hole", "west", area_m2=area_m2, along=0.5, sill=0.8, height=height_m)
    )
    return solved(text)[1].rooms["room"].outdoor_m3_s
