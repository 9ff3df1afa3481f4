"""How sure an answer is, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.intervals import FlowIntervals, Interval, Kind
from ventplan.advice.objective import Objective
from ventplan.advice.ranking import SetbackSureness, Sureness
from ventplan.house.records import Scenario
from ventplan.house.shown import show, show_length
from ventplan.house.units import System
from ventplan.network.flow import Flow
from ventplan.show.advice_tables import aim_text
from ventplan.show.tables import direction, number, paragraphs, per_hour, table

if TYPE_CHECKING:
    from rich.console import RenderableType

STILL_M3_S = 5e-3
"""Flows that stay below this in nine cases of ten are not shown [m3/s]."""
GROUPS_SHOWN = 3
TO_KNOW = {
    "discharge coefficients": "read the flow at an opening",
    "flow through blades": "measure the fan",
    "jet model": "read the flow at an opening with the fan in its place",
    "jet spread": "walk down the fan's jet with an anemometer",
    "leaks": "seal what is shut",
    "screens": "read an opening with its screen on and off",
    "shut-off pressure": "read the flow with the fan sealed in",
    "temperatures": "read a thermometer in each room",
    "thrust": "weigh the fan's thrust",
    "wind": "choose by the wind of the hour",
}
"""What to do about a doubt, by group of causes."""


def with_interval(interval: Interval, quantity: str, system: System) -> str:
    """A value with its interval, as ``0.62 m³/s (90 %: 0.51 to 0.74)``."""
    low, high = number(interval.low, quantity, system), number(interval.high, quantity, system)
    return f"{show(interval.value, quantity, system)} (90 %: {low} to {high})"


def percent(share: float) -> str:
    """A share as ``53 %``."""
    return f"{100.0 * share:.0f} %"


def doubt_line(budget: Sequence[tuple[str, float]]) -> str:
    """The largest shares of the variance in words, as ``wind 53 %, thrust 12 %``."""
    return ", ".join(f"{group} {percent(share)}" for group, share in budget[:GROUPS_SHOWN])


def flow_sure_view(scenario: Scenario, flow: Flow, sure: FlowIntervals, system: System) -> Iterator[RenderableType]:
    """What ``ventplan flow --sure`` adds: intervals of openings, rooms, fans and the house."""
    from rich.text import Text

    yield Text("")
    yield Text("How sure", style="bold")
    house_air = sure.of("air from outdoors")
    yield Text(f"Air from outdoors into the house: {with_interval(house_air, 'flow', system)}.")
    if house_air.budget:
        yield Text(f"Most of that doubt is from: {doubt_line(house_air.budget)} of the variance.")
    yield table(
        "Openings: nine true flows of ten lie between low and high",
        ("opening", "net flow goes", "net", "low", "high", "most doubt from"),
        _opening_rows(flow, sure, system),
        words=2,
    )
    rooms = [(name, sure.of("air change", name), sure.of("effective air change", name)) for name in flow.rooms]
    yield table(
        "Rooms: air changes an hour",
        ("room", "changes", "low", "high", "effective", "low", "high"),
        [(name, *_rates(changes), *_rates(effective)) for name, changes, effective in rooms],
    )
    yield from _fan_lines(scenario, sure, system)
    yield Text(_how_made(sure), style="dim")
    if any(not one.low <= one.value <= one.high for row in rooms for one in row[1:]):
        yield Text(
            "A room whose figure lies below its interval: the file has it exactly as warm as the next one, and any "
            "difference makes their door swap more air.",
            style="dim",
        )


def _rates(interval: Interval) -> tuple[str, str, str]:
    return per_hour(interval.value), per_hour(interval.low), per_hour(interval.high)


def _opening_rows(flow: Flow, sure: FlowIntervals, system: System) -> Iterator[Sequence[str]]:
    for quantity, one in zip(sure.quantities, sure.intervals, strict=True):
        if quantity.kind != "net flow" or max(abs(one.low), abs(one.high)) < STILL_M3_S:
            continue
        # Told the way the net flow goes, so that a negative end means that it may turn round.
        turned = -1.0 if one.value < 0.0 else 1.0
        low, high = sorted((turned * one.low, turned * one.high))
        cells = (number(value + 0.0, "flow", system) for value in (abs(one.value), low, high))
        yield quantity.name, direction(flow.openings[quantity.name]), *cells, doubt_line(one.budget[:1])


def _fan_lines(scenario: Scenario, sure: FlowIntervals, system: System) -> Iterator[RenderableType]:
    from rich.text import Text

    for i, placement in enumerate(scenario.placements):
        if not _has(sure, "driven flow", str(i)):
            continue
        driven, ratio = sure.of("driven flow", str(i)), sure.of("ratio", str(i))
        yield Text(
            f"{placement.fan} drives {with_interval(driven, 'flow', system)} through {placement.opening}, "
            f"{ratio.value:.2f} (90 %: {ratio.low:.2f} to {ratio.high:.2f}) times the flow through its blades."
        )


def _has(sure: FlowIntervals, kind: Kind, name: str) -> bool:
    return any(quantity.kind == kind and quantity.name == name for quantity in sure.quantities)


def _how_made(sure: FlowIntervals) -> str:
    sampled = sum(one.method == "sampled" for one in sure.intervals)
    turn = "A negative low: the flow may as well go the other way."
    if not sampled:
        return f"All intervals by derivatives, {sure.solved} states solved. {turn}"
    if sampled == len(sure.intervals):
        return f"All intervals from {sure.draws} draws of what is possible. {turn}"
    many = f"{sampled} of {len(sure.intervals)} intervals"
    return f"{many} from {sure.draws} draws of what is possible, the others by derivatives. {turn}"


def aim_with_interval(aim: Objective, interval: Interval, poor: float, system: System) -> str:
    """An aim's value with its interval and what it is in poor luck; for a time, from the shortest.

    Parameters
    ----------
    aim, interval
        The aim, and its value with its interval.
    poor
        Its value in poor luck.
    system
        Units.
    """
    ends = (interval.high, interval.low) if aim.kind == "clear" else (interval.low, interval.high)
    value, *others = (aim_text(aim, number, system) for number in (interval.value, *ends, poor))
    unit = value.partition(" ")[2]
    if all(text.partition(" ")[2] == unit for text in others):
        others = [text.partition(" ")[0] for text in others]
    low, high, in_poor_luck = others
    return f"{value} (90 %: {low} to {high}; {in_poor_luck} in poor luck)"


def plans_sure_view(sure: Sureness, system: System, *, name: str = "plan") -> Iterator[RenderableType]:
    """What ``ventplan place --sure`` adds: intervals, odds, and the plan that is good whatever happens."""
    lines = [_plan_line(sure, i, name, system) for i in range(len(sure.plans))]
    head = f"How sure: {sure.aim.words()} (from {sure.draws} draws of what is possible"
    if len(sure.plans) > 1:
        lines.append(_whatever_happens(sure, name))
        if sure.decided_by:
            first, second = (rival + 1 for rival in sorted(sure.rivals))
            lines.append(
                f"What decides between {name} {first} and {name} {second}: {doubt_line(sure.decided_by)} of the "
                f"variance. To know better: {TO_KNOW[sure.decided_by[0][0]]}."
            )
        head += f"; odds ± {percent(max(sure.odds_error(i) for i in range(len(sure.plans))))}"
    yield paragraphs(head + ")", lines)


def _plan_line(sure: Sureness, i: int, name: str, system: System) -> str:
    plan = sure.plans[i]
    told = aim_with_interval(sure.aim, plan.interval, plan.in_poor_luck, system)
    if len(sure.plans) == 1:
        return f"{name.capitalize()} {i + 1}: {told}."
    return (
        f"{name.capitalize()} {i + 1} is best in {percent(plan.best_share)} of what is possible: {told}. Choosing it "
        f"gives up {percent(plan.expected_regret)} on average, {percent(plan.worst_regret)} at worst."
    )


def _whatever_happens(sure: Sureness, name: str) -> str:
    safest, regret = sure.safest + 1, sure.least_regret + 1
    luck = "(One case in ten is worse than poor luck.)"
    if safest == regret:
        return f"Good whatever happens: {name} {safest}, best in poor luck and with the smallest worst loss. {luck}"
    return f"Good whatever happens: {name} {safest} in poor luck; {name} {regret} has the smallest worst loss. {luck}"


def true_best(one: SetbackSureness, low: str, high: str) -> str:
    """Where the true best setback lies, in words; on a flat curve it may be elsewhere than the one that is told."""
    if one.best_setback.low <= one.best_setback.value <= one.best_setback.high:
        return f"The true best lies between {low} and {high}"
    return f"The curve is flat there: the true best rather lies between {low} and {high}"


def setback_sure_view(sure: Sequence[SetbackSureness], system: System) -> Iterator[RenderableType]:
    """What ``ventplan setback --sure`` adds."""
    lines = []
    for one in sure:
        low, high = (show_length(end, system) for end in (one.best_setback.low, one.best_setback.high))
        lines.append(
            f"Screens {one.screens}: {with_interval(one.flow, 'flow', system)} at "
            f"{show_length(one.best_setback.value, system)} back. {true_best(one, low, high)} (90 %); this one gives "
            f"{percent(one.kept)} of what the true best would, on average."
        )
        lines.append(f"Most of the doubt in that flow is from: {doubt_line(one.flow.budget)} of the variance.")
    yield paragraphs(f"How sure (from {sure[0].draws} draws)", lines)
