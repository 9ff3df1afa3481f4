"""The words of a report: what to do in the evening and afterwards, and what the picture shows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ventplan.advice import Objective, PlaceAnswer
from ventplan.advice.objective import CLEARED
from ventplan.house.fan_pose import fan_height_m
from ventplan.house.geometry import free_rectangle, normal_from
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Scenario
from ventplan.house.units import System, show, show_length, show_time
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.show.advice_tables import aim_text
from ventplan.show.objective_words import objective_words
from ventplan.show.plan_shapes import frame_of
from ventplan.show.tables import show_setback

WHOLE = "as far as it goes"
Tasks = tuple[tuple[str, tuple[str, ...]], ...]
"""Rooms with what to do in each."""


def listed(names: Sequence[str]) -> str:
    """Names as people list them: a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def the(names: Sequence[str]) -> str:
    """Names with their articles, listed."""
    return listed([f"the {name}" for name in names])


def how_far(opening: Opening, share: float, system: System) -> str:
    """How far to open something, in a few words."""
    if share >= opening.full_share - 1e-6:
        return WHOLE
    if opening.sash in ("sliding", "sliding door", "pocket"):
        return f"so that the gap is {show_length(opening.width_m * share, system)} wide"
    if opening.sash == "hung":
        return f"so that the gap is {show_length(opening.height_m * share, system)} high"
    if opening.sash in ("hinged door", "side hinged") and share < 1.0:
        return f"to {math.degrees(math.asin(share)):.0f}°"
    return f"so that {100.0 * share:.0f} % of it is free"


def free_side(opening: Opening, share: float, place: str) -> str:
    """Which side of a half-open frame is free, for one who looks at it from a room: left, right, or nothing."""
    if share >= 0.95 or opening.free_along != "width" or opening.is_horizontal:
        return ""
    nx, ny = normal_from(opening, place)
    ux, uy = frame_of(opening).u
    right = (-ux) * ny + (-uy) * (-nx)
    return "right" if right > 0.0 else "left"


def fan_step(house: House, scenario: Scenario, placement: Placement, system: System) -> str:
    """Where to put a fan, in imperatives."""
    opening = house.openings[placement.opening]
    setting = f" Set it to {placement.setting}." if placement.setting else ""
    outwards = opening.other(placement.stands_in) == OUTDOORS
    way = "out of the house" if outwards else "into the house" if placement.stands_in == OUTDOORS else ""
    way = way or f"through it into “{opening.other(placement.stands_in)}”"
    if placement.sealed:
        return f"Fix the {placement.fan} in the {opening.name}, blowing {way}, and seal the gaps around it.{setting}"
    share = scenario.shares[opening.name]
    free = free_rectangle(opening, share)
    height = show_length(fan_height_m(house, placement, free), system)
    side = free_side(opening, share, placement.stands_in)
    target = f"the open {side} part of the {opening.name}" if side else f"the middle of the {opening.name}"
    where = "outdoors" if placement.stands_in == OUTDOORS else f"in “{placement.stands_in}”"
    text = (
        f"Put the {placement.fan} {where}, {show_setback(placement.setback_m, system)} away from the {opening.name}, "
        f"with the middle of its blades {height} above the floor."
    )
    if abs(placement.aside_m) >= 0.02:
        nx, ny = normal_from(opening, placement.stands_in)
        ux, uy = frame_of(opening).u
        right = (ux * ny - uy * nx) * placement.aside_m > 0.0
        text += f" Stand it {show_length(abs(placement.aside_m), system)} to the {'right' if right else 'left'}."
    text += f" Point it at {target}, so that it blows {way}."
    if abs(placement.tilt_deg) >= 1.0:
        text += f" Tilt it {'up' if placement.tilt_deg > 0 else 'down'} by {abs(placement.tilt_deg):.0f}°."
    return text + setting


def evening_tasks(house: House, plan: Scenario, system: System) -> Tasks:
    """What to do to set the house to a plan from whatever state it is in, room by room.

    Parameters
    ----------
    house
        The house.
    plan
        The state to reach.
    system
        Units of lengths.
    """
    rooms: dict[str, list[str]] = {name: [] for name in (*house.rooms, OUTDOORS)}
    ajar: list[str] = []
    closed: list[str] = []
    others = False
    for name, opening in house.openings.items():
        if not has_leaf(opening) or _sealed(plan, name):
            continue
        room = next(place for place in opening.joins if place != OUTDOORS)
        share = plan.shares[name]
        if opening.kind == "door" and not opening.is_external:
            words = how_far(opening, share, system)
            if share > 0.0:
                ajar.append(name if words == WHOLE else f"{name} ({words})")
            else:
                closed.append(name)
        elif share > 0.0:
            screen = "" if opening.screen is None else f", bug screen {'on' if name in plan.screened else 'off'}"
            rooms[room].append(f"Open the {name} {how_far(opening, share, system)}{screen}.")
        else:
            others = True
    for placement in plan.placements:
        joins = house.openings[placement.opening].joins  # a fan is sealed in from indoors, whichever way it blows
        where = next(p for p in joins if p != OUTDOORS) if placement.sealed else placement.stands_in
        rooms[where].append(fan_step(house, plan, placement, system))
    last = ["Shut every other window and outside door."] if others else []
    if plan.placements:
        last.append(f"Switch the {'fan' if len(plan.placements) == 1 else 'fans'} on.")
    doors = [f"Prop {the(ajar)} open."] if ajar else []
    doors += [f"Shut {the(closed)}."] if closed else []
    groups = [(name, tuple(items)) for name, items in rooms.items() if items]
    groups += [("Doors inside", tuple(doors))] if doors else []
    return (*groups, ("Whole house", tuple(last))) if last else tuple(groups)


def later_tasks(house: House, plan: Scenario) -> tuple[str, ...]:
    """What to do when the plan has done its work.

    Parameters
    ----------
    house
        The house.
    plan
        The state that the house is in by then.
    """
    fans = list(dict.fromkeys(placement.fan for placement in plan.placements))
    opened = [n for n, o in house.openings.items() if o.is_external and has_leaf(o) and plan.shares[n] > 0.0]
    bare = [n for n in opened if house.openings[n].screen is not None and n not in plan.screened]
    found = [f"Switch the {listed(fans)} off."] if fans else []
    found += [f"Shut {the(opened)}."] if opened else []
    return (
        (*found, f"Put the bug {'screens' if len(bare) > 1 else 'screen'} back on {the(bare)}.")
        if bare
        else tuple(found)
    )


def has_leaf(opening: Opening) -> bool:
    """True where there is something to open or shut: no plain hole, shaft or fixed pane."""
    return opening.can_move or opening.sash not in ("none", "fixed")


def _sealed(plan: Scenario, name: str) -> bool:
    return any(p.sealed and p.opening == name for p in plan.placements)


def tissue(air: OpeningFlow, *, certain: bool = True) -> str:
    """A test that needs no instrument: a strip of tissue in an opening shows which way the air goes."""
    start, end = air.joins if air.net_m3_s > 0.0 else air.joins[::-1]
    return f"Hold a strip of tissue in the {air.name}. " + (
        f"It should blow from “{start}” towards “{end}”."
        if certain
        else f"It most likely blows from “{start}” towards “{end}”; the wind of the moment may turn it round."
    )


def downstream(air: OpeningFlow) -> str:
    """The side of an opening that the air goes to."""
    return air.joins[1] if air.net_m3_s > 0.0 else air.joins[0]


def picture_words(house: House, scenario: Scenario, flow: Flow, system: System) -> str:
    """The plan in words: where air comes in, which way it goes, and where it leaves."""
    sentences = [f"Floor plan of {house.name} with {len(house.rooms)} rooms."]
    for placement in scenario.placements:
        sentences.append(fan_step(house, scenario, placement, system))
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


def aim_rows(answer: PlaceAnswer, system: System) -> tuple[tuple[str, str], ...]:
    """What the best plan does for the objective, and what the house does for it without a fan: words and values."""
    aim, words = answer.aim, objective_words(answer.aim)

    def text(value: float) -> str:
        return show(value, "flow", system) if aim.kind == "room" else aim_text(aim, value, system)

    rows = [(f"{words[0].upper()}{words[1:]}, with this plan", text(answer.plans[0].value))]
    if aim.kind != "cool":
        rows.append(("As the house stands, without a fan", text(answer.before)))
    rows.append(("Windows and doors alone", text(answer.openings_alone.value)))
    return tuple(rows)
