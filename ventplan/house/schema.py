"""What the house file may say: one model for each kind of map in it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, PlainValidator, ValidationInfo, model_validator

from ventplan.house.fields import (
    PLACES,
    Bearing,
    FrameSize,
    OpenAmount,
    PlanPoint,
    Size,
    Spec,
    Text,
    YesNo,
    check_screens,
    exactly,
    in_range,
    in_words,
    known,
    listed_or_one,
    nearest,
    one_of,
    quantity,
    text_of,
    to_clock,
    to_indoors,
    to_joins,
    to_open,
    to_setting,
    to_slope,
    to_threads,
    to_tilts,
    to_wall,
    to_wind,
    with_usual_words,
    word_or,
    wrong,
)
from ventplan.house.units import UnitError, describe, parse_quantity
from ventplan.physics.wind import TERRAINS

Temperature = Annotated[float, quantity("temperature", -50.0, 60.0)]
Height = Annotated[float, quantity("length", -20.0, 60.0)]
Power = Annotated[float, quantity("power", 0.0, 20_000.0)]
Relative = Annotated[float, quantity("share", 0.0, 1.0)]
SIDES = ("left", "right", "top", "bottom", "north", "east", "south", "west")
LEADS_TO = ("stairs", "balcony", "garage")
KINDS = ("door", "window", "passage", "roof window", "hatch", "vent", "shaft")


def to_appliance(value: Any) -> str:
    """An appliance in words."""
    if value is False:
        return ""
    if isinstance(value, str) and any(letter.isalpha() for letter in value):
        return text_of(value)
    raise wrong(describe(value), "the appliance in words, such as gas water heater; or no")


class RoomSpec(Spec):
    """``rooms``: one room."""

    at: PlanPoint | None = Field(None, description="lower left corner on the plan: [right, up]")
    size: Annotated[tuple[Size, Size], BeforeValidator(exactly(2, "two lengths: [width, depth]"))] | None = None
    corners: list[PlanPoint] | None = Field(None, description="three or more corners: [[right, up], ...]")
    floor: Height | None = None
    ceiling: Annotated[float, quantity("length", 1.2, 15.0)] | None = None
    use: Text = ""
    flame: Annotated[str, BeforeValidator(to_appliance)] = ""
    temperature: Temperature | None = None
    mixing: Annotated[float, quantity("share", 0.0, 1.0, above=True)] | None = None
    mass: Annotated[float, word_or("masses", "heat storage", 1e4, 2e6)] | None = None
    gain: Power | None = None
    people: Annotated[float, quantity("number", 0.0, 1000.0)] | None = None


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
    opens: Annotated[str, one_of(SIDES)] | None = None
    screen: Annotated[Any, BeforeValidator(to_screen)] = None
    discharge: Annotated[float, quantity("number", 0.1, 1.0)] | None = None
    leak: Annotated[float, quantity("flow", 0.0, 1.0)] | None = None
    leak_exponent: Annotated[float, quantity("number", 0.5, 1.0)] | None = Field(None, alias="leak exponent")
    wind_pressure: Annotated[float, quantity("number", -3.0, 1.5)] | None = Field(None, alias="wind pressure")
    drop: Annotated[float, quantity("length", 0.0, 100.0)] | None = None
    moves: YesNo = True
    keep: Annotated[str, one_of(("open", "shut"))] | None = None
    leads_to: Annotated[str, in_words("place words", LEADS_TO)] | None = Field(None, alias="leads to")
    faces: Annotated[str, BeforeValidator(to_slope)] | None = None
    pitch: Annotated[float, quantity("angle", 0.0, 75.0)] | None = None
    top: Height | None = None
    loss: Annotated[float, quantity("number", 0.0, 50.0)] | None = None
    column: Annotated[float, quantity("temperature", -50.0, 400.0)] | None = None

    @model_validator(mode="before")
    @classmethod
    def usual_words(cls, data: Any, info: ValidationInfo) -> Any:
        """Words of the trade for kinds and sashes."""
        return with_usual_words(data, info)


class SettingSpec(Spec):
    """One speed setting of a fan."""

    speed: Annotated[float, quantity("share", 0.05, 1.0)] | None = None
    flow: Annotated[float, quantity("flow", 0.0, 20.0, above=True)] | None = None
    power: Power | None = None
    sound: Annotated[float, quantity("sound", 0.0, 120.0)] | None = None


def lowest_first(heights: tuple[float, float]) -> tuple[float, float]:
    """The lowest and the highest height, in this order."""
    if heights[0] > heights[1]:
        raise wrong(f"{heights[0]:g} m to {heights[1]:g} m", "the lowest height first")
    return heights


Heights = Annotated[
    tuple[Size, Size],
    BeforeValidator(exactly(2, "two heights: [lowest, highest]")),
    AfterValidator(lowest_first),
]
Error = Annotated[float, quantity("share", 0.0, 1.0)]
OpeningName = Annotated[str, known("openings")]


def to_axis(value: Any) -> tuple[float, float]:
    """Height of a fan's axis above what it stands on, or the lowest and the highest of one on a pole [m]."""
    heights = value if isinstance(value, list) and len(value) == 2 else [value, value]
    try:
        low, high = (in_range(parse_quantity(height, "length"), "length", 0.0, 3.0, True, 0.5) for height in heights)
    except UnitError as error:
        raise wrong(error.found, f"{error.allowed}, or two: [lowest, highest]", error.hint) from None
    return lowest_first((low, high))


class FanSpec(Spec):
    """``fans``: one fan, in the file or in the catalogue."""

    like: Annotated[str, known("catalogue fans")] | None = None
    flow: Annotated[float, quantity("flow", 0.0, 20.0, above=True)] | None = None
    thrust: Annotated[float, quantity("force", 0.0, 500.0, above=True)] | None = None
    diameter: Annotated[float, quantity("length", 0.05, 2.5, usual=0.4)] | None = None
    spread: Annotated[float, word_or("spreads", "number", 0.05, 0.4)] | None = None
    power: Power | None = None
    pressure: Annotated[float, quantity("pressure", 0.0, 1000.0, above=True)] | None = None
    sound: Annotated[float, quantity("sound", 0.0, 120.0)] | None = None
    settings: dict[str, Annotated[SettingSpec, BeforeValidator(to_setting)]] | None = None
    seals: YesNo | None = None
    heights: Heights | None = None
    axis: Annotated[tuple[float, float], BeforeValidator(to_axis)] | None = None
    tilts: Annotated[tuple[float, float], PlainValidator(to_tilts)] | None = None
    stays: OpeningName | None = None
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
    holds_fan: YesNo = Field(False, alias="holds fan")


class PersonAtSpec(Spec):
    """``people at``: a place where somebody sits or sleeps."""

    room: Annotated[str, known("rooms")] = Field(description="the room that it is in")
    at: PlanPoint = Field(description="where the head is on the plan: [right, up]")
    height: Annotated[float, quantity("length", 0.0, 15.0)] | None = None
    asleep: YesNo = False


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
    shelter: Annotated[float, word_or("shelters", "share", 0.0, 1.0)] | None = None
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


Sound = Annotated[float, quantity("sound", 0.0, 120.0)]
Surface = Annotated[float, quantity("length", 0.05, 2.5, usual=0.6)]


def to_surfaces(value: Any) -> Any:
    """A map of heights; ``none`` for nothing but the floor."""
    if value is False or (isinstance(value, str) and value.strip().lower() in ("none", "no")):
        return {}
    if not isinstance(value, dict):
        raise wrong(describe(value), "heights by name, such as {chair: 45 cm, table: 75 cm}; or none")
    for name in value:
        if name.strip().lower() in ("", "floor", "sill"):
            raise wrong(f'a surface named "{name}"', "any other name: floors and sills need no entry")
    return value


class TonightSpec(Spec):
    """``tonight``: what the people of the house want from a night, and its weather."""

    bedtime: Annotated[float, PlainValidator(to_clock)] | None = None
    waking: Annotated[float, PlainValidator(to_clock)] | None = None
    high: Temperature | None = None
    low: Temperature | None = None
    quiet: Sound | None = None
    noise: Sound | None = None
    rooms: Annotated[list[Annotated[str, known("rooms")]], BeforeValidator(listed_or_one)] = Field(default_factory=list)
    keep_out: Annotated[list[Annotated[str, known("rooms")]], BeforeValidator(listed_or_one)] = Field(
        default_factory=list, alias="keep out"
    )


class FileSpec(Spec):
    """The keys of the file that are no maps of named things."""

    name: Text = ""
    show: Annotated[str, one_of(("si", "us"))] | None = None
    north: Bearing | None = None
    outdoors: OutdoorsSpec = OutdoorsSpec()
    indoors: Annotated[IndoorsSpec, BeforeValidator(to_indoors)] = IndoorsSpec()
    leakage: LeakageSpec | None = None
    roof_pitch: Annotated[float, quantity("angle", 0.0, 75.0)] | None = Field(None, alias="roof pitch")
    fabric: Annotated[float, quantity("conductance", 0.0, 20_000.0, above=True)] | None = None
    surfaces: Annotated[dict[str, Surface], BeforeValidator(to_surfaces)] | None = None
    tonight: TonightSpec = TonightSpec()
    rooms: Any = None
    openings: Any = None
    fans: Any = None
    obstacles: Any = None
    people_at: Any = Field(None, alias="people at")
    scenarios: Any = None


Aim = Annotated[float, quantity("angle", -180.0, 180.0)]


class PlacementSpec(Spec):
    """One running fan of a scenario."""

    fan: Annotated[str, known("fans")] = Field(description="the name of a fan")
    out: OpeningName | None = Field(None, alias="blows out")
    inwards: OpeningName | None = Field(None, alias="blows in")
    through: OpeningName | None = Field(None, alias="blows through")
    stands_in: Annotated[str, known(PLACES)] | None = Field(None, alias="stands in")
    stands_on: Text | None = Field(None, alias="stands on")
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
    indoors: Annotated[ScenarioIndoorsSpec, BeforeValidator(to_indoors)] = ScenarioIndoorsSpec()
    note: Text = ""
