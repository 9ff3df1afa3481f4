"""Tables for the terminal: plain, at most 80 columns wide, and readable without colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import RenderableType


WIDTH = 80
"""Columns that a table may take; a wide one gives up room between its columns before its words are broken."""


def cell_width(text: str) -> int:
    """Columns that a text takes on a terminal."""
    from rich.cells import cell_len

    return max(map(cell_len, text.splitlines()), default=0)


def table(title: str, columns: Sequence[str], rows: Iterable[Sequence[str]], *, words: int = 1) -> RenderableType:
    """A table whose first ``words`` columns hold words and the others numbers.

    Parameters
    ----------
    title
        Line above it; may be empty.
    columns
        Heads of the columns.
    rows
        Text of the cells.
    words
        How many columns hold words, and are set to the left.
    """
    from rich import box
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    cells = [tuple(columns), *(tuple(row) for row in rows)]
    widest = sum(max(cell_width(row[i]) for row in cells) for i in range(len(columns)))
    gaps = len(columns) - 1
    close = widest + 3 * gaps > WIDTH
    tight = widest + 2 * gaps > WIDTH
    made = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, collapse_padding=close,
                 padding=(0, 0) if tight else (0, 1))  # fmt: skip
    for i in range(len(columns)):
        made.add_column(justify="left" if i < words else "right", overflow="fold")
    for row in cells[1:]:
        made.add_row(*(f"{cell} " if tight and i < words else cell for i, cell in enumerate(row)))
    for i, head in enumerate(columns):
        made.columns[i].header = f"{head} " if tight and i < words else head
    return Group(Text(""), Text(title, style="bold"), made) if title else made


def paragraphs(head: str, lines: Iterable[str]) -> RenderableType:
    """A head with lines below it, each hung under a dash."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    hung = Table.grid(padding=(0, 1, 0, 0))
    for line in lines:
        hung.add_row(" -", Text(line))
    return Group(Text(head, style="bold"), hung)


def sign_word(value: float, positive: str, negative: str, none: str = "still") -> str:
    """A word for the sign of a number."""
    if abs(value) < 5e-5:
        return none
    return positive if value > 0.0 else negative
