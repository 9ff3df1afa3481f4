"""Readings as a person types them: CSV files to the arguments of the measuring functions, and means of logged series.

Every file may have further columns (notes, who, when); they are left alone. Units stand in the headings or
in the cells. A vane that stood still is a 0; a place that was not read has no row.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from ventplan.airing import Note, NoteCode
from ventplan.errors import InputError, InvalidValue
from ventplan.house.table import Column, Table, read_table
from ventplan.house.units import QUANTITIES, UnitError, parse_quantity, tidy_unit, unit_factor
from ventplan.measure.anemometer import Indication
from ventplan.measure.opening import PlaceReading
from ventplan.measure.uncertainty import Array, coverage_factor, from_repeats

SPEEDS = (
    Column("speed", "speed", required=False, lowest=0.0, highest=60.0),
    Column("pulses", "number", required=False, lowest=0.0),
    Column("counting time", "time", required=False, lowest=0.1),
)
"""What an anemometer shows: a speed, or pulses over the time they were counted."""

ZERO_OR_NO_ROW = "0 means that the vane did not turn; delete the row of a reading that was not taken"
MERGED = "Write it in every row: merged cells are empty below their first row once they are saved as CSV"


def column_of(table: Table, name: str) -> Array:
    """A column of numbers, shape (rows,); nan where a cell is empty."""
    return np.array(table.numbers[name])


def error_in(table: Table, key: str, found: str, allowed: str, row: int | None = None, hint: str = "") -> InputError:
    """An error in a table, at one of its rows counted from 0."""
    line = None if row is None else table.lines[row]
    return InputError([InvalidValue(key, found, allowed, hint, table.path, line)])


def indications(table: Table, name: str = "speed", *, complete: bool = True) -> tuple[Array, Indication]:
    """What the anemometer showed in each row, shape (rows,) [m/s or Hz], and which of the two: the column ``name``, or
    ``pulses`` over ``counting time`` where there are any. A row that has neither is an InputError, or nan where rows
    need not be ``complete``."""
    speed, pulses, time = (column_of(table, key) for key in (name, "pulses", "counting time"))
    by_pulses = bool(np.isfinite(pulses).any())
    shown = pulses / time if by_pulses else speed
    bad = np.flatnonzero(~np.isfinite(shown))
    if complete and bad.size and by_pulses:
        raise error_in(table, "pulses", "pulses or time missing", "both in every row", int(bad[0]))
    if complete and bad.size:
        allowed = f"what the anemometer showed: {name}, or pulses and counting time, in every row"
        raise error_in(table, name, "an empty cell", allowed, int(bad[0]), ZERO_OR_NO_ROW)
    return shown, "Hz" if by_pulses else "m/s"


Units = Mapping[str, str]
"""Unit of the numbers that have none, by quantity; SI where a quantity is left out."""

_HIGHEST_PLAUSIBLE = {
    "speed": 30.0,
    "indicated": 30.0,
    "reference": 30.0,
    "distance": 8.0,
    "offset": 3.0,
    "across": 6.0,
    "up": 6.0,
}
"""Largest values in SI that are plausible where none_aside wrote a unit [m/s or m] (a judgement)."""


def _implausible(name: str, values: Array) -> bool:
    # A walk down a jet begins within a metre or so of the fan, and ends before the room does.
    too_far_off = name == "distance" and values.min() >= 2.0
    return bool(np.abs(values).max() > _HIGHEST_PLAUSIBLE[name] or too_far_off)


def unit_notes(table: Table, columns: Sequence[Column], units: Units, *, asked: Sequence[str]) -> list[Note]:
    """A note that says in which unit numbers without one were read: that set in ``units``, or SI. Values in the columns
    ``asked`` must be plausible in SI where no unit was set, else an InputError asks for the unit."""
    kinds = {column.name: column.quantity for column in columns}
    taken: dict[str, list[str]] = {}
    for name in table.bare:
        kind = kinds[name]
        values = column_of(table, name)
        values = values[np.isfinite(values)]
        if name in asked and kind not in units and values.size and _implausible(name, values):
            example = {"length": "ft", "speed": "ft/min"}[kind]
            found = f"numbers without a unit, {values.min():g} to {values.max():g}, which are implausible in SI units"
            hint = f"In US units, say --units {example} or write the heading as `{name} [{example}]`; if they are SI, "
            hint += f"write `{name} [{QUANTITIES[kind].unit}]`"
            raise error_in(table, name, found, f"the unit of `{name}`", None, hint)
        unit = tidy_unit(units[kind]) if kind in units else QUANTITIES[kind].unit
        taken.setdefault(unit, []).append(name)
    if not taken:
        return []
    pairs = [(name, unit) for unit, names in taken.items() for name in names]
    return [Note(NoteCode.UNITS_READ, tuple(text for pair in pairs for text in pair))]


def parse_units(text: str) -> Units:
    """Units for numbers that have none, such as ``ft,ft/min``: one for each quantity. Any other word, or two units for
    one quantity, are an InputError."""
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
        return bool(unit_factor(word, kind))
    except UnitError:
        return False


def blank_below(table: Table, name: str) -> list[int]:
    """Rows with nothing in a column of words that an earlier row fills: a merged cell, or left out."""
    words = table.words[name]
    first = next((row for row, word in enumerate(words) if word), len(words))
    return [row for row in range(first, len(words)) if not words[row]]


@dataclass(frozen=True)
class CalibrationPairs:
    """Indications (in ``indication``) and references [m/s] of a calibration, and their lines in the file."""

    indicated: Array
    reference_m_s: Array
    indication: Indication
    lines: tuple[int, ...]
    notes: tuple[Note, ...] = ()


def read_calibration_pairs(path: str | Path, *, units: Units | None = None) -> CalibrationPairs:
    """Columns ``indicated`` (or ``pulses`` and ``counting time``), and ``reference`` (or ``distance`` and ``time``);
    raises InputError for errors in the file."""
    columns = (
        *(Column(name, "speed", required=False, lowest=0.0, highest=60.0) for name in ("indicated", "reference")),
        *SPEEDS[1:],
        Column("distance", "length", required=False, lowest=0.01),
        Column("time", "time", required=False, lowest=0.1),
    )
    table = read_table(path, columns, units=units)
    notes = unit_notes(table, columns, units or {}, asked=("indicated", "reference"))
    indicated, unit = indications(table, "indicated")
    # An anemometer carried through still air over a known distance needs no other instrument as its reference.
    carried = column_of(table, "distance") / column_of(table, "time")
    reference = np.where(np.isfinite(column_of(table, "reference")), column_of(table, "reference"), carried)
    bad = np.flatnonzero(~np.isfinite(reference))
    if bad.size:
        raise error_in(table, "reference", "an empty cell", "a reference, or distance and time", int(bad[0]))
    return CalibrationPairs(indicated, reference, unit, table.lines, tuple(notes))


FEWEST_INDEPENDENT = 10.0
"""Independent readings below which the autocorrelation of a log is poorly known (a judgement: in simulated logs worth
four, stated 95 % intervals held the truth in nine of ten)."""


@dataclass(frozen=True)
class OpeningReadings:
    """Readings in an opening by place, their unit, and what the averaging of logged series did."""

    places: tuple[PlaceReading, ...]
    indication: Indication
    notes: tuple[Note, ...]


LOGGED = 20
"""Readings at one place from which on they count as a logged series rather than as repeats by hand."""


def read_opening_readings(path: str | Path, *, units: Units | None = None) -> OpeningReadings:
    """Columns ``speed`` (or ``pulses`` and ``counting time``), ``across`` and ``up`` for a traverse.

    Rows at one place are repeats; 20 or more are a logged series, evenly spaced, averaged with its settling cut off and
    its autocorrelation counted. Raises InputError for errors in the file.
    """
    columns = (
        *SPEEDS,
        *(Column(name, "length", required=False, lowest=0.0, highest=20.0) for name in ("across", "up")),
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


def _place_reading(values: Sequence[float], where: tuple[float, float]) -> tuple[PlaceReading, Note | None]:
    """Mean of the readings at one place, with a note on a logged series."""
    if len(values) >= LOGGED:
        mean = average(values)
        still = sum(value == 0.0 for value in values[mean.settling :]) / mean.kept
        numbers: dict[str, float] = {"readings": len(values), "settling": mean.settling, "kept": mean.kept}
        numbers |= {"independent": mean.effective, "enough": FEWEST_INDEPENDENT}
        note = Note(NoteCode.LOGGED_SERIES, numbers=numbers)
        return PlaceReading(mean.mean, mean.standard, mean.degrees, *where, still), note
    still = sum(value == 0.0 for value in values) / len(values)
    if len(values) == 1:
        return PlaceReading(values[0], across_m=where[0], up_m=where[1], still_share=still), None
    source = from_repeats("repeats", values)
    standard = float(np.sqrt(source.covariance[0, 0]))
    return PlaceReading(float(source.means[0]), standard, source.degrees, *where, still), None


@dataclass(frozen=True)
class JetReadings:
    """Readings in a jet: along its centre line, and across it by distance (offsets, indications, lines)."""

    distances_m: Array
    indicated: Array
    lines: tuple[int, ...]
    profiles: dict[float, tuple[Array, Array, tuple[int, ...]]]
    indication: Indication
    notes: tuple[Note, ...] = ()


def read_jet_readings(path: str | Path, *, units: Units | None = None) -> JetReadings:
    """Columns ``distance`` and ``speed`` (or ``pulses`` and ``counting time``), and ``offset`` for profiles.

    Rows without an offset are the walk down the centre line; rows with one are profiles across, one for each distance.
    Raises InputError for errors in the file.
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


READING = Column(
    "reading",
    "force",
    # No kitchen scale reads more than 150 N.
    lowest=-150.0,
    highest=150.0,
    # What a scale's display says is a mass; what pushes on it is that many gram-force.
    alike={"g": "gf", "kg": "kgf", "oz": "ozf", "lb": "lbf"},
    bare=False,
)


@dataclass(frozen=True)
class SeriesMean:
    """Mean of a series whose neighbours resemble one another.

    Attributes
    ----------
    mean, standard
        Mean after the settling part, and its standard uncertainty s / sqrt(effective), in the unit of the series.
    settling, kept
        Number of readings at the start that were left out, and of those that were averaged.
    memory, effective
        Integrated autocorrelation time [readings], and kept / memory, the number of independent readings that are worth
        as much.
    degrees
        Degrees of freedom of ``standard`` [-]: fewer than effective - 1, since the memory is estimated from the same
        readings.
    """

    mean: float
    standard: float
    settling: int
    kept: int
    memory: float
    effective: float
    degrees: float


def _settling_length(series: Array) -> int:
    """How many readings at the start to leave out, at most half: the cut after which the standard error of the rest is
    smallest (White 1997, Simulation 69:323, marginal standard error rule on means of five readings, from memory)."""
    batch = 5 if series.size >= 50 else 1
    means = series[: series.size // batch * batch].reshape(-1, batch).mean(axis=1)
    count = means.size
    errors = [float(np.var(means[cut:])) / (count - cut) for cut in range(max(count // 2, 1))]
    return int(np.argmin(errors)) * batch


def autocorrelation_time(values: ArrayLike) -> tuple[float, int]:
    """Integrated autocorrelation time [readings], and the last lag that was summed.

    tau = 1 + 2 sum rho_k, summed to the first lag beyond 5 tau; (1 + phi) / (1 - phi) for a first-order autoregressive
    series with coefficient phi. Never below 1: a series that swings about its mean does not count as more readings than
    it has. Sokal 1997, in: Functional Integration, Plenum (automatic windowing), from memory.
    """
    series = np.asarray(values, dtype=float)
    rest = series - series.mean()
    power = float((rest**2).sum())
    if series.size < 3 or power == 0.0:
        return 1.0, 0
    size = 1 << (2 * series.size - 1).bit_length()
    spectrum = np.fft.rfft(rest, size)
    correlation: Array = np.fft.irfft(spectrum * np.conj(spectrum), size)[: series.size] / power
    taus = 2.0 * np.cumsum(correlation) - 1.0
    inside = np.flatnonzero(np.arange(series.size) >= 5.0 * taus)
    window = int(inside[0]) if inside.size else series.size - 1
    # Correlations about the series' own mean are each too low by about tau / n: 2 window + 1 of them were summed.
    share = min((2.0 * window + 1.0) / series.size, 0.9)
    return max(float(taus[window]) / (1.0 - share), 1.0), window


def average(values: ArrayLike) -> SeriesMean:
    """Mean of a logged series, without its settling and with its autocorrelation.

    u = s sqrt(tau / n); the readings of a logger are not independent, and s / sqrt(n) would promise too much (JCGM
    100:2008, 4.2.7). The start is left out only where its mean is more than three standard uncertainties off the rest,
    or where its first five readings lie farther off than five in a row of the rest ever would by chance (one in a
    thousand): leaving out whatever makes the rest look calmer would make it look calmer than it is.

    Parameters
    ----------
    values
        Series, evenly spaced in time, shape (n,), n >= 2.

    Raises
    ------
    ValueError
        For fewer than two readings.
    """
    series = np.asarray(values, dtype=float)
    if series.size < 2:
        raise ValueError("a series needs at least two readings")
    cut = _settling_length(series) if series.size >= 10 else 0
    if cut:
        rest = _mean_of(series[cut:], settling=cut)
        off = abs(float(series[:cut].mean()) - rest.mean)
        own = rest.standard * math.sqrt(1.0 + rest.kept / cut)
        if off > 3.0 * own or _starts_apart(series, cut):
            return rest
    return _mean_of(series, settling=0)


def _starts_apart(series: Array, cut: int) -> bool:
    """Whether the first readings lie where as many in a row of the rest never would."""
    batch = 5 if series.size >= 50 else 1
    rest = series[cut:]
    means = rest[: rest.size // batch * batch].reshape(-1, batch).mean(axis=1)
    limit = coverage_factor(degrees=means.size - 1.0, level=0.999) * float(means.std(ddof=1))
    return abs(float(series[:batch].mean() - means.mean())) > limit


def _mean_of(kept: Array, *, settling: int) -> SeriesMean:
    tau, window = autocorrelation_time(kept)
    tau = min(tau, kept.size / 2.0)
    effective = kept.size / tau
    # The variance about the series' own mean is short by 1 / effective.
    variance = float(np.var(kept)) / (1.0 - 1.0 / effective)
    # var(tau) / tau^2 = 2 (2 window + 1) / n (Sokal), which is worth n / (2 window + 1) degrees of freedom.
    degrees = max(min(effective - 1.0, kept.size / (2.0 * window + 1.0)), 1.0)
    standard = math.sqrt(variance / effective)
    return SeriesMean(float(kept.mean()), standard, settling, int(kept.size), tau, effective, degrees)


def _seconds_of(text: str) -> float:
    """A time in a log [s]: ``12``, ``0.5 min``, ``20:00:01`` or ``2030-07-01 20:00:01``; nan for any other text."""
    try:
        return parse_quantity(text, "time")
    except UnitError:
        pass
    try:
        return datetime.datetime.fromisoformat(text.rstrip("Z")).replace(tzinfo=datetime.UTC).timestamp()
    except ValueError:
        pass
    try:
        clock = datetime.time.fromisoformat(text.zfill(len(text) + (text[1:2] == ":")))
    except ValueError:
        return math.nan
    return clock.hour * 3600.0 + clock.minute * 60.0 + clock.second + clock.microsecond / 1e6


def uneven_steps(texts: Sequence[str]) -> list[Note]:
    """A note where a log is not evenly spaced in time, as its averaging assumes; ``texts`` is the time of each reading
    as the log has it, and no note is made where all are empty."""
    if not any(texts):
        return []
    times = np.array([_seconds_of(text) for text in texts])
    if not np.isfinite(times).all():
        return [Note(NoteCode.TIMES_UNREADABLE)]
    steps = np.diff(times)
    steps = np.where(steps < -43200.0, steps + 86400.0, steps)  # past midnight
    usual = float(np.median(steps))
    gaps = int((np.abs(steps - usual) > 0.2 * abs(usual)).sum())
    if gaps == 0:
        return []
    return [Note(NoteCode.UNEVEN_LOG, numbers={"uneven": gaps, "steps": steps.size})]
