"""Placements over many kinds of weather for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.objective import Objective
from ventplan.advice.plan import NEAR, Condition, OverAnswer, WeatherPlan
from ventplan.house.records import House
from ventplan.house.units import System, show, shown_unit
from ventplan.show.advice_tables import aim_text, alone_view
from ventplan.show.flow_tables import caution_view
from ventplan.show.objective_words import objective_words
from ventplan.show.tables import fan_instruction, number, paragraphs, rate_words, table

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.show.cautions import Caution


def over_view(
    house: House, answer: OverAnswer, cautions: Sequence[Caution], notes: Sequence[str], system: System
) -> Iterator[RenderableType]:
    """Everything that ``ventplan place`` prints over weather.

    Parameters
    ----------
    house
        The house.
    answer
        The search.
    cautions
        Of the best plan, under any of the conditions.
    notes
        What the weather file left to assume.
    system
        Units to show.
    """
    from rich.text import Text

    alone, best = answer.openings_alone, answer.plans[0]
    yield Text(f"{house.name}: {objective_words(answer.aim)}, over all the weather in the file", style="bold")
    yield from alone_view(answer.aim, alone, answer.plans, system, " on average")
    for rank, plan in enumerate(answer.plans, start=1):
        yield Text("")
        yield paragraphs(
            f"Plan {rank}: {aim_text(answer.aim, plan.value, system)} on average, within 10 % of the best for "
            f"{100.0 * plan.near_best:.0f} % of the time",
            _steps(house, plan, system),
        )
    yield from caution_view(cautions)
    yield table(
        f"By weather ({_unit(answer.aim, system)})",
        ("", "time", "wind from", "outdoors", "as it is", "windows alone", "plan 1", "best there", "share"),
        (
            (
                chr(ord("A") + i),
                f"{100.0 * group.condition.weight:.0f} %",
                _wind(group.condition, system),
                show(group.condition.outdoors.temperature_c, "temperature", system),
                _value(answer.aim, group.before, system),
                _value(answer.aim, alone.values[i], system),
                _value(answer.aim, best.values[i], system),
                _value(answer.aim, group.plan.values[i], system),
                _share(best.values[i], group.plan.values[i]),
            )
            for i, group in enumerate(answer.groups)
        ),
    )
    yield Text("")
    yield from _best_there(house, answer, system)
    yield from (Text(note) for note in notes)
    yield Text(_how(answer), style="dim")


def _unit(aim: Objective, system: System) -> str:
    if aim.kind == "clear":
        return "time until clear"
    return "outdoor air changes/h" if aim.kind == "house" else shown_unit("flow", system)


def _value(aim: Objective, value: float, system: System) -> str:
    if aim.kind == "clear":
        return aim_text(aim, value, system)
    return rate_words(3600.0 * value) if aim.kind == "house" else number(value, "flow", system)


def _share(value: float, best: float) -> str:
    return f"{100.0 * value / best:.0f} %" if best > 0.0 else "–"


def _steps(house: House, plan: WeatherPlan, system: System) -> list[str]:
    lines = [f"{fan_instruction(house, placement, system)}." for placement in plan.placements] or ["No fan."]
    lines += [f"Open: {', '.join(plan.opens)}."] if plan.opens else []
    lines += [f"Shut: {', '.join(plan.shuts)}."] if plan.shuts else []
    return lines if plan.opens or plan.shuts else [*lines, "Leave windows and doors as they are."]


def _wind(condition: Condition, system: System) -> str:
    wind = condition.outdoors.wind
    return f"{show(wind.speed_m_s, 'wind', system)} {wind.from_deg:.0f}°" if wind.speed_m_s > 0.0 else "calm"


def _best_there(house: House, answer: OverAnswer, system: System) -> Iterator[RenderableType]:
    """What is better by more than a tenth than plan 1, and under which groups."""
    from rich.text import Text

    best: dict[tuple[str, ...], list[str]] = {}
    for i, group in enumerate(answer.groups):
        if answer.plans[0].values[i] < NEAR * group.plan.values[i]:
            best.setdefault(tuple(_steps(house, group.plan, system)), []).append(chr(ord("A") + i))
    for steps, letters in best.items():
        yield paragraphs(f"Better there, for {', '.join(letters)}:", steps)
    if not best:
        yield Text("In every cluster plan 1 is within 10 % of the best.")
    yield Text("")


def _how(answer: OverAnswer) -> str:
    screened = "every fan pose with every set of openings" if answer.exhaustive else "the most promising plans"
    told = (
        "averages and times near the best are over every one of them"
        if answer.hour_by_hour
        else "averages and times near the best are over the clusters (--every-hour for all)"
    )
    return (
        f"{answer.conditions} conditions in {len(answer.groups)} weather clusters; {told}. The plan stays the same "
        f"whatever the weather. {answer.states} states were computed: {screened} under each cluster; then the best "
        "were optimised."
    )
