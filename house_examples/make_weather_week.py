"""Make the invented week of weather in weather_week.csv: warm days, cool nights, one muggy and rainy spell.

Run it from anywhere: ``python house_examples/make_weather_week.py``. Nothing in it was measured.
"""

from __future__ import annotations

import csv
import datetime
import math
from pathlib import Path

from ventplan.physics.air import humidity_ratio, relative_humidity_at

BEGIN = datetime.datetime(2030, 7, 1, 12, 0)
NOONS = 7

# Noon by noon: mean temperature [°C], half of its swing [K], dew point [°C], wind at its strongest [m/s] and
# from where [deg], share of clear sky [-], rain in the small hours [mm].
DAYS = (
    (23.0, 7.5, 12.0, 3.5, 250.0, 0.95, 0.0),
    (24.5, 8.0, 13.0, 3.0, 240.0, 0.95, 0.0),
    (26.0, 8.0, 14.5, 2.5, 220.0, 0.90, 0.0),
    (27.0, 6.0, 19.5, 2.0, 190.0, 0.70, 0.0),
    (25.0, 3.5, 20.5, 4.5, 200.0, 0.35, 2.4),
    (21.5, 5.0, 14.0, 5.0, 290.0, 0.70, 0.0),
    (22.0, 7.0, 12.0, 3.0, 270.0, 0.95, 0.0),
    (23.5, 7.5, 12.5, 3.0, 250.0, 0.95, 0.0),
)


def row(hour: int) -> list[str]:
    """The weather ``hour`` hours after the beginning, blended from noon to noon."""
    day, share = divmod(hour / 24.0, 1.0)
    today, tomorrow = DAYS[int(day)], DAYS[min(int(day) + 1, len(DAYS) - 1)]
    mean, swing, dew, wind, bearing, clear, rain = (a + share * (b - a) for a, b in zip(today, tomorrow, strict=True))
    time = BEGIN + datetime.timedelta(hours=hour)
    clock = time.hour + time.minute / 60.0
    temperature = mean + swing * math.cos((clock - 15.5) / 24.0 * 2.0 * math.pi)
    ratio = humidity_ratio(temperature_c=dew, relative_humidity=1.0)
    humidity = min(0.98, float(relative_humidity_at(temperature_c=temperature, ratio=ratio)))
    speed = wind * (0.45 + 0.55 * max(0.0, math.cos((clock - 15.0) / 24.0 * 2.0 * math.pi)))
    sun = clear * 900.0 * max(0.0, math.sin((clock - 5.0) / 16.0 * math.pi)) if 5.0 < clock < 21.0 else 0.0
    falls = rain if clock in (2.0, 3.0, 4.0) else 0.0
    return [
        time.strftime("%Y-%m-%d %H:%M"),
        f"{temperature:.1f}",
        f"{100.0 * humidity:.0f}",
        f"{speed:.1f}",
        f"{bearing:.0f}",
        f"{sun:.0f}",
        f"{falls:.1f}",
    ]


def main() -> None:
    """Write the file beside this script."""
    with (Path(__file__).parent / "weather_week.csv").open("w", newline="", encoding="utf-8") as file:
        file.write("# Invented summer weather, made by make_weather_week.py; nothing in it was measured.\n")
        writer = csv.writer(file, lineterminator="\n")
        heads = "temperature [°C],humidity [%],wind speed [m/s],wind from [deg],sun [W/m2],rain [mm]"
        writer.writerow(["time", *heads.split(",")])
        writer.writerows(row(hour) for hour in range(24 * NOONS + 1))


if __name__ == "__main__":
    main()
