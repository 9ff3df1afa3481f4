"""Answers to the page: the numbers and words of a solved state, setback curve, search, comparison, readings, report."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from ventplan.advice.comparison import outdoor_air
from ventplan.airing.age import outdoor_air_change_rates_per_h
from ventplan.airing.hazards import find_hazards
from ventplan.errors import InputError, InvalidValue, NoAnswerError
from ventplan.house import House, Placement, Scenario
from ventplan.house.fields import nearest
from ventplan.house.units import System, UnitError, parse_quantity, show, shown_number, shown_unit
from ventplan.live.drawing import air_of_storey, arrows, jets, opening_labels, standing_strip, symbols, tints
from ventplan.live.page import weather_words
from ventplan.live.scenario_edits import state_of
from ventplan.measure.anemometer import uncalibrated
from ventplan.measure.house_readings import MODEL_ERROR
from ventplan.network import solve
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.network.jets import fan_of
from ventplan.show.cautions import cautions_of
from ventplan.show.comparison_tables import difference_words
from ventplan.show.plan_notes import rate_label
from ventplan.show.plan_storeys import storeys_of
from ventplan.show.tables import bottleneck_words, objective_words

MIN_REPORTED_FLOW_M3_S = 5e-4
"""A weaker flow is reported as no flow [m3/s]."""


def solved(
    house: House, scenario: Scenario, system: System, asked: Mapping[str, Any], near: Flow | None = None
) -> tuple[Flow | None, dict[str, Any]]:
    """Solve a state, and give what the page shows during a drag.

    Parameters
    ----------
    house, scenario
        The house and its state.
    system
        Units of the texts.
    asked
        ``tint``, and ``symbols``: names of the openings whose symbols the page does not have yet.
    near
        The solution before, to start from.

    Returns
    -------
    tuple
        The solution and what the page draws. A state without an answer has no solution, and ``none`` says why.
    """
    found: dict[str, Any] = {
        "symbols": symbols(house, scenario, map(str, asked.get("symbols") or ())),
        "weather": weather_words(scenario, system),
    }
    try:
        if not house.rooms:
            raise NoAnswerError("no rooms yet: draw the first one")
        flow = solve(house, scenario, near=near)
    except NoAnswerError as error:
        return None, found | {"none": str(error)}
    fresh = outdoor_air_change_rates_per_h(house, scenario, flow)
    return flow, found | {
        "openings": {name: opening_words(o, system) for name, o in flow.openings.items()},
        "rooms": {
            name: {
                "outdoor": rate_label(fresh.get(name, 0.0)),
                "total": rate_label(room.air_change_per_h),
                "pressure": show(room.pressure_pa, "pressure", system),
            }
            for name, room in flow.rooms.items()
        },
        "fans": _fans(house, scenario, flow, system),
        "jets": jets(house, scenario),
        "arrows": arrows(house, scenario, flow),
        "tints": tints(house, scenario, flow, str(asked.get("tint")), system, fresh),
        "labels": opening_labels(house, scenario, flow, system),
        "total_m3_s": outdoor_air(flow),
        "total": show(outdoor_air(flow), "flow", system),
        "isolated_rooms": list(flow.isolated_rooms),
        "in_line": list(flow.in_line),
    }


def pictured(house: House, scenario: Scenario, system: System, asked: Mapping[str, Any]) -> dict[str, Any]:
    """All of `solved`, and what takes too long for a drag: the paths of the air through the rooms, and cautions."""
    flow, found = solved(house, scenario, system, asked)
    if flow is None:
        return found
    return found | {
        "streams": [air_of_storey(house, scenario, flow, storey, system) for storey in storeys_of(house, system)],
        "cautions": caution_words(house, scenario, flow, system),
    }


def opening_words(flow: OpeningFlow, system: System) -> dict[str, Any]:
    """The air of one opening in numbers and words."""
    total = flow.forward_m3_s + flow.backward_m3_s
    weaker = min(flow.forward_m3_s, flow.backward_m3_s)
    first, second = flow.joins if flow.net_m3_s >= 0.0 else reversed(flow.joins)
    if total < MIN_REPORTED_FLOW_M3_S:
        words = "no flow"
    elif weaker > max(0.05 * total, MIN_REPORTED_FLOW_M3_S):
        forward, backward = (show(q, "flow", system) for q in (flow.forward_m3_s, flow.backward_m3_s))
        words = f"both ways: {forward} to {flow.joins[1]}, {backward} to {flow.joins[0]}"
    else:
        words = f"{show(abs(flow.net_m3_s), 'flow', system)} from {first} to {second}"
    reading = flow.reading_m_s
    parts = (("wind", flow.wind_m3_s), ("stack", flow.stack_m3_s), ("fans", flow.fan_m3_s))
    return {
        "forward_m3_s": flow.forward_m3_s,
        "backward_m3_s": flow.backward_m3_s,
        "free": show(flow.free_area_m2, "area", system),
        "flow": show(abs(flow.net_m3_s), "flow", system),
        "words": words,
        "pressure": show(flow.dp_pa, "pressure", system),
        "reading_m_s": reading,
        "reading": show(reading, "speed", system) if reading is not None and flow.free_area_m2 > 0.0 else "–",
        "driven": ", ".join(
            f"{name} {show(q, 'flow', system)}" for name, q in parts if abs(q) > MIN_REPORTED_FLOW_M3_S
        ),
    }


def _fans(house: House, scenario: Scenario, flow: Flow, system: System) -> list[dict[str, Any]]:
    driven = {(f.name, f.opening): f for f in flow.fans}
    rows = []
    for placement in scenario.placements:
        fan, found = fan_of(house, placement), driven.get((placement.fan, placement.opening))
        rows.append(
            {
                "fan": placement.fan,
                "opening": placement.opening,
                "driven": show(found.driven_m3_s, "flow", system) if found else "–",
                "driven_m3_s": found.driven_m3_s if found else None,
                "blades": show(fan.flow_m3_s, "flow", system),
                "ratio": show(found.ratio, "share", system) if found else "–",
                "power": show(fan.power_w, "power", system) if fan.power_w is not None else "–",
                "sound": show(fan.sound_db, "sound", system) if fan.sound_db is not None else "–",
                "setback": "sealed in" if placement.sealed else show(placement.setback_m, "length", system),
            }
        )
    return rows


def caution_words(house: House, scenario: Scenario, flow: Flow, system: System) -> list[dict[str, str]]:
    """The cautions that a state causes."""
    return [
        {"about": c.about, "computed": c.computed, "do": c.do, "source": c.source}
        for c in cautions_of(find_hazards(house, scenario, flow), system)
    ]


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
                "screens_on": c.screens != "off",
                "good": [shown_number(c.good_from_m, "length", system), shown_number(c.good_to_m, "length", system)],
                "floor": standing_strip(house, scenario, placement, c.good_from_m, c.good_to_m),
                "words": f"screens {c.screens}: best {show(c.best_setback_m, 'length', system)} back, "
                f"{show(c.best_flow_m3_s, 'flow', system)}; at least 90 % of that from "
                f"{show(c.good_from_m, 'length', system)} to {show(c.good_to_m, 'length', system)}",
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
    from ventplan.advice.search import MAX_FANS

    kind, name = question.get("aim", "house"), question.get("name") or ""
    together = min(max(int(question.get("count") or 1), 1), MAX_FANS)
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
        return rate_label(3600.0 * number) if kind == "house" else show(number, "flow", system)

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
                "limits": [f"{bottleneck_words(limit)}: {limit.gain:+.0%}" for limit in plan.limits],
                "cautions": caution_words(house, plan.scenario, plan.flow, system),
            }
        )
    return {
        "aim": objective_words(answer.objective),
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


def side_by_side(house: House, first: Scenario, second: Scenario, tint: str, system: System) -> dict[str, Any]:
    """Two states compared room by room, what explains the difference, and the second one's plan."""
    from ventplan.advice import compare

    if first.name == second.name:
        first = replace(first, name=f"{first.name}, as changed")
    answer = compare(house, [first, second])
    return {
        "names": [c.scenario for c in answer.scenarios],
        "totals": [show(outdoor_air(c.flow), "flow", system) for c in answer.scenarios],
        "rooms": [
            {
                "name": name,
                "air_change": [
                    rate_label(c.flow.rooms[name].air_change_per_h) if name in c.flow.rooms else "isolated"
                    for c in answer.scenarios
                ],
                "outdoor": [rate_label(c.outdoor_air_change_per_h.get(name, 0.0)) for c in answer.scenarios],
            }
            for name in answer.scenarios[0].flow.rooms
        ],
        "differences": [
            {
                "change": difference_words(d),
                "flow": ("+" if d.flow_m3_s >= 0.0 else "") + show(d.flow_m3_s, "flow", system),
            }
            for d in answer.differences
        ],
        "second": pictured(house, second, system, {"tint": tint, "symbols": list(house.openings)}),
        "second_state": state_of(second),
    }


def report(house: House, scenario: Scenario, system: System) -> dict[str, str]:
    """The report about a state as a ``page`` of its own that prints on two sheets: plan, figures, what to check."""
    from ventplan.advice.uncertainty import draws_of
    from ventplan.show.report import report_page
    from ventplan.show.report_data import report_of

    question = f"What “{scenario.name}” does to the air of the house"
    content = report_of(house, scenario, solve(house, scenario), question=question, draws=draws_of("low"), show=system)
    return {"page": report_page(content)}


COVERAGE_FACTOR = 2.0
"""Standard uncertainties within which a reading and the model agree."""
MAX_READINGS = 200


def compare_readings(
    house: House, scenario: Scenario, readings: Sequence[Mapping[str, Any]], system: System
) -> dict[str, Any]:
    """Compare readings with what the model expects, allowing for the errors of both.

    Parameters
    ----------
    house, scenario
        The house and the state that the readings were taken in.
    readings
        Each with ``opening`` and ``speed`` as typed (a number is in the unit that is shown).
    system
        Units of the texts.

    Raises
    ------
    InputError
        For an unknown opening or an invalid speed; the key names the row.

    Notes
    -----
    A reading is expected in the stream, 12 cm downstream of the middle of the free area. The two agree if they differ
    by less than two standard uncertainties, those of an anemometer that nobody has calibrated and of the model itself
    (`ventplan.measure.house_readings.MODEL_ERROR`).
    """
    flow, meter = solve(house, scenario), uncalibrated()
    rows, ratios, errors = [], [], []
    for number, reading in enumerate(readings[:MAX_READINGS]):
        name, typed = str(reading.get("opening", "")), str(reading.get("speed", "")).strip()
        key = f"readings > {number + 1}"
        if name not in house.openings:
            near = nearest(name, house.openings)
            errors.append(InvalidValue(f"{key} > opening", f'"{name}"', "an opening of this house", near))
            continue
        try:
            speed = _speed(typed, system)
        except UnitError as error:
            errors.append(InvalidValue(f"{key} > speed", error.found, error.allowed, error.hint))
            continue
        expected = flow.openings[name].reading_m_s if name in flow.openings else None
        row = {"opening": name, "measured": show(speed, "speed", system), "expected": "–", "verdict": ""}
        if expected is None:
            row["verdict"] = "one reading cannot be compared here: a jet passes, or air goes both ways"
        elif speed < meter.start_up_m_s:
            row["expected"] = show(expected, "speed", system)
            slow = expected < meter.start_up_m_s
            row["verdict"] = "agree: too slow to turn the vane" if slow else "measured less: the vane should turn"
        else:
            row["expected"] = show(expected, "speed", system)
            spread = math.hypot(float(meter.standard_at(speed)), MODEL_ERROR * expected)
            off = (speed - expected) / spread
            ratios.append(speed / expected if expected > 0.0 else float("nan"))
            word = "agree" if abs(off) <= COVERAGE_FACTOR else "measured more" if off > 0.0 else "measured less"
            row["verdict"] = f"{word} ({speed / expected - 1.0:+.0%})" if expected > 1e-3 else word
        rows.append(row)
    if errors:
        raise InputError(errors)
    mean = sum(ratios) / len(ratios) if ratios else None
    return {"rows": rows, "mean": None if mean is None else f"{mean - 1.0:+.0%}", "count": len(ratios)}


def _speed(typed: str, system: System) -> float:
    try:
        float(typed.replace(",", "."))
    except ValueError:
        return parse_quantity(typed, "speed")
    value: float = parse_quantity(f"{typed} {'ft/min' if system == 'us' else 'm/s'}", "speed")
    if value < 0.0:
        raise UnitError(f'"{typed}"', "a speed, 0 where the vane stands still")
    return value
