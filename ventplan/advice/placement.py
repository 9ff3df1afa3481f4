"""Where to put which fan under one weather: the best plans, and the figures of each."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from ventplan.advice.bottlenecks import bottlenecks_of
from ventplan.advice.candidates import kind_of
from ventplan.advice.objective import CLEARED, Objective, occupancy_weights, the_objective
from ventplan.advice.optimise import FLAME_FACTOR, Optimised, Optimiser, Verdicts
from ventplan.advice.plan import CoolNight, PlaceAnswer, Plan, Standing
from ventplan.advice.screening import Progress
from ventplan.advice.search import (
    Constraints,
    Search,
    easiest_first,
    fan_names,
    is_worth_a_fan,
    ranked,
    search_task,
    start_state,
)
from ventplan.advice.setback import GOOD_SHARE, good_range
from ventplan.airing.age import ages_s
from ventplan.airing.air_paths import air_paths
from ventplan.airing.clearing import Release
from ventplan.airing.clearing import clear as clearing
from ventplan.airing.hazards import level_in, slept_in
from ventplan.airing.safety import HazardCode, flame_is_flagged, grave_hazards
from ventplan.airing.weather import Weather
from ventplan.errors import NoAnswerError
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import Flow, solve
from ventplan.network.jets import fan_of
from ventplan.physics.fan import sum_of_levels

EXTRA_PLANS = 3
"""Plans more than asked for that are looked at, in case that the best may not be recommended first."""
MIN_PASSED_SHARE = 0.05
"""Share of what is to be cleared from which on a room counts as passed through [-]."""
RANGE_SETBACKS = 12
"""Setbacks of the curve that the good range of a plan is read off."""
TRIED_ANGLES_DEG = (3.0, 6.0, 9.0, 12.0, 16.0, 20.0, 25.0, 30.0, 37.0, 45.0)


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
    details: bool = True,
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
    details
        True to find out how far each fan may be turned, and what limits each plan: some 15 more solutions a plan.
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
    found = search.run(fans_at_once, keep=count + EXTRA_PLANS)
    if found.stopped and objective.kind == "cool":
        raise KeyboardInterrupt  # Simulating the night for the plans found so far would take too long.
    verdict = Verdicts(search.optimiser)
    best, alone = ranked(search, count + EXTRA_PLANS, verdict)
    describe = Describer(search.optimiser, ranges=not found.stopped, details=details and not found.stopped)
    grave = hazards_beyond(search, alone)
    best = easiest_first(best, verdict, lambda plan: burden(search, plan))
    best = safe_first(best, grave)
    if best and grave(best[0]) and objective.kind != "cool" and not found.stopped:
        best = [*safe_plan(search, best, grave), *best]
    best = without_idle_fans(objective, best, verdict)[:count]
    worth = [plan for plan in best if is_worth_a_fan(objective, verdict(plan), verdict(alone))]
    worth = [] if worth and grave(worth[0]) else worth
    before = verdict(Optimised((), (), task.base.shares, search.optimiser.value(task.base.shares, ())))
    placed = {candidate.placement.fan for candidate in task.candidates}
    alone_plan = describe.plan(alone, verdict(alone), 0.0)
    plans = [
        replace(
            describe.plan(one, verdict(one), verdict(replace(one, team=(), trials=()))),
            causes=tuple(sorted(grave(one))),
        )
        for one in worth or best[:1]
    ]
    return PlaceAnswer(
        objective=objective,
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


def hazards_beyond(search: Search, alone: Optimised) -> Callable[[Optimised], frozenset[HazardCode]]:
    """What finds the grave hazards that a plan causes, under any weather of the search, and the openings alone do not.

    Parameters
    ----------
    search
        The search that the plans come from.
    alone
        The best openings without a fan.
    """
    house, weathers = search.task.house, range(len(search.task.bases))

    def grave(plan: Optimised, weather: int) -> frozenset[HazardCode]:
        state = search.optimiser.scenario(plan.shares, plan.team, weather)
        try:
            return grave_hazards(house, state, solve(house, state))
        except NoAnswerError:  # Such a plan counts for nothing there.
            return frozenset()

    anyway = [grave(alone, weather) for weather in weathers]
    return lambda plan: frozenset[HazardCode]().union(*(grave(plan, i) - anyway[i] for i in weathers))


def safe_first(plans: Sequence[Optimised], grave: Callable[[Optimised], frozenset[HazardCode]]) -> list[Optimised]:
    """Plans that may be recommended first, then those that cause grave hazards, each in the order given.

    Parameters
    ----------
    plans
        The best first.
    grave
        Hazards of a plan (`hazards_beyond`).
    """
    return sorted(plans, key=lambda plan: bool(grave(plan)))


def safe_plan(
    search: Search, plans: Sequence[Optimised], grave: Callable[[Optimised], frozenset[HazardCode]]
) -> list[Optimised]:
    """The best plan of another kind that may be recommended first, if the search found one."""
    known = {kind_of(plan.team) for plan in plans}
    for plan in search.found.others:
        if kind_of(plan.team) not in known and not grave(plan):
            finished = search.optimiser.finished(plan)
            if not grave(finished):
                return [finished]
    return []


class Describer:
    """Everything that is said about a plan.

    Parameters
    ----------
    optimiser
        The full solutions of the search.
    ranges
        True to find the setbacks that keep 90 % of the objective.
    details
        True to find how far each fan may be turned, what it loses on the floor or level, and what limits the plan.
    """

    def __init__(self, optimiser: Optimiser, *, ranges: bool, details: bool) -> None:
        self.optimiser, self.ranges, self.details = optimiser, ranges, details
        self.house, self.objective, self.base = optimiser.house, optimiser.objective, optimiser.task.base

    def plan(self, one: Optimised, value: float, without_fans: float) -> Plan:
        """The plan with its flows, ranges, costs and bottlenecks."""
        house, objective = self.house, self.objective
        state = self.optimiser.scenario(one.shares, one.team)
        flow = solve(house, state)
        changed = {n for n, s in one.shares.items() if (s > 0.0) != (self.base.shares[n] > 0.0)}
        steering = self.optimiser.value(one.shares, one.team)
        flagged, through = flame_is_flagged(house, flow), self._passes_through(state, flow)
        if flagged and one.team and objective.kind != "cool":  # The search counts such a plan less than it brings.
            value, steering = value / FLAME_FACTOR, steering / FLAME_FACTOR
        return Plan(
            placements=one.team,
            scenario=state,
            opens=tuple(n for n in house.openings if n in changed and one.shares[n] > 0.0),
            shuts=tuple(n for n in house.openings if n in changed and one.shares[n] <= 0.0),
            value=value,
            stands=tuple(self._standing(one, index, flow) for index in range(len(one.team))),
            power_w=power_of(house, one.team),
            sound_db=sound_of(house, one.team),
            limits=bottlenecks_of(house, state, objective, steering, flow) if self.details else (),
            flow=flow,
            without_fans=without_fans if one.team else value,
            worst_room=self._worst_room(state, flow),
            passes_through=through,
            doors_to_shut=self._doors_to_shut(one, through),
            flame_flagged=flagged,
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
        return {name: share for name, share in through.items() if share >= MIN_PASSED_SHARE}

    def _doors_to_shut(self, plan: Optimised, through: Mapping[str, float]) -> tuple[str, ...]:
        """Inner doors of rooms with the least of what passes, tried in full one after the other."""
        least, shares, doors = GOOD_SHARE * self.optimiser.value(plan.shares, plan.team), dict(plan.shares), list[str]()
        blown, openings = {placement.opening for placement in plan.team}, self.house.openings.values()
        for name in sorted(through, key=lambda name: through[name]):
            inner = [o for o in openings if name in o.joins and not o.is_external and shares[o.name] > 0.0]
            names = {opening.name for opening in inner}
            if not inner or names & (blown | self.optimiser.task.fixed) or any(o.kind != "door" for o in inner):
                continue
            shut = {**shares, **dict.fromkeys(names, 0.0)}
            if self.optimiser.value(shut, plan.team) >= least:
                shares = shut
                doors += [opening.name for opening in inner]
        return tuple(doors)

    def _standing(self, plan: Optimised, index: int, flow: Flow) -> Standing:
        placement, fan = plan.team[index], flow.fans[index]
        if placement.sealed or not self.ranges:
            return Standing(fan.blades_m3_s, fan.ratio)
        ranges = self.optimiser.ranges(plan, index)
        total = sum(one.high_m - one.low_m for one in ranges)
        setbacks = {placement.setback_m}
        for one in ranges:
            points = max(2, round(RANGE_SETBACKS * (one.high_m - one.low_m) / total)) if total > 0.0 else 1
            setbacks |= set(np.linspace(one.low_m, one.high_m, points).tolist())
        curve = [
            (setback, self.optimiser.value(plan.shares, self.optimiser.moved(plan, index, setback)))
            for setback in sorted(setbacks)
        ]
        value = self.optimiser.value(plan.shares, plan.team)
        low, high = good_range(curve, (placement.setback_m, value), ranges)
        if not self.details:
            return Standing(fan.blades_m3_s, fan.ratio, low, high)
        floor = self.optimiser.on_the_floor(plan, index) if placement.support_m else None
        level = (*plan.team[:index], replace(placement, tilt_deg=0.0), *plan.team[index + 1 :])
        return Standing(
            fan.blades_m3_s,
            fan.ratio,
            low,
            high,
            self._aim_off(plan, index, value),
            on_floor=None if floor is None else self.optimiser.value(plan.shares, floor) / value,
            level=None if abs(placement.tilt_deg) < 1.0 else self.optimiser.value(plan.shares, level) / value,
        )

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

        limit = GOOD_SHARE * value
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
    return sum_of_levels(level or 0.0 for level in levels)
