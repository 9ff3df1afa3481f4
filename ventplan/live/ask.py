"""The questions that a page asks about a state: each one call of the library."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from ventplan.errors import InputError, NoAnswerError
from ventplan.house import House, Placement, Scenario
from ventplan.house.shown import show, shown_number, shown_unit
from ventplan.house.units import System
from ventplan.live.answers import caution_words, comparison_words, numbers, rate
from ventplan.live.page import weather_words
from ventplan.live.state import scenario_of, state_of
from ventplan.network.flow import Flow

MOST_FANS = 3
"""Fans that the search can place together."""


def solved(house: House, scenario: Scenario, system: System, near: Flow | None = None) -> tuple[Flow, dict[str, Any]]:
    """The solution, and its numbers, while something is dragged; ``near`` is the solution before."""
    if not house.rooms:
        raise NoAnswerError("no rooms yet: draw the first one")
    flow, found = numbers(house, scenario, system, near)
    return flow, found | {"weather": weather_words(scenario, system)}


def pictured(house: House, scenario: Scenario, system: System) -> dict[str, Any]:
    """What takes longer than a drag may wait for: the ways of the air through the rooms, and cautions."""
    from ventplan.show.plan_air import streams_of
    from ventplan.show.plan_storeys import storeys_of

    flow, found = numbers(house, scenario, system)
    streams = [
        [
            {"points": s.points, "width_m": s.width_m, "start": s.start, "end": s.end, "flow_m3_s": s.flow_m3_s}
            for s in streams_of(house, scenario, flow, storey)
        ]
        for storey in storeys_of(house, system)
    ]
    return found | {
        "weather": weather_words(scenario, system),
        "streams": streams,
        "cautions": caution_words(house, scenario, flow, system),
    }


def curve(house: House, scenario: Scenario, fan: str, system: System) -> dict[str, Any]:
    """The setback curve of one running fan, screens on and off, in the reader's units.

    Raises
    ------
    InputError
        Where that fan is not set back in this state.
    """
    from ventplan.advice import setback_curve

    placement = next((p for p in scenario.placements if p.fan == fan), None)
    if placement is None or placement.sealed:
        raise InputError(f"{fan} is not set back from an opening here")
    answer = setback_curve(house, scenario, fan=fan, opening=placement.opening, stands_in=placement.stands_in)
    return {
        "fan": fan,
        "opening": placement.opening,
        "stands_in": placement.stands_in,
        "blades": shown_number(answer.blades_m3_s, "flow", system),
        "units": [shown_unit("length", system), shown_unit("flow", system)],
        "metre": shown_number(1.0, "length", system),
        "flow_unit": shown_number(1.0, "flow", system),
        "curves": [
            {
                "screens": c.screens,
                "setback": [shown_number(s, "length", system) for s in c.setback_m],
                "flow": [shown_number(q, "flow", system) for q in c.flow_m3_s],
                "best": [
                    shown_number(c.best_setback_m, "length", system), shown_number(c.best_flow_m3_s, "flow", system)
                ],
                "words": f"screens {c.screens}: best {show(c.best_setback_m, 'length', system)} back, "
                f"{show(c.best_flow_m3_s, 'flow', system)}; good from {show(c.good_from_m, 'length', system)} "
                f"to {show(c.good_to_m, 'length', system)}",
            }
            for c in answer.curves
        ],
    }  # fmt: skip


def better_place(
    house: House, scenario: Scenario, question: Mapping[str, Any], system: System, progress: Callable[[int, int], None]
) -> dict[str, Any]:
    """Search for the best places of fans; the other fans of the state are left out, as the search does.

    Parameters
    ----------
    house, scenario
        The house and its state.
    question
        ``aim`` (``house``, ``room``, ``clear`` or ``opening``), ``name``, ``fan`` (empty for any), and ``count`` of the
        fans that run together.
    system
        Units of the texts.
    progress
        Called with states done and to do.
    """
    from ventplan.advice import place

    kind, name = question.get("aim", "house"), question.get("name") or ""
    together = min(max(int(question.get("count") or 1), 1), MOST_FANS)
    answer = place(
        house,
        scenario,
        target=name if kind == "opening" else None,
        room=name if kind == "room" else None,
        clear=name if kind == "clear" else None,
        whole_house=kind == "house",
        fans=[question["fan"]] if question.get("fan") and together == 1 else None,
        fans_at_once=together,
        progress=progress,
    )

    def value(number: float) -> str:
        if kind == "clear":
            return show(1.0 / number if number > 0.0 else math.inf, "time", system)
        return rate(3600.0 * number) if kind == "house" else show(number, "flow", system)

    plans = []
    for plan in answer.plans:
        stands = plan.stands
        good = [
            f"{p.fan}: {show(s.good_from_m, 'length', system)} to {show(s.good_to_m, 'length', system)} back, "
            f"the aim within {s.aim_off_deg:.0f}°"
            for p, s in zip(plan.scenario.placements, stands, strict=False)
            if s.good_from_m is not None and s.good_to_m is not None and s.aim_off_deg is not None
        ]
        plans.append(
            {
                "state": state_of(plan.scenario),
                "title": "; ".join(f"{p.fan} {where_words(p, system)}" for p in plan.scenario.placements)
                or "windows only",
                "value": value(plan.value),
                "opens": plan.opens,
                "shuts": plan.shuts,
                "good": good,
                "limits": [f"{limit.change}: {limit.gain:+.0%}" for limit in plan.limits],
                "cautions": caution_words(house, plan.scenario, plan.flow, system),
            }
        )
    return {
        "aim": answer.aim.words(),
        "before": value(answer.before),
        "plans": plans,
        "states": answer.states,
        "exhaustive": answer.exhaustive,
        "nowhere": answer.nowhere,
    }


def where_words(placement: Placement, system: System) -> str:
    """Where a fan stands, in plain words."""
    if placement.sealed:
        return f"sealed in {placement.opening}"
    back = show(placement.setback_m, "length", system)
    return f"in {placement.stands_in}, {back} back from {placement.opening}"


def side_by_side(house: House, first: Scenario, second: Scenario, system: System) -> dict[str, Any]:
    """Two states held side by side."""
    from ventplan.advice import compare

    if first.name == second.name:
        first = replace(first, name=f"{first.name}, as changed")
    return comparison_words(compare(house, [first, second]), system) | {
        "second": pictured(house, second, system),
        "second_state": state_of(second),
    }


def state_in_hand(house: House, asked: Mapping[str, Any]) -> Scenario:
    """The scenario that a request is about, with the page's own changes."""
    return scenario_of(house, str(asked.get("scenario", "")), asked.get("state"))
