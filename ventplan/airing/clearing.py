"""How long until the air is clear, room by room, and where the contaminant goes on its way out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.age import visits
from ventplan.airing.transport import AirPaths, Stepper, resting_state, supply_per_s
from ventplan.errors import InputError

Array = NDArray[np.float64]

LONGEST_S = 14 * 86_400.0
"""How far ahead to look [s]; what takes longer is said to be never."""

SAMPLES = 400
"""Points on a trajectory between which a crossing is looked for."""


@dataclass(frozen=True)
class Release:
    """Something in the air, in any unit of concentration (a share of the first, ppm, mg/m3).

    Attributes
    ----------
    start
        Concentration at the start by room; rooms that are not named start at ``elsewhere``.
    source
        Release that goes on, by room [concentration x m3/s], at the reference density of 1.2 kg/m3.
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


@dataclass(frozen=True)
class RoomClearing:
    """What one room sees.

    Attributes
    ----------
    start, peak, end
        Concentration at the start, at its highest, and where it settles.
    peak_s
        When it is highest [s].
    clear_s
        When it falls below the limit for good [s]: 0 if it was never above, infinite if it never does.
    air_changes
        Air changes of the room (all air entering) until then [-].
    dose
        Integral of the concentration above that of outdoors [concentration x s], until the last room has
        cleared.
    visited
        Share of what is released that passes through the room on its way out [-].
    """

    name: str
    start: float
    peak: float
    peak_s: float
    end: float
    clear_s: float
    air_changes: float
    dose: float
    visited: float


@dataclass(frozen=True)
class Clearing:
    """What the whole house sees.

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
        Time over which doses count [s].
    times_s, concentrations
        The trajectory: times [s], shape (t,), and concentrations, shape (t, n).
    """

    rooms: Mapping[str, RoomClearing]
    clear_s: float
    air_changes: float
    never: Mapping[str, str]
    watched_s: float
    times_s: tuple[float, ...]
    concentrations: tuple[tuple[float, ...], ...]


def clear(paths: AirPaths, release: Release, *, watch_s: float | None = None) -> Clearing:
    """Follow a release until every room is clear.

    Parameters
    ----------
    paths
        Who sends air to whom.
    release
        What is in the air.
    watch_s
        Time over which doses count and the trajectory is kept [s]; until the last room that can has cleared
        if None.

    Returns
    -------
    Clearing
        Times, peaks, doses, and the rooms that never clear.

    Raises
    ------
    InputError
        For a room that does not exist, or a figure below zero.

    Notes
    -----
    Exact for flows that stay the same. The end of the search is certain: excess over the resting
    state can nowhere pass the largest excess in any room, so that once that is below what a room may have,
    the room stays clear.
    """
    _check(paths, release)
    start, supply = _start(paths, release), _supply(paths, release)
    end = resting_state(paths, start=start, supply=supply)
    horizon = _horizon(paths, start, supply, end, release.limit)
    clear_s = _last_crossings(paths, start, supply, end, release.limit, horizon)
    finite = clear_s[np.isfinite(clear_s)]
    watched = watch_s or (float(finite.max()) if finite.size and finite.max() > 0.0 else horizon)
    stepper = Stepper.of(paths.rates_per_s, watched / SAMPLES)
    track, dose = [start], np.zeros_like(start)
    for _ in range(SAMPLES):
        dose = dose + stepper.summed(track[-1], supply)
        track.append(stepper.after(track[-1], supply))
    levels = np.array(track)
    dose = np.maximum(dose - release.outdoors * watched, 0.0)
    visited = _visited(paths, release)
    changes = paths.entering_kg_s / paths.mass_kg
    rooms = {
        name: RoomClearing(
            name=name,
            start=float(start[i]),
            peak=float(levels[:, i].max()),
            peak_s=float(levels[:, i].argmax()) * watched / SAMPLES,
            end=float(end[i]),
            clear_s=float(clear_s[i]),
            air_changes=float(changes[i] * clear_s[i]) if changes[i] > 0.0 else 0.0,
            dose=float(dose[i]),
            visited=float(visited[i]),
        )
        for i, name in enumerate(paths.names)
    }
    last = float(clear_s.max())
    outdoor = float(paths.flow_kg_s[-1, :-1].sum() / paths.mass_kg.sum())
    return Clearing(
        rooms=rooms,
        clear_s=last,
        air_changes=outdoor * last if outdoor > 0.0 else 0.0,
        never=_reasons(paths, clear_s, end, release),
        watched_s=watched,
        times_s=tuple(np.linspace(0.0, watched, SAMPLES + 1).tolist()),
        concentrations=tuple(map(tuple, levels.tolist())),
    )


def _check(paths: AirPaths, release: Release) -> None:
    unknown = sorted((set(release.start) | set(release.source)) - set(paths.names))
    if unknown:
        raise InputError(f"no such room: {', '.join(unknown)}; the rooms are {', '.join(paths.names)}")
    figures = [*release.start.values(), *release.source.values(), release.outdoors, release.elsewhere or 0.0]
    if not all(np.isfinite(figure) and figure >= 0.0 for figure in figures):
        raise InputError("a concentration or a source is below zero or no number")
    if not release.limit > 0.0:
        raise InputError(f"the limit is {release.limit:g}; it must be above zero, since air clears by shares")


def _start(paths: AirPaths, release: Release) -> Array:
    elsewhere = release.outdoors if release.elsewhere is None else release.elsewhere
    return np.array([release.start.get(name, elsewhere) for name in paths.names], dtype=float)


def _supply(paths: AirPaths, release: Release) -> Array:
    from ventplan.physics.air import REFERENCE_DENSITY

    released = np.array([release.source.get(name, 0.0) for name in paths.names]) * REFERENCE_DENSITY
    return supply_per_s(paths, released_kg_s=released, outdoor=release.outdoors)


def _horizon(paths: AirPaths, start: Array, supply: Array, end: Array, limit: float) -> float:
    """A time after which no room that can clear is above the limit [s]."""
    able = end < limit
    if not able.any():
        return 3600.0
    spare = float((limit - end[able]).min())
    horizon = 60.0
    while horizon < LONGEST_S:
        state = Stepper.of(paths.rates_per_s, horizon).after(start, supply)
        settled = np.isfinite(end)
        if float((state - end)[settled].max(initial=0.0)) < spare:
            break
        horizon *= 2.0
    return min(horizon, LONGEST_S)


def _last_crossings(paths: AirPaths, start: Array, supply: Array, end: Array, limit: float, horizon: float) -> Array:
    """When each room falls below the limit for good [s], shape (n,)."""
    from scipy.optimize import brentq

    step = horizon / SAMPLES
    stepper = Stepper.of(paths.rates_per_s, step)
    track = [start]
    for _ in range(SAMPLES):
        track.append(stepper.after(track[-1], supply))
    above = np.array(track) >= limit
    crossing = np.zeros(len(start))
    for i in range(len(start)):
        if end[i] >= limit or above[-1, i]:
            crossing[i] = np.inf
        elif above[:, i].any():
            last = int(np.flatnonzero(above[:, i])[-1])

            def excess(time_s: float, before: Array = track[last], room: int = i) -> float:
                after = Stepper.of(paths.rates_per_s, time_s).after(before, supply)
                return float(after[room] / limit) - 1.0

            crossing[i] = last * step + brentq(excess, 0.0, step, xtol=1e-6 * step)
    return crossing


def released_shares(paths: AirPaths, release: Release) -> Array:
    """Share of all that is released that is released in each room [-], shape (n,); zero if nothing is."""
    if release.source:
        weight = np.array([release.source.get(name, 0.0) for name in paths.names])
    else:
        weight = np.maximum(_start(paths, release) - release.outdoors, 0.0) * paths.mass_kg
    total = float(weight.sum())
    return np.asarray(weight / total if total > 0.0 else np.zeros_like(weight))


def _visited(paths: AirPaths, release: Release) -> Array:
    """Share of what is released that passes through each room, shape (n,)."""
    shares = released_shares(paths, release)
    visited, aired = shares.copy(), paths.aired
    if aired.any():
        leaving = paths.leaving_kg_s[aired][:, None]
        visited[aired] = shares[aired] @ visits(paths.flow_kg_s[:-1, :-1][np.ix_(aired, aired)] / leaving)
    return np.asarray(np.clip(visited, 0.0, 1.0))


def _reasons(paths: AirPaths, clear_s: Array, end: Array, release: Release) -> dict[str, str]:
    reasons = {}
    for i, name in enumerate(paths.names):
        if np.isfinite(clear_s[i]):
            continue
        if not paths.aired[i]:
            reasons[name] = "no outdoor air reaches it"
        elif release.outdoors >= release.limit:
            reasons[name] = "the air outdoors is not below the limit"
        elif end[i] >= release.limit:
            reasons[name] = f"it settles at {_plain(end[i])} {release.unit}, with what is still released"
        else:
            reasons[name] = f"it takes more than {LONGEST_S / 86_400.0:.0f} days"
    return reasons


def _plain(value: float) -> str:
    """A number without powers of ten: whole from 100 on."""
    return f"{value:.0f}" if value >= 100.0 else f"{value:.3g}"
