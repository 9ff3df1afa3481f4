"""Charts of readings: against the prediction, and of what each measuring command fitted to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from ventplan.house.units import System
from ventplan.measure.rank import RankedFan, Ranking
from ventplan.measure.uncertainty import WIDE
from ventplan.show.charts import whole
from ventplan.show.paper import WORDS_PT, Chart, text_size

if TYPE_CHECKING:
    from ventplan.measure.anemometer import Calibration
    from ventplan.measure.jet import Profile, Walk
    from ventplan.measure.setback_series import BestSetback, SetbackSeries
    from ventplan.measure.uncertainty import Estimate
    from ventplan.measure.verification import Comparison, Verification


def series_chart(series: SetbackSeries, comparisons: Sequence[Comparison], *, system: System = "si") -> Any:
    """A setback series over the predicted band, with both best setbacks; `comparisons` are all of a verification."""
    chart = Chart(
        f"{series.fan} at {series.target}: readings in {series.place} over the prediction",
        "setback of the fan",
        "Speed: readings with 95 % bars, prediction with its 90 % band",
        x="length",
        y="speed",
        system=system,
        names_pt=120.0,
    )
    chart.band(series.setback_m, series.low_m_s, series.high_m_s, 0)
    chart.line(series.setback_m, series.speed_m_s, "predicted", 0)
    readings = [comparisons[number] for number in series.numbers]
    for one in readings:
        _reading(chart, one.setback_m or 0.0, one)
    top = max(*series.high_m_s, *(one.measured_high_m_s for one in readings))
    chart.limits(x=(0.0, max(series.setback_m)), y=(-0.16 * top, 1.06 * top))
    for row, (best, style, name) in enumerate(
        ((series.predicted, 0, "best setback, predicted"), (series.measured, 1, "best setback, measured"))
    ):
        if best is not None:
            _range(chart, best, -0.05 * top * (row + 1.2), style, name, system)
    return chart.finish()


def _reading(chart: Chart, x: float, one: Comparison) -> None:
    """A reading with its interval; one below what the instrument shows has no point."""
    chart.whisker(x, one.measured_low_m_s, one.measured_high_m_s, 1)
    if not one.below:
        chart.point(x, one.measured_m_s, 1)


def _range(chart: Chart, best: BestSetback, level: float, style: int, name: str, system: System) -> None:
    """A best setback as a thick bar with its middle, named at its end with numbers."""
    ends = (best.low_m, best.high_m)
    said = f"{name}: {whole(best.low_m, 'length', system)} to {whole(best.high_m, 'length', system)}"
    chart.bar(ends, level, style)
    chart.line(ends, (level, level), said, style, width=0.0)
    chart.point(best.setback_m, level, style)


def readings_chart(comparisons: Sequence[Comparison], *, system: System = "si") -> Any:
    """Readings beside their predictions, one after another."""
    chart = Chart(
        "Readings beside the prediction",
        "reading, in the order of the file",
        "Speed: readings with 95 % bars, prediction with its 90 % interval",
        y="speed",
        system=system,
    )
    for number, one in enumerate(comparisons, start=1):
        ends = (number - 0.3, number + 0.3)
        chart.band(ends, [one.low_m_s] * 2, [one.high_m_s] * 2, 0)
        chart.line(ends, [one.predicted_m_s] * 2, "predicted" if number == len(comparisons) else "", 0)
        _reading(chart, number, one)
    top = max(max(one.high_m_s, one.measured_high_m_s) for one in comparisons)
    chart.axes.set_xticks(range(1, len(comparisons) + 1))
    chart.limits(x=(0.4, len(comparisons) + 0.6), y=(0.0, 1.06 * top))
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
    """Pairs of an anemometer's calibration (indicated, reference) with the line through them."""
    is_speed = line.indication == "m/s"
    chart = Chart(
        "Calibration of the anemometer",
        "indicated" if is_speed else "indicated, pulses/s",
        "True speed, line with its 95 % band",
        x="speed" if is_speed else "",
        y="speed",
        system=system,
    )
    shown = np.linspace(0.0, 1.05 * max(indicated), 60)
    middle, reach = line.intercept_m_s + line.slope * shown, line.expanded_at(shown)
    chart.band(shown, middle - reach, middle + reach, 0)
    chart.line(shown, middle, "calibration line", 0)
    for x, y in zip(indicated, reference_m_s, strict=True):
        chart.point(x, y, 1)
    chart.level(line.start_up_m_s, f"start-up, {whole(line.start_up_m_s, 'speed', system)}")
    chart.limits(x=(0.0, shown[-1]), y=(0.0, 1.05 * max(middle + reach)))
    return chart.finish()


def walk_chart(walk: Walk, distances_m: Sequence[float], speeds_m_s: Sequence[float], *, system: System = "si") -> Any:
    """Readings down the jet with the centre-line speed that was fitted to them; those in the core in another style."""
    chart = Chart("Walk down the jet", "distance from the blades", "Speed in the middle of the jet",
                  x="length", y="speed", system=system)  # fmt: skip
    core = set(walk.core)
    start = max([distances_m[i] for i in core], default=0.0)
    places = np.linspace(max(start, 0.05), 1.1 * max(distances_m), 80)
    inverse = walk.line.at(places)
    reach = 2.0 * walk.line.standard_at(places)
    low, middle, high = (1.0 / np.clip(inverse + sign * reach, 1e-6, None) for sign in (1.0, 0.0, -1.0))
    chart.band(places, low, high, 0)
    chart.line(places, middle, "fitted: 1/speed rises in a straight line", 0)
    for i, (place, speed) in enumerate(zip(distances_m, speeds_m_s, strict=True)):
        chart.point(place, speed, 2 if i in core else 1)
    if core:
        chart.line((0.0, start), [np.mean([speeds_m_s[i] for i in core])] * 2, "core", 2)
    chart.limits(x=(0.0, places[-1]), y=(0.0, 1.1 * max(speeds_m_s)))
    return chart.finish()


def profile_chart(
    profile: Profile,
    offsets_m: Sequence[float],
    speeds_m_s: Sequence[float],
    *,
    distance_m: float,
    system: System = "si",
) -> Any:
    """A profile across the jet at a distance from the blades [m] with the Gaussian that was fitted to it.

    Speeds are nan where the vane did not turn.
    """
    title = f"Profile across the jet, {whole(distance_m, 'length', system)} from the blades"
    chart = Chart(title, "offset from the tape's zero", "Speed", x="length", y="speed", system=system)
    reach = 1.15 * max(abs(float(offset)) for offset in offsets_m)
    across = np.linspace(-reach, reach, 120)
    gauss = profile.centre_speed.value * np.exp(-(((across - profile.off_centre_m) / profile.half_width.value) ** 2))
    chart.line(across, gauss, "fitted Gaussian", 0)
    left = profile.off_centre_m - profile.half_width.value
    said = f"half-width {whole(profile.half_width.value, 'length', system)}, at 1/e of the highest"
    ends, level = (left, left + 2.0 * profile.half_width.value), profile.centre_speed.value / np.e
    chart.line(ends, (level, level), said, 2, width=1.2)
    for offset, speed in zip(offsets_m, speeds_m_s, strict=True):
        if np.isfinite(speed):
            chart.point(offset, speed, 1)
    highest = max(profile.centre_speed.value, float(np.nanmax(np.asarray(speeds_m_s, dtype=float))))
    chart.limits(x=(-reach, reach), y=(0.0, 1.1 * highest))
    return chart.finish()


def thrusts_chart(thrusts: Mapping[str, Estimate], *, system: System = "si") -> Any:
    """Thrust by setting (empty for the highest) with its 95 % interval."""
    chart = Chart("Thrust of each setting", "setting", "Thrust with its 95 % interval", y="thrust", system=system)
    for place, estimate in enumerate(thrusts.values()):
        chart.whisker(place, *estimate.interval, 0)
        chart.point(place, estimate.value, 0)
    chart.axes.set_xticks(range(len(thrusts)), [name or "highest" for name in thrusts])
    top = max(estimate.interval[1] for estimate in thrusts.values())
    chart.limits(x=(-0.6, len(thrusts) - 0.4), y=(0.0, 1.1 * top))
    return chart.finish()


NAME_SPOTS = tuple(
    (aside, offset) for offset in (-3.0, -14.0, 9.0, -25.0, 20.0, -36.0, 31.0) for aside in (1.0, -1.0, 0.0)
)
"""Where the name of a point is tried: shift in half widths, and height of the base line above the point [pt]."""


def rank_chart(ranking: Ranking, system: System = "si") -> Any:
    """Driven flow against thrust, each fan with the 95 % interval of its thrust, and the curve Q = c sqrt(T)."""
    chart = Chart("What the fans drive through the window", "thrust with its 95 % interval",
                  "Air moved through the house", x="thrust", y="flow", system=system)  # fmt: skip
    intervals = {fan.name: _interval_n(fan) for fan in ranking.fans}
    strongest = max(max(1.15 * fan.thrust_n, 1.05 * intervals[fan.name][1]) for fan in ranking.fans)
    thrusts = np.linspace(0.0, strongest, 101)
    flows = ranking.factor * thrusts**0.5
    chart.line(thrusts, flows, "grows with the square root of thrust", 0)
    for fan in ranking.fans:
        if fan.thrust_error > 0.0:
            chart.line(intervals[fan.name], [fan.driven_m3_s] * 2, "", 1, width=1.4)
        chart.point(fan.thrust_n, fan.driven_m3_s, 1)
    chart.limits(x=(0.0, strongest), y=(0.0, 1.1 * max(flows[-1], *(fan.driven_m3_s for fan in ranking.fans))))
    _name_points(chart, ranking.fans)
    return chart.finish()


def _interval_n(fan: RankedFan) -> tuple[float, float]:
    """The ends of a thrust's 95 % interval [N]."""
    reach = WIDE * fan.thrust_error * fan.thrust_n
    return fan.thrust_n - reach, fan.thrust_n + reach


def _name_points(chart: Chart, fans: Sequence[RankedFan]) -> None:
    """Write the names below their points, or above where something else is there."""
    box, page = chart.axes.get_position(), chart.figure.get_figwidth() * 72.0
    width, height = (box.x1 - box.x0) * page, (box.y1 - box.y0) * chart.height_pt
    (x0, x1), (y0, y1) = chart.axes.get_xlim(), chart.axes.get_ylim()

    def at(x: float, y: float) -> tuple[float, float]:
        return (x - x0) / (x1 - x0) * width, (y - y0) / (y1 - y0) * height

    curve = [at(x, y) for x, y in chart.axes.get_lines()[0].get_xydata()]
    taken = [(x - 1.0, y - 1.0, x + 1.0, y + 1.0) for x, y in curve]
    points = {}
    for fan in sorted(fans, key=lambda one: one.thrust_n):
        (flow,), (thrust, low, high) = chart.ys((fan.driven_m3_s,)), chart.xs((fan.thrust_n, *_interval_n(fan)))
        x, y = points[fan.name] = at(thrust, flow)
        taken.append((at(low, flow)[0], y - 1.0, at(high, flow)[0], y + 1.0))
    for name, (x, y) in points.items():
        wide = text_size(name, WORDS_PT)[0] / 2.0 + 2.0
        for aside, offset in NAME_SPOTS:
            middle = x + aside * (wide + 6.0)
            spot = (middle - wide, y + offset - 1.0, middle + wide, y + offset + WORDS_PT + 1.0)
            if not any(spot[0] < t[2] and t[0] < spot[2] and spot[1] < t[3] and t[1] < spot[3] for t in taken):
                break
        taken.append(spot)
        chart.write(box.x0 + middle / page, box.y0 + (y + offset) / chart.height_pt, name, align="center")
