"""The plan that is best over many kinds of weather, beside the best for each.

Fans and a set of windows stay as they are while the weather turns. Hours are grouped into a few conditions
(`ventplan.advice.conditions`); placements are screened under each and the most promising settled in full
(`ventplan.advice.weather_search`); every plan that came out is solved in full under every condition.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ventplan.advice.aims import Aim
from ventplan.advice.candidates import candidates, everything_open
from ventplan.advice.conditions import Condition, reduced
from ventplan.advice.place import fan_names, start_state, the_aim
from ventplan.advice.screening import Screening
from ventplan.advice.settle import Settled, Settler, value_in_full
from ventplan.advice.weather_plans import NEAR, OverAnswer, WeatherGroup, WeatherPlan, different
from ventplan.advice.weather_search import (
    KINDS_IN_FULL,
    Floats,
    Progress,
    Steps,
    openings_alone,
    screened,
    settled,
)
from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.network import solve

GROUPS = 8
"""Conditions that stand for all weather, unless asked otherwise."""


def place_over(
    house: House,
    conditions: Sequence[Condition],
    scenario: Scenario | str | None = None,
    *,
    target: str | None = None,
    room: str | None = None,
    whole_house: bool = False,
    clear: str | None = None,
    fans: Sequence[str] | None = None,
    fans_at_once: int = 1,
    fans_outdoors: bool = False,
    groups: int = GROUPS,
    hour_by_hour: bool = False,
    count: int = 3,
    progress: Progress | None = None,
) -> OverAnswer:
    """Suggest where to put which fan for all the weather there is.

    Parameters
    ----------
    house
        The house.
    conditions
        The weather (`hourly_conditions`, `read_wind_rose`).
    scenario
        The state to start from, or the name of one; its weather does not matter, its temperatures do.
    target, room, whole_house, clear
        The aim, exactly one, as `ventplan.advice.place` has it.
    fans
        Names of the fans to try; all of the house's if left out.
    fans_at_once
        How many fans run together, 1 to 3.
    fans_outdoors
        True to let fans stand outdoors too.
    groups
        How many conditions may stand for all.
    hour_by_hour
        True to solve every plan that came out under every condition that was given, not only under the groups.
    count
        How many plans that really differ to show.
    progress
        Called with steps done and to do.

    Returns
    -------
    OverAnswer
        The best plans, and the best for each group of conditions.

    Raises
    ------
    InputError
        For a name that the house does not have, no aim or several, or no weather.
    NoAnswerError
        Where the house has too few fans, or they find no place.
    """
    if not conditions or groups < 1:
        raise InputError("weather is needed: at least one condition, and at least one group")
    aim = the_aim(house, target=target, room=room, whole_house=whole_house, clear=clear)
    base = start_state(house, scenario, aim)
    names = fan_names(house, fans, fans_at_once)
    found = tuple(candidates(house, everything_open(house, base), names, fans_outdoors=fans_outdoors))
    if not found:
        raise NoAnswerError(
            f"none of the fans ({', '.join(names)}) finds a place in {house.name!r} with a clear line to an opening."
        )
    few, _ = reduced(house, base, conditions, groups)
    weights = np.array([condition.weight for condition in few])
    bases = [replace(base, outdoors=condition.outdoors) for condition in few]
    rounds = 3 if fans_at_once == 1 else 4
    steps = Steps(progress, screenings=rounds * len(few), plans=KINDS_IN_FULL + 1 + 2 * len(few))
    screenings = [Screening(house, one, aim, found) for one in bases]
    single = [Settler(screening) for screening in screenings]
    best = screened(screenings, weights, fans_at_once, steps)
    if best is None:
        raise NoAnswerError(f"no {fans_at_once} of the fans find places at different openings of {house.name!r}.")
    alone = settled(screenings[0], single, weights, openings_alone(screenings, steps), steps)
    pool = settled(screenings[0], single, weights, best, steps) + alone

    table = np.array([[one.value(plan.shares, plan.team) for one in single] for plan in pool])
    judged, judged_weights = table, weights
    if hour_by_hour:
        judged = _by_hour(house, base, aim, pool, conditions, progress)
        judged_weights = np.array([condition.weight for condition in conditions])
    near = (judged >= NEAR * judged.max(axis=0)) @ judged_weights
    means = judged @ judged_weights
    plans = [_told(house, base, plan, float(means[i]), float(near[i]), table[i]) for i, plan in enumerate(pool)]
    told = tuple(
        WeatherGroup(condition, aim.value(house, one, solve(house, one)), plans[int(table[:, i].argmax())])
        for i, (condition, one) in enumerate(zip(few, bases, strict=True))
    )
    return OverAnswer(
        aim=aim,
        base=base,
        openings_alone=different([plan for plan in plans if not plan.placements], 1)[0],
        plans=different([plan for plan in plans if plan.placements], count),
        groups=told,
        conditions=len(conditions),
        hour_by_hour=hour_by_hour,
        states=sum(s.states for s in screenings) + sum(s.states for s in single) + (judged.size if hour_by_hour else 0),
        exhaustive=best.exhaustive,
    )


def _by_hour(
    house: House,
    base: Scenario,
    aim: Aim,
    pool: Sequence[Settled],
    conditions: Sequence[Condition],
    progress: Progress | None,
) -> Floats:
    """Value of every plan under every condition that was given, shape (plans, conditions)."""
    found = np.zeros((len(pool), len(conditions)))
    for hour, condition in enumerate(conditions):
        weathered = replace(base, outdoors=condition.outdoors)
        for i, plan in enumerate(pool):
            state = replace(weathered, shares=plan.shares, placements=plan.team)
            found[i, hour], _ = value_in_full(house, state, aim)
        if progress is not None:
            progress(hour + 1, len(conditions))
    return found


def _told(house: House, base: Scenario, plan: Settled, value: float, near: float, values: Floats) -> WeatherPlan:
    changed = [name for name in house.openings if (plan.shares[name] > 0.0) != (base.shares[name] > 0.0)]
    return WeatherPlan(
        placements=plan.team,
        shares=dict(plan.shares),
        opens=tuple(name for name in changed if plan.shares[name] > 0.0),
        shuts=tuple(name for name in changed if plan.shares[name] <= 0.0),
        value=value,
        near_best=near,
        values=tuple(values.tolist()),
    )
