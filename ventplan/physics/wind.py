"""Wind at a house: speed by terrain and height, and pressure on its walls, roof and chimney tops."""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal, NamedTuple

import numpy as np

from ventplan.physics import Numbers

Terrain = Literal["open", "suburb", "city", "waterside"]
"""The terrains of `TERRAINS`, for type checkers."""


class TerrainProfile(NamedTuple):
    """Profile of the wind over one kind of ground.

    Attributes
    ----------
    exponent
        Exponent of the power law [-].
    layer_m
        Depth of the boundary layer [m].
    """

    exponent: float
    layer_m: float


TERRAINS = MappingProxyType(
    {
        "open": TerrainProfile(exponent=0.14, layer_m=270.0),
        "suburb": TerrainProfile(exponent=0.22, layer_m=370.0),
        "city": TerrainProfile(exponent=0.33, layer_m=460.0),
        "waterside": TerrainProfile(exponent=0.10, layer_m=210.0),
    }
)
"""ASHRAE Handbook Fundamentals 2021, ch. 24, table 1."""

WALL_HEAD_ON = 0.6
"""Mean wind pressure coefficient of a low-rise wall at normal incidence [-] (Swami & Chandra 1987)."""

CHIMNEY_TOP = -0.5
"""Wind pressure coefficient of the top of a chimney or cowl clear of the roof, any direction [-]: common practice, no
source."""

# Mean over each slope, for wind at 0 to 180 deg to the direction that the slope faces. Low-rise, square plan, exposed,
# in the form of the tables of Liddament 1986, Air infiltration calculation techniques (pitch below 10, 11-30, above 30
# deg); from memory.
_ROOF_PITCHES_DEG = np.array([5.0, 20.0, 45.0])
_ROOF_ANGLES_DEG = np.array([0.0, 45.0, 90.0, 135.0, 180.0])
_ROOF_COEFFICIENTS = np.array(
    [
        [-0.8, -0.7, -0.6, -0.5, -0.4],
        [-0.4, -0.5, -0.6, -0.5, -0.4],
        [0.3, -0.4, -0.6, -0.4, -0.5],
    ]
)


def local_wind_speed(
    *,
    station_speed_m_s: Numbers,
    station_height_m: Numbers,
    station_terrain: str,
    height_m: Numbers,
    terrain: str,
) -> Numbers:
    """Undisturbed wind speed at a height over the site, from that of a weather station.

    U = U_station (layer_station / z_station)^n_station (z / layer)^n

    Parameters
    ----------
    station_speed_m_s
        Speed at the station [m/s].
    station_height_m
        Height of its anemometer [m].
    station_terrain
        Ground around the station, a key of `TERRAINS`.
    height_m
        Height over the site, usually that of the eaves [m].
    terrain
        Ground around the site, a key of `TERRAINS`.

    Returns
    -------
    Numbers
        Speed [m/s].

    Raises
    ------
    KeyError
        If a terrain is not in `TERRAINS`.

    References
    ----------
    ASHRAE Handbook Fundamentals 2021, ch. 24, eq. 4 and example 1.

    Examples
    --------
    >>> speed = local_wind_speed(station_speed_m_s=10.0, station_height_m=10.0, station_terrain="open",
    ...     height_m=15.0, terrain="suburb")
    >>> round(float(speed), 1)
    7.8
    """
    station, site = TERRAINS[station_terrain], TERRAINS[terrain]
    aloft = station_speed_m_s * (station.layer_m / station_height_m) ** station.exponent
    return aloft * (height_m / site.layer_m) ** site.exponent


def wind_pressure(*, pressure_coefficient: Numbers, density: Numbers, wind_speed_m_s: Numbers) -> Numbers:
    """Pressure of the wind on a surface, Cp rho U^2 / 2.

    Parameters
    ----------
    pressure_coefficient
        Wind pressure coefficient Cp [-].
    density
        Density of the outdoor air [kg/m3].
    wind_speed_m_s
        Speed U that the coefficient refers to: at eaves height, times the shelter factor [m/s].

    Returns
    -------
    Numbers
        Pressure relative to the undisturbed air at the same height [Pa].
    """
    return pressure_coefficient * density * wind_speed_m_s * wind_speed_m_s / 2.0


def off_normal_angle(*, wind_from_deg: Numbers, facing_deg: Numbers) -> Numbers:
    """Angle between the direction that the wind comes from and the one that a surface faces, 0 to 180 deg.

    Parameters
    ----------
    wind_from_deg
        Compass bearing that the wind comes from [deg].
    facing_deg
        Compass bearing of the surface's outward normal [deg].

    Returns
    -------
    Numbers
        Angle, 0 for normal incidence [deg].
    """
    angle: Numbers = np.abs((wind_from_deg - facing_deg + 180.0) % 360.0 - 180.0)
    return angle


def wall_pressure_coefficient(*, wind_angle_deg: Numbers, side_ratio: Numbers) -> Numbers:
    """Mean wind pressure coefficient of a wall of a low-rise house.

    Parameters
    ----------
    wind_angle_deg
        Angle a between the wind and the wall's outward normal, 0 for normal incidence; either sign [deg].
    side_ratio
        Width of this wall over that of the adjacent walls, > 0 [-].

    Returns
    -------
    Numbers
        Coefficient on the speed at eaves height [-].

    Notes
    -----
    0.6 ln[1.248 - 0.703 sin(a/2) - 1.175 sin^2 a + 0.131 sin^3(2 a G) + 0.769 cos(a/2) + 0.07 G^2 sin^2(a/2)
    + 0.717 cos^2(a/2)] with G = ln(side ratio). A mean over whole walls of rectangular houses up to three storeys: the
    value at one window can differ by 0.2 or more, and bays, balconies and L-shaped plans are outside its range.

    References
    ----------
    Swami, M. V. & Chandra, S. 1987, Procedures for calculating natural ventilation airflow rates in buildings, Florida
    Solar Energy Center FSEC-CR-163-86. Coefficients of the terms in G from memory.

    Examples
    --------
    >>> round(float(wall_pressure_coefficient(wind_angle_deg=180.0, side_ratio=1.0)), 3)
    -0.364
    """
    a = np.deg2rad(off_normal_angle(wind_from_deg=wind_angle_deg, facing_deg=0.0))
    g = np.log(side_ratio)
    sin_half, cos_half = np.sin(a / 2.0), np.cos(a / 2.0)
    inside = (
        1.248
        - 0.703 * sin_half
        - 1.175 * np.sin(a) ** 2
        + 0.131 * np.sin(2.0 * a * g) ** 3
        + 0.769 * cos_half
        + 0.07 * g**2 * sin_half**2
        + 0.717 * cos_half**2
    )
    coefficient: Numbers = WALL_HEAD_ON * np.log(inside)
    return coefficient


def roof_pressure_coefficient(*, wind_angle_deg: Numbers, pitch_deg: Numbers) -> Numbers:
    """Mean wind pressure coefficient of one slope of a pitched roof.

    Parameters
    ----------
    wind_angle_deg
        Angle between the wind and the direction that the slope faces in plan, 0 for wind straight up the slope; either
        sign [deg].
    pitch_deg
        Pitch of the roof, 0 to 90; below 5 and above 45 the values at these [deg].

    Returns
    -------
    Numbers
        Coefficient on the speed at eaves height [-].

    Notes
    -----
    Linear interpolation in a table for pitches 5, 20 and 45 deg and five angles, from memory in the form of Liddament
    1986 (exposed, square plan). Suction at the edges and the ridge is stronger than this mean.
    """
    angle = off_normal_angle(wind_from_deg=wind_angle_deg, facing_deg=0.0)
    by_pitch = [np.interp(angle, _ROOF_ANGLES_DEG, row) for row in _ROOF_COEFFICIENTS]
    position = np.interp(pitch_deg, _ROOF_PITCHES_DEG, np.arange(3.0))
    first, last = np.minimum(position, 1.0), np.maximum(position - 1.0, 0.0)
    coefficient: Numbers = by_pitch[0] * (1.0 - first) + by_pitch[1] * (first - last) + by_pitch[2] * last
    return coefficient
