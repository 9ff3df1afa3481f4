"""The program that made the simulated cases, on grids small enough for processor cores."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from simulate.__main__ import simulate
from simulate.lattice import FAN, FIGURES, WALL, Cores, simulation
from simulate.unroll import unrolled

STILL = dict.fromkeys(FIGURES, 0.0) | {"tau": 0.8, "fan_radius": 1.0, "eddy": 2.0, "eddy_time": 4.0, "sponge": 1.0}
N = 3
TABLE = (0, 1, -1)


def weighted(values: Any, shift: float) -> float:
    """Sum of the values by `TABLE`, each shifted first."""
    total = 0.0
    moved = np.empty(N)
    for i in range(N):
        moved[i] = values[2 - i] + shift * TABLE[i]
    for i in range(N):
        total += TABLE[i] * moved[i]
    return total


def test_a_loop_that_is_written_out_computes_the_same() -> None:
    written_out = unrolled(weighted, {"N": N}, {"TABLE": TABLE})
    assert "moved_1" in written_out.__code__.co_varnames
    assert "i" not in written_out.__code__.co_varnames
    assert written_out((1.0, 2.0, 5.0), 0.5) == weighted((1.0, 2.0, 5.0), 0.5) == 2.0


def run(kinds: np.ndarray, steps: int, **figures: float) -> np.ndarray:
    """Mean fields of a grid at the last step, on processor cores."""
    made = simulation(kinds, STILL | figures, gpu=False)
    assert isinstance(made, Cores)
    for step in range(steps):
        made.advance(step)
    made.sample()
    return made.means()


def test_in_a_closed_box_pressure_balances_a_body_force() -> None:
    # Hydrostatics: dp/dz = rho g; with pressure rho / 3 the excess density grows by 3 g a cell.
    force = 1e-5
    kinds = np.full((22, 8, 8), WALL, np.uint8)
    kinds[1:-1, 1:-1, 1:-1] = FAN
    means = run(kinds, 4000, push=force, aim_z=1.0)
    column = means[3][1:-1, 4, 4]
    assert np.diff(column) == pytest.approx(3 * force * (1 + column[:-1]), rel=0.01)
    assert np.abs(means[2][1:-1, 1:-1, 1:-1]).max() < 1e-5


def test_a_uniform_wind_stays_uniform() -> None:
    # The ground holds the air back in its own layer only; above it nothing disturbs the stream.
    means = run(np.zeros((16, 10, 20), np.uint8), 60, tau=0.5003, wind_x=0.04, smagorinsky=0.11)
    assert means[0][12] == pytest.approx(0.04, rel=0.01)
    assert np.abs(means[1:3][:, 12]).max() < 1e-3


def test_what_enters_a_small_room_leaves_it() -> None:
    hole = {"centre_m": 0.6, "sill_m": 0.3, "width_m": 0.6, "height_m": 0.6, "screened": False}
    fan = {"towards": "east", "setback_m": 0.4, "diameter_m": 0.4, "thrust_n": 1.0, "across_m": 0.6, "height_m": 0.6}
    case = {
        "name": "small room",
        "room_m": [1.8, 1.2, 1.2],
        "inner_walls_m": [],
        "openings": [dict(name="target", wall="east", **hole), dict(name="return", wall="west", **hole)],
        "fans": [fan | {"turn_deg": 0.0, "tilt_deg": 0.0}],
        "swirl": 0.0,
        "frame_m": 0.0,
        "jet": "broad",
    }
    result = simulate(case, cell_m=0.1, seconds=4.0, warm_up_s=2.0, gpu=False)
    out, back = (opening["net_m3_s"] for opening in result["openings"])
    blades = result["fans"][0]["blades_m3_s"]
    assert out == pytest.approx(back, rel=0.02)
    # A disc in the open moves sqrt(A F / rho) (uniform jet); the room and a coarse grid change it by some tenths.
    assert blades == pytest.approx((np.pi * 0.2**2 * 1.0 / 1.2) ** 0.5, rel=0.35)
    assert 0.5 * blades < out < 2.0 * blades
    assert result["room_pressure_pa"][0] < 0.0
