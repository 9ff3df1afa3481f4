"""What a plan is judged by: one number of a solved house, the larger the better."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.air_paths import air_paths, purging_flow_rates_kg_s
from ventplan.airing.clearing import Release, clear
from ventplan.airing.weather import Weather
from ventplan.house.records import OUTDOORS, House, Scenario
from ventplan.network.flow import Flow
from ventplan.network.weather import densities

Floats = NDArray[np.float64]

CLEARED = 0.05
"""Share of what was released at which a room counts as clear [-]."""
LEAK_M3_S = 1e-7
"""Air that every room is given, to keep the matrix of a still one regular when many states are screened [m3/s]."""


@dataclass(frozen=True)
class Objective:
    """What to get the most of.

    Attributes
    ----------
    kind
        ``opening``: net volume flow through an opening [m3/s], either way.
        ``room``: purging flow of a room [m3/s], so that air which only goes in circles counts for nothing.
        ``house``: effective air change of the worst room, purging flow over volume [1/s].
        ``clear``: a room cleared soonest, 1 / time until what was released in it is down to 5 % there [1/s].
        ``cool``: a room cooled most by an hour of the morning [K]; the search steers by its purging flow.
    name
        The opening or room; empty for the house.
    weather
        The night, for ``cool``.
    by_hour
        Hour of the day, for ``cool`` [h].
    """

    kind: Literal["opening", "room", "house", "clear", "cool"]
    name: str = ""
    weather: Weather | None = None
    by_hour: float = 6.0

    def words(self) -> str:
        """The aim in plain words."""
        morning = f"{self.by_hour:.0f}:00"
        if self.kind == "cool" and self.weather is not None:
            morning = self.weather.label(self.weather.seconds_until(self.by_hour))
        return {
            "opening": f"most air through {self.name}",
            "room": f"most air change for {self.name}",
            "house": "most air change for the worst room",
            "clear": f"{self.name} cleared soonest",
            "cool": f"{self.name} coolest by {morning}",
        }[self.kind]

    def steers_by(self) -> str:
        """What `value` is, in plain words: what limits are told in."""
        return f"the flow that airs {self.name}, not its degrees" if self.kind == "cool" else self.words()

    def value(self, house: House, scenario: Scenario, flow: Flow) -> float:
        """The number that the search steers by, in a solved state.

        Parameters
        ----------
        house, scenario
            The house and its state.
        flow
            Its solution.

        Returns
        -------
        float
            [m3/s], or [1/s] for ``house`` and ``clear``.
        """
        if self.kind == "opening":
            return abs(flow.openings[self.name].net_m3_s)
        paths = air_paths(house, scenario, flow)
        if self.kind == "clear":
            release = Release(start={self.name: 1.0}, limit=CLEARED)
            seconds = clear(paths, release).rooms[self.name].clear_s
            return 1.0 / seconds if seconds > 0.0 else 0.0
        air = densities(house, scenario)
        flows = purging_flow_rates_kg_s(paths) / np.array([air[name] for name in paths.names])
        if self.kind in ("room", "cool"):
            return float(flows[paths.names.index(self.name)])
        volumes = np.array([house.rooms[name].volume_m3 for name in paths.names])
        return float(np.min(flows / volumes))

    def verdict(self, house: House, scenario: Scenario, flow: Flow) -> float:
        """The number that plans are ranked and told by: kelvins for ``cool``, else as in `value`.

        Parameters
        ----------
        house, scenario
            The house and its state.
        flow
            Its solution.
        """
        if self.kind != "cool" or self.weather is None:
            return self.value(house, scenario, flow)
        return _cooler_by(house, scenario, self.name, self.weather, self.by_hour)

    def values(self, house: House, forward_m3_s: Floats, backward_m3_s: Floats) -> Floats:
        """The number of this aim for many states at once, from flows alone.

        Parameters
        ----------
        house
            The house.
        forward_m3_s, backward_m3_s
            Flows of every opening, shape (states, openings) [m3/s].

        Returns
        -------
        ndarray
            Shape (states,). Turbulent exchange and densities are left out: good for ranking, not for telling.
        """
        if self.kind == "opening":
            index = list(house.openings).index(self.name)
            through: Floats = np.abs(forward_m3_s[:, index] - backward_m3_s[:, index])
            return through
        if self.kind == "house":
            worst: Floats = _air_changes(house, forward_m3_s, backward_m3_s).min(axis=1)
            return worst
        purging = _purging_flows(house, forward_m3_s, backward_m3_s)
        return purging[:, list(house.rooms).index(self.name)]

    def airing(self, house: House, forward_m3_s: Floats, backward_m3_s: Floats) -> Floats:
        """As `values`, but for the house the harmonic mean of its rooms' air changes.

        Where several rooms stand still, the worst of them tells nothing of a change that airs another; this does.
        """
        if self.kind != "house":
            return self.values(house, forward_m3_s, backward_m3_s)
        mean: Floats = 1.0 / (1.0 / _air_changes(house, forward_m3_s, backward_m3_s)).mean(axis=1)
        return mean


def _air_changes(house: House, forward: Floats, backward: Floats) -> Floats:
    """Purging flow over volume of every room, shape (states, rooms) [1/s]."""
    changes: Floats = _purging_flows(house, forward, backward) / [room.volume_m3 for room in house.rooms.values()]
    return changes


def _purging_flows(house: House, forward: Floats, backward: Floats) -> Floats:
    """Purging flow of every room, shape (states, rooms) [m3/s], as `ventplan.airing.air_paths` has it for one state."""
    inverse = np.linalg.inv(_mixing_matrix(house, forward, backward))
    stays = np.asarray(np.diagonal(inverse, axis1=1, axis2=2), dtype=np.float64)
    return 1.0 / np.maximum(stays, 1e-9)


def _mixing_matrix(house: House, forward: Floats, backward: Floats) -> Floats:
    """Row i: all air into room i on the diagonal, minus what comes from room j, shape (states, rooms, rooms)."""
    count = len(house.rooms)
    node = {name: i for i, name in enumerate((*house.rooms, OUTDOORS))}
    entering = np.zeros((forward.shape[0], count + 1, count + 1))
    for i, opening in enumerate(house.openings.values()):
        a, b = node[opening.joins[0]], node[opening.joins[1]]
        entering[:, b, a] += forward[:, i]
        entering[:, a, b] += backward[:, i]
    matrix: Floats = -entering[:, :count, :count]
    diagonal = np.arange(count)
    matrix[:, diagonal, diagonal] += entering[:, :count, :].sum(axis=2) + LEAK_M3_S
    return matrix


def _cooler_by(house: House, scenario: Scenario, room: str, weather: Weather, hour: float) -> float:
    """How much cooler a room is at an hour of the first morning than with everything shut [K]."""
    from ventplan.airing.night import night

    runs = {run.name: run for run in night(house, [scenario], weather).runs}
    shut, aired = runs["everything shut"], list(runs.values())[-1]
    step = int(np.abs(np.array(shut.times_s) - weather.seconds_until(hour)).argmin())
    return shut.rooms_c[room][step] - aired.rooms_c[room][step]
