"""Setback curves, placements and comparisons for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.aims import Aim
from ventplan.advice.compare import Comparison, outdoor_air
from ventplan.advice.plans import PlaceAnswer, Plan
from ventplan.advice.setback import SetbackAnswer, SetbackCurve
from ventplan.house.records import House
from ventplan.house.shown import show, show_length, shown_unit
from ventplan.house.units import System
from ventplan.show.flow_tables import caution_view, number, per_hour, placement_line, shown_change_rate
from ventplan.show.tables import paragraphs, table

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.airing.cautions import Caution

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
    for curve in answer.curves:
        yield Text("")
        yield Text(_best_line(answer, curve, system))
        yield _curve_table(answer, curve, system)


def _best_line(answer: SetbackAnswer, curve: SetbackCurve, system: System) -> str:
    ratio = curve.best_flow_m3_s / answer.blades_m3_s
    return (
        f"Screens {curve.screens}: best {show_length(curve.best_setback_m, system)} back, "
        f"{show(curve.best_flow_m3_s, 'flow', system)} through the opening, {ratio:.2f} times the fan's own flow; "
        f"at least 90 % of that from {show_length(curve.good_from_m, system)} to "
        f"{show_length(curve.good_to_m, system)}."
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
        rows.append((padded, show_length(setback, system), number(flow, "flow", system), f"{ratio:.2f}"))
    return table("", ("| the fan's own flow", "setback", shown_unit("flow", system), "ratio"), rows)


def aim_text(aim: Aim, value: float, system: System) -> str:
    """The value of an aim as people read it."""
    return shown_change_rate(value) if aim.kind == "house" else show(value, "flow", system)


def place_view(
    house: House, answer: PlaceAnswer, cautions: Sequence[Sequence[Caution]], system: System
) -> Iterator[RenderableType]:
    """Everything that ``ventplan place`` prints."""
    from rich.text import Text

    yield Text(f"{house.name}: {answer.aim.words()}", style="bold")
    yield Text(f"As it stands, without a fan: {aim_text(answer.aim, answer.before, system)}.")
    for rank, plan in enumerate(answer.plans, start=1):
        yield Text("")
        yield from _plan_view(house, answer.aim, rank, plan, system)
        yield from caution_view(cautions[rank - 1])
    yield Text("")
    if answer.nowhere:
        yield Text(f"No place to stand was found for: {', '.join(answer.nowhere)}.")
    how = (
        "every set of windows and outside doors with every placement"
        if answer.exhaustive
        else "the sets of openings are too many to try them all; these are the best found"
    )
    yield Text(f"Searched {answer.states} states: {how}; setback settled as a continuous optimum.", style="dim")


def _plan_view(house: House, aim: Aim, rank: int, plan: Plan, system: System) -> Iterator[RenderableType]:
    lines = [f"Put: {placement_line(house, plan.placement, system)}."]
    if plan.opens:
        lines.append(f"Open: {', '.join(plan.opens)}.")
    if plan.shuts:
        lines.append(f"Shut: {', '.join(plan.shuts)}.")
    if not plan.opens and not plan.shuts:
        lines.append("Leave windows and doors as they are.")
    through = plan.flow.fans[0].driven_m3_s
    lines.append(
        f"Then {show(through, 'flow', system)} goes through {plan.placement.opening}, "
        f"{plan.ratio:.2f} times the {show(plan.blades_m3_s, 'flow', system)} through the blades."
    )
    if plan.good_from_m is not None and plan.good_to_m is not None and plan.aim_off_deg is not None:
        lines.append(
            f"From {show_length(plan.good_from_m, system)} to {show_length(plan.good_to_m, system)} back keeps 90 % "
            f"of the aim; the aim may be off by {plan.aim_off_deg:.0f}° before 10 % is lost."
        )
    if plan.limits:
        gains = ", ".join(f"{limit.change} ({limit.gain:+.0%})" for limit in plan.limits[:3])
        lines.append(f"What limits it now: {gains}.")
    yield paragraphs(f"Plan {rank}: {aim_text(aim, plan.value, system)} ({aim.words()})", lines)


def compare_view(house: House, comparison: Comparison, system: System) -> Iterator[RenderableType]:
    """Everything that ``ventplan compare`` prints: one column a scenario."""
    from rich.text import Text

    names = [one.scenario for one in comparison.scenarios]
    flows = [one.flow for one in comparison.scenarios]
    first = outdoor_air(flows[0])
    yield Text(f"{house.name}: {len(names)} scenarios", style="bold")
    for i, name in enumerate(names):
        yield Text(f"  {chr(ord('A') + i)}  {name}")
    heads = [chr(ord("A") + i) for i in range(len(names))]
    unit = shown_unit("flow", system)
    busy = [n for n in house.openings if any(abs(f.openings[n].net_m3_s) >= 5e-4 for f in flows if n in f.openings)]
    rows = []
    for name in busy:
        a, b = house.openings[name].joins
        cells = [number(f.openings[name].net_m3_s, "flow", system) if name in f.openings else "–" for f in flows]
        rows.append((name, f"{a} to {b}", *cells))
    yield table(
        f"Net flow at openings ({unit}), negative for the other way", ("opening", "from, to", *heads), rows, words=2
    )
    yield table(
        "Fresh air changes an hour (1 / age of air)",
        ("room", *heads),
        [
            (room, *(per_hour(one.fresh_air_change_per_h.get(room, 0.0)) for one in comparison.scenarios))
            for room in house.rooms
        ],
    )
    totals = [outdoor_air(flow) for flow in flows]
    rows = [("air from outdoors, " + unit, *(number(total, "flow", system) for total in totals))]
    if first > 1e-9:
        rows.append(("against A", *(f"{total / first:.2f}" for total in totals)))
    for index in range(max(len(flow.fans) for flow in flows)):
        cells = [f"{flow.fans[index].ratio:.2f}" if index < len(flow.fans) else "–" for flow in flows]
        rows.append((f"fan {index + 1}: opening over blades", *cells))
    yield table("House", ("", *heads), rows)
    if comparison.differences:
        yield paragraphs(
            "What explains the difference from A (each change made alone)",
            (
                f"{heads[names.index(d.scenario)]}: {d.change}: {show(d.flow_m3_s, 'flow', system)} "
                "of air from outdoors"
                for d in comparison.differences
            ),
        )
