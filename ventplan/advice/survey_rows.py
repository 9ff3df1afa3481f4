"""One row of a survey: what one house says in one state, in plain numbers and words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ventplan.advice.interval import Quantity, interval
from ventplan.advice.place import place
from ventplan.airing.air_paths import purging_air_change_rates_per_h
from ventplan.airing.hazards import cautions
from ventplan.errors import InputError
from ventplan.house.records import House, Scenario
from ventplan.network import Flow, solve

Cell = str | float | None
Row = Mapping[str, Cell]

COLUMNS: Mapping[str, Literal["words", "number"]] = {
    "file": "words",
    "house": "words",
    "scenario": "words",
    "mistake": "words",
    "rooms": "number",
    "volume_m3": "number",
    "outdoor_temperature_c": "number",
    "wind_m_s": "number",
    "wind_from_deg": "number",
    "outdoor_air_m3_s": "number",
    "outdoor_air_low_m3_s": "number",
    "outdoor_air_high_m3_s": "number",
    "outdoor_air_change_per_h": "number",
    "worst_room": "words",
    "worst_effective_air_change_per_h": "number",
    "cut_off_rooms": "words",
    "fans": "words",
    "fan_ratio": "number",
    "cautions": "words",
    "aim": "words",
    "aim_before": "number",
    "aim_planned": "number",
    "plan_fans": "words",
    "plan_openings": "words",
    "plan_stands_in": "words",
    "plan_setbacks_m": "words",
    "plan_opens": "words",
    "plan_shuts": "words",
    "plan_cautions": "words",
}
"""Columns of the table, in order, SI. The aim's values are in m3/s, 1/s for the worst room."""


@dataclass(frozen=True)
class SurveyQuestion:
    """What is asked of every house.

    Attributes
    ----------
    scenarios
        Names of scenarios; empty for every scenario of each house.
    target, room, whole_house
        What to place fans for, at most one; no placing where none is given.
    draws
        Draws for the 90 % interval of the air from outdoors; 0 for no interval.
    """

    scenarios: tuple[str, ...] = ()
    target: str | None = None
    room: str | None = None
    whole_house: bool = False
    draws: int = 0

    def __post_init__(self) -> None:
        if sum((self.target is not None, self.room is not None, self.whole_house)) > 1:
            raise InputError("say at most one aim: a target opening, a room, or the whole house")

    @property
    def has_aim(self) -> bool:
        """True where fans are to be placed."""
        return self.whole_house or self.target is not None or self.room is not None


def survey_row(house: House, scenario: Scenario, question: SurveyQuestion) -> dict[str, Cell]:
    """Everything that the question asks of one house in one state.

    Parameters
    ----------
    house, scenario
        The house and its state.
    question
        What is asked.

    Returns
    -------
    dict
        By name of the column; columns without an answer are left out.

    Raises
    ------
    VentplanError
        Where the house has no answer, or not what the aim names.
    """
    flow = solve(house, scenario)
    row = {**_of_state(house, scenario), **_of_flow(house, scenario, flow)}
    if question.draws > 0:
        air = interval(house, scenario, [Quantity("air from outdoors")], draws=question.draws).intervals[0]
        row |= {"outdoor_air_low_m3_s": air.low, "outdoor_air_high_m3_s": air.high}
    if question.has_aim:
        row |= _of_plan(house, scenario, question)
    return row


def _of_state(house: House, scenario: Scenario) -> dict[str, Cell]:
    outdoors = scenario.outdoors
    return {
        "house": house.name,
        "scenario": scenario.name,
        "rooms": float(len(house.rooms)),
        "volume_m3": sum(room.volume_m3 for room in house.rooms.values()),
        "outdoor_temperature_c": outdoors.temperature_c,
        "wind_m_s": outdoors.wind.speed_m_s,
        "wind_from_deg": outdoors.wind.from_deg,
    }


def _of_flow(house: House, scenario: Scenario, flow: Flow) -> dict[str, Cell]:
    outdoor = sum(room.outdoor_m3_s for room in flow.rooms.values())
    effective = purging_air_change_rates_per_h(house, scenario, flow)
    worst = min(effective, key=lambda name: effective[name])
    blades = sum(fan.blades_m3_s for fan in flow.fans)
    return {
        "outdoor_air_m3_s": outdoor,
        "outdoor_air_change_per_h": 3600.0 * outdoor / sum(room.volume_m3 for room in house.rooms.values()),
        "worst_room": worst,
        "worst_effective_air_change_per_h": effective[worst],
        "cut_off_rooms": "; ".join(flow.cut_off),
        "fans": "; ".join(f"{fan.name} at {fan.opening}" for fan in flow.fans),
        "fan_ratio": sum(fan.driven_m3_s for fan in flow.fans) / blades if blades > 0.0 else None,
        "cautions": _cautions(house, scenario, flow),
    }


def _cautions(house: House, scenario: Scenario, flow: Flow) -> str:
    return "; ".join(dict.fromkeys(caution.about for caution in cautions(house, scenario, flow)))


def _of_plan(house: House, scenario: Scenario, question: SurveyQuestion) -> dict[str, Cell]:
    answer = place(
        house, scenario, target=question.target, room=question.room, whole_house=question.whole_house, count=1
    )
    plan = answer.plans[0]
    return {
        "aim": answer.aim.words(),
        "aim_before": answer.before,
        "aim_planned": plan.value,
        "plan_fans": "; ".join(p.fan for p in plan.placements),
        "plan_openings": "; ".join(p.opening for p in plan.placements),
        "plan_stands_in": "; ".join(p.stands_in for p in plan.placements),
        "plan_setbacks_m": "; ".join("sealed" if p.sealed else f"{p.setback_m:.2f}" for p in plan.placements),
        "plan_opens": "; ".join(plan.opens),
        "plan_shuts": "; ".join(plan.shuts),
        "plan_cautions": _cautions(house, plan.scenario, plan.flow),
    }
