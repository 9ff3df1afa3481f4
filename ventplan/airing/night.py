"""A night, or a summer, step by step: temperatures and humidity, and what the house gains by morning."""

from __future__ import annotations

import datetime
import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.air_paths import air_paths
from ventplan.airing.policy import (
    Conditions,
    Control,
    Decision,
    Interval,
    Policy,
    Reason,
    State,
    by_policy,
    intervals,
    shut_up,
)
from ventplan.airing.thermal import (
    PERSON_WATER_KG_S,
    Fabric,
    HeatStep,
    fabric_of,
    fan_heat_w,
    fan_power_w,
    heat_released_w,
)
from ventplan.airing.transport import AirPaths, Stepper, supply_per_s
from ventplan.airing.weather import Weather
from ventplan.errors import InputError
from ventplan.house.records import House, Outdoors, Scenario
from ventplan.network.flow import Flow
from ventplan.network.weather import densities
from ventplan.physics.air import SPECIFIC_HEAT, dew_point, humidity_ratio, relative_humidity_at

Array = NDArray[np.float64]

STEP_S = 900.0
"""Usual step [s]."""

MOULD_HUMIDITY = 0.8
"""Humidity at a surface above which mould can grow, held over days [-] (ISO 13788:2012)."""


@dataclass(frozen=True)
class Run:
    """One run through the weather.

    Attributes
    ----------
    name
        What was done.
    windows
        The most that it may do: keep all shut, open, or open with fans.
    times_s, outdoor_c
        Times since the first row [s], and outdoor temperature [°C], shape (t,).
    rooms_c, fabric_c
        Air and fabric temperature of each room [°C], by name, each of shape (t,).
    surface_humidity
        Relative humidity at the fabric of each room [-], by name, each of shape (t,).
    plan
        When windows are shut, open, and open with fans.
    settled_c
        Temperature of air and fabric together, weighted by heat capacity, as when everything is then shut [°C],
        shape (t,).
    vented_kwh, vented_with_fans_kwh
        Heat that air carried out while windows were open, and while fans ran [kWh].
    fan_kwh
        Electricity of the fans [kWh]; None where a fan's power is not known.
    fan_heat_kwh
        What of it becomes heat indoors [kWh].
    damp_h
        Longest time that a room's surfaces stay above 80 % humidity [h].
    wettest
        The room of the highest surface humidity, and that humidity.
    unaccounted
        Heat that the balance misses, over all heat moved [-]: zero but for rounding.
    solved
        How many times the flows were solved.
    """

    name: str
    windows: State
    times_s: tuple[float, ...]
    outdoor_c: tuple[float, ...]
    rooms_c: Mapping[str, tuple[float, ...]]
    fabric_c: Mapping[str, tuple[float, ...]]
    surface_humidity: Mapping[str, tuple[float, ...]]
    plan: tuple[Interval, ...]
    settled_c: tuple[float, ...]
    vented_kwh: float
    vented_with_fans_kwh: float
    fan_kwh: float | None
    fan_heat_kwh: float
    damp_h: float
    wettest: tuple[str, float]
    unaccounted: float
    solved: int


class Solve(Protocol):
    """What solves the flows of a state, starting near a solution where one is given."""

    def __call__(self, house: House, scenario: Scenario, *, near: Flow | None = None) -> Flow: ...


MOVED_K = 0.5
"""The house is solved again when a room or the air outdoors has moved by more than this [K]; twice that while all is
shut. Flows go with the root of the difference, so that a morning changes by less than 0.01 K."""

MOVED_M_S = 0.25
"""... or the wind by more than this [m/s], and four times that while everything is shut."""

MOVED_DEG = 10.0
"""... or, unless it is calm, has turned by more than this [deg]."""


@dataclass(frozen=True)
class _Solved:
    """A solved flow with its steps, and the state that it was solved for."""

    state: State
    temperatures_c: Array
    outdoors: Outdoors
    flow: Flow
    paths: AirPaths
    heat: HeatStep
    water: Stepper

    def still_good(self, state: State, temperatures_c: Array, outdoors: Outdoors, moved_k: float) -> bool:
        """True while nothing has moved far enough to solve again."""
        turned = abs((outdoors.wind.from_deg - self.outdoors.wind.from_deg + 180.0) % 360.0 - 180.0)
        moved_k, moved_m_s = (2.0 * moved_k, 4.0 * MOVED_M_S) if state == "shut" else (moved_k, MOVED_M_S)
        return (
            state == self.state
            and float(np.abs(temperatures_c - self.temperatures_c).max()) <= moved_k
            and abs(outdoors.temperature_c - self.outdoors.temperature_c) <= moved_k
            and abs(outdoors.wind.speed_m_s - self.outdoors.wind.speed_m_s) <= moved_m_s
            and (turned <= MOVED_DEG or outdoors.wind.speed_m_s < moved_m_s)
        )


@dataclass(frozen=True)
class NightSimulation:
    """A house and its weather, through which any number of runs go.

    Attributes
    ----------
    house, weather
        The house and its weather.
    step_s
        Longest step [s]; shorter than ``look_s``, it becomes a whole part of that.
    look_s
        How often something may be changed [s].
    solve
        What solves the flows.
    fabric
        What the house stores and loses.
    moved_k
        How far temperatures may move before flows are solved again [K].
    """

    house: House
    weather: Weather
    step_s: float
    look_s: float
    solve: Solve
    fabric: Fabric
    moved_k: float = MOVED_K

    def run(
        self,
        name: str,
        setups: Mapping[State, Scenario],
        control: Control,
        most: State,
        progress: Callable[[float], None] | None = None,
    ) -> Run:
        """Go through the weather once.

        Parameters
        ----------
        name
            Name of the run.
        setups
            What each state but ``shut`` means; the first gives the temperatures at the start, and what stays of it
            when all openings to outdoors are shut.
        control
            What is done when.
        most
            The most that it may do, for the record.
        progress
            Called with how far it has come [s].
        """
        rooms, n = list(self.house.rooms.values()), len(self.house.rooms)
        first = next(iter(setups.values()))
        setups = {"shut": shut_up(self.house, first), **setups}
        air = densities(self.house, replace(first, outdoors=self.weather.at(0.0, first.outdoors)))
        mass = np.array([room.volume_m3 * air[room.name] for room in rooms])
        people = np.array([room.people for room in rooms])
        capacity = np.concatenate([mass * SPECIFIC_HEAT, self.fabric.stored_j_k])
        looks = max(1, math.ceil(self.look_s / self.step_s - 1e-9))
        step_s = self.look_s / looks if self.step_s < self.look_s else self.step_s
        state_c = np.tile([first.temperatures_c[room.name] for room in rooms], 2)
        water = np.full(n, _ratio(self.weather.at(0.0, first.outdoors)))
        decision, since_s = Decision("shut", Reason.AS_PLANNED), math.inf
        solved: _Solved | None = None
        track: list[tuple[float, float, Array, Array, Decision]] = []
        totals = dict.fromkeys(("vented", "with fans", "moved", "missed", "fans", "fan heat"), 0.0)
        solves, steps = 0, math.ceil(self.weather.duration_s / step_s)
        for step in range(steps):
            begin = step * step_s
            if step % looks == 0:
                coming = self.weather.at(begin + max(self.look_s, step_s) / 2.0, first.outdoors)
                now = partial(self._conditions, coming, state_c, water, capacity)
                wanted = control(begin, decision, since_s, now)
                since_s = since_s if wanted.state == decision.state else 0.0
                decision = wanted if since_s == 0.0 or step == 0 else decision
            since_s += step_s
            outdoors, setup = self.weather.at(begin + step_s / 2.0, first.outdoors), setups[decision.state]
            track.append((begin, self.weather.at(begin, first.outdoors).temperature_c, state_c, water, decision))
            if solved is None or not solved.still_good(decision.state, state_c[:n], outdoors, self.moved_k):
                near = solved.flow if solved is not None and solved.state == decision.state else None
                solved = self._solved(setup, decision.state, state_c[:n], outdoors, mass, step_s, near)
                solves += 1
            heat = heat_released_w(self.house, setup, sun_w_m2=self.weather.sun(begin + step_s / 2.0))
            result = solved.heat.take(state_c, outdoor_c=outdoors.temperature_c, heat_w=heat)
            state_c = result.temperatures_c
            supply = supply_per_s(solved.paths, released_kg_s=people * PERSON_WATER_KG_S, outdoor=_ratio(outdoors))
            # What the coolest surface cannot hold runs down it: air is never wetter than it is saturated there.
            saturated = humidity_ratio(temperature_c=state_c[n:], relative_humidity=1.0)
            water = np.minimum(solved.water.after(water, supply), saturated)
            totals["vented"] += result.vented_j if decision.state != "shut" else 0.0
            totals["with fans"] += result.vented_j if setup.placements else 0.0
            totals["fans"] += (fan_power_w(self.house, setup) or 0.0) * step_s
            totals["fan heat"] += sum(fan_heat_w(self.house, setup).values()) * step_s
            totals["moved"] += abs(result.vented_j) + abs(result.through_fabric_j) + abs(result.released_j)
            totals["missed"] += result.unaccounted_j
            if progress is not None:
                progress(min(begin + step_s, self.weather.duration_s))
        end = steps * step_s
        track.append((end, self.weather.at(end, first.outdoors).temperature_c, state_c, water, decision))
        if any(fan_power_w(self.house, setups[decision.state]) is None for *_, decision in track):
            totals["fans"] = math.nan
        return self._result(name, most, track, capacity, totals, solves, step_s)

    def _conditions(self, outdoors: Outdoors, state_c: Array, water: Array, capacity: Array) -> Conditions:
        """What somebody at the windows goes by."""
        n, ratio = len(water), _ratio(outdoors)
        indoor_c = float(capacity[:n] @ state_c[:n] / capacity[:n].sum())
        indoor_ratio = float(capacity[:n] @ water / capacity[:n].sum())
        return Conditions(
            settled_c=float(capacity @ state_c / capacity.sum()),
            outdoors=outdoors,
            dew_point_c=_dew_point_c(outdoors.temperature_c, ratio),
            indoor_dew_point_c=_dew_point_c(indoor_c, indoor_ratio),
            surface_humidity=float(relative_humidity_at(temperature_c=state_c[n:].min(), ratio=ratio)),
        )

    def _solved(
        self,
        setup: Scenario,
        name: State,
        air_c: Array,
        outdoors: Outdoors,
        mass_kg: Array,
        step_s: float,
        near: Flow | None,
    ) -> _Solved:
        warm = dict(zip(self.house.rooms, air_c.tolist(), strict=True))
        state = replace(setup, temperatures_c=warm, outdoors=outdoors)
        flow = self.solve(self.house, state, near=near)
        paths = air_paths(self.house, state, flow)
        heat = HeatStep.of(paths, self.fabric, mass_kg, step_s)
        return _Solved(name, air_c, outdoors, flow, paths, heat, Stepper.of(paths.rates_per_s, step_s))

    def _result(
        self,
        name: str,
        most: State,
        track: Sequence[tuple[float, float, Array, Array, Decision]],
        capacity: Array,
        totals: Mapping[str, float],
        solves: int,
        step_s: float,
    ) -> Run:
        names, n = tuple(self.house.rooms), len(self.house.rooms)
        times_s, outdoor_c, states_c, water, decisions = zip(*track, strict=True)
        state = np.array(states_c)
        surface = np.asarray(relative_humidity_at(temperature_c=state[:, n:], ratio=np.array(water)))
        settled = state @ capacity / capacity.sum()
        wettest = int(surface.max(axis=0).argmax())
        return Run(
            name=name,
            windows=most,
            times_s=times_s,
            outdoor_c=outdoor_c,
            rooms_c={room: tuple(state[:, i].tolist()) for i, room in enumerate(names)},
            fabric_c={room: tuple(state[:, n + i].tolist()) for i, room in enumerate(names)},
            surface_humidity={room: tuple(surface[:, i].tolist()) for i, room in enumerate(names)},
            plan=intervals(times_s, decisions, self.weather),
            settled_c=tuple(settled.tolist()),
            vented_kwh=totals["vented"] / 3.6e6,
            vented_with_fans_kwh=totals["with fans"] / 3.6e6,
            fan_kwh=None if math.isnan(totals["fans"]) else totals["fans"] / 3.6e6,
            fan_heat_kwh=totals["fan heat"] / 3.6e6,
            damp_h=max(_longest_run(surface[:, i] > MOULD_HUMIDITY) for i in range(n)) * step_s / 3600.0,
            wettest=(names[wettest], float(surface[:, wettest].max())),
            unaccounted=abs(totals["missed"]) / max(totals["moved"], 1e-30),
            solved=solves,
        )


def _longest_run(flags: NDArray[np.bool_]) -> int:
    """Length of the longest run of true flags."""
    return max((sum(1 for _ in group) for flag, group in itertools.groupby(flags.tolist()) if flag), default=0)


def _ratio(outdoors: Outdoors) -> float:
    return float(humidity_ratio(temperature_c=outdoors.temperature_c, relative_humidity=outdoors.relative_humidity))


def _dew_point_c(temperature_c: float, ratio: float) -> float:
    humidity = min(float(relative_humidity_at(temperature_c=temperature_c, ratio=ratio)), 1.0)
    return float(dew_point(temperature_c=temperature_c, relative_humidity=max(humidity, 1e-6)))


@dataclass(frozen=True)
class Night:
    """Runs through the weather, side by side.

    Attributes
    ----------
    runs
        With everything shut first, then for each scenario its windows alone and its windows with fans.
    gained_k
        By how much the house settles cooler at the end than with everything shut [K], by run.
    cooling_per_fan
        Heat carried out beyond what windows alone carry, less what the fans themselves give off indoors, for each
        unit of electricity [-], by run with fans; None where the power of a fan is not known or no fan ran.
    """

    runs: tuple[Run, ...]
    gained_k: Mapping[str, float]
    cooling_per_fan: Mapping[str, float | None]


def night(
    house: House,
    scenarios: Sequence[Scenario],
    weather: Weather,
    *,
    policy: Policy | None = None,
    step_s: float = STEP_S,
    solve: Solve | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> Night:
    """Compare doing nothing, opening windows, and running fans, through a night or a summer.

    Parameters
    ----------
    house
        The house.
    scenarios
        The plans: their openings and fans are used whenever the policy opens.
    weather
        Weather from the first row to the last.
    policy
        When to open and when to run fans; the usual one if None.
    step_s
        Length of a step [s].
    solve
        What solves the flows; ``ventplan.network.solver`` if None.
    progress
        Called after every step with the time that all runs have come and that they have to go [s].

    Returns
    -------
    Night
        What each way does.

    Raises
    ------
    InputError
        For a step that is not above zero or longer than the weather.

    Notes
    -----
    Every step is exact for flows and weather that stay the same over it. Flows are solved again
    as rooms cool, so that stack effect fades as it should. Rooms start at the scenario's temperatures, fabric
    as warm as its air, and air as humid as outdoors. Curtains, furniture and walls take up no water here; what would
    be more than saturated at a surface condenses there, and is gone.
    """
    if not 0.0 < step_s <= weather.duration_s:
        longest = f"{weather.duration_s / 60.0:g} min, as long as the weather"
        raise InputError(f"a step of {step_s / 60.0:g} min: it must be above zero and at most {longest}")
    if not scenarios:
        raise InputError("no scenario to follow through the night")
    if solve is None:
        from ventplan.network import solve as solve_network

        solve = solve_network
    policy = policy or Policy()
    simulation = NightSimulation(house, weather, step_s, policy.look_s, solve, fabric_of(house))
    bare = [replace(scenario, name="", placements=()) for scenario in scenarios]
    ways = 1 + sum(same not in bare[:i] for i, same in enumerate(bare)) + sum(bool(s.placements) for s in scenarios)
    done = 0

    def go(name: str, scenario: Scenario, most: State) -> Run:
        nonlocal done
        before = done * weather.duration_s
        report = None if progress is None else lambda second: progress(before + second, ways * weather.duration_s)
        done += 1
        setups = {"open": replace(scenario, placements=()), "with fans": scenario}
        return simulation.run(name, setups, by_policy(policy, most), most, report)

    runs = [go("everything shut", scenarios[0], "shut")]
    per_fan: dict[str, float | None] = {}
    alone: list[tuple[Scenario, Run]] = []
    for scenario, windows in zip(scenarios, bare, strict=True):
        # Plans that differ only in their fans have their windows in common.
        run = next((known for same, known in alone if same == windows), None)
        if run is None:
            name = f"{scenario.name}, windows alone" if scenario.placements else scenario.name
            run = go(name, scenario, "open")
            alone.append((windows, run))
            runs.append(run)
        elif not scenario.placements:
            runs.append(replace(run, name=scenario.name))
        if scenario.placements:
            fans = go(scenario.name, scenario, "with fans")
            runs.append(fans)
            extra = fans.vented_kwh - run.vented_kwh - fans.fan_heat_kwh
            per_fan[fans.name] = extra / fans.fan_kwh if fans.fan_kwh else None
    gained: dict[str, float] = {}
    for run in runs[1:]:
        gained[run.name] = runs[0].settled_c[-1] - run.settled_c[-1]
    return Night(runs=tuple(runs), gained_k=gained, cooling_per_fan=per_fan)


@dataclass(frozen=True)
class Morning:
    """The house at one time of one morning.

    Attributes
    ----------
    when
        Date and time.
    outdoor_c
        Outdoor temperature [°C].
    house_c
        Temperature of air and fabric together in the morning [°C], by run.
    rooms_c
        Air temperature of each room [°C], by run and room.
    """

    when: str
    outdoor_c: float
    house_c: Mapping[str, float]
    rooms_c: Mapping[str, Mapping[str, float]]


def mornings(night: Night, weather: Weather, *, hour: int = 7) -> tuple[Morning, ...]:
    """The house at the same hour of every day that the weather covers.

    Parameters
    ----------
    night
        Runs through the weather.
    weather
        The weather that they went through.
    hour
        Hour of the day [h].

    Returns
    -------
    tuple of Morning
        One for each day, at the step nearest to the hour.
    """
    at = weather.begin.replace(hour=hour, minute=0, second=0)
    found = []
    for day in range(int(weather.duration_s // 86_400.0) + 2):
        second = (at + datetime.timedelta(days=day) - weather.begin).total_seconds()
        if not 0.0 < second <= weather.duration_s:
            continue
        step = int(np.abs(np.array(night.runs[0].times_s) - second).argmin())
        temperatures = {run.name: run.settled_c[step] for run in night.runs}
        rooms = {run.name: {room: track[step] for room, track in run.rooms_c.items()} for run in night.runs}
        found.append(Morning(weather.label(second), night.runs[0].outdoor_c[step], temperatures, rooms))
    return tuple(found)
