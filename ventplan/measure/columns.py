"""What files of readings have in common: an anemometer's columns, and cells that say less than they seem to."""

from __future__ import annotations

import numpy as np

from ventplan.errors import InputError, Mistake
from ventplan.house.table import Column, Table
from ventplan.measure.anemometer import Indication
from ventplan.measure.uncertainty import Array

SPEEDS = (
    Column("speed", "speed", required=False, lowest=0.0, highest=60.0),
    Column("pulses", "number", required=False, lowest=0.0),
    Column("counting time", "time", required=False, lowest=0.1),
)
"""What an anemometer shows: a speed, or pulses over the time they were counted."""

MERGED = "Write it in every row: merged cells are empty below their first row once they are saved as CSV"


def column_of(table: Table, name: str) -> Array:
    """A column of numbers, shape (rows,); nan where a cell is empty."""
    return np.array(table.numbers[name])


def mistake_in(table: Table, key: str, found: str, allowed: str, row: int | None = None, hint: str = "") -> InputError:
    """A mistake in a table, at one of its rows counted from 0."""
    line = None if row is None else table.lines[row]
    return InputError([Mistake(key, found, allowed, hint, table.path, line)])


def indications(table: Table, name: str = "speed") -> tuple[Array, Indication]:
    """What the anemometer showed in each row, shape (rows,) [m/s or Hz], and which of the two.

    Raises
    ------
    InputError
        Where a row has neither a speed nor pulses with their time.
    """
    speed, pulses, time = (column_of(table, key) for key in (name, "pulses", "counting time"))
    if np.isfinite(pulses).any():
        bad = np.flatnonzero(~np.isfinite(pulses) | ~np.isfinite(time))
        if bad.size:
            raise mistake_in(table, "pulses", "pulses or time missing", "both in every row", int(bad[0]))
        return pulses / time, "Hz"
    bad = np.flatnonzero(~np.isfinite(speed))
    if bad.size:
        allowed = f"what the anemometer showed: {name}, or pulses and counting time, in every row"
        hint = "0 says that the vane stood still; take out the row of a reading that was not taken"
        raise mistake_in(table, name, "an empty cell", allowed, int(bad[0]), hint)
    return speed, "m/s"


def blank_below(table: Table, name: str) -> list[int]:
    """Rows with nothing in a column of words that an earlier row fills: a merged cell, or left out."""
    words = table.words[name]
    first = next((row for row, word in enumerate(words) if word), len(words))
    return [row for row in range(first, len(words)) if not words[row]]
