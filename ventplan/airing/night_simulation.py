"""A night, or a summer, step by step: windows and fans by a policy, temperatures and water of rooms and fabric."""

from __future__ import annotations

import bisect
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.air_paths import air_paths
from ventplan.airing.policy import Conditions, Decision, Interval, Policy, Reason, State, decide, intervals
from ventplan.airing.thermal import Fabric, HeatStep
from ventplan.airing.transport import AirPaths, Stepper, supply_per_s
from ventplan.airing.weather import Weather
from ventplan.house.records import House, Outdoors, Scenario
from ventplan.network.flow import Flow
from ventplan.network.jets import fan_of
from ventplan.network.weather import densities
from ventplan.physics.air import SPECIFIC_HEAT, dew_point, humidity_ratio, relative_humidity_at

Array = NDArray[np.float64]

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


@dataclass(frozen=True)
class Track:
    """What a run records as it goes; its lists grow only inside the run that made them."""

    times_s: list[float]
    outdoor_c: list[float]
    state_c: list[Array]
    water: list[Array]
    decisions: list[Decision]

    def add(self, time_s: float, outdoor_c: float, state_c: Array, water: Array, decision: Decision) -> None:
        """Record how a step begins."""
        self.times_s.append(time_s)
        self.outdoor_c.append(outdoor_c)
        self.state_c.append(state_c)
        self.water.append(water)
        self.decisions.append(decision)


def longest_run_of_true(flags: NDArray[np.bool_]) -> int:
    """Length of the longest run of true flags."""
    longest = current = 0
    for flag in flags.tolist():
        current = current + 1 if flag else 0
        longest = max(longest, current)
    return longest


class Solve(Protocol):
    """What solves the flows of a state, starting near a solution where one is given."""

    def __call__(self, house: House, scenario: Scenario, *, near: Flow | None = None) -> Flow: ...


Progress = Callable[[float], None]

MOVED_K = 0.5
"""The house is solved again when a room or the air outdoors has moved by more than this [K]; twice that while all is
shut. Flows go with the root of the difference, so that a morning changes by less than 0.01 K."""

MOVED_M_S = 0.25
"""... or the wind by more than this [m/s], and four times that while everything is shut."""

MOVED_DEG = 10.0
"""... or, unless it is calm, has turned by more than this [deg]."""

PERSON_W, PERSON_WATER_KG_S = 70.0, 45.0 / 2.45e6
"""Sensible heat [W] and water vapour [kg/s] of a person seated at rest: 70 W and 45 W of latent heat (ASHRAE
Fundamentals, table of heat gain from occupants; from memory)."""

SUN_SHARE = 0.12
"""Share of the sun on a level surface that comes in through a square metre of window with its blind half down
[-] (common practice, no source)."""


def shut_up(house: House, scenario: Scenario) -> Scenario:
    """The scenario with everything to outdoors shut that can be, and no fan; doors between rooms stay as they are."""
    openings = house.openings
    shares = {
        name: 0.0 if openings[name].is_external and openings[name].can_move else share
        for name, share in scenario.shares.items()
    }
    return replace(scenario, name=f"{scenario.name}, shut", shares=shares, placements=())


def fan_power_w(house: House, scenario: Scenario) -> float | None:
    """Electrical input of all fans of a scenario [W]; None where one is not known."""
    powers = [fan_of(house, placement).power_w for placement in scenario.placements]
    return None if None in powers else sum(power for power in powers if power is not None)


def fan_heat_w(house: House, scenario: Scenario) -> dict[str, float]:
    """Electrical input of the fans that stand in each room, all of which becomes heat there [W]."""
    heat: dict[str, float] = {}
    for placement in scenario.placements:
        if placement.stands_in in house.rooms:
            power_w = fan_of(house, placement).power_w or 0.0
            heat[placement.stands_in] = heat.get(placement.stands_in, 0.0) + power_w
    return heat


Control = Callable[[float, Decision, float, Callable[[], Conditions]], Decision]
"""What is done next: from the time since the first row [s], how things stand, for how long [s], and what it is like."""


def by_policy(policy: Policy, most: State) -> Control:
    """Someone who looks at the thermometer and follows rules."""
    return lambda _, last, since_s, now: decide(policy, last, since_s=since_s, most=most, now=now())


def by_schedule(times_s: Sequence[float], states: Sequence[State]) -> Control:
    """Someone who does a list of things at given times: state i from time i on, shut before the first."""

    def planned(time_s: float, last: Decision, since_s: float, now: Callable[[], Conditions]) -> Decision:
        i = bisect.bisect_right(times_s, time_s + 1e-6)
        return Decision(states[i - 1] if i else "shut", Reason.AS_PLANNED)

    return planned


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
        progress: Progress | None = None,
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
        track = Track([], [], [], [], [])
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
            track.add(begin, self.weather.at(begin, first.outdoors).temperature_c, state_c, water, decision)
            if solved is None or not solved.still_good(decision.state, state_c[:n], outdoors, self.moved_k):
                solved = self._solved(setup, decision.state, state_c[:n], outdoors, mass, step_s, solved)
                solves += 1
            heat = self._heat(setup, begin + step_s / 2.0, people)
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
        track.add(end, self.weather.at(end, first.outdoors).temperature_c, state_c, water, decision)
        used = {decision.state for decision in track.decisions}
        known = all(fan_power_w(self.house, setups[state]) is not None for state in used)
        return self._result(name, most, track, capacity, totals, solves, step_s, known=known)

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
        last: _Solved | None,
    ) -> _Solved:
        warm = dict(zip(self.house.rooms, air_c.tolist(), strict=True))
        state = replace(setup, temperatures_c=warm, outdoors=outdoors)
        flow = self.solve(self.house, state, near=last.flow if last is not None and last.state == name else None)
        paths = air_paths(self.house, state, flow)
        return _Solved(
            state=name,
            temperatures_c=air_c,
            outdoors=outdoors,
            flow=flow,
            paths=paths,
            heat=HeatStep.of(paths, self.fabric, mass_kg, step_s),
            water=Stepper.of(paths.rates_per_s, step_s),
        )

    def _heat(self, setup: Scenario, middle_s: float, people: Array) -> Array:
        """Heat released in each node [W]: people, appliances and fans in the air, sun in the fabric."""
        names = list(self.house.rooms)
        fans = fan_heat_w(self.house, setup)
        air = np.array([room.gain_w + fans.get(room.name, 0.0) for room in self.house.rooms.values()])
        sun = np.zeros(len(names))
        strength = self.weather.sun(middle_s) * SUN_SHARE
        for opening in self.house.openings.values():
            if opening.is_external and opening.kind in ("window", "roof window"):
                sun[names.index(opening.joins[0])] += opening.area_m2 * strength
        return np.concatenate([air + people * PERSON_W, sun])

    def _result(
        self,
        name: str,
        most: State,
        track: Track,
        capacity: Array,
        totals: Mapping[str, float],
        solves: int,
        step_s: float,
        *,
        known: bool,
    ) -> Run:
        names, n = tuple(self.house.rooms), len(self.house.rooms)
        state = np.array(track.state_c)
        surface = np.asarray(relative_humidity_at(temperature_c=state[:, n:], ratio=np.array(track.water)))
        settled = state @ capacity / capacity.sum()
        wettest = int(surface.max(axis=0).argmax())
        return Run(
            name=name,
            windows=most,
            times_s=tuple(track.times_s),
            outdoor_c=tuple(track.outdoor_c),
            rooms_c={room: tuple(state[:, i].tolist()) for i, room in enumerate(names)},
            fabric_c={room: tuple(state[:, n + i].tolist()) for i, room in enumerate(names)},
            surface_humidity={room: tuple(surface[:, i].tolist()) for i, room in enumerate(names)},
            plan=intervals(track.times_s, track.decisions, self.weather),
            settled_c=tuple(settled.tolist()),
            vented_kwh=totals["vented"] / 3.6e6,
            vented_with_fans_kwh=totals["with fans"] / 3.6e6,
            fan_kwh=totals["fans"] / 3.6e6 if known else None,
            fan_heat_kwh=totals["fan heat"] / 3.6e6,
            damp_h=max(longest_run_of_true(surface[:, i] > MOULD_HUMIDITY) for i in range(n)) * step_s / 3600.0,
            wettest=(names[wettest], float(surface[:, wettest].max())),
            unaccounted=abs(totals["missed"]) / max(totals["moved"], 1e-30),
            solved=solves,
        )


def _ratio(outdoors: Outdoors) -> float:
    return float(humidity_ratio(temperature_c=outdoors.temperature_c, relative_humidity=outdoors.relative_humidity))


def _dew_point_c(temperature_c: float, ratio: float) -> float:
    humidity = min(float(relative_humidity_at(temperature_c=temperature_c, ratio=ratio)), 1.0)
    return float(dew_point(temperature_c=temperature_c, relative_humidity=max(humidity, 1e-6)))
