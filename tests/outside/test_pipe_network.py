"""Our network against the engine of EPANET, a solver of pipe networks (Rossman et al. 2020, EPANET 2.2).

An opening with a purely quadratic loss is a pipe with a minor loss and no friction, so both must find the same flows.
"""

from __future__ import annotations

import numpy as np
import pytest
from pipe_engine import PipeEngine, QuadraticNetwork, random_quadratic, square_grid

from ventplan.network.choices import Choice, ChoiceTable
from ventplan.network.solver import solve_choices, solve_pressures

pytest.importorskip("epanet")

SIZES = (3, 3, 4, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 25, 36, 50, 75, 100, 150, 151, 300, 1000)
NETWORKS = [
    *[pytest.param(random_quadratic(seed, rooms), id=f"{rooms} rooms, {seed}") for seed, rooms in enumerate(SIZES)],
    pytest.param(square_grid(1, 10), id="grid of 100 rooms"),
    pytest.param(square_grid(2, 32), id="grid of 1024 rooms"),
]


def engine_flows(network: QuadraticNetwork) -> np.ndarray:
    """What the pipe engine says."""
    with PipeEngine(network) as engine:
        engine.solve()
        return engine.flows()


@pytest.mark.parametrize("network", NETWORKS)
def test_flows_are_those_of_a_pipe_network_within_a_thousandth(network: QuadraticNetwork) -> None:
    expected = engine_flows(network)
    ours = network.as_flow_network()
    flow, _ = ours.mass_flow_and_slope(ours.driving_pressure(solve_pressures(ours)))
    largest = np.max(np.abs(expected))
    alive = np.abs(flow) > 1e-12
    assert flow[alive] == pytest.approx(expected[alive], rel=1e-3, abs=1e-6 * largest)
    # In dead ends nothing flows; the engine leaves a trace.
    assert np.max(np.abs(expected[~alive]), initial=0.0) < 1e-4 * largest


def test_many_states_at_once_are_those_of_a_pipe_network() -> None:
    networks = [_with_wind(random_quadratic(7, 9), seed) for seed in range(6)]
    options = [
        [Choice((strip,)) for strip in strips]
        for strips in zip(*(network.as_strips() for network in networks), strict=True)
    ]
    table = ChoiceTable([f"room {i}" for i in range(9)], options)
    states = np.repeat(np.arange(len(networks))[:, None], len(options), axis=1)
    bulk = solve_choices(table, states)
    for row, network in enumerate(networks):
        expected = engine_flows(network)
        assert bulk.mass_kg_s[row] == pytest.approx(expected, rel=1e-3, abs=1e-6 * np.max(np.abs(expected)))


def _with_wind(network: QuadraticNetwork, seed: int) -> QuadraticNetwork:
    outside = network.b == network.rooms
    wind = np.where(outside, np.random.default_rng(seed).normal(0.0, 3.0, outside.size), 0.0)
    return QuadraticNetwork(network.rooms, network.a, network.b, network.loss, wind)
