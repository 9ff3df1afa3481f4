"""What holds in every house: thousands of random ones, of rooms joined by strips, jets and cracks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.network.houses import as_table, one_state, random_network, random_options
from ventplan.network.answer import driver_flows
from ventplan.network.links import FlowNetwork
from ventplan.network.solver import adjoint, net_flow, solve_choices, solve_pressures

LIGHTEST_KG_M3 = 1.1

seeds = st.integers(0, 2**32 - 1)
sizes = st.integers(1, 10).flatmap(lambda rooms: st.tuples(st.just(rooms), st.integers(rooms, rooms + 12)))


def mass_flows(network: FlowNetwork, pressure: np.ndarray) -> np.ndarray:
    """Net mass flow of every link."""
    return network.mass_flow_and_slope(network.driving_pressure(pressure))[0]


@pytest.mark.slow
@settings(max_examples=500, deadline=None)
@given(seed=seeds, size=sizes)
def test_the_air_of_every_room_balances(seed: int, size: tuple[int, int]) -> None:
    network = random_network(seed, *size)
    left = network.imbalance(mass_flows(network, solve_pressures(network)))
    assert np.max(np.abs(left)) / LIGHTEST_KG_M3 < 1e-8


@pytest.mark.slow
@settings(max_examples=120, deadline=None)
@given(seed=seeds, size=sizes)
def test_every_start_leads_to_the_one_answer(seed: int, size: tuple[int, int]) -> None:
    network = random_network(seed, *size)
    pressure = solve_pressures(network)
    random = np.random.default_rng(seed)
    for spread in (0.1, 10.0, 1000.0):
        start = random.normal(0.0, spread, size[0])
        assert solve_pressures(network, start_pa=start) == pytest.approx(pressure, abs=1e-8)


@settings(max_examples=120, deadline=None)
@given(seed=seeds, size=sizes)
def test_flow_of_every_link_rises_with_its_driving_pressure_and_the_slope_is_its_derivative(
    seed: int, size: tuple[int, int]
) -> None:
    network = random_network(seed, *size)
    random = np.random.default_rng(seed)
    low = random.normal(0.0, 10.0 ** random.uniform(-4.0, 2.0), network.links)
    step = 10.0 ** random.uniform(-6.0, 1.0, network.links)
    flow, slope = network.mass_flow_and_slope(low)
    higher, higher_slope = network.mass_flow_and_slope(low + step)
    assert np.all(higher > flow)
    assert np.all(slope > 0.0)
    assert np.all(higher_slope > 0.0)
    middle = low + np.sign(low) * 1e-3
    h = 1e-7
    difference = network.mass_flow_and_slope(middle + h)[0] - network.mass_flow_and_slope(middle - h)[0]
    assert difference / (2.0 * h) == pytest.approx(network.mass_flow_and_slope(middle)[1], rel=1e-4, abs=1e-6)


@settings(max_examples=120, deadline=None)
@given(seed=seeds, size=sizes)
def test_air_that_enters_the_house_leaves_it_again(seed: int, size: tuple[int, int]) -> None:
    network = random_network(seed, *size)
    outdoors = network.b == size[0]
    assert mass_flows(network, solve_pressures(network))[outdoors].sum() == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=120, deadline=None)
@given(seed=seeds, size=sizes)
def test_parts_of_wind_stack_and_fans_add_up_to_the_flow_of_every_link(seed: int, size: tuple[int, int]) -> None:
    network = random_network(seed, *size)
    pressure = solve_pressures(network)
    parts = driver_flows(network, pressure)
    assert sum(parts.values()) == pytest.approx(mass_flows(network, pressure), abs=1e-8)
    for part in parts.values():
        assert network.imbalance(part) == pytest.approx(np.zeros(size[0]), abs=1e-8)


@settings(max_examples=100, deadline=None)
@given(seed=seeds, size=sizes)
def test_a_house_at_rest_stays_at_rest(seed: int, size: tuple[int, int]) -> None:
    network = random_network(seed, *size)
    still = FlowNetwork(network.nodes, [], []) if not network.links else _at_rest(seed, size)
    pressure = solve_pressures(still)
    assert pressure == pytest.approx(np.zeros(size[0]), abs=1e-9)
    assert mass_flows(still, pressure) == pytest.approx(np.zeros(still.links), abs=1e-9)


def _at_rest(seed: int, size: tuple[int, int]) -> FlowNetwork:
    """The house without wind, stack and fans."""
    nodes, options, always = random_options(seed, *size)
    none = {"wind_pa": 0.0, "stack_pa": 0.0, "fan_pa": 0.0}
    strips = [replace(choices[2].strips[0], gradient_pa_m=0.0, **none) for choices in options]
    return FlowNetwork(nodes, strips, [replace(crack, **none) for crack in always])


@settings(max_examples=100, deadline=None)
@given(seed=seeds, size=sizes, shift=st.floats(-50.0, 50.0))
def test_the_same_pressure_on_every_window_changes_the_rooms_and_no_flow(
    seed: int, size: tuple[int, int], shift: float
) -> None:
    nodes, options, _ = random_options(seed, *size)
    strips = [choices[1].strips[0] for choices in options]
    moved = [replace(strip, wind_pa=strip.wind_pa - shift * (strip.b == size[0])) for strip in strips]
    before, after = FlowNetwork(nodes, strips, []), FlowNetwork(nodes, moved, [])
    low, high = solve_pressures(before), solve_pressures(after)
    assert high - low == pytest.approx(np.full(size[0], shift), abs=1e-7)
    assert mass_flows(after, high) == pytest.approx(mass_flows(before, low), abs=1e-8)


@settings(max_examples=100, deadline=None)
@given(seed=seeds, size=sizes)
def test_a_push_outwards_at_an_opening_never_reduces_its_flow(seed: int, size: tuple[int, int]) -> None:
    network = random_network(seed, *size)
    pressure = solve_pressures(network)
    for opening in range(min(3, size[1])):
        found = adjoint(network, pressure, net_flow(network, opening)).offset
        assert found[network.owner == opening].sum() >= -1e-12


@settings(max_examples=60, deadline=None)
@given(seed=seeds, size=sizes)
def test_states_together_balance_like_states_alone(seed: int, size: tuple[int, int]) -> None:
    house = random_options(seed, *size)
    choices = np.random.default_rng(seed).integers(0, 3, (25, size[1]))
    bulk = solve_choices(as_table(house), choices)
    assert np.max(bulk.imbalance_kg_s) / LIGHTEST_KG_M3 < 1e-8
    row = int(np.random.default_rng(seed).integers(25))
    assert bulk.pressure_pa[row] == pytest.approx(solve_pressures(one_state(house, choices[row])), abs=1e-10)


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(seed=seeds)
def test_thousands_of_states_of_a_house_balance(seed: int) -> None:
    house = random_options(seed, 6, 14, sealed=seed % 2 == 0)
    choices = np.random.default_rng(seed).integers(0, 3, (300, 14))
    assert np.max(solve_choices(as_table(house), choices).imbalance_kg_s) / LIGHTEST_KG_M3 < 1e-8
