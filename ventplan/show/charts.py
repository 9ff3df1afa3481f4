"""Charts of setbacks, comparisons and thrusts, from plain numbers in SI."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ventplan.house.units import System, show, shown_number, shown_unit
from ventplan.measure.rank import Ranking
from ventplan.measure.uncertainty import WIDE
from ventplan.show.colours import light
from ventplan.show.paper import WORDS_PT, Chart, wrapped

NAME_SPOTS = tuple(
    (aside, offset) for offset in (-3.0, -14.0, 9.0, -25.0, 20.0, -36.0, 31.0) for aside in (1.0, -1.0, 0.0)
)
"""Where the name of a point is tried: shift in half widths, and height of the base line above the point [pt]."""


@dataclass(frozen=True)
class Curve:
    """House flow against setback.

    Attributes
    ----------
    name
        What it is for, such as ``screens on``.
    setback_m, flow_m3_s
        The curve, both of shape (points,) [m], [m3/s].
    best_setback_m, best_flow_m3_s
        Its best point [m], [m3/s].
    good_from_m, good_to_m
        Setbacks that keep 90 % of the best flow [m].
    band_m, low_m3_s, high_m3_s
        Setbacks of a band around it [m], and its bounds there [m3/s], each of shape (setbacks,), or empty.
    best_low_m3_s, best_high_m3_s
        Bounds of the flow at the best setback [m3/s], or None.
    """

    name: str
    setback_m: Sequence[float]
    flow_m3_s: Sequence[float]
    best_setback_m: float
    best_flow_m3_s: float
    good_from_m: float
    good_to_m: float
    band_m: Sequence[float] = ()
    low_m3_s: Sequence[float] = ()
    high_m3_s: Sequence[float] = ()
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


def _in(values: Sequence[float], quantity: str, system: System) -> list[float]:
    return [shown_number(float(v), quantity, system) for v in values]


def whole(value: float, quantity: str, system: System) -> str:
    """A value with its unit, not to be broken between lines."""
    return show(value, quantity, system).replace(" ", "\u00a0")


def _unit_words(words: str, quantity: str, system: System) -> str:
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
        _unit_words("distance of the blades from the opening", "length", system),
        _unit_words("Air through the opening", "flow", system),
    )
    for i, curve in enumerate(curves):
        xs, ys = _in(curve.setback_m, "length", system), _in(curve.flow_m3_s, "flow", system)
        if len(curve.band_m):
            band = _in(curve.band_m, "length", system)
            chart.band(band, _in(curve.low_m3_s, "flow", system), _in(curve.high_m3_s, "flow", system), i)
        best = f"best {whole(curve.best_flow_m3_s, 'flow', system)} at {whole(curve.best_setback_m, 'length', system)}"
        chart.line(xs, ys, f"{curve.name}: {best}", i)
    chart.level(shown_number(blades_m3_s, "flow", system), f"the fan's own flow, {whole(blades_m3_s, 'flow', system)}")
    highest = [v for c in curves for v in (*c.flow_m3_s, *c.high_m3_s, c.best_high_m3_s or 0.0)]
    top = max(_in((*highest, blades_m3_s), "flow", system))
    bottom = min(0.0, *(min(_in(c.flow_m3_s, "flow", system)) for c in curves))
    span = top - bottom
    chart.axes.set_ylim(bottom - 0.045 * span * (1.0 + len(curves)), top + 0.08 * span)
    for i, curve in enumerate(curves):
        x, y = _in((curve.best_setback_m,), "length", system)[0], _in((curve.best_flow_m3_s,), "flow", system)[0]
        if curve.best_low_m3_s is not None and curve.best_high_m3_s is not None:
            low, high = _in((curve.best_low_m3_s, curve.best_high_m3_s), "flow", system)
            chart.whisker(x, low, high, i)
        chart.point(x, y, i)
        ends = _in((curve.good_from_m, curve.good_to_m), "length", system)
        level = bottom - 0.045 * span * (i + 1.0)
        chart.line(ends, (level, level), "", i, width=4.0)
    chart.axes.annotate(
        "at least 90 %\nof the best",
        (max(_in([c.good_to_m for c in curves], "length", system)), bottom - 0.045 * span * (len(curves) + 1.0) / 2.0),
        xytext=(7.0, 0.0),
        textcoords="offset points",
        fontsize=WORDS_PT - 0.5,
        va="center",
        color=light("muted"),
        annotation_clip=False,
    )
    chart.axes.set_xlim(0.0, max(max(_in(c.setback_m, "length", system)) for c in curves))
    return chart.finish()


@dataclass(frozen=True)
class Bar:
    """One bar of a comparison.

    Attributes
    ----------
    name
        What it stands for.
    value
        Its length, in SI.
    low, high
        Bounds of its uncertainty, in SI, or None.
    """

    name: str
    value: float
    low: float | None = None
    high: float | None = None


def bar_chart(bars: Sequence[Bar], *, title: str, words: str, quantity: str = "flow", system: System = "si") -> Any:
    """Things side by side as bars from one zero, each with its figure.

    Parameters
    ----------
    bars
        From the top down.
    title
        What the chart says.
    words
        What the bars show.
    quantity
        A quantity of ``ventplan.house.units``.
    system
        Units of the figures.
    """
    rows = [wrapped(bar.name, WORDS_PT, 112.0) for bar in bars]
    height = 100.0 + sum(16.0 + 11.0 * len(row) for row in rows)
    chart = Chart(title, "", _unit_words(words, quantity, system), height_pt=height, left_pt=132.0, names_pt=20.0)
    axes = chart.axes
    values = [shown_number(bar.value, quantity, system) for bar in bars]
    places = [-i for i in range(len(bars))]
    axes.barh(places, values, height=0.55, color=light("air"))
    for y, bar, value in zip(places, bars, values, strict=True):
        end = value
        if bar.low is not None and bar.high is not None:
            low, high = _in((bar.low, bar.high), quantity, system)
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


@dataclass(frozen=True)
class ThrustPoint:
    """A fan with its thrust and the flow that it drives through the house.

    Attributes
    ----------
    name
        Name of the fan.
    thrust_n, flow_m3_s
        Thrust [N] and house flow [m3/s].
    give_or_take_n
        Half the width of the thrust's 95 % interval [N]; 0 where it is not told.
    """

    name: str
    thrust_n: float
    flow_m3_s: float
    give_or_take_n: float = 0.0


def thrust_chart(points: Sequence[ThrustPoint], *, factor: float, title: str, system: System = "si") -> Any:
    """Thrust against house flow, with the curve Q = factor sqrt(T).

    Parameters
    ----------
    points
        The fans.
    factor
        Of the curve [m3/s over the root of N].
    title
        What the chart says.
    system
        Units of the axes.
    """
    chart = Chart(
        title,
        _unit_words("thrust, 95 %" if any(p.give_or_take_n for p in points) else "thrust", "thrust", system),
        _unit_words("Air moved through the house", "flow", system),
    )
    strongest = max(max(1.15 * p.thrust_n, 1.05 * (p.thrust_n + p.give_or_take_n)) for p in points)
    thrusts = [strongest * i / 100.0 for i in range(101)]
    flows = [factor * t**0.5 for t in thrusts]
    xs = _in(thrusts, "thrust", system)
    chart.line(xs, _in(flows, "flow", system), "grows with the square root of thrust", 0)
    for point in points:
        x, y = shown_number(point.thrust_n, "thrust", system), shown_number(point.flow_m3_s, "flow", system)
        if point.give_or_take_n > 0.0:
            chart.line(_in(interval_n(point), "thrust", system), (y, y), "", 1, width=1.4)
        chart.point(x, y, 1)
    chart.axes.set_xlim(0.0, xs[-1])
    top = max(*(p.flow_m3_s for p in points), flows[-1])
    chart.axes.set_ylim(0.0, 1.1 * shown_number(top, "flow", system))
    _name_points(chart, points, system)
    return chart.finish()


def interval_n(point: ThrustPoint) -> tuple[float, float]:
    """The ends of a thrust's interval [N]."""
    return point.thrust_n - point.give_or_take_n, point.thrust_n + point.give_or_take_n


def _name_points(chart: Chart, points: Sequence[ThrustPoint], system: System) -> None:
    """Names below their points, or above where another is in the way."""
    from ventplan.show.paper import text_size

    box = chart.axes.get_position()
    width = (box.x1 - box.x0) * chart.figure.get_figwidth() * 72.0
    height = (box.y1 - box.y0) * chart.height_pt
    (x0, x1), (y0, y1) = chart.axes.get_xlim(), chart.axes.get_ylim()
    line = chart.axes.get_lines()[0].get_xydata()
    curve = [((x - x0) / (x1 - x0) * width, (y - y0) / (y1 - y0) * height) for x, y in line]
    taken = [(x - 1.0, y - 1.0, x + 1.0, y + 1.0) for x, y in curve]
    for point in points:
        ends = [(end - x0) / (x1 - x0) * width for end in _in(interval_n(point), "thrust", system)]
        y = (shown_number(point.flow_m3_s, "flow", system) - y0) / (y1 - y0) * height
        taken.append((ends[0], y - 1.0, ends[1], y + 1.0))
    for point in sorted(points, key=lambda p: p.thrust_n):
        x = (shown_number(point.thrust_n, "thrust", system) - x0) / (x1 - x0) * width
        y = (shown_number(point.flow_m3_s, "flow", system) - y0) / (y1 - y0) * height
        wide = text_size(point.name, WORDS_PT)[0] / 2.0 + 2.0
        for aside, offset in NAME_SPOTS:
            middle = x + aside * (wide + 6.0)
            spot = (middle - wide, y + offset - 1.0, middle + wide, y + offset + WORDS_PT + 1.0)
            if not any(spot[0] < t[2] and t[0] < spot[2] and spot[1] < t[3] and t[1] < spot[3] for t in taken):
                break
        taken.append(spot)
        page = chart.figure.get_figwidth() * 72.0
        chart.write(box.x0 + middle / page, box.y0 + (y + offset) / chart.height_pt, point.name, align="center")


if TYPE_CHECKING:
    from ventplan.house.units import System


def rank_chart(ranking: Ranking, system: System = "si") -> Any:
    """Driven flow over thrust, each fan with the 95 % interval of its thrust, and the curve Q = c sqrt(T).

    Parameters
    ----------
    ranking
        The fans.
    system
        Units of the axes.
    """
    points = [
        ThrustPoint(fan.name, fan.thrust_n, fan.driven_m3_s, WIDE * fan.thrust_error * fan.thrust_n)
        for fan in ranking.fans
    ]
    return thrust_chart(points, factor=ranking.factor, title="What the fans drive through the window", system=system)
