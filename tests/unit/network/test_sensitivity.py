"""Derivatives of a solved house agree with finite differences of houses that are solved again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from tests.unit.network.houses import one_state, random_options
from ventplan.network.links import Crack, FlowNetwork, Strip
from ventplan.network.sensitivity import Aim, adjoint, net_flow
from ventplan.network.solver import solve_pressures


def inflow(network: FlowNetwork, room: str) -> Aim:
    """Mass that enters a room from everywhere."""
    node = network.nodes.index(room)
    return Aim((network.b == node).astype(float), (network.a == node).astype(float))


Change = Callable[[Strip, float], Strip]

CHANGES: dict[str, Change] = {
    "offset": lambda strip, by: replace(strip, fan_pa=strip.fan_pa + by),
    "area": lambda strip, by: replace(strip, width_m=strip.width_m + by / strip.height_m),
    "linear_a": lambda strip, by: replace(strip, linear_a=strip.linear_a + by),
    "quadratic_a": lambda strip, by: replace(strip, quadratic_a=strip.quadratic_a + by),
    "linear_b": lambda strip, by: replace(strip, linear_b=strip.linear_b + by),
    "quadratic_b": lambda strip, by: replace(strip, quadratic_b=strip.quadratic_b + by),
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


def values(nodes: Sequence[str], strips: Sequence[Strip], cracks: Sequence[Crack], of: Sequence[Aim]) -> np.ndarray:
    """The aims after a new solve."""
    network = FlowNetwork(nodes, strips, cracks)
    pressure = solve_pressures(network)
    return np.array([adjoint(network, pressure, aim).value for aim in of])


def aims(network: FlowNetwork) -> list[Aim]:
    """Net flow through an opening, inflow of a room, and a mixture with no meaning."""
    random = np.random.default_rng(5)
    mixture = Aim(random.normal(size=network.links), random.normal(size=network.links))
    return [net_flow(network, 2), inflow(network, "room 1"), mixture]


@pytest.mark.parametrize("figure", CHANGES)
@pytest.mark.parametrize("seed", range(2))
def test_derivatives_by_the_figures_of_strips_are_those_of_finite_differences(seed: int, figure: str) -> None:
    nodes, strips, cracks = parts(seed)
    network = FlowNetwork(nodes, strips, cracks)
    pressure = solve_pressures(network)
    found = [getattr(adjoint(network, pressure, aim), figure) for aim in aims(network)]
    for k, strip in enumerate(strips):
        step = 1e-3 * strip.linear_a if figure.startswith("linear") else 1e-6
        high, low = [*strips], [*strips]
        high[k], low[k] = CHANGES[figure](strip, step), CHANGES[figure](strip, -step)
        rise = values(nodes, high, cracks, aims(network)) - values(nodes, low, cracks, aims(network))
        assert [each[k] for each in found] == pytest.approx(rise / (2.0 * step), rel=1e-4, abs=1e-6)
    if figure != "offset":
        assert not any(each[len(strips) :].any() for each in found)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize(("figure", "attribute"), [("coefficient", "coefficient"), ("offset", "fan_pa")])
def test_derivatives_by_the_figures_of_cracks_are_those_of_finite_differences(
    seed: int, figure: str, attribute: str
) -> None:
    nodes, strips, cracks = parts(seed)
    network = FlowNetwork(nodes, strips, cracks)
    pressure = solve_pressures(network)
    found = [getattr(adjoint(network, pressure, aim), figure)[len(strips) :] for aim in aims(network)]
    for c, crack in enumerate(cracks):
        step = 1e-6 if figure == "offset" else 1e-4 * crack.coefficient
        high, low = [*cracks], [*cracks]
        high[c] = replace(crack, **{attribute: getattr(crack, attribute) + step})
        low[c] = replace(crack, **{attribute: getattr(crack, attribute) - step})
        rise = values(nodes, strips, high, aims(network)) - values(nodes, strips, low, aims(network))
        assert [each[c] for each in found] == pytest.approx(rise / (2.0 * step), rel=1e-4, abs=1e-6)


def test_the_aim_is_the_flow_that_it_names() -> None:
    house = random_options(3, 4, 9)
    network = one_state(house, np.full(9, 2))
    pressure = solve_pressures(network)
    mass, _ = network.mass_flow_and_slope(network.driving_pressure(pressure))
    assert adjoint(network, pressure, net_flow(network, 2)).value == pytest.approx(mass[network.owner == 2].sum())
    room = network.nodes.index("room 1")
    net = mass[network.b == room].sum() - mass[network.a == room].sum()
    assert net == pytest.approx(0.0, abs=1e-9)
    assert adjoint(network, pressure, inflow(network, "room 1")).value > 0.0


def test_mass_let_into_a_room_leaves_through_its_openings() -> None:
    network = one_state(random_options(3, 4, 9), np.full(9, 1))
    outdoors = (network.b == 4).astype(float)
    found = adjoint(network, solve_pressures(network), Aim(outdoors, -outdoors))
    assert found.added_mass == pytest.approx(np.ones(4))
