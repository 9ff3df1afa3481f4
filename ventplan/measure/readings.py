"""Readings as a person types them: CSV files to the arguments of the measuring functions.

Every file may have further columns (notes, who, when); they are left alone. Units stand in the headings or
in the cells. A vane that stood still is a 0; a reading that was not taken is an empty cell.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ventplan.errors import InputError, Mistake
from ventplan.house.table import Column, Table, read_table
from ventplan.house.units import parse_quantity, split_quantity
from ventplan.measure.anemometer import Indication
from ventplan.measure.opening import PlaceReading
from ventplan.measure.series import average
from ventplan.measure.thrust import STANDARD_GRAVITY_M_S2
from ventplan.measure.uncertainty import Array, from_repeats

_SPEEDS = (
    Column("speed", "speed", required=False, lowest=0.0, highest=60.0),
    Column("pulses", "number", required=False, lowest=0.0),
    Column("counting time", "time", required=False, lowest=0.1),
)


def _column(table: Table, name: str) -> Array:
    return np.array(table.numbers[name])


def _mistake(table: Table, key: str, found: str, allowed: str, row: int | None = None, hint: str = "") -> InputError:
    line = None if row is None else table.lines[row]
    return InputError([Mistake(key, found, allowed, hint, table.path, line)])


def _indications(table: Table, name: str = "speed") -> tuple[Array, Indication]:
    """What the anemometer showed in each row: a speed, or pulses over the time they were counted."""
    speed, pulses, time = (_column(table, key) for key in (name, "pulses", "counting time"))
    if np.isfinite(pulses).any():
        bad = np.flatnonzero(~np.isfinite(pulses) | ~np.isfinite(time))
        if bad.size:
            raise _mistake(table, "pulses", "pulses or time missing", "both in every row", int(bad[0]))
        return pulses / time, "Hz"
    bad = np.flatnonzero(~np.isfinite(speed))
    if bad.size:
        allowed = f"a {name}, or pulses and counting time, in every row"
        raise _mistake(table, name, "an empty cell", allowed, int(bad[0]), "0 says that the vane stood still")
    return speed, "m/s"


@dataclass(frozen=True)
class CalibrationPairs:
    """Indications and references of a calibration; ``indication`` is the unit of the former, ``lines`` their
    lines in the file."""

    indicated: Array
    reference_m_s: Array
    indication: Indication
    lines: tuple[int, ...]


def read_calibration_pairs(path: str | Path) -> CalibrationPairs:
    """Columns ``indicated`` (or ``pulses`` and ``counting time``), and ``reference`` (or ``distance`` and
    ``time``).

    Raises
    ------
    InputError
        Mistakes in the file.
    """
    table = read_table(
        path,
        (
            Column("indicated", "speed", required=False, lowest=0.0, highest=60.0),
            *_SPEEDS[1:],
            Column("reference", "speed", required=False, lowest=0.0, highest=60.0),
            Column("distance", "length", required=False, lowest=0.01),
            Column("time", "time", required=False, lowest=0.1),
        ),
    )
    indicated, unit = _indications(table, "indicated")
    # Carried through still air over a known distance, an anemometer needs no other instrument as its
    # reference.
    carried = _column(table, "distance") / _column(table, "time")
    reference = np.where(np.isfinite(_column(table, "reference")), _column(table, "reference"), carried)
    bad = np.flatnonzero(~np.isfinite(reference))
    if bad.size:
        raise _mistake(table, "reference", "an empty cell", "a reference, or distance and time", int(bad[0]))
    return CalibrationPairs(indicated, reference, unit, table.lines)


@dataclass(frozen=True)
class OpeningReadings:
    """Readings in an opening by place, their unit, and what the averaging of logged series did."""

    places: tuple[PlaceReading, ...]
    indication: Indication
    notes: tuple[str, ...]


LOGGED = 20
"""Readings at one place from which on they count as a logged series rather than as repeats by hand."""


def read_opening_readings(path: str | Path) -> OpeningReadings:
    """Columns ``speed`` (or ``pulses`` and ``counting time``), ``across`` and ``up`` for a traverse.

    Rows at one place are repeats; 20 or more are a logged series, evenly spaced, averaged with its settling
    cut off and its autocorrelation counted.

    Raises
    ------
    InputError
        Mistakes in the file.
    """
    table = read_table(
        path,
        (
            *_SPEEDS,
            Column("across", "length", required=False, lowest=0.0, highest=20.0),
            Column("up", "length", required=False, lowest=0.0, highest=20.0),
            Column("time", "time", required=False),
        ),
    )
    shown, unit = _indications(table)
    across, up = _column(table, "across"), _column(table, "up")
    half = np.flatnonzero(np.isfinite(across) != np.isfinite(up))
    if half.size:
        raise _mistake(table, "across", "half a place", "both across and up, or neither", int(half[0]))
    groups: dict[tuple[float, float], list[float]] = {}
    for x, y, value in zip(np.nan_to_num(across, nan=-1.0), np.nan_to_num(up, nan=-1.0), shown, strict=True):
        groups.setdefault((round(float(x), 3), round(float(y), 3)), []).append(float(value))
    places, notes = [], _uneven(_column(table, "time"))
    for (x, y), values in groups.items():
        where = (math.nan, math.nan) if x < 0.0 else (x, y)
        reading, note = _place_reading(values, where)
        places.append(reading)
        if note:
            notes.append(note)
    return OpeningReadings(tuple(places), unit, tuple(notes))


def _uneven(times: Array) -> list[str]:
    """A note where a log is not evenly spaced in time, as the counting of its memory takes it to be."""
    steps = np.diff(times)
    if steps.size < LOGGED or not np.isfinite(steps).all():
        return []
    usual = float(np.median(steps))
    gaps = int((np.abs(steps - usual) > 0.2 * abs(usual)).sum())
    if gaps == 0:
        return []
    return [f"The log is uneven: {gaps} of {steps.size} steps differ from {usual:g} s; its memory is known less well."]


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
    )
    return PlaceReading(mean.mean, mean.standard, mean.degrees, *where, still), note


@dataclass(frozen=True)
class ScaleReadings:
    """Readings of a scale on one setting, in the order taken."""

    setting: str
    readings_g: Array
    running: tuple[bool, ...]
    reverse: tuple[bool, ...]
    lines: tuple[int, ...]


def read_scale_readings(path: str | Path) -> tuple[ScaleReadings, ...]:
    """Columns ``fan`` (on or off), ``reading`` (in g as the display says, or a force: gf, N...), and where they
    matter ``direction`` and ``setting``.

    Readings with the fan off belong to the setting of their row, or to every setting where that cell is
    empty.

    Raises
    ------
    InputError
        Mistakes in the file.
    """
    table, grams = _scale_table(path)
    running = [_word(table, "fan", row, {"on": True, "off": False}) for row in range(len(table.lines))]
    turned = {"forward": False, "": False, "reverse": True, "back": True}
    reverse = [_word(table, "direction", row, turned) for row in range(len(table.lines))]
    settings = tuple(dict.fromkeys(s for s, on in zip(table.words["setting"], running, strict=True) if on))
    result = []
    for setting in settings:
        rows = [
            row
            for row, (name, on) in enumerate(zip(table.words["setting"], running, strict=True))
            if name == setting or (not on and not name)
        ]
        result.append(
            ScaleReadings(
                setting,
                grams[rows],
                tuple(running[r] for r in rows),
                tuple(reverse[r] for r in rows),
                tuple(table.lines[r] for r in rows),
            )
        )
    if not result:
        raise _mistake(table, "fan", "only `off`", "readings with the fan `on` too")
    return tuple(result)


MOST_FORCE_N = 60.0
"""Largest believable reading of a kitchen scale [N]: a bare number of grams would be far more."""


GRAMS = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}
"""What a scale's display may say, in grams (avoirdupois pound by definition)."""

SAY_GRAMS = "If the display says grams, head the column `reading [g]`, or write `1240 g` in the cell"


def _scale_table(path: str | Path) -> tuple[Table, Array]:
    """The table of a scale, and its readings in grams: forces with their unit, or masses as the display says."""
    words = (Column("fan"), Column("direction", required=False), Column("setting", required=False))
    force = Column("reading", "force", lowest=-MOST_FORCE_N, highest=MOST_FORCE_N)
    try:
        table = read_table(path, (*words, force))
    except InputError as error:
        others = [
            replace(mistake, hint=mistake.hint or (SAY_GRAMS if mistake.allowed.startswith("between") else ""))
            for mistake in error.mistakes
            if not mistake.found.endswith(", a mass")
        ]
        if others:
            raise InputError(others) from None
        table = read_table(path, (*words, Column("reading")))
        heading = _HEADING_UNIT.search(Path(path).read_text(encoding="utf-8", errors="replace"))
        unit = heading[1] if heading else ""
        return table, np.array([_grams(text, unit) for text in table.words["reading"]])
    return table, _column(table, "reading") / STANDARD_GRAVITY_M_S2 * 1000.0


_HEADING_UNIT = re.compile(r"reading\s*[\[(]\s*([^\])]*?)\s*[\])]", re.IGNORECASE)


def _grams(text: str, unit: str) -> float:
    """Grams in a cell that holds a mass or a force; ``unit`` is that of the heading."""
    ((value, own),) = split_quantity(text)
    mass = GRAMS.get(own or unit)
    return value * mass if mass else parse_quantity(f"{value!r} {own or unit}", "force") / STANDARD_GRAVITY_M_S2 * 1e3


def _word(table: Table, name: str, row: int, words: dict[str, bool]) -> bool:
    said = table.words[name][row].strip().lower()
    if said not in words:
        allowed = " or ".join(word for word in words if word)
        raise _mistake(table, name, f"`{said}`", allowed, row)
    return words[said]


@dataclass(frozen=True)
class JetReadings:
    """Readings in a jet: along its centre line, and across it by distance (offsets, indications, lines)."""

    distances_m: Array
    indicated: Array
    lines: tuple[int, ...]
    profiles: dict[float, tuple[Array, Array, tuple[int, ...]]]
    indication: Indication


def read_jet_readings(path: str | Path) -> JetReadings:
    """Columns ``distance`` and ``speed`` (or ``pulses`` and ``counting time``), and ``offset`` for profiles.

    Rows without an offset are the walk down the centre line; rows with one are profiles across, one for each
    distance.

    Raises
    ------
    InputError
        Mistakes in the file.
    """
    table = read_table(
        path,
        (
            Column("distance", "length", lowest=0.0, highest=50.0),
            *_SPEEDS,
            Column("offset", "length", required=False, lowest=-20.0, highest=20.0),
        ),
    )
    shown, unit = _indications(table)
    distance, offset = _column(table, "distance"), _column(table, "offset")
    walking = ~np.isfinite(offset)
    lines = np.array(table.lines)
    profiles = {}
    for place in np.unique(np.round(distance[~walking], 3)):
        here = ~walking & (np.abs(distance - place) < 1e-3)
        profiles[float(place)] = (offset[here], shown[here], tuple(int(n) for n in lines[here]))
    return JetReadings(distance[walking], shown[walking], tuple(int(n) for n in lines[walking]), profiles, unit)
