"""Setback curves and scenarios side by side, and how certain an answer is, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.comparison import Comparison, Difference, Sureness, outdoor_air
from ventplan.advice.intervals import FlowIntervals, Interval, Kind
from ventplan.advice.objective import Objective
from ventplan.advice.setback import SetbackAnswer, SetbackCurve, SetbackSureness
from ventplan.house.records import House, Scenario
from ventplan.house.units import System, fixed, show, shown_unit
from ventplan.network.flow import Flow
from ventplan.show.cautions import cautions_view
from ventplan.show.flow_tables import MIN_REPORTED_FLOW_M3_S, assumed_line
from ventplan.show.instructions import stance
from ventplan.show.place_tables import aim_text
from ventplan.show.tables import (
    direction,
    number,
    objective_words,
    paragraphs,
    percent,
    rate_words,
    show_setback,
    table,
    upper_first,
    weather_line,
)

if TYPE_CHECKING:
    from rich.console import RenderableType


BAR = 28
"""Width of the bars that sketch a curve [characters]."""


def setback_view(house: House, answer: SetbackAnswer, system: System, *, details: bool) -> Iterator[RenderableType]:
    """Everything that ``ventplan setback`` prints."""
    from rich.text import Text

    for curve in answer.curves:
        yield Text(_best_line(house, answer, curve, system), style="bold")
    blades, without = show(answer.blades_m3_s, "flow", system), answer.curves[0].without_m3_s
    against = "hardly any air moves there"
    if abs(without) >= MIN_REPORTED_FLOW_M3_S:
        against = f"{show(abs(without), 'flow', system)} goes {'the same' if without > 0.0 else 'the other'} way"
    yield Text(f"Scenario: {answer.scenario}. Through the fan's blades: {blades}. Without the fan, {against}.")
    if answer.shut_in:
        yield Text(
            "Every other opening to outdoors is shut in this scenario, so hardly any air can follow. Name another "
            "scenario with --scenario, or open a window in this one."
        )
    if len(answer.stands) > 1:
        places = " and ".join(
            f"from {show_setback(one.low_m, system)} to {show_setback(one.high_m, system)}" for one in answer.stands
        )
        yield Text(f"The fan can stand {places} from the opening; in between there is an obstacle.")
    for curve in answer.curves:
        if curve.wins:
            yield _curve_table(answer, curve, system, every=1 if details else 2)


def _best_line(house: House, answer: SetbackAnswer, curve: SetbackCurve, system: System) -> str:
    ratio = curve.best_flow_m3_s / answer.blades_m3_s
    fan = upper_first(answer.fan) if len(answer.curves) == 1 else f"Screens {curve.screens}: {answer.fan}"
    how = "".join(f", {part}" for part in stance(house, curve.best, system))
    if not curve.wins:
        against = show(-curve.best_flow_m3_s, "flow", system)
        return (
            f"{fan} in {answer.stands_in} is too weak at {answer.opening}: {against} comes in against it however far "
            "back it stands. Turn it round, or choose an opening on the side away from the wind."
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
        rows.append((padded, show_setback(setback, system), number(flow, "flow", system), fixed(ratio, 2)))
    title = f"Flow through {answer.opening} by setback, screens {curve.screens}"
    return table(title, ("| flow through the blades", "setback", shown_unit("flow", system), "flow/blades"), rows)


def compare_view(
    house: House, states: Sequence[Scenario], comparison: Comparison, assumed: Sequence[str], system: System
) -> Iterator[RenderableType]:
    """Everything that ``ventplan compare`` prints: one column a scenario.

    `assumed` are the rooms whose figures rest mostly on the exchange assumed at open inner doors.
    """
    from rich.text import Text

    names = [one.scenario for one in comparison.scenarios]
    flows = [one.flow for one in comparison.scenarios]
    first = outdoor_air(flows[0])
    heads = [chr(ord("A") + i) for i in range(len(names))]
    totals = [outdoor_air(flow) for flow in flows]
    yield Text(f"{house.name}: outdoor air that enters the house", style="bold")
    for i, (head, name) in enumerate(zip(heads, names, strict=True)):
        against = f", {fixed(totals[i] / first, 2)} times A" if i and first > 1e-9 else ""
        yield Text(f"  {head}  {name}: {show(totals[i], 'flow', system)}{against}")
    weather = [weather_line(house, state, system) for state in states]
    if len(set(weather)) == 1:
        yield Text(f"Weather: {weather[0]}.")
    else:
        yield paragraphs("Weather", (f"{head}: {line}" for head, line in zip(heads, weather, strict=True)))
    yield table(
        "Outdoor air changes an hour",
        ("room", *heads),
        [
            (room, *(rate_words(one.outdoor_air_change_per_h.get(room, 0.0)) for one in comparison.scenarios))
            for room in house.rooms
        ],
    )
    if assumed:
        yield Text(assumed_line(assumed), style="dim")
    busy = [
        name
        for name in house.openings
        if any(abs(f.openings[name].net_m3_s) >= MIN_REPORTED_FLOW_M3_S for f in flows if name in f.openings)
    ]
    rows = []
    for name in busy:
        a, b = house.openings[name].joins
        net = [f.openings[name].net_m3_s if name in f.openings else None for f in flows]
        if next((value for value in net if value), 0.0) < 0.0:  # Each row goes the way of the first scenario's air.
            a, b, net = b, a, [None if value is None else -value for value in net]
        cells = ["–" if value is None else number(value + 0.0, "flow", system) for value in net]
        rows.append((name, f"{a} to {b}", *cells))
    yield table(
        f"Net flow at openings ({shown_unit('flow', system)}; negative: the other way)",
        ("opening", "from, to", *heads),
        rows,
        words=2,
    )
    ratios = [_ratios(flow) for flow in flows]
    if fans := list(dict.fromkeys(fan for each in ratios for fan in each)):
        rows = [(fan, *(fixed(each[fan], 2) if fan in each else "–" for each in ratios)) for fan in fans]
        yield table("Fans: flow through the opening divided by flow through the blades", ("", *heads), rows)
    if comparison.differences:
        yield paragraphs(
            "What explains the difference from A (each change made alone)",
            (
                f"{heads[names.index(d.scenario)]}, {difference_words(d)}: {'+' if d.flow_m3_s >= 0.0 else ''}"
                f"{show(d.flow_m3_s, 'flow', system)} of outdoor air"
                for d in comparison.differences
            ),
        )
    yield from cautions_view(
        {head: one.cautions for head, one in zip(heads, comparison.scenarios, strict=True)}, system
    )


def _ratios(flow: Flow) -> dict[str, float]:
    """Flow through the opening over that through the blades, by fan; of several of one name, with a number."""
    found: dict[str, float] = {}
    for fan in flow.fans:
        count = sum(name.partition(" (")[0] == fan.name for name in found)
        found[f"{fan.name} ({count + 1})" if count else fan.name] = fan.ratio
    return found


def difference_words(difference: Difference) -> str:
    """What is changed from the first scenario, in words."""
    opened, shut = ", ".join(difference.opened), ", ".join(difference.shut)
    match difference.change:
        case "openings":
            return "; ".join([f"open {opened}"] * bool(opened) + [f"shut {shut}"] * bool(shut))
        case "screens":
            return "; ".join([f"screens off at {opened}"] * bool(opened) + [f"screens on at {shut}"] * bool(shut))
        case "fans":
            return f"fans as in {difference.scenario}"
        case "weather":
            return f"weather and temperatures as in {difference.scenario}"


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
    yield Text(f"Where the interval begins below zero, the flow may go the other way. {_how_made(sure)}", style="dim")


def _rates(interval: Interval) -> tuple[str, str, str]:
    return rate_words(interval.value), rate_words(interval.low), rate_words(interval.high)


def _opening_rows(flow: Flow, sure: FlowIntervals, system: System) -> Iterator[Sequence[str]]:
    for quantity, one in zip(sure.quantities, sure.intervals, strict=True):
        if quantity.kind != "net flow" or max(abs(one.low), abs(one.high)) < MIN_REPORTED_FLOW_M3_S:
            continue
        # Positive in the direction of the net flow, so a negative end means that the flow may reverse.
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
        f"How certain: {objective_words(sure.objective)} ({sure.draws} random cases within the uncertainties)", lines
    )


def _plan_line(sure: Sureness, i: int, name: str, system: System) -> str:
    plan = sure.plans[i]
    value = aim_with_interval(sure.objective, plan.interval, plan.unfavourable, system)
    if len(sure.plans) == 1:
        return f"{name.capitalize()} {i + 1}: {value}."
    error = percent(sure.probability_error(i))
    return (
        f"{name.capitalize()} {i + 1}: {value}. Probability of being the best: {percent(plan.best_share)} ± {error}; "
        f"choosing it loses {percent(plan.expected_regret)} on average and {percent(plan.worst_regret)} at worst."
    )


def _most_robust(sure: Sureness, name: str) -> str:
    safest, regret = sure.safest + 1, sure.least_regret + 1
    if safest == regret:
        return f"Most robust: {name} {safest}, best in unfavourable cases and with the smallest worst loss."
    return f"Most robust: {name} {safest} in unfavourable cases; {name} {regret} has the smallest worst loss."


def true_best(one: SetbackSureness, low: str, high: str) -> str:
    """Where the true best setback lies; on a flat curve the computed one may lie outside."""
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
