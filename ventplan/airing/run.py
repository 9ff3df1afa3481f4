"""What one way through the weather leaves behind: temperatures, dampness, and when the windows were open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.policy import State
from ventplan.airing.weather import Weather

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
