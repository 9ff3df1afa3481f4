"""Small facts about each function: kinds of numbers, limits, refusals, defaults."""

from __future__ import annotations

import numpy as np
import pytest

from ventplan.physics import air, buoyancy, orifice, screen, wind

LOSS = {"linear": 1e-3, "quadratic": 1.5}


def test_a_float_gives_a_float_and_arrays_broadcast() -> None:
    assert isinstance(orifice.face_velocity(dp_pa=1.0, linear=0.1, quadratic=1.0), float)
    assert isinstance(air.density(temperature_c=20.0), float)
    assert isinstance(wind.wall_pressure_coefficient(wind_angle_deg=30.0, side_ratio=1.0), float)
    pressures = np.linspace(-1.0, 1.0, 5)[:, np.newaxis]
    assert np.shape(orifice.face_velocity(dp_pa=pressures, linear=0.1, quadratic=np.ones(3))) == (5, 3)
    both = buoyancy.one_way_flow(dp_mid_pa=pressures, half_pa=np.ones(3), **LOSS)
    assert [np.shape(each) for each in both] == [(5, 3), (5, 3)]
    a, b = screen.screen_coefficients(
        open_area_ratio=np.array([0.4, 0.6]), wire_m=0.3e-3, density=1.2, dynamic_viscosity_pa_s=1.8e-5
    )
    assert a.shape == b.shape == (2,)


def test_arguments_are_not_written_into() -> None:
    pressures = np.array([-1.0, 0.0, 1.0])
    buoyancy.one_way_flow(dp_mid_pa=pressures, half_pa=0.3, **LOSS)
    assert pressures.tolist() == [-1.0, 0.0, 1.0]


@pytest.mark.filterwarnings("error")
def test_no_pressure_difference_gives_no_flow_and_a_finite_slope() -> None:
    velocity, slope = buoyancy.one_way_flow(dp_mid_pa=0.0, half_pa=0.0, **LOSS)
    assert velocity == 0.0
    assert slope == pytest.approx(0.5 / 1e-3)
    assert orifice.face_velocity(dp_pa=0.0, linear=0.0, quadratic=1.0) == 0.0
    flow, slope = orifice.crack_flow(dp_pa=0.0, coefficient=0.01, exponent=0.65)
    assert flow == 0.0
    assert np.isfinite(slope)


def test_doorway_with_a_strong_push_has_air_one_way_only() -> None:
    (forward, _), (backward, _) = (buoyancy.one_way_flow(dp_mid_pa=dp, half_pa=0.4, **LOSS) for dp in (5.0, -5.0))
    assert forward > 0.0
    assert backward == pytest.approx(0.0, abs=1e-200)


def test_crack_follows_the_power_law_from_a_quarter_pascal_up() -> None:
    pressure = np.geomspace(0.25, 50.0, 30)
    flow, _ = orifice.crack_flow(dp_pa=pressure, coefficient=0.02, exponent=0.65)
    assert flow == pytest.approx(0.02 * pressure**0.65, rel=3e-4)


def test_screen_refuses_invalid_values() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        screen.screen_loss(open_area_ratio=1.0, wire_reynolds=10.0)
    with pytest.raises(ValueError, match="must be positive"):
        screen.screen_loss(open_area_ratio=0.5, wire_reynolds=0.0)
    with pytest.raises(ValueError, match="wires touch"):
        screen.plain_weave_open_area_ratio(warp_per_m=4000.0, weft_per_m=1000.0, wire_m=0.28e-3)


def test_angle_between_wind_and_wall_goes_the_short_way_round() -> None:
    assert wind.off_normal_angle(wind_from_deg=350.0, facing_deg=20.0) == pytest.approx(30.0)
    assert wind.off_normal_angle(wind_from_deg=20.0, facing_deg=350.0) == pytest.approx(30.0)
    assert wind.off_normal_angle(wind_from_deg=90.0, facing_deg=270.0) == pytest.approx(180.0)


def test_wind_pushes_on_the_windward_wall_and_sucks_at_the_lee_and_the_chimney() -> None:
    faces = np.array([0.0, 180.0])
    front, back = wind.wind_pressure(
        pressure_coefficient=wind.wall_pressure_coefficient(wind_angle_deg=faces, side_ratio=1.0),
        density=1.2,
        wind_speed_m_s=3.0,
    )
    assert front == pytest.approx(0.603 * 5.4, rel=1e-3)
    assert back < 0.0
    assert wind.CHIMNEY_TOP < 0.0


def test_roof_between_two_pitches_lies_between_their_values() -> None:
    flat, between, pitched = wind.roof_pressure_coefficient(wind_angle_deg=0.0, pitch_deg=np.array([5.0, 12.5, 20.0]))
    assert between == pytest.approx((flat + pitched) / 2.0)
    assert wind.roof_pressure_coefficient(wind_angle_deg=0.0, pitch_deg=45.0) == pytest.approx(0.3)


def test_warm_air_high_air_and_humid_air_are_lighter() -> None:
    plain = air.density(temperature_c=20.0)
    assert air.density(temperature_c=30.0) < plain
    assert air.density(temperature_c=20.0, altitude_m=1500.0) < plain
    assert air.density(temperature_c=20.0, relative_humidity=0.8) < plain
