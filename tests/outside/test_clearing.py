"""Clearing times against the decay and growth formulas of well-mixed rooms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ventplan.airing.clearing import Release, clear
from ventplan.airing.transport import AirPaths

GONE = {1: 0.632, 2: 0.865, 3: 0.950}
"""Share removed after so many air changes (ASHRAE Fundamentals 2021, ch. 16, eqs. 16-21)."""


def one_room(*, mass_kg: float, flow_kg_s: float) -> AirPaths:
    flows = np.array([[0.0, flow_kg_s], [flow_kg_s, 0.0]])
    return AirPaths(names=("room",), mass_kg=np.array([mass_kg]), flow_kg_s=flows)


@pytest.mark.parametrize(("changes", "gone"), GONE.items())
def test_share_gone_after_so_many_air_changes(changes: int, gone: float) -> None:
    paths = one_room(mass_kg=36.0, flow_kg_s=0.1)
    cleared = clear(paths, Release(start={"room": 1.0}, limit=math.exp(-changes)))
    assert cleared.clear_s == pytest.approx(changes * 360.0, rel=1e-9)
    assert cleared.air_changes == pytest.approx(changes, rel=1e-9)
    assert 1.0 - cleared.concentrations[-1][0] == pytest.approx(gone, abs=0.0005)


def test_growth_from_a_source_approaches_source_over_flow() -> None:
    """C = C_out + (S / Q) (1 - exp(-t / tau)) (ASHRAE Fundamentals 2021, ch. 16)."""
    paths = one_room(mass_kg=60.0, flow_kg_s=0.012)  # 50 m3 and 10 L/s at 1.2 kg/m3
    people = Release(source={"room": 2 * 5.2e-6 * 1e6}, outdoors=420.0, limit=1000.0, unit="ppm")
    cleared = clear(paths, people, watch_s=5000.0)
    assert cleared.rooms["room"].end == pytest.approx(420.0 + 10.4 / 0.01)
    assert cleared.concentrations[-1][0] == pytest.approx(420.0 + 1040.0 * (1.0 - math.exp(-1.0)))
    assert cleared.never["room"] == "settles-above"


def test_two_rooms_in_a_row_follow_the_two_tank_formula() -> None:
    """Two equal tanks, released in the first: C2 = (t / tau) exp(-t / tau), with its peak 1/e at tau."""
    flows = np.array([[0.0, 0.1, 0.0], [0.0, 0.0, 0.1], [0.1, 0.0, 0.0]])
    paths = AirPaths(names=("kitchen", "bedroom"), mass_kg=np.array([36.0, 36.0]), flow_kg_s=flows)
    cleared = clear(paths, Release(start={"kitchen": 1.0}, limit=0.05), watch_s=7200.0)
    x = np.array(cleared.times_s) / 360.0
    levels = np.array(cleared.concentrations)
    np.testing.assert_allclose(levels[:, 0], np.exp(-x), atol=1e-12)
    np.testing.assert_allclose(levels[:, 1], x * np.exp(-x), atol=1e-12)
    bedroom = cleared.rooms["bedroom"]
    assert bedroom.peak == pytest.approx(math.exp(-1.0), rel=1e-3)
    assert bedroom.exposure == pytest.approx(360.0, rel=1e-6)  # M / m, all of it passes through
    assert bedroom.visited == pytest.approx(1.0)
    t = bedroom.clear_s / 360.0
    assert t > 1.0  # the last crossing, not the first
    assert t * math.exp(-t) == pytest.approx(0.05, rel=1e-9)


def test_two_rooms_that_exchange_follow_the_eigenvalues_of_the_pair() -> None:
    """Outdoor flow q and exchange e each: C1 + C2 decays by q / M, C1 - C2 by (q + 2 e) / M."""
    q, e, mass = 0.02, 0.05, 40.0
    flows = np.array([[0.0, e, q], [e, 0.0, q], [q, q, 0.0]])
    paths = AirPaths(names=("one", "two"), mass_kg=np.array([mass, mass]), flow_kg_s=flows)
    cleared = clear(paths, Release(start={"one": 1.0}, limit=0.1), watch_s=3600.0)
    t, levels = np.array(cleared.times_s), np.array(cleared.concentrations)
    together, apart = np.exp(-q / mass * t), np.exp(-(q + 2.0 * e) / mass * t)
    np.testing.assert_allclose(levels[:, 0], (together + apart) / 2.0, atol=1e-12)
    np.testing.assert_allclose(levels[:, 1], (together - apart) / 2.0, atol=1e-12)


def test_the_step_agrees_with_scipys_matrix_exponential() -> None:
    from scipy.linalg import expm

    from ventplan.airing.transport import propagator

    rng = np.random.default_rng(1)
    rates = rng.uniform(0.0, 1.0, (6, 6))
    rates -= np.diag(rates.sum(axis=1) + rng.uniform(0.0, 2.0, 6))
    for duration in (0.01, 1.0, 30.0):
        np.testing.assert_allclose(propagator(rates, duration), expm(rates * duration), rtol=1e-8, atol=1e-13)
