"""Hour by hour weather from a plain CSV file."""

from __future__ import annotations

import bisect
import datetime
import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from ventplan.airing import Note, NoteCode
from ventplan.errors import InputError
from ventplan.house.records import Outdoors, Wind
from ventplan.physics.air import humidity_ratio, relative_humidity_at

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Weather:
    """Weather over time; between rows it changes in a straight line.

    Attributes
    ----------
    begin
        Time of the first row.
    dated
        False where the file gives only hours, without a date.
    seconds
        Time of each row since the first [s].
    temperature_c, humidity, wind_m_s, wind_from_deg, sun_w_m2, rain_mm
        Outdoor temperature [°C], relative humidity [-], wind at the station [m/s] and the bearing that it
        comes from [deg], sun on a level surface [W/m2], rain since the row before [mm].
    notes
        What was assumed in place of columns that the file lacks, and headings that were not understood.
    """

    begin: datetime.datetime
    dated: bool
    seconds: tuple[float, ...]
    temperature_c: tuple[float, ...]
    humidity: tuple[float, ...]
    wind_m_s: tuple[float, ...]
    wind_from_deg: tuple[float, ...]
    sun_w_m2: tuple[float, ...]
    rain_mm: tuple[float, ...]
    notes: tuple[Note, ...] = ()

    @property
    def duration_s(self) -> float:
        """Time from the first row to the last [s]."""
        return self.seconds[-1]

    def seconds_until(self, hour: float) -> float:
        """Time from the first row to the next time that it is this hour of the day [s]."""
        day_s = 86_400.0
        begin = self.begin.hour * 3600.0 + self.begin.minute * 60.0 + self.begin.second
        return (hour * 3600.0 - begin) % day_s or day_s

    def until(self, hour: float) -> Weather:
        """The weather as far as it takes to reach an hour of the day for the first time.

        Raises
        ------
        InputError
            Where the weather ends before.
        """
        second = self.seconds_until(hour)
        if second > self.duration_s:
            ends = self.label(self.duration_s)
            raise InputError(
                f"the weather ends at {ends}, before {hour:g}:00: give it to the morning, or an earlier hour"
            )
        return self.first(second)

    def first(self, second: float) -> Weather:
        """The weather from its first row to the row at or after a time since then [s]."""
        rows = bisect.bisect_left(self.seconds, second) + 1
        tracks = ("seconds", "temperature_c", "humidity", "wind_m_s", "wind_from_deg", "sun_w_m2", "rain_mm")
        return replace(self, **{name: getattr(self, name)[:rows] for name in tracks})

    def label(self, second: float) -> str:
        """A time since the first row as text."""
        when = self.begin + datetime.timedelta(seconds=second)
        return when.strftime("%a %d %b %H:%M" if self.dated else "%H:%M")

    def sun(self, second: float) -> float:
        """Sun on a level surface [W/m2]."""
        return self._between(second)[5]

    def rains(self, second: float) -> bool:
        """True where rain has fallen by the row that follows."""
        following = min(bisect.bisect_left(self.seconds, second), len(self.seconds) - 1)
        return self.rain_mm[following] > 0.0

    def at(self, second: float, base: Outdoors) -> Outdoors:
        """Weather at a time since the first row.

        Parameters
        ----------
        second
            Time since the first row [s]; held at the ends.
        base
            What the file does not give: terrain, shelter, altitude, smoke.

        Returns
        -------
        Outdoors
            The weather; the wind turns by the smaller angle, and the humidity ratio is interpolated linearly.
        """
        temperature, ratio, speed, east, north, _ = self._between(second)
        humidity = float(relative_humidity_at(temperature_c=temperature, ratio=ratio))
        wind = Wind(
            speed_m_s=speed,
            from_deg=math.degrees(math.atan2(east, north)) % 360.0,
            height_m=base.wind.height_m,
            station_terrain=base.wind.station_terrain,
        )
        return replace(
            base,
            temperature_c=temperature,
            relative_humidity=min(humidity, 1.0),
            wind=wind,
            rain=self.rains(second),
        )

    @cached_property
    def _tracks(self) -> NDArray[np.float64]:
        """Temperature, water, wind, its eastward and northward part of direction, sun: shape (rows, 6)."""
        import numpy as np

        bearing = np.radians(self.wind_from_deg)
        water = humidity_ratio(temperature_c=np.array(self.temperature_c), relative_humidity=np.array(self.humidity))
        return np.stack(
            [self.temperature_c, water, self.wind_m_s, np.sin(bearing), np.cos(bearing), self.sun_w_m2], axis=1
        )

    def _between(self, second: float) -> list[float]:
        """The tracks at a time, on straight lines between rows and held at the ends."""
        after = min(max(bisect.bisect_right(self.seconds, second), 1), len(self.seconds) - 1)
        begin, end = self.seconds[after - 1], self.seconds[after]
        share = min(max((second - begin) / (end - begin), 0.0), 1.0)
        between: list[float] = ((1.0 - share) * self._tracks[after - 1] + share * self._tracks[after]).tolist()
        return between


DAILY_RANGE_FRACTIONS = (
    0.82, 0.88, 0.92, 0.95, 0.98, 1.00, 0.98, 0.91, 0.74, 0.55, 0.38, 0.23,
    0.13, 0.05, 0.00, 0.00, 0.06, 0.14, 0.24, 0.39, 0.50, 0.59, 0.68, 0.75,
)  # fmt: skip
"""Share of the daily range by which it is cooler than at the warmest, at each full hour from 0:00 to 23:00 of local
standard time [-] (ASHRAE Handbook Fundamentals 2017, ch. 14, table 6; from memory)."""


def daily_curve(
    *, high_c: float, low_c: float, begin_h: float, hours: float, humidity: float = 0.5, wind: Wind | None = None
) -> Weather:
    """Weather of a clear summer day and night from its highest and lowest temperature.

    Parameters
    ----------
    high_c, low_c
        Highest and lowest outdoor temperature [°C].
    begin_h
        Hour of the day of the first row [h].
    hours
        How long it goes on [h].
    humidity
        Relative humidity halfway between the two temperatures [-]; the air's water stays the same all day.
    wind
        Wind, the same at all hours; calm if None.

    Returns
    -------
    Weather
        A row every half hour; dark and dry.

    Raises
    ------
    InputError
        Where the lowest temperature is above the highest.

    Notes
    -----
    T = T_high - f (T_high - T_low), with f by the hour from `DAILY_RANGE_FRACTIONS`, on straight lines between hours.

    Examples
    --------
    >>> night = daily_curve(high_c=31.0, low_c=17.0, begin_h=22.0, hours=8.0)
    >>> [round(night.temperature_c[2 * h], 1) for h in (0, 7)]
    [21.5, 17.0]
    """
    if low_c > high_c:
        raise InputError(
            f"the low of {low_c:.1f} °C is above the high of {high_c:.1f} °C; give the warmer one as the high"
        )
    steps = math.ceil(2.0 * hours) + 1
    clock = [begin_h + step / 2.0 for step in range(steps)]
    fractions = [*DAILY_RANGE_FRACTIONS, DAILY_RANGE_FRACTIONS[0]]

    def fraction(hour: float) -> float:
        whole = int(hour % 24.0)
        rest = hour % 24.0 - whole
        return (1.0 - rest) * fractions[whole] + rest * fractions[whole + 1]

    temperatures = tuple(high_c - fraction(hour) * (high_c - low_c) for hour in clock)
    ratio = humidity_ratio(temperature_c=(high_c + low_c) / 2.0, relative_humidity=humidity)
    steady = wind or Wind()
    calm = (0.0,) * steps
    return Weather(
        begin=datetime.datetime(2001, 1, 1) + datetime.timedelta(hours=begin_h),
        dated=False,
        seconds=tuple(1800.0 * step for step in range(steps)),
        temperature_c=temperatures,
        humidity=tuple(min(float(relative_humidity_at(temperature_c=t, ratio=ratio)), 1.0) for t in temperatures),
        wind_m_s=(steady.speed_m_s,) * steps,
        wind_from_deg=(steady.from_deg,) * steps,
        sun_w_m2=calm,
        rain_mm=calm,
        notes=(Note(NoteCode.DAILY_CURVE),),
    )
