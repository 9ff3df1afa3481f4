"""Humid air against psychrolib, an independent coding of ASHRAE Fundamentals 2017, ch. 1."""

from __future__ import annotations

import psychrolib
import pytest

from ventplan.physics.air import dew_point, humidity_ratio, relative_humidity_at

CASES = [(-10.0, 0.8), (2.0, 0.95), (12.0, 0.6), (20.0, 0.5), (26.0, 0.85), (35.0, 0.2)]


@pytest.mark.parametrize(("temperature", "humidity"), CASES)
def test_humid_air_agrees_with_psychrolib(temperature: float, humidity: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(temperature, humidity, 101_325.0)
    dew = psychrolib.GetTDewPointFromRelHum(temperature, humidity)
    ours = humidity_ratio(temperature_c=temperature, relative_humidity=humidity)
    assert ours == pytest.approx(ratio, rel=1e-9)
    assert dew_point(temperature_c=temperature, relative_humidity=humidity) == pytest.approx(
        dew, abs=2e-3
    )  # their search stops at 1e-3 K


@pytest.mark.parametrize(("temperature", "humidity"), CASES)
def test_a_surface_at_the_dew_point_is_just_wet(temperature: float, humidity: float) -> None:
    dew = dew_point(temperature_c=temperature, relative_humidity=humidity)
    ratio = humidity_ratio(temperature_c=temperature, relative_humidity=humidity)
    assert relative_humidity_at(temperature_c=dew, ratio=ratio) == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize("humidity", [0.0, -0.1, 50.0])
def test_an_invalid_humidity_is_refused(humidity: float) -> None:
    with pytest.raises(ValueError, match="at most 1"):
        dew_point(temperature_c=20.0, relative_humidity=humidity)
