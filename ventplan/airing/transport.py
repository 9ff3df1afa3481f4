"""Transport of contaminants by air between rooms: exact steps in time that conserve mass and stay positive.

Rooms are well mixed. With w the concentration in each room, M the mass of air in it, m_ij the mass flow from
room i to room j (the last place is outdoors) and S what is released in it,

    M_i dw_i/dt = sum_j m_ji w_j - w_i sum_k m_ik + S_i.

The matrix of this system has no negative entry off its diagonal. Its exponential is computed by shifting the
diagonal until nothing is negative, so that no step of any length can make a concentration negative.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class AirPaths:
    """Mass flows between rooms: all that transport needs of a solved house.

    Attributes
    ----------
    names
        The rooms, in order.
    mass_kg
        Air in each room that takes part in mixing [kg], shape (n,).
    flow_kg_s
        Air from each place to each place [kg/s], shape (n + 1, n + 1); the last place is outdoors. What
        enters a room also leaves it.
    """

    names: tuple[str, ...]
    mass_kg: Array
    flow_kg_s: Array

    @property
    def leaving_kg_s(self) -> Array:
        """Air leaving each room [kg/s], shape (n,)."""
        return np.asarray(self.flow_kg_s[:-1].sum(axis=1))

    @property
    def entering_kg_s(self) -> Array:
        """Air entering each room [kg/s], shape (n,)."""
        return np.asarray(self.flow_kg_s[:, :-1].sum(axis=0))

    @property
    def rates_per_s(self) -> Array:
        """The matrix A of dw/dt = A w [1/s], shape (n, n)."""
        between = self.flow_kg_s[:-1, :-1].T
        return np.asarray((between - np.diag(self.leaving_kg_s)) / self.mass_kg[:, None])

    @property
    def aired(self) -> NDArray[np.bool_]:
        """True for every room that outdoor air reaches, directly or through other rooms, shape (n,)."""
        linked = self.flow_kg_s > 0.0
        reached = np.zeros(len(self.names) + 1, dtype=bool)
        reached[-1] = True
        for _ in self.names:
            reached |= linked[reached].any(axis=0)
        return reached[:-1]


def propagator(matrix: Array, duration: float) -> Array:
    """Exponential of a matrix times a duration, without negative entries if none stand off its diagonal.

    Parameters
    ----------
    matrix
        Rates [1/s], shape (n, n).
    duration
        Length of the step [s].

    Returns
    -------
    numpy.ndarray
        exp(matrix x duration), shape (n, n).

    Notes
    -----
    With s the largest loss rate and P = (A t + s I) / 2^k >= 0: exp(A t) = (e^(-s / 2^k) sum P^j
    / j!)^(2^k), a sum and a power of matrices without negative entries (uniformisation with scaling and
    squaring), so that small concentrations keep their relative accuracy. `scipy.linalg.expm` is as fast, but gives
    entries below zero and relative errors of 1e-5 in small ones, where this gives 1e-11.
    """
    scaled = np.asarray(matrix, dtype=float) * duration
    shift = max(0.0, float(-np.diag(scaled).min())) if scaled.size else 0.0
    raised = scaled + shift * np.eye(len(scaled))
    norm = float(np.abs(raised).sum(axis=1).max()) if scaled.size else 0.0
    halvings = max(0, int(np.ceil(np.log2(norm)))) if norm > 1.0 else 0
    raised /= 2.0**halvings
    term = np.eye(len(scaled))
    total = term.copy()
    for order in range(1, 24):  # norm at most 1: the 24th term is below 1e-23
        term = term @ raised / order
        total += term
    total *= np.exp(-shift / 2.0**halvings)
    for _ in range(halvings):
        total = total @ total
    return total


@dataclass(frozen=True)
class Stepper:
    """One step of dw/dt = A w + b, worked out once and used for every step of the same length.

    Attributes
    ----------
    state, source
        w after the step is ``state @ w + source @ b``, shapes (n, n).
    integral
        The integral of w over the step is ``source @ w + integral @ b``, shape (n, n).
    duration_s
        Length of the step [s].
    """

    state: Array
    source: Array
    integral: Array
    duration_s: float

    @classmethod
    def of(cls, rates_per_s: Array, duration_s: float) -> Stepper:
        """Work out the step from A [1/s], shape (n, n), by one exponential of a matrix of blocks."""
        n = len(rates_per_s)
        blocks = np.zeros((3 * n, 3 * n))
        blocks[:n, :n] = rates_per_s * duration_s
        blocks[:n, n : 2 * n] = blocks[n : 2 * n, 2 * n :] = np.eye(n)
        whole = propagator(blocks, 1.0)
        return cls(
            state=whole[:n, :n],
            source=whole[:n, n : 2 * n] * duration_s,
            integral=whole[:n, 2 * n :] * duration_s**2,
            duration_s=duration_s,
        )

    def after(self, state: Array, source: Array) -> Array:
        """State at the end of the step."""
        return np.asarray(self.state @ state + self.source @ source)

    def summed(self, state: Array, source: Array) -> Array:
        """Integral of the state over the step [state x s]."""
        return np.asarray(self.source @ state + self.integral @ source)


SAMPLES_PER_OCTAVE = 32
"""Points of a trajectory for each doubling of time: successive points are 2 to 3 % of the elapsed time apart [-]."""


@dataclass(frozen=True)
class Trajectory:
    """Concentrations over time for flows that stay the same, with exact crossings and peaks.

    The solution is a sum of exponentials, so that it has no detail finer than a fixed share of the elapsed time, and
    none finer than the fastest room. Points therefore lie evenly up to half the time constant of the fastest room, and
    evenly within each doubling of time from there on. Between two points the solution follows from the exact steps of
    the octaves before, and from its Taylor series over the shortest step. (A solver of `scipy.integrate` would need
    an error per step for time scales from seconds to weeks; here there is none.)

    Attributes
    ----------
    times_s
        Times [s], shape (t,).
    states
        Concentration in each room, and 1 in the last column, shape (t, n + 1).
    matrix
        [[A, b], [0, 0]] of dw/dt = A w + b [1/s], shape (n + 1, n + 1).
    steps
        Exact step over the shortest interval, and over 2, 4, ... times that, each of shape (n + 1, n + 1).
    levels
        Which of the steps leads from each point to the next, shape (t - 1,).
    """

    times_s: Array
    states: Array
    matrix: Array
    steps: tuple[Array, ...]
    levels: NDArray[np.int64]

    @classmethod
    def of(cls, rates_per_s: Array, *, start: Array, supply: Array, until_s: float) -> Trajectory:
        """Follow dw/dt = A w + b from a start.

        Parameters
        ----------
        rates_per_s
            A [1/s], shape (n, n).
        start
            Concentrations at the start, shape (n,).
        supply
            b [1/s], shape (n,).
        until_s
            Time that the trajectory covers at least [s].
        """
        n = len(start)
        matrix = np.zeros((n + 1, n + 1))
        matrix[:n, :n], matrix[:n, n] = rates_per_s, supply
        fastest = max(float(-np.diag(rates_per_s).min(initial=0.0)), 1.0 / until_s)
        first_s = 0.5 / fastest
        step = propagator(matrix, first_s / SAMPLES_PER_OCTAVE)
        steps, levels, states = [step], [0] * SAMPLES_PER_OCTAVE, [np.append(start, 1.0)]
        end_s = first_s
        while end_s < until_s:
            levels += [len(steps) - 1] * SAMPLES_PER_OCTAVE
            steps.append(steps[-1] @ steps[-1])
            end_s *= 2.0
        for level in levels:
            states.append(steps[level] @ states[-1])
        lengths = first_s / SAMPLES_PER_OCTAVE * 2.0 ** np.array(levels)
        times = np.concatenate([[0.0], np.cumsum(lengths)])
        return cls(times, np.array(states), matrix, tuple(steps), np.array(levels))

    def at(self, time_s: float) -> Array:
        """Concentrations at a time within the trajectory, shape (n,)."""
        return self._state(time_s)[:-1]

    def _state(self, time_s: float) -> Array:
        """Concentrations and the 1 after them: from the point before, by exact steps and a series for the rest."""
        k = min(max(int(np.searchsorted(self.times_s, time_s, side="right")) - 1, 0), len(self.levels) - 1)
        rest, state = time_s - float(self.times_s[k]), self.states[k]
        for level in range(int(self.levels[k]) - 1, -1, -1):
            length_s = float(self.times_s[1]) * 2.0**level
            if rest >= length_s:
                rest, state = rest - length_s, self.steps[level] @ state
        term = state
        for order in range(1, 10 if rest > 0.0 else 1):  # the matrix times the shortest step is below 1/32
            term = self.matrix @ term * (rest / order)
            state = state + term
        return np.asarray(state)

    def last_crossing_s(self, room: int, limit: float) -> float:
        """When a room falls below a limit and stays there.

        Parameters
        ----------
        room
            Its index.
        limit
            Concentration above zero.

        Returns
        -------
        float
            [s]; 0 if it was never above, infinite if it is above at the end.
        """
        level = self.states[:, room]
        excess = np.zeros(len(self.matrix))
        excess[room], excess[-1] = 1.0 / limit, -1.0
        above = np.flatnonzero(level >= limit)
        last = int(above[-1]) if above.size else -1
        if last == len(level) - 1:
            return float("inf")
        for k in reversed(self._tops(room)):
            if k <= last:
                break
            top_s = self._root(self.times_s[k], self.times_s[k + 1], self.matrix[room])
            if self._state(top_s)[room] >= limit:  # a peak between two points that are both below
                return self._root(top_s, self.times_s[k + 1], excess)
        return self._root(self.times_s[last], self.times_s[last + 1], excess) if last >= 0 else 0.0

    def peak(self, room: int) -> tuple[float, float]:
        """When the concentration in a room is highest [s], and how high."""
        level = self.states[:, room]
        highest = int(level.argmax())
        best_s, best = float(self.times_s[highest]), float(level[highest])
        for k in self._tops(room):
            top_s = self._root(self.times_s[k], self.times_s[k + 1], self.matrix[room])
            top = float(self._state(top_s)[room])
            if top > best:
                best_s, best = top_s, top
        return best_s, best

    def settled_s(self, end: Array) -> float:
        """When every room is within a hundredth of where it ends up [s]; an hour where nothing changes.

        Parameters
        ----------
        end
            Concentrations in the end, shape (n,); infinite ones are left out.
        """
        away = np.abs(self.states[:, :-1] - end)[:, np.isfinite(end)]
        largest = float(away[0].max(initial=0.0))
        far = np.flatnonzero((away > 0.01 * largest).any(axis=1)) if largest > 0.0 else np.array([], dtype=int)
        last = min(int(far[-1]) + 1, len(self.times_s) - 1) if far.size else 0
        return float(self.times_s[last]) or 3600.0

    def _tops(self, room: int) -> list[int]:
        """Intervals in which a room's concentration turns from rising to falling, rounding left out."""
        slope = self.states @ self.matrix[room]
        change = np.abs(slope[:-1]) * np.diff(self.times_s)
        turns = (slope[:-1] > 0.0) & (slope[1:] <= 0.0) & (change > 1e-10 * np.abs(self.states[:, room]).max())
        return [int(k) for k in np.flatnonzero(turns)]

    def _root(self, begin_s: float, end_s: float, weights: Array) -> float:
        """Where a weighted sum of the state turns from plus to minus between two times [s]."""
        from scipy.optimize import brentq

        def value(time_s: float) -> float:
            return float(weights @ self._state(time_s))

        if value(begin_s) <= 0.0 or value(end_s) >= 0.0:  # the root is a point of the grid, but for rounding
            return float(begin_s if value(begin_s) <= 0.0 else end_s)
        return float(brentq(value, begin_s, end_s, xtol=1e-12 * end_s))


def supply_per_s(paths: AirPaths, *, released_kg_s: Array, outdoor: float) -> Array:
    """The constant part b of dw/dt = A w + b: what is released, and what comes with the outdoor air.

    Parameters
    ----------
    paths
        Mass flows between rooms.
    released_kg_s
        Release in each room [concentration x kg/s], shape (n,).
    outdoor
        Concentration outdoors.

    Returns
    -------
    numpy.ndarray
        Rise of the concentration [1/s], shape (n,).
    """
    return np.asarray((paths.flow_kg_s[-1, :-1] * outdoor + released_kg_s) / paths.mass_kg)


def steady_state(paths: AirPaths, *, start: Array, supply: Array) -> Array:
    """Where the concentrations end up if nothing changes.

    Parameters
    ----------
    paths
        Mass flows between rooms.
    start
        Concentrations at the start, shape (n,); they matter only in rooms that no outdoor air reaches.
    supply
        b of dw/dt = A w + b [1/s], shape (n,).

    Returns
    -------
    numpy.ndarray
        Concentrations in the end, shape (n,); infinite in closed rooms where something is released without end.
    """
    aired = paths.aired
    end = np.zeros(len(paths.names))
    rates = paths.rates_per_s
    if aired.any():
        # Rounding in a house with nearly no exchange could leave -1e-20, which no concentration can be.
        end[aired] = np.maximum(np.linalg.solve(-rates[np.ix_(aired, aired)], supply[aired]), 0.0)
    for group in closed_groups(paths):
        weight = paths.mass_kg[group]
        mixed = float(weight @ start[group] / weight.sum())
        end[group] = np.inf if supply[group].any() else mixed
    return end


def closed_groups(paths: AirPaths) -> list[list[int]]:
    """Rooms that no outdoor air reaches, in groups that exchange air with each other."""
    from scipy.sparse.csgraph import connected_components

    left = np.flatnonzero(~paths.aired)
    count, group = connected_components(paths.flow_kg_s[np.ix_(left, left)] > 0.0, directed=False)
    return [left[group == i].tolist() for i in range(count)]
