"""What the steps of the reader hand to each other: the source, what was made so far, and what was assumed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ventplan.house.records import Fan, Obstacle, Opening, Outdoors, PersonAt, Room
from ventplan.house.schema import FileSpec, OpeningSpec
from ventplan.house.yaml_text import Source


@dataclass
class Assumed:
    """Defaults that were used: one sentence each, with the names that share it."""

    names: dict[str, list[str]] = field(default_factory=dict)
    of: dict[str, str] = field(default_factory=dict)

    def note(self, sentence: str, name: str = "", of: str = "") -> None:
        """Note a default; ``of`` is the section the name stands in, such as ``rooms``."""
        here = self.names.setdefault(sentence, [])
        self.of[sentence] = of
        if name:
            here.append(name)

    def sentences(self, totals: dict[str, int]) -> tuple[str, ...]:
        """Every default as a sentence, shared by as many names as there are."""
        result = []
        for sentence, names in self.names.items():
            of = self.of[sentence]
            if not names:
                result.append(sentence)
            elif len(names) > 2 and len(names) == totals.get(of):
                result.append(f"{sentence} for all {of}")
            elif len(names) > 8:
                result.append(f"{sentence} for {', '.join(names[:6])} and {len(names) - 6} more")
            else:
                result.append(f"{sentence} for {', '.join(names)}")
        return tuple(result)


@dataclass
class Job:
    """One reading of one file."""

    source: Source
    folder: Path
    spec: FileSpec
    names: dict[str, dict[str, Any]]
    assumed: Assumed = field(default_factory=Assumed)
    rooms: dict[str, Room] = field(default_factory=dict)
    unplaced: dict[str, Room] = field(default_factory=dict)
    """Rooms whose place on the plan has a mistake and whose height has none: good for checks of height only."""
    clockwise: set[str] = field(default_factory=set)
    openings: dict[str, Opening] = field(default_factory=dict)
    opening_specs: dict[str, OpeningSpec] = field(default_factory=dict)
    obstacles: dict[str, Obstacle] = field(default_factory=dict)
    people_at: dict[str, PersonAt] = field(default_factory=dict)
    fans: dict[str, Fan] = field(default_factory=dict)
    outdoors: Outdoors = field(default_factory=Outdoors)
    remarks: list[str] = field(default_factory=list)

    def report(self, path: Iterable[str | int], found: str, allowed: str, hint: str = "") -> None:
        """Note a mistake."""
        self.source.report(tuple(path), found, allowed, hint)
