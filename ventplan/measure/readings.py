"""Readings of an anemometer as a person types them: CSV files to the arguments of the measuring functions.

Every file may have further columns (notes, who, when); they are left alone. Units stand in the headings or
in the cells. A vane that stood still is a 0; a place that was not read has no row.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ventplan.errors import InputError, InvalidValue
from ventplan.house.table import Column, Table, read_table
from ventplan.house.units import QUANTITIES, UnitError, tidy_unit, unit_factor
from ventplan.measure.anemometer import Indication
from ventplan.measure.opening import PlaceReading
from ventplan.measure.statistics import average, uneven_steps
from ventplan.measure.uncertainty import Array, from_repeats

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


def error_in(table: Table, key: str, found: str, allowed: str, row: int | None = None, hint: str = "") -> InputError:
    """An error in a table, at one of its rows counted from 0."""
    line = None if row is None else table.lines[row]
    return InputError([InvalidValue(key, found, allowed, hint, table.path, line)])


def indications_or_none(table: Table, name: str = "speed") -> tuple[Array, Indication]:
    """Like ``indications``, with nan in rows that have neither a speed nor pulses."""
    speed, pulses, time = (column_of(table, key) for key in (name, "pulses", "counting time"))
    return (pulses / time, "Hz") if np.isfinite(pulses).any() else (speed, "m/s")


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
            raise error_in(table, "pulses", "pulses or time missing", "both in every row", int(bad[0]))
        return pulses / time, "Hz"
    bad = np.flatnonzero(~np.isfinite(speed))
    if bad.size:
        allowed = f"what the anemometer showed: {name}, or pulses and counting time, in every row"
        hint = "0 says that the vane stood still; take out the row of a reading that was not taken"
        raise error_in(table, name, "an empty cell", allowed, int(bad[0]), hint)
    return speed, "m/s"


Units = Mapping[str, str]
"""Unit of the numbers that have none, by quantity; SI where a quantity is left out."""

_IMPLAUSIBLE: dict[str, Callable[[Array], bool]] = {
    "speed": lambda values: bool(values.max() > 30.0),
    "indicated": lambda values: bool(values.max() > 30.0),
    "reference": lambda values: bool(values.max() > 30.0),
    # A walk down a jet begins within a metre or so of the fan, and ends before the room does.
    "distance": lambda values: bool(values.max() > 8.0 or values.min() >= 2.0),
    "offset": lambda values: bool(np.abs(values).max() > 3.0),
    "across": lambda values: bool(values.max() > 6.0),
    "up": lambda values: bool(values.max() > 6.0),
}
"""Values that are hardly in SI where nobody wrote a unit (a judgement)."""


def unit_notes(table: Table, columns: Sequence[Column], units: Units, *, asked: Sequence[str]) -> list[str]:
    """What numbers without a unit were taken in.

    Parameters
    ----------
    table
        The table as read.
    columns
        Its columns.
    units
        Units that were set for numbers without one.
    asked
        Columns whose values must be plausible in SI, where no unit was set.

    Raises
    ------
    InputError
        Where they are not: whoever typed them is asked for the unit.
    """
    kinds = {column.name: column.quantity for column in columns}
    taken: dict[str, list[str]] = {}
    for name in table.bare:
        kind = kinds[name]
        values = column_of(table, name)
        values = values[np.isfinite(values)]
        if name in asked and kind not in units and values.size and _IMPLAUSIBLE[name](values):
            example = {"length": "ft", "speed": "ft/min"}[kind]
            found = f"numbers without a unit, {values.min():g} to {values.max():g}, which are implausible in SI units"
            hint = f"In US units, say --units {example} or write the heading as `{name} [{example}]`; if they are SI, "
            hint += f"write `{name} [{QUANTITIES[kind].unit}]`"
            raise error_in(table, name, found, f"the unit of `{name}`", None, hint)
        unit = tidy_unit(units[kind]) if kind in units else QUANTITIES[kind].unit
        taken.setdefault(unit, []).append(name)
    if not taken:
        return []
    said = "; ".join(f"{' and '.join(names)} in {unit}" for unit, names in taken.items())
    return [f"Numbers without a unit were taken as: {said}."]


def parse_units(text: str) -> Units:
    """Units for numbers that have none, such as ``ft,ft/min``: one for each kind of quantity.

    Raises
    ------
    InputError
        For a word that is no unit of what people measure, or two for one quantity.
    """
    units: dict[str, str] = {}
    for word in (part.strip() for part in text.split(",")):
        kinds = [kind for kind in ("length", "speed", "force", "flow", "time", "area") if _is_unit_of(word, kind)]
        if word in READING.alike:
            kinds = ["force"]
        if not kinds or kinds[0] in units:
            allowed = "units with commas between, one for each quantity, such as ft,ft/min"
            raise InputError([InvalidValue("--units", f'"{word}"', allowed)])
        units[kinds[0]] = word
    return units


def _is_unit_of(word: str, kind: str) -> bool:
    try:
        unit_factor(word, kind)
    except UnitError:
        return False
    return True


def blank_below(table: Table, name: str) -> list[int]:
    """Rows with nothing in a column of words that an earlier row fills: a merged cell, or left out."""
    words = table.words[name]
    first = next((row for row, word in enumerate(words) if word), len(words))
    return [row for row in range(first, len(words)) if not words[row]]


@dataclass(frozen=True)
class CalibrationPairs:
    """Indications and references of a calibration; ``indication`` is the unit of the former, ``lines`` their
    lines in the file."""

    indicated: Array
    reference_m_s: Array
    indication: Indication
    lines: tuple[int, ...]
    notes: tuple[str, ...] = ()


def read_calibration_pairs(path: str | Path, *, units: Units | None = None) -> CalibrationPairs:
    """Columns ``indicated`` (or ``pulses`` and ``counting time``), and ``reference`` (or ``distance`` and
    ``time``).

    Raises
    ------
    InputError
        Errors in the file.
    """
    columns = (
        Column("indicated", "speed", required=False, lowest=0.0, highest=60.0),
        *SPEEDS[1:],
        Column("reference", "speed", required=False, lowest=0.0, highest=60.0),
        Column("distance", "length", required=False, lowest=0.01),
        Column("time", "time", required=False, lowest=0.1),
    )
    table = read_table(path, columns, units=units)
    notes = unit_notes(table, columns, units or {}, asked=("indicated", "reference"))
    indicated, unit = indications(table, "indicated")
    # Carried through still air over a known distance, an anemometer needs no other instrument as its
    # reference.
    carried = column_of(table, "distance") / column_of(table, "time")
    reference = np.where(np.isfinite(column_of(table, "reference")), column_of(table, "reference"), carried)
    bad = np.flatnonzero(~np.isfinite(reference))
    if bad.size:
        raise error_in(table, "reference", "an empty cell", "a reference, or distance and time", int(bad[0]))
    return CalibrationPairs(indicated, reference, unit, table.lines, tuple(notes))


FEW = 10.0
"""Independent readings below which the memory of a log is itself known badly (a judgement: in simulated logs worth
four, stated 95 % intervals held the truth in nine of ten)."""


@dataclass(frozen=True)
class OpeningReadings:
    """Readings in an opening by place, their unit, and what the averaging of logged series did."""

    places: tuple[PlaceReading, ...]
    indication: Indication
    notes: tuple[str, ...]


LOGGED = 20
"""Readings at one place from which on they count as a logged series rather than as repeats by hand."""


def read_opening_readings(path: str | Path, *, units: Units | None = None) -> OpeningReadings:
    """Columns ``speed`` (or ``pulses`` and ``counting time``), ``across`` and ``up`` for a traverse.

    Rows at one place are repeats; 20 or more are a logged series, evenly spaced, averaged with its settling
    cut off and its autocorrelation counted.

    Raises
    ------
    InputError
        Errors in the file.
    """
    columns = (
        *SPEEDS,
        Column("across", "length", required=False, lowest=0.0, highest=20.0),
        Column("up", "length", required=False, lowest=0.0, highest=20.0),
        Column("time", required=False),
    )
    table = read_table(path, columns, units=units)
    shown, unit = indications(table)
    across, up = column_of(table, "across"), column_of(table, "up")
    placed = np.isfinite(across) | np.isfinite(up)
    for key, places_m in (("across", across), ("up", up)):
        bad = np.flatnonzero(np.isnan(places_m)) if placed.any() else placed[:0]
        if bad.size:
            raise error_in(table, key, "an empty cell", "across and up in every row, or in none", int(bad[0]), MERGED)
    groups: dict[tuple[float, float], list[float]] = {}
    for x, y, value in zip(np.nan_to_num(across, nan=-1.0), np.nan_to_num(up, nan=-1.0), shown, strict=True):
        groups.setdefault((round(float(x), 3), round(float(y), 3)), []).append(float(value))
    places = []
    notes = unit_notes(table, columns, units or {}, asked=("speed", "across", "up"))
    notes += uneven_steps(table.words["time"]) if len(table.lines) >= LOGGED else []
    for (x, y), values in groups.items():
        where = (math.nan, math.nan) if x < 0.0 else (x, y)
        reading, note = _place_reading(values, where)
        places.append(reading)
        if note:
            notes.append(note)
    return OpeningReadings(tuple(places), unit, tuple(notes))


def _place_reading(values: Sequence[float], where: tuple[float, float]) -> tuple[PlaceReading, str]:
    still = sum(value == 0.0 for value in values) / len(values)
    if len(values) == 1:
        return PlaceReading(values[0], across_m=where[0], up_m=where[1], still_share=still), ""
    if len(values) < LOGGED:
        source = from_repeats("repeats", values)
        standard = float(np.sqrt(source.covariance[0, 0]))
        return PlaceReading(float(source.means[0]), standard, source.degrees, *where, still), ""
    mean = average(values)
    still = sum(value == 0.0 for value in values[mean.settling :]) / mean.kept
    note = (
        f"A logged series of {len(values)} readings: {mean.settling} cut off while settling; neighbours resemble one "
        f"another over {mean.memory:.1f} readings, so that {mean.kept} are worth {mean.effective:.0f}."
        f"{'' if mean.effective >= FEW else ' That is few, and the interval itself is rough: log longer.'}"
    )
    return PlaceReading(mean.mean, mean.standard, mean.degrees, *where, still), note


@dataclass(frozen=True)
class JetReadings:
    """Readings in a jet: along its centre line, and across it by distance (offsets, indications, lines)."""

    distances_m: Array
    indicated: Array
    lines: tuple[int, ...]
    profiles: dict[float, tuple[Array, Array, tuple[int, ...]]]
    indication: Indication
    notes: tuple[str, ...] = ()


def read_jet_readings(path: str | Path, *, units: Units | None = None) -> JetReadings:
    """Columns ``distance`` and ``speed`` (or ``pulses`` and ``counting time``), and ``offset`` for profiles.

    Rows without an offset are the walk down the centre line; rows with one are profiles across, one for each
    distance.

    Raises
    ------
    InputError
        Errors in the file.
    """
    columns = (
        Column("distance", "length", lowest=0.0, highest=50.0),
        *SPEEDS,
        Column("offset", "length", required=False, lowest=-20.0, highest=20.0),
    )
    table = read_table(path, columns, units=units)
    notes = unit_notes(table, columns, units or {}, asked=("distance", "speed", "offset"))
    shown, unit = indications(table)
    distance, offset = column_of(table, "distance"), column_of(table, "offset")
    walking = ~np.isfinite(offset)
    lines = np.array(table.lines)
    profiles = {}
    for place in np.unique(np.round(distance[~walking], 3)):
        here = ~walking & (np.abs(distance - place) < 1e-3)
        profiles[float(place)] = (offset[here], shown[here], tuple(int(n) for n in lines[here]))
    walk_lines = tuple(int(n) for n in lines[walking])
    return JetReadings(distance[walking], shown[walking], walk_lines, profiles, unit, tuple(notes))


MOST_FORCE_N = 150.0
"""Largest believable reading of a kitchen scale [N]."""

READING = Column(
    "reading",
    "force",
    lowest=-MOST_FORCE_N,
    highest=MOST_FORCE_N,
    # What a scale's display says is a mass; what pushes on it is that many gram-force.
    alike={"g": "gf", "kg": "kgf", "oz": "ozf", "lb": "lbf"},
    bare=False,
)
