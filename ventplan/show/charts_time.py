"""Charts of what happens in time: clearing a contaminant, a night. Plain numbers in SI go in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from ventplan.house.shown import rounded, shown_number, shown_unit
from ventplan.house.units import System
from ventplan.show.chart_axes import WORDS_PT, Chart
from ventplan.show.colours import light

MOST_LINES = 6
"""More rooms than this are drawn without a name of their own."""


def clearing_chart(
    times_s: Sequence[float], rooms: Mapping[str, Sequence[float]], *, limit: float, title: str, words: str
) -> Any:
    """What is left in the air of each room, over time, with the limit.

    Parameters
    ----------
    times_s
        Times [s], shape (t,).
    rooms
        Concentration in each room, shape (t,) each; up to six that pass the limit are named,
        the others are thin.
    limit
        Level to fall below, in the same unit.
    title
        What the chart says.
    words
        What the concentration is, with its unit.
    """
    longest = float(times_s[-1])
    hours = longest > 3.0 * 3600.0
    unit, size = ("h", 3600.0) if hours else ("min", 60.0)
    chart = Chart(title, f"time, {unit}", words)
    xs = [float(t) / size for t in times_s]
    slowest = sorted(rooms, key=lambda name: -_area(times_s, rooms[name]))
    named = [n for i, n in enumerate(slowest[:MOST_LINES]) if i == 0 or max(rooms[n]) > limit]
    for name in (n for n in slowest if n not in named):
        chart.axes.plot(xs, rooms[name], color=light("faint"), linewidth=1.0)
    for i, name in enumerate(named):
        chart.line(xs, rooms[name], name, i)
    chart.level(limit, f"clear below {rounded(limit, 2, 2)}")
    chart.axes.set_xlim(0.0, xs[-1])
    chart.axes.set_ylim(0.0, 1.06 * max(max(levels) for levels in rooms.values()))
    return chart.finish()


def _area(xs: Sequence[float], ys: Sequence[float]) -> float:
    return sum(0.5 * (y1 + y2) * (x2 - x1) for (x1, y1), (x2, y2) in pairwise(zip(xs, ys, strict=True)))


def night_chart(
    times_s: Sequence[float],
    outdoor_c: Sequence[float],
    lines_c: Mapping[str, Sequence[float]],
    *,
    title: str,
    start_hour: float = 0.0,
    open_s: Sequence[tuple[float, float]] = (),
    system: System = "si",
) -> Any:
    """Temperatures through a night, outdoors and indoors.

    Parameters
    ----------
    times_s
        Times [s], shape (t,).
    outdoor_c
        Outdoor temperature [°C], shape (t,).
    lines_c
        Temperatures by name (rooms, or plans) [°C], shape (t,) each; at most six.
    title
        What the chart says.
    start_hour
        Hour of the day of the first time [h].
    open_s
        When windows are open: from and to [s].
    system
        Units of the axis.
    """
    chart = Chart(title, "hour of the day", f"Temperature, {shown_unit('temperature', system)}")
    hours = [start_hour + float(t) / 3600.0 for t in times_s]
    for begin, end in open_s:
        chart.axes.axvspan(
            start_hour + begin / 3600.0, start_hour + end / 3600.0, color=light("fresh 3"), alpha=0.5, linewidth=0.0
        )
    chart.line(hours, [shown_number(float(v), "temperature", system) for v in outdoor_c], "outdoors", 5)
    for i, (name, values) in enumerate(lines_c.items()):
        chart.line(hours, [shown_number(float(v), "temperature", system) for v in values], name, i % 5)
    span = hours[-1] - hours[0]
    step = next(s for s in (1, 2, 3, 6, 12, 24, 48, 1e9) if span / s <= 10.0)
    first = -(-hours[0] // step) * step
    ticks = [first + step * i for i in range(int((hours[-1] - first) // step) + 1)]
    chart.axes.set_xticks(ticks, [f"{tick % 24.0:.0f}" for tick in ticks])
    chart.axes.set_xlim(hours[0], hours[-1])
    if open_s:
        chart.axes.annotate("shaded: windows open", (0.0, 0.0), xycoords="axes fraction", xytext=(4.0, 4.0),
                            textcoords="offset points", fontsize=WORDS_PT - 1.0, color=light("ink"))  # fmt: skip
    return chart.finish()
