"""How measured figures are shown: value, 95 % interval, and where the uncertainty comes from."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ventplan.house.units import System
    from ventplan.measure.uncertainty import Estimate

Row = tuple[str, "Estimate | None", str]
"""Name, figure, and its quantity for the units; an empty quantity is a plain number."""


def jsonable(value: Any) -> Any:
    """Like the record itself, with every estimate as value, uncertainty, degrees of freedom and 95 %
    interval."""
    from ventplan.measure.uncertainty import Estimate

    if isinstance(value, Estimate):
        return value.as_dict()
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: jsonable(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {key: jsonable(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [jsonable(item) for item in value]
    return value


def figure(value: float, quantity: str, system: System) -> str:
    """A value as people read it; an empty quantity is a plain number with three digits."""
    from ventplan.house.shown import show

    return show(value, quantity, system) if quantity else f"{value:.3g}".replace("-", "−")


def signed(value: float, decimals: int = 1) -> str:
    """A number with its sign, the minus being the one of all tables."""
    return f"{value:+.{decimals}f}".replace("-", "−")


def interval(low: float, high: float, quantity: str, system: System) -> str:
    """Both ends of an interval; the unit once where it is the same."""
    first, last = figure(low, quantity, system), figure(high, quantity, system)
    head, _, unit = first.partition(" ")
    return f"{head if unit and last.partition(' ')[2] == unit else first} to {last}"


def print_estimates(title: str, rows: Iterable[Row], system: System, *, budget: bool = True) -> None:
    """A table of figures with their 95 % intervals, and the largest part of each uncertainty.

    A figure whose interval reaches down to nothing is not known, and the table says so in its place.
    """
    from rich.table import Table

    from ventplan.cli.output import console

    table = Table(title=title, title_justify="left", box=None, pad_edge=False)
    for head in ("", "value", "95 % interval", "±", *(("most of it from",) if budget else ())):
        table.add_column(head, justify="left" if head in ("", "most of it from") else "right")
    for name, estimate, quantity in rows:
        if estimate is None:
            continue
        low, high = estimate.interval
        half = (high - low) / 2.0 / abs(estimate.value) if estimate.value else float("nan")
        cells = [
            name,
            figure(estimate.value, quantity, system) if not low <= 0.0 < estimate.value else "not known",
            interval(low, high, quantity, system),
            "–" if not half < 10.0 else f"{half:.0%}" if half >= 0.0095 else "<1%",
        ]
        largest = max(estimate.budget, key=lambda share: share.standard, default=None)
        if budget:
            cells.append(largest.name if largest and largest.standard > 0.0 else "")
        table.add_row(*cells)
    console().print(table)


def print_notes(notes: Iterable[str]) -> None:
    """Notes, one to a paragraph."""
    from ventplan.cli.output import console

    for note in notes:
        console().print(f"- {note}")


def name_readings(numbers: Iterable[int], lines: Sequence[int], what: str) -> list[str]:
    """A sentence that names readings by their lines in the file; nothing for none."""
    places = [str(lines[number]) for number in numbers]
    return [f"{what}: line{'s' if len(places) > 1 else ''} {', '.join(places)}."] if places else []
