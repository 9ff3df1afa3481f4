"""Clearing times and peaks against dense sampling of the solution by the eigenvectors of the network."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from ventplan.airing.air_paths import counterflow_m3_s
from ventplan.airing.clearing import LONGEST_S, Clearing, Release, clear, clearing_time_s
from ventplan.airing.transport import AirPaths


def random_paths(seed: int) -> AirPaths:
    """A house of up to nine rooms with flows over five decades, some in rings."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 10))
    flows = np.zeros((n + 1, n + 1))
    for _ in range(int(rng.integers(2, 2 * n + 2))):  # closed loops of air, each in balance
        loop = rng.permutation(n + 1)[: rng.integers(2, n + 2)]
        flows[loop, np.roll(loop, -1)] += 10.0 ** rng.uniform(-4.5, 0.0)
    return AirPaths(tuple(f"r{i}" for i in range(n)), 10.0 ** rng.uniform(0.8, 2.3, n), flows)


def dense(paths: AirPaths) -> tuple[np.ndarray, np.ndarray]:
    """Concentrations after a release of 1 in the first room at 40,000 times, from eigenvalues and eigenvectors."""
    values, vectors = np.linalg.eig(paths.rates_per_s)
    shares = np.linalg.solve(vectors, np.eye(len(values))[0])
    times = np.concatenate([[0.0], np.geomspace(1e-2, 3.0 * LONGEST_S, 40_000)])
    return times, np.real(np.exp(times[:, None] * values) * shares @ vectors.T)


@pytest.mark.parametrize("seed", range(60))
def test_peaks_and_last_crossings_are_those_of_the_dense_solution(seed: int) -> None:
    paths = random_paths(seed)
    times, levels = dense(paths)
    release = Release(start={"r0": 1.0}, limit=0.05)
    cleared = clear(paths, release)
    assert clearing_time_s(paths, release, "r1") == cleared.rooms["r1"].clear_s
    for i, room in enumerate(cleared.rooms.values()):
        level = levels[:, i]
        assert room.peak == pytest.approx(level.max(), rel=1e-4, abs=1e-7)
        above = np.flatnonzero(level >= 0.05)
        if above.size and times[above[-1]] > LONGEST_S:
            assert math.isinf(room.clear_s)
        else:
            expected = times[above[-1]] if above.size else 0.0
            assert room.clear_s == pytest.approx(expected, rel=1e-3, abs=0.02), room.name


def cascade(seconds: tuple[float, ...]) -> Clearing:
    """A fast room far upstream of a slow one: 1 kg/s through rooms of so many seconds each, one after another."""
    n = len(seconds)
    flows = np.zeros((n + 1, n + 1))
    flows[n, 0] = flows[n - 1, n] = 1.0
    flows[range(n - 1), range(1, n)] = 1.0
    paths = AirPaths(tuple("abcdef"[:n]), np.array(seconds), flows)
    return clear(paths, Release(start={"a": 1.0}, limit=0.05))


def test_a_short_peak_beside_a_slow_room_is_seen() -> None:
    """Two tanks of time constants a and b: the second is a / (a - b) (exp(-t / a) - exp(-t / b))."""
    a, b, slow = 20.0, 60.0, 360_000.0
    cleared = cascade((a, b, slow))
    peak_s = math.log(a / b) * a * b / (a - b)
    assert cleared.rooms["b"].peak_s == pytest.approx(peak_s, rel=1e-9)
    assert cleared.rooms["b"].peak == pytest.approx(a / (a - b) * (math.exp(-peak_s / a) - math.exp(-peak_s / b)))


def test_a_trajectory_agrees_with_an_integrator_at_all_its_times() -> None:
    paths = random_paths(3)
    cleared = clear(paths, Release(start={"r0": 1.0}, source={"r1": 0.01}, limit=0.05), watch_s=7200.0)
    supply = np.zeros(len(paths.names))
    supply[1] = 0.01 * 1.2 / paths.mass_kg[1]
    start = np.eye(len(paths.names))[0]
    found = solve_ivp(
        lambda _, w: paths.rates_per_s @ w + supply,
        (0.0, 7200.0),
        start,
        method="LSODA",
        t_eval=cleared.times_s,
        rtol=1e-10,
        atol=1e-12,
    )
    np.testing.assert_allclose(np.array(cleared.concentrations), found.y.T, atol=1e-8)


@pytest.mark.parametrize("net", [0.0, 0.2, 1.0, 2.0, 2.7, 3.5])
def test_counterflow_is_that_of_the_speed_profile_over_the_height(net: float) -> None:
    """Streams of a profile proportional to sqrt|z - neutral level|, integrated over the height of the door."""

    def streams(neutral: float) -> tuple[float, float]:
        up = quad(lambda z: math.sqrt(z - neutral), max(neutral, 0.0), 1.0)[0]
        down = quad(lambda z: math.sqrt(neutral - z), 0.0, neutral)[0] if neutral > 0.0 else 0.0
        still = quad(lambda z: math.sqrt(z - 0.5), 0.5, 1.0)[0]
        return up / still, down / still

    low, high = -5.0, 0.5  # neutral level for this net flow, by bisection
    for _ in range(100):
        middle = (low + high) / 2.0
        up, down = streams(middle)
        low, high = (middle, high) if up - down > net else (low, middle)
    weaker, slope = counterflow_m3_s(net_m3_s=net, exchange_m3_s=1.0)
    assert weaker == pytest.approx(streams(low)[1], abs=2e-4)
    finite = (counterflow_m3_s(net_m3_s=net + 1e-6, exchange_m3_s=1.0)[0] - weaker) / 1e-6
    assert slope == pytest.approx(finite, abs=1e-4)
