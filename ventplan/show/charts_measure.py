"""Charts of readings: against the prediction, and of what each measuring command fitted to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ventplan.house.units import System, shown_number
from ventplan.measure.rank import Ranking
from ventplan.measure.uncertainty import WIDE
from ventplan.show.charts import axis_words, shown_numbers, whole
from ventplan.show.paper import STYLES, WORDS_PT, Chart, light

if TYPE_CHECKING:
    from ventplan.house.units import System
    from ventplan.measure.anemometer import Calibration
    from ventplan.measure.jet import Profile, Walk
    from ventplan.measure.setback_series import BestSetback, SetbackSeries
    from ventplan.measure.uncertainty import Estimate
    from ventplan.measure.verification import Comparison, Verification


def series_chart(series: SetbackSeries, comparisons: Sequence[Comparison], *, system: System = "si") -> Any:
    """A setback series over the predicted band, with both best setbacks."""
    chart = Chart(
        f"{series.fan} at {series.target}: readings in {series.place} over the prediction",
        axis_words("setback of the fan", "length", system),
        axis_words("Speed, readings with 95 % bars, prediction with its 90 % band", "speed", system),
        names_pt=120.0,
    )
    xs = shown_numbers(series.setback_m, "length", system)
    low, middle, high = (
        shown_numbers(values, "speed", system) for values in (series.low_m_s, series.speed_m_s, series.high_m_s)
    )
    chart.band(xs, low, high, 0)
    chart.line(xs, middle, "predicted", 0)
    top = max(high)
    for number in series.numbers:
        one = comparisons[number]
        x = shown_numbers((one.setback_m,), "length", system)[0]
        bottom, y, end = shown_numbers((one.measured_low_m_s, one.measured_m_s, one.measured_high_m_s), "speed", system)
        chart.whisker(x, bottom, end, 1)
        if not one.below:
            chart.point(x, y, 1)
        top = max(top, end)
    chart.axes.set_ylim(-0.16 * top, 1.06 * top)
    for row, (best, style, name) in enumerate(
        ((series.predicted, 0, "best setback, predicted"), (series.measured, 1, "best setback, measured"))
    ):
        if best is not None:
            _range(chart, best, -0.05 * top * (row + 1.2), style, name, system)
    chart.axes.set_xlim(0.0, max(xs))
    return chart.finish()


def _range(chart: Chart, best: BestSetback, level: float, style: int, name: str, system: System) -> None:
    """A best setback as a thick bar with its middle, named at its end with numbers."""
    ends = shown_numbers((best.low_m, best.high_m), "length", system)
    said = f"{name}: {whole(best.low_m, 'length', system)} to {whole(best.high_m, 'length', system)}"
    chart.axes.plot(ends, (level, level), color=light(STYLES[style][0]), linewidth=4.0, solid_capstyle="butt")
    chart.line(ends, (level, level), said, style, width=0.0)
    chart.point(shown_numbers((best.setback_m,), "length", system)[0], level, style)


def readings_chart(comparisons: Sequence[Comparison], *, system: System = "si") -> Any:
    """Readings beside their predictions, one after another."""
    chart = Chart(
        "Readings beside the prediction",
        "reading, in the order of the file",
        axis_words("Speed, readings with 95 % bars, prediction with its 90 % interval", "speed", system),
    )
    top = 0.0
    for number, one in enumerate(comparisons, start=1):
        low, middle, high = shown_numbers((one.low_m_s, one.predicted_m_s, one.high_m_s), "speed", system)
        chart.band((number - 0.3, number + 0.3), (low, low), (high, high), 0)
        last = number == len(comparisons)
        chart.line((number - 0.3, number + 0.3), (middle, middle), "predicted" if last else "", 0)
        bottom, y, end = shown_numbers((one.measured_low_m_s, one.measured_m_s, one.measured_high_m_s), "speed", system)
        chart.whisker(number, bottom, end, 1)
        if not one.below:
            chart.point(number, y, 1)
        top = max(top, high, end)
    chart.axes.set_xlim(0.4, len(comparisons) + 0.6)
    chart.axes.set_xticks(range(1, len(comparisons) + 1))
    chart.axes.set_ylim(0.0, 1.06 * top)
    return chart.finish()


def verification_charts(result: Verification, *, system: System = "si") -> list[Any]:
    """One chart for each setback series, and one for the readings that belong to none."""
    in_series = {number for series in result.series for number in series.numbers}
    rest = [one for number, one in enumerate(result.comparisons) if number not in in_series]
    charts = [series_chart(series, result.comparisons, system=system) for series in result.series]
    return [*charts, *([readings_chart(rest, system=system)] if rest else [])]


def calibration_chart(
    line: Calibration, indicated: Sequence[float], reference_m_s: Sequence[float], *, system: System = "si"
) -> Any:
    """Pairs of an anemometer's calibration with the line through them."""
    is_speed = line.indication == "m/s"
    chart = Chart(
        "Calibration of the anemometer",
        axis_words("indicated", "speed", system) if is_speed else "indicated, pulses/s",
        axis_words("True speed, line with its 95 % band", "speed", system),
    )

    def across(values: Any) -> list[float]:
        return shown_numbers(values, "speed", system) if is_speed else [float(value) for value in values]

    shown = np.linspace(0.0, 1.05 * max(indicated), 60)
    middle, reach = line.intercept_m_s + line.slope * shown, line.expanded_at(shown)
    low, high = (shown_numbers(values, "speed", system) for values in (middle - reach, middle + reach))
    chart.band(across(shown), low, high, 0)
    chart.line(across(shown), shown_numbers(middle, "speed", system), "calibration line", 0)
    for x, y in zip(across(indicated), shown_numbers(reference_m_s, "speed", system), strict=True):
        chart.point(x, y, 1)
    start = shown_number(line.start_up_m_s, "speed", system)
    chart.level(start, f"start-up, {whole(line.start_up_m_s, 'speed', system)}")
    chart.axes.set_xlim(0.0, across(shown)[-1])
    chart.axes.set_ylim(0.0, 1.05 * max(high))
    return chart.finish()


def walk_chart(walk: Walk, distances_m: Sequence[float], speeds_m_s: Sequence[float], *, system: System = "si") -> Any:
    """A walk down the jet with the centre-line speed that was fitted to it."""
    chart = Chart(
        "Walk down the jet",
        axis_words("distance from the blades", "length", system),
        axis_words("Speed in the middle of the jet", "speed", system),
    )
    core = set(walk.core)
    start = max([distances_m[i] for i in core], default=0.0)
    places = np.linspace(max(start, 0.05), 1.1 * max(distances_m), 80)
    inverse = np.clip(walk.line.at(places), 1e-6, None)
    reach = 2.0 * walk.line.standard_at(places)
    xs = shown_numbers(places, "length", system)
    low, high = (
        shown_numbers(1.0 / np.clip(inverse + sign * reach, 1e-6, None), "speed", system) for sign in (1.0, -1.0)
    )
    chart.band(xs, low, high, 0)
    chart.line(xs, shown_numbers(1.0 / inverse, "speed", system), "fitted: 1/speed grows straight", 0)
    for i, (place, speed) in enumerate(zip(distances_m, speeds_m_s, strict=True)):
        x, y = shown_number(float(place), "length", system), shown_number(float(speed), "speed", system)
        chart.point(x, y, 2 if i in core else 1)
    if core:
        speed = float(np.mean([speeds_m_s[i] for i in core]))
        chart.line(
            (0.0, shown_numbers((start,), "length", system)[0]), [shown_number(speed, "speed", system)] * 2, "core", 2
        )
    chart.axes.set_xlim(0.0, xs[-1])
    chart.axes.set_ylim(0.0, 1.1 * shown_number(float(max(speeds_m_s)), "speed", system))
    return chart.finish()


def profile_chart(
    profile: Profile,
    offsets_m: Sequence[float],
    speeds_m_s: Sequence[float],
    *,
    distance_m: float,
    system: System = "si",
) -> Any:
    """A profile across the jet with the Gaussian that was fitted to it."""
    chart = Chart(
        f"Profile across the jet, {whole(distance_m, 'length', system)} from the blades",
        axis_words("offset from the tape's zero", "length", system),
        axis_words("Speed", "speed", system),
    )
    reach = 1.15 * max(abs(float(offset)) for offset in offsets_m)
    across = np.linspace(-reach, reach, 120)
    gauss = profile.centre_speed.value * np.exp(-(((across - profile.off_centre_m) / profile.half_width.value) ** 2))
    chart.line(shown_numbers(across, "length", system), shown_numbers(gauss, "speed", system), "fitted Gaussian", 0)
    left = profile.off_centre_m - profile.half_width.value
    width = shown_numbers((left, left + 2.0 * profile.half_width.value), "length", system)
    level = shown_number(profile.centre_speed.value / np.e, "speed", system)
    said = f"half-width {whole(profile.half_width.value, 'length', system)}, at 1/e of the highest"
    chart.line(width, (level, level), said, 2, width=1.2)
    for offset, speed in zip(offsets_m, speeds_m_s, strict=True):
        if np.isfinite(speed):
            chart.point(shown_number(float(offset), "length", system), shown_number(float(speed), "speed", system), 1)
    chart.axes.set_xlim(*shown_numbers((-reach, reach), "length", system))
    highest = max(profile.centre_speed.value, float(np.nanmax(np.asarray(speeds_m_s, dtype=float))))
    chart.axes.set_ylim(0.0, 1.1 * shown_number(highest, "speed", system))
    return chart.finish()


def thrusts_chart(thrusts: Mapping[str, Estimate], *, system: System = "si") -> Any:
    """Thrust of each setting with its 95 % interval."""
    chart = Chart("Thrust of each setting", "setting", axis_words("Thrust with its 95 % interval", "thrust", system))
    top = 0.0
    for place, estimate in enumerate(thrusts.values()):
        low, value, high = shown_numbers((estimate.interval[0], estimate.value, estimate.interval[1]), "thrust", system)
        chart.whisker(place, low, high, 0)
        chart.point(place, value, 0)
        top = max(top, high)
    chart.axes.set_xticks(range(len(thrusts)), [name or "highest" for name in thrusts])
    chart.axes.set_xlim(-0.6, len(thrusts) - 0.4)
    chart.axes.set_ylim(0.0, 1.1 * top)
    return chart.finish()


NAME_SPOTS = tuple(
    (aside, offset) for offset in (-3.0, -14.0, 9.0, -25.0, 20.0, -36.0, 31.0) for aside in (1.0, -1.0, 0.0)
)
"""Where the name of a point is tried: shift in half widths, and height of the base line above the point [pt]."""


@dataclass(frozen=True)
class ThrustPoint:
    """A fan with its thrust and the flow that it drives through the house."""

    name: str  # name of the fan
    # thrust [N] and house flow [m3/s]
    thrust_n: float
    flow_m3_s: float
    give_or_take_n: float = 0.0  # half the width of the thrust's 95 % interval [N]; 0 where it is not told


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
        axis_words("thrust, 95 %" if any(p.give_or_take_n for p in points) else "thrust", "thrust", system),
        axis_words("Air moved through the house", "flow", system),
    )
    strongest = max(max(1.15 * p.thrust_n, 1.05 * (p.thrust_n + p.give_or_take_n)) for p in points)
    thrusts = [strongest * i / 100.0 for i in range(101)]
    flows = [factor * t**0.5 for t in thrusts]
    xs = shown_numbers(thrusts, "thrust", system)
    chart.line(xs, shown_numbers(flows, "flow", system), "grows with the square root of thrust", 0)
    for point in points:
        x, y = shown_number(point.thrust_n, "thrust", system), shown_number(point.flow_m3_s, "flow", system)
        if point.give_or_take_n > 0.0:
            chart.line(shown_numbers(interval_n(point), "thrust", system), (y, y), "", 1, width=1.4)
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
        ends = [(end - x0) / (x1 - x0) * width for end in shown_numbers(interval_n(point), "thrust", system)]
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


def rank_chart(ranking: Ranking, system: System = "si") -> Any:
    """Driven flow over thrust, each fan with the 95 % interval of its thrust, and the curve Q = c sqrt(T)."""
    points = [
        ThrustPoint(fan.name, fan.thrust_n, fan.driven_m3_s, WIDE * fan.thrust_error * fan.thrust_n)
        for fan in ranking.fans
    ]
    return thrust_chart(points, factor=ranking.factor, title="What the fans drive through the window", system=system)
