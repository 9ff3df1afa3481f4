"""The daily curve of outdoor temperature against the table that it is taken from."""

from __future__ import annotations

import pytest

from ventplan.airing.weather import DAILY_RANGE_FRACTIONS, daily_curve
from ventplan.errors import InputError

ASHRAE_2017 = {1: 0.88, 4: 0.98, 5: 1.00, 6: 0.98, 8: 0.74, 10: 0.38, 12: 0.13, 14: 0.00, 15: 0.00, 17: 0.14, 19: 0.39,
               21: 0.59, 23: 0.75, 24: 0.82}  # fmt: skip
"""Fraction of the daily range by hour (ASHRAE Handbook Fundamentals 2017, ch. 14, table 6; from memory)."""


@pytest.mark.parametrize(("hour", "fraction"), ASHRAE_2017.items())
def test_each_hour_is_cooler_than_the_warmest_by_its_share_of_the_range(hour: int, fraction: float) -> None:
    day = daily_curve(high_c=30.0, low_c=10.0, begin_h=0.0, hours=24.0)
    assert day.temperature_c[2 * hour] == pytest.approx(30.0 - 20.0 * fraction)


def test_a_night_over_midnight_reaches_the_low_in_the_morning() -> None:
    night = daily_curve(high_c=31.0, low_c=17.0, begin_h=16.5, hours=16.0)
    assert night.begin.hour == 16
    assert min(night.temperature_c) == pytest.approx(17.0)
    coolest_s = night.seconds[night.temperature_c.index(min(night.temperature_c))]
    assert (16.5 + coolest_s / 3600.0) % 24.0 == 5.0
    assert len(DAILY_RANGE_FRACTIONS) == 24


def test_the_water_in_the_air_stays_the_same_all_night() -> None:
    night = daily_curve(high_c=31.0, low_c=17.0, begin_h=16.5, hours=16.0, humidity=0.5)
    assert night.humidity[0] < 0.5 < max(night.humidity) <= 1.0


def test_a_low_above_the_high_is_refused() -> None:
    with pytest.raises(InputError, match="warmer one as the high"):
        daily_curve(high_c=15.0, low_c=20.0, begin_h=16.0, hours=12.0)
