"""Houses whose openings in line drive one another: balance, one answer, both engines, exact derivatives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.unit.network.houses import random_couplings, random_options
from ventplan.network import compiled
from ventplan.network.links import FlowNetwork
from ventplan.network.solver import adjoint, net_flow, solve_pressures

seeds = st.integers(0, 2**32 - 1)
sizes = st.integers(1, 10).flatmap(lambda rooms: st.tuples(st.just(rooms), st.integers(rooms, rooms + 12)))


def coupled_network(seed: int, size: tuple[int, int], push_pa: float = 0.0) -> FlowNetwork:
    """A random house, some openings of which pass up to nine tenths of their drop on."""
    nodes, options, always = random_options(seed, *size)
    row = np.random.default_rng([seed, 1]).integers(0, 3, size[1])
    picked = [choices[i] for choices, i in zip(options, row, strict=True)]
    strips = [strip for choice in picked for strip in choice.strips]
    cracks = [crack for choice in picked for crack in choice.cracks] + always
    couplings = random_couplings(seed, FlowNetwork(nodes, strips, cracks), 4, most=0.9)
    assume(couplings)
    moved = [vars(strip) | {"wind_pa": strip.wind_pa + push_pa * (i == 0)} for i, strip in enumerate(strips)]
    return FlowNetwork(nodes, [type(strips[0])(**each) for each in moved], cracks, couplings)


def imbalance(network: FlowNetwork, pressure: np.ndarray) -> float:
    """Largest imbalance of any room [kg/s]."""
    flow, _ = network.mass_flow_and_slope(network.driving_pressure(pressure))
    return float(np.max(np.abs(network.imbalance(flow))))


@settings(max_examples=120, deadline=None)
@given(seed=seeds, size=sizes)
def test_every_room_balances_and_other_starts_lead_to_the_same_answer(seed: int, size: tuple[int, int]) -> None:
    network = coupled_network(seed, size)
    pressure = solve_pressures(network)
    assert imbalance(network, pressure) < 1e-8
    random = np.random.default_rng(seed)
    for spread in (0.1, 10.0, 100.0):
        start = random.normal(0.0, spread, size[0])
        assert solve_pressures(network, start_pa=start) == pytest.approx(pressure, abs=1e-7)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, size=sizes)
def test_both_engines_agree(seed: int, size: tuple[int, int]) -> None:
    pytest.importorskip("numba")
    network, engine = coupled_network(seed, size), compiled.load()
    assert engine is not None
    pressure, failed = compiled.solve_network(engine, network, None)
    assert not failed
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(compiled, "loaded", lambda: None)
        assert solve_pressures(network) == pytest.approx(pressure, abs=1e-8)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, size=sizes)
def test_the_derivative_by_a_push_is_that_of_a_small_push(seed: int, size: tuple[int, int]) -> None:
    step = 1e-5
    low, network, high = (coupled_network(seed, size, push) for push in (-step, 0.0, step))
    opening = int(network.owner[0])
    by_offset = adjoint(network, solve_pressures(network), net_flow(network, opening)).offset[0]

    def flow(of: FlowNetwork) -> float:
        found, _ = of.mass_flow_and_slope(of.driving_pressure(solve_pressures(of)))
        return float(found[of.owner == opening].sum())

    before, middle, after = flow(low), flow(network), flow(high)
    ahead, back = (after - middle) / step, (middle - before) / step
    # At a kink, where a stream just starts or a strip turns over, the derivative lies between those of the two sides.
    slack = 1e-3 * abs(by_offset) + 1e-5 + abs(ahead - back)
    assert min(ahead, back) - slack <= by_offset <= max(ahead, back) + slack
