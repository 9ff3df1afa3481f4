"""Which rooms and openings are on which storey's plan, and how walls, floors, doors, windows and holes are drawn.

Doors are a leaf and its swing, windows three lines, screens dashed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ventplan.house.geometry import WALL_M, polygon, storeys
from ventplan.house.records import House, Opening, Point, Room, Scenario
from ventplan.house.units import System
from ventplan.show.plan_shapes import DASHED, DOTTED, Area, Frame, Line, frame_of, rings_of

HALF_WALL_M = 0.06
"""Half the thickness that a wall is drawn with [m]."""
PANE_M = 0.022
"""Distance of a pane from the middle of its frame [m]."""
ARC_POINTS = 17
HINGED_OUT = ("side hinged", "top hinged", "bottom hinged", "pivot", "louvre", "lid")


def wall_gap_m(house: House, opening: Opening) -> float:
    """Distance that the plan leaves between the two rooms at an opening [m]."""
    if opening.is_external or opening.is_horizontal:
        return 0.0
    return _gap_m(opening.centre[:2], tuple(house.rooms[place].corners for place in opening.joins))


@lru_cache(maxsize=4096)
def _gap_m(at: Point, outlines: tuple[tuple[Point, ...], ...]) -> float:
    from shapely import Point as Spot

    gap = max(polygon(corners).distance(Spot(at)) for corners in outlines)
    return float(gap) if gap <= WALL_M + 0.05 else 0.0


def hole(frame: Frame) -> tuple[Point, ...]:
    """The part of the wall that an opening takes away, in plan [m]."""
    return frame.box(0.0, frame.width_m, -HALF_WALL_M - 0.005, frame.gap_m + HALF_WALL_M + 0.005)


def opening_lines(house: House, scenario: Scenario, opening: Opening) -> tuple[Line, ...]:
    """How an opening is drawn in one state of the house."""
    screened = opening.name in scenario.screened and opening.screen is not None
    return symbol_lines(opening, wall_gap_m(house, opening), scenario.shares[opening.name], screened)


@lru_cache(maxsize=4096)
def symbol_lines(opening: Opening, gap_m: float, share: float, screened: bool) -> tuple[Line, ...]:
    """The symbol of an opening."""
    frame = frame_of(opening, gap_m)
    if opening.is_horizontal:
        return tuple(_lying(opening, frame, share))
    lines = [*_jambs(opening, frame)]
    if opening.kind == "door":
        lines += _door(opening, frame, share)
    elif opening.kind == "window":
        lines += _window(opening, frame, share)
    elif opening.kind == "vent":
        lines += _vent(opening, frame)
    if screened:
        lines.append(_screen(opening, frame))
    return tuple(lines)


def _line(
    opening: Opening,
    part: str,
    *points: Point,
    width: float = 0.7,
    colour: str = "ink",
    dash: tuple[float, ...] = (),
) -> Line:
    return Line(f"{part} of {opening.name}", points, colour, "opening", width, dash)


def _faces(frame: Frame) -> tuple[float, float]:
    return -HALF_WALL_M, frame.gap_m + HALF_WALL_M


def _jambs(opening: Opening, frame: Frame) -> list[Line]:
    low, high = _faces(frame)
    return [
        _line(opening, "jamb", frame.at(u, low), frame.at(u, high), width=0.9, colour="wall")
        for u in (0.0, frame.width_m)
    ]


def _leaf(opening: Opening, frame: Frame, share: float, *, side: float, colour: str, width: float) -> list[Line]:
    """A leaf hinged at the frame's end, since the free part begins at its start, and the arc of its swing."""
    hinge_v = frame.gap_m + HALF_WALL_M if side > 0 else -HALF_WALL_M
    length = frame.width_m
    angle = math.asin(min(max(share, 0.0), 1.0))
    if angle <= 0.0:
        middle = frame.gap_m / 2.0
        return [_line(opening, "leaf", frame.at(0.0, middle), frame.at(length, middle), width=width, colour=colour)]

    def tip(a: float) -> Point:
        return frame.at(length - length * math.cos(a), hinge_v + side * length * math.sin(a))

    hinge = frame.at(length, hinge_v)
    arc = tuple(tip(angle * i / (ARC_POINTS - 1)) for i in range(ARC_POINTS))
    return [
        _line(opening, "leaf", hinge, tip(angle), width=width, colour=colour),
        _line(opening, "swing", *arc, width=0.4, colour="muted"),
    ]


def _panes(opening: Opening, frame: Frame, share: float, colour: str) -> list[Line]:
    """Sliding panes: one over the other beside the free part."""
    free = frame.width_m * min(share, 1.0)
    middle, width = frame.gap_m / 2.0, frame.width_m
    offsets = (0.0,) if free <= 0.0 else (-PANE_M, PANE_M)
    return [
        _line(opening, "pane", frame.at(free, middle + d), frame.at(width, middle + d), width=1.0, colour=colour)
        for d in offsets
    ]


def _door(opening: Opening, frame: Frame, share: float) -> list[Line]:
    if opening.sash in ("sliding door", "sliding", "pocket"):
        return _panes(opening, frame, share, "ink")
    if opening.sash == "none":
        return []
    return _leaf(opening, frame, share, side=-1.0, colour="ink", width=1.3)


def _window(opening: Opening, frame: Frame, share: float) -> list[Line]:
    low, high = _faces(frame)
    width = frame.width_m
    faces = [
        _line(opening, "face", frame.at(0.0, v), frame.at(width, v), width=0.6, colour="wall") for v in (low, high)
    ]
    if opening.sash == "side hinged":
        return faces + _leaf(opening, frame, share, side=1.0, colour="glass", width=1.0)
    if opening.free_along == "width":
        return faces + _panes(opening, frame, share, "glass")
    if share <= 0.0:
        return faces + _panes(opening, frame, 0.0, "glass")
    # A sash that slides up or tilts covers the whole width in plan, so it is drawn outside the wall.
    out = high + (0.05 if opening.sash in HINGED_OUT else PANE_M - HALF_WALL_M)
    frame_v = frame.gap_m / 2.0 - PANE_M
    return [
        *faces,
        _line(opening, "pane", frame.at(0.0, out), frame.at(width, out), width=1.0, colour="glass"),
        _line(
            opening, "frame", frame.at(0.0, frame_v), frame.at(width, frame_v), width=0.5, colour="glass", dash=DOTTED
        ),
    ]


def _vent(opening: Opening, frame: Frame) -> list[Line]:
    low, high = _faces(frame)
    count = max(2, round(frame.width_m / 0.06))
    step = frame.width_m / count
    ends = [(frame.at(i * step, low), frame.at((i + 1) * step, high)) for i in range(count)]
    return [_line(opening, "slat", a, b, width=0.4) for a, b in ends]


def _screen(opening: Opening, frame: Frame) -> Line:
    """On the side that the leaf leaves free: outside a door, inside a window."""
    low, high = _faces(frame)
    v = high + 0.045 if opening.kind == "door" else low - 0.045
    start, end = frame.at(0.0, v), frame.at(frame.width_m, v)
    return _line(opening, "screen", start, end, width=1.1, colour="glass", dash=DASHED)


def _lying(opening: Opening, frame: Frame, share: float) -> list[Line]:
    """A hole overhead or in the floor: its outline dashed with a diagonal, both where it is open."""
    half = opening.height_m / 2.0
    corners = frame.box(0.0, frame.width_m, -half, half)
    lines = [_line(opening, "outline", *corners, corners[0], width=0.7, dash=DASHED)]
    if share > 0.0:
        lines.append(_line(opening, "diagonal", corners[0], corners[2], width=0.4, dash=DASHED))
        lines.append(_line(opening, "diagonal", corners[1], corners[3], width=0.4, dash=DASHED))
    return lines


SAME_STOREY_M = 0.6
"""Floors closer than this are one storey, as ``ventplan.house.geometry.storeys`` has it [m]."""
CLOSES_M = 0.126
"""Half the widest gap between rooms that is drawn as wall, as ``ventplan.house.geometry.WALL_M`` has it [m]."""
TALL_M = 1.5
"""A room that reaches this far above a storey's floor is drawn on its plan too [m]."""


@dataclass(frozen=True)
class Storey:
    """One storey."""

    level_m: float  # height of its lowest floor above the ground [m]
    title: str  # its heading; empty where it is the only one
    rooms: tuple[str, ...]  # rooms whose floor is on it
    passing: tuple[str, ...]  # rooms from below that reach up through it
    openings: tuple[str, ...]  # openings drawn and noted on it

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
    from ventplan.house.units import show

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


@lru_cache(maxsize=256)
def within_walls(outlines: tuple[tuple[Point, ...], ...]) -> Any:
    """Rooms by their corners with half of the walls around them, as a ``shapely`` geometry [m]."""
    from shapely import unary_union

    return unary_union([polygon(corners) for corners in outlines]).buffer(HALF_WALL_M, join_style="mitre")


def ghost_of(house: House, below: Storey, storey: Storey) -> tuple[list[Area], list[Line]]:
    """The storey below where this one leaves it open to the sky, faintly: its floors and the outlines of its rooms."""
    from shapely import unary_union

    here = unary_union([polygon(house.rooms[name].corners).buffer(HALF_WALL_M) for name in storey.all_rooms])
    areas: list[Area] = []
    lines: list[Line] = []
    for name in below.rooms:
        left = polygon(house.rooms[name].corners).difference(here)
        for rings in rings_of(left):
            areas.append(Area(f"below: {name}", rings, "ghost", "below"))
            lines.append(Line(f"below: edge of {name}", rings[0], "muted", "below", 0.35, DOTTED))
    return areas, lines


def fixed_parts(
    house: House, scenario: Scenario, storey: Storey, tints: dict[str, str]
) -> tuple[list[Area], list[Line], Any]:
    """Floors, furniture, walls and openings of a storey.

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
        lines += opening_lines(house, scenario, opening)
    return areas, lines, walls


def _closed(room: Room) -> tuple[tuple[float, float], ...]:
    return (*room.corners, room.corners[0])
