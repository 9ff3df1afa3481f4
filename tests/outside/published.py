"""Reads the published values that the tests in this folder check against.

Each file in ``data/`` is a list of checks. A check says what it claims, the function that computes it and its
arguments (SI), the value expected, a relative or absolute tolerance with what it stands for, the source, and
a mark: ``verified`` (read in the source), ``second hand`` (read where another text quotes it), ``from
memory``, or ``derived`` (algebra from published formulas).
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

MARKS = {"verified", "second hand", "from memory", "derived"}


@dataclass(frozen=True)
class Check:
    """One published value."""

    claim: str
    function: str
    expected: Any
    tolerance: float
    tolerance_is: str
    source: str
    mark: str
    arguments: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        assert self.mark in MARKS, self.mark
        assert self.tolerance_is.split()[0] in {"relative,", "absolute,"}, "say which, and what it stands for"

    def holds_for(self, module: ModuleType) -> None:
        """Compute the value with the named function of a module and compare."""
        computed = getattr(module, self.function)(**self.arguments)
        kind = "rel" if self.tolerance_is.startswith("relative") else "abs"
        assert computed == pytest.approx(self.expected, **{kind: self.tolerance}), self.source


def published(name: str) -> list[Any]:
    """The checks of ``data/<name>.toml``, as parameters named after their claims."""
    with (Path(__file__).parent / "data" / f"{name}.toml").open("rb") as file:
        checks = [Check(**entry) for entry in tomllib.load(file)["check"]]
    return [pytest.param(check, id=check.claim) for check in checks]
