"""Doors, windows and holes as a plan draws them: door leaf and swing, window as three lines, screen dashed."""

from __future__ import annotations

import math

from ventplan.house.records import House, Opening, Point, Scenario
from ventplan.show.plan_shapes import DASHED, DOTTED, Area, Frame, Line, frame_of

HALF_WALL_M = 0.06
"""Half the thickness that a wall is drawn with [m]."""
PANE_M = 0.022
"""Distance of a pane from the middle of its frame [m]."""
ARC_POINTS = 17
HINGED_OUT = ("side hinged", "top hinged", "bottom hinged", "pivot", "louvre", "lid")


def wall_gap_m(house: House, opening: Opening) -> float:
    """Distance that the plan leaves between the two rooms at an opening [m]."""
    from shapely import Point as Spot

    from ventplan.house.geometry import WALL_M, room_polygon

    if opening.is_external or opening.is_horizontal:
        return 0.0
    x, y, _ = opening.centre
    gap = max(room_polygon(house, place).distance(Spot(x, y)) for place in opening.joins)
    return float(gap) if gap <= WALL_M + 0.05 else 0.0


def hole(frame: Frame) -> tuple[Point, ...]:
    """The part of the wall that an opening takes away, in plan [m]."""
    return frame.box(0.0, frame.width_m, -HALF_WALL_M - 0.005, frame.gap_m + HALF_WALL_M + 0.005)


def opening_lines(house: House, scenario: Scenario, opening: Opening) -> tuple[tuple[Area, ...], tuple[Line, ...]]:
    """How an opening is drawn in one state of the house.

    Parameters
    ----------
    house, scenario
        The house and its state.
    opening
        The opening.

    Returns
    -------
    tuple
        Areas and lines, in metres.
    """
    frame = frame_of(opening, wall_gap_m(house, opening))
    share = scenario.shares[opening.name]
    if opening.is_horizontal:
        return (), tuple(_lying(opening, frame, share))
    lines = [*_jambs(opening, frame)]
    if opening.kind == "door":
        lines += _door(opening, frame, share)
    elif opening.kind == "window":
        lines += _window(opening, frame, share)
    elif opening.kind == "vent":
        lines += _vent(opening, frame)
    if opening.name in scenario.screened and opening.screen is not None:
        lines.append(_screen(opening, frame))
    return (), tuple(lines)


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
    """Sliding panes: one over the other where the way is free."""
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
    # A sash that moves upwards or tilts covers its whole width in plan: drawn out of the wall, towards outdoors.
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
