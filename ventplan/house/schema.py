"""What the house file may say about rooms, openings, fans, obstacles, people and the weather."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from ventplan.house.fields import (
    Bearing,
    FrameSize,
    OpenAmount,
    PlanPoint,
    Size,
    Spec,
    Text,
    YesNo,
    exactly,
    in_range,
    known,
    nearest,
    one_of,
    quantity,
    wrong,
)
from ventplan.house.units import UnitError, describe, parse_quantity, quantity_kind

Temperature = Annotated[float, quantity("temperature", -50.0, 60.0)]
Height = Annotated[float, quantity("length", -20.0, 60.0)]
Power = Annotated[float, quantity("power", 0.0, 20_000.0)]
Relative = Annotated[float, quantity("share", 0.0, 1.0)]
PLACES = "rooms, or outdoors"
TERRAINS = ("open", "suburb", "city", "waterside")
KINDS = ("door", "window", "passage", "roof window", "hatch", "vent", "shaft")


def to_mass(value: Any, info: Any) -> float:
    """Heat storage: a word (light, medium, heavy) or a figure."""
    words: dict[str, float] = (info.context or {}).get("masses", {})
    if isinstance(value, str) and value.strip().lower() in words:
        return words[value.strip().lower()]
    return word_or_figure(value, words, "heat storage", 1e4, 2e6)


def to_shelter(value: Any, info: Any) -> float:
    """Shelter from the wind: a word or a factor."""
    words: dict[str, float] = (info.context or {}).get("shelters", {})
    if isinstance(value, str) and value.strip().lower() in words:
        return words[value.strip().lower()]
    return word_or_figure(value, words, "share", 0.0, 1.0)


def to_spread(value: Any, info: Any) -> float:
    """Spread of a jet: a word or a number."""
    words: dict[str, float] = (info.context or {}).get("spreads", {})
    if isinstance(value, str) and value.strip().lower() in words:
        return words[value.strip().lower()]
    return word_or_figure(value, words, "number", 0.05, 0.4)


def word_or_figure(value: Any, words: dict[str, float], name: str, low: float, high: float) -> float:
    """A figure in a range; the words are part of the message when it is none."""
    try:
        return in_range(parse_quantity(value, name), name, low, high)
    except UnitError as error:
        figure = f"a number from {low:g} to {high:g}" if name in ("share", "number") else error.allowed
        raise wrong(error.found, f"{', '.join(words)}, or {figure}", nearest(value, words)) from None


class RoomSpec(Spec):
    """``rooms``: one room."""

    at: PlanPoint | None = Field(None, description="lower left corner on the plan: [right, up]")
    size: Annotated[tuple[Size, Size], BeforeValidator(exactly(2, "two lengths: [width, depth]"))] | None = None
    corners: list[PlanPoint] | None = Field(None, description="three or more corners: [[right, up], ...]")
    floor: Height | None = None
    ceiling: Annotated[float, quantity("length", 1.2, 15.0)] | None = None
    use: Text = ""
    flame: Text = ""
    temperature: Temperature | None = None
    mixing: Annotated[float, quantity("share", 0.0, 1.0, above=True)] | None = None
    mass: Annotated[float, BeforeValidator(to_mass)] | None = None
    gain: Power | None = None
    people: Annotated[float, quantity("number", 0.0, 1000.0)] | None = None


def to_threads(value: Any) -> tuple[float, float]:
    """``18x16`` threads an inch, both ways."""
    match = (
        re.fullmatch(r"\s*(\d{1,3}(?:\.\d+)?)\s*[x×]\s*(\d{1,3}(?:\.\d+)?)\s*", value)
        if isinstance(value, str)
        else None
    )
    if match is None:
        raise wrong(describe(value), 'threads an inch both ways, such as "18x16"')
    first, second = float(match[1]), float(match[2])
    for count in (first, second):
        if not 4.0 <= count <= 100.0:
            raise wrong(f"{count:g} threads an inch", "from 4 to 100 threads an inch")
    return first, second


class ScreenSpec(Spec):
    """A mesh by its threads and wire, in the catalogue or in the file."""

    threads: Annotated[tuple[float, float], BeforeValidator(to_threads)] = Field(
        description='threads an inch both ways, such as "18x16"'
    )
    wire: Annotated[float, quantity("length", 0.0, 0.002, above=True)] = Field(
        description="wire diameter, such as 0.28 mm"
    )
    source: Text = ""


def to_screen(value: Any, info: Any) -> Any:
    """A screen's name (kept as text), none, or a map with its own mesh."""
    if isinstance(value, dict):
        return ScreenSpec.model_validate(value)
    names: dict[str, Any] = (info.context or {}).get("screens", {})
    if value is False or (isinstance(value, str) and value.strip().lower() in ("none", "no")):
        return None
    if isinstance(value, str) and value in names:
        return value
    allowed = f"one of the screens: {', '.join(names)}; none; or a mesh {{threads: 18x16, wire: 0.28 mm}}"
    raise wrong(describe(value), allowed, nearest(value, names))


def to_joins(value: Any, info: Any) -> tuple[str, str]:
    """The two places that an opening joins."""
    names: dict[str, Any] = (info.context or {}).get(PLACES, {})
    pair = exactly(2, "two places: [room, room] or [room, outdoors]")(value)
    for place in pair:
        if not isinstance(place, (str, int)) or str(place) not in names:
            raise wrong(describe(place), f"one of the {PLACES}: {', '.join(list(names)[:20])}", nearest(place, names))
    first, second = str(pair[0]), str(pair[1])
    if first == second:
        raise wrong(f"{first} twice", "two different places")
    return (second, first) if first == "outdoors" else (first, second)


def to_wall(value: Any) -> str | int:
    """A wall: a word of the plan or the number of an edge."""
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 100:
        return value
    words = ("north", "south", "east", "west")
    word = value.strip().lower() if isinstance(value, str) else ""
    if word.isdigit() and 1 <= int(word[:4]) <= 100:
        return int(word)
    if word in words or word.replace(" ", "-") in ("north-east", "north-west", "south-east", "south-west"):
        return word.replace(" ", "-")
    raise wrong(
        describe(value),
        "north (top of the plan), south, east, west, or the number of an edge",
        nearest(value, words),
    )


def to_slope(value: Any) -> str:
    """The way that a slope of the roof faces, by a word of the plan."""
    words = ("north", "south", "east", "west", "north-east", "north-west", "south-east", "south-west")
    word = value.strip().lower().replace(" ", "-") if isinstance(value, str) else ""
    if word in words:
        return word
    raise wrong(describe(value), f"where the slope faces on the plan: {', '.join(words)}", nearest(value, words))


class OpeningSpec(Spec):
    """``openings``: one door, window or other hole."""

    kind: Annotated[str, one_of(KINDS)] = Field(description=", ".join(KINDS))
    joins: Annotated[tuple[str, str], BeforeValidator(to_joins)] = Field(description="[room, room] or [room, outdoors]")
    size: Annotated[tuple[FrameSize, FrameSize], BeforeValidator(exactly(2, "two lengths: [width, height]"))] = Field(
        description="[width, height] of the clear frame"
    )
    wall: Annotated[str | int, BeforeValidator(to_wall)] | None = None
    along: Annotated[float, quantity("length", 0.0, 200.0, usual=1.5)] | None = None
    at: PlanPoint | None = None
    level: Height | None = None
    sill: Annotated[float, quantity("length", 0.0, 15.0, usual=0.9)] | None = None
    sash: Annotated[str, known("sashes")] | None = None
    open: OpenAmount | None = None
    full: OpenAmount | None = None
    screen: Annotated[Any, BeforeValidator(to_screen)] = None
    discharge: Annotated[float, quantity("number", 0.1, 1.0)] | None = None
    leak: Annotated[float, quantity("flow", 0.0, 1.0)] | None = None
    leak_exponent: Annotated[float, quantity("number", 0.5, 1.0)] | None = Field(None, alias="leak exponent")
    wind_pressure: Annotated[float, quantity("number", -3.0, 1.5)] | None = Field(None, alias="wind pressure")
    drop: Annotated[float, quantity("length", 0.0, 100.0)] | None = None
    moves: YesNo = True
    faces: Annotated[str, BeforeValidator(to_slope)] | None = None
    pitch: Annotated[float, quantity("angle", 0.0, 75.0)] | None = None
    top: Height | None = None
    loss: Annotated[float, quantity("number", 0.0, 50.0)] | None = None
    column: Annotated[float, quantity("temperature", -50.0, 400.0)] | None = None


def to_setting(value: Any) -> Any:
    """A setting as a share of the highest speed, as a flow, or as a map."""
    if isinstance(value, dict):
        return value
    if value is None:
        return {"speed": 1.0}
    try:
        kind, number = quantity_kind(value, ("share", "flow"))
    except UnitError as error:
        raise wrong(error.found, error.allowed, error.hint) from None
    return {"speed" if kind == "share" else "flow": number}


class SettingSpec(Spec):
    """One speed setting of a fan."""

    speed: Annotated[float, quantity("share", 0.05, 1.0)] | None = None
    flow: Annotated[float, quantity("flow", 0.0, 20.0, above=True)] | None = None
    power: Power | None = None
    sound: Annotated[float, quantity("sound", 0.0, 120.0)] | None = None


Heights = Annotated[tuple[Size, Size], BeforeValidator(exactly(2, "two heights: [lowest, highest]"))]
Error = Annotated[float, quantity("share", 0.0, 1.0)]


class FanSpec(Spec):
    """``fans``: one fan, in the file or in the catalogue."""

    like: Annotated[str, known("catalogue fans")] | None = None
    flow: Annotated[float, quantity("flow", 0.0, 20.0, above=True)] | None = None
    thrust: Annotated[float, quantity("force", 0.0, 500.0, above=True)] | None = None
    diameter: Annotated[float, quantity("length", 0.05, 2.5, usual=0.4)] | None = None
    spread: Annotated[float, BeforeValidator(to_spread)] | None = None
    power: Power | None = None
    pressure: Annotated[float, quantity("pressure", 0.0, 1000.0, above=True)] | None = None
    sound: Annotated[float, quantity("sound", 0.0, 120.0)] | None = None
    settings: dict[str, Annotated[SettingSpec, BeforeValidator(to_setting)]] | None = None
    seals: YesNo | None = None
    heights: Heights | None = None
    jet: Text | None = None
    flow_error: Error | None = Field(None, alias="flow error")
    thrust_error: Error | None = Field(None, alias="thrust error")
    spread_error: Error | None = Field(None, alias="spread error")
    note: Text = ""


class ObstacleSpec(Spec):
    """``obstacles``: something that stands in a room."""

    room: Annotated[str, known("rooms")] = Field(description="the room it stands in")
    at: PlanPoint | None = None
    size: Annotated[tuple[Size, Size], BeforeValidator(exactly(2, "two lengths: [width, depth]"))] | None = None
    corners: list[PlanPoint] | None = None
    height: Annotated[float, quantity("length", 0.0, 15.0, above=True)] | None = None


class PersonAtSpec(Spec):
    """``people at``: a place where somebody sits or sleeps."""

    room: Annotated[str, known("rooms")] = Field(description="the room that it is in")
    at: PlanPoint = Field(description="where the head is on the plan: [right, up]")
    height: Annotated[float, quantity("length", 0.0, 15.0)] | None = None
    asleep: YesNo = False


COMPASS_WORDS = "[nesw]{1,3}|(?:(?:north|east|south|west)[- ]?){1,3}"
SPEED_FROM = re.compile(r"(.{1,30}?)\s+from\s+(?:the\s+)?(.{1,30})", re.IGNORECASE)
SPEED_BEARING = re.compile(
    rf"(.{{1,20}}?[a-z].{{0,10}}?)\s+({COMPASS_WORDS}|\d{{1,3}}(?:\.\d+)?\s*(?:deg(?:rees?)?|°)?)", re.IGNORECASE
)
"""Speed with its unit, then where the wind comes from, without the word between them."""


def to_wind(value: Any) -> Any:
    """``3 m/s from 240``, ``10 km/h SW`` or ``calm`` as a map."""
    if not isinstance(value, str):
        return value
    if value.strip().lower() in ("calm", "none", "no"):
        return {"speed": 0.0}
    text = value.strip()
    match = SPEED_FROM.fullmatch(text) or SPEED_BEARING.fullmatch(text)
    if match is None:
        allowed = 'calm, "3 m/s from 240 deg", "3 m/s south-west", or {speed: 3 m/s, from: south-west}'
        raise wrong(describe(value), allowed)
    bearing: Any = match[2]
    return {"speed": match[1], "from": bearing}


class WindSpec(Spec):
    """Wind as a weather station gives it."""

    speed: Annotated[float, quantity("speed", 0.0, 60.0)] = Field(description="a speed such as 3 m/s")
    bearing: Bearing | None = Field(None, alias="from")
    height: Annotated[float, quantity("length", 0.5, 200.0)] | None = None
    terrain: Annotated[str, one_of(TERRAINS)] | None = None


class OutdoorsSpec(Spec):
    """``outdoors``: weather and surroundings; in a scenario, what differs."""

    temperature: Temperature | None = None
    wind: Annotated[WindSpec, BeforeValidator(to_wind)] | None = None
    terrain: Annotated[str, one_of(TERRAINS)] | None = None
    shelter: Annotated[float, BeforeValidator(to_shelter)] | None = None
    altitude: Annotated[float, quantity("length", -450.0, 6000.0)] | None = None
    humidity: Relative | None = None
    smoke: YesNo | None = None
    rain: YesNo | None = None


class IndoorsSpec(Spec):
    """``indoors``: the temperature of every room that has none of its own."""

    temperature: Temperature | None = None


class LeakageSpec(Spec):
    """``leakage``: what a blower door found."""

    ach50: Annotated[float, quantity("number", 0.0, 100.0, above=True)] = Field(
        description="air changes an hour at 50 Pa, such as 5"
    )


class FileSpec(Spec):
    """The keys of the file that are no maps of named things."""

    name: Text = ""
    show: Annotated[str, one_of(("si", "us"))] | None = None
    north: Bearing | None = None
    outdoors: OutdoorsSpec = OutdoorsSpec()
    indoors: IndoorsSpec = IndoorsSpec()
    leakage: LeakageSpec | None = None
    roof_pitch: Annotated[float, quantity("angle", 0.0, 75.0)] | None = Field(None, alias="roof pitch")
    fabric: Annotated[float, quantity("conductance", 0.0, 20_000.0, above=True)] | None = None
    rooms: Any = None
    openings: Any = None
    fans: Any = None
    obstacles: Any = None
    people_at: Any = Field(None, alias="people at")
    scenarios: Any = None
