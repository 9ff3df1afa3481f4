"""A night, or a summer, step by step: windows and fans by a policy, temperatures and water of rooms and fabric."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.air_paths import air_paths
from ventplan.airing.policy import Policy, State, next_state
from ventplan.airing.thermal import Fabric, HeatStep
from ventplan.airing.transport import AirPaths, Stepper, supply_per_s
from ventplan.airing.weather import Weather
from ventplan.house.records import House, Outdoors, Scenario
from ventplan.network.flow import Flow
from ventplan.network.rays import fan_of
from ventplan.physics.air import REFERENCE_DENSITY, SPECIFIC_HEAT, dew_point, humidity_ratio, relative_humidity_at

Array = NDArray[np.float64]

MOULD_HUMIDITY = 0.8
"""Humidity at a surface above which mould can grow, held over days [-] (ISO 13788:2012)."""


@dataclass(frozen=True)
class Interval:
    """A stretch of time in one state of the windows, from and to in seconds since the weather's first row."""

    windows: State
    begin_s: float
    end_s: float
    begin: str
    end: str


@dataclass(frozen=True)
class Run:
    """One way through the weather.

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
        What the house would settle at if it were shut up then: air and fabric by the heat they hold [°C],
        shape (t,).
    vented_kwh, vented_with_fans_kwh
        Heat that air carried out while windows were open, and while fans ran [kWh].
    fan_kwh
        Electricity of the fans [kWh]; None where a fan's power is not known.
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
    damp_h: float
    wettest: tuple[str, float]
    unaccounted: float
    solved: int


@dataclass(frozen=True)
class Track:
    """What a run writes down as it goes; its lists grow only inside the run that made them."""

    times_s: list[float]
    outdoor_c: list[float]
    state_c: list[Array]
    water: list[Array]
    windows: list[State]

    def add(self, time_s: float, outdoor_c: float, state_c: Array, water: Array, windows: State) -> None:
        """Write down how a step begins: its time, and what the house is like and does then."""
        self.times_s.append(time_s)
        self.outdoor_c.append(outdoor_c)
        self.state_c.append(state_c)
        self.water.append(water)
        self.windows.append(windows)


def intervals(times_s: Sequence[float], windows: Sequence[State], weather: Weather) -> tuple[Interval, ...]:
    """Stretches of the same state; the last state stands for no time of its own."""
    found: list[Interval] = []
    begin = 0
    for i in range(1, len(times_s)):
        if i == len(times_s) - 1 or windows[i] != windows[begin]:
            from_s, to_s = times_s[begin], times_s[i]
            found.append(Interval(windows[begin], from_s, to_s, weather.label(from_s), weather.label(to_s)))
            begin = i
    return tuple(found)


def longest_stretch(flags: NDArray[np.bool_]) -> int:
    """Length of the longest run of true flags."""
    longest = current = 0
    for flag in flags.tolist():
        current = current + 1 if flag else 0
        longest = max(longest, current)
    return longest


Solve = Callable[[House, Scenario], Flow]
Progress = Callable[[float], None]

MOVED_K = {"shut": 1.0, "open": 0.25, "with fans": 0.25}
"""The house is solved again when a room or the air outdoors has moved by more than this [K]; the little that
leaks when it is shut may be a little older."""

MOVED_M_S = {"shut": 1.0, "open": 0.25, "with fans": 0.25}
"""... or the wind by more than this [m/s]."""

MOVED_DEG = 10.0
"""... or, unless it is calm, has turned by more than this [deg]."""

PERSON_W, PERSON_WATER_KG_S = 70.0, 45.0 / 2.45e6
"""Sensible heat [W] and water vapour [kg/s] of a person seated at rest: 70 W and 45 W of latent heat (ASHRAE
Fundamentals, table of heat gain from occupants; from memory)."""

SUN_SHARE = 0.12
"""Share of the sun on a level surface that comes in through a square metre of window with its blind half down
[-] (common practice, no source)."""


def shut_up(house: House, scenario: Scenario) -> Scenario:
    """The scenario with everything to outdoors shut and no fan; doors between rooms stay as they are."""
    shares = {name: 0.0 if house.openings[name].is_external else share for name, share in scenario.shares.items()}
    return replace(scenario, name=f"{scenario.name}, shut", shares=shares, placements=())


def fan_power_w(house: House, scenario: Scenario) -> float | None:
    """Electrical input of all fans of a scenario [W]; None where one is not known."""
    powers = [fan_of(house, placement).power_w for placement in scenario.placements]
    return None if None in powers else sum(power for power in powers if power is not None)


@dataclass(frozen=True)
class _Solved:
    """A solved flow with its steps, and the state that it was solved for."""

    state: State
    temperatures_c: Array
    outdoors: Outdoors
    paths: AirPaths
    heat: HeatStep
    water: Stepper

    def still_good(self, state: State, temperatures_c: Array, outdoors: Outdoors) -> bool:
        """True while nothing has moved far enough to solve again."""
        turned = abs((outdoors.wind.from_deg - self.outdoors.wind.from_deg + 180.0) % 360.0 - 180.0)
        return (
            state == self.state
            and float(np.abs(temperatures_c - self.temperatures_c).max()) <= MOVED_K[state]
            and abs(outdoors.temperature_c - self.outdoors.temperature_c) <= MOVED_K[state]
            and abs(outdoors.wind.speed_m_s - self.outdoors.wind.speed_m_s) <= MOVED_M_S[state]
            and (turned <= MOVED_DEG or outdoors.wind.speed_m_s < MOVED_M_S[state])
        )


@dataclass(frozen=True)
class NightSimulation:
    """What all runs share."""

    house: House
    weather: Weather
    policy: Policy
    step_s: float
    solve: Solve
    fabric: Fabric

    def run(self, name: str, scenario: Scenario, most: State, progress: Progress | None = None) -> Run:
        """Go through the weather once; ``progress`` is told how far it has come [s]."""
        rooms = list(self.house.rooms.values())
        mass = np.array([room.volume_m3 for room in rooms]) * REFERENCE_DENSITY
        people = np.array([room.people for room in rooms])
        capacity = np.concatenate([mass * SPECIFIC_HEAT, self.fabric.stored_j_k])
        n, power = len(rooms), fan_power_w(self.house, scenario)
        state_c = np.tile([scenario.temperatures_c[room.name] for room in rooms], 2)
        water = np.full(n, _ratio(self.weather.at(0.0, scenario.outdoors)))
        steps = int(np.ceil(self.weather.duration_s / self.step_s))
        windows: State = "shut"
        since = np.inf
        solved: _Solved | None = None
        track = Track([], [], [], [], [])
        totals = dict.fromkeys(("vented", "with fans", "moved", "missed", "fans"), 0.0)
        solves = 0
        for step in range(steps):
            begin = step * self.step_s
            now = self.weather.at(begin + self.step_s / 2.0, scenario.outdoors)
            wanted = self._wanted(windows, since, most, state_c, water, capacity, now)
            since = since + self.step_s if wanted == windows else self.step_s
            windows = wanted
            track.add(begin, now.temperature_c, state_c, water, windows)
            if solved is None or not solved.still_good(windows, state_c[:n], now):
                solved = self._solved(scenario, windows, state_c[:n], now, mass)
                solves += 1
            heat = self._heat(scenario, windows, begin, people)
            result = solved.heat.take(state_c, outdoor_c=now.temperature_c, heat_w=heat)
            state_c = result.temperatures_c
            supply = supply_per_s(solved.paths, released_kg_s=people * PERSON_WATER_KG_S, outdoor=_ratio(now))
            # What the coolest surface cannot hold runs down it: air is never wetter than it is saturated there.
            saturated = humidity_ratio(temperature_c=state_c[n:], relative_humidity=1.0)
            water = np.minimum(solved.water.after(water, supply), saturated)
            totals["vented"] += result.vented_j if windows != "shut" else 0.0
            totals["with fans"] += result.vented_j if windows == "with fans" else 0.0
            totals["fans"] += (power or 0.0) * self.step_s if windows == "with fans" else 0.0
            totals["moved"] += abs(result.vented_j) + abs(result.through_fabric_j) + abs(result.released_j)
            totals["missed"] += result.unaccounted_j
            if progress is not None:
                progress(min(begin + self.step_s, self.weather.duration_s))
        end = steps * self.step_s
        track.add(end, self.weather.at(end, scenario.outdoors).temperature_c, state_c, water, windows)
        return self._result(name, most, track, capacity, totals, solves, power)

    def _wanted(
        self, windows: State, since_s: float, most: State, state_c: Array, water: Array, capacity: Array, now: Outdoors
    ) -> State:
        """What the policy does next."""
        n, ratio = len(water), _ratio(now)
        return next_state(
            self.policy,
            windows,
            since_s=since_s,
            most=most,
            indoor_c=float(capacity[:n] @ state_c[:n] / capacity[:n].sum()),
            settled_c=float(capacity @ state_c / capacity.sum()),
            outdoors=now,
            wetter=ratio > float(capacity[:n] @ water / capacity[:n].sum()),
            dew_point_c=float(dew_point(temperature_c=now.temperature_c, relative_humidity=now.relative_humidity)),
            surface_humidity=float(relative_humidity_at(temperature_c=state_c[n:].min(), ratio=ratio)),
        )

    def _solved(self, scenario: Scenario, windows: State, air_c: Array, outdoors: Outdoors, mass_kg: Array) -> _Solved:
        state = shut_up(self.house, scenario) if windows == "shut" else scenario
        if windows != "with fans":
            state = replace(state, placements=())
        warm = dict(zip(self.house.rooms, air_c.tolist(), strict=True))
        state = replace(state, temperatures_c=warm, outdoors=outdoors)
        paths = air_paths(self.house, state, self.solve(self.house, state))
        return _Solved(
            state=windows,
            temperatures_c=air_c,
            outdoors=outdoors,
            paths=paths,
            heat=HeatStep.of(paths, self.fabric, mass_kg, self.step_s),
            water=Stepper.of(paths.rates_per_s, self.step_s),
        )

    def _heat(self, scenario: Scenario, windows: State, begin_s: float, people: Array) -> Array:
        """Heat released in each node [W]: people, appliances and fans in the air, sun in the fabric."""
        names = list(self.house.rooms)
        air = np.array([room.gain_w for room in self.house.rooms.values()]) + people * PERSON_W
        if windows == "with fans":
            for placement in scenario.placements:
                if placement.stands_in in names:
                    air[names.index(placement.stands_in)] += fan_of(self.house, placement).power_w or 0.0
        sun = np.zeros(len(names))
        strength = self.weather.sun(begin_s + self.step_s / 2.0) * SUN_SHARE
        for opening in self.house.openings.values():
            if opening.is_external and opening.kind in ("window", "roof window"):
                sun[names.index(opening.joins[0])] += opening.area_m2 * strength
        return np.concatenate([air, sun])

    def _result(
        self,
        name: str,
        most: State,
        track: Track,
        capacity: Array,
        totals: Mapping[str, float],
        solves: int,
        power: float | None,
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
            plan=intervals(track.times_s, track.windows, self.weather),
            settled_c=tuple(settled.tolist()),
            vented_kwh=totals["vented"] / 3.6e6,
            vented_with_fans_kwh=totals["with fans"] / 3.6e6,
            fan_kwh=None if power is None and most == "with fans" else totals["fans"] / 3.6e6,
            damp_h=max(longest_stretch(surface[:, i] > MOULD_HUMIDITY) for i in range(n)) * self.step_s / 3600.0,
            wettest=(names[wettest], float(surface[:, wettest].max())),
            unaccounted=abs(totals["missed"]) / max(totals["moved"], 1e-30),
            solved=solves,
        )


def _ratio(outdoors: Outdoors) -> float:
    return float(humidity_ratio(temperature_c=outdoors.temperature_c, relative_humidity=outdoors.relative_humidity))
