"""What a plan is drawn from: areas, lines and notes in metres, each saying what it stands for, and smooth routes.

No plotting here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from ventplan.house.records import Opening, Point
from ventplan.show.paper import SETTINGS, light, new_figure, plotting

Rings = tuple[tuple[Point, ...], ...]
Layer = Literal["floor", "below", "stream", "jet", "wall", "opening", "fan"]
LAYERS: tuple[Layer, ...] = ("floor", "below", "stream", "jet", "wall", "opening", "fan")
"""From the lowest up."""
DASHED = (3.0, 2.0)
DOTTED = (1.0, 1.5)


@dataclass(frozen=True)
class Area:
    """A filled shape."""

    what: str  # what it stands for, such as ``jet of box fan``
    rings: Rings  # outline and holes in plan [m]
    colour: str  # name of a colour
    layer: Layer  # what it lies among
    opacity: float = 1.0  # 1 for solid [-]


@dataclass(frozen=True)
class Line:
    """A line with a width on paper."""

    what: str  # what it stands for
    points: tuple[Point, ...]  # in plan [m]
    colour: str  # name of a colour
    layer: Layer
    width_pt: float = 0.6  # width on paper [pt]
    dash: tuple[float, ...] = ()  # lengths of dash and gap in widths; empty for a whole line


@dataclass(frozen=True)
class Note:
    """Words that belong to a place on the plan."""

    what: str  # what they belong to, such as ``opening: hall door``
    lines: tuple[str, ...]  # the first one is a name
    at: Point  # where they belong [m]
    prefer: Point = (0.0, 0.0)  # unit vector from there to where they would best stand; (0, 0) for right there
    inside: Any = None  # a ``shapely`` polygon that they should stay in, or None
    quiet: bool = False  # True for words that matter little (a window that is shut)
    near: bool = False  # True for words that stand by their place in ``inside``, rather than anywhere in it


@dataclass(frozen=True)
class Panel:
    """The plan of one storey."""

    title: str  # its heading; empty for a house of one storey
    areas: tuple[Area, ...]
    lines: tuple[Line, ...]
    notes: tuple[Note, ...]
    walls: Any  # its walls as a ``shapely`` geometry, which notes keep off

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
    """An opening's own axes: u from its start to its end, v from the first room to the second."""

    # origin [m] and unit vectors
    start: Point
    u: Point
    v: Point
    width_m: float  # clear width [m]
    gap_m: float = 0.0  # thickness of wall left between the two rooms on the plan [m]

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


class Sheet:
    """A page in points, y upwards, with the few things that a plan needs."""

    def __init__(self, width_pt: float, height_pt: float) -> None:
        with plotting().rc_context(SETTINGS):
            self.figure = new_figure(width_pt, height_pt)
            self.figure.patch.set_facecolor(light("paper"))
            self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
            self.axes.set_xlim(0.0, width_pt)
            self.axes.set_ylim(0.0, height_pt)
            self.axes.set_axis_off()

    def area(self, rings: Sequence[Sequence[Point]], colour: str, order: float, opacity: float = 1.0) -> None:
        """Fill a shape with holes."""
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        vertices: list[Point] = []
        codes: list[int] = []
        for ring in rings:
            closed = [*ring, ring[0]] if ring[0] != ring[-1] else list(ring)
            vertices += closed
            codes += [int(Path.MOVETO), *[int(Path.LINETO)] * (len(closed) - 2), int(Path.CLOSEPOLY)]
        path = Path(vertices, codes)
        self.axes.add_patch(
            PathPatch(path, facecolor=light(colour), edgecolor="none", alpha=opacity, zorder=order, linewidth=0.0)
        )

    def line(
        self, points: Sequence[Point], colour: str, width: float, order: float, dash: tuple[float, ...] = ()
    ) -> None:
        """Draw a line."""
        from matplotlib.lines import Line2D

        style: Any = (0.0, dash) if dash else "-"
        xs, ys = zip(*points, strict=True)
        self.axes.add_line(
            Line2D(xs, ys, color=light(colour), linewidth=width, linestyle=style, zorder=order,
                   solid_capstyle="round", solid_joinstyle="round", dash_capstyle="butt")
        )  # fmt: skip

    def box(
        self,
        box: tuple[float, float, float, float],
        colour: str,
        order: float,
        opacity: float = 1.0,
        *,
        edge: float = 0.0,
        edge_colour: str = "muted",
        dash: tuple[float, ...] = (),
    ) -> None:
        """Fill a rectangle (left, low, right, high), with a line of a width around it if asked."""
        left, low, right, high = box
        corners = [(left, low), (right, low), (right, high), (left, high), (left, low)]
        self.area([corners], colour, order, opacity)
        if edge:
            self.line(corners, edge_colour, edge, order + 0.1, dash)

    def words(self, x: float, y: float, text: str, size: float, *, colour: str = "ink", bold: bool = False,
              align: str = "left", order: float = 50.0) -> None:  # fmt: skip
        """Write a line of text; y is its base line."""
        self.axes.text(
            x, y, text, fontsize=size, color=light(colour), fontweight="bold" if bold else "normal", ha=align,
            va="baseline", zorder=order, parse_math=False,
        )  # fmt: skip


def disc(x: float, y: float, radius: float) -> list[Point]:
    """Corners of a circle."""
    return [(x + radius * math.cos(0.1 * math.pi * i), y + radius * math.sin(0.1 * math.pi * i)) for i in range(21)]
