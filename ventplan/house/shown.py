"""SI values as people read them, in SI or US customary units, with as many digits as they deserve."""

from __future__ import annotations

import math
import re

from ventplan.house.units import System, unit_factor

# quantity: {system: (unit shown, unit that the reader knows, significant digits, most decimals)}
SHOWN: dict[str, dict[System, tuple[str, str, int, int]]] = {
    "length": {"si": ("m", "m", 3, 2), "us": ("ft", "ft", 3, 1)},
    "area": {"si": ("m²", "m2", 3, 2), "us": ("ft²", "ft2", 3, 1)},
    "volume": {"si": ("m³", "m3", 3, 1), "us": ("ft³", "ft3", 3, 0)},
    "flow": {"si": ("m³/s", "m3/s", 2, 3), "us": ("cfm", "cfm", 3, 0)},
    "speed": {"si": ("m/s", "m/s", 2, 2), "us": ("ft/min", "ft/min", 2, 0)},
    "wind": {"si": ("m/s", "m/s", 2, 1), "us": ("mph", "mph", 2, 1)},
    "force": {"si": ("N", "N", 3, 2), "us": ("lbf", "lbf", 2, 3)},
    "thrust": {"si": ("N", "N", 3, 2), "us": ("gf", "gf", 3, 0)},
    "pressure": {"si": ("Pa", "Pa", 2, 2), "us": ("Pa", "Pa", 2, 2)},
    "power": {"si": ("W", "W", 3, 0), "us": ("W", "W", 3, 0)},
    "angle": {"si": ("°", "deg", 3, 0), "us": ("°", "deg", 3, 0)},
    "temperature": {"si": ("°C", "°C", 3, 1), "us": ("°F", "°F", 3, 1)},
    "temperature difference": {"si": ("K", "", 2, 1), "us": ("°F", "", 2, 1)},
    "share": {"si": ("%", "%", 2, 0), "us": ("%", "%", 2, 0)},
    "sound": {"si": ("dB(A)", "dB", 2, 0), "us": ("dB(A)", "dB", 2, 0)},
}
KIND = {"wind": "speed", "thrust": "force"}


def shown_unit(quantity: str, system: System) -> str:
    """The unit that answers use, e.g. for the head of a column."""
    return SHOWN[quantity][system][0]


def shown_number(value: float, quantity: str, system: System) -> float:
    """An SI value in the unit that answers use, not rounded."""
    if quantity == "temperature difference":
        return value * 1.8 if system == "us" else value
    factor, offset = unit_factor(SHOWN[quantity][system][1], KIND.get(quantity, quantity))
    return (value - offset) / factor


def rounded(number: float, digits: int, most_decimals: int) -> str:
    """A number with so many significant digits, and no more decimals than make sense."""
    if number == 0.0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(number)))
    number = round(number, max(min(decimals, most_decimals), -2) if decimals < 0 else min(decimals, most_decimals))
    text = f"{number:.{max(0, min(decimals, most_decimals))}f}"
    return "0" if float(text) == 0.0 else text.replace("-", "−")


def fixed(number: float, decimals: int) -> str:
    """A number with so many decimals, a true minus sign, and none before a zero."""
    text = f"{number:.{decimals}f}"
    return text.replace("-", "" if float(text) == 0.0 else "−")


def show(value: float, quantity: str, system: System) -> str:
    """An SI value as people read it: ``show(0.52, "flow", "us")`` is ``1100 cfm``.

    Parameters
    ----------
    value
        In SI (°C for temperatures, degrees for angles).
    quantity
        A key of ``SHOWN``, or ``time`` (s).
    system
        ``si`` or ``us``.
    """
    if not math.isfinite(value):
        return "never" if quantity == "time" and value > 0 else "–"
    if quantity == "time":
        return show_time(value)
    if quantity == "length":
        return show_length(value, system)
    unit, _, digits, decimals = SHOWN[quantity][system]
    number = shown_number(value, quantity, system)
    text = fixed(number, decimals) if quantity == "temperature" else rounded(number, digits, decimals)
    return text + ("" if unit in ("°", "%") else " ") + unit


def show_length(value: float, system: System) -> str:
    """A length: metres or millimetres; feet and inches."""
    sign, size = ("−" if value < 0 else ""), abs(value)
    if system == "si":
        return f"{sign}{size * 1000:.3g} mm" if 0 < size < 0.02 else f"{sign}{size:.2f} m"
    inches = size / 0.0254
    if inches < 23.5:
        return f"{sign}{inches:.2g} in" if inches < 9.5 else f"{sign}{inches:.0f} in"
    feet, rest = divmod(round(inches), 12)
    return f"{sign}{feet} ft" + (f" {rest} in" if rest else "")


def show_time_up_to_a_day(seconds: float) -> str:
    """A time that nobody would wait for beyond a day: a longer one is only said to be longer."""
    return show_time(seconds) if seconds <= 86400.0 else "never" if math.isinf(seconds) else "more than 24 h"


def show_time(seconds: float) -> str:
    """A time: seconds below two minutes, minutes below two hours, then hours and minutes."""
    if seconds < 119.5:
        return f"{seconds:.0f} s"
    minutes = seconds / 60.0
    if minutes < 10.0:
        return f"{minutes:.1f} min"
    if minutes < 119.5:
        return f"{minutes:.0f} min"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h" + (f" {rest} min" if rest and hours < 10 else "")


_NUMBER = r"[-−]?\d+(?:\.\d+)?(?:e[-+]?\d+)?"
_METRIC = re.compile(rf"({_NUMBER})(?: to ({_NUMBER}))? ?(m³/s|m3/s|m/s|m²|m2|m³|m3|mm|cm|m|°C)(?![\w/²³])")
_POINT = re.compile(rf"\(({_NUMBER}), ({_NUMBER})\)")
_SAME: dict[str, tuple[str, float]] = {
    "m³/s": ("flow", 1.0), "m3/s": ("flow", 1.0), "m/s": ("speed", 1.0), "m²": ("area", 1.0), "m2": ("area", 1.0),
    "m³": ("volume", 1.0), "m3": ("volume", 1.0), "mm": ("length", 1e-3), "cm": ("length", 1e-2), "m": ("length", 1.0),
    "°C": ("temperature", 1.0),
}  # fmt: skip


def in_us_units(text: str, *, wind: bool = False) -> str:
    """A sentence about a house with its metric quantities in US customary units.

    Parameters
    ----------
    text
        The sentence.
    wind
        True where speeds are of the wind, and read in mph.

    Examples
    --------
    >>> in_us_units("found 18.29 m; allowed: 0 to 1.83 m, at 20.0 °C")
    'found 60 ft; allowed: 0 to 6 ft, at 68.0 °F'
    """

    def shown_us(number: str, unit: str) -> str:
        quantity, factor = _SAME[unit]
        value = float(number.replace("−", "-")) * factor
        return show(value, "wind" if wind and quantity == "speed" else quantity, "us")

    def both(found: re.Match[str]) -> str:
        first, second, unit = found.groups()
        if second is None:
            return shown_us(first, unit)
        low = "0" if float(first.replace("−", "-")) == 0.0 and unit != "°C" else shown_us(first, unit)
        return f"{low} to {shown_us(second, unit)}"

    def point(found: re.Match[str]) -> str:
        return f"({shown_us(found[1], 'm')}, {shown_us(found[2], 'm')})"

    return _POINT.sub(point, _METRIC.sub(both, text))
