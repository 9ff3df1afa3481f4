"""Tables from people: CSV files with units in the heading or the cells, in the dialect of any spreadsheet.

The separator may be a comma, a semicolon or a tab; the decimal mark may be a comma where the separator is
not one. Blank lines, lines that begin with ``#``, titles above the headings and rows that hold nothing but a note are
passed over. Every error is reported at once, by line and column.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ventplan.errors import InputError, InvalidValue
from ventplan.house.units import (
    QUANTITIES,
    UnitError,
    parse_bearing,
    parse_quantity,
    split_quantity,
    tidy_unit,
    unit_factor,
)


@dataclass(frozen=True)
class Cell:
    """What stands in a cell, and the column of the line at which it begins, counted from 1."""

    text: str
    column: int


def numbered_lines(path: Path) -> tuple[list[tuple[int, str]], list[str]]:
    """The lines that say something with their numbers, and the comments.

    Raises
    ------
    InputError
        Where the file cannot be read.
    """
    try:
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError([InvalidValue("table", reason, "a CSV file that can be read", file=str(path))]) from error
    if len(raw) > MOST_BYTES:
        found = f"a file of more than {MOST_BYTES // 1_000_000} million bytes"
        raise InputError([InvalidValue("table", found, "a table that is shorter", file=str(path))])
    try:
        text = raw.decode("utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
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


def separator_of(heading: str) -> str:
    """What stands between headings; nothing where there is one heading, so that any comma is a decimal one."""
    outside = re.sub(r"\"[^\"]*\"|\[[^\]]*\]|\([^)]*\)", "", heading)
    return next((mark for mark in ("\t", ";", ",") if mark in outside), "")


def cells_of(line: str, separator: str) -> Iterator[Cell]:
    """The cells of a line; a separator between quotes separates nothing."""
    text, start, quoted, at = "", 0, False, 0
    while at < len(line):
        mark = line[at]
        if mark == '"' and quoted and line[at + 1 : at + 2] == '"':
            text, at = text + '"', at + 1
        elif mark == '"':
            quoted = not quoted
        elif mark == separator and not quoted:
            yield Cell(text.strip(), start + 1)
            text, start = "", at + 1
        else:
            text += mark
        at += 1
    yield Cell(text.strip(), start + 1)


_HEADING = re.compile(r"^(?P<name>[^\[(]*?)\s*(?:[\[(]\s*(?P<unit>[^\])]*?)\s*[\])])?$")
_DECIMAL_COMMA = re.compile(r"(?<![\d.,])([+-]?\d+),(\d+)(?![\d.,])")
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
MOST_BYTES = 100_000_000
"""Size of the largest table [bytes]."""
_TITLES = 10
"""Lines from the top among which the headings are looked for: people write a title above them."""


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
    alike
        Words that people write for a unit: ``{"g": "gf"}`` for a scale that shows grams.
    bare
        False where a number without a unit, in its cell or its heading, says too little.
    """

    name: str
    quantity: str = "text"
    required: bool = True
    lowest: float = -math.inf
    highest: float = math.inf
    unit: str = ""
    alike: Mapping[str, str] = field(default_factory=dict)
    bare: bool = True


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
    columns
        Where each word's cell begins in its line, by name, counted from 1.
    ignored
        Headings of columns that nobody asked for.
    comments
        Lines that began with ``#``, without it, and titles above the headings.
    path
        The file.
    bare
        Columns of quantities with numbers that have no unit, neither in the heading nor in the cell.
    """

    numbers: dict[str, tuple[float, ...]]
    words: dict[str, tuple[str, ...]]
    lines: tuple[int, ...]
    columns: dict[str, tuple[int, ...]]
    ignored: tuple[str, ...]
    comments: tuple[str, ...]
    path: str
    bare: tuple[str, ...] = ()


def read_table(path: str | Path, columns: Sequence[Column], *, units: Mapping[str, str] | None = None) -> Table:
    """Read a table of measured or recorded values.

    Parameters
    ----------
    path
        CSV file; the first line with a heading that is looked for holds them all: ``wind speed [m/s]`` or
        ``wind speed m/s`` with the unit, or ``wind speed`` with the unit in the cells or in SI.
    columns
        The columns to look for; others are left alone, and named in ``ignored``.
    units
        Unit of numbers that have none, by quantity; SI where left out.

    Returns
    -------
    Table
        Its values in SI.

    Raises
    ------
    InputError
        Every error in the file, with line and column.
    """
    lines, comments = numbered_lines(Path(path))
    if not lines:
        raise InputError(
            [InvalidValue("table", "an empty file", "a line of headings and lines of values", file=str(path))]
        )
    at = _heading_line(lines, columns)
    comments += [line.strip() for _, line in lines[:at]]
    number, heading = lines[at]
    separator = separator_of(heading)
    header = list(cells_of(heading, separator))
    errors: list[InvalidValue] = []
    kept: list[int] = []
    places, units_found, ignored = _match(header, columns, str(path), number, errors)
    if errors:
        raise InputError(errors)

    said = {name for name, unit in units_found.items() if unit}
    usual = units or {}
    units_found = {column.name: units_found.get(column.name) or usual.get(column.quantity, "") for column in columns}
    bare: dict[str, None] = {}
    numbers: dict[str, list[float]] = {c.name: [] for c in columns if c.quantity != "text"}
    words: dict[str, list[str]] = {c.name: [] for c in columns if c.quantity == "text"}
    starts: dict[str, list[int]] = {name: [] for name in words}
    for number, line in lines[at + 1 :]:
        cells = list(cells_of(line, separator))
        if not any(cells[place].text for place in places.values() if place < len(cells)):
            continue  # nothing but a note
        kept.append(number)
        if any(cell.text for cell in cells[len(header) :]):
            extra = "quote a number with a decimal comma, or separate cells by semicolons" if separator == "," else ""
            errors.append(
                InvalidValue(
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
            cell = cells[place] if place is not None and place < len(cells) else Cell("", len(line) + 1)
            try:
                if column.quantity == "text":
                    words[column.name].append(_word(cell, column))
                    starts[column.name].append(cell.column)
                else:
                    unit = units_found.get(column.name, "")
                    plain = column.quantity not in ("number", "share", "bearing") and column.name not in said
                    if plain and _PLAIN_NUMBER.fullmatch(cell.text.replace(",", ".")):
                        bare[column.name] = None
                    numbers[column.name].append(_value(cell.text, column, unit, comma_is_decimal=separator != ","))
            except UnitError as error:
                errors.append(
                    InvalidValue(column.name, error.found, error.allowed, error.hint, str(path), number, cell.column)
                )
    if not kept and not errors:
        errors.append(InvalidValue("table", "headings and no values", "at least one line of values", file=str(path)))
    if errors:
        raise InputError(errors)
    return Table(
        numbers={name: tuple(values) for name, values in numbers.items()},
        words={name: tuple(values) for name, values in words.items()},
        lines=tuple(kept),
        columns={name: tuple(begins) for name, begins in starts.items()},
        ignored=ignored,
        comments=tuple(comments),
        path=str(path),
        bare=tuple(bare),
    )


def _heading_line(lines: Sequence[tuple[int, str]], columns: Sequence[Column]) -> int:
    """Which line holds the headings: of the first few, the one with most that are looked for."""

    def known(line: str) -> int:
        headings = [_heading(cell.text, columns)[0] for cell in cells_of(line, separator_of(line))]
        return sum(_plain(column.name) in headings for column in columns)

    found = [known(line) for _, line in lines[:_TITLES]]
    return found.index(max(found))


def _plain(name: str) -> str:
    return " ".join(name.replace("_", " ").lower().split())


def _heading(text: str, columns: Sequence[Column]) -> tuple[str, str]:
    """Name and unit of a heading: ``speed [m/s]``, ``speed (m/s)``, ``speed, m/s`` or ``speed m/s``."""
    match = _HEADING.match(text)
    name, unit = (match["name"], match["unit"] or "") if match else (text, "")
    for column in columns if not unit else ():
        start, rest = " ".join(text.split())[: len(column.name)], " ".join(text.split())[len(column.name) :]
        if _plain(start) == _plain(column.name) and rest[:1] in (" ", ",") and _is_unit(rest.strip(" ,"), column):
            return _plain(start), rest.strip(" ,")
    return _plain(name), unit


def _is_unit(text: str, column: Column) -> bool:
    if column.quantity in ("text", "number"):
        return bool(column.unit) and tidy_unit(text) == column.unit
    try:
        unit_factor(column.alike.get(text, text), "angle" if column.quantity == "bearing" else column.quantity)
    except UnitError:
        return False
    return True


def _match(
    header: Sequence[Cell], columns: Sequence[Column], file: str, line: int, errors: list[InvalidValue]
) -> tuple[dict[str, int], dict[str, str], tuple[str, ...]]:
    """Pair headings with the wanted columns: place and unit of each, and the headings that are left over."""
    found: dict[str, tuple[int, str]] = {}
    for place, cell in enumerate(header):
        name, unit = _heading(cell.text, columns)
        if name in found:
            errors.append(
                InvalidValue(cell.text, "the heading twice", "each heading once", "", file, line, cell.column)
            )
        found[name] = (place, unit)
    wanted = {_plain(column.name): column for column in columns}
    places = {wanted[name].name: place for name, (place, _) in found.items() if name in wanted}
    units = {wanted[name].name: unit for name, (_, unit) in found.items() if name in wanted}
    left = [name for name in found if name and name not in wanted]
    needed = f"Columns that are needed: {', '.join(f'`{c.name}`' for c in columns if c.required)}"
    for name, column in wanted.items():
        if name in found:
            continue
        near = difflib.get_close_matches(name, left, n=1, cutoff=0.8 if not column.required else 0.6)
        if column.required or near:
            was = f"`{near[0]}`" if near else "no such heading; there are " + ", ".join(f"`{n}`" for n in found)
            at = header[found[near[0]][0]].column if near else 1
            hint, needed = (needed, "") if column.required else ("", needed)
            errors.append(InvalidValue(column.name, was, f"a heading `{column.name}`", hint, file, line, at))
    return places, units, tuple(left)


def _word(cell: Cell, column: Column) -> str:
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
        value = parse_quantity(_with_unit(text, column, unit), column.quantity)
    if not column.lowest <= value <= column.highest:
        hint = ""
        if not unit and column.quantity in QUANTITIES and _PLAIN_NUMBER.fullmatch(text) and column.quantity != "number":
            taken = QUANTITIES[column.quantity].unit
            hint = f"It has no unit and was taken in {taken}; write the unit in the heading: `{column.name} [...]`"
        raise UnitError(f'"{text}"', f"between {column.lowest:g} and {column.highest:g} in SI units", hint)
    return value


def _with_unit(text: str, column: Column, unit: str) -> str:
    """What stands in a cell with its own unit or else that of the heading, in the words of the quantity."""
    parts = split_quantity(text)
    said = parts[0][1] if len(parts) == 1 else ""
    if said in column.alike:
        return f"{text.removesuffix(said)} {column.alike[said]}"
    if not _PLAIN_NUMBER.fullmatch(text):
        return text
    if not unit and not column.bare:
        example = next(iter(column.alike), "")
        hint = f"Head the column `{column.name} [{example}]`, or write `{text} {example}` in the cell"
        raise UnitError(f'"{text}"', "a number with its unit", hint)
    return f"{text} {column.alike.get(unit, unit)}"


def _number(text: str, column: Column, unit: str) -> float:
    if tidy_unit(unit) not in ("", column.unit):
        raise UnitError(f"the unit {unit}", f"numbers in {column.unit}" if column.unit else "numbers without a unit")
    if not _PLAIN_NUMBER.fullmatch(text):
        raise UnitError(f'"{text}"', "a number")
    return float(text)
