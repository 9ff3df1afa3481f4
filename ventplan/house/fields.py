"""Field types of the house file for ``pydantic``: quantities with a range, words with nearest names."""

from __future__ import annotations

import difflib
import math
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
        return ", ".join(names) or "none: there is none in this file"
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

    def check(value: Any) -> float:
        try:
            number = parse_quantity(value, name)
        except UnitError as error:
            raise wrong(error.found, error.allowed, error.hint) from None
        return in_range(number, name, low, high, above, usual, value)

    return BeforeValidator(check)


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
