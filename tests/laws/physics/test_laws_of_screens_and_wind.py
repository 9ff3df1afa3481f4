"""What must hold for every screen, wall and roof."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplan.physics import buoyancy, screen, wind

shares = st.floats(0.2, 0.85)
wires = st.floats(0.1e-3, 0.5e-3)
angles = st.floats(-720.0, 720.0)
side_ratios = st.floats(0.2, 5.0)


@given(share=shares, wire=wires)
def test_two_coefficients_follow_the_correlation_within_the_stated_error(share: float, wire: float) -> None:
    density, viscosity = 1.2, 1.81e-5
    a, b = screen.screen_coefficients(
        open_area_ratio=share, wire_m=wire, density=density, dynamic_viscosity_pa_s=viscosity
    )
    v = np.geomspace(0.1, 3.0, 60)
    reynolds = density * v * wire / viscosity
    exact = screen.screen_loss(open_area_ratio=share, wire_reynolds=reynolds) * density * v * v / 2.0
    assert a > 0.0
    assert b > 0.0
    assert np.max(np.abs((a * v + b * v * v) / exact - 1.0)) < 0.045


@given(share=shares, more=st.floats(0.01, 0.1), wire=wires)
def test_a_more_open_screen_costs_less(share: float, more: float, wire: float) -> None:
    a, b = screen.screen_coefficients(
        open_area_ratio=np.array([share, share + more]), wire_m=wire, density=1.2, dynamic_viscosity_pa_s=1.81e-5
    )
    assert a[1] < a[0]
    assert b[1] < b[0]


@given(angle=angles, ratio=side_ratios)
def test_wall_coefficient_is_the_same_for_wind_from_left_and_right(angle: float, ratio: float) -> None:
    left, right = wind.wall_pressure_coefficient(wind_angle_deg=np.array([angle, -angle]), side_ratio=ratio)
    assert left == pytest.approx(right, abs=1e-9)
    assert -1.5 < left < 0.61


@given(angle=angles, pitch=st.floats(0.0, 90.0))
def test_roof_coefficient_is_the_same_for_wind_from_left_and_right(angle: float, pitch: float) -> None:
    left, right = wind.roof_pressure_coefficient(wind_angle_deg=np.array([angle, -angle]), pitch_deg=pitch)
    assert left == pytest.approx(right, abs=1e-9)
    assert -0.8 <= left <= 0.3


@given(speed=st.floats(0.1, 20.0), low=st.floats(1.0, 30.0), more=st.floats(0.1, 30.0))
@pytest.mark.parametrize("terrain", list(wind.TERRAINS))
def test_wind_grows_with_height(terrain: str, speed: float, low: float, more: float) -> None:
    below, above = wind.local_wind_speed(
        station_speed_m_s=speed,
        station_height_m=10.0,
        station_terrain="open",
        height_m=np.array([low, low + more]),
        terrain=terrain,
    )
    assert above > below


@given(warmer=st.floats(0.0, 20.0), windier=st.floats(0.0, 9.0))
def test_single_window_exchanges_most_in_wind_and_warmth_and_never_nothing(warmer: float, windier: float) -> None:
    def taken_in(wind_speed: float, difference: float) -> float:
        return float(
            buoyancy.de_gids_phaff_exchange(
                area_m2=1.0, wind_speed_m_s=wind_speed, height_m=1.0, temperature_difference_k=difference
            )
        )

    assert taken_in(0.0, 0.0) == pytest.approx(0.05)
    assert taken_in(windier, warmer) >= max(taken_in(windier, 0.0), taken_in(0.0, warmer))
