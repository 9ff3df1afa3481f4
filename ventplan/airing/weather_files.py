"""Weather files: ventplan's own hour by hour CSV, and tables of other layouts, such as a typical year."""

from __future__ import annotations

import csv
import datetime
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from io import StringIO
from pathlib import Path

from ventplan.airing import Note, NoteCode
from ventplan.airing.weather import Weather
from ventplan.errors import InputError, InvalidValue
from ventplan.house.table import Column, Table, numbered_lines, read_table, separator_of
from ventplan.house.weather import WIND_COLUMNS, odd_outdoor_air, winds_of

COLUMNS = (
    Column("time"),
    Column("temperature", "temperature", lowest=-60.0, highest=60.0),
    Column("humidity", "share", required=False, lowest=0.01, highest=1.0),
    *WIND_COLUMNS,
    Column("sun", "number", required=False, lowest=0.0, highest=1500.0, unit="W/m2"),
    Column("rain", "number", required=False, lowest=0.0, highest=500.0, unit="mm"),
)
"""What a weather file may have; only time and temperature are required."""

ASSUMED = {"humidity": 0.6, "wind speed": 0.0, "sun": 0.0, "rain": 0.0}
"""What an empty cell or a missing column stands for, SI."""

LONGEST_GAP_S = 6 * 3600.0
"""Longest time between two rows that is bridged by a straight line [s]."""


YEAR = 2030
"""Given to all rows: the months of a typical year come from different years."""
HEADINGS = {
    "temperature": "temperature [°C]",
    "humidity": "humidity [%]",
    "wind speed": "wind speed [m/s]",
    "wind from": "wind from [deg]",
    "sun": "sun [W/m2]",
    "rain": "rain [mm]",
}
"""What can be taken from the file besides the time, as ventplan's own weather files head it."""
TIMES = ("time", "date", "month", "day", "hour")
PATTERNS = {
    "time": r"^(date ?/? ?time|time ?stamp|time)\b",
    "date": r"^date\b",
    "month": r"^month\b",
    "day": r"^day\b",
    "hour": r"^hour\b",
    "temperature": r"dry.?bulb|^(air |outdoor )?temp",
    "humidity": r"rel\w*.?hum|^rhum|^humidity|^rh\b",
    "wind speed": r"wind.?speed|^wspd",
    "wind from": r"wind.?(dir|from)|^wdir",
    "sun": r"glob\w*.?hor|^ghi|^sun\b",
    "rain": r"^rain|liquid.?precip",
}
"""Headings that are understood, in lower case, without what stands in brackets."""


def read_weather(path: str | Path) -> Weather:
    """Read weather from a CSV file.

    Parameters
    ----------
    path
        File with the headings ``time``, ``temperature [°C]`` and, where known, ``humidity [%]``,
        ``wind speed [m/s]``, ``wind from [deg]``, ``sun [W/m2]`` and ``rain [mm]``, in any order. Times are
        ``2030-07-01 22:00``, or ``22:00``, which runs on past midnight.

    Returns
    -------
    Weather
        The weather; without a humidity 60 %, without a wind calm, without a sun dark, without rain dry.

    Raises
    ------
    InputError
        Every error in the file, with line and column.
    """
    table = read_table(path, COLUMNS)
    errors: list[InvalidValue] = []
    times, dated = _times(table, errors)
    _check_order(table, times, errors)
    speeds, bearings, half_told = winds_of(table)
    errors += half_told
    if errors:
        raise InputError(errors)
    numbers = table.numbers

    def filled(name: str) -> tuple[float, ...]:
        return tuple(ASSUMED[name] if math.isnan(value) else value for value in numbers[name])

    return Weather(
        begin=times[0],
        dated=dated,
        seconds=tuple((time - times[0]).total_seconds() for time in times),
        temperature_c=numbers["temperature"],
        humidity=filled("humidity"),
        wind_m_s=tuple(speeds),
        wind_from_deg=tuple(bearings),
        sun_w_m2=filled("sun"),
        rain_mm=filled("rain"),
        notes=tuple(_notes(table)),
    )


def _notes(table: Table) -> Iterator[Note]:
    temperatures = table.numbers["temperature"]
    for temperature_c in dict.fromkeys((min(temperatures), max(temperatures))):
        if odd_outdoor_air(temperature_c):
            yield Note(NoteCode.UNUSUAL_OUTDOORS, numbers={"temperature_c": temperature_c})
    if gaps := [name for name in ASSUMED if any(math.isnan(value) for value in table.numbers[name])]:
        yield Note(NoteCode.WEATHER_ASSUMED, numbers={name: ASSUMED[name] for name in gaps})
    if table.ignored:
        yield Note(NoteCode.HEADINGS_UNKNOWN, names=tuple(table.ignored))


def _times(table: Table, errors: list[InvalidValue]) -> tuple[list[datetime.datetime], bool]:
    times: list[datetime.datetime] = []
    dated = False
    for line, text in zip(table.lines, table.words["time"], strict=True):
        try:
            time, has_date = _time(text, times[-1] if times else None)
        except ValueError:
            allowed = "a time such as 2030-07-01 22:00 or 22:00"
            errors.append(InvalidValue("time", f'"{text}"', allowed, "", table.path, line))
            continue
        times.append(time)
        dated = dated or has_date
    return times, dated


def _time(text: str, before: datetime.datetime | None) -> tuple[datetime.datetime, bool]:
    """A date and time, or a time of day that follows the one before it."""
    if len(text) > 8:
        return datetime.datetime.fromisoformat(text.rstrip("Z")).replace(tzinfo=None), True
    clock = datetime.time.fromisoformat(text if len(text.split(":")[0]) == 2 else f"0{text}")
    day = before.date() if before else datetime.date(2001, 1, 1)
    time = datetime.datetime.combine(day, clock)
    if before and time <= before:
        time += datetime.timedelta(days=1)
    return time, False


def _check_order(table: Table, times: list[datetime.datetime], errors: list[InvalidValue]) -> None:
    if errors:
        return
    for line, before, after in zip(table.lines[1:], times, times[1:], strict=False):
        gap = (after - before).total_seconds()
        if gap <= 0.0:
            errors.append(
                InvalidValue("time", f"{after} after {before}", "rows in the order of time", "", table.path, line, 1)
            )
        elif gap > LONGEST_GAP_S:
            allowed = f"gaps of at most {LONGEST_GAP_S / 3600.0:.0f} h"
            errors.append(InvalidValue("time", f"a gap of {gap / 3600.0:.1f} h", allowed, "", table.path, line))
    if len(times) < 2:
        errors.append(InvalidValue("time", f"{len(times)} row", "at least two rows", "", table.path, table.lines[0]))


def chosen_columns(text: str) -> dict[str, str]:
    """What each column is, from text such as ``month=2, day=3, hour=4, temperature=7``.

    Parameters
    ----------
    text
        Names of `TIMES` and `HEADINGS`, each with a heading of the file or a position counted from 1.

    Raises
    ------
    InputError
        For a name that is not one of them, or without a column.
    """
    found = {}
    for part in filter(None, map(str.strip, text.split(","))):
        name, _, column = (piece.strip() for piece in part.partition("="))
        if name not in PATTERNS or not column:
            allowed = f"name=heading or name=position, with a name of: {', '.join(PATTERNS)}"
            raise InputError([InvalidValue("--columns", f'"{part}"', allowed)])
        found[name] = column
    return found


def typical_weather(path: Path, *, columns: Mapping[str, str] | None = None, month: int | None = None) -> str:
    """The text of a weather file that ventplan reads.

    Parameters
    ----------
    path
        An hourly table.
    columns
        Name of each quantity and its heading or position in the file; by the headings if left out.
    month
        Month to keep, 1 to 12; the whole year if left out.

    Returns
    -------
    str
        CSV with the headings ``time``, ``temperature [°C]`` and those of `HEADINGS` that the file has.

    Raises
    ------
    InputError
        Where a column is not found, or a cell is not a number; the text shows a row with its positions.
    """
    lines, _ = numbered_lines(path)
    separator = next((mark for _, line in lines if (mark := separator_of(line))), ",")
    rows = list(csv.reader((line for _, line in lines), delimiter=separator))
    at, first, heads = _positions(path, rows, columns or {})
    out = StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    kept = [name for name in HEADINGS if name in at]
    writer.writerow(["time", *(_headed(name, heads[at[name]] if at[name] < len(heads) else "") for name in kept)])
    count = 0
    for row, (number, _) in zip(rows[first:], lines[first:], strict=True):
        when = _when(path, number, row, at)
        if when is None or (month is not None and when.month != month):
            continue
        cells = [row[at[name]].strip() if at[name] < len(row) else "" for name in kept]
        for name, cell in zip(kept, cells, strict=True):
            if cell and not re.fullmatch(r"[-+]?\d+(\.\d*)?([eE][-+]?\d+)?", cell):
                raise InputError([InvalidValue(name, f'"{cell}"', "a number", "", str(path), number)])
        writer.writerow([when.strftime("%Y-%m-%d %H:%M"), *cells])
        count += 1
    if not count:
        raise InputError(f"{path}: no rows{f' of month {month}' if month else ''} in it")
    return out.getvalue()


def _headed(name: str, head: str) -> str:
    """The heading of a quantity, in the unit that the file's own heading gives where that is not the usual one."""
    unit = re.search(r"[\[(]\s*(°?F|deg F|mph|km/h|kn|kt|knots|ft/min|in)\s*[\])]", head)
    if unit is None:
        return HEADINGS[name]
    return f"{name} [{'°F' if unit[1].endswith('F') else {'kt': 'kn', 'knots': 'kn'}.get(unit[1], unit[1])}]"


def _positions(
    path: Path, rows: Sequence[Sequence[str]], columns: Mapping[str, str]
) -> tuple[dict[str, int], int, Sequence[str]]:
    """Position of each quantity, counted from 0, the first row that holds numbers, and the headings."""
    wanted = {name: column for name, column in columns.items() if not column.isdecimal()}
    at = {name: int(column) - 1 for name, column in columns.items() if column.isdecimal()}
    head = _heading_row(rows, wanted) if wanted or not at else None
    if head is not None:
        for position, cell in enumerate(rows[head]):
            for name in _names(cell, wanted or PATTERNS, exact=bool(wanted)):
                at.setdefault(name, position)
    timed = "time" in at or {"month", "day", "hour"} <= set(at) or "date" in at
    if not timed or "temperature" not in at or any(name not in at for name in wanted):
        raise InputError(f"{path}: {_what_is_missing(at, wanted)}. {_numbered(rows)}")
    start = 0 if head is None else head + 1
    for first in range(start, len(rows)):
        cell = rows[first][at["temperature"]] if at["temperature"] < len(rows[first]) else ""
        if re.fullmatch(r"\s*[-+]?\d+(\.\d*)?\s*", cell) and len(rows[first]) > max(at.values()):
            return at, first, rows[head] if head is not None else ()
    raise InputError(f"{path}: column {at['temperature'] + 1} holds no temperatures. {_numbered(rows)}")


def _names(cell: str, wanted: Mapping[str, str], *, exact: bool) -> list[str]:
    bare = re.sub(r"[\[(].*", "", cell).strip().lower()
    if exact:
        return [name for name, heading in wanted.items() if heading.lower() in (bare, cell.strip().lower())]
    return [name for name, pattern in wanted.items() if re.search(pattern, bare)]


def _heading_row(rows: Sequence[Sequence[str]], wanted: Mapping[str, str]) -> int | None:
    """The row that names most of what is wanted, among the first forty."""
    named = [sum(bool(_names(c, wanted or PATTERNS, exact=bool(wanted))) for c in row) for row in rows[:40]]
    best = max(range(len(named)), key=lambda i: named[i], default=None)
    return best if best is not None and named[best] else None


def _what_is_missing(at: Mapping[str, int], wanted: Iterable[str]) -> str:
    missing = [name for name in wanted if name not in at]
    if missing:
        return f"no such column for {', '.join(missing)}"
    need = "the temperature" if "temperature" not in at else "the time (time, or month, day and hour)"
    return f"no heading names {need}"


def _numbered(rows: Sequence[Sequence[str]]) -> str:
    """How to say which column is which, with a row as an example."""
    row = rows[len(rows) // 2] if rows else []
    cells = ", ".join(f"{i} is {cell.strip()!r}" for i, cell in enumerate(row[:24], start=1))
    return (
        "Say which column is which, such as --columns 'month=2, day=3, hour=4, temperature=7'; in a row from the "
        f"middle of the file {cells}"
    )


def _when(path: Path, number: int, row: Sequence[str], at: Mapping[str, int]) -> datetime.datetime | None:
    """Time of a row, in `YEAR`; None for 29 February, which that year lacks."""
    try:
        if "month" in at:
            month, day = int(row[at["month"]]), int(row[at["day"]])
            hours = float(row[at["hour"]])
        else:
            date = row[at["date"]] if "date" in at else row[at["time"]]
            text = f"{date} {row[at['time']]}" if "date" in at and "time" in at else date
            month, day, hours = _read_time(text)
        if (month, day) == (2, 29):
            return None
        moment = datetime.datetime(YEAR, month, day) + datetime.timedelta(hours=hours)
    except (ValueError, IndexError):
        allowed = "month, day and hour as numbers, or a time such as 2030-07-01 22:00 or 07/01 22:00"
        raise InputError([InvalidValue("time", f'"{" ".join(row[:5])}"', allowed, "", str(path), number)]) from None
    return moment.replace(year=YEAR)


def _read_time(text: str) -> tuple[int, int, float]:
    iso = re.match(r"\s*\d{4}-(\d\d)-(\d\d)[ T](\d\d?):(\d\d)", text)
    us = re.match(r"\s*(\d\d?)/(\d\d?)(?:/\d{2,4})?\s+(\d\d?):(\d\d)", text)
    found = iso or us
    if found is None:
        raise ValueError(text)
    month, day, hour, minute = map(int, found.groups())
    return month, day, hour + minute / 60.0
