"""Weather as a person types it on the command line, by the same rules as in the house file."""

from __future__ import annotations

from typing import Annotated, Any

from ventplan.errors import InputError, Mistake
from ventplan.house.records import Wind


def _checked(kind: Any, text: str, key: str) -> Any:
    from pydantic import TypeAdapter, ValidationError

    try:
        return TypeAdapter(kind).validate_python(text)
    except ValidationError as error:
        details = error.errors()[0].get("ctx", {})
        found, allowed = details.get("found", repr(text)), details.get("allowed", "another text")
        raise InputError([Mistake(key, found, allowed, details.get("hint", ""))]) from None


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

    from ventplan.house.schema import WindSpec, to_wind

    spec = _checked(Annotated[WindSpec, BeforeValidator(to_wind)], text, "wind")
    bearing = before.from_deg if spec.bearing is None else spec.bearing
    return replace(before, speed_m_s=spec.speed, from_deg=bearing)


def read_temperature(text: str) -> float:
    """``14C``, ``57 °F`` or a plain number of °C as a temperature [°C].

    Raises
    ------
    InputError
        Where it cannot be read.
    """
    from ventplan.house.schema import Temperature

    value: float = _checked(Temperature, text, "temperature")
    return value
