"""Timing that a busy machine disturbs little: processor time, least of repeats that take turns."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

BEGIN, END = "<!-- measured -->", "<!-- end -->"


@dataclass(frozen=True)
class Table:
    """One result.

    Attributes
    ----------
    title
        What it shows.
    head, rows
        Column heads and cells.
    note
        How it was measured, and what missed its aim.
    """

    title: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    note: str = ""

    def markdown(self) -> str:
        """The table as Markdown."""
        lines = [f"## {self.title}", "", f"| {' | '.join(self.head)} |", f"|{' --- |' * len(self.head)}"]
        lines += [f"| {' | '.join(row)} |" for row in self.rows]
        return "\n".join([*lines, "", self.note, ""]) if self.note else "\n".join([*lines, ""])


def least(
    *tasks: Callable[[], object], repeats: int = 7, clock: Callable[[], float] = time.process_time
) -> list[float]:
    """Least time of each task over repeats in which the tasks take turns [s].

    Parameters
    ----------
    tasks
        What to time; each is run once before.
    repeats
        How many turns.
    clock
        Processor time of this process, or ``time.perf_counter`` for work in several threads.
    """
    best = [float("inf")] * len(tasks)
    for task in tasks:
        task()
    for _ in range(repeats):
        for i, task in enumerate(tasks):
            start = clock()
            task()
            best[i] = min(best[i], clock() - start)
    return best


def shown(seconds: float) -> str:
    """A time with the unit that suits it."""
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e6:.3g} µs"


def put_into(page: Path, text: str) -> None:
    """Write what was measured between the two marks of a page."""
    head, _, rest = page.read_text("utf-8").partition(BEGIN)
    _, _, tail = rest.partition(END)
    page.write_text(f"{head}{BEGIN}\n\n{text}\n{END}{tail}", "utf-8")
