"""The answers of a placement search: the best plans under one weather, or over many kinds of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from ventplan.advice.describe import Describer
from ventplan.advice.objective import Objective, the_objective
from ventplan.advice.optimise import Optimised, Verdicts
from ventplan.advice.plan import NEAR, CoolNight, OverAnswer, PlaceAnswer, Plan, WeatherGroup, WeatherPlan
from ventplan.advice.screening import Floats, Progress
from ventplan.advice.search import (
    Constraints,
    Search,
    easiest_first,
    fan_names,
    is_worth_a_fan,
    kind_of,
    ranked,
    search_task,
    start_state,
)
from ventplan.advice.weather_clusters import Condition, reduced
from ventplan.airing.hazard import NEVER_FIRST, HazardCode
from ventplan.airing.hazards import find_hazards, level_in, slept_in
from ventplan.airing.weather import Weather
from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.network import solve

SPARE = 3
"""Plans more than asked for that are looked at, in case that the best may not be recommended first."""
GROUPS = 8
"""Conditions that stand for all weather, unless asked otherwise."""


def place(
    house: House,
    scenario: Scenario | str | None = None,
    *,
    target: str | None = None,
    room: str | None = None,
    whole_house: bool = False,
    clear: str | None = None,
    cool: str | None = None,
    weather: Weather | None = None,
    by_hour: float = 6.0,
    fans: Sequence[str] | None = None,
    fans_at_once: int = 1,
    fans_outdoors: bool = False,
    constraints: Constraints | None = None,
    count: int = 3,
    progress: Progress | None = None,
) -> PlaceAnswer:
    """Suggest where to put which fan.

    Parameters
    ----------
    house
        The house.
    scenario
        The state to start from, or the name of one; fans that it places are free to move.
    target, room, whole_house, clear, cool
        The objective, exactly one: most air through an opening, most outdoor air for a room, or where people are, a
        room cleared soonest, or a room coolest by ``by_hour`` with ``weather``.
    weather
        The night, for ``cool``.
    by_hour
        Hour of the morning, for ``cool`` [h].
    fans
        Names of the fans to try; all of the house's if left out.
    fans_at_once
        How many fans may run together, 1 to 3.
    fans_outdoors
        True to let fans stand outdoors too.
    constraints
        What plans may not do.
    count
        How many plans that really differ to give.
    progress
        Called with states done and a guess of all. Ctrl-C ends the search with the best so far.

    Returns
    -------
    PlaceAnswer
        The best plans.

    Raises
    ------
    InputError
        For a name that the house does not have, or no objective or several.
    NoAnswerError
        Where the house has too few fans, or none of them finds a place.
    KeyboardInterrupt
        Where Ctrl-C stopped the search before it had found a plan.
    """
    objective = the_objective(
        house,
        target=target,
        room=room,
        whole_house=whole_house,
        clear=clear,
        cool=cool,
        weather=weather,
        by_hour=by_hour,
    )
    base = start_state(house, scenario, objective)
    names = fan_names(house, fans, fans_at_once)
    task = search_task(
        house,
        [base],
        np.ones(1),
        objective,
        names,
        fans_outdoors=fans_outdoors,
        fans_at_once=fans_at_once,
        constraints=constraints,
    )
    search = Search(task, progress)
    found = search.run(fans_at_once)
    if found.stopped and objective.kind == "cool":
        raise KeyboardInterrupt  # The degrees of what was found so far take longer than anybody waits.
    verdict = Verdicts(search.optimiser)
    best, alone = ranked(search, count + SPARE, verdict)
    describe = Describer(search.optimiser, brief=found.stopped)
    best = safe_first(search, easiest_first(best, verdict, lambda plan: burden(search, plan)), alone)
    best = without_idle_fans(objective, best, verdict)[:count]
    worth = [plan for plan in best if is_worth_a_fan(objective, verdict(plan), verdict(alone))]
    before = verdict(Optimised((), (), task.base.shares, search.optimiser.value(task.base.shares, ())))
    placed = {candidate.placement.fan for candidate in task.candidates}
    alone_plan = describe.plan(alone, verdict(alone), 0.0)
    plans = [describe.plan(one, verdict(one), verdict(replace(one, team=(), trials=()))) for one in worth or best[:1]]
    return PlaceAnswer(
        aim=objective,
        before=before,
        openings_alone=alone_plan,
        plans=tuple(plans) if worth else (alone_plan,),
        best_with_fan=plans[0] if plans else None,
        states=search.states,
        exhaustive=found.complete,
        stopped=found.stopped,
        nowhere=tuple(name for name in names if name not in placed),
    )


def without_idle_fans(
    objective: Objective, plans: Sequence[Optimised], verdict: Callable[[Optimised], float]
) -> list[Optimised]:
    """Plans but for those, after the first, that add a fan to another one of them and bring nothing worth it.

    Parameters
    ----------
    objective
        What is sought.
    plans
        Plans, the one to propose first.
    verdict
        The objective itself.
    """

    def idle(plan: Optimised) -> bool:
        return any(
            kind_of(other.team) < kind_of(plan.team) and not is_worth_a_fan(objective, verdict(plan), verdict(other))
            for other in plans
            if other.team
        )

    return [plan for rank, plan in enumerate(plans) if rank == 0 or not idle(plan)]


def cool_nights(
    house: House, base: Scenario, plan: Plan, objective: Objective, weather: Weather
) -> tuple[CoolNight, ...]:
    """What a plan to cool a room does in every night that the weather covers.

    Parameters
    ----------
    house, base
        The house, and the state that was asked about.
    plan
        The plan.
    objective
        The room and the hour.
    weather
        Any number of nights.
    """
    from ventplan.airing.night import mornings, night

    named = [replace(base, name="as asked", placements=()), replace(plan.scenario, name="plan")]
    runs = night(house, named, weather)
    windows = "plan, windows alone" if any(run.name == "plan, windows alone" for run in runs.runs) else "as asked"
    windows = windows if plan.placements else "plan"
    found = []
    for morning in mornings(runs, weather, hour=round(objective.by_hour)):
        shut, alone, fans = (morning.rooms_c[name][objective.name] for name in ("everything shut", windows, "plan"))
        worth = bool(plan.placements) and is_worth_a_fan(objective, shut - fans, shut - alone)
        found.append(CoolNight(morning.when, shut, alone, fans, worth))
    return tuple(found)


def burden(search: Search, plan: Optimised) -> tuple[float, ...]:
    """Trouble that a plan is: fans, openings to change and fans to lift, then the sound where people sleep.

    Parameters
    ----------
    search
        The search that it comes from.
    plan
        The plan.
    """
    house, base = search.task.house, search.task.base
    changes = sum((share > 0.0) != (base.shares[name] > 0.0) for name, share in plan.shares.items())
    lifted = sum(bool(placement.support_m) for placement in plan.team)
    state = search.optimiser.scenario(plan.shares, plan.team)
    levels = [level_in(house, state, room, fan) or 0.0 for room in slept_in(house) for fan in plan.team]
    return float(len(plan.team)), float(changes + lifted), max(levels, default=0.0)


def safe_first(search: Search, plans: Sequence[Optimised], alone: Optimised) -> list[Optimised]:
    """Plans that may be recommended first, then those that cause what the openings alone do not (`NEVER_FIRST`).

    Parameters
    ----------
    search
        The search that they come from.
    plans
        The best first.
    alone
        The best openings without a fan.
    """

    def grave(plan: Optimised) -> set[HazardCode]:
        state = search.optimiser.scenario(plan.shares, plan.team)
        hazards = find_hazards(search.task.house, state, solve(search.task.house, state))
        return {hazard.code for hazard in hazards} & NEVER_FIRST

    anyway = grave(alone)
    return sorted(plans, key=lambda plan: bool(grave(plan) - anyway))


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
    constraints: Constraints | None = None,
    groups: int = GROUPS,
    hour_by_hour: bool = False,
    count: int = 3,
    progress: Progress | None = None,
) -> OverAnswer:
    """Suggest where to put which fan for all the weather there is; fans and windows stay as they are.

    Parameters
    ----------
    house
        The house.
    conditions
        The weather (`hourly_conditions`, `read_wind_rose`).
    scenario
        The state to start from, or the name of one; its weather does not matter, its temperatures do.
    target, room, whole_house, clear
        The objective, exactly one, as `place` has it.
    fans
        Names of the fans to try; all of the house's if left out.
    fans_at_once
        How many fans may run together, 1 to 3.
    fans_outdoors
        True to let fans stand outdoors too.
    constraints
        What plans may not do.
    groups
        How many conditions may stand for all.
    hour_by_hour
        True to solve every plan that came out under every condition that was given, not only under the groups.
    count
        How many plans that really differ to give.
    progress
        Called with states done and a guess of all.

    Returns
    -------
    OverAnswer
        The best plans, and the best for each group of conditions.

    Raises
    ------
    InputError
        For a name that the house does not have, no objective or several, or no weather.
    NoAnswerError
        Where the house has too few fans, or they find no place.
    """
    if not conditions or groups < 1:
        raise InputError("weather is needed: at least one condition, and at least one group")
    objective = the_objective(house, target=target, room=room, whole_house=whole_house, clear=clear)
    base = start_state(house, scenario, objective)
    names = fan_names(house, fans, fans_at_once)
    few, _ = reduced(house, base, conditions, groups)
    weights = np.array([condition.weight for condition in few])
    bases = [replace(base, outdoors=condition.outdoors) for condition in few]
    task = search_task(
        house,
        bases,
        weights,
        objective,
        names,
        fans_outdoors=fans_outdoors,
        fans_at_once=fans_at_once,
        constraints=constraints,
    )
    search = Search(task, progress)
    found = search.run(fans_at_once)
    if found.stopped:
        raise KeyboardInterrupt  # Judging what was found so far under all weather takes longer than anybody waits.
    pool = [*found.best(), *found.alone, *found.by_weather]
    if not any(plan.team for plan in pool):
        raise NoAnswerError(f"no {fans_at_once} of the fans find places at different openings of {house.name!r}.")
    table = np.array([search.optimiser.values(plan.shares, plan.team) for plan in pool])
    judged, judged_weights, states = table, weights, search.states
    if hour_by_hour:
        judged = _by_hour(house, base, objective, pool, conditions, progress)
        judged_weights, states = np.array([condition.weight for condition in conditions]), states + judged.size
    near = (judged >= NEAR * judged.max(axis=0)) @ judged_weights
    means = judged @ judged_weights
    plans = [_told(task.base, plan, float(means[i]), float(near[i]), table[i]) for i, plan in enumerate(pool)]
    alone = max((plan for plan in plans if not plan.placements), key=lambda plan: plan.value)
    with_fans = sorted((plan for plan in plans if plan.placements), key=lambda plan: -plan.value)
    kinds = {kind_of(plan.placements): plan for plan in reversed(with_fans)}
    best = sorted(kinds.values(), key=lambda plan: -plan.value)
    worth = [plan for plan in best if is_worth_a_fan(objective, plan.value, alone.value)]
    return OverAnswer(
        aim=objective,
        base=task.base,
        openings_alone=alone,
        plans=tuple(worth[:count]) or (alone,),
        groups=tuple(
            WeatherGroup(condition, objective.value(house, one, solve(house, one)), plans[int(table[:, i].argmax())])
            for i, (condition, one) in enumerate(zip(few, task.bases, strict=True))
        ),
        conditions=len(conditions),
        hour_by_hour=hour_by_hour,
        states=states,
        exhaustive=found.complete,
    )


def _by_hour(
    house: House,
    base: Scenario,
    objective: Objective,
    pool: Sequence[Optimised],
    conditions: Sequence[Condition],
    progress: Progress | None,
) -> Floats:
    """Value of every plan under every condition that was given, shape (plans, conditions)."""
    found = np.zeros((len(pool), len(conditions)))
    for hour, condition in enumerate(conditions):
        weathered, near = replace(base, outdoors=condition.outdoors), None
        for i, plan in enumerate(pool):
            state = replace(weathered, shares=plan.shares, placements=(*plan.team, *base.placements))
            near = solve(house, state, near=near)
            found[i, hour] = objective.value(house, state, near)
        if progress is not None:
            progress(hour + 1, len(conditions))
    return found


def _told(base: Scenario, plan: Optimised, value: float, near: float, values: Floats) -> WeatherPlan:
    changed = [name for name, share in plan.shares.items() if (share > 0.0) != (base.shares[name] > 0.0)]
    return WeatherPlan(
        placements=plan.team,
        shares=dict(plan.shares),
        opens=tuple(name for name in changed if plan.shares[name] > 0.0),
        shuts=tuple(name for name in changed if plan.shares[name] <= 0.0),
        value=value,
        near_best=near,
        values=tuple(values.tolist()),
    )
