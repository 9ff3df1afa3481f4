"""What air carries from room to room: an exact step in time that keeps amounts and stays above zero.

Rooms are well mixed. With w the concentration in each room, M the mass of air in it, m_ij the mass flow from
room i to room j (the last place is outdoors) and S what is released in it,

    M_i dw_i/dt = sum_j m_ji w_j - w_i sum_k m_ik + S_i.

The matrix of this system has no negative entry off its diagonal. Its exponential is computed by shifting the
diagonal until nothing is negative, so no step can make a negative concentration, whatever its length.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class AirPaths:
    """Who sends air to whom: all that carrying needs to know of a solved house.

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
        """True for every room that outdoor air reaches, by whatever way, shape (n,)."""
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
    squaring), so that small concentrations keep their relative accuracy.
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


def supply_per_s(paths: AirPaths, *, released_kg_s: Array, outdoor: float) -> Array:
    """The constant part b of dw/dt = A w + b: what is released, and what comes with the outdoor air.

    Parameters
    ----------
    paths
        Ways of the air.
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
        Ways of the air.
    start
        Concentrations at the start, shape (n,); they matter only in rooms that no outdoor air reaches.
    supply
        b of dw/dt = A w + b [1/s], shape (n,).

    Returns
    -------
    numpy.ndarray
        Concentrations in the end, shape (n,); infinite in closed rooms where something is released for ever.
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
    linked = (paths.flow_kg_s[:-1, :-1] > 0.0) | (paths.flow_kg_s[:-1, :-1].T > 0.0)
    left = set(np.flatnonzero(~paths.aired).tolist())
    groups: list[list[int]] = []
    while left:
        group, front = set(), {min(left)}
        while front:
            group |= front
            front = {int(j) for i in front for j in np.flatnonzero(linked[i])} & left - group
        left -= group
        groups.append(sorted(group))
    return groups


def purging_flow_rates_kg_s(paths: AirPaths) -> NDArray[np.float64]:
    """Flow that purges each room of what is released in it.

    Parameters
    ----------
    paths
        Who sends air to whom.

    Returns
    -------
    ndarray
        Shape (rooms,) [kg/s]; 0 for rooms that no outdoor air reaches.

    Notes
    -----
    A source S in a room settles at the concentration C = S / U there; U = 1 / (L^-1)_ii with L the balance matrix,
    air leaving on the diagonal, minus the air from each other room. Air that leaves a room and comes back, as in the
    circle that a jet drives through a doorway, purges nothing; air that has been in other rooms purges in full.

    References
    ----------
    Sandberg & Sjöberg 1983, Building and Environment 18(4), 181-197 (from memory).
    """
    stays = np.diag(balance_inverse(paths))
    return np.divide(1.0, stays, out=np.zeros_like(stays), where=stays > 0.0)


def balance_inverse(paths: AirPaths) -> NDArray[np.float64]:
    """Inverse of the balance matrix: concentration in each room for a unit source in each other.

    Parameters
    ----------
    paths
        Who sends air to whom.

    Returns
    -------
    ndarray
        Row: room, column: room of the source, shape (rooms, rooms) [s/kg]; 0 for rooms that no outdoor air reaches.
    """
    inverse = np.zeros((len(paths.names), len(paths.names)))
    aired = paths.aired
    if aired.any():
        balance = (np.diag(paths.leaving_kg_s) - paths.flow_kg_s[:-1, :-1].T)[np.ix_(aired, aired)]
        inverse[np.ix_(aired, aired)] = np.linalg.inv(balance)
    return inverse
