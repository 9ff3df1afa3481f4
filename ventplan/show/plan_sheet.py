"""A sheet in points for plans: areas, lines and words by the names of their colours."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from ventplan.house.records import Point
from ventplan.show.colours import light
from ventplan.show.paper import SETTINGS, new_figure, plotting


class Sheet:
    """A page in points, y upwards, with the few things that a plan needs.

    Parameters
    ----------
    width_pt, height_pt
        Its size [pt].
    """

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
