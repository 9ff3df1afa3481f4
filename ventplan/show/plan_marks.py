"""Where air comes from another level of the house, or goes to one."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

from ventplan.house.records import House, Point
from ventplan.show.plan_air import Stream
from ventplan.show.plan_shapes import Area

LEVEL_MARK_M = 0.2
"""Radius of a mark on the plan [m]."""


@dataclass(frozen=True)
class Mark:
    """Where air comes from or goes to another level.

    Attributes
    ----------
    at
        Its place [m].
    away
        True where the air leaves this storey.
    opening
        The opening in floor or roof; empty for the height of a tall room.
    flow_m3_s
        Volume flow [m3/s].
    room
        The room that it is in.
    """

    at: Point
    away: bool
    opening: str
    flow_m3_s: float
    room: str


def vertical_marks(house: House, streams: tuple[Stream, ...]) -> tuple[Mark, ...]:
    """Where air comes from or goes to another level, each place and direction once."""
    found: dict[tuple[str, str, bool], list[tuple[Point, float]]] = {}
    for stream in streams:
        for name, point, away in ((stream.start, stream.points[0], False), (stream.end, stream.points[-1], True)):
            if name == "" or (name in house.openings and house.openings[name].is_horizontal):
                found.setdefault((name, stream.place, away), []).append((point, stream.flow_m3_s))
    marks = []
    for (name, room, away), ends in found.items():
        count = len(ends)
        middle = (sum(p[0] for p, _ in ends) / count, sum(p[1] for p, _ in ends) / count)
        at = house.openings[name].centre[:2] if name else middle
        marks.append(Mark(at, away, name, sum(q for _, q in ends), room))
    return tuple(marks)


def mark_areas(mark: Mark) -> list[Area]:
    """Air to or from another level, as the tail or the tip of an arrow seen from its end."""
    at, away, name = mark.at, mark.away, mark.opening

    def disc(radius: float) -> tuple[tuple[float, float], ...]:
        return tuple((at[0] + radius * cos(0.1 * pi * i), at[1] + radius * sin(0.1 * pi * i)) for i in range(21))

    def bar(angle: float) -> tuple[tuple[float, float], ...]:
        dx, dy = cos(angle), sin(angle)
        ends = ((0.15, 0.025), (0.15, -0.025), (-0.15, -0.025), (-0.15, 0.025))
        return tuple((at[0] + dx * a - dy * b, at[1] + dy * a + dx * b) for a, b in ends)

    what = f"arrow of air on its way {'to' if away else 'from'} {name or 'another floor'}"
    areas = [Area(what, (disc(LEVEL_MARK_M),), "air", "stream"), Area(what, (disc(0.165),), "paper", "stream")]
    if away:
        return [*areas, Area(what, (bar(pi / 4),), "air", "stream"), Area(what, (bar(-pi / 4),), "air", "stream")]
    return [*areas, Area(what, (disc(0.06),), "air", "stream")]
