"""Which rooms and openings are on which storey's plan, and the walls and floors of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ventplan.house.geometry import polygon, storeys
from ventplan.house.records import House, Opening, Room, Scenario
from ventplan.house.units import System
from ventplan.show.plan_openings import HALF_WALL_M, hole, opening_lines, wall_gap_m
from ventplan.show.plan_shapes import Area, Line, frame_of, rings_of

SAME_STOREY_M = 0.6
"""Floors closer than this are one storey, as ``ventplan.house.geometry.storeys`` has it [m]."""
CLOSES_M = 0.126
"""Half the widest gap between rooms that is drawn as wall, as ``ventplan.house.geometry.WALL_M`` has it [m]."""
TALL_M = 1.5
"""A room that reaches this far above a storey's floor is drawn on its plan too [m]."""


@dataclass(frozen=True)
class Storey:
    """One storey.

    Attributes
    ----------
    level_m
        Height of its lowest floor above the ground [m].
    title
        Its heading; empty where it is the only one.
    rooms
        Rooms whose floor is on it.
    passing
        Rooms from below that reach up through it.
    openings
        Openings drawn and noted on it.
    """

    level_m: float
    title: str
    rooms: tuple[str, ...]
    passing: tuple[str, ...]
    openings: tuple[str, ...]

    def shows(self, opening: Opening, room: str) -> bool:
        """True where an opening of a room is on this storey's plan; a hatch is on that of both its rooms."""
        between = opening.is_horizontal and not opening.is_external
        return opening.name in self.openings or (between and room in self.rooms)

    @property
    def all_rooms(self) -> tuple[str, ...]:
        """Rooms drawn on it."""
        return (*self.rooms, *self.passing)


def storeys_of(house: House, system: System) -> tuple[Storey, ...]:
    """The storeys of a house, from the lowest up, none without a room."""
    levels = storeys(house)
    own = {name: max(i for i, low in enumerate(levels) if low <= r.floor_m + 1e-6) for name, r in house.rooms.items()}
    found = []
    for i, level in enumerate(levels):
        rooms = tuple(name for name in house.rooms if own[name] == i)
        passing = tuple(name for name in house.rooms if _passes(house, own, name, i, level))
        openings = tuple(name for name, o in house.openings.items() if _storey_of(house, levels, own, o) == i)
        found.append(Storey(level, _title(level, i, levels, system), rooms, passing, openings))
    return tuple(found)


def _passes(house: House, own: dict[str, int], name: str, index: int, level_m: float) -> bool:
    """True for a room from below that reaches up through a storey."""
    room = house.rooms[name]
    return own[name] < index and room.floor_m + room.ceiling_m >= level_m + TALL_M


def _storey_of(house: House, levels: tuple[float, ...], own: dict[str, int], opening: Opening) -> int:
    rooms = [place for place in opening.joins if place in house.rooms]
    if opening.is_horizontal:
        # A roof window is drawn where one stands under it, a hatch on the floor that it is in.
        if opening.is_external:
            return max(i for i, low in enumerate(levels) if i == 0 or opening.bottom_m >= low + TALL_M)
        return max(own[name] for name in rooms)
    shown = {i for i, low in enumerate(levels) for name in rooms if own[name] == i or _passes(house, own, name, i, low)}
    return max((i for i in shown if opening.bottom_m >= levels[i] - 0.3), default=min(shown))


def _title(level: float, index: int, levels: tuple[float, ...], system: System) -> str:
    from ventplan.house.shown import show

    if len(levels) == 1:
        return ""
    if abs(level) <= SAME_STOREY_M:
        return "Ground floor"
    where = "above" if level > 0 else "below"
    return f"Floor {show(abs(level), 'length', system)} {where} the ground"


def walls_of(house: House, storey: Storey) -> Any:
    """The walls of a storey with its openings cut out, as a ``shapely`` geometry [m]."""
    from shapely import Polygon, unary_union

    outlines = [polygon(house.rooms[name].corners) for name in storey.all_rooms]
    bands = [outline.exterior.buffer(HALF_WALL_M, join_style="mitre") for outline in outlines]
    grown = unary_union([outline.buffer(CLOSES_M, join_style="mitre") for outline in outlines])
    whole = grown.buffer(-CLOSES_M, join_style="mitre")
    between = whole.difference(unary_union(outlines))
    walls = unary_union([*bands, between])
    for name, opening in house.openings.items():
        if name in storey.openings and not opening.is_horizontal:
            walls = walls.difference(Polygon(hole(frame_of(opening, wall_gap_m(house, opening)))))
    return walls


def fixed_parts(
    house: House, scenario: Scenario, storey: Storey, tints: dict[str, str]
) -> tuple[list[Area], list[Line], Any]:
    """Floors, furniture, walls and openings of a storey.

    Parameters
    ----------
    house, scenario
        The house and its state.
    storey
        The storey.
    tints
        Name of the colour of each room's floor.

    Returns
    -------
    tuple
        Areas, lines, and the walls as a ``shapely`` geometry.
    """
    areas = [Area(f"room {name}", (_closed(house.rooms[name]),), tints[name], "floor") for name in storey.all_rooms]
    lines: list[Line] = []
    for obstacle in house.obstacles.values():
        if obstacle.room in storey.rooms:
            ring = (*obstacle.corners, obstacle.corners[0])
            areas.append(Area(f"obstacle {obstacle.name}", (ring,), "obstacle", "floor"))
            lines.append(Line(f"edge of {obstacle.name}", ring, "muted", "floor", 0.4))
    walls = walls_of(house, storey)
    areas += [Area("wall", rings, "wall", "wall") for rings in rings_of(walls)]
    for opening in house.openings.values():
        if not any(storey.shows(opening, place) for place in opening.joins):
            continue
        more_areas, more_lines = opening_lines(house, scenario, opening)
        areas += more_areas
        lines += more_lines
    return areas, lines, walls


def _closed(room: Room) -> tuple[tuple[float, float], ...]:
    return (*room.corners, room.corners[0])
