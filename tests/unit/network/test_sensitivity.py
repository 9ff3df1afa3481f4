"""Derivatives of a solved house agree with finite differences of houses that are solved again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from tests.unit.network.houses import one_state, random_options
from ventplan.network.links import Crack, FlowNetwork, Strip
from ventplan.network.solver import FlowSum, adjoint, net_flow, solve_pressures


def inflow(network: FlowNetwork, room: str) -> FlowSum:
    """Mass that enters a room from everywhere."""
    node = network.nodes.index(room)
    return FlowSum((network.b == node).astype(float), (network.a == node).astype(float))


Change = Callable[[Strip, float], Strip]

CHANGES: dict[str, Change] = {
    "offset": lambda strip, by: replace(strip, fan_pa=strip.fan_pa + by),
    "area": lambda strip, by: replace(strip, width_m=strip.width_m + by / strip.height_m),
    "linear_a": lambda strip, by: replace(strip, linear_a=strip.linear_a + by),
    "linear_b": lambda strip, by: replace(strip, linear_b=strip.linear_b + by),
}


def parts(seed: int) -> tuple[tuple[str, ...], list[Strip], list[Crack]]:
    """Rooms, strips and cracks of a random house of four rooms."""
    nodes, options, always = random_options(seed, 4, 9)
    row = np.random.default_rng([seed, 4]).integers(0, 3, 9)
    picked = [choices[i] for choices, i in zip(options, row, strict=True)]
    return (
        nodes,
        [s for choice in picked for s in choice.strips],
        [c for choice in picked for c in choice.cracks] + always,
    )


def values(nodes: Sequence[str], strips: Sequence[Strip], cracks: Sequence[Crack], of: Sequence[FlowSum]) -> np.ndarray:
    """The sums after a new solve."""
    network = FlowNetwork(nodes, strips, cracks)
    pressure = solve_pressures(network)
    return np.array([adjoint(network, pressure, each).value for each in of])


def sums(network: FlowNetwork) -> list[FlowSum]:
    """Net flow through an opening, inflow of a room, and a mixture with no meaning."""
    random = np.random.default_rng(5)
    mixture = FlowSum(random.normal(size=network.links), random.normal(size=network.links))
    return [net_flow(network, 2), inflow(network, "room 1"), mixture]


@pytest.mark.parametrize("figure", CHANGES)
@pytest.mark.parametrize("seed", range(2))
def test_derivatives_by_the_figures_of_strips_are_those_of_finite_differences(seed: int, figure: str) -> None:
    nodes, strips, cracks = parts(seed)
    network = FlowNetwork(nodes, strips, cracks)
    pressure = solve_pressures(network)
    found = [getattr(adjoint(network, pressure, each), figure) for each in sums(network)]
    for k, strip in enumerate(strips):
        step = 1e-3 * strip.linear_a if figure.startswith("linear") else 1e-6
        high, low = [*strips], [*strips]
        high[k], low[k] = CHANGES[figure](strip, step), CHANGES[figure](strip, -step)
        rise = values(nodes, high, cracks, sums(network)) - values(nodes, low, cracks, sums(network))
        assert [each[k] for each in found] == pytest.approx(rise / (2.0 * step), rel=1e-4, abs=1e-6)


@pytest.mark.parametrize("seed", range(2))
def test_derivatives_by_the_offsets_of_cracks_are_those_of_finite_differences(seed: int) -> None:
    nodes, strips, cracks = parts(seed)
    network = FlowNetwork(nodes, strips, cracks)
    pressure = solve_pressures(network)
    found = [adjoint(network, pressure, each).offset[len(strips) :] for each in sums(network)]
    for c, crack in enumerate(cracks):
        step = 1e-6
        high, low = [*cracks], [*cracks]
        high[c], low[c] = replace(crack, fan_pa=crack.fan_pa + step), replace(crack, fan_pa=crack.fan_pa - step)
        rise = values(nodes, strips, high, sums(network)) - values(nodes, strips, low, sums(network))
        assert [each[c] for each in found] == pytest.approx(rise / (2.0 * step), rel=1e-4, abs=1e-6)


def test_the_value_is_the_sum_of_the_flows_that_it_names() -> None:
    house = random_options(3, 4, 9)
    network = one_state(house, np.full(9, 2))
    pressure = solve_pressures(network)
    mass, _ = network.mass_flow_and_slope(network.driving_pressure(pressure))
    assert adjoint(network, pressure, net_flow(network, 2)).value == pytest.approx(mass[network.owner == 2].sum())
    room = network.nodes.index("room 1")
    net = mass[network.b == room].sum() - mass[network.a == room].sum()
    assert net == pytest.approx(0.0, abs=1e-9)
    assert adjoint(network, pressure, inflow(network, "room 1")).value > 0.0
