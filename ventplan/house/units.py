"""The one place that turns what people write (``5 ft 6 in``, ``900 cfm``, ``SW``) into SI.

The units that house files use every day have their factor in a table (exact by definition, and checked with ``pint``
in a test), so that a command starts without loading ``pint``; any other unit is looked up there.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

System = Literal["si", "us"]

INCH, FOOT, POUND_FORCE, GRAM_FORCE = 0.0254, 0.3048, 4.4482216152605, 9.80665e-3
BTU = 1055.05585262
"""International table [J]."""


@dataclass(frozen=True)
class Quantity:
    """A kind of quantity: its unit in the code, that unit as ``pint`` writes it, and examples of what to write.

    ``us_examples`` are those for a reader of US customary units, where they differ.
    """

    name: str
    unit: str
    pint_unit: str
    examples: str
    us_examples: str = ""


QUANTITIES: dict[str, Quantity] = {
    q.name: q
    for q in (
        Quantity("length", "m", "m", "a length such as 1.2 m, 80 cm, 30 in or 5 ft 6 in",
                 "a length such as 5 ft 6 in, 5.5 ft or 30 in"),
        Quantity("area", "m²", "m**2", "an area such as 1.5 m2 or 16 ft2", "an area such as 16 ft2"),
        Quantity("volume", "m³", "m**3", "a volume such as 30 m3 or 1000 ft3", "a volume such as 1000 ft3"),
        Quantity("flow", "m³/s", "m**3/s", "a volume flow such as 0.5 m3/s, 1800 m3/h or 1050 cfm",
                 "a volume flow such as 1050 cfm"),
        Quantity("speed", "m/s", "m/s", "a speed such as 3 m/s, 11 km/h, 7 mph or 6 knots",
                 "a speed such as 7 mph, 6 knots or 600 ft/min"),
        Quantity("force", "N", "N", "a force such as 1.7 N, 170 gf or 0.4 lbf", "a force such as 170 gf or 0.4 lbf"),
        Quantity("pressure", "Pa", "Pa", "a pressure such as 30 Pa or 0.12 in H2O"),
        Quantity("power", "W", "W", "a power such as 55 W or 1.2 kW"),
        Quantity("angle", "°", "degree", "an angle such as 60 deg"),
        Quantity("temperature", "°C", "degC", "a temperature such as 24 °C or 75 °F", "a temperature such as 75 °F"),
        Quantity("share", "", "", "a share such as 80 % or 0.8"),
        Quantity("time", "s", "s", "a time such as 20 min or 2 h"),
        Quantity("conductance", "W/K", "W/K", "a heat loss such as 180 W/K", "a heat loss such as 340 Btu/(h °F)"),
        Quantity("heat storage", "J/(m² K)", "J/(m**2*K)", "a heat storage such as 165 kJ/(m2 K)",
                 "a heat storage such as 8 Btu/(ft2 °F)"),
        Quantity("number", "", "", "a plain number"),
        Quantity("sound", "dB", "", "a sound level such as 48 dB"),
    )
}  # fmt: skip

# unit word: (factor, offset) so that value * factor + offset is in the unit inside
KNOWN: dict[str, dict[str, tuple[float, float]]] = {
    "length": {
        "m": (1, 0), "cm": (0.01, 0), "mm": (0.001, 0), "km": (1000, 0), "in": (INCH, 0), "inch": (INCH, 0),
        "inches": (INCH, 0), '"': (INCH, 0), "ft": (FOOT, 0), "foot": (FOOT, 0), "feet": (FOOT, 0), "'": (FOOT, 0),
        "yd": (0.9144, 0),
    },
    "area": {"m2": (1, 0), "cm2": (1e-4, 0), "ft2": (FOOT**2, 0), "sq ft": (FOOT**2, 0), "in2": (INCH**2, 0)},
    "volume": {"m3": (1, 0), "L": (1e-3, 0), "l": (1e-3, 0), "ft3": (FOOT**3, 0), "cu ft": (FOOT**3, 0)},
    "flow": {
        "m3/s": (1, 0), "m3/h": (1 / 3600, 0), "m3/min": (1 / 60, 0), "L/s": (1e-3, 0), "l/s": (1e-3, 0),
        "cfm": (FOOT**3 / 60, 0), "CFM": (FOOT**3 / 60, 0), "ft3/min": (FOOT**3 / 60, 0),
    },
    "speed": {
        "m/s": (1, 0), "km/h": (1 / 3.6, 0), "mph": (0.44704, 0), "knots": (1852 / 3600, 0),
        "knot": (1852 / 3600, 0), "kn": (1852 / 3600, 0), "kt": (1852 / 3600, 0), "ft/min": (FOOT / 60, 0),
        "fpm": (FOOT / 60, 0), "ft/s": (FOOT, 0),
    },
    "force": {
        "N": (1, 0), "mN": (1e-3, 0), "gf": (GRAM_FORCE, 0), "kgf": (1000 * GRAM_FORCE, 0),
        "lbf": (POUND_FORCE, 0), "ozf": (POUND_FORCE / 16, 0),
    },
    "pressure": {
        "Pa": (1, 0), "kPa": (1000, 0), "hPa": (100, 0), "mbar": (100, 0), "in H2O": (249.08891, 0),
        "inH2O": (249.08891, 0), "in wc": (249.08891, 0), "mm H2O": (9.80665, 0), "mmH2O": (9.80665, 0),
    },
    "power": {"W": (1, 0), "kW": (1000, 0)},
    "angle": {"deg": (1, 0), "°": (1, 0), "degree": (1, 0), "degrees": (1, 0), "rad": (180 / math.pi, 0)},
    "temperature": {
        "°C": (1, 0), "C": (1, 0), "degC": (1, 0), "°F": (5 / 9, -160 / 9), "F": (5 / 9, -160 / 9),
        "degF": (5 / 9, -160 / 9), "K": (1, -273.15),
    },
    "share": {"%": (0.01, 0), "percent": (0.01, 0), "per cent": (0.01, 0)},
    "time": {"s": (1, 0), "min": (60, 0), "h": (3600, 0), "hour": (3600, 0), "hours": (3600, 0), "d": (86400, 0)},
    "conductance": {"W/K": (1, 0), "W/°C": (1, 0), "kW/K": (1000, 0), "Btu/(h °F)": (BTU * 1.8 / 3600, 0)},
    "heat storage": {"J/(m2 K)": (1, 0), "kJ/(m2 K)": (1000, 0), "Wh/(m2 K)": (3600, 0),
                     "Btu/(ft2 °F)": (BTU * 1.8 / FOOT**2, 0)},
    "number": {},
    "sound": {"dB": (1, 0), "dB(A)": (1, 0), "dBA": (1, 0), "db": (1, 0)},
}  # fmt: skip

VULGAR_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
VULGAR = re.compile(f"[{''.join(VULGAR_FRACTIONS)}]")
NUMBER = r"[-+−]?(?:\d+(?:[.,]\d+)?|\.\d+)(?:[eE][-+]?\d+)?"
FRACTION = r"\d{1,4}\s*/\s*[1-9]\d{0,3}"
PART = re.compile(rf"\s*(?:(?P<number>{NUMBER})(?:\s+(?P<with>{FRACTION})(?=\D|$))?)\s*")
ONLY_FRACTION = re.compile(rf"\s*(?P<only>{FRACTION})(?=\D|$)\s*")
APOSTROPHE = re.compile(r"(?<![\d.,])\d{1,3}(?:['’`´ \u00a0\u2009\u202f_]\d{3})+(?![\d'\"])")
"""Digits in groups of three, as some countries write thousands; inches behind feet never have three digits."""
THOUSANDS = re.compile(r"(?<!\d)[1-9]\d{0,2},\d{3}(?!\d)")
UNIT = re.compile(r"[^\d+−.,/*-][^+−,]*?(?=\s+[-+−]?[\d.]|(?<=['\"])\d|$)")
SPELLINGS = str.maketrans({"²": "2", "³": "3", "₂": "2", "^": "", "·": " ", "º": "°", "″": '"', "′": "'"})
PLAIN_UNIT = re.compile(r"[A-Za-zµ]+[23]?(?:\s*[/* ]\s*\(?\s*[A-Za-zµ]+[23]?\s*\)?)*")


class UnitError(ValueError):
    """A text that cannot be read as the quantity; ``found`` is what stands there, ``allowed`` what may."""

    def __init__(self, found: str, allowed: str, hint: str = "") -> None:
        self.found, self.allowed, self.hint = found, allowed, hint
        super().__init__(f"found {found}; allowed: {allowed}" + (f". {hint}" if hint else ""))


@lru_cache(maxsize=1)
def registry() -> Any:
    """The ``pint`` registry, made once and cached on disk by ``pint`` itself."""
    import pint

    try:
        return pint.UnitRegistry(cache_folder=":auto:")
    except OSError:  # a home folder that cannot be written to
        return pint.UnitRegistry()


def tidy_unit(unit: str) -> str:
    """One spelling for superscripts, dots and spaces in a unit."""
    return " ".join(unit.translate(SPELLINGS).split())


@lru_cache(maxsize=512)
def unit_factor(unit: str, quantity: str) -> tuple[float, float]:
    """Factor and offset that take a value in ``unit`` to the unit inside.

    Raises
    ------
    UnitError
        If the unit is unknown, or is one of another quantity.
    """
    unit = tidy_unit(unit)
    wanted = QUANTITIES[quantity]
    known = KNOWN[quantity].get(unit)
    if known is not None:
        return float(known[0]), float(known[1])
    for other, words in KNOWN.items():
        if unit in words:
            hint = "A scale that reads grams shows gram-force: write gf" if quantity == "force" else ""
            raise UnitError(f"the unit {unit}, which is one of {other}", wanted.examples, hint)
    if quantity == "speed" and unit in ("m/h", "m/hr", "m/hour", "ft/h", "mm/h", "cm/h"):
        hint = "Is it mph (miles an hour), km/h or m/s?"
        raise UnitError(f"the unit {unit}, which is not a unit of wind speed", wanted.examples, hint)
    if quantity == "force" and unit in ("g", "kg", "lb", "oz"):
        raise UnitError(f"the unit {unit}, a mass", wanted.examples, f"A scale's reading as a force is {unit}f")
    if wanted.pint_unit and len(unit) <= 30 and PLAIN_UNIT.fullmatch(unit):
        expression = re.sub(r"([A-Za-zµ])([23])", r"\1**\2", re.sub(r"(?<=[A-Za-zµ\d])\s+(?=[A-Za-z(µ])", "*", unit))
        try:
            one, zero = (registry().Quantity(x, expression).to(wanted.pint_unit).magnitude for x in (1.0, 0.0))
        except Exception as error:  # pint raises many kinds for text that is no unit
            if type(error).__name__ == "DimensionalityError":
                raise UnitError(f"the unit {unit}, which is not one of {quantity}", wanted.examples) from None
        else:
            return float(one - zero), float(zero)
    raise UnitError(f'the unknown unit "{unit[:30]}"', wanted.examples)


def to_number(text: str) -> float:
    """A number as people write it; a decimal comma counts as a point."""
    return float(text.replace(",", ".").replace("−", "-"))


def to_fraction(text: str) -> float:
    """``3/8`` as a number."""
    top, bottom = text.split("/")
    return int(top) / int(bottom)


def split_quantity(text: str) -> list[tuple[float, str]]:
    """Numbers and units in turn: ``5 ft 6 1/2 in`` gives [(5, "ft"), (6.5, "in")]; an empty list if it is not so."""
    parts: list[tuple[float, str]] = []
    rest = VULGAR.sub(lambda found: f" {VULGAR_FRACTIONS[found[0]]}", text).strip()
    while rest and len(parts) < 4:
        only = ONLY_FRACTION.match(rest)
        match = only or PART.match(rest)
        if match is None:
            return []
        if only:
            value = to_fraction(only["only"])
        else:
            value = to_number(match["number"])
            if match["with"]:
                value += math.copysign(to_fraction(match["with"]), value)
        rest = rest[match.end() :]
        unit = UNIT.match(rest)
        if rest and unit is None:
            return []
        parts.append((value, unit.group().strip() if unit else ""))
        rest = rest[unit.end() :].strip() if unit else ""
    return [] if rest else parts


def parse_quantity(value: object, quantity: str) -> float:
    """Turn a plain number (SI) or a text with a unit into SI (temperatures °C, angles in degrees).

    Parameters
    ----------
    value
        A number, or text such as ``"5 ft 6 in"``, ``"2,5 m"``, ``"900 cfm"``.
    quantity
        A name in ``QUANTITIES``.

    Raises
    ------
    UnitError
        If it cannot be read as that quantity; says what was found and what is allowed.
    """
    wanted = QUANTITIES[quantity]
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise UnitError(describe(value), wanted.examples)
    if isinstance(value, str):
        parts = split_quantity(value[:80])
        if APOSTROPHE.search(value[:80]):
            raise UnitError(describe(value), wanted.examples, "Write thousands without a mark: 1200")
        if THOUSANDS.search(value[:80]):
            raise UnitError(describe(value), wanted.examples, "A comma is read as a decimal point: write 1800 or 1.8")
        if not parts or (len(parts) > 1 and (quantity not in ("length", "time") or not all(u for _, u in parts))):
            raise UnitError(describe(value), wanted.examples)
        check_parts(value, quantity, parts)
        total, sign = 0.0, math.copysign(1.0, parts[0][0])
        for i, (number, unit) in enumerate(parts):
            factor, offset = unit_factor(unit, quantity) if unit else (1.0, 0.0)
            total += (number if i == 0 else sign * abs(number)) * factor + offset
    else:
        try:
            total = float(value)
        except OverflowError:
            total = math.inf
    if not math.isfinite(total):
        raise UnitError(describe(value), wanted.examples)
    return float(f"{total:.13g}")  # so that 83 % is 0.83


def check_parts(value: object, quantity: str, parts: list[tuple[float, str]]) -> None:
    """Refuse ``6 in 5 ft`` and ``5 ft 14 in``: each part is in a smaller unit, and less than one of the one before."""
    factors = [unit_factor(unit, quantity)[0] for _, unit in parts] if len(parts) > 1 else []
    for (number, _), factor, before in zip(parts[1:], factors[1:], factors, strict=False):
        if not 0.0 <= number * factor < before * (1.0 - 1e-9):
            hint = "Each part must be less than one of the unit before it"
            raise UnitError(describe(value), QUANTITIES[quantity].examples, hint)


def quantity_kind(value: object, quantities: tuple[str, ...]) -> tuple[str, float]:
    """Which of several quantities a text gives, and its SI value; a plain number is the first of them.

    Raises
    ------
    UnitError
        If it is none of them.
    """
    if isinstance(value, str):
        parts = split_quantity(value[:80])
        for quantity in quantities:
            if parts and parts[0][1] and tidy_unit(parts[0][1]) in KNOWN[quantity]:
                return quantity, parse_quantity(value, quantity)
    try:
        return quantities[0], parse_quantity(value, quantities[0])
    except UnitError as error:
        allowed = ", or ".join(QUANTITIES[q].examples for q in quantities)
        raise UnitError(error.found, allowed, error.hint) from None


def describe(value: object) -> str:
    """What stands in a file, in a few words."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return f"a map of {len(value)} keys" if value else "an empty map"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}" if value else "an empty list"
    text = str(value) if not isinstance(value, int) or abs(value) < 10**30 else "a very large number"
    return f'"{text[:57]}..."' if len(text) > 60 else f'"{text}"' if isinstance(value, str) else text


POINTS = ("n", "nne", "ne", "ene", "e", "ese", "se", "sse", "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw")
LETTERS = {"n": "north", "e": "east", "s": "south", "w": "west"}


def _spelled(point: str) -> str:
    last = "".join(LETTERS[letter] for letter in point[-2:])
    return last if len(point) < 3 else LETTERS[point[0]] + last


BEARINGS = {word: 22.5 * i for i, point in enumerate(POINTS) for word in (point, _spelled(point))}
"""Bearing of the sixteen points of the compass, as letters and as one word [deg]."""


def parse_bearing(value: object) -> float:
    """Turn degrees, letters or words into a bearing.

    Parameters
    ----------
    value
        A number, or text such as ``240 deg``, ``WSW``, ``south-west`` or ``North West``.

    Returns
    -------
    float
        Bearing from 0 up to 360 [deg].

    Raises
    ------
    UnitError
        If it cannot be read as a bearing; says what was found and what is allowed.
    """
    if isinstance(value, str):
        word = re.sub(r"[\s_-]+", "", value.lower())
        if word in BEARINGS:
            return BEARINGS[word]
    try:
        degrees = parse_quantity(value, "angle")
    except UnitError as error:
        raise UnitError(error.found, "a bearing such as 240 deg, WSW or south-west", error.hint) from None
    if not -360.0 <= degrees <= 360.0:
        raise UnitError(f"{degrees:g} °", "from -360 ° to 360 °")
    return degrees % 360.0


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
    "conductance": {"si": ("W/K", "W/K", 3, 0), "us": ("Btu/(h °F)", "Btu/(h °F)", 3, 0)},
    "heat storage": {"si": ("kJ/(m² K)", "kJ/(m2 K)", 3, 0), "us": ("Btu/(ft² °F)", "Btu/(ft2 °F)", 2, 1)},
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
_METRIC = re.compile(
    rf"({_NUMBER})(?: to ({_NUMBER}))? ?(m³/s|m3/s|m/s|m²|m2|m³|m3|mm|cm|m|°C|N|W/K|kJ/\(m² K\)|J/\(m² K\))(?![\w/²³])"
)
_POINT = re.compile(rf"\(({_NUMBER}), ({_NUMBER})\)")
_SAME: dict[str, tuple[str, float]] = {
    "m³/s": ("flow", 1.0), "m3/s": ("flow", 1.0), "m/s": ("speed", 1.0), "m²": ("area", 1.0), "m2": ("area", 1.0),
    "m³": ("volume", 1.0), "m3": ("volume", 1.0), "mm": ("length", 1e-3), "cm": ("length", 1e-2), "m": ("length", 1.0),
    "°C": ("temperature", 1.0), "N": ("thrust", 1.0), "W/K": ("conductance", 1.0),
    "kJ/(m² K)": ("heat storage", 1e3), "J/(m² K)": ("heat storage", 1.0),
}  # fmt: skip


def in_us_units(text: str, *, wind: bool = False, plain: Sequence[float] = ()) -> str:
    """A sentence about a house with its metric quantities in US customary units.

    Parameters
    ----------
    text
        The sentence.
    wind
        True where speeds are of the wind, and read in mph.
    plain
        Numbers that stand in the file without a unit; the sentence says how each was read.

    Examples
    --------
    >>> in_us_units("found 18.29 m; allowed: 0 to 1.83 m, at 20.0 °C")
    'found 60 ft; allowed: 0 to 6 ft, at 68.0 °F'
    """

    for quantity in QUANTITIES.values():
        if quantity.us_examples:
            text = text.replace(quantity.examples, quantity.us_examples)

    def shown_us(number: str, unit: str) -> str:
        quantity, factor = _SAME[unit]
        value = float(number.replace("−", "-")) * factor
        return show(value, "wind" if wind and quantity == "speed" else quantity, "us")

    def both(found: re.Match[str]) -> str:
        first, second, unit = found.groups()
        if second is None:
            said = next((f"{n:g}, read as {n:g} {unit}" for n in plain if abs(n - float(first)) < 0.005), "")
            return f"{said} ({shown_us(first, unit)})" if said else shown_us(first, unit)
        low = "0" if float(first.replace("−", "-")) == 0.0 and unit != "°C" else shown_us(first, unit)
        return f"{low} to {shown_us(second, unit)}"

    def point(found: re.Match[str]) -> str:
        return f"({shown_us(found[1], 'm')}, {shown_us(found[2], 'm')})"

    # What somebody wrote stands in quotation marks, and stays as it is.
    parts = re.split(r'("[^"]*")', text)
    return "".join(one if one.startswith('"') else _POINT.sub(point, _METRIC.sub(both, one)) for one in parts)
