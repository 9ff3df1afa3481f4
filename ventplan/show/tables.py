"""Tables for the terminal: plain, at most 80 columns wide, and readable without colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import RenderableType


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

    made = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False)
    for i, column in enumerate(columns):
        made.add_column(column, justify="left" if i < words else "right", overflow="fold")
    for row in rows:
        made.add_row(*row)
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
