"""Charts show the numbers that they are given."""

from __future__ import annotations

import datetime
import itertools
from typing import Any

import numpy as np
import pytest

from ventplan.advice.intervals import Interval
from ventplan.advice.setback import SetbackAnswer, SetbackCurve, SetbackSureness
from ventplan.house.records import Placement
from ventplan.house.units import System, show, shown_number
from ventplan.measure.rank import RankedFan, Ranking
from ventplan.measure.uncertainty import WIDE
from ventplan.show.charts import bar_chart, clearing_chart, day_ticks, night_chart, setback_chart
from ventplan.show.charts_measure import rank_chart
from ventplan.show.paper import WORDS_PT, spread, wrapped

SETBACKS = np.linspace(0.2, 4.0, 20)
FLOWS = 0.5 * SETBACKS * np.exp(-SETBACKS / 1.5)


def curve(screens: str = "on", factor: float = 1.0) -> SetbackCurve:
    placement = Placement("box fan", "doorway", "hall", 1.5)
    flows = tuple(factor * FLOWS)
    return SetbackCurve(screens, tuple(SETBACKS), flows, 1.5, factor * 0.276, 0.9, 2.4, 0.0, placement)


def answer(*curves: SetbackCurve) -> SetbackAnswer:
    return SetbackAnswer("evening", "box fan", "doorway", "hall", False, 0.2, (), curves)


def ranked(*fans: tuple[str, float, float]) -> Ranking:
    """A ranking of fans by name, thrust [N] and its relative standard uncertainty."""
    found = [RankedFan(name, thrust, error, None, 0.0, 0.3 * thrust**0.5, 0.0, 0.0, ()) for name, thrust, error in fans]
    return Ranking(tuple(found), 0.3, 0.0)


def words(figure: Any) -> list[str]:
    return [t.get_text() for t in (*figure.texts, *figure.axes[0].texts)]


def overlapping(figure: Any) -> tuple[list[str], list[tuple[str, str]]]:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer = FigureCanvasAgg(figure).get_renderer()
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in (*figure.texts, *figure.axes[0].texts)]
    width, height = figure.get_figwidth() * 72.0, figure.get_figheight() * 72.0
    outside = [text for text, b in boxes if b.x0 < 0 or b.y0 < 0 or b.x1 > width + 0.5 or b.y1 > height + 0.5]
    met = [
        (one, other)
        for (one, a), (other, b) in itertools.combinations(boxes, 2)
        if min(a.x1, b.x1) - max(a.x0, b.x0) > 1.0 and min(a.y1, b.y1) - max(a.y0, b.y0) > 1.0
    ]
    return outside, met


@pytest.mark.parametrize("system", ["si", "us"])
def test_setback_curves_pass_through_their_points(system: System) -> None:
    figure = setback_chart(answer(curve(), curve("off", 1.4)), system=system)
    lines = [line for line in figure.axes[0].lines if len(line.get_xdata()) == len(SETBACKS)]
    for line, factor in zip(lines, (1.0, 1.4), strict=True):
        assert line.get_xdata() == pytest.approx([shown_number(s, "length", system) for s in SETBACKS])
        assert line.get_ydata() == pytest.approx([shown_number(factor * q, "flow", system) for q in FLOWS])
    text = " ".join(words(figure)).replace("\u00a0", " ")
    for factor in (1.0, 1.4):
        assert show(factor * 0.276, "flow", system) in text
    assert show(0.2, "flow", system) in text
    assert overlapping(figure) == ([], [])


def test_setback_chart_draws_the_good_range_and_the_band_and_the_whisker() -> None:
    found = Interval(0.276, 0.2, 0.35, "sampled", ())
    sure = SetbackSureness("on", found, found, 1.0, 64, tuple(SETBACKS), tuple(0.8 * FLOWS), tuple(1.2 * FLOWS))
    figure = setback_chart(answer(curve()), [sure])
    pairs = [tuple(line.get_xdata()) for line in figure.axes[0].lines]
    assert (0.9, 2.4) in pairs
    assert [tuple(line.get_ydata()) for line in figure.axes[0].lines if tuple(line.get_xdata()) == (1.5, 1.5)] == [
        (0.2, 0.35)
    ]
    band = figure.axes[0].collections[0].get_paths()[0].vertices
    assert band[:, 1].max() == pytest.approx(1.2 * FLOWS.max())
    assert figure.axes[0].get_ylim()[1] > 0.35


@pytest.mark.parametrize("system", ["si", "us"])
def test_bars_are_as_long_as_their_values(system: System) -> None:
    bars = {"as it stands": 0.1, "with a very long name of many words in it": 0.4}
    figure = bar_chart(bars, title="Side by side", words="Air from outdoors", system=system)
    lengths = [patch.get_width() for patch in figure.axes[0].patches]
    assert lengths == pytest.approx([shown_number(value, "flow", system) for value in bars.values()])
    assert {show(0.1, "flow", system), show(0.4, "flow", system)} <= set(words(figure))
    assert overlapping(figure) == ([], [])


def test_rank_chart_draws_the_square_root() -> None:
    names = [f"fan {i}" for i in range(5)]
    figure = rank_chart(ranked(*((name, 0.4 * (i + 1), 0.0) for i, name in enumerate(names))))
    xs, ys = figure.axes[0].lines[0].get_data()
    assert ys**2 == pytest.approx(0.09 * np.asarray(xs))
    assert set(names) <= set(words(figure))
    assert overlapping(figure) == ([], [])


def test_clearing_chart_names_the_rooms_that_pass_the_limit_and_keeps_all() -> None:
    times = np.linspace(0.0, 3600.0, 50)
    rooms = {"kitchen": np.exp(-times / 900.0), "hall": 0.3 * np.exp(-times / 900.0), "attic": 0.0 * times}
    figure = clearing_chart(times, rooms, limit=0.05, title="Smoke", words="Share of the start")
    drawn = [tuple(line.get_ydata()) for line in figure.axes[0].lines if len(line.get_ydata()) == len(times)]
    assert sorted(drawn) == sorted(tuple(v) for v in rooms.values())
    assert {"kitchen", "hall"} <= set(words(figure))
    assert "attic" not in words(figure)
    assert overlapping(figure) == ([], [])


def test_night_chart_counts_the_hours_of_the_day() -> None:
    times = [900.0 * i for i in range(49)]
    inside = {"shut": [25.0] * 49, "open": [25.0 - 0.1 * i for i in range(49)]}
    figure = night_chart(
        times, [18.0] * 49, inside, title="Night", start_hour=19.0, open_s=[(7200.0, 28800.0)], system="us"
    )
    assert [t.get_text() for t in figure.axes[0].get_xticklabels()][:4] == ["20", "22", "0", "2"]
    outdoors = next(line for line in figure.axes[0].lines if len(line.get_ydata()) == 49)
    assert outdoors.get_ydata()[0] == pytest.approx(64.4)
    assert overlapping(figure) == ([], [])


def test_a_time_axis_over_several_days_names_them_and_a_night_its_hours() -> None:
    monday = datetime.date(2030, 7, 1)
    ticks, words = day_ticks(12.0, 180.0, monday)
    assert list(ticks.items())[:2] == [(24.0, "Tue 02"), (48.0, "Wed 03")]
    assert len(ticks) == 7
    assert words.endswith("from Mon 01 Jul")
    assert list(day_ticks(18.0, 66.0, None)[0].values()) == ["day 2", "12", "day 3", "12"]
    assert list(day_ticks(19.0, 31.0, monday)[0].values()) == ["20", "22", "0", "2", "4", "6"]
    assert len(day_ticks(0.0, 14 * 24.0, monday)[0]) <= 9


def test_names_are_spread_no_more_than_it_takes() -> None:
    assert spread([10.0, 50.0], [10.0, 10.0], 0.0, 100.0) == [10.0, 50.0]
    close = spread([50.0, 51.0, 52.0], [10.0, 10.0, 10.0], 0.0, 100.0)
    assert [b - a for a, b in itertools.pairwise(close)] == pytest.approx([10.0, 10.0])
    assert max(spread([99.0, 99.0], [10.0, 10.0], 0.0, 100.0)) <= 95.0


def test_long_names_break_between_words_and_not_inside_a_figure() -> None:
    lines = wrapped("screens on: best 0.58\u00a0m³/s at 2.24\u00a0m", WORDS_PT, 90.0)
    assert len(lines) > 1
    assert any("0.58\u00a0m³/s" in line for line in lines)


def test_a_thrust_has_its_interval_and_its_name_stays_off_the_curve() -> None:
    figure = rank_chart(ranked(("box fan", 2.0, 0.25 / WIDE)))
    spans = [line.get_xdata() for line in figure.axes[0].lines if len(line.get_xdata()) == 2]
    assert any(tuple(span) == pytest.approx((1.5, 2.5)) for span in spans)
    assert overlapping(figure) == ([], [])


def test_lines_without_a_name_are_explained() -> None:
    figure = clearing_chart(
        [0.0, 60.0, 120.0],
        {"kitchen": [1.0, 0.5, 0.2], "attic": [0.0, 0.01, 0.0]},
        limit=0.05,
        title="t",
        words="share",
    )
    assert "Thin grey lines: other rooms" in " ".join(words_of(figure))
    alone = clearing_chart([0.0, 60.0], {"kitchen": [1.0, 0.2]}, limit=0.05, title="t", words="share")
    assert "Thin grey" not in " ".join(words_of(alone))


def test_lines_that_run_close_together_say_how_far_they_are_apart() -> None:
    times = [0.0, 3600.0, 7200.0]
    figure = night_chart(
        times, [15.0] * 3, {"windows": [22.0, 21.0, 20.0], "with a fan": [21.5, 20.5, 19.5]}, title="A night"
    )
    joined = " ".join(" ".join(words_of(figure)).split())
    assert "0.5 K cooler than windows" in joined


def words_of(figure: Any) -> list[str]:
    """Every text of a figure."""
    import matplotlib.text

    return [t.get_text() for t in figure.findobj(matplotlib.text.Text)]
