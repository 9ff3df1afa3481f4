"""Plans, over one weather or many, and what more air costs in power or noise, for the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.objective import Objective
from ventplan.advice.plan import NEAR, Condition, OverAnswer, PlaceAnswer, Plan, TradeOff, TradeOffPoint, WeatherPlan
from ventplan.house.records import House
from ventplan.house.units import System, fixed, show, show_time_up_to_a_day, shown_unit
from ventplan.show.cautions import caution_lines, caution_view, cautions_of_plan, note_words
from ventplan.show.instructions import change_words, fan_instruction, placement_line
from ventplan.show.tables import (
    bottleneck_words,
    number,
    objective_words,
    paragraphs,
    rate_words,
    show_setback,
    shown_change_rate,
    steering_words,
    table,
    upper_first,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.advice.plan import CoolNight, WeatherPlan
    from ventplan.airing import Note
    from ventplan.show.cautions import Caution


NOT_WORTH_A_FAN = "no fan is worth its noise."


def aim_text(aim: Objective, value: float, system: System) -> str:
    """The value of an aim as people read it."""
    if aim.kind == "house":
        return shown_change_rate(value)
    if aim.kind == "clear":
        return show_time_up_to_a_day(1.0 / value if value > 0.0 else math.inf)
    if aim.kind == "cool":
        return f"{show(value, 'temperature difference', system)} cooler than with everything shut"
    return f"{show(value, 'flow', system)} of outdoor air" if aim.kind == "room" else show(value, "flow", system)


def place_view(
    house: House, answer: PlaceAnswer, cautions: Sequence[Sequence[Caution]], system: System, *, details: bool
) -> Iterator[RenderableType]:
    """Everything that ``ventplan place`` prints."""
    from rich.text import Text

    yield Text(verdict(house, answer, system), style="bold")
    said: set[str] = set()
    for rank, (plan, found) in enumerate(zip(answer.plans, cautions, strict=True), start=1):
        if not plan.placements:
            yield from cautions_of_plan(found, said)
            continue
        yield Text("")
        yield from _plan_view(house, answer.aim, rank, plan, system, details=details)
        yield from cautions_of_plan(found, said)
    yield Text("")
    running = {placement.fan for plan in answer.plans for placement in plan.scenario.placements}
    for name, fan in house.fans.items():
        if fan.stays_at and name not in running:
            yield Text(
                f"Not tried: {name}, which is fixed in {fan.stays_at}. It runs only if the scenario says so: "
                "choose one with --scenario."
            )
    if answer.nowhere:
        yield Text(f"No place to stand was found for: {', '.join(answer.nowhere)}.")
    if details:
        yield Text(f"{answer.states} states were computed: {_how_searched(answer)}", style="dim")
    else:
        yield Text("How exactly a fan must stand, and what limits each plan: add --details.", style="dim")


def verdict(house: House, answer: PlaceAnswer, system: System, *, plan: str = "plan 1") -> str:
    """The answer in a sentence or two."""
    aim, alone = answer.aim, answer.openings_alone
    without = aim_text(aim, alone.value, system)
    changes = change_words(alone.opens, alone.shuts) or "as they are"
    head = f"{house.name}, {objective_words(aim)}"
    if not answer.plans or not answer.plans[0].placements:
        return f"{head}: {_why_no_fan(answer, system)} Windows and doors alone ({changes}) give {without}."
    now = "" if aim.kind == "cool" else f" As the house stands: {aim_text(aim, answer.before, system)}."
    best = aim_text(aim, answer.plans[0].value, system)
    return f"{head}: {best} with {plan}. Windows and doors alone: {without}.{now}"


def _why_no_fan(answer: PlaceAnswer, system: System) -> str:
    """Why the first plan has no fan: none is worth it, or the best one is not safe where a flame is."""
    best = answer.best_with_fan
    if best is None or not best.flame_flagged:
        return NOT_WORTH_A_FAN
    return (
        f"no fan is advised. The best plan with one, {aim_text(answer.aim, best.value, system)}, lowers the pressure "
        "at a flame beyond the limit at which such rooms are flagged."
    )


def alone_view(
    aim: Objective,
    alone: Plan | WeatherPlan,
    plans: Sequence[Plan | WeatherPlan],
    system: System,
    average: str = "",
) -> Iterator[RenderableType]:
    """What openings do without a fan, and a word where the best plan with one does no more.

    Parameters
    ----------
    aim
        What was asked for.
    alone
        The best without a fan.
    plans
        The best with fans, best first.
    system
        Units to show.
    average
        A word on what the value is, where it is no plain one.
    """
    from rich.text import Text

    changes = change_words(alone.opens, alone.shuts) or "as they are"
    yield Text(f"Windows and doors alone ({changes}): {aim_text(aim, alone.value, system)}{average}.")
    if plans and not plans[0].placements:
        yield Text(upper_first(NOT_WORTH_A_FAN), style="bold")


def _how_searched(answer: PlaceAnswer) -> str:
    if answer.stopped:
        return "stopped early; these are the best so far."
    if answer.exhaustive:
        return (
            "every set of windows and doors with every fan at every opening, at a few setbacks each, by a simplified "
            "model; the best were then solved in full and improved."
        )
    return (
        "the sets of windows and doors that promise most, with every fan at every opening, by a simplified model; the "
        "best were then solved in full and improved. These are the best found."
    )


def _plan_view(
    house: House, aim: Objective, rank: int, plan: Plan, system: System, *, details: bool
) -> Iterator[RenderableType]:
    lines = []
    for placement, stands in zip(plan.placements, plan.stands, strict=True):
        near = ""
        if stands.good_from_m is not None and stands.good_to_m is not None:
            low, high = show_setback(stands.good_from_m, system), show_setback(stands.good_to_m, system)
            near = "" if low == high else f" ({low} to {high} gives at least 90 %)"
        lines.append(f"{fan_instruction(house, placement, system)}{near}.")
    lines += [f"Open: {', '.join(plan.opens)}."] if plan.opens else []
    lines += [f"Shut: {', '.join(plan.shuts)}."] if plan.shuts else []
    if not plan.opens and not plan.shuts:
        lines.append("Leave windows and doors as they are.")
    facts = [f"without the fan {aim_text(aim, plan.without_fans, system)}"]
    if plan.worst_room:
        facts.append(f"least fresh is {plan.worst_room}")
    if plan.power_w is not None:
        facts.append(show(plan.power_w, "power", system))
    if plan.sound_db is not None:
        facts.append(f"{show(plan.sound_db, 'sound', system)} at 1 m")
    lines.append(f"{upper_first('; '.join(facts))}.")
    if plan.passes_through:
        shares = ", ".join(f"{name} ({share:.0%})" for name, share in plan.passes_through.items())
        lines.append(
            f"On its way out, air from {aim.name} passes through {shares}: shut their doors, or take another plan."
        )
    if details:
        lines += _plan_details(aim, plan, system)
    yield paragraphs(f"Plan {rank}: {aim_text(aim, plan.value, system)}", lines)


def _plan_details(aim: Objective, plan: Plan, system: System) -> Iterator[str]:
    for placement, stands, fan in zip(plan.placements, plan.stands, plan.flow.fans, strict=True):
        through, blades = show(fan.driven_m3_s, "flow", system), show(stands.blades_m3_s, "flow", system)
        own = f"{fixed(stands.ratio, 2)} times the {blades} through the blades"
        if len(plan.placements) > 1:
            own = f"driven by all fans together; {blades} passes the blades of {placement.fan}"
        yield f"{through} goes through {placement.opening}, {own}."
        if stands.aim_off_deg is not None:
            off = f"{'more than ' if stands.aim_off_deg >= 45.0 else ''}{stands.aim_off_deg:.0f}°"
            yield f"{upper_first(placement.fan)} may point {off} to the side before 10 % is lost."
    if plan.limits:
        gains = ", ".join(f"{bottleneck_words(limit)} ({_gain_text(aim, limit.gain)})" for limit in plan.limits[:3])
        of = f" (of {steering_words(aim)})" if aim.kind == "cool" else ""
        yield f"What would bring more{of}: {gains}."


def _gain_text(aim: Objective, gain: float) -> str:
    """A gain of the aim; for a room to clear, what it takes off the time."""
    if aim.kind == "clear":
        return f"{1.0 / (1.0 + gain) - 1.0:+.0%} of the time".replace("-", "−")
    return f"{gain:+.0%}".replace("-", "−")


def trade_off_view(house: House, answer: TradeOff, system: System) -> Iterator[RenderableType]:
    """Everything that ``ventplan place --least`` prints."""
    from rich.text import Text

    yield Text(f"{house.name}: {objective_words(answer.aim)} against {answer.cost}", style="bold")
    rows = []
    for point in answer.points:
        rate = _rate(house, answer.aim, point.value, system)
        rows.append(
            (
                "*" if point.best else "",
                _point_words(house, point, system),
                rate,
                "–" if point.power_w is None else f"{point.power_w:.0f}",
                "–" if point.sound_db is None else f"{point.sound_db:.0f}",
            )
        )
    head = shown_unit("flow", system) if answer.aim.kind == "opening" else "outdoor air/h"
    yield table("From the least to the most", ("", "plan", head, "W", "dB(A)"), rows, words=2)
    yield Text("* no cheaper plan gives as much.", style="dim")
    if answer.at_least is not None:
        wanted = _rate(house, answer.aim, answer.at_least, system)
        if answer.chosen is None:
            most = max(answer.points, key=lambda point: point.value)
            yield Text(f"No plan gives {wanted}; the most is {_rate(house, answer.aim, most.value, system)}.")
        else:
            chosen = _point_words(house, answer.chosen, system)
            yield Text(f"Least {answer.cost} for at least {wanted}: {chosen}.")
    silent = [name for name in house.fans if all(name not in (p.fan for p in q.placements) for q in answer.points)]
    if silent:
        what = "power" if answer.cost == "power" else "sound"
        yield Text(f"Left out, since the house file does not give their {what}: {', '.join(silent)}.")
    told = [answer.chosen] if answer.chosen else [point for point in answer.points if point.best]
    yield from caution_lines({_fans_words(point): point.cautions for point in told}, system)


def _point_words(house: House, point: TradeOffPoint, system: System) -> str:
    fans = "; ".join(placement_line(house, p, system) for p in point.placements) or "no fan"
    changes = change_words(point.opens, point.shuts)
    return f"{fans}; {changes}" if changes else fans


def _fans_words(point: TradeOffPoint) -> str:
    return " and ".join(f"{p.fan} on {p.setting}" if p.setting else p.fan for p in point.placements) or "no fan"


def _rate_value(house: House, aim: Objective, value: float) -> float:
    """Outdoor air changes an hour of a room or the house; the flow of an opening."""
    if aim.kind == "opening":
        return value
    return 3600.0 * value / (house.rooms[aim.name].volume_m3 if aim.kind == "room" else 1.0)


def _rate(house: House, aim: Objective, value: float, system: System) -> str:
    if aim.kind == "opening":
        return number(value, "flow", system)
    return rate_words(_rate_value(house, aim, value))


def cool_nights_view(plan: Plan, nights: Sequence[CoolNight], system: System) -> Iterator[RenderableType]:
    """What the first plan does in every night, and when its fans are not worth their noise."""
    from rich.text import Text

    if not nights:
        return
    yield Text("")
    leave = [night.when for night in nights if not night.worth_a_fan]
    if plan.placements:
        helps = len(nights) - len(leave)
        off = "" if not leave else f" Leave the fans off before: {', '.join(leave)}."
        yield Text(f"Plan 1 is worth its fans in {helps} of {len(nights)} nights.{off}")
    rows = [
        (
            night.when,
            *(show(each, "temperature", system) for each in (night.shut_c, night.windows_c, night.plan_c)),
        )
        for night in nights
    ]
    yield table("The room each morning", ("morning", "all shut", "windows alone", "plan 1"), rows)


def over_view(
    house: House, answer: OverAnswer, cautions: Sequence[Caution], notes: Sequence[Note], system: System
) -> Iterator[RenderableType]:
    """Everything that ``ventplan place`` prints over weather."""
    from rich.text import Text

    alone, best = answer.openings_alone, answer.plans[0]
    yield Text(f"{house.name}: {objective_words(answer.aim)}, over all the weather in the file", style="bold")
    yield from alone_view(answer.aim, alone, answer.plans, system, " on average")
    for rank, plan in enumerate(answer.plans, start=1):
        yield Text("")
        yield paragraphs(
            f"Plan {rank}: {aim_text(answer.aim, plan.value, system)} on average, within 10 % of the best for "
            f"{100.0 * plan.near_best:.0f} % of the time",
            _steps(house, plan, system),
        )
    yield from caution_view(cautions)
    yield table(
        f"By weather ({_unit(answer.aim, system)})",
        ("", "time", "wind from", "outdoors", "as it is", "windows alone", "plan 1", "best there", "share"),
        (
            (
                chr(ord("A") + i),
                f"{100.0 * group.condition.weight:.0f} %",
                _wind(group.condition, system),
                show(group.condition.outdoors.temperature_c, "temperature", system),
                _value(answer.aim, group.before, system),
                _value(answer.aim, alone.values[i], system),
                _value(answer.aim, best.values[i], system),
                _value(answer.aim, group.plan.values[i], system),
                _share(best.values[i], group.plan.values[i]),
            )
            for i, group in enumerate(answer.groups)
        ),
    )
    yield Text("")
    yield from _best_there(house, answer, system)
    yield from (Text(note_words(note)) for note in notes)
    yield Text(_how(answer), style="dim")


def _unit(aim: Objective, system: System) -> str:
    if aim.kind == "clear":
        return "time until clear"
    return "outdoor air changes/h" if aim.kind == "house" else shown_unit("flow", system)


def _value(aim: Objective, value: float, system: System) -> str:
    if aim.kind == "clear":
        return aim_text(aim, value, system)
    return rate_words(3600.0 * value) if aim.kind == "house" else number(value, "flow", system)


def _share(value: float, best: float) -> str:
    return f"{100.0 * value / best:.0f} %" if best > 0.0 else "–"


def _steps(house: House, plan: WeatherPlan, system: System) -> list[str]:
    lines = [f"{fan_instruction(house, placement, system)}." for placement in plan.placements] or ["No fan."]
    lines += [f"Open: {', '.join(plan.opens)}."] if plan.opens else []
    lines += [f"Shut: {', '.join(plan.shuts)}."] if plan.shuts else []
    return lines if plan.opens or plan.shuts else [*lines, "Leave windows and doors as they are."]


def _wind(condition: Condition, system: System) -> str:
    wind = condition.outdoors.wind
    return f"{show(wind.speed_m_s, 'wind', system)} {wind.from_deg:.0f}°" if wind.speed_m_s > 0.0 else "calm"


def _best_there(house: House, answer: OverAnswer, system: System) -> Iterator[RenderableType]:
    """What is better by more than a tenth than plan 1, and under which groups."""
    from rich.text import Text

    best: dict[tuple[str, ...], list[str]] = {}
    for i, group in enumerate(answer.groups):
        if answer.plans[0].values[i] < NEAR * group.plan.values[i]:
            best.setdefault(tuple(_steps(house, group.plan, system)), []).append(chr(ord("A") + i))
    for steps, letters in best.items():
        yield paragraphs(f"Better there, for {', '.join(letters)}:", steps)
    if not best:
        yield Text("In every cluster plan 1 is within 10 % of the best.")
    yield Text("")


def _how(answer: OverAnswer) -> str:
    screened = "every fan pose with every set of openings" if answer.exhaustive else "the most promising plans"
    told = (
        "averages and times near the best are over every one of them"
        if answer.hour_by_hour
        else "averages and times near the best are over the clusters (--every-hour for all)"
    )
    return (
        f"{answer.conditions} conditions in {len(answer.groups)} weather clusters; {told}. The plan stays the same "
        f"whatever the weather. {answer.states} states were computed: {screened} under each cluster; then the best "
        "were optimised."
    )
