"""One house in one state, against a general root finder."""

from __future__ import annotations

import numpy as np
from scipy.optimize import root

from tests.benchmarks.timing import Table, least, shown
from tests.unit.network.houses import random_network
from ventplan.network.links import FlowNetwork
from ventplan.network.solver import solve_pressures

HOUSES = 12


def _general(network: FlowNetwork) -> bool:
    def imbalance(pressure: np.ndarray) -> np.ndarray:
        return network.imbalance(network.mass_flow_and_slope(network.driving_pressure(pressure))[0])

    found = root(imbalance, np.zeros(len(network.nodes)), method="hybr", tol=1e-12)
    return bool(np.max(np.abs(imbalance(found.x))) < 1e-8)


def table() -> Table:
    """Time for each house, and how many of them each method solves."""
    rows = []
    for rooms, openings in ((1, 3), (3, 8), (8, 20), (25, 60)):
        houses = [random_network(seed, rooms, openings) for seed in range(HOUSES)]
        general, ours = least(
            lambda houses=houses: [_general(house) for house in houses],
            lambda houses=houses: [solve_pressures(house) for house in houses],
            repeats=3,
        )
        solved = sum(map(_general, houses))
        rows.append(
            [
                f"{rooms} rooms, {openings} openings",
                shown(general / HOUSES),
                shown(ours / HOUSES),
                f"{ours / general:.2f}",
                f"{solved} of {HOUSES}",
                f"{HOUSES} of {HOUSES}",
            ]
        )
    return Table(
        "One house against a general root finder",
        ("house", "scipy.optimize.root", "ours", "ours / scipy", "solved by scipy", "solved by ours"),
        rows,
        "Random houses with jets, cracks and temperature differences, from no start. Solved: an imbalance below 1e-8 "
        "kg/s; ours raises an error otherwise.",
    )
