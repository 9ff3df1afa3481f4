"""What is said about a plan: its flows, how precisely it must be set up, what it costs and what limits it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ventplan.advice.bottlenecks import bottlenecks_of
from ventplan.advice.objective import CLEARED, occupancy_weights
from ventplan.advice.optimise import UNSAFE, Optimised, Optimiser
from ventplan.advice.plan import Plan, Standing
from ventplan.advice.setback import good_range
from ventplan.airing.age import ages_s
from ventplan.airing.air_paths import air_paths
from ventplan.airing.clearing import Release
from ventplan.airing.clearing import clear as clearing
from ventplan.airing.hazards_air import flame_is_flagged
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import Flow, solve
from ventplan.network.rays import fan_of

NOTICED = 0.05
"""Share of what is to be cleared from which on a room counts as passed through [-]."""
POINTS = 12
"""Setbacks of the curve that the good range of a plan is read off."""
TRIED_ANGLES_DEG = (3.0, 6.0, 9.0, 12.0, 16.0, 20.0, 25.0, 30.0, 37.0, 45.0)
KEEPS = 0.9
"""Share of the objective that marks how far a fan may be off [-]."""


class Describer:
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
        flagged = flame_is_flagged(house, flow)
        if flagged and one.team and objective.kind != "cool":  # The search counts such a plan less than it brings.
            value, steering = value / UNSAFE, steering / UNSAFE
        return Plan(
            placements=one.team,
            scenario=state,
            opens=tuple(n for n in house.openings if n in changed and one.shares[n] > 0.0),
            shuts=tuple(n for n in house.openings if n in changed and one.shares[n] <= 0.0),
            value=value,
            stands=tuple(self._standing(one, index, flow) for index in range(len(one.team))),
            power_w=power_of(house, one.team),
            sound_db=sound_of(house, one.team),
            limits=() if self.brief else bottlenecks_of(house, state, objective, steering, flow),
            flow=flow,
            without_fans=without_fans if one.team else value,
            worst_room=self._worst_room(state, flow),
            passes_through=self._passes_through(state, flow),
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
