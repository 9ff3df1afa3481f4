"""What a placement search over many kinds of weather answers with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ventplan.advice.aims import Aim
from ventplan.advice.conditions import Condition
from ventplan.house.records import Placement, Scenario

NEAR = 0.9
"""A plan is near the best where it has this share of the best plan's value [-]."""


@dataclass(frozen=True)
class WeatherPlan:
    """One plan over all weather.

    Attributes
    ----------
    placements
        For each fan: opening, side, setback, height and aim; empty for openings alone.
    shares
        Free share of every opening [-].
    opens, shuts
        Openings to open and to shut, against the state that was asked about.
    value
        Weighted mean of the aim.
    near_best
        Share of the time in which it has at least nine tenths of the best plan for that weather [-].
    values
        The aim under each condition of the answer.
    """

    placements: tuple[Placement, ...]
    shares: Mapping[str, float]
    opens: tuple[str, ...]
    shuts: tuple[str, ...]
    value: float
    near_best: float
    values: tuple[float, ...]


@dataclass(frozen=True)
class WeatherGroup:
    """The best for one group of conditions.

    Attributes
    ----------
    condition
        The condition that stands for the group, and its share of the time.
    before
        The aim in the state that was asked about, without a fan.
    plan
        The best plan there; without fans where openings alone do more than any plan with them.
    """

    condition: Condition
    before: float
    plan: WeatherPlan


@dataclass(frozen=True)
class OverAnswer:
    """The answer of a placement search over weather.

    Attributes
    ----------
    aim
        What was asked for.
    base
        The state that was asked about, without fans.
    openings_alone
        The best that one set of windows and doors does over all weather without a fan.
    plans
        The best plans over all weather that differ in opening, side or kind, best first.
    groups
        The conditions, the most frequent first, each with its best plan.
    conditions
        How many conditions were given.
    hour_by_hour
        True where means and times near the best come from every condition that was given, False where from groups.
    states
        How many states of the house were solved.
    exhaustive
        True where every placement was tried with every set of windows under every condition.
    """

    aim: Aim
    base: Scenario
    openings_alone: WeatherPlan
    plans: tuple[WeatherPlan, ...]
    groups: tuple[WeatherGroup, ...]
    conditions: int
    hour_by_hour: bool
    states: int
    exhaustive: bool


def different(plans: Sequence[WeatherPlan], count: int) -> tuple[WeatherPlan, ...]:
    """The best plans that differ in opening, side or kind, best first.

    Parameters
    ----------
    plans
        Any number of plans.
    count
        How many to keep at most.
    """
    kinds: dict[frozenset[tuple[str, str, bool]], WeatherPlan] = {}
    for plan in sorted(plans, key=lambda plan: -plan.value):
        kinds.setdefault(frozenset((p.opening, p.stands_in, p.sealed) for p in plan.placements), plan)
    return tuple(kinds.values())[:count]
