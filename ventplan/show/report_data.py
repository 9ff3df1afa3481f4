"""Everything that a report says, worked out before a word of it is laid out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ventplan.advice import Aim, Limit, setback_curve
from ventplan.advice.compare import outdoor_air
from ventplan.advice.limits import limits_of
from ventplan.airing.age import age_of_air
from ventplan.airing.cautions import Caution, cautions
from ventplan.airing.flows import air_paths
from ventplan.errors import NoAnswerError
from ventplan.house.records import House, Placement, Scenario
from ventplan.house.shown import show
from ventplan.house.units import System
from ventplan.network import Flow, solve
from ventplan.network.jets import fan_of
from ventplan.show.flow_tables import direction, per_hour, weather_line
from ventplan.show.report_doubt import HOUSE, fan_doubts
from ventplan.show.report_words import downstream, steps

READINGS = 6
"""Most readings that a report asks for."""

Table = tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]
"""Heads, and rows of cells."""


@dataclass(frozen=True)
class Report:
    """What a report says.

    Attributes
    ----------
    house, scenario, flow
        The house, the state that the report is about, and its solution.
    system
        Units.
    question, weather
        What was asked, and under which weather.
    steps
        What to do, in order.
    cautions
        What to mind.
    figures, openings, rooms, screens, limits, readings
        Tables as text.
    screen_flows
        Air from outdoors with screens as planned, on and off [m3/s]; empty where the house has none.
    setback
        The setback curve of the first fan that is set back, or None.
    setback_words
        What it says.
    defaults
        What was assumed for want of a figure in the house file.
    doubts
        Half-widths of 95 % by opening [m3/s].
    """

    house: House
    scenario: Scenario
    flow: Flow
    system: System
    question: str
    weather: str
    steps: tuple[str, ...]
    cautions: tuple[Caution, ...]
    figures: Table
    openings: Table
    rooms: Table
    screens: Table
    screen_flows: Mapping[str, float]
    limits: Table
    readings: Table
    setback: Any
    setback_words: str
    defaults: tuple[str, ...]
    doubts: Mapping[str, float]


def report_of(
    house: House,
    before: Scenario,
    plan: Scenario,
    flow: Flow,
    *,
    question: str,
    aim: Aim | None = None,
    limits: tuple[Limit, ...] | None = None,
    show: System | None = None,
) -> Report:
    """Work out a report about one state of a house.

    Parameters
    ----------
    house
        The house.
    before
        The state it is in.
    plan, flow
        The state to reach, and its solution.
    question
        What was asked.
    aim
        What the limits are judged by; the flow through the first fan's opening, or the worst room's air, if None.
    limits
        What limits the aim, where that is known already.
    show
        Units, ``si`` or ``us``; the house file's own if None.
    """
    system = show or house.show
    if aim is None:
        aim = Aim("opening", plan.placements[0].opening) if plan.placements else Aim("house")
    if limits is None:
        limits = limits_of(house, plan, aim, aim.value(house, plan, flow))
    doubts = fan_doubts(house, plan, flow)
    screen_flows = _screens(house, plan, flow)
    curve = _setback(house, plan)
    return Report(
        house=house,
        scenario=plan,
        flow=flow,
        system=system,
        question=question,
        weather=weather_line(plan, system),
        steps=steps(house, before, plan, flow, system),
        cautions=cautions(house, plan, flow, units=system),
        figures=_figures(house, plan, flow, doubts, system),
        openings=_openings(flow, doubts, system),
        rooms=_rooms(house, plan, flow),
        screens=_screen_table(screen_flows, system),
        screen_flows=screen_flows,
        limits=(("change", aim.words()), tuple((limit.change, f"{limit.gain:+.0%}") for limit in limits)),
        readings=_readings(house, flow, doubts, system),
        setback=curve,
        setback_words=_setback_words(curve, system),
        defaults=house.defaults,
        doubts=doubts,
    )


def give_or_take(value: float, half_width: float | None, system: System) -> str:
    """A flow with its half-width of 95 %, or without one."""
    text = show(value, "flow", system)
    return f"{text} ± {show(half_width, 'flow', system)}" if half_width else text


def _figures(house: House, plan: Scenario, flow: Flow, doubts: Mapping[str, float], system: System) -> Table:
    outdoor = outdoor_air(flow)
    volume = sum(room.volume_m3 for room in house.rooms.values())
    rows = [
        ("Air from outdoors into the whole house", give_or_take(outdoor, doubts.get(HOUSE), system)),
        ("Air changes of the whole house", f"{per_hour(3600.0 * outdoor / volume)} an hour"),
    ]
    running = [p for p in plan.placements if p.opening in flow.openings]
    for placement, fan in zip(running, flow.fans, strict=True):
        through = give_or_take(fan.driven_m3_s, doubts.get(fan.opening), system)
        rows.append((f"Through the {fan.opening}, where the {fan.name} blows", through))
        own = f"{show(fan.blades_m3_s, 'flow', system)}; the opening carries {fan.ratio:.2f} times that"
        rows.append((f"Through the blades of the {fan.name}", own))
        used = fan_of(house, placement)
        if used.power_w is not None:
            rows.append((f"Electricity for the {fan.name}", show(used.power_w, "power", system)))
        if used.sound_db is not None:
            rows.append((f"Sound of the {fan.name} at 1 m", show(used.sound_db, "sound", system)))
    return ("what", "how much"), tuple(rows)


def _openings(flow: Flow, doubts: Mapping[str, float], system: System) -> Table:
    rows = []
    for name, air in flow.openings.items():
        if air.free_area_m2 > 0.0 or abs(air.net_m3_s) >= 5e-4:
            back = air.backward_m3_s if air.net_m3_s >= 0.0 else air.forward_m3_s
            net = give_or_take(abs(air.net_m3_s), doubts.get(name), system)
            rows.append((name, direction(air), net, show(back, "flow", system)))
    return ("opening", "the air goes", "net flow", "against it"), tuple(rows)


def _rooms(house: House, plan: Scenario, flow: Flow) -> Table:
    ages = {} if flow.cut_off else age_of_air(air_paths(house, plan, flow)).rooms
    rows = []
    for name in house.rooms:
        if name in flow.rooms:
            new = per_hour(3600.0 / ages[name].age_s) if name in ages else "–"
            rows.append((name, per_hour(flow.rooms[name].air_change_per_h), new))
        else:
            rows.append((name, "no way for air", "0"))
    return ("room", "air changes an hour", "of them fresh"), tuple(rows)


def _screens(house: House, plan: Scenario, flow: Flow) -> Mapping[str, float]:
    every = frozenset(n for n, o in house.openings.items() if o.screen is not None and plan.shares[n] > 0.0)
    if not every:
        return {}
    on, off = replace(plan, screened=plan.screened | every), replace(plan, screened=frozenset[str]())
    return {
        "as planned": outdoor_air(flow),
        "every screen in place": outdoor_air(solve(house, on)),
        "every screen off": outdoor_air(solve(house, off)),
    }


def _screen_table(flows: Mapping[str, float], system: System) -> Table:
    if not flows:
        return ("screens", "air from outdoors", "against the plan"), ()
    planned = flows["as planned"]
    rows = tuple(
        (name, show(q, "flow", system), f"{q / planned - 1.0:+.0%}" if planned > 0.0 else "–")
        for name, q in flows.items()
    )
    return ("screens", "air from outdoors", "against the plan"), rows


def _readings(house: House, flow: Flow, doubts: Mapping[str, float], system: System) -> Table:
    able = [o for o in flow.openings.values() if o.reading_m_s is not None and o.reading_m_s >= 0.05]
    able.sort(key=lambda air: -abs(air.net_m3_s))
    rows = []
    for air in able[:READINGS]:
        reading = air.reading_m_s or 0.0
        half = doubts.get(air.name, 0.0) / abs(air.net_m3_s) * reading if air.net_m3_s else 0.0
        expected = show(reading, "speed", system) + (f" ± {show(half, 'speed', system)}" if half else "")
        flow_text = give_or_take(abs(air.net_m3_s), doubts.get(air.name), system)
        rows.append((air.name, f"on the side of {downstream(air)}", expected, flow_text))
    return ("opening", "where", "expected reading", "that means"), tuple(rows)


def _setback(house: House, plan: Scenario) -> Any:
    placement = next((p for p in plan.placements if not p.sealed), None)
    if placement is None:
        return None
    as_set = replace(fan_of(house, placement), settings=())
    with_setting = replace(house, fans={**house.fans, placement.fan: as_set})
    others = replace(plan, placements=tuple(p for p in plan.placements if p is not placement))
    try:
        return _curve(with_setting, others, placement)
    except NoAnswerError:
        return None


def _curve(house: House, plan: Scenario, placement: Placement) -> Any:
    return setback_curve(house, plan, fan=placement.fan, opening=placement.opening, stands_in=placement.stands_in)


def _setback_words(answer: Any, system: System) -> str:
    if answer is None:
        return ""
    parts = []
    for curve in answer.curves:
        low, high = (show(s, "length", system) for s in (curve.good_from_m, curve.good_to_m))
        parts.append(
            f"With screens {curve.screens} the best distance is {show(curve.best_setback_m, 'length', system)}, "
            f"for {show(curve.best_flow_m3_s, 'flow', system)}; from {low} to {high} it is within a tenth of that."
        )
    return " ".join(parts)
