"""Room temperatures against lumped-mass formulas and the heat that air carries."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ventplan.airing.thermal import Fabric, HeatStep, coupling_w_m2_k
from ventplan.airing.transport import AirPaths


def room(*, flow_kg_s: float, fabric: Fabric, duration_s: float) -> HeatStep:
    flows = np.array([[0.0, flow_kg_s], [flow_kg_s, 0.0]])
    paths = AirPaths(names=("room",), mass_kg=np.array([60.0]), flow_kg_s=flows)
    return HeatStep.of(paths, fabric, paths.mass_kg, duration_s)


def fabric(*, stored_j_k: float, coupling_w_k: float, envelope_w_k: float) -> Fabric:
    return Fabric(*(np.array([value]) for value in (stored_j_k, coupling_w_k, envelope_w_k)))


def test_air_carries_1206_watts_for_each_kelvin_and_cubic_metre_a_second() -> None:
    """P = rho cp Q dT = 1206 Q dT (ASHRAE Fundamentals 2021, ch. 18: 1.2 kg/m3 and 1005 J/(kg K))."""
    step = room(flow_kg_s=1.2, fabric=fabric(stored_j_k=1e12, coupling_w_k=1e7, envelope_w_k=0.0), duration_s=1.0)
    assert step.vented_w_k[0] == pytest.approx(1206.0)
    # A room held at 26 °C by its huge mass, air at 20 °C: six kelvins leave with the air.
    held = step.take(np.array([26.0, 26.0]), outdoor_c=20.0, heat_w=np.zeros(2))
    assert held.vented_j == pytest.approx(6.0 * 1206.0, rel=2e-3)


@pytest.mark.parametrize(("constants", "share"), [(1.0, 0.632), (2.0, 0.865), (3.0, 0.950)])
def test_step_response_of_a_lumped_mass(constants: float, share: float) -> None:
    """First-order step response: 63.2, 86.5, 95.0 % after 1, 2, 3 time constants C / H (textbook)."""
    lumped = fabric(stored_j_k=8e6, coupling_w_k=1e6, envelope_w_k=0.0)
    total_j_k, loss_w_k = 8e6 + 60.0 * 1005.0, 0.3 * 1005.0
    step = room(flow_kg_s=0.3, fabric=lumped, duration_s=constants * total_j_k / loss_w_k)
    after = step.take(np.array([30.0, 30.0]), outdoor_c=20.0, heat_w=np.zeros(2)).temperatures_c
    assert (30.0 - after[0]) / 10.0 == pytest.approx(share, abs=0.001)


def test_two_nodes_follow_the_roots_of_their_quadratic() -> None:
    """Air and mass: sum of two exponentials with the roots of (s + a)(s + b) - c d = 0, from the eigenvector
    pair."""
    c_air, c_mass, g, h = 60.0 * 1005.0, 4e6, 250.0, 100.5
    step = room(flow_kg_s=0.1, fabric=fabric(stored_j_k=c_mass, coupling_w_k=g, envelope_w_k=0.0), duration_s=1800.0)
    a, b, c, d = (g + h) / c_air, g / c_mass, g / c_air, g / c_mass
    root = math.sqrt((a - b) ** 2 + 4.0 * c * d)
    slow, fast = (-(a + b) + root) / 2.0, (-(a + b) - root) / 2.0
    # Air starts at 1 above outdoors with slope -(a - c).
    first = (-(a - c) - fast) / (slow - fast)
    expected = first * math.exp(slow * 1800.0) + (1.0 - first) * math.exp(fast * 1800.0)
    after = step.take(np.array([21.0, 21.0]), outdoor_c=20.0, heat_w=np.zeros(2)).temperatures_c
    assert after[0] - 20.0 == pytest.approx(expected, rel=1e-9)


def test_steady_heat_settles_at_power_over_conductance() -> None:
    envelope = fabric(stored_j_k=1e6, coupling_w_k=300.0, envelope_w_k=50.0)
    step = room(flow_kg_s=0.1, fabric=envelope, duration_s=1e7)
    after = step.take(np.array([20.0, 20.0]), outdoor_c=20.0, heat_w=np.array([500.0, 0.0])).temperatures_c
    conductance = 100.5 + 1.0 / (1.0 / 300.0 + 1.0 / 50.0)
    assert after[0] - 20.0 == pytest.approx(500.0 / conductance, rel=1e-9)


@pytest.mark.parametrize("duration_s", [1.0, 900.0, 1e6])
def test_heat_is_conserved_for_any_step(duration_s: float) -> None:
    step = room(
        flow_kg_s=1.5,
        fabric=fabric(stored_j_k=5e6, coupling_w_k=300.0, envelope_w_k=80.0),
        duration_s=duration_s,
    )
    result = step.take(np.array([29.0, 31.0]), outdoor_c=17.0, heat_w=np.array([200.0, 100.0]))
    moved = abs(result.vented_j) + abs(result.through_fabric_j) + result.released_j
    assert abs(result.unaccounted_j) < 1e-9 * moved
    assert 17.0 <= result.temperatures_c.min() <= result.temperatures_c.max() <= 31.0


def test_coupling_of_a_medium_house() -> None:
    """ISO 13790:2008: 4.5 x 3.45 and 2.5 x 9.1 W/K for each square metre of floor, in series (from
    memory)."""
    assert coupling_w_m2_k(165_000.0) == pytest.approx(15.525 * 22.75 / (15.525 + 22.75))
