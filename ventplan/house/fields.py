"""Field types of the house file for ``pydantic``: quantities with a range, words with nearest names."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainValidator, ValidationInfo
from pydantic_core import PydanticCustomError

from ventplan.house.units import QUANTITIES, UnitError, describe, parse_bearing, parse_quantity, quantity_kind

MOST_NAMES = 1000
"""Names among which the nearest is looked for; in a longer list that would take too long."""
YES, NO = {"yes", "on", "true", "y"}, {"no", "off", "false", "n"}


class Spec(BaseModel):
    """A map in the house file; an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


def wrong(found: str, allowed: str, hint: str = "") -> PydanticCustomError:
    """An error that the reader turns into a ``InvalidValue``."""
    return PydanticCustomError("error", "{found}", {"found": found, "allowed": allowed, "hint": hint})


def nearest(word: object, words: Iterable[str]) -> str:
    """``Did you mean ...?`` for the nearest valid name, or nothing."""
    if not isinstance(word, str):
        return ""
    names = {str(w).lower(): str(w) for w in words}
    if len(names) > MOST_NAMES:
        return ""
    asked = word[:60].lower()
    close = difflib.get_close_matches(asked, list(names), n=3, cutoff=0.55)
    # The first letters are seldom wrong: "slides" is nearer to sliding than to lid.
    best = max(close, key=lambda name: name[:2] == asked[:2], default="")
    return f"Did you mean {names[best]}?" if best else ""


def listed(words: Iterable[str], most: int = 14) -> str:
    """Names with commas; long lists are cut short, and say so."""
    names = [str(w) for w in words]
    if len(names) <= most:
        return ", ".join(names) or "there is none in this file"
    return ", ".join(names[:most]) + f" and {len(names) - most} more"


def number_text(value: float, quantity: str) -> str:
    """A limit with its unit, as in messages."""
    if quantity == "share":
        return f"{value * 100:g} %"
    return f"{value:g} {QUANTITIES[quantity].unit}".strip()


def likely_unit(value: float, low: float, high: float, usual_m: float) -> str:
    """The unit of length in which a number comes nearest to what a key usually says, or nothing."""
    units = {"mm": 1e-3, "cm": 1e-2, "in": 0.0254, "ft": 0.3048}
    fits = {unit: value * metres for unit, metres in units.items() if low <= value * metres <= high}
    return min(fits, key=lambda unit: abs(math.log(fits[unit] / usual_m)), default="")


def in_range(
    value: float,
    quantity: str,
    low: float,
    high: float,
    above: bool = False,
    usual: float | None = None,
    said: object = None,
) -> float:
    """The value itself, or an error with the limits in it; ``usual`` helps to guess a unit that what was ``said``
    leaves out."""
    if low <= value <= high and not (above and value == low):
        return value
    start = "more than" if above else "from"
    allowed = f"{start} {number_text(low, quantity)} to {number_text(high, quantity)}"
    hint = ""
    if quantity == "length" and value > high and likely_unit(value, low, high, usual or 2.0):
        hint = f"Is it {value:g} {likely_unit(value, low, high, usual or 2.0)}?"
    elif quantity == "share" and 1.0 < value <= 100.0 and "%" not in str(said):
        hint = f"Is it {value:g} %?"
    elif quantity == "flow" and value > high:
        hint = f"Is it {value:g} cfm or {value:g} m3/h?"
    elif value < low == 0.0:
        hint = "It cannot be negative"
    elif quantity == "length" and 0.0 < value < low:
        hint = "Check the unit"
    raise wrong(number_text(value, quantity), allowed, hint)


def quantity(name: str, low: float, high: float, above: bool = False, usual: float | None = None) -> BeforeValidator:
    """Validator of a quantity between two limits, and what it usually is (in the unit inside)."""

    def check(value: Any, info: ValidationInfo) -> float:
        try:
            number = parse_quantity(value, name)
        except UnitError as error:
            raise wrong(error.found, error.allowed, error.hint) from None
        note_plain(value, name, info)
        return in_range(number, name, low, high, above, usual, value)

    return BeforeValidator(check)


PLAIN_NUMBERS = "numbers without a unit"


def note_plain(value: Any, name: str, info: ValidationInfo) -> None:
    """Note a key whose quantity is given without a unit, if the validation context keeps a list of them.

    Zero is noted for temperatures alone: zero of anything else is the same in all units.
    """
    plain: dict[str, Any] = (info.context or {}).get(PLAIN_NUMBERS, {})
    if name in plain and is_plain(value) and (name == "temperature" or float(value) != 0.0):
        plain[name][str(info.field_name).replace("_", " ")] = None


def is_plain(value: Any) -> bool:
    """True for a number without a unit, also where it is quoted."""
    if isinstance(value, str):
        return re.fullmatch(r"\s*[-+]?(?:\d+\.?\d*|\.\d+)\s*", value) is not None
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def to_bool(value: Any) -> bool:
    """yes and no, in any spelling."""
    if isinstance(value, bool):
        return value
    word = value.strip().lower() if isinstance(value, str) else ""
    if word in YES | NO:
        return word in YES
    raise wrong(describe(value), "yes or no")


def one_of(words: Iterable[str]) -> PlainValidator:
    """Validator of one word out of a few."""
    choices = tuple(words)

    def check(value: Any) -> str:
        word = " ".join(value.lower().split()) if isinstance(value, str) else value
        if isinstance(word, str) and word in choices:
            return word
        raise wrong(describe(value), listed(choices), nearest(value, choices))

    return PlainValidator(check)


def text_of(value: Any) -> str:
    """A short text; a number is taken as written."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)) or len(str(value)) > 300:
        raise wrong(describe(value), "a text")
    return str(value)


def known(what: str) -> BeforeValidator:
    """Validator of a name that stands elsewhere in the file; the names come with the validation context."""

    def check(value: Any, info: ValidationInfo) -> str:
        names: dict[str, Any] = (info.context or {}).get(what, {})
        name = text_of(value)
        if name in names:
            return name
        raise wrong(describe(value), f"one of the {what}: {listed(names)}", nearest(name, names))

    return BeforeValidator(check)


def to_bearing(value: Any) -> float:
    """A compass bearing in degrees, or a word such as ``south-west``."""
    try:
        return parse_bearing(value)
    except UnitError as error:
        raise wrong(error.found, error.allowed, error.hint) from None


@dataclass(frozen=True)
class Amount:
    """How far something is open: ``share`` (of the way), ``angle`` [deg] or ``length`` (a gap) [m]."""

    kind: str
    value: float


def to_amount(value: Any) -> Amount:
    """yes, no, a share, an angle or a gap."""
    word = value.strip().lower() if isinstance(value, str) else value
    if isinstance(word, bool) or (isinstance(word, str) and word in YES | NO | {"open", "shut"}):
        return Amount("share", 1.0 if word is True or word in YES or word == "open" else 0.0)
    try:
        kind, number = quantity_kind(value, ("share", "angle", "length"))
    except UnitError as error:
        raise wrong(error.found, f"{error.allowed}, or yes or no", error.hint) from None
    limits = {"share": 1.0, "angle": 180.0, "length": 5.0}
    return Amount(kind, in_range(number, kind, 0.0, limits[kind], said=value))


def listed_or_one(value: Any) -> Any:
    """One name stands for a list of one; nothing for an empty list; no name stands twice."""
    items = [] if value is None else value if isinstance(value, list) else [value]
    for i, item in enumerate(items):
        if isinstance(item, str) and item in items[:i]:
            raise wrong(f"{item} a second time", "each name once")
        if i >= MOST_NAMES:
            raise wrong(describe(items), f"at most {MOST_NAMES}")
    return items


def exactly(count: int, words: str) -> Callable[[Any], Any]:
    """Validator of a list with so many items."""

    def check(value: Any) -> Any:
        if isinstance(value, list) and len(value) == count:
            return value
        hint = ""
        if isinstance(value, list) and len(value) > count:
            hint = 'A decimal comma needs quotes inside brackets: "2,5 m"; or write a point: 2.5 m'
        raise wrong(describe(value), words, hint)

    return check


Coordinate = Annotated[float, quantity("length", -500.0, 500.0)]
Size = Annotated[float, quantity("length", 0.0, 200.0, above=True, usual=4.0)]
FrameSize = Annotated[float, quantity("length", 0.01, 20.0, usual=1.2)]
PlanPoint = Annotated[
    tuple[Coordinate, Coordinate], BeforeValidator(exactly(2, "two lengths: [right, up] on the plan"))
]
Share = Annotated[float, quantity("share", 0.0, 1.0)]
Bearing = Annotated[float, BeforeValidator(to_bearing)]
YesNo = Annotated[bool, BeforeValidator(to_bool)]
Text = Annotated[str, BeforeValidator(text_of)]
OpenAmount = Annotated[Amount, PlainValidator(to_amount)]


PLACES = "rooms, or outdoors"


def word_or(words_key: str, name: str, low: float, high: float) -> BeforeValidator:
    """Validator of a figure in a range, or of a word that stands for one (``words_key`` in the context)."""

    def check(value: Any, info: ValidationInfo) -> float:
        words: dict[str, float] = (info.context or {}).get(words_key, {})
        if isinstance(value, str) and value.strip().lower() in words:
            return words[value.strip().lower()]
        return word_or_figure(value, words, name, low, high)

    return BeforeValidator(check)


def word_or_figure(value: Any, words: dict[str, float], name: str, low: float, high: float) -> float:
    """A figure in a range; otherwise an error that lists the words too."""
    figure = f"a number from {low:g} to {high:g}" if name in ("share", "number") else QUANTITIES[name].examples
    try:
        number = parse_quantity(value, name)
    except UnitError as error:
        raise wrong(error.found, f"{', '.join(words)}, or {figure}", nearest(value, words)) from None
    if not low <= number <= high:
        limits = f"from {number_text(low, name)} to {number_text(high, name)}"
        raise wrong(number_text(number, name), f"{', '.join(words)}, or {figure}, {limits}")
    return number


def to_threads(value: Any) -> tuple[float, float]:
    """``18x16`` threads an inch, both ways."""
    match = (
        re.fullmatch(r"\s*(\d{1,3}(?:\.\d+)?)\s*[x×]\s*(\d{1,3}(?:\.\d+)?)\s*", value)
        if isinstance(value, str)
        else None
    )
    if match is None:
        raise wrong(describe(value), 'threads an inch both ways, such as "18x16"')
    first, second = float(match[1]), float(match[2])
    for count in (first, second):
        if not 4.0 <= count <= 100.0:
            raise wrong(f"{count:g} threads an inch", "from 4 to 100 threads an inch")
    return first, second


def to_joins(value: Any, info: Any) -> tuple[str, str]:
    """The two places that an opening joins."""
    names: dict[str, Any] = (info.context or {}).get(PLACES, {})
    pair = exactly(2, "two places: [room, room] or [room, outdoors]")(value)
    for place in pair:
        if not isinstance(place, (str, int)) or str(place) not in names:
            raise wrong(describe(place), f"one of the {PLACES}: {', '.join(list(names)[:20])}", nearest(place, names))
    first, second = str(pair[0]), str(pair[1])
    if first == second:
        raise wrong(f"{first} twice", "two different places")
    return (second, first) if first == "outdoors" else (first, second)


def to_wall(value: Any) -> str | int:
    """A wall: a word of the plan or the number of an edge."""
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 100:
        return value
    words = ("north", "south", "east", "west")
    word = value.strip().lower() if isinstance(value, str) else ""
    if word.isdigit() and 1 <= int(word[:4]) <= 100:
        return int(word)
    if word in words or word.replace(" ", "-") in ("north-east", "north-west", "south-east", "south-west"):
        return word.replace(" ", "-")
    raise wrong(
        describe(value),
        "north (top of the plan), south, east, west, or the number of an edge",
        nearest(value, words),
    )


def to_slope(value: Any) -> str:
    """The way that a slope of the roof faces, by a word of the plan."""
    words = ("north", "south", "east", "west", "north-east", "north-west", "south-east", "south-west")
    word = value.strip().lower().replace(" ", "-") if isinstance(value, str) else ""
    if word in words:
        return word
    raise wrong(describe(value), f"where the slope faces on the plan: {', '.join(words)}", nearest(value, words))


def to_setting(value: Any) -> Any:
    """A setting as a share of the highest speed, as a flow, or as a map."""
    if isinstance(value, dict):
        return value
    if value is None:
        return {"speed": 1.0}
    try:
        kind, number = quantity_kind(value, ("share", "flow"))
    except UnitError as error:
        raise wrong(error.found, error.allowed, error.hint) from None
    return {"speed" if kind == "share" else "flow": number}


COMPASS_WORDS = "[nesw]{1,3}|(?:(?:north|east|south|west)[- ]?){1,3}"


SPEED_FROM = re.compile(r"(.{1,30}?)\s+from\s+(?:the\s+)?(.{1,30})", re.IGNORECASE)


SPEED_BEARING = re.compile(
    rf"(.{{1,20}}?[a-z].{{0,10}}?)\s+({COMPASS_WORDS}|\d{{1,3}}(?:\.\d+)?\s*(?:deg(?:rees?)?|°)?)", re.IGNORECASE
)
"""Speed with its unit, then where the wind comes from, without the word between them."""


def to_wind(value: Any) -> Any:
    """``3 m/s from 240``, ``10 km/h SW`` or ``calm`` as a map."""
    if not isinstance(value, str):
        return value
    if value.strip().lower() in ("calm", "none", "no"):
        return {"speed": 0.0}
    text = value.strip()
    match = SPEED_FROM.fullmatch(text) or SPEED_BEARING.fullmatch(text)
    if match is None:
        allowed = 'calm, "3 m/s from 240 deg", "3 m/s south-west", or {speed: 3 m/s, from: south-west}'
        raise wrong(describe(value), allowed)
    bearing: Any = match[2]
    return {"speed": match[1], "from": bearing}


def to_open(value: Any) -> Any:
    """Names alone are opened as far as they go."""
    if value is None or isinstance(value, dict):
        return value or {}
    result: dict[str, Any] = {}
    for name in listed_or_one(value):
        if isinstance(name, (dict, list)):
            raise wrong(describe(name), "names in a list, or a map {name: share}")
        result[str(name)] = True
    return result


def to_screens(value: Any) -> Any:
    """on, off, or the names of the openings whose screen is in place."""
    word = value.strip().lower() if isinstance(value, str) else value
    if isinstance(word, bool):
        return "on" if word else "off"
    if word in ("on", "yes"):
        return "on"
    if word in ("off", "no", "none"):
        return "off"
    return listed_or_one(value)


def check_screens(value: Any, info: Any) -> Any:
    """Names must be openings."""
    names: dict[str, Any] = (info.context or {}).get("openings", {})
    value = to_screens(value)
    if isinstance(value, str):
        return value
    for name in value:
        if not isinstance(name, str) or name not in names:
            allowed = f"on, off, or names of openings: {listed(names)}"
            raise wrong(describe(name), allowed, nearest(name, [*names, "on", "off"]))
    return tuple(value)


def to_indoors(value: Any) -> Any:
    """A temperature alone as a map."""
    return value if isinstance(value, (dict, type(None))) else {"temperature": value}


def to_tilts(value: Any) -> tuple[float, float]:
    """How far a fan tilts: no, or the lowest and the highest angle."""
    if value is False or (isinstance(value, str) and value.strip().lower() in (*NO, "none")):
        return 0.0, 0.0
    allowed = "no, or the lowest and the highest angle, up being positive: [-10 deg, 30 deg]"
    try:
        low, high = (parse_quantity(angle, "angle") for angle in value) if isinstance(value, list) else (1.0, 0.0)
    except (UnitError, ValueError):
        raise wrong(describe(value), allowed) from None
    if not -90.0 <= low <= high <= 90.0:
        raise wrong(f"{low:g} to {high:g} deg" if isinstance(value, list) else describe(value), allowed)
    return low, high


CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?\s*(?:h|o'clock|(am|pm|a\.m\.|p\.m\.))?", re.IGNORECASE)


def to_clock(value: Any) -> float:
    """A time of day as hours after midnight: ``22:30``, ``10:30 pm`` or ``22``."""
    match = CLOCK.fullmatch(str(value).strip()) if isinstance(value, (str, int)) else None
    if match is not None:
        hour, minute, half = int(match[1]), int(match[2] or 0), (match[3] or "")[:1].lower()
        if minute < 60 and (1 <= hour <= 12 if half else hour <= 24) and 60 * hour + minute <= 1440:
            return (hour % 12 + (12 if half == "p" else 0) if half else hour % 24) + minute / 60.0
    raise wrong(describe(value), "a time of day such as 22:30 or 10:30 pm")


def in_words(words_key: str, choices: Iterable[str]) -> PlainValidator:
    """Validator of one word out of a few, or of another word for it (``words_key`` in the context)."""
    allowed = tuple(choices)

    def check(value: Any, info: ValidationInfo) -> str:
        words: dict[str, str] = (info.context or {}).get(words_key, {})
        word = " ".join(value.lower().replace("-", " ").split()) if isinstance(value, str) else ""
        if word in allowed or words.get(word) in allowed:
            return word if word in allowed else words[word]
        raise wrong(describe(value), listed(allowed), nearest(value, (*allowed, *words)))

    return PlainValidator(check)


def with_usual_words(data: Any, info: ValidationInfo) -> Any:
    """An opening with ``kind`` and ``sash`` in the file's own words where it has other words of the trade for them."""
    kinds: dict[str, dict[str, str]] = (info.context or {}).get("kind words", {})
    sashes: dict[str, str] = (info.context or {}).get("sash words", {})
    if not isinstance(data, dict):
        return data
    plain = {key: " ".join(str(data[key]).lower().replace("-", " ").split()) for key in ("kind", "sash") if key in data}
    changed = dict(kinds.get(plain.get("kind", ""), {}))
    if plain.get("sash") in ("tilt and turn", "tilt turn"):
        raise wrong(describe(data["sash"]), "side hinged where it is turned open, bottom hinged where it is tilted")
    if plain.get("sash", "") in sashes:
        changed["sash"] = sashes[plain["sash"]]
    elif "sash" in data:
        changed.pop("sash", None)
    return {**data, **changed}
