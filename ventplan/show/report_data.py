"""The contents of a report, computed before its layout."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ventplan.advice import Bottleneck, Objective, PlaceAnswer, setback_curve
from ventplan.advice.bottlenecks import bottlenecks_of
from ventplan.advice.comparison import outdoor_air
from ventplan.advice.intervals import FlowIntervals, Interval, interval
from ventplan.advice.setback import sure_setback
from ventplan.airing.age import outdoor_air_change_rates_per_h
from ventplan.airing.hazards import find_hazards
from ventplan.errors import NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.house.units import System, show, shown_unit
from ventplan.network import solve
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.network.jets import fan_of
from ventplan.show.cautions import Caution, cautions_of
from ventplan.show.comparison_tables import TO_KNOW, true_best
from ventplan.show.flow_tables import headline
from ventplan.show.instructions import Tasks, downstream, evening_tasks, later_tasks, tissue
from ventplan.show.place_tables import aim_text
from ventplan.show.plan_notes import LEAST_READING_M_S, NEGLIGIBLE
from ventplan.show.tables import (
    bottleneck_words,
    direction,
    number,
    objective_words,
    percent,
    rate_words,
    show_setback,
    signed_percent,
    steering_words,
    upper_first,
    weather_line,
)

AS_PLANNED = ", as planned"
ALL_ON, ALL_OFF = "every screen in place", "every screen off"
RANGE = "90 % interval"
READINGS = 5
"""A report asks for at most this many readings."""


@dataclass(frozen=True)
class Report:
    """The contents of a report; its tables hold text."""

    house: House
    scenario: Scenario  # the state that the report is about
    flow: Flow
    system: System
    question: str  # what was asked
    weather: str
    tasks: Tasks  # what to do first, room by room
    later: tuple[str, ...]  # what to do when the plan has done its work
    later_when: str  # when that is
    aim: Objective  # what the plan is judged by
    tissue: str  # a test of the direction of the air that needs no instrument, or empty
    summary: str  # what the plan does, in a sentence or two
    cautions: tuple[Caution, ...]  # the gravest first
    figures: Table
    openings: Table
    rooms: Table
    screens: Table
    screen_flows: Mapping[str, float]  # air from outdoors with screens as planned, on and off [m3/s], or empty
    limits: Table
    readings: Table
    setback: Any  # the setback curve of the first fan that is set back, or None
    setback_sure: tuple[Any, ...]  # intervals of its curves, if they were asked for
    setback_words: str
    defaults: tuple[str, ...]  # assumed values
    unsure: Table  # main causes of the uncertainty of the outdoor air


def report_of(
    house: House,
    plan: Scenario,
    flow: Flow,
    *,
    question: str,
    aim: Objective | None = None,
    limits: tuple[Bottleneck, ...] | None = None,
    asked: Sequence[tuple[str, str]] = (),
    summary: str = "",
    draws: int = 64,
    sure_setback: bool = False,
    show: System | None = None,
) -> Report:
    """Compute a report about one state of a house.

    Parameters
    ----------
    house
        The house.
    plan, flow
        The state to reach, and its solution.
    question
        What was asked.
    aim
        What the limits are judged by; the flow through the first fan's opening, or the worst room's air, if None.
    limits
        What limits the aim, where that is known already.
    asked
        What the plan does for what was asked, and what else would: words and values.
    summary
        What the plan does, in a sentence or two; the outdoor air of the house and its rooms if left out.
    draws
        Random cases for the intervals where derivatives are not accurate enough.
    sure_setback
        True for the interval of the best setback too, which takes some hundred more solutions.
    show
        Units, ``si`` or ``us``; the house file's own if None.
    """
    system = show or house.show
    if aim is None:
        aim = Objective("opening", plan.placements[0].opening) if plan.placements else Objective("house")
    if limits is None:
        limits = bottlenecks_of(house, plan, aim, aim.value(house, plan, flow), flow)
    ranges = Ranges(interval(house, plan, draws=draws))
    screen_flows = _screens(house, plan, flow)
    curve, sure = setback_of(house, plan, draws if sure_setback else 0)
    tested, certain = surest(plan, flow, ranges)
    return Report(
        house=house,
        scenario=plan,
        flow=flow,
        system=system,
        question=question,
        weather=weather_line(house, plan, system),
        tasks=evening_tasks(house, plan, system),
        later=later_tasks(house, plan),
        later_when=_later_when(plan, aim),
        aim=aim,
        tissue=tissue(tested, certain=certain) if tested is not None else "",
        summary=summary or headline(house, flow, outdoor_air_change_rates_per_h(house, plan, flow), system),
        cautions=cautions_of(find_hazards(house, plan, flow), system),
        figures=_figures(house, plan, flow, ranges, system, _asked(house, aim, flow, asked, ranges, system)),
        openings=_openings(flow, ranges, system),
        rooms=_rooms(house, plan, flow, ranges),
        screens=_screen_table(screen_flows, system),
        screen_flows=screen_flows,
        limits=(
            ("change", steering_words(aim)),
            tuple((bottleneck_words(one), against(1.0 + one.gain, 1.0)) for one in limits),
        ),
        readings=_readings(flow, ranges, system),
        setback=curve,
        setback_sure=sure,
        setback_words=setback_words(curve, sure, system),
        defaults=house.defaults,
        unsure=ranges.unsure(),
    )


def _later_when(plan: Scenario, aim: Objective) -> str:
    """When a plan has done its work: once a room is clear, or as long as outdoor air cools the house."""
    if aim.kind == "clear":
        return "When the room is clear"
    if aim.kind == "cool":
        return "In the morning, or as soon as it is warmer outdoors than indoors"
    if plan.outdoors.temperature_c < min(plan.temperatures_c.values()):
        return "As soon as it is warmer outdoors than indoors"
    return "When you no longer need the outdoor air"


def surest(plan: Scenario, flow: Flow, ranges: Ranges) -> tuple[OpeningFlow | None, bool]:
    """The opening whose direction of flow is most certain, or None, and whether the interval leaves no doubt about it.

    It has the largest flow over the width of its interval. Openings that a fan blows at (their jets say nothing about
    the house) and those too slow for a vane anemometer are left out.
    """
    blown = {placement.opening for placement in plan.placements}
    best, certain, sureness = None, False, 0.0
    for air in flow.openings.values():
        found = ranges.find("net flow", air.name)
        if found is None or air.name in blown or (air.reading_m_s or 0.0) < LEAST_READING_M_S:
            continue
        sure = abs(air.net_m3_s) / max(found.high - found.low, 1e-9)
        if sure > sureness:
            best, certain, sureness = air, found.low * found.high > 0.0, sure
    return best, certain


def _asked(
    house: House, aim: Objective, flow: Flow, asked: Sequence[tuple[str, str]], ranges: Ranges, system: System
) -> list[tuple[str, str, str]]:
    """What the plan does for what was asked, with the interval where there is one."""
    likely = dict.fromkeys(range(len(asked)), "–")
    if aim.kind == "opening":
        likely[0] = ranges.net_flow(flow.openings[aim.name], system)
    elif aim.kind == "room":
        volume = house.rooms[aim.name].volume_m3
        likely[0] = ranges.text("outdoor air change", aim.name, "flow", system, factor=volume / 3600.0)
    return [(words, value, likely[i]) for i, (words, value) in enumerate(asked)]


def _figures(
    house: House, plan: Scenario, flow: Flow, ranges: Ranges, system: System, asked: Sequence[tuple[str, str, str]]
) -> Table:
    outdoor = outdoor_air(flow)
    volume = sum(room.volume_m3 for room in house.rooms.values())
    hourly = 3600.0 / volume
    rows = [
        *asked,
        ("Outdoor air into the whole house", show(outdoor, "flow", system),
         ranges.text("air from outdoors", "", "flow", system)),
        ("Outdoor air changes of the whole house, an hour", rate_words(hourly * outdoor),
         ranges.text("air from outdoors", "", "air change", system, factor=hourly)),
    ]  # fmt: skip
    running = [p for p in plan.placements if p.opening in flow.openings]
    for i, (placement, fan) in enumerate(zip(running, flow.fans, strict=True)):
        beaten = fan.driven_m3_s < 0.0
        through = (
            f"Through the {fan.opening}, {'against' if beaten else 'where'} the {fan.name}{' blows' * (not beaten)} "
            f"({show(fan.blades_m3_s, 'flow', system)} through its blades)"
        )
        likely = ranges.text("driven flow", str(i), "flow", system, factor=-1.0 if beaten else 1.0)
        rows.append((through, show(abs(fan.driven_m3_s), "flow", system), likely))
        used = fan_of(house, placement)
        if used.power_w is not None:
            rows.append((f"Electricity for the {fan.name}", show(used.power_w, "power", system), "–"))
        if used.sound_db is not None:
            rows.append((f"Sound of the {fan.name} at 1 m", show(used.sound_db, "sound", system), "–"))
    return ("what", "value", RANGE), tuple(rows)


def _openings(flow: Flow, ranges: Ranges, system: System) -> Table:
    rows = []
    least = NEGLIGIBLE * max((abs(o.net_m3_s) for o in flow.openings.values()), default=0.0)
    for name, air in flow.openings.items():
        if air.free_area_m2 > 0.0 or abs(air.net_m3_s) > least:
            back = air.backward_m3_s if air.net_m3_s >= 0.0 else air.forward_m3_s
            net, against_it = number(abs(air.net_m3_s), "flow", system), number(back, "flow", system)
            rows.append((name, direction(air), net, ranges.net_flow(air, system), against_it))
    unit = shown_unit("flow", system)
    return ("opening", "the air goes", f"net flow, {unit}", RANGE, "against it"), tuple(rows)


def _rooms(house: House, plan: Scenario, flow: Flow, ranges: Ranges) -> Table:
    outdoor = outdoor_air_change_rates_per_h(house, plan, flow)
    rows = []
    for name in house.rooms:
        likely = ranges.text("outdoor air change", name, "air change", "si") if name in flow.rooms else "–"
        rows.append((name, rate_words(outdoor.get(name, 0.0)), likely))
    return ("room", "outdoor air changes/h", RANGE), tuple(rows)


def _screens(house: House, plan: Scenario, flow: Flow) -> Mapping[str, float]:
    every = frozenset(n for n, o in house.openings.items() if o.screen is not None and plan.shares[n] > 0.0)
    if not every:
        return {}
    states = {ALL_ON: plan.screened | every, ALL_OFF: frozenset[str]()}
    flows = {}
    if not any(plan.screened & every == screened & every for screened in states.values()):
        flows[f"some{AS_PLANNED}"] = outdoor_air(flow)
    for words, screened in states.items():
        planned = plan.screened & every == screened & every
        flows[words + AS_PLANNED * planned] = outdoor_air(solve(house, replace(plan, screened=screened)))
    return flows


def _screen_table(flows: Mapping[str, float], system: System) -> Table:
    if not flows:
        return ("screens", "air from outdoors", "against the plan"), ()
    planned = next(q for name, q in flows.items() if name.endswith(AS_PLANNED))
    rows = tuple((name, show(q, "flow", system), against(q, planned)) for name, q in flows.items())
    return ("screens", "air from outdoors", "against the plan"), rows


def against(value: float, planned: float) -> str:
    """The change from a planned value to another, in percent."""
    if planned <= 0.0:
        return "–"
    change = value / planned - 1.0
    return "the same" if abs(change) < 0.005 else signed_percent(change)


def _readings(flow: Flow, ranges: Ranges, system: System) -> Table:
    able = [o for o in flow.openings.values() if o.reading_m_s is not None and o.reading_m_s >= LEAST_READING_M_S]
    able.sort(key=lambda air: -abs(air.net_m3_s))
    rows = []
    for air in able[:READINGS]:
        reading = air.reading_m_s or 0.0
        likely = ranges.text("net flow", air.name, "speed", system, factor=reading / air.net_m3_s)
        value = number(reading, "speed", system)
        rows.append((air.name, downstream(air), value, likely, show(abs(air.net_m3_s), "flow", system)))
    unit = shown_unit("speed", system)
    return ("opening", "on the side of", f"reading, {unit}", RANGE, "flow at that reading"), tuple(rows)


MAX_CAUSES = 4
"""Causes of uncertainty that a report lists."""
LEAST_DOUBT = 0.05
"""Smaller shares of the uncertainty are not listed [-]."""
Table = tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]
"""Heads, and rows of cells."""


class Ranges:
    """Intervals of one state, as text."""

    def __init__(self, intervals: FlowIntervals) -> None:
        self.intervals = intervals
        self._known: dict[tuple[str, str], Interval] = {
            (q.kind, q.name): i for q, i in zip(intervals.quantities, intervals.intervals, strict=True)
        }

    def find(self, kind: str, name: str = "") -> Interval | None:
        """The interval of a quantity, or None where it has none."""
        return self._known.get((kind, name))

    def text(self, kind: str, name: str, quantity: str, system: System, *, factor: float = 1.0) -> str:
        """An interval without its unit, such as ``0.4 to 0.6``; a dash where there is none."""
        found = self.find(kind, name)
        if found is None or found.method == "certain":
            return "–"
        low, high = (plain(v, quantity, system) for v in sorted((found.low * factor, found.high * factor)))
        return f"{low} to {high}" if low != high else "–"

    def net_flow(self, air: OpeningFlow, system: System) -> str:
        """The interval of an opening's net flow, positive in the direction of the flow."""
        return self.text("net flow", air.name, "flow", system, factor=1.0 if air.net_m3_s >= 0.0 else -1.0)

    def unsure(self) -> Table:
        """The main causes of the uncertainty of the outdoor air, the largest first, and what reduces them."""
        found = self.find("air from outdoors")
        budget = [(group, share) for group, share in (found.budget if found else ()) if share >= LEAST_DOUBT][
            :MAX_CAUSES
        ]
        rows = tuple((group, percent(share), TO_KNOW.get(group, "")) for group, share in budget)
        return ("cause", "share", "what helps"), rows


def plain(value: float, quantity: str, system: System) -> str:
    """A value without its unit; an air change rate [1/h] as it is."""
    return rate_words(value) if quantity == "air change" else number(value, quantity, system)


def setback_of(house: House, plan: Scenario, draws: int) -> tuple[Any, tuple[Any, ...]]:
    """The setback curve of the first fan that is not sealed in, with its intervals; None where there is no such fan."""
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
    """The best setbacks in words; empty where there is no curve."""
    if answer is None:
        return ""
    parts = []
    for curve in answer.curves:
        low, high = (show_setback(end, system) for end in (curve.good_from_m, curve.good_to_m))
        parts.append(
            f"With screens {curve.screens}, the best distance is {show_setback(curve.best_setback_m, system)}, for "
            f"{show(curve.best_flow_m3_s, 'flow', system)}; from {low} to {high} it gives at least 90 % of that."
        )
    for one in sure:
        low, high = (show_setback(end, system) for end in (one.best_setback.low, one.best_setback.high))
        parts.append(f"Screens {one.screens}: {true_best(one, low, high)} (90 %).")
    if parts:
        parts.append(
            "These distances give the most air through that opening; the plan above may use another distance, where "
            "that serves its objective better."
        )
    return " ".join(parts)


def aim_rows(answer: PlaceAnswer, system: System) -> tuple[tuple[str, str], ...]:
    """The objective with the best plan and without a fan: words and values."""
    aim, words = answer.objective, objective_words(answer.objective)

    def text(value: float) -> str:
        return show(value, "flow", system) if aim.kind == "room" else aim_text(aim, value, system)

    rows = [(f"{upper_first(words.removeprefix('most '))}, with this plan", text(answer.plans[0].value))]
    if aim.kind != "cool":
        rows.append(("As the house stands, without a fan", text(answer.before)))
    rows.append(("Windows and doors alone", text(answer.openings_alone.value)))
    return tuple(rows)
