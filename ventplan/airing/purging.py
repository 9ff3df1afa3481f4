"""Purging flow: what of a room's air change really carries things out of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.flows import air_paths
from ventplan.airing.transport import AirPaths
from ventplan.house.records import House, Scenario
from ventplan.network.flow import Flow
from ventplan.physics.air import REFERENCE_DENSITY


def purging_flows(paths: AirPaths) -> NDArray[np.float64]:
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


def effective_flows(house: House, scenario: Scenario, flow: Flow) -> dict[str, float]:
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
        By room, at the reference density [m3/s].
    """
    paths = air_paths(house, scenario, flow)
    found = dict(zip(paths.names, (purging_flows(paths) / REFERENCE_DENSITY).tolist(), strict=True))
    return {name: found.get(name, 0.0) for name in house.rooms}


def effective_air_changes(house: House, scenario: Scenario, flow: Flow) -> dict[str, float]:
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
    flows = effective_flows(house, scenario, flow)
    return {name: 3600.0 * flows[name] / room.volume_m3 for name, room in house.rooms.items()}
