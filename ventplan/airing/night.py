"""A night, or a summer, step by step: temperatures and humidity, and what the house gains by morning."""

from __future__ import annotations

import datetime
import itertools
import math
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.air_paths import air_paths
from ventplan.airing.policy import (
    MOULD_HUMIDITY,
    Conditions,
    Control,
    Decision,
    Policy,
    Reason,
    Run,
    State,
    by_policy,
    periods,
    ratio_of,
    shut_up,
)
from ventplan.airing.thermal import (
    MOVED_K,
    PERSON_WATER_KG_S,
    Fabric,
    HeatResult,
    HeatStep,
    SolvedState,
    fabric_of,
    fan_heat_w,
    fan_power_w,
    heat_released_w,
)
from ventplan.airing.transport import Array, Stepper, supply_per_s
from ventplan.airing.weather import Weather
from ventplan.errors import InputError
from ventplan.house.records import House, Outdoors, Scenario
from ventplan.network.flow import Flow
from ventplan.network.weather import densities
from ventplan.physics.air import SPECIFIC_HEAT, humidity_ratio, relative_humidity_at

STEP_S = 900.0
"""Usual step [s]."""


Solve = Callable[..., Flow]
"""What solves the flows of a house in a scenario, starting ``near`` a solution where one is given."""


@dataclass(frozen=True)
class NightSimulation:
    """A house and its weather, through which any number of runs go.

    Attributes
    ----------
    house, weather
        The house and its weather.
    step_s
        Longest step [s]; if it is shorter than ``look_s``, a whole number of steps fills that.
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
    _known: dict[Hashable, SolvedState] = field(default_factory=dict, repr=False, compare=False)
    """States that are solved already: runs often begin alike."""

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
        vapour_kg_s = np.array([room.people * PERSON_WATER_KG_S for room in rooms])
        capacity = np.concatenate([mass * SPECIFIC_HEAT, self.fabric.stored_j_k])
        looks = max(1, math.ceil(self.look_s / self.step_s - 1e-9))
        step_s = self.look_s / looks if self.step_s < self.look_s else self.step_s
        state_c = np.tile([first.temperatures_c[room.name] for room in rooms], 2)
        water = np.full(n, ratio_of(self.weather.at(0.0, first.outdoors)))
        decision, since_s = Decision("shut", Reason.AS_PLANNED), math.inf
        solved, solves, steps = None, 0, math.ceil(self.weather.duration_s / step_s)
        begins: list[tuple[float, float, Array, Array]] = []
        decisions: list[Decision] = []
        moved: list[HeatResult] = []
        for step in range(steps):
            begin_s, middle_s = step * step_s, (step + 0.5) * step_s
            if step % looks == 0:
                coming = self.weather.at(begin_s + max(self.look_s, step_s) / 2.0, first.outdoors)
                now = partial(Conditions.of, coming, state_c=state_c, water=water, capacity=capacity)
                wanted = control(begin_s, decision, since_s, now)
                since_s = since_s if wanted.state == decision.state else 0.0
                decision = wanted if since_s == 0.0 or step == 0 else decision
            since_s += step_s
            outdoors, setup = self.weather.at(middle_s, first.outdoors), setups[decision.state]
            begins.append((begin_s, self.weather.at(begin_s, first.outdoors).temperature_c, state_c, water))
            decisions.append(decision)
            if solved is None or not solved.still_good(decision.state, state_c[:n], outdoors, self.moved_k):
                solved = self._solved(setup, decision.state, state_c[:n], outdoors, mass, step_s, solved)
                solves += 1
            heat = heat_released_w(self.house, setup, sun_w_m2=self.weather.sun(middle_s))
            moved.append(solved.heat.take(state_c, outdoor_c=outdoors.temperature_c, heat_w=heat))
            state_c = moved[-1].temperatures_c
            supply = supply_per_s(solved.paths, released_kg_s=vapour_kg_s, outdoor=ratio_of(outdoors))
            # What the coolest surface cannot hold runs down it: air is never wetter than it is saturated there.
            saturated = humidity_ratio(temperature_c=state_c[n:], relative_humidity=1.0)
            water = np.minimum(solved.water.after(water, supply), saturated)
            if progress is not None:
                progress(min(begin_s + step_s, self.weather.duration_s))
        end_s = steps * step_s
        begins.append((end_s, self.weather.at(end_s, first.outdoors).temperature_c, state_c, water))
        decisions.append(decision)
        times_s, outdoor_c, states_c, waters = zip(*begins, strict=True)
        track = np.array(states_c)
        surface = np.asarray(relative_humidity_at(temperature_c=track[:, n:], ratio=np.array(waters)))
        wettest = int(surface.max(axis=0).argmax())
        scenarios = [setups[each.state] for each in decisions[:-1]]
        power_w = {id(each): fan_power_w(self.house, each) for each in setups.values()}
        powers_w = [power_w[id(each)] for each in scenarios]
        fan_heat = sum(sum(fan_heat_w(self.house, each).values()) for each in scenarios) * step_s
        all_moved = sum(abs(each.vented_j) + abs(each.through_fabric_j) + abs(each.released_j) for each in moved)
        return Run(
            name=name,
            windows=most,
            times_s=times_s,
            outdoor_c=outdoor_c,
            rooms_c={room.name: tuple(track[:, i].tolist()) for i, room in enumerate(rooms)},
            fabric_c={room.name: tuple(track[:, n + i].tolist()) for i, room in enumerate(rooms)},
            surface_humidity={room.name: tuple(surface[:, i].tolist()) for i, room in enumerate(rooms)},
            plan=periods(times_s, decisions, self.weather),
            settled_c=tuple((track @ capacity / capacity.sum()).tolist()),
            vented_kwh=_kwh(
                each.vented_j for each, then in zip(moved, decisions, strict=False) if then.state != "shut"
            ),
            vented_with_fans_kwh=_kwh(
                each.vented_j for each, then in zip(moved, scenarios, strict=True) if then.placements
            ),
            fan_kwh=None if None in powers_w else _kwh(each * step_s for each in powers_w if each),
            fan_heat_kwh=fan_heat / 3.6e6,
            damp_h=max(_longest_run(surface[:, i] > MOULD_HUMIDITY) for i in range(n)) * step_s / 3600.0,
            wettest=(rooms[wettest].name, float(surface[:, wettest].max())),
            unaccounted=abs(sum(each.unaccounted_j for each in moved)) / max(all_moved, 1e-30),
            solved=solves,
        )

    def _solved(
        self,
        setup: Scenario,
        name: State,
        air_c: Array,
        outdoors: Outdoors,
        mass_kg: Array,
        step_s: float,
        last: SolvedState | None,
    ) -> SolvedState:
        """The flows of a state and the steps that go with them."""
        key = (name, tuple(setup.shares.values()), setup.placements, air_c.tobytes(), outdoors, step_s)
        if key not in self._known:
            warm = dict(zip(self.house.rooms, air_c.tolist(), strict=True))
            state = replace(setup, temperatures_c=warm, outdoors=outdoors)
            near = last.flow if last is not None and last.state == name else None
            flow = self.solve(self.house, state, near=near)
            paths = air_paths(self.house, state, flow)
            heat = HeatStep.of(paths, self.fabric, mass_kg, step_s)
            water = Stepper.of(paths.rates_per_s, step_s)
            self._known[key] = SolvedState(name, air_c, outdoors, flow, paths, heat, water)
        return self._known[key]


def _kwh(heat_j: Iterable[float]) -> float:
    return sum(heat_j) / 3.6e6


def _longest_run(flags: NDArray[np.bool_]) -> int:
    """Length of the longest run of true flags."""
    return max((sum(1 for _ in group) for flag, group in itertools.groupby(flags.tolist()) if flag), default=0)


@dataclass(frozen=True)
class Night:
    """Runs through the weather, side by side.

    Attributes
    ----------
    runs
        With everything shut first, then for each scenario its windows alone and its windows with fans.
    gained_k
        By how much cooler the house is at the end than with everything shut, air and fabric together [K], by run.
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
        The runs, and what they gain.

    Raises
    ------
    InputError
        For a step that is not above zero or longer than the weather.

    Notes
    -----
    Every step is exact for constant flows and weather. Flows are solved again as rooms cool, so that the stack effect
    weakens with the temperature difference. Rooms start at the scenario's temperatures, with fabric as warm as the air
    and air as humid as outdoors. Curtains, furniture and walls take up no water; water that would saturate the air at
    a surface condenses there and leaves the balance.
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
    windows = [replace(scenario, name="", placements=()) for scenario in scenarios]
    planned: list[tuple[str, Scenario, State]] = [("everything shut", scenarios[0], "shut")]
    alone: dict[str, str] = {}  # the run with the windows alone of each plan with fans
    for i, scenario in enumerate(scenarios):
        if scenario.placements:
            # Plans that differ only in their fans have their windows in common.
            like = scenarios[windows.index(windows[i])]
            alone[scenario.name] = f"{like.name}, windows alone" if like.placements else like.name
            if like is scenario:
                planned.append((alone[scenario.name], scenario, "open"))
        planned.append((scenario.name, scenario, "with fans" if scenario.placements else "open"))
    runs: dict[str, Run] = {}
    for name, scenario, most in planned:
        before_s, all_s = len(runs) * weather.duration_s, len(planned) * weather.duration_s
        report = None if progress is None else partial(_report, progress, before_s, all_s)
        setups = {"open": replace(scenario, placements=()), "with fans": scenario}
        runs[name] = simulation.run(name, setups, by_policy(policy, most), most, report)
    shut, *rest = runs.values()
    per_fan: dict[str, float | None] = {}
    for name, own in alone.items():
        run = runs[name]
        extra = run.vented_kwh - runs[own].vented_kwh - run.fan_heat_kwh
        per_fan[name] = extra / run.fan_kwh if run.fan_kwh else None
    gained = {run.name: shut.settled_c[-1] - run.settled_c[-1] for run in rest}
    return Night(runs=(shut, *rest), gained_k=gained, cooling_per_fan=per_fan)


def _report(progress: Callable[[float, float], None], before_s: float, all_s: float, second: float) -> None:
    progress(before_s + second, all_s)


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
