"""What a solved state says, in figures for drawing and in words for reading."""

from __future__ import annotations

from typing import Any

from ventplan.advice.comparison import Comparison, outdoor_air
from ventplan.airing.age import outdoor_air_change_rates_per_h
from ventplan.airing.hazards import find_hazards
from ventplan.house import House, Scenario
from ventplan.house.units import System, show
from ventplan.live.drawing import arrows, jets, opening_labels, tints
from ventplan.network import solve
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.network.jets import fan_of
from ventplan.show.cautions import cautions_of
from ventplan.show.plan_notes import rate_words

STILL_M3_S = 5e-4
"""Air below this is said to stand still [m3/s]."""


def numbers(
    house: House, scenario: Scenario, system: System, *, tint: str = "air-change", near: Flow | None = None
) -> tuple[Flow, dict[str, Any]]:
    """Solve a state and say what the page shows while something is dragged.

    Parameters
    ----------
    house, scenario
        The house and its state.
    system
        Units of the texts.
    tint
        What the colours and numbers of the rooms show, one of `ventplan.show.plan_notes.TINTS`.
    near
        The answer before this one, to start from; it saves time and changes nothing.
    """
    flow = solve(house, scenario, near=near)
    fresh = outdoor_air_change_rates_per_h(house, scenario, flow)
    return flow, {
        "openings": {name: opening_words(o, system) for name, o in flow.openings.items()},
        "rooms": {
            name: {
                "outdoor": rate_words(fresh.get(name, 0.0)),
                "total": rate_words(room.air_change_per_h),
                "pressure": show(room.pressure_pa, "pressure", system),
            }
            for name, room in flow.rooms.items()
        },
        "fans": _fans(house, scenario, flow, system),
        "jets": jets(house, scenario),
        "arrows": arrows(house, scenario, flow),
        "tints": tints(house, scenario, flow, tint, system, fresh),
        "labels": opening_labels(house, scenario, flow, system),
        "total_m3_s": outdoor_air(flow),
        "total": show(outdoor_air(flow), "flow", system),
        "cut_off": list(flow.cut_off),
        "in_line": list(flow.in_line),
    }


def opening_words(flow: OpeningFlow, system: System) -> dict[str, Any]:
    """One opening's air in figures and words."""
    total = flow.forward_m3_s + flow.backward_m3_s
    weaker = min(flow.forward_m3_s, flow.backward_m3_s)
    first, second = flow.joins if flow.net_m3_s >= 0.0 else reversed(flow.joins)
    if total < STILL_M3_S:
        words = "still"
    elif weaker > max(0.05 * total, STILL_M3_S):
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
        "driven": ", ".join(f"{name} {show(q, 'flow', system)}" for name, q in parts if abs(q) > STILL_M3_S),
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


def comparison_words(answer: Comparison, system: System) -> dict[str, Any]:
    """Scenarios side by side, room by room, and what explains the difference."""
    first = answer.scenarios[0]
    return {
        "names": [c.scenario for c in answer.scenarios],
        "totals": [show(outdoor_air(c.flow), "flow", system) for c in answer.scenarios],
        "rooms": [
            {
                "name": name,
                "air_change": [
                    rate_words(c.flow.rooms[name].air_change_per_h) if name in c.flow.rooms else "isolated"
                    for c in answer.scenarios
                ],
                "outdoor": [rate_words(c.outdoor_air_change_per_h.get(name, 0.0)) for c in answer.scenarios],
            }
            for name in first.flow.rooms
        ],
        "differences": [
            {"change": d.change, "flow": ("+" if d.flow_m3_s >= 0.0 else "") + show(d.flow_m3_s, "flow", system)}
            for d in answer.differences
        ],
    }
