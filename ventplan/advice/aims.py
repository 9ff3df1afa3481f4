"""What a plan is judged by: one number of a solved house, the larger the better."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.age import age_of_air
from ventplan.airing.flows import air_paths
from ventplan.house.records import OUTDOORS, House, Scenario
from ventplan.network.flow import Flow

Floats = NDArray[np.float64]

LEAK_M3_S = 1e-7
"""Air that a room without any flow is given to keep its age finite when many states are screened [m3/s]."""


@dataclass(frozen=True)
class Aim:
    """What to get the most of.

    Attributes
    ----------
    kind
        ``opening``: net volume flow through an opening [m3/s], either way.
        ``room``: fresh air of a room, its volume over the mean age of its air [m3/s]; air that has been in other
        rooms counts for less, air that only goes in circles for nothing.
        ``house``: the same of the worst room, for each cubic metre of it [1/s].
    name
        The opening or room; empty for the house.
    """

    kind: Literal["opening", "room", "house"]
    name: str = ""

    @property
    def quantity(self) -> str:
        """What kind of quantity the value is, as ``ventplan.house.shown`` names it."""
        return "air change" if self.kind == "house" else "flow"

    def words(self) -> str:
        """The aim in plain words."""
        if self.kind == "opening":
            return f"most air through {self.name}"
        if self.kind == "room":
            return f"most fresh air for {self.name}"
        return "most fresh air for the worst room"

    def value(self, house: House, scenario: Scenario, flow: Flow) -> float:
        """The number of this aim in a solved state.

        Parameters
        ----------
        house, scenario
            The house and its state.
        flow
            Its solution.

        Returns
        -------
        float
            [m3/s], or [1/s] for ``house``.
        """
        if self.kind == "opening":
            return abs(flow.openings[self.name].net_m3_s)
        rooms = age_of_air(air_paths(house, scenario, flow)).rooms
        if self.kind == "room":
            return house.rooms[self.name].volume_m3 / rooms[self.name].age_s
        return min(1.0 / room.age_s for room in rooms.values())

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
        rates = self._fresh_rates(house, forward_m3_s, backward_m3_s)
        if self.kind == "room":
            index = list(house.rooms).index(self.name)
            fresh: Floats = rates[:, index] * list(house.rooms.values())[index].volume_m3
            return fresh
        worst: Floats = rates.min(axis=1)
        return worst

    @staticmethod
    def _fresh_rates(house: House, forward: Floats, backward: Floats) -> Floats:
        """1 / age of the air of every room, shape (states, rooms) [1/s]: sum_j Q_ji (age_i - age_j) = V_i."""
        count = len(house.rooms)
        node = {name: i for i, name in enumerate((*house.rooms, OUTDOORS))}
        entering = np.zeros((forward.shape[0], count + 1, count + 1))
        for i, opening in enumerate(house.openings.values()):
            a, b = node[opening.joins[0]], node[opening.joins[1]]
            entering[:, b, a] += forward[:, i]
            entering[:, a, b] += backward[:, i]
        inflow = entering[:, :count, :].sum(axis=2) + LEAK_M3_S
        matrix = -entering[:, :count, :count]
        diagonal = np.arange(count)
        matrix[:, diagonal, diagonal] += inflow
        volumes = np.array([room.volume_m3 for room in house.rooms.values()])
        ages = np.linalg.solve(matrix, np.broadcast_to(volumes[:, None], (forward.shape[0], count, 1)))[..., 0]
        rates: Floats = 1.0 / np.maximum(ages, 1e-6)
        return rates
