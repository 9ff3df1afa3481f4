"""One house, one answer: against formulas, and dense against sparse."""

from __future__ import annotations

import importlib

import numpy as np
import pytest
from scipy.optimize import root

from tests.unit.network.houses import grid_network, one_state, random_network, random_options
from ventplan.errors import NoAnswerError
from ventplan.network import compiled, newton
from ventplan.network.links import Crack, FlowNetwork, Strip
from ventplan.network.solver import isolated_rooms, solve_pressures

solve_module = importlib.import_module("ventplan.network.solver")
sparse_module = importlib.import_module("ventplan.network.graphs")


def strip(a: int, b: int, area: float, **more: float) -> Strip:
    """A strip with next to no linear loss."""
    return Strip(0, a, b, area, 1.0, 1e-6, 1.5, 1e-6, 1.5, **more)


def test_two_openings_in_series_share_the_pressure_by_the_squares_of_their_areas() -> None:
    network = FlowNetwork(["room"], [strip(1, 0, 1.0, wind_pa=5.0), strip(0, 1, 2.0)], [])
    (pressure,) = solve_pressures(network)
    # q^2 = A1^2 (5 - p) / b = A2^2 p / b
    assert pressure == pytest.approx(5.0 / (1.0 + 4.0), rel=1e-5)


def test_a_house_without_rooms_has_no_pressures() -> None:
    assert solve_pressures(FlowNetwork([], [], [])).size == 0


@pytest.mark.parametrize("seed", range(5))
def test_the_answer_is_that_of_a_general_root_finder(seed: int) -> None:
    network = random_network(seed, 4, 9)

    def imbalance(pressure: np.ndarray) -> np.ndarray:
        return network.imbalance(network.mass_flow_and_slope(network.driving_pressure(pressure))[0])

    pressure = solve_pressures(network)
    found = root(imbalance, pressure + 0.05, tol=1e-12)
    assert np.max(np.abs(imbalance(pressure))) < 1e-12
    assert found.x == pytest.approx(pressure, abs=1e-6)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("widest_band", [0, 50])
def test_dense_band_and_sparse_matrices_give_one_answer(
    seed: int, widest_band: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    network = random_network(seed, 30, 70)
    dense = solve_pressures(network)
    monkeypatch.setattr(solve_module, "DENSE_LIMIT", 0)
    monkeypatch.setattr(solve_module, "COMPILED_LIMIT", 0)
    monkeypatch.setattr(sparse_module, "WIDEST_BAND", widest_band)
    solve_module._sparse_graph.cache_clear()
    assert solve_pressures(network) == pytest.approx(dense, abs=1e-10)


@pytest.mark.parametrize(("dense_limit", "widest_band"), [(150, 50), (0, 50), (0, 0)])
def test_several_right_sides_are_solved_as_one_by_one(
    dense_limit: int, widest_band: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    network = random_network(2, 30, 70)
    monkeypatch.setattr(solve_module, "DENSE_LIMIT", dense_limit)
    monkeypatch.setattr(sparse_module, "WIDEST_BAND", widest_band)
    solve_module._sparse_graph.cache_clear()
    _, slope = network.mass_flow_and_slope(np.ones(network.links))
    sides = np.random.default_rng(0).normal(size=(30, 3))
    found = solve_module.solve_linear(network, slope, sides)
    for i in range(3):
        assert found[:, i] == pytest.approx(solve_module.solve_linear(network, slope, sides[:, i]), rel=1e-9)


def test_a_band_without_positive_pivots_still_gives_a_descent_direction() -> None:
    # A chain of rooms between the widest of doors and the finest of cracks, with a pinhole to outdoors at its end.
    rooms = 300
    a, b = np.arange(rooms), np.arange(1, rooms + 1)
    weights = np.where(np.arange(rooms) % 2 == 0, 1e6, 1e-6)
    weights[-1] = 1e-12
    right = np.zeros(rooms)
    right[0] = 1e-12
    step = sparse_module.BandFactors(a, b, rooms).solve(weights, right)
    assert np.all(np.isfinite(step))
    assert right @ step > 0.0


def test_a_near_start_gives_the_same_answer() -> None:
    network = random_network(3, 6, 14)
    pressure = solve_pressures(network)
    assert solve_pressures(network, start_pa=pressure + 0.3) == pytest.approx(pressure, abs=1e-10)


@pytest.mark.slow
def test_a_network_of_ten_thousand_rooms_is_solved() -> None:
    network = grid_network(1, 100)
    pressure = solve_pressures(network)
    flow, _ = network.mass_flow_and_slope(network.driving_pressure(pressure))
    assert np.max(np.abs(network.imbalance(flow))) < 1e-9


def test_rooms_are_isolated_if_no_link_carries_air_to_outdoors() -> None:
    network = FlowNetwork(
        ["a", "b", "c", "d"],
        [strip(0, 4, 1.0), strip(1, 2, 1.0), strip(2, 4, 0.0)],
        [Crack(1, 0, 1, 0.0, 0.65), Crack(2, 3, 0, 1e-4, 0.65)],
    )
    assert isolated_rooms(network) == ("b", "c")


def test_what_does_not_balance_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compiled, "_kept", {})
    monkeypatch.setattr(newton, "MAX_ROUNDS", 1)
    network = one_state(random_options(2, 5, 12), np.ones(12, dtype=int))
    with pytest.raises(NoAnswerError, match=r"the air of 'room \d' does not balance"):
        solve_pressures(network, start_pa=np.full(5, 40.0))
