"""The report: one page that stands alone, for a phone, a desk and paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ventplan.advice import Objective
from ventplan.advice.objective import CLEARED
from ventplan.house.records import House, Scenario
from ventplan.house.units import System, show, show_time
from ventplan.network.flow import Flow
from ventplan.show.cautions import Caution, texts
from ventplan.show.charts import bar_chart, setback_chart
from ventplan.show.instructions import fan_instruction
from ventplan.show.paper import COLOURS, as_markup, as_variables, missing, variable, width_pt
from ventplan.show.plan import draw_storeys
from ventplan.show.plan_notes import Tint
from ventplan.show.report_data import Report
from ventplan.show.tables import percent

TEMPLATES = Path(__file__).parent / "templates"
PX_PER_PT = 1.36
"""Least size on the screen of a point of a picture: letters of 7 pt are then about 9.5 px high [px/pt]."""


def report_page(
    report: Report, *, tint: Tint | None = "air-change", course: Course | None = None, full: bool = False
) -> str:
    """A report as one HTML page that needs nothing else.

    Parameters
    ----------
    report
        From `ventplan.show.report_data.report_of`.
    tint
        What the floors' colours show on the plan.
    course
        How the plan goes on in time, from `course_of`, or None.
    full
        True for everything: setback curve, screens, limits, every flow, assumed values.

    Returns
    -------
    str
        HTML with its style and pictures inside; no script, and nothing from any other host.

    Raises
    ------
    InputError
        Where ``jinja2`` or the plotting library is not installed.
    """
    try:
        import jinja2
    except ImportError:
        raise missing("jinja2", "reports") from None
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES), autoescape=True, trim_blocks=True, lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )  # fmt: skip
    environment.filters["sentence"] = lambda text: text[:1].upper() + text[1:]
    page: str = environment.get_template("report.html.jinja").render(
        report=report,
        light={variable(name): codes[0] for name, codes in COLOURS.items()},
        dark={variable(name): codes[1] for name, codes in COLOURS.items()},
        cautions=_grouped(report.cautions),
        plans=_plans(report, tint),
        full=full,
        night=report.aim.kind == "cool",
        closing=texts()["closing"],
        course=course and {"heading": course.heading, "words": course.words,
                           "picture": _picture(course.figure, "course", course.title, course.words)},
        setback=_setback(report) if full else None,
        screens=_screens(report) if full else None,
    )  # fmt: skip
    return page


def _grouped(cautions: Sequence[Caution]) -> list[dict[str, Any]]:
    """Cautions with the same remedy together, each cause once."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for caution in cautions:
        do = caution.do.removesuffix(texts()["closing"]).strip()
        groups.setdefault((caution.about, do, caution.source), []).append(caution.computed)
    return [
        {"about": about, "causes": causes, "do": do, "source": source} for (about, do, source), causes in groups.items()
    ]


def _picture(figure: Any, key: str, title: str, description: str) -> dict[str, Any]:
    from markupsafe import Markup

    markup = as_variables(as_markup(figure, key=key, title=title, description=description))
    return {"svg": Markup(markup), "width": round(width_pt(figure) * PX_PER_PT), "title": title}


def _plans(report: Report, tint: Tint | None) -> list[dict[str, Any]]:
    """A picture of each storey, those with fans first."""
    words = picture_words(report.house, report.scenario, report.flow, report.system)
    figures = draw_storeys(report.house, report.scenario, report.flow, tint=tint, show=report.system)
    return [
        _picture(figure, f"plan{i or ''}", f"Plan of {report.house.name}{f', {title}' if title else ''}", words)
        for i, (title, figure) in enumerate(figures)
    ]


def _setback(report: Report) -> dict[str, Any] | None:
    answer = report.setback
    if answer is None:
        return None
    title = f"How far the {answer.fan} stands from the {answer.opening}"
    figure = setback_chart(answer, report.setback_sure, title=title, system=report.system)
    return _picture(figure, "setback", title, report.setback_words)


def _screens(report: Report) -> dict[str, Any] | None:
    if not report.screen_flows:
        return None
    figure = bar_chart(
        report.screen_flows, title="With and without screens", words="Air from outdoors", system=report.system
    )
    words = "; ".join(f"{row[0]}: {row[1]}" for row in report.screens[1])
    return _picture(figure, "screens", "With and without screens", words)


def picture_words(house: House, scenario: Scenario, flow: Flow, system: System) -> str:
    """The plan in words: where air comes in, which way it goes, and where it leaves."""
    sentences = [f"Floor plan of {house.name} with {len(house.rooms)} rooms."]
    for placement in scenario.placements:
        share = scenario.shares[placement.opening]
        sentences.append(f"{fan_instruction(house, placement, system, share=share)}.")
    least = 0.02 * max((abs(o.net_m3_s) for o in flow.openings.values()), default=0.0)
    for name, air in flow.openings.items():
        if abs(air.net_m3_s) > least:
            start, end = air.joins if air.net_m3_s > 0.0 else air.joins[::-1]
            sentences.append(f"{name}: {show(abs(air.net_m3_s), 'flow', system)} from {start} to {end}.")
    return " ".join(sentences)


AFTER_S = 7200.0
"""A night is followed for this long after the hour that was asked about [s]."""


@dataclass(frozen=True)
class Course:
    """What happens in time."""

    heading: str  # what it answers
    title: str  # what its chart says
    words: str  # the same in words
    figure: Any  # the chart


def course_of(house: House, plan: Scenario, aim: Objective, system: System) -> Course | None:
    """How a plan goes on in time, or None for an aim that is about a steady state."""
    if aim.kind == "clear":
        return _clearing(house, plan, aim)
    return _night(house, plan, aim, system) if aim.kind == "cool" else None


def _clearing(house: House, plan: Scenario, aim: Objective) -> Course:
    from ventplan.airing.clearing import clear_house, share_released
    from ventplan.show.charts import clearings_chart

    answers = clear_house(house, [plan], share_released([aim.name], limit=CLEARED))
    title = f"What began in {aim.name}"
    figure = clearings_chart(answers, rooms=[aim.name], limit=CLEARED, title=title, words="Share of the start")
    rooms = answers[0].clearing.rooms.values()
    parts = [
        f"{room.name} is clear after {show_time(room.clear_s)}"
        if np.isfinite(room.clear_s)
        else f"{room.name} does not clear"
        for room in rooms
        if room.clear_s > 0.0
    ]
    words = f"Down to {percent(CLEARED)} of the start: {'; '.join(parts)}."
    return Course("How long must it run?", title, words, figure)


def _night(house: House, plan: Scenario, aim: Objective, system: System) -> Course | None:
    from ventplan.airing.night import night
    from ventplan.show.charts import night_chart

    if aim.weather is None:
        return None
    shut, *_, aired = night(house, [plan], aim.weather).runs
    start = aim.weather.begin.hour + aim.weather.begin.minute / 60.0
    asked_s = aim.weather.seconds_until(aim.by_hour)
    times = np.array(aired.times_s)
    at, end = int(np.abs(times - asked_s).argmin()), int(np.searchsorted(times, asked_s + AFTER_S)) + 1
    lines = {"with this plan": aired.rooms_c[aim.name][:end], "everything shut": shut.rooms_c[aim.name][:end]}
    until = min(float(times[-1]), asked_s + AFTER_S)
    parts = [(p.windows, (p.begin_s, min(p.end_s, until))) for p in aired.plan if p.begin_s < until]
    spans = joined([span for windows, span in parts if windows != "shut"])
    fans = joined([span for windows, span in parts if windows == "with fans"])
    title = f"The night in {aim.name}"
    figure = night_chart(
        aired.times_s[:end],
        aired.outdoor_c[:end],
        lines,
        title=title,
        start_hour=start,
        first_day=aim.weather.begin.date() if aim.weather.dated else None,
        open_s=spans,
        system=system,
    )
    plan_c, shut_c = (show(run.rooms_c[aim.name][at], "temperature", system) for run in (aired, shut))
    words = f"At {aim.weather.label(asked_s)} {aim.name} is at {plan_c}; with everything shut it would be at {shut_c}. "
    words += f"Windows open: {_times(spans, start)}. Fan on: {_times(fans, start)}."
    return Course("When to open and shut?", title, words, figure)


def joined(spans: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Spans in order, those that follow on one another as one."""
    found: list[tuple[float, float]] = []
    for begin, end in spans:
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], end)
        else:
            found.append((begin, end))
    return found


def _times(spans: Sequence[tuple[float, float]], start_hour: float) -> str:
    def clock(second: float) -> str:
        minutes = round(start_hour * 60.0 + second / 60.0) % 1440
        return f"{minutes // 60}:{minutes % 60:02d}"

    return ", ".join(f"{clock(begin)} to {clock(end)}" for begin, end in spans) or "never"
