"""Inflow jets at openings, and sound through openings, against published values."""

from __future__ import annotations

import math

import formulas
import numpy as np
import pytest
from formulas import stream_speed
from published import Check, published

from ventplan.physics import jet as inflow_jet
from ventplan.physics.fan import level_through_opening

AREA = {"start_speed_m_s": 2.0, "width_m": 0.3, "height_m": 0.3}


@pytest.mark.parametrize("check", published("inflow_jets"))
def test_inflow_jets_follow_the_handbook(check: Check) -> None:
    check.holds_for(inflow_jet if hasattr(inflow_jet, check.function) else formulas)


def test_the_profile_of_an_inflow_jet_is_that_of_the_handbook() -> None:
    """(r / r_half)^2 = 3.3 lg(Vx / V) (ASHRAE Handbook Fundamentals 2021, ch. 20)."""
    middle = float(stream_speed(**AREA, distance_m=9.0))
    asides = np.linspace(0.0, 4.0, 4001)
    speeds = stream_speed(**AREA, distance_m=9.0, aside_m=asides)
    half = float(np.interp(-0.5 * middle, -np.asarray(speeds), asides))
    for ratio in (0.3, 0.7, 1.0, 1.5, 2.0):
        speed = float(stream_speed(**AREA, distance_m=9.0, aside_m=ratio * half))
        assert 3.3 * math.log10(middle / speed) == pytest.approx(ratio**2, rel=0.01, abs=1e-9)


def test_an_inflow_jet_entrains_what_the_handbook_says() -> None:
    """Qx / Q0 = 2 X / (K sqrt(A0)) (ASHRAE Handbook Fundamentals 2021, ch. 20)."""
    across = np.linspace(-8.0, 8.0, 801)
    step = float(across[1] - across[0])
    grid = stream_speed(**AREA, distance_m=9.0, aside_m=across[:, None], above_m=across[None, :])
    grown = float(np.sum(grid)) * step**2 / (2.0 * 0.09)
    assert grown == pytest.approx(2.0 * 9.0 / (inflow_jet.OUTLET_CONSTANT * 0.3), rel=0.01)


def test_two_inflow_jets_side_by_side_become_one_of_twice_the_area() -> None:
    """Parallel jets act as one of twice the area once they have met (ASHRAE Handbook Fundamentals 2021, ch. 20)."""
    far = {"start_speed_m_s": 2.0, "height_m": 0.3, "distance_m": 12.0}
    two = math.hypot(
        float(stream_speed(**far, width_m=0.3, aside_m=0.2)),
        float(stream_speed(**far, width_m=0.3, aside_m=-0.2)),
    )
    assert two == pytest.approx(float(stream_speed(**far, width_m=0.6)), rel=0.01)


def test_an_outlet_draws_air_like_a_flanged_hood() -> None:
    """Q = 0.75 V (10 X2 + A) (DallaValle 1952, from memory), from one side of the opening outwards, within 20 %."""
    for distance in (0.7, 1.0, 2.0, 4.0):
        hood = 0.5 / (0.75 * (10.0 * distance**2 + 0.5))
        assert inflow_jet.approach_speed(flow_m3_s=0.5, area_m2=0.5, distance_m=distance) == pytest.approx(
            hood, rel=0.2
        )


def test_an_open_door_keeps_out_about_ten_decibels() -> None:
    """About 10 dB between rooms joined by an open door: common practice, no source."""
    kept = 55.0 - level_through_opening(level_db=55.0, free_area_m2=1.6, volume_m3=35.0)
    assert kept == pytest.approx(10.0, abs=3.0)
