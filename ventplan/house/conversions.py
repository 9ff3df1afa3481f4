"""What people write in a house file in short, as the maps, pairs and figures that it stands for."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from pydantic import BeforeValidator, PlainValidator, ValidationInfo

from ventplan.house.fields import NO, exactly, listed, listed_or_one, nearest, number_text, wrong
from ventplan.house.units import QUANTITIES, UnitError, describe, parse_quantity, quantity_kind

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
    """A figure in a range; the words are part of the message when it is none."""
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
