"""What a house is once its file has been read: frozen records in SI units, every value checked.

The reader (``ventplan.house.read``) is the one place that makes them from a file; searches make variants with
``dataclasses.replace``. Coordinates: x to the right of the plan, y up the plan, z up from the ground outside.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from ventplan.house.fans import Fan, FanSetting, Placement
from ventplan.house.weather import Outdoors, Wind
from ventplan.physics.wind import Terrain

__all__ = [
    "OUTDOORS",
    "Fan",
    "FanSetting",
    "House",
    "Obstacle",
    "Opening",
    "OpeningKind",
    "Outdoors",
    "PersonAt",
    "Placement",
    "Point",
    "Room",
    "Scenario",
    "Screen",
    "Terrain",
    "Tonight",
    "Wind",
]

OUTDOORS = "outdoors"
"""Name of the one place that is not a room."""

Point = tuple[float, float]
OpeningKind = Literal["door", "window", "passage", "roof window", "hatch", "vent", "shaft"]


@dataclass(frozen=True)
class Room:
    """One room: a prism over a simple polygon.

    Attributes
    ----------
    corners
        Outline in plan, counter-clockwise [m], shape (n, 2).
    floor_m
        Height of the floor above the ground outside [m].
    ceiling_m
        Clear height from floor to ceiling [m].
    use
        What the room is for where that matters (``garage``, ``bedroom``, ``stairwell``, ``shaft``), or empty.
    flame
        The appliance with a flame in it, as the file words it, or empty.
    temperature_c
        Air temperature in it [°C].
    mixing
        Share of the volume that the air passing through mixes with [-], 0 to 1.
    mass
        Heat that the fabric stores for each square metre of floor [J/(m2 K)].
    gain_w
        Heat released in it [W].
    people
        How many people are in it.
    leak_m3_s
        Air that the room's outside walls leak at 1 Pa, besides its openings [m3/s]; exponent 0.65.
    """

    name: str
    corners: tuple[Point, ...]
    floor_m: float = 0.0
    ceiling_m: float = 2.4
    use: str = ""
    flame: str = ""
    temperature_c: float = 20.0
    mixing: float = 1.0
    mass: float = 165_000.0
    gain_w: float = 0.0
    people: float = 0.0
    leak_m3_s: float = 0.0

    @cached_property
    def area_m2(self) -> float:
        """Floor area by the shoelace formula [m2]."""
        pairs = zip(self.corners, self.corners[1:] + self.corners[:1], strict=True)
        return abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2.0

    @cached_property
    def extent(self) -> tuple[tuple[float, float], ...]:
        """From where to where it reaches in plan, along x and along y [m]."""
        return tuple((min(side), max(side)) for side in zip(*self.corners, strict=True))

    @property
    def volume_m3(self) -> float:
        """Floor area times clear height [m3]."""
        return self.area_m2 * self.ceiling_m

    @property
    def is_garage(self) -> bool:
        """True where its use or its name says so."""
        return "garage" in f"{self.use} {self.name}".lower()


@dataclass(frozen=True)
class Screen:
    """A woven insect screen.

    Attributes
    ----------
    open_area_ratio
        Open share of the face [-].
    wire_m
        Wire diameter [m].
    """

    name: str
    open_area_ratio: float
    wire_m: float


@dataclass(frozen=True)
class Opening:
    """A hole in a wall, roof or floor that joins two places, with its frame on the plan.

    Attributes
    ----------
    joins
        The two places; ``outdoors``, if it is one of them, comes second.
    start, end
        Ends of the clear frame in plan [m], on the wall line. For horizontal openings (roof window, hatch, shaft)
        the ends of the middle line of the frame.
    normal
        Unit vector in plan pointing from ``joins[0]`` into ``joins[1]``; (0, 0) for a horizontal opening.
    bottom_m, height_m
        Lower edge above the ground outside, and clear height [m]. For a horizontal opening ``bottom_m`` is its level
        and ``height_m`` its other side in plan.
    sash
        Kind of sash, as in the catalogue (``none`` for a plain hole).
    open_share
        Free share of the frame's area when open as the file states [-], 0 shut.
    full_share
        Free share when it is opened as far as its sash goes [-].
    free_along
        Which side of the frame the sash shortens: ``width`` or ``height``.
    opens
        The end or edge of the frame at which the free part lies when the opening is partly open.
    leads_to
        What lies behind an opening to outdoors where the file says so: ``stairs`` (of the building, with a fire door),
        ``balcony`` or ``garage``; else empty.
    keep
        ``open`` or ``shut`` where no advice may change it; else empty. Scenarios may.
    screen
        Its insect screen, or None.
    discharge
        Discharge coefficient of the free area without the screen [-].
    leak_m3_s, leak_exponent
        Crack flow when shut: flow at 1 Pa [m3/s], and exponent [-].
    wind_pressure
        Own wind pressure coefficient in place of the correlation [-], or None.
    drop_m
        Height of a fall through it, from its lower edge to the ground or floor on the far side [m].
    can_move
        False where the user says that it stays as it is (a fixed pane, a door that must stay shut).
    slope_faces
        Roof window: unit vector in plan that points down its slope, or None where the file does not say.
    pitch_deg
        Roof window: slope of the roof around it [deg], or None for that of the house.
    top_m
        Shaft to outdoors: height of its upper end above the ground outside [m]; ``bottom_m`` is the lower end.
    column_c
        Shaft: temperature of the air in it [°C], or None for that of the room it begins in.
    """

    name: str
    kind: OpeningKind
    joins: tuple[str, str]
    start: Point
    end: Point
    normal: Point
    bottom_m: float
    height_m: float
    sash: str = "none"
    open_share: float = 1.0
    full_share: float = 1.0
    free_along: Literal["width", "height"] = "width"
    opens: Literal["start", "end", "bottom", "top"] = "start"
    screen: Screen | None = None
    discharge: float = 0.62
    leak_m3_s: float = 0.0005
    leak_exponent: float = 0.65
    wind_pressure: float | None = None
    drop_m: float = 0.0
    can_move: bool = True
    slope_faces: Point | None = None
    pitch_deg: float | None = None
    top_m: float | None = None
    column_c: float | None = None
    leads_to: Literal["", "stairs", "balcony", "garage"] = ""
    keep: Literal["", "open", "shut"] = ""

    @property
    def width_m(self) -> float:
        """Clear width of the frame [m]."""
        return math.dist(self.start, self.end)

    @property
    def area_m2(self) -> float:
        """Area of the clear frame [m2]."""
        return self.width_m * self.height_m

    @property
    def centre(self) -> tuple[float, float, float]:
        """Middle of the frame [m], shape (3,)."""
        (x1, y1), (x2, y2) = self.start, self.end
        rise = 0.0 if self.is_horizontal else self.height_m / 2.0
        return (x1 + x2) / 2.0, (y1 + y2) / 2.0, self.bottom_m + rise

    @property
    def is_horizontal(self) -> bool:
        """True for an opening in a roof or floor."""
        return self.normal == (0.0, 0.0)

    @property
    def is_external(self) -> bool:
        """True for an opening to outdoors."""
        return OUTDOORS in self.joins

    def other(self, place: str) -> str:
        """The place on the other side of ``place``."""
        return self.joins[1] if self.joins[0] == place else self.joins[0]


@dataclass(frozen=True)
class Obstacle:
    """Where no fan can stand; a jet does not pass below its height.

    Attributes
    ----------
    corners
        Outline in plan [m], shape (n, 2).
    height_m
        Height above the room's floor [m].
    holds_fan
        True where a fan can stand on it: a desk, a chest of drawers.
    """

    name: str
    room: str
    corners: tuple[Point, ...]
    height_m: float = 1.0
    holds_fan: bool = False


@dataclass(frozen=True)
class PersonAt:
    """A place where somebody sits or sleeps.

    Attributes
    ----------
    at
        Where in plan [m].
    height_m
        Height of the head above the room's floor [m].
    asleep
        True for a place to sleep.
    """

    name: str
    room: str
    at: Point
    height_m: float = 1.1
    asleep: bool = False


@dataclass(frozen=True)
class Tonight:
    """What the people of the house want from a night, and what is known of its weather.

    Attributes
    ----------
    bedtime_h, waking_h
        Hours of the day [h], 0 to 24.
    high_c, low_c
        Highest and lowest outdoor temperature from this afternoon to tomorrow morning [°C], or None.
    quiet_db
        Loudest sound of the fans at the heads of people who sleep [dB(A)].
    noise_db
        Loudest sound of the fans in rooms where people are awake [dB(A)], or None for no limit.
    rooms
        The rooms that matter; empty for those where people sleep.
    keep_out
        Rooms that air to be cleared away must not pass.
    """

    bedtime_h: float = 22.5
    waking_h: float = 7.0
    high_c: float | None = None
    low_c: float | None = None
    quiet_db: float = 40.0
    noise_db: float | None = None
    rooms: tuple[str, ...] = ()
    keep_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class Scenario:
    """One complete state of the house, every default filled in.

    Attributes
    ----------
    shares
        Free share of every opening's frame [-], 0 shut, by opening name.
    screened
        Names of the openings whose screen is in place.
    placements
        The fans that run.
    outdoors
        Weather.
    temperatures_c
        Air temperature of every room [°C], by room name.
    """

    name: str
    shares: Mapping[str, float]
    screened: frozenset[str]
    placements: tuple[Placement, ...]
    outdoors: Outdoors
    temperatures_c: Mapping[str, float]


@dataclass(frozen=True)
class House:
    """A whole house and its scenarios.

    Attributes
    ----------
    rooms, openings, fans, obstacles, scenarios
        By name, in file order. There is always a scenario; the first is the house as it stands.
    show
        Units for answers, ``si`` or ``us``.
    north_deg
        Compass bearing of the top of the plan [deg].
    roof_pitch_deg
        Slope of the roof [deg], for openings in it.
    fabric_w_k
        Heat that passes through the envelope for each kelvin [W/K], or None to estimate it from the outline.
    defaults
        What was not in the file and is assumed, one plain sentence each.
    path
        The file it came from, or empty.
    people_at
        Places where people sit or sleep, by name, in file order.
    remarks
        Unusual values in the file, one sentence each.
    surfaces
        What a fan can be stood on in any room, such as a chair, and its height [m], by name.
    tonight
        What the people of the house want from a night.
    """

    name: str
    rooms: Mapping[str, Room]
    openings: Mapping[str, Opening]
    fans: Mapping[str, Fan]
    obstacles: Mapping[str, Obstacle]
    scenarios: Mapping[str, Scenario]
    show: Literal["si", "us"] = "si"
    north_deg: float = 0.0
    roof_pitch_deg: float = 0.0
    fabric_w_k: float | None = None
    defaults: tuple[str, ...] = ()
    path: str = ""
    people_at: Mapping[str, PersonAt] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()
    surfaces: Mapping[str, float] = field(default_factory=dict)
    tonight: Tonight = field(default_factory=Tonight)

    def first_scenario(self) -> Scenario:
        """The house as it stands."""
        return next(iter(self.scenarios.values()))
