"""Tables from people: CSV files with units in the heading or the cells, in the dialect of any spreadsheet.

The separator may be a comma, a semicolon or a tab; the decimal mark may be a comma where the separator is
not one; blank lines and lines that begin with ``#`` are passed over. Every mistake is reported at once, by
line and column.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from ventplan.errors import InputError, Mistake
from ventplan.house.compass import parse_bearing
from ventplan.house.units import UnitError, parse_quantity, tidy_unit

_HEADING = re.compile(r"^(?P<name>[^\[(]*?)\s*(?:[\[(]\s*(?P<unit>[^\])]*?)\s*[\])])?$")
_DECIMAL_COMMA = re.compile(r"(?<![\d.,])([+-]?\d+),(\d+)(?![\d.,])")
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


@dataclass(frozen=True)
class Column:
    """A column that a table may have.

    Attributes
    ----------
    name
        Its heading, without the unit.
    quantity
        Quantity that the unit must belong to (``speed``, ``temperature``...), ``number`` for a plain number,
        ``bearing`` for degrees or words such as SW, or ``text`` for words.
    required
        True where the table makes no sense without it; its cells may not be empty then.
    lowest, highest
        Range of believable values, SI.
    unit
        The only unit that a plain number may have in its heading.
    """

    name: str
    quantity: str = "text"
    required: bool = True
    lowest: float = -math.inf
    highest: float = math.inf
    unit: str = ""


@dataclass(frozen=True)
class Table:
    """A table that was read.

    Attributes
    ----------
    numbers
        Columns of quantities by name, SI; nan where a cell is empty.
    words
        Columns of text by name; empty text where a cell is empty.
    lines
        Line of each row in the file, counted from 1.
    ignored
        Headings of columns that nobody asked for.
    comments
        Lines that began with ``#``, without it.
    path
        The file.
    """

    numbers: dict[str, tuple[float, ...]]
    words: dict[str, tuple[str, ...]]
    lines: tuple[int, ...]
    ignored: tuple[str, ...]
    comments: tuple[str, ...]
    path: str


@dataclass(frozen=True)
class _Cell:
    text: str
    column: int


def read_table(path: str | Path, columns: Sequence[Column]) -> Table:
    """Read a table of measured or recorded values.

    Parameters
    ----------
    path
        CSV file; the first line that is neither blank nor a comment holds the headings: ``wind speed [m/s]``
        with the unit in brackets, or ``wind speed`` with the unit in the cells or in SI.
    columns
        The columns to look for; others are left alone, and named in ``ignored``.

    Returns
    -------
    Table
        Its values in SI.

    Raises
    ------
    InputError
        Every mistake in the file, with line and column.
    """
    lines, comments = _lines(Path(path))
    if not lines:
        raise InputError([Mistake("table", "an empty file", "a line of headings and lines of values", file=str(path))])
    number, heading = lines[0]
    separator = _separator(heading)
    header = list(_cells(heading, separator))
    mistakes: list[Mistake] = []
    places, units, ignored = _match(header, columns, str(path), number, mistakes)
    if mistakes:
        raise InputError(mistakes)

    numbers: dict[str, list[float]] = {c.name: [] for c in columns if c.quantity != "text"}
    words: dict[str, list[str]] = {c.name: [] for c in columns if c.quantity == "text"}
    for number, line in lines[1:]:
        cells = list(_cells(line, separator))
        if len(cells) > len(header):
            extra = "quote a number with a decimal comma, or separate cells by semicolons" if separator == "," else ""
            mistakes.append(
                Mistake(
                    "table",
                    f"{len(cells)} cells",
                    f"{len(header)}, one for each heading",
                    extra,
                    str(path),
                    number,
                    cells[len(header)].column,
                )
            )
            continue
        for column in columns:
            place = places.get(column.name)
            cell = cells[place] if place is not None and place < len(cells) else _Cell("", len(line) + 1)
            try:
                if column.quantity == "text":
                    words[column.name].append(_word(cell, column))
                else:
                    unit = units.get(column.name, "")
                    numbers[column.name].append(_value(cell.text, column, unit, comma_is_decimal=separator != ","))
            except UnitError as error:
                mistakes.append(
                    Mistake(column.name, error.found, error.allowed, error.hint, str(path), number, cell.column)
                )
    if not lines[1:] and not mistakes:
        mistakes.append(Mistake("table", "headings and no values", "at least one line of values", file=str(path)))
    if mistakes:
        raise InputError(mistakes)
    return Table(
        numbers={name: tuple(values) for name, values in numbers.items()},
        words={name: tuple(values) for name, values in words.items()},
        lines=tuple(number for number, _ in lines[1:]),
        ignored=ignored,
        comments=tuple(comments),
        path=str(path),
    )


def _lines(path: Path) -> tuple[list[tuple[int, str]], list[str]]:
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError([Mistake("table", reason, "a CSV file that can be read", file=str(path))]) from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")  # what spreadsheets write on older desktops
    kept: list[tuple[int, str]] = []
    comments: list[str] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if line.lstrip().startswith("#"):
            comments.append(line.lstrip()[1:].strip())
        elif line.strip(" \t,;"):
            kept.append((number, line))
    return kept, comments


def _separator(heading: str) -> str:
    outside = re.sub(r"\"[^\"]*\"|\[[^\]]*\]|\([^)]*\)", "", heading)
    return next((mark for mark in ("\t", ";") if mark in outside), ",")


def _cells(line: str, separator: str) -> Iterator[_Cell]:
    text, start, quoted, at = "", 0, False, 0
    while at < len(line):
        mark = line[at]
        if mark == '"' and quoted and line[at + 1 : at + 2] == '"':
            text, at = text + '"', at + 1
        elif mark == '"':
            quoted = not quoted
        elif mark == separator and not quoted:
            yield _Cell(text.strip(), start + 1)
            text, start = "", at + 1
        else:
            text += mark
        at += 1
    yield _Cell(text.strip(), start + 1)


def _plain(name: str) -> str:
    return " ".join(name.replace("_", " ").lower().split())


def _match(
    header: Sequence[_Cell], columns: Sequence[Column], file: str, line: int, mistakes: list[Mistake]
) -> tuple[dict[str, int], dict[str, str], tuple[str, ...]]:
    """Pair headings with the wanted columns: place and unit of each, and the headings that are left over."""
    found: dict[str, tuple[int, str]] = {}
    for place, cell in enumerate(header):
        match = _HEADING.match(cell.text)
        name = _plain(match["name"] if match else cell.text)
        if name in found:
            mistakes.append(Mistake(cell.text, "the heading twice", "each heading once", "", file, line, cell.column))
        found[name] = (place, (match["unit"] or "") if match else "")
    wanted = {_plain(column.name): column for column in columns}
    places = {wanted[name].name: place for name, (place, _) in found.items() if name in wanted}
    units = {wanted[name].name: unit for name, (_, unit) in found.items() if name in wanted}
    left = [name for name in found if name and name not in wanted]
    for name, column in wanted.items():
        if name in found:
            continue
        near = difflib.get_close_matches(name, left, n=1, cutoff=0.8 if not column.required else 0.5)
        if column.required or near:
            was = f"`{near[0]}`" if near else "no such heading; there are " + ", ".join(f"`{n}`" for n in found)
            at = header[found[near[0]][0]].column if near else 1
            mistakes.append(Mistake(column.name, was, f"a heading `{column.name}`", "", file, line, at))
    return places, units, tuple(left)


def _word(cell: _Cell, column: Column) -> str:
    if column.required and not cell.text:
        raise UnitError("an empty cell", f"a {column.name}")
    return cell.text


def _value(text: str, column: Column, unit: str, *, comma_is_decimal: bool) -> float:
    if not text:
        if column.required:
            raise UnitError("an empty cell", f"a {column.name}")
        return math.nan
    if "," in text:
        plain = _DECIMAL_COMMA.sub(r"\1.\2", text)
        thousands = not comma_is_decimal and re.search(r",\d{3}(?!\d)", text)
        if "," in plain or thousands:
            raise UnitError(f'"{text}"', "one decimal mark and no mark for thousands, such as 1200.5 or 1200,5")
        text = plain
    if column.quantity == "bearing":
        return parse_bearing(f"{text} {unit}" if _PLAIN_NUMBER.fullmatch(text) else text)
    if column.quantity == "number":
        value = _number(text, column, unit)
    else:
        value = parse_quantity(f"{text} {unit}" if _PLAIN_NUMBER.fullmatch(text) else text, column.quantity)
    if not column.lowest <= value <= column.highest:
        raise UnitError(f'"{text}"', f"between {column.lowest:g} and {column.highest:g} in SI units")
    return value


def _number(text: str, column: Column, unit: str) -> float:
    if tidy_unit(unit) not in ("", column.unit):
        raise UnitError(f"the unit {unit}", f"numbers in {column.unit}" if column.unit else "numbers without a unit")
    if not _PLAIN_NUMBER.fullmatch(text):
        raise UnitError(f'"{text}"', "a number")
    return float(text)
