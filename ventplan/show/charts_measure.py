"""Charts of readings: against the prediction, and of what each measuring command fitted to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from ventplan.house.units import System, shown_number, shown_unit
from ventplan.show.charts import whole
from ventplan.show.colours import light
from ventplan.show.paper import STYLES, Chart

if TYPE_CHECKING:
    from ventplan.measure.anemometer import Calibration
    from ventplan.measure.jet import Walk
    from ventplan.measure.profile import Profile
    from ventplan.measure.setback_series import BestSetback, SetbackSeries
    from ventplan.measure.uncertainty import Estimate
    from ventplan.measure.verification import Comparison, Verification


def _in(values: Sequence[float] | Any, quantity: str, system: System) -> list[float]:
    return [shown_number(float(value), quantity, system) for value in values]


def _axis(words: str, quantity: str, system: System) -> str:
    return f"{words}, {shown_unit(quantity, system)}"


def series_chart(series: SetbackSeries, comparisons: Sequence[Comparison], *, system: System = "si") -> Any:
    """A setback series over the predicted band, with both best setbacks.

    Parameters
    ----------
    series
        The series.
    comparisons
        All readings of the verification; those of the series are drawn.
    system
        Units of the axes.

    Returns
    -------
    matplotlib.figure.Figure
    """
    chart = Chart(
        f"{series.fan} at {series.target}: readings in {series.place} over the prediction",
        _axis("setback of the fan", "length", system),
        _axis("Speed, readings with 95 % bars, prediction with its 90 % band", "speed", system),
        names_pt=120.0,
    )
    xs = _in(series.setback_m, "length", system)
    low, middle, high = (_in(values, "speed", system) for values in (series.low_m_s, series.speed_m_s, series.high_m_s))
    chart.band(xs, low, high, 0)
    chart.line(xs, middle, "predicted", 0)
    top = max(high)
    for number in series.numbers:
        one = comparisons[number]
        x = _in((one.setback_m,), "length", system)[0]
        bottom, y, end = _in((one.measured_low_m_s, one.measured_m_s, one.measured_high_m_s), "speed", system)
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
    ends = _in((best.low_m, best.high_m), "length", system)
    said = f"{name}: {whole(best.low_m, 'length', system)} to {whole(best.high_m, 'length', system)}"
    chart.axes.plot(ends, (level, level), color=light(STYLES[style][0]), linewidth=4.0, solid_capstyle="butt")
    chart.line(ends, (level, level), said, style, width=0.0)
    chart.point(_in((best.setback_m,), "length", system)[0], level, style)


def readings_chart(comparisons: Sequence[Comparison], *, system: System = "si") -> Any:
    """Readings beside their predictions, one after another.

    Parameters
    ----------
    comparisons
        The readings to draw.
    system
        Units of the axes.

    Returns
    -------
    matplotlib.figure.Figure
    """
    chart = Chart(
        "Readings beside the prediction",
        "reading, in the order of the file",
        _axis("Speed, readings with 95 % bars, prediction with its 90 % interval", "speed", system),
    )
    top = 0.0
    for number, one in enumerate(comparisons, start=1):
        low, middle, high = _in((one.low_m_s, one.predicted_m_s, one.high_m_s), "speed", system)
        chart.band((number - 0.3, number + 0.3), (low, low), (high, high), 0)
        last = number == len(comparisons)
        chart.line((number - 0.3, number + 0.3), (middle, middle), "predicted" if last else "", 0)
        bottom, y, end = _in((one.measured_low_m_s, one.measured_m_s, one.measured_high_m_s), "speed", system)
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
    """Pairs of an anemometer's calibration with the line through them.

    Parameters
    ----------
    line
        The calibration.
    indicated, reference_m_s
        The pairs.
    system
        Units of the axes.

    Returns
    -------
    matplotlib.figure.Figure
    """
    is_speed = line.indication == "m/s"
    chart = Chart(
        "Calibration of the anemometer",
        _axis("indicated", "speed", system) if is_speed else "indicated, pulses/s",
        _axis("True speed, line with its 95 % band", "speed", system),
    )

    def across(values: Any) -> list[float]:
        return _in(values, "speed", system) if is_speed else [float(value) for value in values]

    shown = np.linspace(0.0, 1.05 * max(indicated), 60)
    middle, reach = line.intercept_m_s + line.slope * shown, line.expanded_at(shown)
    low, high = (_in(values, "speed", system) for values in (middle - reach, middle + reach))
    chart.band(across(shown), low, high, 0)
    chart.line(across(shown), _in(middle, "speed", system), "calibration line", 0)
    for x, y in zip(across(indicated), _in(reference_m_s, "speed", system), strict=True):
        chart.point(x, y, 1)
    start = shown_number(line.start_up_m_s, "speed", system)
    chart.level(start, f"start-up, {whole(line.start_up_m_s, 'speed', system)}")
    chart.axes.set_xlim(0.0, across(shown)[-1])
    chart.axes.set_ylim(0.0, 1.05 * max(high))
    return chart.finish()


def walk_chart(walk: Walk, distances_m: Sequence[float], speeds_m_s: Sequence[float], *, system: System = "si") -> Any:
    """A walk down the jet with the centre-line speed that was fitted to it.

    Parameters
    ----------
    walk
        The fitted line.
    distances_m, speeds_m_s
        The readings that it was fitted to; those in the core are drawn in another style.
    system
        Units of the axes.

    Returns
    -------
    matplotlib.figure.Figure
    """
    chart = Chart(
        "Walk down the jet",
        _axis("distance from the blades", "length", system),
        _axis("Speed in the middle of the jet", "speed", system),
    )
    core = set(walk.core)
    start = max([distances_m[i] for i in core], default=0.0)
    places = np.linspace(max(start, 0.05), 1.1 * max(distances_m), 80)
    inverse = np.clip(walk.line.at(places), 1e-6, None)
    reach = 2.0 * walk.line.standard_at(places)
    xs = _in(places, "length", system)
    low, high = (_in(1.0 / np.clip(inverse + sign * reach, 1e-6, None), "speed", system) for sign in (1.0, -1.0))
    chart.band(xs, low, high, 0)
    chart.line(xs, _in(1.0 / inverse, "speed", system), "fitted: 1/speed grows straight", 0)
    for i, (place, speed) in enumerate(zip(distances_m, speeds_m_s, strict=True)):
        x, y = shown_number(float(place), "length", system), shown_number(float(speed), "speed", system)
        chart.point(x, y, 2 if i in core else 1)
    if core:
        speed = float(np.mean([speeds_m_s[i] for i in core]))
        chart.line((0.0, _in((start,), "length", system)[0]), [shown_number(speed, "speed", system)] * 2, "core", 2)
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
    """A profile across the jet with the Gaussian that was fitted to it.

    Parameters
    ----------
    profile
        The fitted Gaussian.
    offsets_m, speeds_m_s
        The readings; nan where the vane stood still.
    distance_m
        Distance from the blades [m].
    system
        Units of the axes.

    Returns
    -------
    matplotlib.figure.Figure
    """
    chart = Chart(
        f"Profile across the jet, {whole(distance_m, 'length', system)} from the blades",
        _axis("offset from the tape's zero", "length", system),
        _axis("Speed", "speed", system),
    )
    reach = 1.15 * max(abs(float(offset)) for offset in offsets_m)
    across = np.linspace(-reach, reach, 120)
    gauss = profile.centre_speed.value * np.exp(-(((across - profile.off_centre_m) / profile.half_width.value) ** 2))
    chart.line(_in(across, "length", system), _in(gauss, "speed", system), "fitted Gaussian", 0)
    left = profile.off_centre_m - profile.half_width.value
    width = _in((left, left + 2.0 * profile.half_width.value), "length", system)
    level = shown_number(profile.centre_speed.value / np.e, "speed", system)
    said = f"half-width {whole(profile.half_width.value, 'length', system)}, at 1/e of the highest"
    chart.line(width, (level, level), said, 2, width=1.2)
    for offset, speed in zip(offsets_m, speeds_m_s, strict=True):
        if np.isfinite(speed):
            chart.point(shown_number(float(offset), "length", system), shown_number(float(speed), "speed", system), 1)
    chart.axes.set_xlim(*_in((-reach, reach), "length", system))
    highest = max(profile.centre_speed.value, float(np.nanmax(np.asarray(speeds_m_s, dtype=float))))
    chart.axes.set_ylim(0.0, 1.1 * shown_number(highest, "speed", system))
    return chart.finish()


def thrusts_chart(thrusts: Mapping[str, Estimate], *, system: System = "si") -> Any:
    """Thrust of each setting with its 95 % interval.

    Parameters
    ----------
    thrusts
        By setting; empty for the highest.
    system
        Units of the axes.

    Returns
    -------
    matplotlib.figure.Figure
    """
    chart = Chart("Thrust of each setting", "setting", _axis("Thrust with its 95 % interval", "thrust", system))
    top = 0.0
    for place, estimate in enumerate(thrusts.values()):
        low, value, high = _in((estimate.interval[0], estimate.value, estimate.interval[1]), "thrust", system)
        chart.whisker(place, low, high, 0)
        chart.point(place, value, 0)
        top = max(top, high)
    chart.axes.set_xticks(range(len(thrusts)), [name or "highest" for name in thrusts])
    chart.axes.set_xlim(-0.6, len(thrusts) - 0.4)
    chart.axes.set_ylim(0.0, 1.1 * top)
    return chart.finish()
