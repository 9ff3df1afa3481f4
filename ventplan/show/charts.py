"""Charts of setbacks, scenarios, clearing and nights, from plain numbers in SI."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from ventplan.house.units import System, rounded, show, shown_number, shown_unit
from ventplan.show.paper import WORDS_PT, Chart, light, wrapped

if TYPE_CHECKING:
    from ventplan.airing.clearing import HouseClearing
    from ventplan.airing.night import Morning, Night, Run
    from ventplan.airing.weather import Weather
    from ventplan.house.units import System


@dataclass(frozen=True)
class Curve:
    """House flow against setback."""

    name: str  # what it is for, such as ``screens on``
    # the curve, both of shape (points,) [m], [m3/s]
    setback_m: Sequence[float]
    flow_m3_s: Sequence[float]
    # its best point [m], [m3/s]
    best_setback_m: float
    best_flow_m3_s: float
    # setbacks that keep 90 % of the best flow [m]
    good_from_m: float
    good_to_m: float
    # setbacks of a band around it [m], and its bounds there [m3/s], each of shape (setbacks,), or empty
    band_m: Sequence[float] = ()
    low_m3_s: Sequence[float] = ()
    high_m3_s: Sequence[float] = ()
    # bounds of the flow at the best setback [m3/s], or None
    best_low_m3_s: float | None = None
    best_high_m3_s: float | None = None


def curves_of(answer: Any, sure: Sequence[Any] = ()) -> tuple[Curve, ...]:
    """The curves of a `ventplan.advice.SetbackAnswer`, with the intervals of `ventplan.advice.setback.sure_setback`."""
    spans = {one.screens: one.flow for one in sure}
    bands = {one.screens: (one.setbacks_m, one.low_m3_s, one.high_m3_s) for one in sure}
    return tuple(
        Curve(
            name=f"screens {c.screens}",
            setback_m=c.setback_m,
            flow_m3_s=c.flow_m3_s,
            best_setback_m=c.best_setback_m,
            best_flow_m3_s=c.best_flow_m3_s,
            good_from_m=c.good_from_m,
            good_to_m=c.good_to_m,
            band_m=bands[c.screens][0] if c.screens in bands else (),
            low_m3_s=bands[c.screens][1] if c.screens in bands else (),
            high_m3_s=bands[c.screens][2] if c.screens in bands else (),
            best_low_m3_s=spans[c.screens].low if c.screens in spans else None,
            best_high_m3_s=spans[c.screens].high if c.screens in spans else None,
        )
        for c in answer.curves
    )


def shown_numbers(values: Iterable[Any], quantity: str, system: System) -> list[float]:
    """SI values in the unit that answers use."""
    return [shown_number(float(v), quantity, system) for v in values]


def whole(value: float, quantity: str, system: System) -> str:
    """A value with its unit, not to be broken between lines."""
    return show(value, quantity, system).replace(" ", "\u00a0")


def axis_words(words: str, quantity: str, system: System) -> str:
    """The words of an axis with their unit."""
    return f"{words}, {shown_unit(quantity, system)}"


def setback_chart(curves: Sequence[Curve], *, title: str, blades_m3_s: float, system: System = "si") -> Any:
    """House flow against setback, each curve with its best point and the range that gives at least 90 % of it.

    Parameters
    ----------
    curves
        One for each state of the screens.
    title
        What the chart says.
    blades_m3_s
        The fan's own flow, drawn as a level [m3/s].
    system
        Units of the axes.

    Returns
    -------
    matplotlib.figure.Figure
    """
    chart = Chart(
        title,
        axis_words("distance of the blades from the opening", "length", system),
        axis_words("Air through the opening", "flow", system),
    )
    for i, curve in enumerate(curves):
        xs, ys = shown_numbers(curve.setback_m, "length", system), shown_numbers(curve.flow_m3_s, "flow", system)
        if len(curve.band_m):
            band = shown_numbers(curve.band_m, "length", system)
            chart.band(
                band, shown_numbers(curve.low_m3_s, "flow", system), shown_numbers(curve.high_m3_s, "flow", system), i
            )
        best = f"best {whole(curve.best_flow_m3_s, 'flow', system)} at {whole(curve.best_setback_m, 'length', system)}"
        chart.line(xs, ys, f"{curve.name}: {best}", i)
    chart.level(shown_number(blades_m3_s, "flow", system), f"the fan's own flow, {whole(blades_m3_s, 'flow', system)}")
    highest = [v for c in curves for v in (*c.flow_m3_s, *c.high_m3_s, c.best_high_m3_s or 0.0)]
    top = max(shown_numbers((*highest, blades_m3_s), "flow", system))
    bottom = min(0.0, *(min(shown_numbers(c.flow_m3_s, "flow", system)) for c in curves))
    span = top - bottom
    chart.axes.set_ylim(bottom - 0.045 * span * (1.0 + len(curves)), top + 0.08 * span)
    for i, curve in enumerate(curves):
        x, y = (
            shown_numbers((curve.best_setback_m,), "length", system)[0],
            shown_numbers((curve.best_flow_m3_s,), "flow", system)[0],
        )
        if curve.best_low_m3_s is not None and curve.best_high_m3_s is not None:
            low, high = shown_numbers((curve.best_low_m3_s, curve.best_high_m3_s), "flow", system)
            chart.whisker(x, low, high, i)
        chart.point(x, y, i)
        ends = shown_numbers((curve.good_from_m, curve.good_to_m), "length", system)
        level = bottom - 0.045 * span * (i + 1.0)
        chart.line(ends, (level, level), "", i, width=4.0)
    chart.axes.annotate(
        "at least 90 %\nof the best",
        (
            max(shown_numbers([c.good_to_m for c in curves], "length", system)),
            bottom - 0.045 * span * (len(curves) + 1.0) / 2.0,
        ),
        xytext=(7.0, 0.0),
        textcoords="offset points",
        fontsize=WORDS_PT - 0.5,
        va="center",
        color=light("muted"),
        annotation_clip=False,
    )
    chart.axes.set_xlim(0.0, max(max(shown_numbers(c.setback_m, "length", system)) for c in curves))
    return chart.finish()


@dataclass(frozen=True)
class Bar:
    """One bar of a comparison."""

    name: str  # what it stands for
    value: float  # its length, in SI
    # bounds of its uncertainty, in SI, or None
    low: float | None = None
    high: float | None = None


def bar_chart(bars: Sequence[Bar], *, title: str, words: str, quantity: str = "flow", system: System = "si") -> Any:
    """Things side by side as bars from one zero, each with its figure."""
    rows = [wrapped(bar.name, WORDS_PT, 112.0) for bar in bars]
    height = 100.0 + sum(16.0 + 11.0 * len(row) for row in rows)
    chart = Chart(title, "", axis_words(words, quantity, system), height_pt=height, left_pt=132.0, names_pt=20.0)
    axes = chart.axes
    values = [shown_number(bar.value, quantity, system) for bar in bars]
    places = [-i for i in range(len(bars))]
    axes.barh(places, values, height=0.55, color=light("air"))
    for y, bar, value in zip(places, bars, values, strict=True):
        end = value
        if bar.low is not None and bar.high is not None:
            low, high = shown_numbers((bar.low, bar.high), quantity, system)
            axes.plot([low, high], [y, y], color=light("ink"), linewidth=1.4, marker="|", markersize=8.0)
            end = max(value, high)
        axes.annotate(show(bar.value, quantity, system), (end, y), xytext=(6.0, 0.0), textcoords="offset points",
                      fontsize=WORDS_PT, va="center", color=light("ink"), parse_math=False)  # fmt: skip
    axes.set_yticks(places, ["\n".join(row) for row in rows], fontsize=WORDS_PT, parse_math=False)
    axes.grid(False, axis="y")
    highs = [shown_number(bar.high, quantity, system) for bar in bars if bar.high is not None]
    axes.set_xlim(min(0.0, *values), 1.3 * max([*values, *highs, 1e-9]))
    axes.set_ylim(-len(bars) + 0.4, 0.6)
    return chart.finish()


def comparison_chart(comparison: Any, *, title: str, system: System = "si") -> Any:
    """Air from outdoors in each scenario of a `ventplan.advice.Comparison`, as bars."""
    from ventplan.advice.comparison import outdoor_air

    bars = [Bar(one.scenario, outdoor_air(one.flow)) for one in comparison.scenarios]
    return bar_chart(bars, title=title, words="Air from outdoors into the whole house", system=system)


MOST_NIGHTS = 14
"""More nights than this are drawn by their mornings."""
ONE_NIGHT_H, FEW_DAYS_H = 36.0, 84.0
"""Up to here a time axis counts the hours of the day, and up to here it has noons beside the days [h]."""
MOST_DAYS = 8
"""More days than this are not all named on an axis."""
NEAR_K = 2.5
"""Lines of temperatures that differ by less than this on average say so [K]."""
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
    xs = [float(t) / size for t in times_s]
    slowest = sorted(rooms, key=lambda name: -_area(times_s, rooms[name]))
    named = [n for i, n in enumerate(slowest[:MOST_LINES]) if i == 0 or max(rooms[n]) > limit]
    others = "" if len(named) == len(rooms) else ". Thin grey lines: other rooms"
    chart = Chart(title, f"time, {unit}", f"{words}{others}")
    for name in (n for n in slowest if n not in named):
        chart.axes.plot(xs, rooms[name], color=light("faint"), linewidth=1.0)
    for i, name in enumerate(named):
        chart.line(xs, rooms[name], name, i)
    chart.level(limit, f"clear below {rounded(limit, 2, 2)}")
    chart.axes.set_xlim(0.0, xs[-1])
    chart.axes.set_ylim(0.0, 1.06 * max(max(levels) for levels in rooms.values()))
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
    # One plan that takes the whole night would squeeze the others into a sliver.
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
            days, title=f"{title}: temperature of air and fabric together in the morning", system=system
        )
    return night_chart(
        plan.times_s,
        plan.outdoor_c,
        {run.name: run.settled_c for run in answer.runs},
        title=f"{title}: temperature of air and fabric together",
        start_hour=weather.begin.hour + weather.begin.minute / 60.0,
        first_day=weather.begin.date() if weather.dated else None,
        open_s=[(part.begin_s, part.end_s) for part in plan.plan if part.windows != "shut"],
        system=system,
    )


def _mornings_chart(days: Sequence[Morning], *, title: str, system: System) -> Any:
    """The house at every morning."""
    chart = Chart(title, "", f"Temperature, {shown_unit('temperature', system)}")
    xs = list(range(len(days)))
    lines = {"outdoors": [day.outdoor_c for day in days]}
    lines |= {name: [day.house_c[name] for day in days] for name in days[0].house_c}
    for i, (name, values) in enumerate(lines.items()):
        chart.line(xs, [shown_number(value, "temperature", system) for value in values], name, (i + 5) % 6)
    ticks = xs[:: -(-len(xs) // 6)]
    chart.axes.set_xticks(ticks, [days[i].when for i in ticks], fontsize=WORDS_PT - 2.0)
    chart.axes.set_xlim(0, xs[-1])
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
    others = ". Thin grey lines: other rooms" if len(lines_c) > MOST_LINES else ""
    chart = Chart(title, axis_words, f"Temperature, {shown_unit('temperature', system)}{others}")
    for begin, end in open_s:
        chart.axes.axvspan(
            start_hour + begin / 3600.0, start_hour + end / 3600.0, color=light("fresh 3"), alpha=0.5, linewidth=0.0
        )
    chart.line(hours, [shown_number(float(v), "temperature", system) for v in outdoor_c], "outdoors", 5)
    for values in list(lines_c.values())[MOST_LINES:]:
        degrees = [shown_number(float(v), "temperature", system) for v in values]
        chart.axes.plot(hours, degrees, color=light("faint"), linewidth=1.0)
    for i, (name, label) in enumerate(_with_differences(dict(list(lines_c.items())[:MOST_LINES]), system).items()):
        chart.line(hours, [shown_number(float(v), "temperature", system) for v in lines_c[name]], label, i % 5)
    chart.axes.set_xticks(list(ticks), list(ticks.values()))
    chart.axes.set_xlim(hours[0], hours[-1])
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
