"""What a report says about its aim: what the plan does for it, and how that goes on in time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ventplan.advice import Objective, PlaceAnswer
from ventplan.advice.objective import CLEARED
from ventplan.house.records import House, Scenario
from ventplan.house.shown import show, show_time
from ventplan.house.units import System
from ventplan.show.advice_tables import NOT_WORTH_A_FAN, WORTH_A_FAN, aim_text
from ventplan.show.words import shown_change_rate

AFTER_S = 7200.0
"""A night is followed for this long after the hour that was asked about [s]."""


@dataclass(frozen=True)
class Course:
    """What happens in time.

    Attributes
    ----------
    heading
        What it answers.
    title
        What its chart says.
    words
        The same in words.
    figure
        The chart.
    """

    heading: str
    title: str
    words: str
    figure: Any


def course_of(house: House, plan: Scenario, aim: Objective, system: System) -> Course | None:
    """How a plan goes on in time, or None for an aim that is about a steady state."""
    if aim.kind == "clear":
        return _clearing(house, plan, aim)
    return _night(house, plan, aim, system) if aim.kind == "cool" else None


def _clearing(house: House, plan: Scenario, aim: Objective) -> Course:
    from ventplan.airing.clearing import clear_house, share_released
    from ventplan.show.charts_time import clearings_chart

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
    words = f"Down to {CLEARED:.0%} of the start: {'; '.join(parts)}."
    return Course("How long must it run?", title, words.replace("%", " %"), figure)


def _night(house: House, plan: Scenario, aim: Objective, system: System) -> Course | None:
    from ventplan.airing.night import night
    from ventplan.show.charts_time import night_chart

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


def aim_rows(house: House, answer: PlaceAnswer, system: System) -> tuple[tuple[str, str], ...]:
    """What the best plan does for the aim, and what the house does for it without a fan: words and values.

    A room's air change is told as changes an hour, as in the table of the rooms.
    """
    aim, words = answer.aim, answer.aim.words()

    def text(value: float) -> str:
        if aim.kind == "room":
            return shown_change_rate(value / house.rooms[aim.name].volume_m3)
        return aim_text(aim, value, system)

    rows = [(f"{words[0].upper()}{words[1:]}, with this plan", text(answer.plans[0].value))]
    if aim.kind != "cool":
        rows.append(("The same as the house stands, without a fan", text(answer.before)))
    rows.append(("The same with the best openings alone, without a fan", text(answer.openings_alone.value)))
    if aim.kind == "room":
        rows.append((f"The flow that clears {aim.name}, with this plan", aim_text(aim, answer.plans[0].value, system)))
    return tuple(rows)


def not_worth_a_fan(answer: PlaceAnswer) -> str:
    """A sentence where the best openings do as much as the best plan with a fan; else nothing."""
    worth = answer.plans[0].value > WORTH_A_FAN * answer.openings_alone.value
    return "" if worth else NOT_WORTH_A_FAN
