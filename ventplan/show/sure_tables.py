"""How certain an answer is, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.comparison import Sureness
from ventplan.advice.intervals import FlowIntervals, Interval, Kind
from ventplan.advice.objective import Objective
from ventplan.advice.setback import SetbackSureness
from ventplan.house.records import Scenario
from ventplan.house.units import System, fixed, show, shown_unit
from ventplan.network.flow import Flow
from ventplan.show.advice_tables import aim_text
from ventplan.show.flow_tables import MIN_REPORTED_FLOW_M3_S
from ventplan.show.objective_words import objective_words
from ventplan.show.tables import direction, number, paragraphs, rate_words, show_setback, table, upper_first

if TYPE_CHECKING:
    from rich.console import RenderableType

GROUPS_SHOWN = 3
TO_KNOW = {
    "discharge coefficients": "read the flow at an opening",
    "flow through blades": "measure the fan",
    "jet model": "read the flow at an opening with the fan in its place",
    "jet spread": "walk down the fan's jet with an anemometer",
    "leaks": "seal the cracks of what is shut",
    "screens": "read an opening with its screen on and off",
    "shut-off pressure": "read the flow with the fan sealed in",
    "temperatures": "read a thermometer in each room",
    "thrust": "measure the fan's thrust on scales",
    "wind": "use the wind of the hour",
}
"""What reduces an uncertainty, by group of causes."""


def with_interval(interval: Interval, quantity: str, system: System) -> str:
    """A value with its interval, as ``0.62 m³/s, between 0.51 and 0.74 (90 %)``."""
    low, high = number(interval.low, quantity, system), number(interval.high, quantity, system)
    return f"{show(interval.value, quantity, system)}, between {low} and {high} (90 %)"


def percent(share: float) -> str:
    """A share as ``53 %``."""
    return f"{100.0 * share:.0f} %"


def doubt_line(budget: Sequence[tuple[str, float]]) -> str:
    """The largest causes of the uncertainty, as ``Main causes of uncertainty: wind (53 %), thrust (12 %)``."""
    causes = ", ".join(f"{group} ({percent(share)})" for group, share in budget[:GROUPS_SHOWN])
    return f"Main causes of uncertainty: {causes}"


def flow_sure_view(scenario: Scenario, flow: Flow, sure: FlowIntervals, system: System) -> Iterator[RenderableType]:
    """What ``ventplan flow --sure`` adds: intervals of the house, rooms, openings and fans."""
    from rich.text import Text

    yield Text("")
    house_air = sure.of("air from outdoors")
    yield Text(f"How certain: outdoor air {with_interval(house_air, 'flow', system)}.", style="bold")
    if house_air.budget:
        yield Text(f"{doubt_line(house_air.budget)}.")
    yield table(
        "Outdoor air changes/h with the 90 % interval",
        ("room", "value", "from", "to"),
        [(name, *_rates(sure.of("outdoor air change", name))) for name in flow.rooms],
    )
    yield table(
        f"Net flow at openings ({shown_unit('flow', system)}) with the 90 % interval",
        ("opening", "net flow goes", "value", "from", "to", "most uncertain"),
        _opening_rows(flow, sure, system),
        words=2,
    )
    yield from _fan_lines(scenario, sure, system)
    yield Text(
        f"A negative end: the flow may go the other way. {_how_made(sure)}",
        style="dim",
    )


def _rates(interval: Interval) -> tuple[str, str, str]:
    return rate_words(interval.value), rate_words(interval.low), rate_words(interval.high)


def _opening_rows(flow: Flow, sure: FlowIntervals, system: System) -> Iterator[Sequence[str]]:
    for quantity, one in zip(sure.quantities, sure.intervals, strict=True):
        if quantity.kind != "net flow" or max(abs(one.low), abs(one.high)) < MIN_REPORTED_FLOW_M3_S:
            continue
        # Signs count the way the net flow goes, so a negative end means that it may turn round.
        turned = -1.0 if one.value < 0.0 else 1.0
        low, high = sorted((turned * one.low, turned * one.high))
        cells = (number(value + 0.0, "flow", system) for value in (abs(one.value), low, high))
        yield quantity.name, direction(flow.openings[quantity.name]), *cells, one.budget[0][0] if one.budget else ""


def _fan_lines(scenario: Scenario, sure: FlowIntervals, system: System) -> Iterator[RenderableType]:
    from rich.text import Text

    for i, placement in enumerate(scenario.placements):
        if not _has(sure, "driven flow", str(i)):
            continue
        driven, ratio = sure.of("driven flow", str(i)), sure.of("ratio", str(i))
        yield Text(
            f"{upper_first(placement.fan)}: {with_interval(driven, 'flow', system)} through {placement.opening}; "
            f"{fixed(ratio.value, 2)} times the flow through its blades, "
            f"between {fixed(ratio.low, 2)} and {fixed(ratio.high, 2)}."
        )


def _has(sure: FlowIntervals, kind: Kind, name: str) -> bool:
    return any(quantity.kind == kind and quantity.name == name for quantity in sure.quantities)


def _how_made(sure: FlowIntervals) -> str:
    sampled = sum(one.method == "sampled" for one in sure.intervals)
    if not sampled:
        return f"Intervals from derivatives; {sure.solved} cases solved."
    if sampled == len(sure.intervals):
        return f"Intervals from {sure.draws} random cases within the stated uncertainties."
    return f"Intervals from {sure.draws} random cases ({sampled} of {len(sure.intervals)}) and from derivatives."


def aim_with_interval(aim: Objective, interval: Interval, poor: float, system: System) -> str:
    """An objective's value with its interval and its value in an unfavourable case.

    Parameters
    ----------
    aim, interval
        The objective, and its value with its interval.
    poor
        Its value in an unfavourable case: one case in ten is worse.
    system
        Units.
    """
    ends = (interval.high, interval.low) if aim.kind == "clear" else (interval.low, interval.high)
    value, *others = (aim_text(aim, number, system) for number in (interval.value, *ends, poor))
    unit = value.partition(" ")[2]
    if all(text.partition(" ")[2] == unit for text in others):
        others = [text.partition(" ")[0] for text in others]
    low, high, worse = others
    return f"{value}, between {low} and {high} (90 %); one case in ten is worse than {worse}"


def plans_sure_view(sure: Sureness, system: System, *, name: str = "plan") -> Iterator[RenderableType]:
    """What ``ventplan place --sure`` adds: intervals, the probability of being best, and the most robust plan."""
    lines = [_plan_line(sure, i, name, system) for i in range(len(sure.plans))]
    if len(sure.plans) > 1:
        lines.append(_most_robust(sure, name))
        if sure.decided_by:
            first, second = (rival + 1 for rival in sorted(sure.rivals))
            causes = ", ".join(f"{group} ({percent(share)})" for group, share in sure.decided_by[:GROUPS_SHOWN])
            lines.append(
                f"Whether {name} {first} or {second} is better depends mostly on: {causes}. To find out: "
                f"{TO_KNOW[sure.decided_by[0][0]]}."
            )
    yield paragraphs(
        f"How certain: {objective_words(sure.aim)} ({sure.draws} random cases within the uncertainties)", lines
    )


def _plan_line(sure: Sureness, i: int, name: str, system: System) -> str:
    plan = sure.plans[i]
    told = aim_with_interval(sure.aim, plan.interval, plan.unfavourable, system)
    if len(sure.plans) == 1:
        return f"{name.capitalize()} {i + 1}: {told}."
    error = percent(sure.probability_error(i))
    return (
        f"{name.capitalize()} {i + 1}: {told}. Probability of being the best: {percent(plan.best_share)} ± {error}; "
        f"choosing it loses {percent(plan.expected_regret)} on average and {percent(plan.worst_regret)} at worst."
    )


def _most_robust(sure: Sureness, name: str) -> str:
    safest, regret = sure.safest + 1, sure.least_regret + 1
    if safest == regret:
        return f"Most robust: {name} {safest}, best in unfavourable cases and with the smallest worst loss."
    return f"Most robust: {name} {safest} in unfavourable cases; {name} {regret} has the smallest worst loss."


def true_best(one: SetbackSureness, low: str, high: str) -> str:
    """Where the true best setback lies, in words; on a flat curve the one that is shown may lie outside."""
    if one.best_setback.low <= one.best_setback.value <= one.best_setback.high:
        return f"The true best lies between {low} and {high}"
    return f"The curve is flat here: the true best lies more likely between {low} and {high}"


def setback_sure_view(sure: Sequence[SetbackSureness], system: System) -> Iterator[RenderableType]:
    """What ``ventplan setback --sure`` adds."""
    lines = []
    for one in sure:
        low, high = (show_setback(end, system) for end in (one.best_setback.low, one.best_setback.high))
        lines.append(
            f"Screens {one.screens}: {with_interval(one.flow, 'flow', system)}, at "
            f"{show_setback(one.best_setback.value, system)}. {true_best(one, low, high)} (90 %); this setback gives "
            f"{percent(one.kept)} of what the true best would, on average. {doubt_line(one.flow.budget)}."
        )
    yield paragraphs(f"How certain ({sure[0].draws} random cases within the uncertainties)", lines)
