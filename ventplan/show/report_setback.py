"""What a report says about the distance of a fan from its opening."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ventplan.advice import setback_curve
from ventplan.advice.ranking import sure_setback
from ventplan.errors import NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.house.shown import show
from ventplan.house.units import System
from ventplan.network.rays import fan_of
from ventplan.show.sure_tables import true_best


def setback_of(house: House, plan: Scenario, draws: int) -> tuple[Any, tuple[Any, ...]]:
    """The curve of the first fan that is set back, and how sure it is; None where there is none."""
    placement = next((p for p in plan.placements if not p.sealed), None)
    if placement is None:
        return None, ()
    as_set = replace(fan_of(house, placement), settings=())
    with_setting = replace(house, fans={**house.fans, placement.fan: as_set})
    others = replace(plan, placements=tuple(p for p in plan.placements if p is not placement))
    fan, opening, stands_in = placement.fan, placement.opening, placement.stands_in
    try:
        answer = setback_curve(with_setting, others, fan=fan, opening=opening, stands_in=stands_in)
        return answer, sure_setback(with_setting, others, answer, work=draws) if draws else ()
    except NoAnswerError:
        return None, ()


def setback_words(answer: Any, sure: tuple[Any, ...], system: System) -> str:
    """The best distances in words; empty where there is no curve."""
    if answer is None:
        return ""
    parts = []
    for curve in answer.curves:
        low, high = (show(s, "length", system) for s in (curve.good_from_m, curve.good_to_m))
        parts.append(
            f"With screens {curve.screens} the best distance is {show(curve.best_setback_m, 'length', system)}, "
            f"for {show(curve.best_flow_m3_s, 'flow', system)}; from {low} to {high} it is within a tenth of that."
        )
    for one in sure:
        low, high = (show(s, "length", system) for s in (one.best_setback.low, one.best_setback.high))
        parts.append(f"With screens {one.screens}: {true_best(one, low, high)}, nine times in ten.")
    if parts:
        parts.append(
            "These distances are for the most air through that opening; the plan above may stand the fan elsewhere, "
            "where that serves its own aim better."
        )
    return " ".join(parts)
