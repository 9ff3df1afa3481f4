"""Records of weather and surroundings, in SI units."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Terrain = Literal["open", "suburb", "city", "waterside"]


@dataclass(frozen=True)
class Wind:
    """Wind as a weather station gives it.

    Attributes
    ----------
    speed_m_s
        Mean speed at the station [m/s].
    from_deg
        Compass bearing the wind comes from [deg], 0 north, 90 east.
    height_m
        Height of the station's anemometer above its ground [m].
    station_terrain
        Terrain around the station.
    """

    speed_m_s: float = 0.0
    from_deg: float = 0.0
    height_m: float = 10.0
    station_terrain: Terrain = "open"


COLDEST_C, HOTTEST_C = -40.0, 45.0
"""Outdoor air beyond which a unit was probably mistaken [°C]; common practice, no source."""


@dataclass(frozen=True)
class Outdoors:
    """Weather and surroundings.

    Attributes
    ----------
    temperature_c
        Outdoor air temperature [°C].
    wind
        Wind at the station.
    terrain
        Terrain around the house.
    shelter
        Factor on the wind speed at the walls for neighbouring buildings and trees, 1 for none [-].
    altitude_m
        Height above the sea [m].
    relative_humidity
        Outdoor relative humidity [-], 0 to 1.
    smoke, rain
        True where the air outdoors is smoky (or high in ozone), or where it rains.
    """

    temperature_c: float = 20.0
    wind: Wind = field(default_factory=Wind)
    terrain: Terrain = "suburb"
    shelter: float = 1.0
    altitude_m: float = 0.0
    relative_humidity: float = 0.5
    smoke: bool = False
    rain: bool = False


def odd_outdoor_air(temperature_c: float) -> str:
    """A remark on an outdoor temperature [°C] that hardly any place has; nothing on any other."""
    if COLDEST_C <= temperature_c <= HOTTEST_C:
        return ""
    value = f"{temperature_c:.4g}"
    return (
        f"outdoor air of {value} °C: outside {COLDEST_C:g} to {HOTTEST_C:g} °C; is it {value} °F (write {value}F)?"
    ).replace("-", "−")
