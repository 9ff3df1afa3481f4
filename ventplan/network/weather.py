"""What the weather does at one house: densities of air, and wind pressure on each opening."""

from __future__ import annotations

import math
from collections.abc import Mapping

from ventplan.house.records import OUTDOORS, House, Opening, Scenario
from ventplan.physics import air, wind


def densities(house: House, scenario: Scenario) -> Mapping[str, float]:
    """Density of the air in every room and outdoors.

    Parameters
    ----------
    house, scenario
        The house and its state.

    Returns
    -------
    Mapping
        By place [kg/m3].
    """
    altitude = scenario.outdoors.altitude_m
    temperatures = {**scenario.temperatures_c, OUTDOORS: scenario.outdoors.temperature_c}
    return {
        place: float(air.density(temperature_c=temperatures[place], altitude_m=altitude))
        for place in (*house.rooms, OUTDOORS)
    }


def eaves_height_m(house: House) -> float:
    """Height of the highest ceiling above the ground, the height that wind pressures refer to [m]."""
    return max(room.floor_m + room.ceiling_m for room in house.rooms.values())


def local_wind_speed(house: House, scenario: Scenario) -> float:
    """Wind speed at eaves height at the house, shelter included [m/s]."""
    outdoors = scenario.outdoors
    speed = wind.local_wind_speed(
        station_speed_m_s=outdoors.wind.speed_m_s,
        station_height_m=outdoors.wind.height_m,
        station_terrain=outdoors.wind.station_terrain,
        height_m=eaves_height_m(house),
        terrain=outdoors.terrain,
    )
    return float(speed) * outdoors.shelter


def facing_deg(house: House, opening: Opening) -> float:
    """Compass bearing that the outer side of an opening in an outside wall faces [deg]."""
    x, y = opening.normal
    return (math.degrees(math.atan2(x, y)) + house.north_deg) % 360.0


def side_ratio(house: House, opening: Opening) -> float:
    """Width of the house along the opening's wall over its depth behind it [-]."""
    nx, ny = opening.normal
    points = [corner for room in house.rooms.values() for corner in room.corners]
    along = [-x * ny + y * nx for x, y in points]
    across = [x * nx + y * ny for x, y in points]
    return (max(along) - min(along)) / (max(across) - min(across))


def wind_pressures(house: House, scenario: Scenario) -> Mapping[str, float]:
    """Wind pressure outside each opening to outdoors.

    Parameters
    ----------
    house, scenario
        The house and its state.

    Returns
    -------
    Mapping
        By opening name [Pa], against the still air at the same height.

    Notes
    -----
    Cp rho U^2 / 2 with U at eaves height. Cp is the opening's own where the file gives one, else the correlation
    for walls of low-rise houses, else that for roofs (`ventplan.physics.wind`). The slope that a roof window lies
    in is taken across the wind, where its coefficient depends least on the pitch.
    """
    outdoors = scenario.outdoors
    outside = {name: opening for name, opening in house.openings.items() if opening.is_external}
    if outdoors.wind.speed_m_s <= 0.0 or not outside:
        return dict.fromkeys(outside, 0.0)
    speed = local_wind_speed(house, scenario)
    density = float(air.density(temperature_c=outdoors.temperature_c, altitude_m=outdoors.altitude_m))
    pressures = {}
    for name, opening in outside.items():
        coefficient = opening.wind_pressure
        if coefficient is None:
            coefficient = _pressure_coefficient(house, opening, outdoors.wind.from_deg)
        pressures[name] = float(
            wind.wind_pressure(pressure_coefficient=coefficient, density=density, wind_speed_m_s=speed)
        )
    return pressures


def _pressure_coefficient(house: House, opening: Opening, wind_from_deg: float) -> float:
    if opening.kind == "shaft":
        return wind.CHIMNEY_TOP
    if opening.is_horizontal:
        return float(wind.roof_pressure_coefficient(wind_angle_deg=90.0, pitch_deg=house.roof_pitch_deg))
    angle = wind.off_normal_angle(wind_from_deg=wind_from_deg, facing_deg=facing_deg(house, opening))
    return float(
        wind.wall_pressure_coefficient(wind_angle_deg=float(angle), side_ratio=side_ratio(house, opening))
    )
