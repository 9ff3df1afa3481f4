"""Intervals of a solved state, as the text of a report."""

from __future__ import annotations

from ventplan.advice.intervals import FlowIntervals, Interval
from ventplan.house.units import System
from ventplan.show.sure_tables import TO_KNOW, percent
from ventplan.show.words import number, per_hour

LEAST_DOUBT = 0.05
"""Smaller shares of the doubt are not named [-]."""

Table = tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]
"""Heads, and rows of cells."""


class Ranges:
    """Intervals of one state, as text."""

    def __init__(self, intervals: FlowIntervals) -> None:
        self.intervals = intervals
        self._known: dict[tuple[str, str], Interval] = {
            (q.kind, q.name): i for q, i in zip(intervals.quantities, intervals.intervals, strict=True)
        }

    def find(self, kind: str, name: str = "") -> Interval | None:
        """The interval of a quantity, or None where it has none."""
        return self._known.get((kind, name))

    def text(self, kind: str, name: str, quantity: str, system: System, *, factor: float = 1.0) -> str:
        """From and to, in the order of their sizes, without a unit; empty where there is no interval."""
        found = self.find(kind, name)
        if found is None or found.method == "certain":
            return "–"
        low, high = (plain(v, quantity, system) for v in sorted((found.low * factor, found.high * factor)))
        return f"{low} to {high}" if low != high else "–"

    def unsure(self) -> Table:
        """What makes the air from outdoors unsure, the largest part first, and what to do about it."""
        found = self.find("air from outdoors")
        budget = [(group, share) for group, share in (found.budget if found else ()) if share >= LEAST_DOUBT]
        rows = tuple((group, percent(share), TO_KNOW.get(group, "")) for group, share in budget)
        return ("what is not known well", "its part", "what to do about it"), rows


def plain(value: float, quantity: str, system: System) -> str:
    """A value without its unit; an air change rate [1/h] as it is."""
    return per_hour(value) if quantity == "air change" else number(value, quantity, system)
