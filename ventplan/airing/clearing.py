"""How long until the air of each room is clear, and which way the contaminant leaves the house."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from ventplan.airing import Note, NoteCode
from ventplan.airing.age import AgeOfAir, age_of_air, visited_shares
from ventplan.airing.air_paths import MIN_ROOM_DIFFERENCE_K, air_paths, doorway_mixing, leaving_shares
from ventplan.airing.hazards import find_hazards
from ventplan.airing.safety import Hazard
from ventplan.airing.transport import AirPaths, Array, Stepper, Trajectory, steady_state, supply_per_s
from ventplan.errors import InputError, unknown_name
from ventplan.house.records import House, Scenario
from ventplan.house.remarks import leakage_is_assumed
from ventplan.network import solve
from ventplan.network.flow import Flow
from ventplan.physics.air import REFERENCE_DENSITY

LONGEST_S = 14 * 86_400.0
"""How far ahead to look [s]; what takes longer counts as never."""

OUTDOOR_CO2_PPM = 420.0
"""Carbon dioxide outdoors [ppm] (NOAA global mean of the 2020s, rounded)."""

PERSON_CO2_M3_S = 5.2e-6
"""Carbon dioxide that a person at rest breathes out [m3/s]: 0.31 L/min (ASHRAE Standard 62.1; from
memory)."""

LONG_S = 86_400.0
"""Clearing time beyond which the result depends on the leakage of the house [s]."""


@dataclass(frozen=True)
class Release:
    """A contaminant in the air, in any unit of concentration (a share of the first, ppm, mg/m3).

    Attributes
    ----------
    start
        Concentration at the start by room; rooms that are not named start at ``elsewhere``.
    source
        Continuing release, by room [concentration x m3/s], at the reference density of 1.2 kg/m3.
    elsewhere
        Concentration at the start in the other rooms; that of outdoors if None.
    outdoors
        Concentration outdoors.
    limit
        Concentration to fall below, counted like the others.
    unit
        Name of the unit, for people.
    """

    start: Mapping[str, float] = field(default_factory=dict)
    source: Mapping[str, float] = field(default_factory=dict)
    elsewhere: float | None = None
    outdoors: float = 0.0
    limit: float = 0.05
    unit: str = "of the start"


class NeverReason(StrEnum):
    """Why a room does not clear."""

    ISOLATED = "isolated"
    OUTDOORS_ABOVE_LIMIT = "outdoors-above-limit"
    SETTLES_ABOVE = "settles-above"
    TAKES_WEEKS = "takes-weeks"


@dataclass(frozen=True)
class RoomClearing:
    """The concentration in one room.

    Attributes
    ----------
    start, peak, end
        Concentration at the start, at its highest, and in the end.
    peak_s
        When it is highest [s]; infinite where it rises towards `end` without end.
    clear_s
        When it falls below the limit and stays there [s]: 0 if it was never above, infinite if it never does.
    air_changes
        Air changes of the room (all air entering) until then [-].
    exposure
        Integral of the concentration above that of outdoors [concentration x s], until the last room has
        cleared.
    visited
        Share of the contaminant that passes through the room before it leaves the house [-].
    """

    name: str
    start: float
    peak: float
    peak_s: float
    end: float
    clear_s: float
    air_changes: float
    exposure: float
    visited: float


@dataclass(frozen=True)
class Clearing:
    """The concentrations in the whole house.

    Attributes
    ----------
    rooms
        By name.
    clear_s
        When the last room has cleared [s].
    air_changes
        Outdoor air entering the house until then, in volumes of the house [-].
    never
        Rooms that do not clear, each with the reason.
    watched_s
        Time over which exposures count [s].
    times_s, concentrations
        The trajectory: times [s], shape (t,), and concentrations, shape (t, n).
    """

    rooms: Mapping[str, RoomClearing]
    clear_s: float
    air_changes: float
    never: Mapping[str, NeverReason]
    watched_s: float
    times_s: tuple[float, ...]
    concentrations: tuple[tuple[float, ...], ...]


def clear(paths: AirPaths, release: Release, *, watch_s: float | None = None) -> Clearing:
    """Follow a release until every room is clear.

    Parameters
    ----------
    paths
        Mass flows between rooms.
    release
        What is in the air.
    watch_s
        Time over which exposures count and the trajectory is kept [s]; until the last room that can has cleared
        if None.

    Returns
    -------
    Clearing
        Times, peaks, exposures, and the rooms that never clear.

    Raises
    ------
    InputError
        For a room that does not exist, or a figure below zero.

    Notes
    -----
    Exact for flows that stay the same: times and peaks are roots of the solution itself, on any time scale
    (see `ventplan.airing.transport.Trajectory`).
    """
    course, end = _followed(paths, release)
    start, supply = course.states[0, :-1], course.matrix[:-1, -1]
    clear_s = np.array([_clear_s(course, i, end[i], release.limit) for i in range(len(start))])
    peaks = [_peak(course, i, end[i]) for i in range(len(start))]
    finite = clear_s[np.isfinite(clear_s)]
    watched = watch_s or (float(finite.max()) if finite.size and finite.max() > 0.0 else course.settled_s(end))
    exposure = Stepper.of(paths.rates_per_s, watched).summed(start, supply)
    exposure = np.maximum(exposure - release.outdoors * watched, 0.0)
    # The points of the trajectory, with peaks and crossings in between.
    events = {*course.times_s.tolist(), *clear_s.tolist(), *(time for time, _ in peaks)}
    times = sorted({0.0, watched, *(time for time in events if time < watched)})
    visited = visited_shares(paths, released_shares(paths, release)).tolist()
    changes = paths.entering_kg_s / paths.mass_kg
    rooms = {
        name: RoomClearing(
            name=name,
            start=float(start[i]),
            peak=peaks[i][1],
            peak_s=peaks[i][0],
            end=float(end[i]),
            clear_s=float(clear_s[i]),
            air_changes=float(changes[i] * clear_s[i]) if changes[i] > 0.0 else 0.0,
            exposure=float(exposure[i]),
            visited=visited[i],
        )
        for i, name in enumerate(paths.names)
    }
    last = float(clear_s.max())
    outdoor = float(paths.flow_kg_s[-1, :-1].sum() / paths.mass_kg.sum())
    return Clearing(
        rooms=rooms,
        clear_s=last,
        air_changes=outdoor * last if outdoor > 0.0 else 0.0,
        never={room: _never(paths, release, i, end[i]) for i, room in enumerate(rooms) if np.isinf(clear_s[i])},
        watched_s=watched,
        times_s=tuple(times),
        concentrations=tuple(tuple(course.at(time).tolist()) for time in times),
    )


def clearing_time_s(paths: AirPaths, release: Release, room: str) -> float:
    """When one room falls below the limit and stays there: the same as in `clear`, in a fifth of the time.

    Parameters
    ----------
    paths
        Mass flows between rooms.
    release
        What is in the air.
    room
        Name of the room.

    Returns
    -------
    float
        [s]; 0 if it was never above, infinite if it never falls below.
    """
    course, end = _followed(paths, release)
    i = paths.names.index(room)
    return _clear_s(course, i, end[i], release.limit)


def _followed(paths: AirPaths, release: Release) -> tuple[Trajectory, Array]:
    """How the concentrations go on from the start, and where they end up."""
    unknown = sorted((set(release.start) | set(release.source)) - set(paths.names))
    if unknown:
        raise unknown_name("room", unknown[0], paths.names)
    values = [*release.start.values(), *release.source.values(), release.outdoors, release.elsewhere or 0.0]
    if not all(np.isfinite(value) and value >= 0.0 for value in values):
        raise InputError("a concentration or a source is below zero or not a number; give it as 0 or more")
    if not release.limit > 0.0:
        raise InputError(f"the limit is {release.limit:g}; it must be above zero, since air clears by shares")
    start = _start(paths, release)
    released = np.array([release.source.get(name, 0.0) for name in paths.names]) * REFERENCE_DENSITY
    supply = supply_per_s(paths, released_kg_s=released, outdoor=release.outdoors)
    course = Trajectory.of(paths.rates_per_s, start=start, supply=supply, until_s=LONGEST_S)
    return course, steady_state(paths, start=start, supply=supply)


def _start(paths: AirPaths, release: Release) -> Array:
    elsewhere = release.outdoors if release.elsewhere is None else release.elsewhere
    return np.array([release.start.get(name, elsewhere) for name in paths.names], dtype=float)


def _clear_s(course: Trajectory, room: int, end: float, limit: float) -> float:
    """When a room falls below the limit and stays there [s]; infinite where it ends above."""
    crossing_s = float("inf") if end >= limit else course.last_crossing_s(room, limit)
    return crossing_s if crossing_s <= LONGEST_S else float("inf")


def _peak(course: Trajectory, room: int, end: float) -> tuple[float, float]:
    """When a room's concentration is highest [s], and how high; infinite time where it rises to the end."""
    peak_s, peak = course.peak(room)
    rises_to_end = end > peak * (1.0 - 1e-9) and end > course.states[0, room] * (1.0 + 1e-9)
    return (float("inf"), float(end)) if rises_to_end else (peak_s, peak)


def released_shares(paths: AirPaths, release: Release) -> Array:
    """Share of all that is released that is released in each room [-], shape (n,); zero if nothing is."""
    weight = np.array([release.source.get(name, 0.0) for name in paths.names])
    if not release.source:
        weight = np.maximum(_start(paths, release) - release.outdoors, 0.0) * paths.mass_kg
    return np.asarray(weight / (weight.sum() or 1.0))


def _never(paths: AirPaths, release: Release, room: int, end: float) -> NeverReason:
    """Why a room does not clear."""
    if not paths.aired[room]:
        return NeverReason.ISOLATED
    if release.outdoors >= release.limit:
        return NeverReason.OUTDOORS_ABOVE_LIMIT
    return NeverReason.SETTLES_ABOVE if end >= release.limit else NeverReason.TAKES_WEEKS


@dataclass(frozen=True)
class HouseClearing:
    """How a scenario clears a house.

    Attributes
    ----------
    scenario
        Its name.
    clearing
        Times, peaks and exposures by room.
    age
        Age of the air in the same flow.
    leaves_by
        Share of what is released that leaves by each opening to outdoors, and by cracks in the walls [-].
    outdoor_m3_s
        Outdoor air that comes into the house [m3/s].
    notes
        What the figures leave out.
    cautions
        What the answer causes.
    """

    scenario: str
    clearing: Clearing
    age: AgeOfAir
    leaves_by: Mapping[str, float]
    outdoor_m3_s: float
    notes: tuple[Note, ...]
    cautions: tuple[Hazard, ...]


def clear_house(house: House, scenarios: Sequence[Scenario], release: Release) -> tuple[HouseClearing, ...]:
    """Clear a house in each of several scenarios.

    Parameters
    ----------
    house
        The house.
    scenarios
        The plans to compare.
    release
        What is in the air.

    Returns
    -------
    tuple of HouseClearing
        One for each scenario, exposures counted over the same time, that of the slowest.

    Raises
    ------
    InputError
        For a room that does not exist, or a figure below zero.
    NoAnswerError
        Where a scenario has no solution.
    """
    flows = [solve(house, scenario) for scenario in scenarios]
    paths = [air_paths(house, scenario, flow) for scenario, flow in zip(scenarios, flows, strict=True)]
    alone = [clear(path, release) for path in paths]
    outdoor = [sum(room.outdoor_m3_s for room in flow.rooms.values()) for flow in flows]
    volume = sum(room.volume_m3 for room in house.rooms.values())
    never_or_days = any(c.never or not c.clear_s <= LONG_S for c in alone)
    longest = max((room.clear_s for c in alone for room in c.rooms.values() if np.isfinite(room.clear_s)), default=0.0)
    return tuple(
        HouseClearing(
            scenario=scenario.name,
            clearing=_with_changes(clear(path, release, watch_s=longest or None), outdoor_m3_s / volume),
            age=age_of_air(path, garages=[name for name, room in house.rooms.items() if room.is_garage]),
            leaves_by=leaving_shares(house, scenario, flow, path, released_shares(path, release)),
            outdoor_m3_s=outdoor_m3_s,
            notes=tuple(_notes(house, flow, rests_on_leakage=never_or_days)),
            cautions=find_hazards(house, scenario, flow),
        )
        for scenario, flow, path, outdoor_m3_s in zip(scenarios, flows, paths, outdoor, strict=True)
    )


def _with_changes(found: Clearing, per_s: float) -> Clearing:
    """With air changes from the volume flow of outdoor air, as `ventplan flow` has them, not from mass flows."""
    return replace(found, air_changes=per_s * found.clear_s if per_s > 0.0 else 0.0)


def share_released(rooms: Sequence[str], *, limit: float = 0.05) -> Release:
    """A contaminant that fills one or more rooms, and whose limit is a share of its first concentration.

    Parameters
    ----------
    rooms
        Where it is.
    limit
        Share of the first concentration to fall below [-].
    """
    if not 0.0 < limit < 1.0:
        raise InputError(f"a share of {limit:g} to fall to: it must be above 0 and below 1 (100 %)")
    return Release(start=dict.fromkeys(rooms, 1.0), limit=limit)


def breath(house: House, *, start_ppm: float, limit_ppm: float, outdoor_ppm: float = OUTDOOR_CO2_PPM) -> Release:
    """Carbon dioxide of the people in the house.

    Parameters
    ----------
    house
        The house, with people in its rooms.
    start_ppm
        Concentration in every room at the start [ppm].
    limit_ppm
        Concentration to fall below [ppm].
    outdoor_ppm
        Concentration outdoors [ppm].

    Raises
    ------
    InputError
        Where nobody is in the house.
    """
    source = {name: room.people * PERSON_CO2_M3_S * 1e6 for name, room in house.rooms.items() if room.people > 0.0}
    if not source:
        raise InputError("nobody is in the house; write `people: 2` at a room of the house file")
    return Release(source=source, elsewhere=start_ppm, outdoors=outdoor_ppm, limit=limit_ppm, unit="ppm")


def _notes(house: House, flow: Flow, *, rests_on_leakage: bool) -> Iterator[Note]:
    mixing = {name: room.mixing for name, room in house.rooms.items() if room.mixing < 1.0}
    if mixing:
        yield Note(NoteCode.PARTLY_MIXED, numbers=mixing)
    if any(doorway_mixing(house.openings[name], solved) > 0.0 for name, solved in flow.openings.items()):
        yield Note(NoteCode.DOORWAY_EXCHANGE, numbers={"difference_k": MIN_ROOM_DIFFERENCE_K})
    if rests_on_leakage and leakage_is_assumed(house):
        yield Note(NoteCode.LEAKAGE_ASSUMED)
