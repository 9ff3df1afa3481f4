"""Solve a house in one state."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ventplan.errors import NoAnswerError
from ventplan.house.records import House, Scenario
from ventplan.network.assemble import Assembled, assemble
from ventplan.network.flow import Flow
from ventplan.network.read_back import ground_pressures, read_back
from ventplan.network.solver import isolated_rooms, solve_pressures

Floats = NDArray[np.float64]


def solve(house: House, scenario: Scenario | str | None = None, *, near: Flow | None = None) -> Flow:
    """Solve a house in one state.

    Parameters
    ----------
    house
        The house.
    scenario
        The state, or the name of one of the house's; its first if left out.
    near
        The answer of a similar state to start from; it saves time and changes nothing.

    Returns
    -------
    Flow
        Flows, pressures and what each fan drives.

    Raises
    ------
    NoAnswerError
        Where no room has a way to outdoors.
    KeyError
        Where the house has no scenario of that name.

    Notes
    -----
    Rooms cut off from outdoors are named in ``Flow.cut_off``; their air stands still and the rest is solved.
    """
    if scenario is None:
        scenario = house.first_scenario()
    elif isinstance(scenario, str):
        scenario = house.scenarios[scenario]
    assembled = assemble(house, scenario)
    alone = isolated_rooms(assembled.network)
    if alone:
        rest = _without(house, scenario, alone)
        return replace(solve(*rest, near=near), cut_off=alone)
    return read_back(house, scenario, *_settled(house, scenario, assembled, near))


def solve_arrays(house: House, scenario: Scenario) -> tuple[Assembled, Floats]:
    """Solve a house in one state, and keep the arrays.

    Parameters
    ----------
    house, scenario
        The house and its state; rooms that are cut off from outdoors are left out.

    Returns
    -------
    tuple
        The house as arrays, and the pressures of its rooms, shape (rooms,) [Pa].

    Raises
    ------
    NoAnswerError
        As `solve`.
    """
    assembled = assemble(house, scenario)
    alone = isolated_rooms(assembled.network)
    return solve_arrays(*_without(house, scenario, alone)) if alone else _settled(house, scenario, assembled)


def _settled(
    house: House, scenario: Scenario, assembled: Assembled, near: Flow | None = None
) -> tuple[Assembled, Floats]:
    start = ground_pressures(house, assembled.density, near.rooms) if near is not None else None
    return assembled, solve_pressures(assembled.network, start_pa=start)


def _without(house: House, scenario: Scenario, alone: tuple[str, ...]) -> tuple[House, Scenario]:
    """The house without the rooms that are cut off, and its state."""
    if len(alone) == len(house.rooms):
        raise NoAnswerError(
            f"no room of {house.name!r} has a way for air to outdoors in scenario {scenario.name!r}; "
            "open a window or door to outdoors, or give one a leak."
        )
    rooms = {name: room for name, room in house.rooms.items() if name not in alone}
    openings = {
        name: opening for name, opening in house.openings.items() if not any(place in alone for place in opening.joins)
    }
    placements = tuple(p for p in scenario.placements if p.opening in openings)
    return replace(house, rooms=rooms, openings=openings), replace(scenario, placements=placements)
