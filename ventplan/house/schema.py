"""What the house file may say: one model for each kind of map in it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field

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
    known,
    listed_or_one,
    nearest,
    one_of,
    quantity,
    to_joins,
    to_mass,
    to_open,
    to_setting,
    to_shelter,
    to_slope,
    to_spread,
    to_threads,
    to_wall,
    to_wind,
    wrong,
)
from ventplan.house.units import describe

Temperature = Annotated[float, quantity("temperature", -50.0, 60.0)]
Height = Annotated[float, quantity("length", -20.0, 60.0)]
Power = Annotated[float, quantity("power", 0.0, 20_000.0)]
Relative = Annotated[float, quantity("share", 0.0, 1.0)]
TERRAINS = ("open", "suburb", "city", "waterside")
KINDS = ("door", "window", "passage", "roof window", "hatch", "vent", "shaft")


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


OpeningName = Annotated[str, known("openings")]


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
