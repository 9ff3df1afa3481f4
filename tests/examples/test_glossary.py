"""The names in the glossary are names in the code."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "glossary.md").read_text("utf-8")
CODE = "\n".join(path.read_text("utf-8") for path in (ROOT / "ventplan").rglob("*.py"))


def names(page: str) -> list[str]:
    """The names in the column of that title."""
    rows = re.findall(r"^\| [^|]+ \| ([^|]+) \| [^|]+ \| [^|]+ \|$", page, flags=re.MULTILINE)
    return re.findall(r"`(\w+)`", " ".join(rows))


def unknown(page: str) -> list[str]:
    """Names that no code has."""
    words = set(re.findall(r"\w+", CODE))
    return [name for name in names(page) if name not in words]


def test_names_of_the_glossary_are_names_in_the_code() -> None:
    assert len(names(PAGE)) > 80
    assert unknown(PAGE) == []


def test_a_name_that_no_code_has_is_found() -> None:
    assert unknown("| thrust | `force_of_the_fan_n` | T | N |") == ["force_of_the_fan_n"]
