"""The report: one page that stands alone, for a phone, a desk and paper."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ventplan.show.cautions import Caution
from ventplan.show.charts import Bar, bar_chart, curves_of, setback_chart
from ventplan.show.colours import COLOURS, as_variables, variable
from ventplan.show.paper import as_markup, missing, width_pt
from ventplan.show.plan import draw_storeys
from ventplan.show.plan_notes import Tint
from ventplan.show.report_data import Report
from ventplan.show.report_words import Course, picture_words

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
        How the plan goes on in time, from `ventplan.show.report_words.course_of`, or None.
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
        clearing=course is not None and course.heading.startswith("How long"),
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
        groups.setdefault((caution.about, caution.do, caution.source), []).append(caution.computed)
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
    figure = setback_chart(
        curves_of(answer, report.setback_sure), title=title, blades_m3_s=answer.blades_m3_s, system=report.system
    )
    return _picture(figure, "setback", title, report.setback_words)


def _screens(report: Report) -> dict[str, Any] | None:
    if not report.screen_flows:
        return None
    bars = [Bar(name, flow) for name, flow in report.screen_flows.items()]
    figure = bar_chart(bars, title="With and without screens", words="Air from outdoors", system=report.system)
    words = "; ".join(f"{row[0]}: {row[1]}" for row in report.screens[1])
    return _picture(figure, "screens", "With and without screens", words)
