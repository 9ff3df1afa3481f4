"""The answers of a placement search: the best plans under one weather, or over many kinds of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ventplan.advice.bottlenecks import limits_of
from ventplan.advice.objective import CLEARED, Objective, occupancy_weights
from ventplan.advice.optimise import Optimised, Optimiser
from ventplan.advice.plan import NEAR, OverAnswer, PlaceAnswer, Plan, Standing, WeatherGroup, WeatherPlan
from ventplan.advice.screening import Floats, Progress
from ventplan.advice.search import (
    Constraints,
    Search,
    fan_names,
    is_worth_a_fan,
    kind_of,
    ranked,
    search_task,
    start_state,
    the_objective,
)
from ventplan.advice.setback import good_range
from ventplan.advice.weather_clusters import Condition, reduced
from ventplan.airing.age import ages_s
from ventplan.airing.air_paths import air_paths
from ventplan.airing.clearing import Release
from ventplan.airing.clearing import clear as clearing
from ventplan.airing.hazards_air import flame_is_flagged
from ventplan.airing.weather import Weather
from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import Flow, solve
from ventplan.network.rays import fan_of

GROUPS = 8
"""Conditions that stand for all weather, unless asked otherwise."""
NOTICED = 0.05
"""Share of what is to be cleared from which on a room counts as passed through [-]."""
POINTS = 12
"""Setbacks of the curve that the good range of a plan is read off."""
TRIED_ANGLES_DEG = (3.0, 6.0, 9.0, 12.0, 16.0, 20.0, 25.0, 30.0, 37.0, 45.0)
KEEPS = 0.9
"""Share of the objective that marks how far a fan may be off [-]."""


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
        house, [base], np.ones(1), objective, names, fans_outdoors=fans_outdoors, constraints=constraints
    )
    search = Search(task, progress)
    found = search.run(fans_at_once)
    known: dict[tuple[tuple[float, ...], tuple[Placement, ...]], float] = {}

    def verdict(plan: Optimised) -> float:
        key = tuple(plan.shares.values()), plan.team
        if key not in known:
            known[key] = search.optimiser.value(plan.shares, plan.team)
            if objective.kind == "cool":
                state = search.optimiser.scenario(plan.shares, plan.team)
                known[key] = objective.verdict(house, state, solve(house, state))
        return known[key]

    best, alone = ranked(search, count, verdict)
    worth = [plan for plan in best if is_worth_a_fan(objective, verdict(plan), verdict(alone))]
    describe = _Describer(search.optimiser, brief=found.stopped)
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


class _Describer:
    """Everything that is said about a plan.

    Parameters
    ----------
    optimiser
        The full solutions of the search.
    brief
        True to leave out what takes further solutions.
    """

    def __init__(self, optimiser: Optimiser, *, brief: bool) -> None:
        self.optimiser, self.brief = optimiser, brief
        self.house, self.objective, self.base = optimiser.house, optimiser.objective, optimiser.task.base

    def plan(self, one: Optimised, value: float, without_fans: float) -> Plan:
        """The plan with its flows, ranges, costs and bottlenecks."""
        house, objective = self.house, self.objective
        state = self.optimiser.scenario(one.shares, one.team)
        flow = solve(house, state)
        changed = {n for n, s in one.shares.items() if (s > 0.0) != (self.base.shares[n] > 0.0)}
        steering = self.optimiser.value(one.shares, one.team)
        return Plan(
            placements=one.team,
            scenario=state,
            opens=tuple(n for n in house.openings if n in changed and one.shares[n] > 0.0),
            shuts=tuple(n for n in house.openings if n in changed and one.shares[n] <= 0.0),
            value=value,
            stands=tuple(self._standing(one, index, flow) for index in range(len(one.team))),
            power_w=power_of(house, one.team),
            sound_db=sound_of(house, one.team),
            limits=() if self.brief else limits_of(house, state, objective, steering, flow),
            flow=flow,
            without_fans=without_fans if one.team else value,
            worst_room=self._worst_room(state, flow),
            passes_through=self._passes_through(state, flow),
            flame_flagged=flame_is_flagged(house, flow),
        )

    def _worst_room(self, state: Scenario, flow: Flow) -> str:
        """The room with the oldest air among those where people are."""
        if self.objective.kind != "house":
            return ""
        paths = air_paths(self.house, state, flow)
        counted = occupancy_weights(self.house) > 0.0
        return paths.names[int(np.argmax(np.where(counted, ages_s(paths), -1.0)))]

    def _passes_through(self, state: Scenario, flow: Flow) -> dict[str, float]:
        """Other rooms that at least a twentieth of what is to be cleared goes through."""
        if self.objective.kind != "clear":
            return {}
        release = Release(start={self.objective.name: 1.0}, limit=CLEARED)
        rooms = clearing(air_paths(self.house, state, flow), release).rooms
        through = {name: room.visited for name, room in rooms.items() if name != self.objective.name}
        return {name: share for name, share in through.items() if share >= NOTICED}

    def _standing(self, plan: Optimised, index: int, flow: Flow) -> Standing:
        placement, fan = plan.team[index], flow.fans[index]
        if placement.sealed or self.brief:
            return Standing(fan.blades_m3_s, fan.ratio)
        ranges = self.optimiser.ranges(plan, index)
        total = sum(one.high_m - one.low_m for one in ranges)
        setbacks = {placement.setback_m}
        for one in ranges:
            points = max(2, round(POINTS * (one.high_m - one.low_m) / total)) if total > 0.0 else 1
            setbacks |= set(np.linspace(one.low_m, one.high_m, points).tolist())
        curve = [
            (setback, self.optimiser.value(plan.shares, self.optimiser.moved(plan, index, setback)))
            for setback in sorted(setbacks)
        ]
        value = self.optimiser.value(plan.shares, plan.team)
        low, high = good_range(curve, (placement.setback_m, value), ranges)
        return Standing(fan.blades_m3_s, fan.ratio, low, high, self._aim_off(plan, index, value))

    def _aim_off(self, plan: Optimised, index: int, value: float) -> float:
        """Angle by which the axis may turn, to the worse side, before a tenth is lost [deg].

        By a straight line between the angles that are tried, found by bisection.
        """
        placement = plan.team[index]

        def kept(angle_deg: float) -> float:
            found = []
            for way in (1.0, -1.0):
                other = replace(placement, turn_deg=placement.turn_deg + way * angle_deg)
                team = (*plan.team[:index], other, *plan.team[index + 1 :])
                found.append(self.optimiser.value(plan.shares, team))
            return min(found)

        limit = KEEPS * value
        low, high = -1, len(TRIED_ANGLES_DEG)
        values = {-1: value}
        while high - low > 1:
            middle = (low + high) // 2
            values[middle] = kept(TRIED_ANGLES_DEG[middle])
            low, high = (middle, high) if values[middle] >= limit else (low, middle)
        if high == len(TRIED_ANGLES_DEG):
            return TRIED_ANGLES_DEG[-1]
        below = TRIED_ANGLES_DEG[low] if low >= 0 else 0.0
        share = (values[low] - limit) / max(values[low] - values[high], 1e-12)
        return below + (TRIED_ANGLES_DEG[high] - below) * share


def power_of(house: House, team: Sequence[Placement]) -> float | None:
    """Electrical input of all fans [W]; None where one is not known."""
    powers = [fan_of(house, placement).power_w for placement in team]
    return None if any(power is None for power in powers) else sum(power or 0.0 for power in powers)


def sound_of(house: House, team: Sequence[Placement]) -> float | None:
    """Sound level of all fans together, each at 1 m, 10 log10 of the sum of 10^(L/10) [dB(A)]."""
    levels = [fan_of(house, placement).sound_db for placement in team]
    if not levels or any(level is None for level in levels):
        return None
    return 10.0 * math.log10(sum(10.0 ** ((level or 0.0) / 10.0) for level in levels))


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
    task = search_task(house, bases, weights, objective, names, fans_outdoors=fans_outdoors, constraints=constraints)
    search = Search(task, progress)
    found = search.run(fans_at_once)
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
            state = replace(weathered, shares=plan.shares, placements=plan.team)
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
