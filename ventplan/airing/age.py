"""Age of the air in rooms, where it came from, and the flow that purges each room."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ventplan.airing.air_paths import air_paths, doorway_mixing
from ventplan.airing.transport import AirPaths, Array
from ventplan.house.records import House, Scenario
from ventplan.network.flow import Flow
from ventplan.network.weather import densities
from ventplan.physics.air import REFERENCE_DENSITY


@dataclass(frozen=True)
class RoomAge:
    """Air of one room.

    Attributes
    ----------
    age_s
        Mean time since the air in it came in from outdoors [s]; infinite where no outdoor air comes.
    direct
        Share of the air entering that comes straight from outdoors [-]; the rest comes from other rooms.
    entered_by
        Share of its air by the room in which it first entered the house [-].
    came_through
        Share of its air that has been in each other room [-].
    """

    name: str
    age_s: float
    direct: float
    entered_by: dict[str, float]
    came_through: dict[str, float]


@dataclass(frozen=True)
class AgeOfAir:
    """Age of the air in a house.

    Attributes
    ----------
    rooms
        By name.
    nominal_time_s
        Air in the aired rooms over the outdoor air entering them [s]; also the mean age at the exits.
    mean_age_s
        Mean age of the air in the aired rooms [s].
    air_change_efficiency
        nominal time / (2 x mean age): 0.5 fully mixed, 1 piston flow (Sandberg 1981).
    air_change_effectiveness
        nominal time / mean age: 1 fully mixed, 2 piston flow (the definition of ASHRAE Standard 129).
    without_outdoor_air
        Rooms that no outdoor air reaches; they are left out of the house's figures, as garages are.
    """

    rooms: dict[str, RoomAge]
    nominal_time_s: float
    mean_age_s: float
    air_change_efficiency: float
    air_change_effectiveness: float
    without_outdoor_air: tuple[str, ...]


def ages_s(paths: AirPaths) -> Array:
    """Mean age of the air in each room.

    Parameters
    ----------
    paths
        Mass flows between rooms.

    Returns
    -------
    numpy.ndarray
        Age [s], shape (n,); infinite in rooms that no outdoor air reaches.

    Notes
    -----
    sum over what enters of m_ji (theta_i - theta_j) = M_i, with age 0 outdoors.

    References
    ----------
    Sandberg 1981, Building and Environment 16(2), 123-135.
    """
    aired = paths.aired
    age = np.full(len(paths.names), np.inf)
    if aired.any():
        age[aired] = np.linalg.solve(-paths.rates_per_s[np.ix_(aired, aired)], np.ones(int(aired.sum())))
    return age


def outdoor_air_change_rates_per_h(house: House, scenario: Scenario, flow: Flow) -> dict[str, float]:
    """Outdoor air change rate of each room: how often outdoor air replaces its air, directly or through other rooms.

    Parameters
    ----------
    house, scenario, flow
        A solved state.

    Returns
    -------
    dict
        One over the mean age of the air, by room [1/h]; 0 in rooms that no outdoor air reaches.

    Notes
    -----
    In a single room this is the flow from outdoors over the volume. Air that comes through other rooms counts for as
    much as it is still fresh, so a corridor that only gets used air has a low rate however fast the air passes.

    References
    ----------
    Sandberg 1981, Building and Environment 16(2), 123-135 (local mean age of air).
    """
    paths = air_paths(house, scenario, flow)
    return {name: 3600.0 / float(age) for name, age in zip(paths.names, ages_s(paths), strict=True)}


@dataclass(frozen=True)
class RoomSupply:
    """Air that enters one room, at the density of the room's own air, with the exchange assumed at open inner doors.

    Attributes
    ----------
    inflow_m3_s
        From outdoors and from other rooms [m3/s].
    air_change_per_h, direct_air_change_per_h
        All of it, and what comes straight from outdoors, over the air that mixes [1/h].
    assumed
        Share of it that is the exchange assumed at open inner doors [-].
    """

    inflow_m3_s: float
    air_change_per_h: float
    direct_air_change_per_h: float
    assumed: float


def supply_of_rooms(house: House, scenario: Scenario, flow: Flow) -> dict[str, RoomSupply]:
    """Air that enters each room, from the same mass flows as the age of its air.

    Parameters
    ----------
    house, scenario, flow
        A solved state.

    Notes
    -----
    The mean age of the air is at least the time in which all air that enters replaces it, so the outdoor air change
    rate of a room (`outdoor_air_change_rates_per_h`) is at most ``air_change_per_h``.
    """
    paths, air = air_paths(house, scenario, flow), densities(house, scenario)
    mixed = dict.fromkeys(paths.names, 0.0)
    for name, solved in flow.openings.items():
        exchange = doorway_mixing(house.openings[name], solved) * REFERENCE_DENSITY
        for place in mixed.keys() & set(solved.joins):
            mixed[place] += exchange
    entering, direct = paths.entering_kg_s.tolist(), paths.flow_kg_s[-1].tolist()
    return {
        name: RoomSupply(
            inflow_m3_s=entering[i] / air[name],
            air_change_per_h=3600.0 * entering[i] / mass,
            direct_air_change_per_h=3600.0 * direct[i] / mass,
            assumed=min(mixed[name] / entering[i], 1.0) if entering[i] > 0.0 else 0.0,
        )
        for i, (name, mass) in enumerate(zip(paths.names, paths.mass_kg.tolist(), strict=True))
    }


def supply_shares(paths: AirPaths) -> Array:
    """Share of the air entering each room by the place it comes from.

    Returns
    -------
    numpy.ndarray
        Row i: shares of what enters room i, by place, outdoors last, shape (n, n + 1); zero where nothing
        enters.
    """
    entering = paths.entering_kg_s[:, None]
    given = paths.flow_kg_s[:, :-1].T
    return np.asarray(np.divide(given, entering, out=np.zeros_like(given), where=entering > 0.0))


def first_entries(paths: AirPaths) -> Array:
    """Share of each room's air by the room in which it first entered the house.

    Returns
    -------
    numpy.ndarray
        Row i: shares of the air of room i by room of entry, adding up to 1, shape (n, n); zero for rooms
        without outdoor air.

    Notes
    -----
    With B the shares from other rooms and d those straight from outdoors, F = B F + diag(d).
    """
    aired = paths.aired
    shares = supply_shares(paths)
    first = np.zeros((len(aired), len(aired)))
    if aired.any():
        inside = np.ix_(aired, aired)
        between = shares[:, :-1][inside]
        first[inside] = np.linalg.solve(np.eye(len(between)) - between, np.diag(shares[aired, -1]))
    return first


def visit_probabilities(steps: Array) -> Array:
    """Probability that air visits each room before it leaves the house, moving from room to room.

    Parameters
    ----------
    steps
        Row i: probability of the next room after room i [-], shape (n, n); what is missing to 1 leaves the house.

    Returns
    -------
    numpy.ndarray
        Row i: probability that air now in room i is in room r, now or later, shape (n, n); 1 on the diagonal.

    Notes
    -----
    With N = (I - P)^-1 the expected number of visits, the probability is N_ir / N_rr.
    """
    expected = np.linalg.solve(np.eye(len(steps)) - steps, np.eye(len(steps)))
    return np.asarray(np.clip(expected / np.diag(expected)[None, :], 0.0, 1.0))


def visited_shares(paths: AirPaths, released: Array) -> Array:
    """Share of what is released that passes through each room on its way out.

    Parameters
    ----------
    paths
        Mass flows between rooms.
    released
        Share of what is released that is released in each room [-], shape (n,).

    Returns
    -------
    numpy.ndarray
        Shares [-], shape (n,).
    """
    visited, aired = released.copy(), paths.aired
    if aired.any():
        steps = paths.flow_kg_s[:-1, :-1][np.ix_(aired, aired)] / paths.leaving_kg_s[aired][:, None]
        visited[aired] = released[aired] @ visit_probabilities(steps)
    return np.asarray(np.clip(visited, 0.0, 1.0))


def age_of_air(paths: AirPaths, *, garages: Collection[str] = ()) -> AgeOfAir:
    """Age of the air in a house, and the rooms that it came through.

    Parameters
    ----------
    paths
        Mass flows between rooms.
    garages
        Rooms where nobody lives: left out of the house's figures, so that air from them enters like air from outdoors,
        but keeps its age.

    Returns
    -------
    AgeOfAir
        Ages, shares, and the air change efficiency in both definitions.
    """
    names, aired = paths.names, paths.aired
    age, shares, entries = ages_s(paths), supply_shares(paths), first_entries(paths)
    through = np.zeros_like(entries)
    if aired.any():
        through[np.ix_(aired, aired)] = visit_probabilities(shares[:, :-1][np.ix_(aired, aired)])
    lived = aired & ~np.isin(names, list(garages))
    outdoor = float(paths.flow_kg_s[np.ix_(~np.append(lived, False), np.append(lived, False))].sum())
    mass = float(paths.mass_kg[lived].sum())
    nominal = mass / outdoor if outdoor > 0.0 else np.inf
    mean = float(paths.mass_kg[lived] @ age[lived]) / mass if mass > 0.0 else np.inf
    good = nominal / mean if mass > 0.0 else np.nan
    rooms = {
        name: RoomAge(
            name=name,
            age_s=float(age[i]),
            direct=float(shares[i, -1]),
            entered_by=_noticeable(names, entries[i]),
            came_through=_noticeable(names, through[i], without=i),
        )
        for i, name in enumerate(names)
    }
    return AgeOfAir(
        rooms=rooms,
        nominal_time_s=nominal,
        mean_age_s=mean,
        air_change_efficiency=good / 2.0,
        air_change_effectiveness=good,
        without_outdoor_air=tuple(name for name, reached in zip(names, aired, strict=True) if not reached),
    )


def _noticeable(names: tuple[str, ...], shares: Array, *, without: int = -1) -> dict[str, float]:
    return {
        name: float(share)
        for i, (name, share) in enumerate(zip(names, shares, strict=True))
        if share > 1e-6 and i != without
    }


def balance_inverse(paths: AirPaths) -> Array:
    """Inverse of the balance matrix: concentration in each room for a unit source in each other.

    Parameters
    ----------
    paths
        Mass flows between rooms.

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


def purging_flow_rates_kg_s(paths: AirPaths) -> Array:
    """Flow that purges each room of what is released in it.

    Parameters
    ----------
    paths
        Mass flows between rooms.

    Returns
    -------
    ndarray
        Shape (rooms,) [kg/s]; 0 for rooms that no outdoor air reaches.

    Notes
    -----
    A source S in a room gives the steady concentration C = S / U there; U = 1 / (L^-1)_ii with L the balance matrix,
    air leaving on the diagonal, minus the air from each other room. Air that leaves a room and comes back, as in the
    circle that a jet drives through a doorway, purges nothing; air that has been in other rooms purges in full.

    References
    ----------
    Sandberg & Sjöberg 1983, Building and Environment 18(4), 181-197 (from memory).
    """
    stays = np.diag(balance_inverse(paths))
    return np.divide(1.0, stays, out=np.zeros_like(stays), where=stays > 0.0)


def purging_flow_rates_m3_s(house: House, scenario: Scenario, flow: Flow) -> dict[str, float]:
    """Purging flow of every room as a volume.

    Parameters
    ----------
    house, scenario
        The house and its state.
    flow
        Its solution.

    Returns
    -------
    dict
        By room, at the density of its air [m3/s].
    """
    paths, air = air_paths(house, scenario, flow), densities(house, scenario)
    found = dict(zip(paths.names, purging_flow_rates_kg_s(paths).tolist(), strict=True))
    return {name: found.get(name, 0.0) / air[name] for name in house.rooms}


def purging_air_change_rates_per_h(house: House, scenario: Scenario, flow: Flow) -> dict[str, float]:
    """Effective air changes of every room: purging flow over volume.

    Parameters
    ----------
    house, scenario
        The house and its state.
    flow
        Its solution.

    Returns
    -------
    dict
        By room [1/h].
    """
    flows = purging_flow_rates_m3_s(house, scenario, flow)
    return {name: 3600.0 * flows[name] / room.volume_m3 for name, room in house.rooms.items()}
