"""Stack effect and two-way flow against handbook formulas, most of all through the integral over height."""

from __future__ import annotations

import pytest
from published import Check, published

from ventplan.physics import buoyancy, orifice

DENSITY, MEAN_K = 1.2, 295.0


@pytest.mark.parametrize("check", published("stack"))
def test_stack_formulas_follow_the_handbook(check: Check) -> None:
    check.holds_for(buoyancy)


@pytest.mark.parametrize(("discharge", "expected"), [(0.65, 0.174), (0.4135, 0.111)])
def test_integral_over_a_doorway_gives_the_exchange_of_brown_and_solvason(discharge: float, expected: float) -> None:
    # 0.9 x 2.0 m, 3 K at 295 K; Brown & Solvason 1962, second coefficient after Kiel & Wilson 1986. Derived.
    a, b = orifice.orifice_coefficients(discharge=discharge, density=DENSITY)
    half = buoyancy.GRAVITY_M_S2 * DENSITY * 3.0 / MEAN_K * 2.0 / 2.0
    velocity, _ = buoyancy.one_way_flow(dp_mid_pa=0.0, half_pa=half, linear=a, quadratic=b)
    flow = 0.9 * 2.0 * velocity
    formula = buoyancy.doorway_exchange(
        discharge=discharge,
        width_m=0.9,
        height_m=2.0,
        temperature_difference_k=3.0,
        mean_temperature_k=MEAN_K,
    )
    assert flow == pytest.approx(expected, abs=5e-4)
    # The formula has no laminar term: it lowers the integral by 0.0005 m/s / (2 x 0.2 m/s) or so.
    assert flow == pytest.approx(formula, rel=3e-3)


def test_column_of_three_metres_and_ten_kelvin_presses_with_about_one_pascal() -> None:
    # The rule of 0.04 Pa for each metre and kelvin: common practice, no source.
    pressure = 3.0 * buoyancy.stack_gradient(density_a=1.247, density_b=1.204)
    assert pressure == pytest.approx(0.04 * 3.0 * 10.0, rel=0.1)
