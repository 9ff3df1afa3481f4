"""When to open, when to shut, when a fan is worth its electricity, and why; and the result, a run."""

from __future__ import annotations

import bisect
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from ventplan.airing.transport import Array
from ventplan.airing.weather import Weather
from ventplan.house.records import House, Outdoors, Scenario
from ventplan.physics.air import dew_point, humidity_ratio, relative_humidity_at

MOULD_HUMIDITY = 0.8
"""Humidity at a surface above which mould can grow, held over days [-] (ISO 13788:2012)."""

State = str
"""How windows and fans stand: ``shut``, ``open``, ``with fans``, or the name of a part of a plan."""


class Reason(StrEnum):
    """Why windows are as they are."""

    COOLER_OUTDOORS = "cooler outdoors"
    WARMER_OUTDOORS = "not cooler outdoors"
    COOL_ENOUGH = "cool enough"
    SMOKE = "smoke"
    RAIN = "rain"
    MUGGY = "muggy outdoors"
    DAMP_WALLS = "damp walls"
    AS_PLANNED = "as planned"


@dataclass(frozen=True)
class Decision:
    """What to do with the windows from now on, and why."""

    state: State
    reason: Reason


@dataclass(frozen=True)
class Period:
    """A period in one state of the windows.

    Attributes
    ----------
    windows
        State of windows and fans.
    begin_s, end_s
        From and to, since the weather's first row [s].
    begin, end
        The same as text.
    reason
        Why, when it began.
    """

    windows: State
    begin_s: float
    end_s: float
    begin: str
    end: str
    reason: Reason


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
    plan: tuple[Period, ...]
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
class Conditions:
    """What decides whether windows open or shut.

    Attributes
    ----------
    settled_c
        Temperature that air and fabric would reach together if the house were shut now [°C].
    outdoors
        Weather.
    dew_point_c, indoor_dew_point_c
        Dew point of the air outdoors and indoors [°C].
    surface_humidity
        Relative humidity that outdoor air would have at the coolest walls [-].
    """

    settled_c: float
    outdoors: Outdoors
    dew_point_c: float
    indoor_dew_point_c: float
    surface_humidity: float

    @classmethod
    def of(cls, outdoors: Outdoors, *, state_c: Array, water: Array, capacity: Array) -> Conditions:
        """What it is like.

        Parameters
        ----------
        outdoors
            Weather.
        state_c
            Temperatures of air and fabric of each room [°C], shape (2 n,).
        water
            Humidity ratio of the air of each room [-], shape (n,).
        capacity
            Heat capacities of air and fabric [J/K], shape (2 n,).
        """
        n, ratio = len(water), ratio_of(outdoors)
        air = capacity[:n] / capacity[:n].sum()
        return cls(
            settled_c=float(capacity @ state_c / capacity.sum()),
            outdoors=outdoors,
            dew_point_c=_dew_point_c(outdoors.temperature_c, ratio),
            indoor_dew_point_c=_dew_point_c(float(air @ state_c[:n]), float(air @ water)),
            surface_humidity=float(relative_humidity_at(temperature_c=state_c[n:].min(), ratio=ratio)),
        )


def ratio_of(outdoors: Outdoors) -> float:
    """Humidity ratio of the outdoor air [-]."""
    return float(humidity_ratio(temperature_c=outdoors.temperature_c, relative_humidity=outdoors.relative_humidity))


def _dew_point_c(temperature_c: float, ratio: float) -> float:
    humidity = min(float(relative_humidity_at(temperature_c=temperature_c, ratio=ratio)), 1.0)
    return float(dew_point(temperature_c=temperature_c, relative_humidity=max(humidity, 1e-6)))


@dataclass(frozen=True)
class Policy:
    """Rules for opening windows and running fans.

    Attributes
    ----------
    open_k
        Open when it is cooler outdoors than air and fabric together by this much [K].
    fans_k
        Run fans when it is cooler outdoors by this much [K].
    slack_k
        Undo either, and end a reason to shut, only when the difference is this much on the other side [K].
    coolest_c
        Shut when air and fabric together are at this or less [°C] (18 °C: WHO Housing and Health Guidelines,
        2018).
    dampest
        Shut when the outdoor air would have more than this relative humidity at the coolest walls [-].
    highest_dew_point_c
        Shut when the dew point outdoors is above this [°C], unless the air indoors holds more water still.
    open_in_rain
        True to leave windows open in the rain.
    rest_s
        Change nothing for at least this long [s], except to shut.
    look_s
        How often the rules are applied [s].
    """

    open_k: float = 1.0
    fans_k: float = 2.0
    slack_k: float = 0.5
    coolest_c: float = 18.0
    dampest: float = 0.80
    highest_dew_point_c: float = 19.0
    open_in_rain: bool = True
    rest_s: float = 3600.0
    look_s: float = 900.0


MUGGIER_K = {True: 0.5, False: 1.0}
"""How far the dew point outdoors must be above that indoors to count as muggier [K]: to keep windows shut, and to shut
them; open windows make the two nearly equal (common practice, no source)."""

DAMP_SLACK = 0.03
"""How far the relative humidity at the coolest walls must fall before a window that was shut for it opens again [-]
(common practice, no source)."""


def refusal(policy: Policy, state: State, now: Conditions) -> Reason | None:
    """A reason to keep windows shut at any outdoor temperature, or None.

    Parameters
    ----------
    policy
        The rules.
    state
        How windows stand; each reason has a dead band, so that it ends later than it began.
    now
        What it is like.
    """
    shut = state == "shut"
    slack = policy.slack_k if shut else -policy.slack_k
    if now.outdoors.smoke:
        return Reason.SMOKE
    if now.outdoors.rain and not policy.open_in_rain:
        return Reason.RAIN
    muggier_k = now.dew_point_c - now.indoor_dew_point_c
    if now.dew_point_c + slack > policy.highest_dew_point_c and muggier_k > MUGGIER_K[shut]:
        return Reason.MUGGY
    if now.surface_humidity > policy.dampest - (DAMP_SLACK if shut else 0.0):
        return Reason.DAMP_WALLS
    if now.settled_c <= policy.coolest_c + (2.0 * policy.slack_k if shut else 0.0):
        return Reason.COOL_ENOUGH
    return None


def decide(policy: Policy, last: Decision, *, since_s: float, most: State, now: Conditions) -> Decision:
    """What to do now.

    Parameters
    ----------
    policy
        The rules.
    last
        How things stand, and why.
    since_s
        How long they have stood so [s].
    most
        The most that may be done.
    now
        What it is like.

    Returns
    -------
    Decision
        ``shut``, ``open`` or ``with fans``, with the reason.
    """
    if most == "shut":
        return Decision("shut", Reason.AS_PLANNED)
    refused = refusal(policy, last.state, now)
    if refused is not None:
        return Decision("shut", refused)
    if since_s < policy.rest_s:
        return last
    state, cooler = last.state, now.settled_c - now.outdoors.temperature_c
    if most == "with fans" and cooler >= policy.fans_k - (policy.slack_k if state == "with fans" else 0.0):
        return Decision("with fans", Reason.COOLER_OUTDOORS)
    if cooler >= policy.open_k - (policy.slack_k if state != "shut" else 0.0):
        return Decision("open", Reason.COOLER_OUTDOORS)
    return Decision("shut", Reason.WARMER_OUTDOORS)


def periods(times_s: Sequence[float], decisions: Sequence[Decision], weather: Weather) -> tuple[Period, ...]:
    """Periods of the same state, each with the reason that it began for; the last entry has no time of its own."""
    found: list[Period] = []
    begin = 0
    for i in range(1, len(times_s)):
        if i == len(times_s) - 1 or decisions[i].state != decisions[begin].state:
            from_s, to_s = times_s[begin], times_s[i]
            labels = weather.label(from_s), weather.label(to_s)
            found.append(Period(decisions[begin].state, from_s, to_s, *labels, decisions[begin].reason))
            begin = i
    return tuple(found)


Control = Callable[[float, Decision, float, Callable[[], Conditions]], Decision]
"""The next decision, from the time since the first row [s], the last decision, its age [s], and the conditions."""


def by_policy(policy: Policy, most: State) -> Control:
    """Control by the rules of a policy."""
    return lambda _, last, since_s, now: decide(policy, last, since_s=since_s, most=most, now=now())


def by_schedule(times_s: Sequence[float], states: Sequence[State]) -> Control:
    """Control by a schedule: state i from time i on, shut before the first."""

    def planned(time_s: float, last: Decision, since_s: float, now: Callable[[], Conditions]) -> Decision:
        i = bisect.bisect_right(times_s, time_s + 1e-6)
        return Decision(states[i - 1] if i else "shut", Reason.AS_PLANNED)

    return planned


def shut_up(house: House, scenario: Scenario) -> Scenario:
    """The scenario with everything to outdoors shut that can be, and no fan; doors between rooms stay as they are."""
    openings = house.openings
    shares = {
        name: 0.0 if openings[name].is_external and openings[name].can_move else share
        for name, share in scenario.shares.items()
    }
    return replace(scenario, name=f"{scenario.name}, shut", shares=shares, placements=())
