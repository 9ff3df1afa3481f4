"""The text in hand, read as far as it can be: what has a mistake is left out, and the mistake says where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ventplan.errors import InputError, Mistake
from ventplan.house import House
from ventplan.house.read import build_house
from ventplan.house.yaml_text import parse_yaml

EMPTY = """name: {name}
show: si

rooms:

openings:
"""
"""What a house file begins as when it is drawn from nothing."""

NOT_DRAWN_YET = ("no rooms", "no openings")


@dataclass(frozen=True)
class Draft:
    """A text and what was read of it.

    Attributes
    ----------
    text
        The house file.
    data
        Its maps and lists.
    house
        What could be read, or None where the text is no house at all.
    mistakes
        In file order; that nothing has been drawn yet is none.
    """

    text: str
    data: dict[str, Any]
    house: House | None
    mistakes: tuple[Mistake, ...]


def read_draft(text: str, path: Path) -> Draft:
    """Read a text as far as it goes.

    Parameters
    ----------
    text
        A house file, possibly with mistakes.
    path
        Where it is kept, for files beside it.
    """
    try:
        source = parse_yaml(text, str(path))
        if not isinstance(source.data, dict):
            return Draft(text, {}, None, ())
        house = build_house(source, path.parent)
    except InputError as error:
        mistakes = error.mistakes or (Mistake("the file", str(error), "a house file"),)
        return Draft(text, {}, None, mistakes)
    found = tuple(m for m in source.in_order() if m.found not in NOT_DRAWN_YET)
    return Draft(text, source.data, house, found)


def new_mistakes(before: Draft, after: Draft, keys: Sequence[str]) -> tuple[Mistake, ...]:
    """Mistakes that a change brought to the thing it changed, or to the text as a whole.

    Parameters
    ----------
    before, after
        The text before and after.
    keys
        Paths of what was changed, parts joined by " > ".
    """
    old = {(m.key, m.found) for m in before.mistakes}
    fresh = [m for m in after.mistakes if (m.key, m.found) not in old]
    if after.house is None and before.house is not None:
        return tuple(fresh) or after.mistakes
    return tuple(m for m in fresh if any(_meet(m.key, key) for key in keys))


def _meet(one: str, other: str) -> bool:
    """True where one path is the other or leads to it."""
    return f"{one} > ".startswith(f"{other} > ") or f"{other} > ".startswith(f"{one} > ")
