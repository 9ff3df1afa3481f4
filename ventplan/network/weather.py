"""What the weather does at one house: densities of air, and wind pressure on each opening."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from ventplan.house.geometry import bearing_deg
from ventplan.house.records import OUTDOORS, House, Opening, Scenario
from ventplan.house.weather import Outdoors
from ventplan.network.outline import Exposure, Outline, exposure, outlines, outside_wall_shares
from ventplan.physics import air, wind

COURT = -0.35
"""Wind pressure coefficient of every wall of a court that the house shuts in on all sides [-]: about that of the lee,
whatever the wind's direction. Common practice, no source."""


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
    temperatures = {**scenario.temperatures_c, OUTDOORS: scenario.outdoors.temperature_c}
    return {place: _density(temperatures[place], scenario.outdoors.altitude_m) for place in (*house.rooms, OUTDOORS)}


@lru_cache(maxsize=1024)
def _density(temperature_c: float, altitude_m: float) -> float:
    return float(air.density(temperature_c=temperature_c, altitude_m=altitude_m))


def eaves_height_m(house: House) -> float:
    """Height of the highest ceiling above the ground, the height that wind pressures refer to [m]."""
    return max(room.floor_m + room.ceiling_m for room in house.rooms.values())


def local_wind_speed(house: House, scenario: Scenario, *, height_m: float | None = None) -> float:
    """Wind speed at the house, shelter included.

    Parameters
    ----------
    house, scenario
        The house and its state.
    height_m
        Height above the ground [m]; that of the eaves if left out.

    Returns
    -------
    float
        [m/s].
    """
    return _wind_speed_at(scenario.outdoors, eaves_height_m(house) if height_m is None else height_m)


def _wind_speed_at(outdoors: Outdoors, height_m: float) -> float:
    speed = wind.local_wind_speed(
        station_speed_m_s=outdoors.wind.speed_m_s,
        station_height_m=outdoors.wind.height_m,
        station_terrain=outdoors.wind.station_terrain,
        height_m=height_m,
        terrain=outdoors.terrain,
    )
    return float(speed) * outdoors.shelter


def open_country_wind_speed(scenario: Scenario) -> float:
    """Wind speed 10 m above open country, as correlations on the weather station's wind mean it [m/s]."""
    given = scenario.outdoors.wind
    speed = wind.local_wind_speed(
        station_speed_m_s=given.speed_m_s,
        station_height_m=given.height_m,
        station_terrain=given.station_terrain,
        height_m=10.0,
        terrain="open",
    )
    return float(speed)


def exposure_of(of: tuple[Outline, ...], opening: Opening) -> Exposure:
    """How the wall of an upright opening to outdoors stands to the wind; ``of`` are the `outlines` of its house."""
    x, y, z = opening.centre
    return exposure(of, opening.joins[0], opening.normal, (x, y), z)


def side_ratio(house: House, opening: Opening) -> float:
    """Width of the opening's storey along its wall over the depth of that storey behind it [-]."""
    return exposure_of(outlines(house), opening).side_ratio


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
    Cp rho U^2 / 2 with U at eaves height, at its top for a shaft that ends higher. Cp is the opening's own where the
    file gives one, else the correlation for walls of low-rise houses or the table for roofs
    (`ventplan.physics.wind`). A roof window whose slope the file does not say is taken across the wind, where its
    coefficient depends least on the pitch.
    """
    outdoors = scenario.outdoors
    outside = {name: opening for name, opening in house.openings.items() if opening.is_external}
    if outdoors.wind.speed_m_s <= 0.0 or not outside:
        return dict.fromkeys(outside, 0.0)
    eaves, of = eaves_height_m(house), outlines(house)
    pressures = {}
    for name, opening in outside.items():
        coefficient = opening.wind_pressure
        if coefficient is None:
            coefficient = _opening_coefficient(house, of, opening, outdoors.wind.from_deg)
        pressures[name] = coefficient * _wind_head_pa(outdoors, max(eaves, opening.top_m or eaves))
    return pressures


def wall_leaks(house: House, scenario: Scenario) -> Mapping[str, tuple[tuple[float, float], ...]]:
    """How the leak of each room's outside walls is shared among the ways they face, and the wind pressure there.

    Parameters
    ----------
    house, scenario
        The house and its state.

    Returns
    -------
    Mapping
        By room that leaks: share of its outside wall [-] and wind pressure [Pa] for each way its walls face. A room
        that is said to leak and has no outside wall gets one share without wind.
    """
    wind_from, calm = scenario.outdoors.wind.from_deg, scenario.outdoors.wind.speed_m_s <= 0.0
    leaking = {name: room for name, room in house.rooms.items() if room.leak_m3_s > 0.0}
    if not leaking:
        return {}
    areas, head = outside_wall_shares(outlines(house)), _wind_head_pa(scenario.outdoors, eaves_height_m(house))
    found: dict[str, tuple[tuple[float, float], ...]] = {}
    for name in leaking:
        total = sum(area for area, _ in areas[name])
        if calm or total <= 0.0:
            found[name] = ((1.0, 0.0),)
            continue
        found[name] = tuple(
            (area / total, head * _wall_coefficient(house.north_deg, wall, wind_from)) for area, wall in areas[name]
        )
    return found


@lru_cache(maxsize=256)
def _wind_head_pa(outdoors: Outdoors, height_m: float) -> float:
    """Pressure of the wind at a height by the house, where the pressure coefficient is 1 [Pa]."""
    return float(
        wind.wind_pressure(
            pressure_coefficient=1.0,
            density=air.density(temperature_c=outdoors.temperature_c, altitude_m=outdoors.altitude_m),
            wind_speed_m_s=_wind_speed_at(outdoors, height_m),
        )
    )


def _opening_coefficient(house: House, of: tuple[Outline, ...], opening: Opening, wind_from_deg: float) -> float:
    if opening.kind == "shaft":
        return wind.CHIMNEY_TOP
    if not opening.is_horizontal:
        return _wall_coefficient(house.north_deg, exposure_of(of, opening), wind_from_deg)
    angle = 90.0
    if opening.slope_faces is not None:
        facing = bearing_deg(house.north_deg, opening.slope_faces)
        angle = float(wind.off_normal_angle(wind_from_deg=wind_from_deg, facing_deg=facing))
    pitch = house.roof_pitch_deg if opening.pitch_deg is None else opening.pitch_deg
    return float(wind.roof_pressure_coefficient(wind_angle_deg=angle, pitch_deg=pitch))


@lru_cache(maxsize=4096)
def _wall_coefficient(north_deg: float, wall: Exposure, wind_from_deg: float) -> float:
    if wall.in_court:
        return COURT
    angle = wind.off_normal_angle(wind_from_deg=wind_from_deg, facing_deg=bearing_deg(north_deg, wall.normal))
    return float(wind.wall_pressure_coefficient(wind_angle_deg=float(angle), side_ratio=wall.side_ratio))
