"""Stack effect and two-way flow against handbook formulas, most of all through the integral over height."""

from __future__ import annotations

import numpy as np
import pytest
from published import Check, published

from ventplan.physics import buoyancy, orifice, stack

DENSITY, MEAN_K = 1.2, 295.0


@pytest.mark.parametrize("check", published("stack"))
def test_stack_formulas_follow_the_handbook(check: Check) -> None:
    check.holds_for(stack)


@pytest.mark.parametrize(("discharge", "expected"), [(0.65, 0.174), (0.4135, 0.111)])
def test_integral_over_a_doorway_gives_the_exchange_of_brown_and_solvason(discharge: float, expected: float) -> None:
    # 0.9 x 2.0 m, 3 K at 295 K; Brown & Solvason 1962, second coefficient after Kiel & Wilson 1986. Derived.
    a, b = orifice.orifice_coefficients(discharge=discharge, density=DENSITY)
    flows = buoyancy.two_way_flow(
        dp_mid_pa=0.0,
        stack_gradient_pa_m=buoyancy.GRAVITY_M_S2 * DENSITY * 3.0 / MEAN_K,
        width_m=0.9,
        height_m=2.0,
        linear_forward=a,
        quadratic_forward=b,
        linear_backward=a,
        quadratic_backward=b,
    )
    formula = stack.doorway_exchange(
        discharge=discharge,
        width_m=0.9,
        height_m=2.0,
        temperature_difference_k=3.0,
        mean_temperature_k=MEAN_K,
    )
    assert flows == pytest.approx((expected, expected), abs=5e-4)
    # The formula has no laminar term: it lowers the integral by 0.0005 m/s / (2 x 0.2 m/s) or so.
    assert flows == pytest.approx((formula, formula), rel=3e-3)


def test_low_and_high_openings_together_pass_the_stack_flow_of_bs_5925() -> None:
    # Q = Cd Ab sqrt(2 dT g H / Tm), 1/Ab^2 = 1/A_low^2 + 1/A_high^2 (BS 5925:1991, from memory), against
    # the neutral level and the orifice law. The formula has one density, which is worth dT / Tm.
    low, high, between, indoor_k, outdoor_k, discharge = 0.8, 0.5, 3.0, 298.0, 288.0, 0.61
    mean_k = (indoor_k + outdoor_k) / 2.0
    indoors, outdoors = DENSITY * MEAN_K / indoor_k, DENSITY * MEAN_K / outdoor_k
    level = stack.neutral_height(
        low_area_m2=low,
        high_area_m2=high,
        height_between_m=between,
        low_density=outdoors,
        high_density=indoors,
    )
    gradient = buoyancy.stack_gradient(density_a=outdoors, density_b=indoors)
    inflow = orifice.flow(dp_pa=gradient * level, area_m2=low, discharge=discharge, density=outdoors)
    outflow = orifice.flow(dp_pa=gradient * (between - level), area_m2=high, discharge=discharge, density=indoors)
    assert inflow * outdoors == pytest.approx(outflow * indoors, rel=1e-3)
    effective = orifice.series_area(areas_m2=np.array([low, high]))
    formula = discharge * effective * np.sqrt(2.0 * (indoor_k - outdoor_k) * 9.80665 * between / mean_k)
    assert (inflow + outflow) / 2.0 == pytest.approx(formula, rel=(indoor_k - outdoor_k) / mean_k)


def test_column_of_three_metres_and_ten_kelvin_presses_with_about_one_pascal() -> None:
    # The rule of 0.04 Pa for each metre and kelvin: common practice, no source.
    pressure = stack.stack_pressure(density_outdoors=1.247, density_indoors=1.204, height_m=3.0)
    assert pressure == pytest.approx(0.04 * 3.0 * 10.0, rel=0.1)
