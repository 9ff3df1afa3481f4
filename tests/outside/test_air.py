"""Air properties against psychrolib (ASHRAE) and the US Standard Atmosphere 1976 as coded in fluids."""

from __future__ import annotations

import psychrolib
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from ventplan.physics import air


@pytest.fixture(autouse=True, scope="module")
def _si_units() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)  # once: every call compiles its functions anew


@pytest.mark.parametrize("temperature", [-10.0, 5.0, 20.0, 35.0])
@pytest.mark.parametrize("humidity", [0.0, 0.5, 0.9])
@pytest.mark.parametrize("altitude", [0.0, 500.0, 2000.0])
def test_density_agrees_with_psychrolib(temperature: float, humidity: float, altitude: float) -> None:
    pressure = psychrolib.GetStandardAtmPressure(altitude)
    ratio = psychrolib.GetHumRatioFromRelHum(temperature, humidity, pressure)
    expected = psychrolib.GetMoistAirDensity(temperature, ratio, pressure)
    ours = air.density(temperature_c=temperature, altitude_m=altitude, relative_humidity=humidity)
    assert ours == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("altitude", [0.0, 1000.0, 3000.0])
def test_pressure_and_viscosity_agree_with_the_standard_atmosphere(altitude: float) -> None:
    standard = ATMOSPHERE_1976(altitude)
    celsius = standard.T - 273.15
    assert air.atmospheric_pressure(altitude_m=altitude) == pytest.approx(standard.P, rel=3e-4)
    assert air.dynamic_viscosity(temperature_c=celsius) == pytest.approx(standard.mu, rel=2e-4)


def test_reference_air_stores_1206_joules_in_a_cubic_metre_and_kelvin() -> None:
    # P = rho cp Q dT = 1206 Q dT, common practice.
    stored = air.REFERENCE_DENSITY * air.SPECIFIC_HEAT
    assert stored == pytest.approx(1206.0)
