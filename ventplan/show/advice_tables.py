"""Setback curves, plans, and what more air costs in power or noise, for the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.objective import Objective
from ventplan.advice.plan import PlaceAnswer, Plan, TradeOff, TradeOffPoint
from ventplan.advice.setback import SetbackAnswer, SetbackCurve
from ventplan.house.records import House
from ventplan.house.units import System, fixed, show, show_length, show_time_up_to_a_day, shown_unit
from ventplan.show.airing_tables import caution_lines
from ventplan.show.cautions import written_out
from ventplan.show.objective_words import bottleneck_words, objective_words, steering_words
from ventplan.show.tables import (
    bullets,
    fan_instruction,
    number,
    paragraphs,
    placement_line,
    rate_words,
    show_setback,
    shown_change_rate,
    stance,
    table,
    upper_first,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.advice.plan import CoolNight, WeatherPlan
    from ventplan.show.cautions import Caution

NOT_WORTH_A_FAN = "no fan is worth its noise."
BAR = 28
"""Width of the bars that sketch a curve [characters]."""


def setback_view(house: House, answer: SetbackAnswer, system: System, *, details: bool) -> Iterator[RenderableType]:
    """Everything that ``ventplan setback`` prints.

    Parameters
    ----------
    house, answer
        The house, and its curves.
    system
        Units.
    details
        True for the curves point by point.
    """
    from rich.text import Text

    for curve in answer.curves:
        yield Text(_best_line(house, answer, curve, system), style="bold")
    blades, without = (show(flow, "flow", system) for flow in (answer.blades_m3_s, abs(answer.curves[0].without_m3_s)))
    way = "goes that way" if answer.curves[0].without_m3_s >= 0.0 else "goes the other way"
    yield Text(f"Through the fan's blades: {blades}. Without the fan, {without} {way}. {_scenario(answer)}")
    if answer.shut_in:
        yield Text(
            "Every other opening to outdoors is shut in this scenario, so hardly any air can follow. Name another "
            "scenario with --scenario, or open a window in this one."
        )
    if len(answer.stands) > 1:
        places = " and ".join(
            f"from {show_setback(one.low_m, system)} to {show_setback(one.high_m, system)}" for one in answer.stands
        )
        yield Text(f"The fan can stand {places} from the opening; in between something is in its way.")
    for curve in answer.curves:
        if curve.wins:
            yield _curve_table(answer, curve, system, every=1 if details else 2)


def _scenario(answer: SetbackAnswer) -> str:
    return f"Scenario: {answer.scenario}."


def _best_line(house: House, answer: SetbackAnswer, curve: SetbackCurve, system: System) -> str:
    ratio = curve.best_flow_m3_s / answer.blades_m3_s
    fan = upper_first(answer.fan) if len(answer.curves) == 1 else f"Screens {curve.screens}: {answer.fan}"
    how = "".join(f", {part}" for part in stance(house, curve.best, system))
    if not curve.wins:
        against = show(-curve.best_flow_m3_s, "flow", system)
        return (
            f"{fan} in {answer.stands_in} cannot win at {answer.opening}: {against} comes "
            "in against it however far back it stands. Turn it round, or choose an opening on the lee side."
        )
    low, high = show_setback(curve.good_from_m, system), show_setback(curve.good_to_m, system)
    near = "" if low == high else f" Between {low} and {high} it gives at least 90 % of that."
    return (
        f"{fan} in {answer.stands_in}, {show_setback(curve.best_setback_m, system)} from "
        f"{answer.opening}{how}: {show(curve.best_flow_m3_s, 'flow', system)} through the opening, {fixed(ratio, 2)} "
        f"times the flow through its blades.{near}"
    )


def _curve_table(answer: SetbackAnswer, curve: SetbackCurve, system: System, *, every: int) -> RenderableType:
    top = max((*curve.flow_m3_s, answer.blades_m3_s, 1e-9))
    rows = []
    for setback, flow in list(zip(curve.setback_m, curve.flow_m3_s, strict=True))[::every]:
        bar = "=" * round(BAR * max(flow, 0.0) / top)
        mark = round(BAR * answer.blades_m3_s / top)
        padded = bar.ljust(BAR + 1)
        padded = padded[:mark] + "|" + padded[mark + 1 :]
        ratio = flow / answer.blades_m3_s
        rows.append((padded, show_length(setback, system), number(flow, "flow", system), fixed(ratio, 2)))
    title = f"Flow through the opening by setback, screens {curve.screens}"
    return table(title, ("|: flow through the blades", "setback", shown_unit("flow", system), "times blades"), rows)


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
    """Everything that ``ventplan place`` prints.

    Parameters
    ----------
    house, answer
        The house, and the plans.
    cautions
        Of each plan.
    system
        Units.
    details
        True for how exactly each fan must stand, what limits each plan, and how the search went.
    """
    from rich.text import Text

    yield Text(verdict(house, answer, system), style="bold")
    said: set[str] = set()
    for rank, (plan, found) in enumerate(zip(answer.plans, cautions, strict=True), start=1):
        if not plan.placements:
            yield from _cautions_of_plan(found, said)
            continue
        yield Text("")
        yield from _plan_view(house, answer.aim, rank, plan, system, details=details)
        yield from _cautions_of_plan(found, said)
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


def _cautions_of_plan(found: Sequence[Caution], said: set[str]) -> Iterator[RenderableType]:
    """Cautions of one plan; those whose remedy an earlier plan has given are only named."""
    lines = written_out(found, said)
    if lines:
        yield bullets(lines)


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


def change_words(opens: Sequence[str], shuts: Sequence[str]) -> str:
    """What to open and to shut, in words."""
    parts = [f"open {', '.join(opens)}"] if opens else []
    return "; ".join([*parts, f"shut {', '.join(shuts)}"] if shuts else parts)


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
