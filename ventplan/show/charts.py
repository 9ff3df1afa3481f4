"""Charts of setbacks, scenarios, clearing and nights, from plain numbers in SI."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from ventplan.house.units import System, rounded, show
from ventplan.show.paper import WORDS_PT, Chart, light, wrapped
from ventplan.show.tables import show_setback

if TYPE_CHECKING:
    from ventplan.advice.setback import SetbackAnswer, SetbackSureness
    from ventplan.airing.clearing import HouseClearing
    from ventplan.airing.night import Morning, Night
    from ventplan.airing.policy import Run
    from ventplan.airing.weather import Weather
    from ventplan.house.units import System


MOST_LINES = 6
"""More rooms than this are drawn without a name of their own."""


def whole(value: float, quantity: str, system: System) -> str:
    """A value with its unit, not to be broken between lines."""
    return show(value, quantity, system).replace(" ", "\u00a0")


def setback_chart(
    answer: SetbackAnswer, sure: Sequence[SetbackSureness] = (), *, title: str = "", system: System = "si"
) -> Any:
    """House flow against setback: each curve with its best point and the range that gives at least 90 % of it.

    Parameters
    ----------
    answer
        The curves.
    sure
        Their 90 % intervals, drawn as bands, and as a bar at the best setback.
    title
        What the chart says; fan and opening if left out.
    system
        Units of the axes.

    Returns
    -------
    matplotlib.figure.Figure
    """
    title = title or f"How far the {answer.fan} stands from the {answer.opening}"
    shaded = " (shaded: 90 % interval)" if sure else ""
    chart = Chart(title, "distance of the blades from the opening", f"Air through the opening{shaded}",
                  x="length", y="flow", system=system)  # fmt: skip
    intervals = {one.screens: one for one in sure}
    for i, curve in enumerate(answer.curves):
        found = intervals.get(curve.screens)
        if found:
            chart.band(found.setbacks_m, found.low_m3_s, found.high_m3_s, i)
        setback = show_setback(curve.best_setback_m, system).replace(" ", "\u00a0")
        best = f"best {whole(curve.best_flow_m3_s, 'flow', system)} at {setback}"
        chart.line(curve.setback_m, curve.flow_m3_s, f"screens {curve.screens}: {best}", i)
    chart.level(answer.blades_m3_s, f"the fan's own flow, {whole(answer.blades_m3_s, 'flow', system)}")
    flows = [flow for curve in answer.curves for flow in curve.flow_m3_s]
    flows += [flow for one in sure for flow in (*one.high_m3_s, one.flow.high)]
    bottom, top = min(0.0, *flows), max(answer.blades_m3_s, *flows)
    step = 0.045 * (top - bottom)
    for i, curve in enumerate(answer.curves):
        if found := intervals.get(curve.screens):
            chart.whisker(curve.best_setback_m, found.flow.low, found.flow.high, i)
        chart.point(curve.best_setback_m, curve.best_flow_m3_s, i)
        chart.bar((curve.good_from_m, curve.good_to_m), bottom - step * (i + 1.0), i)
    count = len(answer.curves)
    farthest = max(curve.good_to_m for curve in answer.curves)
    chart.remark(farthest, bottom - step * (count + 1.0) / 2.0, "at least 90 %\nof the best", quiet=True)
    longest = max(curve.setback_m[-1] for curve in answer.curves)
    chart.limits(x=(0.0, longest), y=(bottom - step * (1.0 + count), top + 1.8 * step))
    return chart.finish()


def bar_chart(
    bars: Mapping[str, float], *, title: str, words: str, quantity: str = "flow", system: System = "si"
) -> Any:
    """Values in SI side by side as bars from one zero, from the top down, each with its figure."""
    rows = [wrapped(name, WORDS_PT, 112.0) for name in bars]
    height = 100.0 + sum(16.0 + 11.0 * len(row) for row in rows)
    chart = Chart(title, words, "", x=quantity, system=system, height_pt=height, left_pt=132.0, names_pt=20.0)
    places = [-i for i in range(len(bars))]
    chart.axes.barh(places, chart.xs(bars.values()), height=0.55, color=light("air"))
    for y, value in zip(places, bars.values(), strict=True):
        chart.remark(value, y, show(value, quantity, system))
    chart.axes.set_yticks(places, ["\n".join(row) for row in rows], fontsize=WORDS_PT, parse_math=False)
    chart.axes.grid(False, axis="y")
    chart.limits(x=(min(0.0, *bars.values()), 1.3 * max(*bars.values(), 1e-9)), y=(0.4 - len(bars), 0.6))
    return chart.finish()


def comparison_chart(comparison: Any, *, title: str, system: System = "si") -> Any:
    """Air from outdoors in each scenario of a `ventplan.advice.Comparison`, as bars."""
    from ventplan.advice.comparison import outdoor_air

    bars = {one.scenario: outdoor_air(one.flow) for one in comparison.scenarios}
    return bar_chart(bars, title=title, words="Air from outdoors into the whole house", system=system)


MOST_NIGHTS = 14
"""More nights than this are drawn by their mornings."""
ONE_NIGHT_H, FEW_DAYS_H = 36.0, 84.0
"""Up to here a time axis counts the hours of the day, and up to here it has noons beside the days [h]."""
MOST_DAYS = 8
"""More days than this are not all named on an axis."""
NEAR_K = 2.5
"""Lines of temperatures that differ by less than this on average say so [K]."""


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
    xs = [float(t) / size for t in times_s]
    slowest = sorted(rooms, key=lambda name: -_area(times_s, rooms[name]))
    named = [n for i, n in enumerate(slowest[:MOST_LINES]) if i == 0 or max(rooms[n]) > limit]
    others = "" if len(named) == len(rooms) else ". Thin grey lines: other rooms"
    chart = Chart(title, f"time, {unit}", f"{words}{others}")
    for name in (n for n in slowest if n not in named):
        chart.faint_line(xs, rooms[name])
    for i, name in enumerate(named):
        chart.line(xs, rooms[name], name, i)
    chart.level(limit, f"clear below {rounded(limit, 2, 2)}")
    chart.limits(x=(0.0, xs[-1]), y=(0.0, 1.06 * max(max(levels) for levels in rooms.values())))
    return chart.finish()


def clearings_chart(
    answers: Sequence[HouseClearing], *, rooms: Sequence[str], limit: float, title: str, words: str
) -> Any:
    """How a house clears: every room in one plan, or the room that it begins in for each of several plans.

    Parameters
    ----------
    answers
        From `ventplan.airing.clearing.clear_house`.
    rooms
        Where it is at the start; the first one is drawn where there are several plans.
    limit
        Level to fall below, in the unit of the concentrations.
    title
        What the chart says.
    words
        What the concentration is, with its unit.
    """
    import numpy as np

    ends = [one.clearing.clear_s for one in answers if math.isfinite(one.clearing.clear_s)]
    longest = max(one.clearing.times_s[-1] for one in answers)
    # A plan that takes all night would leave the curves of the others no room.
    until = min(1.1 * max(ends), 4.0 * float(np.median(ends))) if ends else 86400.0
    times = np.linspace(0.0, min(until, longest), 241)
    lines: dict[str, Sequence[float]] = {}
    for one in answers:
        for room, levels in zip(one.clearing.rooms, zip(*one.clearing.concentrations, strict=True), strict=True):
            if len(answers) == 1 or room == rooms[0]:
                name = room if len(answers) == 1 else one.scenario
                lines[name] = np.interp(times, one.clearing.times_s, levels).tolist()
    return clearing_chart(times.tolist(), lines, limit=limit, title=title, words=words)


def _area(xs: Sequence[float], ys: Sequence[float]) -> float:
    return sum(0.5 * (y1 + y2) * (x2 - x1) for (x1, y1), (x2, y2) in pairwise(zip(xs, ys, strict=True)))


def ways_chart(
    answer: Night, days: Sequence[Morning], weather: Weather, plan: Run, *, title: str, system: System = "si"
) -> Any:
    """Mean temperature of the air and walls of a house, weighted by the heat that they hold, on every way through the
    weather, shaded while a plan's windows are open; of a long weather, the mornings.
    """
    if len(days) > MOST_NIGHTS:
        return _mornings_chart(
            days, title=f"{title}: temperature of air and walls together in the morning", system=system
        )
    return night_chart(
        plan.times_s,
        plan.outdoor_c,
        {run.name: run.settled_c for run in answer.runs},
        title=f"{title}: temperature of air and walls together",
        start_hour=weather.begin.hour + weather.begin.minute / 60.0,
        first_day=weather.begin.date() if weather.dated else None,
        open_s=[(part.begin_s, part.end_s) for part in plan.plan if part.windows != "shut"],
        system=system,
    )


def _mornings_chart(days: Sequence[Morning], *, title: str, system: System) -> Any:
    """The house at every morning."""
    chart = Chart(title, "", "Temperature", y="temperature", system=system)
    xs = list(range(len(days)))
    lines = {"outdoors": [day.outdoor_c for day in days]}
    lines |= {name: [day.house_c[name] for day in days] for name in days[0].house_c}
    for i, (name, values) in enumerate(lines.items()):
        chart.line(xs, values, name, (i + 5) % 6)
    ticks = xs[:: -(-len(xs) // 6)]
    chart.axes.set_xticks(ticks, [days[i].when for i in ticks], fontsize=WORDS_PT - 2.0)
    chart.limits(x=(0.0, xs[-1]))
    return chart.finish()


def night_chart(
    times_s: Sequence[float],
    outdoor_c: Sequence[float],
    lines_c: Mapping[str, Sequence[float]],
    *,
    title: str,
    start_hour: float = 0.0,
    first_day: datetime.date | None = None,
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
        Temperatures by name (rooms, or plans) [°C], shape (t,) each; up to six are named, the others are thin.
    title
        What the chart says.
    start_hour
        Hour of the day of the first time [h].
    first_day
        Its date, or None where that is not known.
    open_s
        When windows are open: from and to [s].
    system
        Units of the axis.

    Returns
    -------
    matplotlib.figure.Figure
        For `ventplan.show.paper.save`.

    Examples
    --------
    A `ventplan.airing.night.Run`, of the ``runs`` of a `ventplan.airing.night.Night`, has what it takes::

        night_chart(
            run.times_s, run.outdoor_c, run.rooms_c, title="A night", start_hour=19.0,
            open_s=[(part.begin_s, part.end_s) for part in run.plan if part.windows != "shut"],
        )
    """
    hours = [start_hour + float(t) / 3600.0 for t in times_s]
    ticks, axis_words = day_ticks(hours[0], hours[-1], first_day)
    others = " (thin grey lines: other rooms)" if len(lines_c) > MOST_LINES else ""
    chart = Chart(title, axis_words, f"Temperature{others}", y="temperature", system=system)
    for begin, end in open_s:
        chart.axes.axvspan(
            start_hour + begin / 3600.0, start_hour + end / 3600.0, color=light("fresh 3"), alpha=0.5, linewidth=0.0
        )
    chart.line(hours, outdoor_c, "outdoors", 5)
    for values in list(lines_c.values())[MOST_LINES:]:
        chart.faint_line(hours, values)
    for i, (name, label) in enumerate(_with_differences(dict(list(lines_c.items())[:MOST_LINES]), system).items()):
        chart.line(hours, lines_c[name], label, i % 5)
    chart.axes.set_xticks(list(ticks), list(ticks.values()))
    chart.limits(x=(hours[0], hours[-1]))
    if open_s:
        chart.axes.annotate("shaded: windows open", (0.0, 0.0), xycoords="axes fraction", xytext=(4.0, 4.0),
                            textcoords="offset points", fontsize=WORDS_PT - 1.0, color=light("ink"))  # fmt: skip
    return chart.finish()


def _with_differences(lines_c: Mapping[str, Sequence[float]], system: System) -> dict[str, str]:
    """Labels of lines; one that runs close to the line before it also says by how much they differ."""
    labels: dict[str, str] = {}
    before = ""
    for name, values in lines_c.items():
        labels[name] = name
        if before:
            apart = [float(b) - float(a) for a, b in zip(lines_c[before], values, strict=True)]
            mean = sum(apart) / len(apart)
            if max(map(abs, apart)) > 0.0 and abs(mean) < NEAR_K:
                size = show(abs(mean), "temperature difference", system)
                labels[name] = f"{name} ({size} {'warmer' if mean > 0.0 else 'cooler'} than {before}, on average)"
        before = name
    return labels


def day_ticks(begin_h: float, end_h: float, first_day: datetime.date | None) -> tuple[dict[float, str], str]:
    """Ticks of a time axis with their words, and the words below it: hours in one night, days in a longer weather.

    Parameters
    ----------
    begin_h, end_h
        First and last time since the midnight that the first day begins with [h].
    first_day
        Its date, or None where that is not known; days are then counted.
    """
    span = end_h - begin_h
    one_night = span <= ONE_NIGHT_H
    if one_night:
        step = next(s for s in (1, 2, 3, 6) if span / s <= 10.0)
    else:
        step = 12 if span <= FEW_DAYS_H else 24 * math.ceil(span / 24.0 / MOST_DAYS)

    def words(hour: float) -> str:
        if one_night or hour % 24.0:
            return f"{hour % 24.0:.0f}"
        days = round(hour / 24.0)
        return f"{first_day + datetime.timedelta(days):%a %d}" if first_day else f"day {days + 1}"

    first = math.ceil(begin_h / step)
    ticks = {float(n * step): words(float(n * step)) for n in range(first, math.floor(end_h / step) + 1)}
    since = f", from {first_day:%a %d %b}" if first_day else ""
    if one_night:
        return ticks, f"hour of the day{since}"
    return ticks, f"days, named at the midnight that begins them{since}"
