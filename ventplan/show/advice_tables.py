"""Setback curves, plans, and what more air costs in power or noise, for the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.objective import Objective
from ventplan.advice.plan import PlaceAnswer, Plan, TradeOff, TradeOffPoint
from ventplan.advice.setback import SetbackAnswer, SetbackCurve
from ventplan.house.records import House
from ventplan.house.shown import fixed, show, show_length, shown_unit
from ventplan.house.units import System
from ventplan.show.airing_tables import caution_lines
from ventplan.show.tables import (
    number,
    paragraphs,
    placement_line,
    rate_words,
    sentence,
    shown_change_rate,
    stance,
    table,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.advice.plan import WeatherPlan
    from ventplan.show.cautions import Caution

NOT_WORTH_A_FAN = "No fan is worth its noise: the openings alone do as much."
BAR = 28
"""Width of the bars that sketch a curve [characters]."""


def setback_view(house: House, answer: SetbackAnswer, system: System) -> Iterator[RenderableType]:
    """Everything that ``ventplan setback`` prints."""
    from rich.text import Text

    yield Text(
        f"{answer.fan} in {answer.stands_in}, blowing through {answer.opening}; its own flow is "
        f"{show(answer.blades_m3_s, 'flow', system)}",
        style="bold",
    )
    yield Text(f"Scenario: {answer.scenario}.")
    if answer.shut_in:
        yield Text(
            "Every other opening to outdoors is shut in this scenario, so hardly any air can follow: name another with "
            "--scenario, or open a window in it."
        )
    if len(answer.stands) > 1:
        places = " and ".join(
            f"from {show_length(one.low_m, system)} to {show_length(one.high_m, system)}" for one in answer.stands
        )
        yield Text(f"It finds a place to stand {places} back; in between something is in its way.")
    for curve in answer.curves:
        yield Text("")
        yield Text(_best_line(house, answer, curve, system))
        yield _curve_table(answer, curve, system)


def _best_line(house: House, answer: SetbackAnswer, curve: SetbackCurve, system: System) -> str:
    ratio = curve.best_flow_m3_s / answer.blades_m3_s
    return (
        f"Screens {curve.screens}: best {show_length(curve.best_setback_m, system)} back, "
        f"{show(curve.best_flow_m3_s, 'flow', system)} through the opening, "
        f"{fixed(ratio, 2)} times the fan's own flow; "
        f"at least 90 % of that from {show_length(curve.good_from_m, system)} to "
        f"{show_length(curve.good_to_m, system)}. Without this fan {show(curve.without_m3_s, 'flow', system)} go that "
        f"way. At its best: {', '.join(stance(house, curve.best, system))}."
    )


def _curve_table(answer: SetbackAnswer, curve: SetbackCurve, system: System) -> RenderableType:
    top = max((*curve.flow_m3_s, answer.blades_m3_s, 1e-9))
    rows = []
    for setback, flow in list(zip(curve.setback_m, curve.flow_m3_s, strict=True))[::2]:
        bar = "=" * round(BAR * max(flow, 0.0) / top)
        mark = round(BAR * answer.blades_m3_s / top)
        padded = bar.ljust(BAR + 1)
        padded = padded[:mark] + "|" + padded[mark + 1 :]
        ratio = flow / answer.blades_m3_s
        rows.append((padded, show_length(setback, system), number(flow, "flow", system), fixed(ratio, 2)))
    return table("", ("| the fan's own flow", "setback", shown_unit("flow", system), "ratio"), rows)


def aim_text(aim: Objective, value: float, system: System) -> str:
    """The value of an aim as people read it."""
    if aim.kind == "house":
        return shown_change_rate(value)
    if aim.kind == "clear":
        return show(1.0 / value if value > 0.0 else math.inf, "time", system)
    if aim.kind == "cool":
        return f"{show(value, 'temperature difference', system)} cooler than with everything shut"
    return show(value, "flow", system)


def place_view(
    house: House, answer: PlaceAnswer, cautions: Sequence[Sequence[Caution]], system: System
) -> Iterator[RenderableType]:
    """Everything that ``ventplan place`` prints."""
    from rich.text import Text

    yield Text(f"{house.name}: {answer.aim.words()}", style="bold")
    if answer.aim.kind != "cool":
        yield Text(f"As it stands, without a fan: {aim_text(answer.aim, answer.before, system)}.")
    yield from alone_view(answer.aim, answer.openings_alone, answer.plans, system)
    said: set[str] = set()
    for rank, (plan, found) in enumerate(zip(answer.plans, cautions, strict=True), start=1):
        if not plan.placements:
            yield from _cautions_of_plan(found, said)
            continue
        yield Text("")
        yield from _plan_view(house, answer.aim, rank, plan, system)
        yield from _cautions_of_plan(found, said)
    yield Text("")
    if answer.nowhere:
        yield Text(f"No place to stand was found for: {', '.join(answer.nowhere)}.")
    yield Text(f"Searched {answer.states} states: {_how_searched(answer)}", style="dim")


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
    yield Text(f"Openings alone, without a fan: {aim_text(aim, alone.value, system)}{average} ({changes}).")
    if plans and not plans[0].placements:
        yield Text(NOT_WORTH_A_FAN, style="bold")


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
    """Cautions of one plan; what to do is said once."""
    lines = []
    for caution in found:
        again = caution.do in said
        said.add(caution.do)
        lines.append(f"{caution.about}: {sentence(caution.computed)} {'See above.' if again else caution.do}")
    if lines:
        yield paragraphs("  Caution", lines)


def _plan_view(house: House, aim: Objective, rank: int, plan: Plan, system: System) -> Iterator[RenderableType]:
    lines = []
    flow = f" of the flow that airs {aim.name}" if aim.kind == "cool" else ""
    for placement, stands in zip(plan.placements, plan.stands, strict=True):
        lines.append(f"Put: {placement_line(house, placement, system)}.")
        if stands.good_from_m is not None and stands.good_to_m is not None and stands.aim_off_deg is not None:
            off = f"{'more than ' if stands.aim_off_deg >= 45.0 else ''}{stands.aim_off_deg:.0f}°"
            lines.append(
                f"From {show_length(stands.good_from_m, system)} to {show_length(stands.good_to_m, system)} back keeps "
                f"90 %{flow}; its aim may be off by {off} before 10 % is lost."
            )
    if plan.worst_room:
        lines.append(f"The worst room is then {plan.worst_room}.")
    if plan.opens:
        lines.append(f"Open: {', '.join(plan.opens)}.")
    if plan.shuts:
        lines.append(f"Shut: {', '.join(plan.shuts)}.")
    if not plan.opens and not plan.shuts:
        lines.append("Leave windows and doors as they are.")
    for placement, stands, fan in zip(plan.placements, plan.stands, plan.flow.fans, strict=True):
        through, blades = show(fan.driven_m3_s, "flow", system), show(stands.blades_m3_s, "flow", system)
        own = f"{fixed(stands.ratio, 2)} times the {blades} through the blades"
        if len(plan.placements) > 1:
            own = f"by all fans together; {blades} through the blades of {placement.fan}"
        lines.append(f"Then {through} goes through {placement.opening}, {own}.")
    lines.append(f"The same openings without a fan: {aim_text(aim, plan.without_fans, system)}.")
    if plan.passes_through:
        shares = ", ".join(f"{share:.0%} through {name}" for name, share in plan.passes_through.items())
        lines.append(
            f"On its way out, of what is in {aim.name}, {shares} passes: shut their doors, or take another plan."
        )
    if plan.power_w is not None:
        sound = "" if plan.sound_db is None else f", {show(plan.sound_db, 'sound', system)} at 1 m"
        lines.append(f"It takes {show(plan.power_w, 'power', system)}{sound}.")
    if plan.limits:
        gains = ", ".join(f"{limit.change} ({_gain_text(aim, limit.gain)})" for limit in plan.limits[:3])
        what = f"it now (% of {aim.steers_by()})" if aim.kind == "cool" else "it now"
        lines.append(f"What limits {what}: {gains}.")
    yield paragraphs(f"Plan {rank}: {aim_text(aim, plan.value, system)} ({aim.words()})", lines)


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

    yield Text(f"{house.name}: {answer.aim.words()} against {answer.cost}", style="bold")
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
    head = shown_unit("flow", system) if answer.aim.kind == "opening" else "effective/h"
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
    """Effective air changes an hour of a room or the worst room; the flow of an opening."""
    if aim.kind == "opening":
        return value
    return 3600.0 * value / (house.rooms[aim.name].volume_m3 if aim.kind == "room" else 1.0)


def _rate(house: House, aim: Objective, value: float, system: System) -> str:
    if aim.kind == "opening":
        return number(value, "flow", system)
    return rate_words(_rate_value(house, aim, value))
