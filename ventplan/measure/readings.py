"""Readings of an anemometer as a person types them: CSV files to the arguments of the measuring functions.

Every file may have further columns (notes, who, when); they are left alone. Units stand in the headings or
in the cells. A vane that stood still is a 0; a place that was not read has no row.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ventplan.house.table import Column, read_table
from ventplan.measure.anemometer import Indication
from ventplan.measure.columns import MERGED, SPEEDS, column_of, indications, mistake_in
from ventplan.measure.log_times import uneven_steps
from ventplan.measure.opening import PlaceReading
from ventplan.measure.series import average
from ventplan.measure.uncertainty import Array, from_repeats


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
            *SPEEDS[1:],
            Column("reference", "speed", required=False, lowest=0.0, highest=60.0),
            Column("distance", "length", required=False, lowest=0.01),
            Column("time", "time", required=False, lowest=0.1),
        ),
    )
    indicated, unit = indications(table, "indicated")
    # Carried through still air over a known distance, an anemometer needs no other instrument as its
    # reference.
    carried = column_of(table, "distance") / column_of(table, "time")
    reference = np.where(np.isfinite(column_of(table, "reference")), column_of(table, "reference"), carried)
    bad = np.flatnonzero(~np.isfinite(reference))
    if bad.size:
        raise mistake_in(table, "reference", "an empty cell", "a reference, or distance and time", int(bad[0]))
    return CalibrationPairs(indicated, reference, unit, table.lines)


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
            *SPEEDS,
            Column("across", "length", required=False, lowest=0.0, highest=20.0),
            Column("up", "length", required=False, lowest=0.0, highest=20.0),
            Column("time", required=False),
        ),
    )
    shown, unit = indications(table)
    across, up = column_of(table, "across"), column_of(table, "up")
    placed = np.isfinite(across) | np.isfinite(up)
    for key, places_m in (("across", across), ("up", up)):
        bad = np.flatnonzero(np.isnan(places_m)) if placed.any() else placed[:0]
        if bad.size:
            raise mistake_in(table, key, "an empty cell", "across and up in every row, or in none", int(bad[0]), MERGED)
    groups: dict[tuple[float, float], list[float]] = {}
    for x, y, value in zip(np.nan_to_num(across, nan=-1.0), np.nan_to_num(up, nan=-1.0), shown, strict=True):
        groups.setdefault((round(float(x), 3), round(float(y), 3)), []).append(float(value))
    places = []
    notes = uneven_steps(table.words["time"]) if len(table.lines) >= LOGGED else []
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
            *SPEEDS,
            Column("offset", "length", required=False, lowest=-20.0, highest=20.0),
        ),
    )
    shown, unit = indications(table)
    distance, offset = column_of(table, "distance"), column_of(table, "offset")
    walking = ~np.isfinite(offset)
    lines = np.array(table.lines)
    profiles = {}
    for place in np.unique(np.round(distance[~walking], 3)):
        here = ~walking & (np.abs(distance - place) < 1e-3)
        profiles[float(place)] = (offset[here], shown[here], tuple(int(n) for n in lines[here]))
    return JetReadings(distance[walking], shown[walking], tuple(int(n) for n in lines[walking]), profiles, unit)
