"""What a plan is drawn from: areas, lines and notes in metres, each saying what it stands for. No plotting here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from ventplan.house.records import Opening, Point

Rings = tuple[tuple[Point, ...], ...]
Layer = Literal["floor", "below", "stream", "jet", "wall", "opening", "fan"]
LAYERS: tuple[Layer, ...] = ("floor", "below", "stream", "jet", "wall", "opening", "fan")
"""From the lowest up."""

DASHED = (3.0, 2.0)
DOTTED = (1.0, 1.5)


@dataclass(frozen=True)
class Area:
    """A filled shape.

    Attributes
    ----------
    what
        What it stands for, such as ``jet of box fan``.
    rings
        Outline and holes in plan [m].
    colour
        Name of a colour.
    opacity
        1 for solid [-].
    layer
        What it lies among.
    """

    what: str
    rings: Rings
    colour: str
    layer: Layer
    opacity: float = 1.0


@dataclass(frozen=True)
class Line:
    """A line with a width on paper.

    Attributes
    ----------
    what
        What it stands for.
    points
        In plan [m].
    colour
        Name of a colour.
    width_pt
        Width on paper [pt].
    dash
        Lengths of dash and gap in widths; empty for a whole line.
    """

    what: str
    points: tuple[Point, ...]
    colour: str
    layer: Layer
    width_pt: float = 0.6
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Note:
    """Words that belong to a place on the plan.

    Attributes
    ----------
    what
        What they belong to, such as ``opening: hall door``.
    lines
        The first one is a name.
    at
        Where they belong [m].
    prefer
        Unit vector from there to where they would best stand; (0, 0) for right there.
    inside
        A ``shapely`` polygon that they should stay in, or None.
    quiet
        True for words that matter little (a window that is shut).
    near
        True for words that stand by their place in ``inside``, rather than anywhere in it.
    """

    what: str
    lines: tuple[str, ...]
    at: Point
    prefer: Point = (0.0, 0.0)
    inside: Any = None
    quiet: bool = False
    near: bool = False


@dataclass(frozen=True)
class Panel:
    """The plan of one storey.

    Attributes
    ----------
    title
        Its heading; empty for a house of one storey.
    areas, lines, notes
        What is on it.
    walls
        Its walls as a ``shapely`` geometry, which notes keep off.
    """

    title: str
    areas: tuple[Area, ...]
    lines: tuple[Line, ...]
    notes: tuple[Note, ...]
    walls: Any

    def bounds(self) -> tuple[float, float, float, float]:
        """Lowest and highest x and y of what is drawn [m]: x, y, x, y."""
        points = [p for a in self.areas for r in a.rings for p in r] + [p for line in self.lines for p in line.points]
        return (
            min(p[0] for p in points),
            min(p[1] for p in points),
            max(p[0] for p in points),
            max(p[1] for p in points),
        )


@dataclass(frozen=True)
class Frame:
    """An opening's own axes: u from its start to its end, v from the first room to the second.

    Attributes
    ----------
    start, u, v
        Origin [m] and unit vectors.
    width_m
        Clear width [m].
    gap_m
        Thickness of wall left between the two rooms on the plan [m].
    """

    start: Point
    u: Point
    v: Point
    width_m: float
    gap_m: float = 0.0

    def at(self, along_m: float, through_m: float) -> Point:
        """A point of the plan [m]."""
        return (
            self.start[0] + self.u[0] * along_m + self.v[0] * through_m,
            self.start[1] + self.u[1] * along_m + self.v[1] * through_m,
        )

    def box(self, u0: float, u1: float, v0: float, v1: float) -> tuple[Point, ...]:
        """Corners of a rectangle in these axes [m]."""
        return self.at(u0, v0), self.at(u1, v0), self.at(u1, v1), self.at(u0, v1)


def frame_of(opening: Opening, gap_m: float = 0.0) -> Frame:
    """The axes of an opening; for one that lies flat, v runs across its middle line."""
    width = opening.width_m or 1.0
    u = ((opening.end[0] - opening.start[0]) / width, (opening.end[1] - opening.start[1]) / width)
    v = opening.normal if not opening.is_horizontal else (-u[1], u[0])
    return Frame(opening.start, u, v, opening.width_m, gap_m)


def rings_of(shape: Any) -> list[Rings]:
    """The rings of each polygon in a ``shapely`` geometry."""
    parts = getattr(shape, "geoms", [shape])
    return [
        tuple(tuple((float(x), float(y)) for x, y in ring.coords) for ring in (p.exterior, *p.interiors))
        for p in parts
        if p.geom_type == "Polygon" and not p.is_empty
    ]


def centre_of(points: tuple[Point, ...]) -> Point:
    """Mean of some points [m]."""
    return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)
