"""Openings against handbook values: orifice, series and parallel, one way and two way."""

from __future__ import annotations

import formulas
import numpy as np
import pytest
from published import Check, published


@pytest.mark.parametrize("check", published("openings"))
def test_openings_follow_the_handbook(check: Check) -> None:
    check.holds_for(formulas)


@pytest.mark.parametrize("discharge", [0.40, 0.60, 0.65, 0.80])
def test_laminar_term_costs_less_than_a_thousandth_above_a_quarter_pascal(discharge: float) -> None:
    # Against the plain orifice equation, ASHRAE Handbook Fundamentals 2021, ch. 16.
    pressure = np.geomspace(0.25, 100.0, 50)
    plain = discharge * np.sqrt(2.0 * pressure / 1.2)
    ours = formulas.orifice_flow(dp_pa=pressure, area_m2=1.0, discharge=discharge, density=1.2)
    assert np.all(np.abs(ours / plain - 1.0) < 1e-3)
