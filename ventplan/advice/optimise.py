"""Full solutions around what screening found: setbacks as continuous optima, doors and windows one by one."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ventplan.advice.bottlenecks import limits_of
from ventplan.advice.candidates import Stretch, aimed, stays_shut, stretches
from ventplan.advice.objective import CLEARED, Objective
from ventplan.advice.plan import Plan, Standing
from ventplan.advice.screening import Floats, Measure, Screened, Screening, Trial
from ventplan.advice.setback import best_setback, good_range
from ventplan.airing.air_paths import air_paths, purging_air_change_rates_per_h
from ventplan.airing.clearing import Release, clear
from ventplan.airing.hazards import NEAR_OPENING_M
from ventplan.errors import NoAnswerError
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import Flow, solve
from ventplan.network.rays import fan_of

WORTH = 0.005
"""A change that brings less than this share is not asked for [-]."""
ALIKE = 0.01
"""A fan stands clear of a doorway, where people pass, if that costs no more than this share [-]."""
NOTICED = 0.05
"""Share from which on a fan counts as useful, and a room as passed through [-]."""
TRIED_ANGLES_DEG = (3.0, 6.0, 9.0, 12.0, 16.0, 20.0, 25.0, 30.0, 37.0, 45.0)
POINTS = 12
"""Setbacks of the curve of each fan in a plan, before its optimum is settled."""

Team = tuple[Placement, ...]


@dataclass(frozen=True)
class Settled:
    """A plan on its way: the trial of each fan that it came from, fans, free shares, value, and setback curves."""

    trials: tuple[Trial, ...]
    team: Team
    shares: Mapping[str, float]
    value: float
    curves: tuple[tuple[tuple[float, float], ...], ...]


def value_in_full(house: House, state: Scenario, aim: Objective, near: Flow | None = None) -> tuple[float, Flow | None]:
    """The aim's steering value of a state, solved in full, and the solution; 0 and none for a state without an answer.

    Parameters
    ----------
    house, state
        The house and its state.
    aim
        What to get the most of.
    near
        The solution of a similar state, to start from.
    """
    try:
        flow = solve(house, state, near=near)
    except NoAnswerError:
        return 0.0, near
    return aim.value(house, state, flow), flow


class Settler:
    """Solves plans in full.

    Parameters
    ----------
    screening
        The bulk search that the plans come from, with its house, the state that was asked about, and its aim.
    """

    def __init__(self, screening: Screening) -> None:
        self.screening = screening
        self.house, self.base, self.aim = screening.house, screening.base, screening.aim
        self.states = 0
        self._last: Flow | None = None

    def scenario(self, shares: Mapping[str, float], team: Team) -> Scenario:
        """The whole state of a plan."""
        return replace(self.base, name="plan", shares=shares, placements=team)

    def value(self, shares: Mapping[str, float], team: Team) -> float:
        """The aim's steering value of a plan, solved in full."""
        self.states += 1
        value, self._last = value_in_full(self.house, self.scenario(shares, team), self.aim, self._last)
        return value

    def rough(self, trials: tuple[Trial, ...], states: Sequence[Mapping[str, float]], measure: Measure) -> Floats:
        """Rough values of plans with the same fans at their trial setbacks, one for each set of free shares."""
        found: Floats = self.screening.values([trials], self.screening.rows_of(states), measure=measure)[0]
        return found

    def settle(self, states: Sequence[Screened]) -> Settled:
        """The best of some states of one kind, with setbacks settled."""
        tops = []
        for state in states:
            team = tuple(trial.placement for trial in state.team)
            tops.append(Settled(state.team, team, state.shares, self.value(state.shares, team), ((),) * len(team)))
        return self._with_setbacks(max(tops, key=lambda top: top.value))

    def improve(self, plan: Settled) -> Settled:
        """The plan with its doors and windows improved, and its setbacks settled again where they changed."""
        improved = self._with_better_openings(plan)
        return self._with_setbacks(improved) if improved.shares != plan.shares else plan

    def _with_setbacks(self, plan: Settled) -> Settled:
        """Settle the setback of each fan as a continuous optimum, in turn."""
        for index, placement in enumerate(plan.team):
            if placement.sealed:
                continue

            def value(setback_m: float, index: int = index, plan: Settled = plan) -> float:
                return self.value(plan.shares, self._moved(plan, index, setback_m))

            setback, found, pairs = best_setback(value, self._ranges(plan, index), points=POINTS)
            if setback < NEAR_OPENING_M and self.house.openings[placement.opening].kind in ("door", "passage"):
                setback, found = max(
                    (pair for pair in pairs if pair[0] >= NEAR_OPENING_M and pair[1] >= found * (1.0 - ALIKE)),
                    key=lambda pair: pair[1],
                    default=(setback, found),
                )
            curves = (*plan.curves[:index], tuple(pairs), *plan.curves[index + 1 :])
            plan = replace(plan, team=self._moved(plan, index, setback), value=found, curves=curves)
        return plan

    def _ranges(self, plan: Settled, index: int) -> tuple[Stretch, ...]:
        """Where a fan can stand with the openings of this plan."""
        placement = plan.team[index]
        state = self.scenario(plan.shares, plan.team)
        fan, opening = self.house.fans[placement.fan], self.house.openings[placement.opening]
        return stretches(self.house, state, fan, opening, placement.stands_in) or plan.trials[index].candidate.ranges

    def _moved(self, plan: Settled, index: int, setback_m: float) -> Team:
        moved = replace(plan.team[index], setback_m=setback_m, height_m=None)
        moved = aimed(self.house, self.scenario(plan.shares, (moved,)), moved)
        return (*plan.team[:index], moved, *plan.team[index + 1 :])

    def _with_better_openings(self, plan: Settled) -> Settled:
        """Change doors and windows one by one while that helps, then take back what brings next to nothing.

        The changes are found by rough values, from the plan and from everything open: rooms in line need several doors
        at once. They count where they help in the full solution too.
        """
        fixed = {placement.opening for placement in plan.team}
        fixed |= {self.aim.name} if self.aim.kind == "opening" else set()
        fixed |= {name for name in self.house.openings if stays_shut(self.house, self.base, name)}
        moving = [n for n, o in self.house.openings.items() if o.can_move and n not in fixed and o.full_share > 0.0]
        best = plan
        for start in (plan.shares, {**plan.shares, **{name: self._opened(name) for name in moving}}):
            changed = self._with_shares(plan, self._climbed(plan, start, moving))
            best = changed if changed.value > best.value * (1.0 + WORTH) else best
        floor = best.value * (1.0 - WORTH)
        for name in moving:
            if (best.shares[name] > 0.0) != (self.base.shares[name] > 0.0):
                trial = self._with_shares(best, {**best.shares, name: self.base.shares[name]})
                if trial.value >= floor:
                    best = trial
        return best

    def _climbed(self, plan: Settled, shares: Mapping[str, float], moving: Sequence[str]) -> Mapping[str, float]:
        """Free shares after the change of one opening that helps most, again and again, by rough values."""
        for measure in (self.aim.airing, self.aim.values):
            for _ in moving:
                flipped = [self._flipped(shares, name) for name in moving]
                now, *then = self.rough(plan.trials, [shares, *flipped], measure).tolist()
                if max(then) <= now * (1.0 + WORTH):
                    break
                shares = flipped[then.index(max(then))]
        return shares

    def _opened(self, name: str) -> float:
        return self.base.shares[name] or self.house.openings[name].full_share

    def _flipped(self, shares: Mapping[str, float], name: str) -> dict[str, float]:
        return {**shares, name: 0.0 if shares[name] > 0.0 else self._opened(name)}

    def _with_shares(self, plan: Settled, shares: Mapping[str, float]) -> Settled:
        return replace(plan, shares=shares, value=self.value(shares, plan.team))

    def verdict(self, settled: Settled) -> float:
        """The number that the plan is ranked by."""
        if self.aim.kind != "cool":
            return settled.value
        state = self.scenario(settled.shares, settled.team)
        return self.aim.verdict(self.house, state, solve(self.house, state))

    def plan(self, settled: Settled) -> Plan:
        """Everything that is told about a plan."""
        state = self.scenario(settled.shares, settled.team)
        flow = solve(self.house, state)
        before = self.base.shares
        changed = {n for n, s in settled.shares.items() if (s > 0.0) != (before[n] > 0.0)}
        return Plan(
            placements=settled.team,
            scenario=state,
            opens=tuple(n for n in self.house.openings if n in changed and settled.shares[n] > 0.0),
            shuts=tuple(n for n in self.house.openings if n in changed and settled.shares[n] <= 0.0),
            value=self.aim.verdict(self.house, state, flow),
            stands=tuple(self._standing(settled, index, flow) for index in range(len(settled.team))),
            power_w=power_of(self.house, settled.team),
            sound_db=sound_of(self.house, settled.team),
            limits=limits_of(self.house, state, self.aim, settled.value, flow),
            flow=flow,
            without_fans=self.verdict(replace(settled, team=(), value=self.value(settled.shares, ()))),
            worst_room=self._worst_room(state, flow),
            passes_through=self._passes_through(state, flow),
        )

    def _worst_room(self, state: Scenario, flow: Flow) -> str:
        if self.aim.kind != "house":
            return ""
        changes = purging_air_change_rates_per_h(self.house, state, flow)
        return min(changes, key=lambda name: changes[name])

    def _passes_through(self, state: Scenario, flow: Flow) -> dict[str, float]:
        """Other rooms that at least a twentieth of what is to be cleared goes through."""
        if self.aim.kind != "clear":
            return {}
        rooms = clear(air_paths(self.house, state, flow), Release(start={self.aim.name: 1.0}, limit=CLEARED)).rooms
        through = {name: room.visited for name, room in rooms.items() if name != self.aim.name}
        return {name: share for name, share in through.items() if share >= NOTICED}

    def useful(self, settled: Settled) -> bool:
        """True where each fan drives a noticeable part of its own flow through its opening."""
        flow = solve(self.house, self.scenario(settled.shares, settled.team))
        return all(fan.ratio >= NOTICED for fan in flow.fans)

    def _standing(self, settled: Settled, index: int, flow: Flow) -> Standing:
        placement, fan = settled.team[index], flow.fans[index]
        if placement.sealed:
            return Standing(fan.blades_m3_s, fan.ratio)
        low, high = good_range(
            settled.curves[index], (placement.setback_m, settled.value), self._ranges(settled, index)
        )
        return Standing(fan.blades_m3_s, fan.ratio, low, high, self._aim_off(settled, index))

    def _aim_off(self, plan: Settled, index: int) -> float:
        """Angle by which the axis may turn, to the worse side, before a tenth is lost [deg].

        By a straight line between the angles that are tried.
        """
        placement = plan.team[index]

        def turned(angle_deg: float) -> float:
            other = replace(placement, turn_deg=placement.turn_deg + angle_deg)
            return self.value(plan.shares, (*plan.team[:index], other, *plan.team[index + 1 :]))

        limit = 0.9 * plan.value
        below, kept = 0.0, plan.value
        for angle in TRIED_ANGLES_DEG:
            left = min(turned(angle), turned(-angle))
            if left < limit:
                return below + (angle - below) * (kept - limit) / (kept - left)
            below, kept = angle, left
        return below


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
