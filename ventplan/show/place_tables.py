"""Plans, over one weather or many, and what more air costs in power or noise, for the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.objective import Objective
from ventplan.advice.plan import (
    NEAR_BEST_SHARE,
    Condition,
    OverAnswer,
    PlaceAnswer,
    Plan,
    TradeOff,
    TradeOffPoint,
    WeatherPlan,
)
from ventplan.airing.safety import HazardCode
from ventplan.house.records import House
from ventplan.house.units import System, fixed, show, show_time_up_to_a_day, shown_unit
from ventplan.show.cautions import cautions_view, note_words
from ventplan.show.instructions import change_lines, change_words, fan_instruction, placement_line
from ventplan.show.tables import (
    bottleneck_words,
    number,
    objective_words,
    paragraphs,
    percent,
    rate_words,
    show_setback,
    shown_change_rate,
    signed_percent,
    steering_words,
    table,
    upper_first,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.advice.plan import CoolNight
    from ventplan.airing import Note
    from ventplan.airing.safety import Hazard


NOT_WORTH_A_FAN = "no fan is worth its noise."
LITTLE_MORE = 1.25
"""Times what windows and doors do alone below which plan 1 is said to bring little (common practice, no source)."""
MOST_WITHOUT = 0.7
"""Share of a plan's value without its fans up to which the setbacks that keep 90 % of it say something [-]."""
WHY_LOWER = {
    HazardCode.FLAME_FLAGGED: "lowers the pressure at a flame beyond the limit at which such rooms are flagged",
    HazardCode.GARAGE_AIR: "draws air from the garage",
    HazardCode.SMOKE: "brings in smoke",
    HazardCode.FIRE_DOOR: "opens a fire door",
}
"""What a plan with a grave hazard does."""


def aim_text(aim: Objective, value: float, system: System) -> str:
    """The value of an aim as people read it."""
    if aim.kind == "house":
        return shown_change_rate(value)
    if aim.kind == "clear":
        return show_time_up_to_a_day(1.0 / value if value > 0.0 else math.inf)
    if aim.kind == "cool":
        return f"{show(value, 'temperature difference', system)} cooler than with everything shut"
    return f"{show(value, 'flow', system)} of outdoor air" if aim.kind == "room" else show(value, "flow", system)


def short_text(aim: Objective, value: float, system: System) -> str:
    """The value of an aim where its meaning was said before."""
    if aim.kind == "house":
        return f"{rate_words(3600.0 * value)} an hour"
    if aim.kind == "cool":
        return show(value, "temperature difference", system)
    return show(value, "flow", system) if aim.kind == "room" else aim_text(aim, value, system)


def place_view(
    house: House,
    answer: PlaceAnswer,
    hazards: Sequence[Sequence[Hazard]],
    system: System,
    *,
    details: bool,
    one_of: int = 1,
) -> Iterator[RenderableType]:
    """Everything that ``ventplan place`` prints; `hazards` are those of each plan.

    ``one_of`` is how many fans the house has where plans with one at a time were asked for.
    """
    from rich.text import Text

    yield Text(verdict(house, answer, system), style="bold")
    for rank, plan in enumerate(answer.plans, start=1):
        if plan.placements:
            why = why_lower(plan, answer.plans[: rank - 1])
            yield from _plan_view(house, answer.objective, rank, plan, system, details=details, why=why)
    names = [f"plan {rank}" if plan.placements else "no fan" for rank, plan in enumerate(answer.plans, start=1)]
    yield from cautions_view(dict(zip(names, hazards, strict=True)), system)
    yield Text("")
    if one_of > 1 and answer.plans[0].placements:
        tries = "--fans-at-once 2 tries both" if one_of == 2 else "--fans-at-once 2 tries two together"
        yield Text(f"Uses one of your {one_of} fans; {tries}.")
    running = {placement.fan for plan in answer.plans for placement in plan.scenario.placements}
    for name, fan in house.fans.items():
        if fan.stays_at and name not in running:
            yield Text(
                f"Not tried: {name}, which is fixed in {fan.stays_at}. It runs only if the scenario says so: "
                "choose one with --scenario."
            )
    if answer.nowhere:
        yield Text(f"No place to stand was found for: {', '.join(answer.nowhere)}.")
    if details:
        yield Text(f"{answer.states} states were computed: {_how_searched(answer)}", style="dim")
    else:
        sound = "dB(A): at 1 m from the fan. " if any(plan.sound_db is not None for plan in answer.plans) else ""
        yield Text(f"{sound}Aiming and limits of each plan: add --details.", style="dim")


def verdict(house: House, answer: PlaceAnswer, system: System, *, plan: str = "plan 1") -> str:
    """The answer in a sentence or two."""
    aim, alone = answer.objective, answer.openings_alone
    head = f"{house.name}, {objective_words(aim)}"
    if not answer.plans or not answer.plans[0].placements:
        changes = change_words(alone.opens, alone.shuts) or "as they are"
        without = aim_text(aim, alone.value, system)
        why = _why_no_fan(aim, answer.best_with_fan, system)
        return f"{head}: {why} Windows and doors alone ({changes}) give {without}."
    best, without = aim_text(aim, answer.plans[0].value, system), short_text(aim, alone.value, system)
    now = "" if aim.kind == "cool" else f", {short_text(aim, answer.before, system)} as the house stands"
    more = answer.plans[0].value - alone.value
    little = (
        f" {upper_first(plan)} adds only {short_text(aim, more, system)} to that: it may not be worth its noise."
        if aim.kind not in ("clear", "cool") and answer.plans[0].value < LITTLE_MORE * alone.value
        else ""
    )
    return f"{head}: {best} with {plan}. Without a fan: {without} with the best windows and doors{now}.{little}"


def why_lower(plan: Plan, before: Sequence[Plan]) -> str:
    """Why a plan stands below others that bring less; empty where it brings no more than they do."""
    if not any(plan.value > other.value for other in before):
        return ""
    if plan.causes:
        return f"ranked lower because it {' and '.join(WHY_LOWER[code] for code in plan.causes)}"
    return "ranked lower because it is about as good, and louder or more to set up"


def _why_no_fan(aim: Objective, best: Plan | WeatherPlan | None, system: System) -> str:
    """Why the first plan has no fan: none is worth it, or the best one is not safe."""
    flame = isinstance(best, Plan) and best.flame_flagged
    if best is None or not (flame or best.causes):
        return NOT_WORTH_A_FAN
    does = " and ".join(WHY_LOWER[code] for code in best.causes or (HazardCode.FLAME_FLAGGED,))
    return f"no fan is advised. The best plan with one, {aim_text(aim, best.value, system)}, {does}."


def _how_searched(answer: PlaceAnswer) -> str:
    if answer.stopped:
        return "stopped early; these are the best so far."
    if answer.exhaustive:
        return (
            "every set of windows and doors with every fan at every opening, at a few setbacks each, by a simplified "
            "model; the best were then solved in full and improved."
        )
    return (
        "the most promising sets of windows and doors, with every fan at every opening, by a simplified model; the "
        "best were then solved in full and improved. These are the best found."
    )


def _plan_view(
    house: House, aim: Objective, rank: int, plan: Plan, system: System, *, details: bool, why: str
) -> Iterator[RenderableType]:
    lines = [f"{fan_instruction(house, placement, system)}." for placement in plan.placements]
    lines.append(" ".join(change_lines(house, plan.opens, plan.shuts, plan.scenario.shares)))
    facts, still = [], "is at least 90 % as good" if aim.kind == "clear" else "gives at least 90 % of that"
    matters = plan.without_fans <= MOST_WITHOUT * plan.value
    for placement, stands in zip(plan.placements, plan.stands, strict=True):
        if matters and stands.good_from_m is not None and stands.good_to_m is not None:
            low, high = show_setback(stands.good_from_m, system), show_setback(stands.good_to_m, system)
            which = placement.fan if len(plan.placements) > 1 else "fan"
            facts += [f"from {low} to {high} back, the {which} {still}"] if low != high else []
    facts += [f"least fresh: {plan.worst_room}"] if plan.worst_room else []
    lines += [f"{upper_first('; '.join(facts))}."] if facts else []
    if plan.passes_through:
        shares = ", ".join(f"{name} ({percent(share)})" for name, share in plan.passes_through.items())
        them = "them" if len(plan.doors_to_shut) > 1 else "it"
        spared = (
            f" Shut {' and '.join(plan.doors_to_shut)}: the plan does nearly as well without {them}."
            if plan.doors_to_shut
            else ""
        )
        lines.append(f"On its way out, air from {aim.name} passes through {shares}.{spared}")
    if details:
        lines += _plan_details(aim, plan, system)
    without = short_text(aim, plan.without_fans, system).removesuffix(" an hour")
    fans = "fans" if len(plan.placements) > 1 else "fan"
    head = [f"Plan {rank}: {aim_text(aim, plan.value, system)} ({without} without the {fans})"]
    head += [why] if why else []
    head += [show(plan.power_w, "power", system)] if plan.power_w is not None else []
    head += [show(plan.sound_db, "sound", system)] if plan.sound_db is not None else []
    yield paragraphs(", ".join(head), lines)


def _plan_details(aim: Objective, plan: Plan, system: System) -> Iterator[str]:
    for placement, stands, fan in zip(plan.placements, plan.stands, plan.flow.fans, strict=True):
        through, blades = show(fan.driven_m3_s, "flow", system), show(stands.blades_m3_s, "flow", system)
        own = f"{fixed(stands.ratio, 2)} times the {blades} through the blades"
        if len(plan.placements) > 1:
            own = f"driven by all fans together; {blades} passes the blades of {placement.fan}"
        yield f"{through} goes through {placement.opening}, {own}."
        if stands.aim_off_deg is not None:
            off = f"{'more than ' if stands.aim_off_deg >= 45.0 else ''}{stands.aim_off_deg:.0f}°"
            yield f"{upper_first(placement.fan)} may point {off} to the side before 10 % is lost."
    if plan.limits:
        gains = ", ".join(f"{bottleneck_words(limit)} ({_gain_text(aim, limit.gain)})" for limit in plan.limits[:3])
        of = f" (of {steering_words(aim)})" if aim.kind == "cool" else ""
        yield f"What would bring more{of}: {gains}."


def _gain_text(aim: Objective, gain: float) -> str:
    """A gain of the aim; for a room to clear, what it takes off the time."""
    if aim.kind == "clear":
        return f"{signed_percent(1.0 / (1.0 + gain) - 1.0)} of the time"
    return signed_percent(gain)


def trade_off_view(house: House, answer: TradeOff, system: System) -> Iterator[RenderableType]:
    """Everything that ``ventplan place --least`` prints."""
    from rich.text import Text

    aim, unit = answer.objective, "" if answer.objective.kind == "opening" else " outdoor air changes an hour"
    yield Text(_trade_off_headline(house, answer, unit, system), style="bold")
    sets = {key: chr(ord("A") + i) for i, key in enumerate(dict.fromkeys((p.opens, p.shuts) for p in answer.points))}
    rows = [
        (
            "*" if point.best else "",
            _point_words(house, point, system),
            sets[point.opens, point.shuts],
            _rate(house, aim, point.value, system),
            "–" if point.power_w is None else f"{point.power_w:.0f}",
            "–" if point.sound_db is None else f"{point.sound_db:.0f}",
        )
        for point in answer.points
    ]
    head = shown_unit("flow", system) if aim.kind == "opening" else "outdoor air/h"
    title = f"From the least to the most {answer.cost} (* no plan with less gives as much)"
    yield table(title, ("", "fan", "openings", head, "W", "dB(A)"), rows, words=3)
    yield paragraphs(
        "Openings",
        (f"{letter}: {change_words(*key) or 'leave windows and doors as they are'}." for key, letter in sets.items()),
    )
    silent = [name for name in house.fans if all(name not in (p.fan for p in q.placements) for q in answer.points)]
    if silent:
        what = "power" if answer.cost == "power" else "sound"
        yield Text(f"Left out, since the house file does not give their {what}: {', '.join(silent)}.")
    shown = [answer.chosen] if answer.chosen else [point for point in answer.points if point.best]
    yield from cautions_view({_fans_words(point): point.cautions for point in shown}, system)


def _trade_off_headline(house: House, answer: TradeOff, unit: str, system: System) -> str:
    """The cheapest plan for what was wanted, or the cheapest plan and the one that gives most."""
    head = f"{house.name}, {objective_words(answer.objective)}, by {answer.cost}"

    def fans(point: TradeOffPoint) -> str:
        value = point.power_w if answer.cost == "power" else point.sound_db
        cost = "" if value is None else f" ({show(value, 'power' if answer.cost == 'power' else 'sound', system)})"
        return f"{_fans_words(point)}{cost}"

    def rate(value: float) -> str:
        return f"{_rate(house, answer.objective, value, system)}{unit}"

    most = max(answer.points, key=lambda point: point.value)
    if answer.at_least is None:
        first = next((point for point in answer.points if point.best), most)
        return f"{head}: {fans(first)} gives {rate(first.value)}, {fans(most)} the most, {rate(most.value)}."
    if answer.chosen is None:
        return f"{head}: no plan gives {rate(answer.at_least)}. The most is {rate(most.value)}, with {fans(most)}."
    chosen = f"{_point_words(house, answer.chosen, system)}, gives {rate(answer.chosen.value)}"
    return f"{head}: for at least {rate(answer.at_least)}, {chosen}."


def _point_words(house: House, point: TradeOffPoint, system: System) -> str:
    return "; ".join(placement_line(house, p, system) for p in point.placements) or "no fan"


def _fans_words(point: TradeOffPoint) -> str:
    return " and ".join(f"{p.fan} on {p.setting}" if p.setting else p.fan for p in point.placements) or "no fan"


def _rate(house: House, aim: Objective, value: float, system: System) -> str:
    """Outdoor air changes an hour of a room or the house, or the flow of an opening, without the unit."""
    if aim.kind == "opening":
        return number(value, "flow", system)
    return rate_words(3600.0 * value / (house.rooms[aim.name].volume_m3 if aim.kind == "room" else 1.0))


def cool_nights_view(plan: Plan, nights: Sequence[CoolNight], system: System) -> Iterator[RenderableType]:
    """What the first plan does in every night, and when its fans are not worth their noise."""
    from rich.text import Text

    if not nights:
        return
    yield Text("")
    leave = [night.when for night in nights if not night.worth_a_fan]
    if plan.placements:
        helps = len(nights) - len(leave)
        off = "" if not leave else f" Leave the fans off before: {', '.join(leave)}."
        yield Text(f"Plan 1 is worth its fans in {helps} of {len(nights)} nights.{off}")
    rows = [
        (
            night.when,
            *(show(each, "temperature", system) for each in (night.shut_c, night.windows_c, night.plan_c)),
        )
        for night in nights
    ]
    yield table("The room each morning", ("morning", "all shut", "windows alone", "plan 1"), rows)


def over_view(
    house: House, answer: OverAnswer, hazards: Sequence[Hazard], notes: Sequence[Note], system: System
) -> Iterator[RenderableType]:
    """Everything that ``ventplan place`` prints over weather; `hazards` are those of plan 1 under any condition."""
    from rich.text import Text

    alone, best = answer.openings_alone, answer.plans[0]
    changes = change_words(alone.opens, alone.shuts) or "as they are"
    without = f"Windows and doors alone ({changes}): {aim_text(answer.objective, alone.value, system)}"
    value = (
        f"{aim_text(answer.objective, best.value, system)} on average with plan 1."
        if best.placements
        else _why_no_fan(answer.objective, answer.best_with_fan, system)
    )
    head = f"{house.name}, {objective_words(answer.objective)} over all the weather in the file"
    yield Text(f"{head}: {value} {without} on average.", style="bold")
    for rank, plan in enumerate(answer.plans, start=1):
        yield paragraphs(
            f"Plan {rank}: {aim_text(answer.objective, plan.value, system)} on average; within 10 % of the best for "
            f"{percent(plan.near_best)} of the time"
            f"{_demoted(plan) if rank > 1 else ''}",
            _steps(house, plan, system),
        )
    yield from cautions_view({"": hazards}, system)
    yield table(
        f"By weather ({_unit(answer.objective, system)})",
        ("", "time", "wind from", "outdoors", "as it is", "windows alone", "plan 1", "best", "plan 1/best"),
        (
            (
                chr(ord("A") + i),
                percent(group.condition.weight),
                _wind(group.condition, system),
                show(group.condition.outdoors.temperature_c, "temperature", system),
                _value(answer.objective, group.before, system),
                _value(answer.objective, alone.values[i], system),
                _value(answer.objective, best.values[i], system),
                _value(answer.objective, group.plan.values[i], system),
                _share(best.values[i], group.plan.values[i]),
            )
            for i, group in enumerate(answer.groups)
        ),
    )
    yield from _best_there(house, answer, system)
    yield from (Text(note_words(note)) for note in notes)
    yield Text(_how(answer), style="dim")


def _demoted(plan: WeatherPlan) -> str:
    return f"; ranked lower because it {' and '.join(WHY_LOWER[c] for c in plan.causes)}" if plan.causes else ""


def _unit(aim: Objective, system: System) -> str:
    if aim.kind == "clear":
        return "time until clear"
    return "outdoor air changes/h" if aim.kind == "house" else shown_unit("flow", system)


def _value(aim: Objective, value: float, system: System) -> str:
    if aim.kind == "clear":
        return aim_text(aim, value, system)
    return rate_words(3600.0 * value) if aim.kind == "house" else number(value, "flow", system)


def _share(value: float, best: float) -> str:
    return percent(value / best) if best > 0.0 else "–"


def _steps(house: House, plan: WeatherPlan, system: System) -> list[str]:
    lines = [f"{fan_instruction(house, placement, system)}." for placement in plan.placements] or ["No fan."]
    return [*lines, *change_lines(house, plan.opens, plan.shuts, plan.shares)]


def _wind(condition: Condition, system: System) -> str:
    wind = condition.outdoors.wind
    return f"{show(wind.speed_m_s, 'wind', system)} {wind.from_deg:.0f}°" if wind.speed_m_s > 0.0 else "calm"


def _best_there(house: House, answer: OverAnswer, system: System) -> Iterator[RenderableType]:
    """What is better by more than a tenth than plan 1, and under which groups."""
    from rich.text import Text

    best: dict[tuple[str, ...], list[str]] = {}
    for i, group in enumerate(answer.groups):
        if answer.plans[0].values[i] < NEAR_BEST_SHARE * group.plan.values[i]:
            best.setdefault(tuple(_steps(house, group.plan, system)), []).append(chr(ord("A") + i))
    if best:
        lines = (f"{', '.join(letters)}: {' '.join(steps)}" for steps, letters in best.items())
        yield paragraphs("Better than plan 1 by more than 10 %, by weather", lines)
    else:
        yield Text("\nIn every weather of the table plan 1 is within 10 % of the best.")
    yield Text("")


def _how(answer: OverAnswer) -> str:
    screened = "every fan pose with every set of openings" if answer.exhaustive else "the most promising plans"
    averaged = (
        "Averages are over every one of them"
        if answer.hour_by_hour
        else "Averages are over the clusters (add --every-hour for every condition)"
    )
    return (
        f"{answer.conditions} conditions were grouped in {len(answer.groups)} weather clusters, the rows of the table. "
        f"{averaged}. The plan stays the same whatever the weather. {answer.states} states were computed: {screened} "
        "were screened in each cluster, and the best were optimised."
    )
