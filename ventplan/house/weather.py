"""Weather and surroundings: the records, and weather as a person types it on the command line or in a table."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Annotated, Any

from ventplan.errors import InputError, InvalidValue
from ventplan.house.table import Column, Table
from ventplan.physics.wind import Terrain
from ventplan.text import printable


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


WIND_COLUMNS = (
    Column("wind speed", "speed", required=False, lowest=0.0, highest=60.0),
    Column("wind from", "bearing", required=False),
)
"""Wind in a table, as a weather station gives it; calm where both are left out."""


def winds_of(table: Table) -> tuple[list[float], list[float], list[InvalidValue]]:
    """Wind of every row of a table that was read with `WIND_COLUMNS`.

    Parameters
    ----------
    table
        The table.

    Returns
    -------
    tuple of list
        Speed [m/s] and the bearing that it comes from [deg], a calm row having that of the row before it; and every
        row with a speed or a bearing alone, which would otherwise be taken for calm or for wind from the north.
    """
    speeds, bearings = table.numbers["wind speed"], table.numbers["wind from"]
    if all(math.isnan(value) for value in (*speeds, *bearings)):
        return [0.0] * len(speeds), [0.0] * len(bearings), []
    calm, known = [speed == 0.0 for speed in speeds], [not math.isnan(bearing) for bearing in bearings]
    errors: list[InvalidValue] = []
    if all(math.isnan(speed) for speed in speeds):
        errors.append(InvalidValue("wind speed", "no speed, and a bearing", "a column `wind speed`", "", table.path))
    elif not any(known) and not all(calm):
        errors.append(InvalidValue("wind from", "a speed, and no bearing", "a column `wind from`", "", table.path))
    else:
        for row, line in enumerate(table.lines):
            if math.isnan(speeds[row]):
                errors.append(InvalidValue("wind speed", "an empty cell", "a speed, 0 for calm", "", table.path, line))
            elif not known[row] and not calm[row]:
                allowed = "a bearing such as 240 deg, WSW or south-west, unless the speed is 0"
                errors.append(InvalidValue("wind from", "an empty cell", allowed, "", table.path, line))
    last, filled = next((bearing for bearing in bearings if not math.isnan(bearing)), 0.0), []
    for bearing in bearings:
        last = last if math.isnan(bearing) else bearing
        filled.append(last)
    return list(speeds), filled, errors


def _checked(kind: Any, text: str, key: str) -> Any:
    from pydantic import TypeAdapter, ValidationError

    from ventplan.house.units import in_us_units

    try:
        return TypeAdapter(kind).validate_python(printable(text))
    except ValidationError as error:
        details = error.errors()[0].get("ctx", {})
        found, allowed = details.get("found", repr(text)), details.get("allowed", "another text")
        if text.strip().lower().endswith("f"):
            found, allowed = in_us_units(found), in_us_units(allowed)
        raise InputError([InvalidValue(key, found, allowed, details.get("hint", ""))]) from None


def read_wind(text: str, before: Wind) -> Wind:
    """``3 m/s from 240``, ``8 mph from south-west`` or ``calm`` as the wind at the same station.

    Parameters
    ----------
    text
        What was typed.
    before
        The wind of the house file, for the station's height and terrain.

    Raises
    ------
    InputError
        Where it cannot be read; says what is allowed.
    """
    from dataclasses import replace

    from pydantic import BeforeValidator

    from ventplan.house.fields import to_wind
    from ventplan.house.schema import WindSpec

    spec = _checked(Annotated[WindSpec, BeforeValidator(to_wind)], text, "wind")
    bearing = before.from_deg if spec.bearing is None else spec.bearing
    return replace(before, speed_m_s=spec.speed, from_deg=bearing)
