"""What the house file may say about scenarios and where fans stand."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from ventplan.house.fields import (
    OpenAmount,
    Spec,
    Text,
    YesNo,
    known,
    listed_or_one,
    quantity,
    wrong,
)
from ventplan.house.schema import PLACES, OutdoorsSpec, Temperature
from ventplan.house.units import describe

OpeningName = Annotated[str, known("openings")]


def to_open(value: Any) -> Any:
    """Names alone are opened as far as they go."""
    if value is None or isinstance(value, dict):
        return value or {}
    result: dict[str, Any] = {}
    for name in listed_or_one(value):
        if isinstance(name, (dict, list)):
            raise wrong(describe(name), "names in a list, or a map {name: share}")
        result[str(name)] = True
    return result


def to_screens(value: Any) -> Any:
    """on, off, or the names of the openings whose screen is in place."""
    word = value.strip().lower() if isinstance(value, str) else value
    if isinstance(word, bool):
        return "on" if word else "off"
    if word in ("on", "yes"):
        return "on"
    if word in ("off", "no", "none"):
        return "off"
    return listed_or_one(value)


def check_screens(value: Any, info: Any) -> Any:
    """Names must be openings."""
    names: dict[str, Any] = (info.context or {}).get("openings", {})
    value = to_screens(value)
    if isinstance(value, str):
        return value
    for name in value:
        if not isinstance(name, str) or name not in names:
            from ventplan.house.fields import listed, nearest

            allowed = f"on, off, or names of openings: {listed(names)}"
            raise wrong(describe(name), allowed, nearest(name, [*names, "on", "off"]))
    return tuple(value)


Aim = Annotated[float, quantity("angle", -180.0, 180.0)]


class PlacementSpec(Spec):
    """One running fan of a scenario."""

    fan: Annotated[str, known("fans")] = Field(description="the name of a fan")
    out: OpeningName | None = Field(None, alias="blows out")
    inwards: OpeningName | None = Field(None, alias="blows in")
    through: OpeningName | None = Field(None, alias="blows through")
    stands_in: Annotated[str, known(PLACES)] | None = Field(None, alias="stands in")
    setback: Annotated[float, quantity("length", 0.0, 50.0, usual=1.5)] | None = None
    height: Annotated[float, quantity("length", 0.0, 15.0, usual=1.0)] | None = None
    aside: Annotated[float, quantity("length", -20.0, 20.0)] = 0.0
    turn: Aim = 0.0
    tilt: Aim = 0.0
    sealed: YesNo = False
    setting: Text = ""


class ScenarioIndoorsSpec(Spec):
    """Temperatures of a scenario: of every room, and of single ones."""

    temperature: Temperature | None = None
    rooms: dict[Annotated[str, known("rooms")], Temperature] = Field(default_factory=dict)


class ScenarioSpec(Spec):
    """``scenarios``: what one state of the house changes."""

    based_on: Annotated[str, known("scenarios")] | None = Field(None, alias="based on")
    open: Annotated[dict[OpeningName, OpenAmount], BeforeValidator(to_open)] = Field(default_factory=dict)
    shut: Annotated[list[OpeningName], BeforeValidator(listed_or_one)] = Field(default_factory=list)
    screens: Annotated[Any, BeforeValidator(check_screens)] = None
    fans: Annotated[list[PlacementSpec], BeforeValidator(listed_or_one)] | None = None
    outdoors: OutdoorsSpec = OutdoorsSpec()
    indoors: ScenarioIndoorsSpec = ScenarioIndoorsSpec()
    note: Text = ""
