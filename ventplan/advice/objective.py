"""What a plan is judged by: one number of a solved house, the larger the better."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.age import ages_s
from ventplan.airing.air_paths import air_paths
from ventplan.airing.clearing import Release, clearing_time_s
from ventplan.airing.transport import AirPaths
from ventplan.airing.weather import Weather
from ventplan.errors import InputError, unknown_name
from ventplan.house.records import OUTDOORS, House, Scenario
from ventplan.network.flow import Flow
from ventplan.network.weather import densities

Floats = NDArray[np.float64]

CLEARED = 0.05
"""Share of what was released at which a room counts as clear [-]."""
LEAK_M3_S = 1e-7
"""Air that every room is given when many states are screened, so that an isolated room has an age [m3/s]."""
OLDEST_S = 86_400.0
"""Mean age at which air counts as never renewed [s]: a day, longer than any plan runs."""
PASSED_THROUGH = re.compile(
    r"\b(garage|attic|loft|bath|shower|toilet|wc|restroom|hall|corridor|passage|landing|stair|shaft|closet|cupboard"
    r"|pantry|storage|store ?room|laundry|utility|cellar|basement|crawl|porch|boiler)"
)
"""Words in the name or use of a room that people pass through rather than stay in (common practice, no source)."""

Kind = Literal["opening", "room", "house", "clear", "cool"]


@dataclass(frozen=True)
class Objective:
    """What to get the most of.

    Attributes
    ----------
    kind
        ``opening``: net volume flow through an opening [m3/s], either way.
        ``room``: outdoor air that reaches a room, volume over mean age of its air [m3/s]; air from other rooms counts
        for as much as it is fresh.
        ``house``: one over the mean age of the air where people are [1/s]: rooms weighted by people, or by floor
        area where the house file names none.
        ``clear``: one over the time until what was released in a room is down to 5 % there [1/s].
        ``cool``: how much cooler a room is by an hour of the morning than with all openings to outdoors shut [K];
        screened by the outdoor air that reaches it.
    name
        The opening or room; empty for the house.
    weather
        The night, for ``cool``.
    by_hour
        Hour of the day, for ``cool`` [h].
    """

    kind: Kind
    name: str = ""
    weather: Weather | None = None
    by_hour: float = 6.0

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
            seconds = clearing_time_s(paths, release, self.name)
            return 1.0 / seconds if seconds > 0.0 else 0.0
        if self.kind == "house":
            ages = np.minimum(ages_s(paths), OLDEST_S)
            return float(1.0 / (occupancy_weights(house) @ ages))
        return outdoor_air_m3_s(house, scenario, paths)[self.name]

    def verdict(self, house: House, scenario: Scenario, flow: Flow) -> float:
        """The number that plans are ranked and reported by: kelvins for ``cool``, else as in `value`.

        Parameters
        ----------
        house, scenario
            The house and its state.
        flow
            Its solution.
        """
        if self.kind != "cool" or self.weather is None:
            return self.value(house, scenario, flow)
        return cooler_by(house, scenario, [scenario], self)[0][0]

    def values(self, house: House, forward_m3_s: Floats, backward_m3_s: Floats) -> Floats:
        """The number of this objective for many states at once, from flows alone.

        Parameters
        ----------
        house
            The house.
        forward_m3_s, backward_m3_s
            Flows of every opening, shape (states, openings) [m3/s].

        Returns
        -------
        ndarray
            Shape (states,). Turbulent exchange and densities are left out: good for screening, not for an answer.
        """
        if self.kind == "opening":
            index = list(house.openings).index(self.name)
            through: Floats = np.abs(forward_m3_s[:, index] - backward_m3_s[:, index])
            return through
        matrix = _mixing_matrix(house, forward_m3_s, backward_m3_s)
        volumes = np.array([room.volume_m3 * room.mixing for room in house.rooms.values()])
        if self.kind == "clear":
            # What leaves the room for good, and does not come back through other rooms: its purging flow rate.
            index = list(house.rooms).index(self.name)
            unit = np.zeros((len(matrix), len(volumes), 1))
            unit[:, index] = 1.0
            purging: Floats = 1.0 / np.maximum(np.linalg.solve(matrix, unit)[:, index, 0], 1e-9)
            return purging
        ages = np.linalg.solve(matrix, np.broadcast_to(volumes[:, None], (*matrix.shape[:2], 1)))[..., 0]
        ages = np.clip(ages, 1e-3, OLDEST_S)
        if self.kind == "house":
            mean: Floats = 1.0 / (ages @ occupancy_weights(house))
            return mean
        index = list(house.rooms).index(self.name)
        reaching: Floats = volumes[index] / ages[:, index]
        return reaching


def the_objective(
    house: House,
    *,
    target: str | None = None,
    room: str | None = None,
    whole_house: bool = False,
    clear: str | None = None,
    cool: str | None = None,
    weather: Weather | None = None,
    by_hour: float = 6.0,
) -> Objective:
    """The one objective asked for, its name checked against the house.

    Raises
    ------
    InputError
        For a name that the house does not have, no objective or several, or a night without weather to its morning.
    """
    asked: dict[str, str | None] = {"opening": target, "room": room, "clear": clear, "cool": cool}
    named = {kind: name for kind, name in asked.items() if name is not None}
    if len(named) + whole_house != 1:
        raise InputError(
            "say what to aim at, exactly one: an opening, a room, the whole house, a room to clear, a room to cool"
        )
    if whole_house:
        return Objective("house")
    kind, name = next(iter(named.items()))
    known = house.openings if kind == "opening" else house.rooms
    if name not in known:
        raise unknown_name("opening" if kind == "opening" else "room", name, known)
    if kind == "cool" and weather is None:
        raise InputError("to cool a room by morning, give the weather of the night (a CSV of hourly weather)")
    if kind == "opening":
        return Objective("opening", name)
    if kind == "cool" and weather is not None:
        return Objective("cool", name, weather.until(by_hour), by_hour)
    return Objective("clear" if kind == "clear" else "room", name)


def occupancy_weights(house: House) -> Floats:
    """How much the air of each room counts for the whole house, shape (rooms,); adds up to 1.

    Parameters
    ----------
    house
        The house.

    Returns
    -------
    ndarray
        By people where the house file says how many are in each room or where they are, else by the floor area of
        rooms that people stay in, else by floor area.
    """
    at = [person.room for person in house.people_at.values()]
    people = np.array([max(room.people, float(at.count(name))) for name, room in house.rooms.items()])
    area = np.array([room.area_m2 for room in house.rooms.values()])
    lived_in = np.array(
        [PASSED_THROUGH.search(f"{room.use} {room.name}".lower()) is None for room in house.rooms.values()]
    )
    weights = next(one for one in (people, area * lived_in, area) if one.sum() > 0.0)
    found: Floats = weights / weights.sum()
    return found


def outdoor_air_m3_s(house: House, scenario: Scenario, paths: AirPaths) -> dict[str, float]:
    """Outdoor air that reaches each room by any path: the mass of its air over its mean age and the density outdoors.

    Parameters
    ----------
    house, scenario
        The house and its state.
    paths
        Who sends air to whom.

    Returns
    -------
    dict
        By room [m3/s], as cold or warm as it is outdoors; 0 where the air is older than `OLDEST_S`. In a single room
        it is the flow from outdoors; air that has been in another room counts for as much as it is fresh.

    References
    ----------
    Sandberg 1981, Building and Environment 16(2), 123-135, for the age of air.
    """
    ages = ages_s(paths)
    volumes_outdoors = paths.mass_kg / densities(house, scenario)[OUTDOORS]
    flows = np.where(ages < OLDEST_S, volumes_outdoors / np.maximum(ages, 1e-9), 0.0)
    return dict(zip(paths.names, flows.tolist(), strict=True))


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


def cooler_by(
    house: House, base: Scenario, scenarios: Sequence[Scenario], objective: Objective
) -> list[tuple[float, float]]:
    """How much cooler a room is at an hour of the first morning than with everything shut.

    Parameters
    ----------
    house, base
        The house, and the state that plans are compared with: with its openings to outdoors shut, inner doors as there.
    scenarios
        Plans, with fans or without.
    objective
        The room, the night and the hour.

    Returns
    -------
    list of tuple
        For each plan: with its fans, and with its openings alone [K].
    """
    from ventplan.airing.night import night

    weather = objective.weather
    if weather is None or not scenarios:
        return []
    named = [replace(scenario, name=f"plan {i}") for i, scenario in enumerate(scenarios)]
    held_against = replace(base, name="as asked", placements=())
    runs = {run.name: run for run in night(house, [held_against, *named], weather).runs}
    shut = runs["everything shut"]
    step = int(np.abs(np.array(shut.times_s) - weather.seconds_until(objective.by_hour)).argmin())
    found: list[tuple[float, float]] = []
    bare_runs = {tuple(base.shares.values()): runs["as asked"]}
    for scenario in named:
        # Plans with the same openings have the run without their fans in common.
        key, own = tuple(scenario.shares.values()), f"{scenario.name}, windows alone"
        if own in runs or not scenario.placements:
            bare_runs.setdefault(key, runs[own if own in runs else scenario.name])
        both = (runs[scenario.name], bare_runs[key])
        cooler = [shut.rooms_c[objective.name][step] - run.rooms_c[objective.name][step] for run in both]
        found.append((cooler[0], cooler[1]))
    return found
