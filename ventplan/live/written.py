"""SI values as the house file writes them, in the units that the house shows."""

from __future__ import annotations

from ventplan.house.units import FOOT, INCH, System


def length_text(value_m: float, system: System) -> str:
    """A length: millimetres kept in metres, tenths of an inch kept in feet and inches."""
    if system == "si":
        return f"{round(value_m, 3) + 0.0:g} m"
    tenths = round(abs(value_m) / INCH * 10.0)
    sign = "-" if value_m < 0 and tenths else ""
    feet, inches = divmod(tenths / 10.0, FOOT / INCH)
    if not feet:
        return f"{sign}{inches:g} in"
    return f"{sign}{feet:g} ft" + (f" {round(inches, 1):g} in" if round(inches, 1) else "")


def temperature_text(value_c: float, system: System) -> str:
    """A temperature to a tenth of a degree."""
    return f"{round(value_c, 1):g} °C" if system == "si" else f"{round(value_c * 1.8 + 32.0, 1):g} °F"


def wind_speed_text(value_m_s: float, system: System) -> str:
    """A wind speed."""
    return f"{round(value_m_s, 2):g} m/s" if system == "si" else f"{round(value_m_s / 0.44704, 1):g} mph"


def angle_text(value_deg: float) -> str:
    """An angle to a tenth of a degree."""
    return f"{round(value_deg, 1) + 0.0:g} deg"


def share_text(value: float) -> str:
    """A share in per cent, to a tenth."""
    return f"{round(value * 100.0, 1):g} %"
