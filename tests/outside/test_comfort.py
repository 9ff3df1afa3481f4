"""Draught and relief by moving air against the standards' own figures and pythermalcomfort."""

from __future__ import annotations

import pytest

from ventplan.physics.comfort import draught_rate, relief_k


def test_draught_example_of_the_handbook() -> None:
    """22 °C, 0.18 m/s, 40 %: 19.7 % (ASHRAE Fundamentals 2021, ch. 9, eq. 59; ISO 7730:2005, eq. 6)."""
    rate = draught_rate(temperature_c=22.0, speed_m_s=0.18, turbulence_intensity=0.40)
    assert rate == pytest.approx(0.197, abs=0.0005)


def test_draught_rate_stays_between_0_and_1() -> None:
    assert draught_rate(temperature_c=15.0, speed_m_s=3.0, turbulence_intensity=0.4) == 1.0
    assert draught_rate(temperature_c=20.0, speed_m_s=0.04, turbulence_intensity=0.4) == 0.0
    assert draught_rate(temperature_c=35.0, speed_m_s=0.5, turbulence_intensity=0.4) == 0.0


RELIEF = [(0.6, 1.2), (0.9, 1.8), (1.2, 2.2)]
"""ANSI/ASHRAE Standard 55-2020: rise of the acceptable operative temperature, m/s and K."""


@pytest.mark.parametrize(("speed", "relief"), RELIEF)
def test_relief_of_the_standard(speed: float, relief: float) -> None:
    assert relief_k(speed_m_s=speed, operative_temperature_c=27.0) == pytest.approx(relief)


@pytest.mark.slow  # compiles on import
@pytest.mark.parametrize(("speed", "relief"), RELIEF)
def test_relief_agrees_with_pythermalcomfort(speed: float, relief: float) -> None:
    from pythermalcomfort.models import adaptive_ashrae

    still = adaptive_ashrae(tdb=27.0, tr=27.0, t_running_mean=22.0, v=0.1)
    moving = adaptive_ashrae(tdb=27.0, tr=27.0, t_running_mean=22.0, v=speed)
    assert moving.tmp_cmf_80_up - still.tmp_cmf_80_up == pytest.approx(relief, abs=1e-6)


def test_no_relief_is_claimed_in_a_cool_room_or_still_air() -> None:
    assert relief_k(speed_m_s=1.2, operative_temperature_c=24.0) == 0.0
    assert relief_k(speed_m_s=0.2, operative_temperature_c=28.0) == 0.0
