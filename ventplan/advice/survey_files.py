"""Files of a survey: which houses, what is in them, what is done already, and the table at the end."""

from __future__ import annotations

import csv
import errno
import hashlib
import io
import json
import os
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal

from ventplan.errors import InputError
from ventplan.files import check_new_file, write_file

Cell = str | float | None
Row = Mapping[str, Cell]

COLUMNS: Mapping[str, Literal["words", "number"]] = {
    "file": "words",
    "house": "words",
    "scenario": "words",
    "error": "words",
    "rooms": "number",
    "volume_m3": "number",
    "outdoor_temperature_c": "number",
    "wind_m_s": "number",
    "wind_from_deg": "number",
    "outdoor_air_m3_s": "number",
    "outdoor_air_low_m3_s": "number",
    "outdoor_air_high_m3_s": "number",
    "outdoor_air_change_per_h": "number",
    "worst_room": "words",
    "worst_effective_air_change_per_h": "number",
    "isolated_rooms": "words",
    "fans": "words",
    "fan_ratio": "number",
    "cautions": "words",
    "aim": "words",
    "aim_before": "number",
    "aim_planned": "number",
    "plan_fans": "words",
    "plan_openings": "words",
    "plan_stands_in": "words",
    "plan_setbacks_m": "words",
    "plan_opens": "words",
    "plan_shuts": "words",
    "plan_cautions": "words",
}
"""Columns of the table, in order, SI. The aim's values are in m3/s, 1/s for the worst room."""

HOUSE_SUFFIXES = (".yaml", ".yml")
TABLE_SUFFIXES = (".csv", ".parquet")
_NAMED_FILE = re.compile(r"[^:,{}\[\]'\"\n]+\.csv")


def house_files(given: Iterable[str | Path]) -> list[Path]:
    """House files in the order given; a folder stands for all the YAML files in it, by name.

    Raises
    ------
    InputError
        Where there are none, or one that is named is not there.
    """
    paths = [Path(path) for path in given]
    if gone := [str(path) for path in paths if not path.exists()]:
        raise InputError(f"there is no file or folder {', '.join(gone)}")
    found: dict[Path, None] = {}
    for path in paths:
        inside = sorted(p for p in path.iterdir() if p.suffix in HOUSE_SUFFIXES) if path.is_dir() else [path]
        found |= dict.fromkeys(inside)
    if not found:
        raise InputError("no house files: name some, or a folder that holds .yaml files")
    return list(found)


def content_hash(path: Path, *more: str) -> str:
    """What a house's rows depend on, as one text: its name and bytes, those of the tables it names, and ``more``."""
    digest = hashlib.sha256(json.dumps([path.name, *more]).encode())
    if path.is_file() and (data := _bytes_of(path)):
        digest.update(data)
        for name in sorted({name.strip() for name in _NAMED_FILE.findall(data.decode("utf-8", "replace"))}):
            beside = path.parent / name
            digest.update(name.encode() + (_bytes_of(beside) if beside.is_file() else b""))
    return digest.hexdigest()


def _bytes_of(path: Path) -> bytes:
    """Content of a file; nothing where it cannot be read, which its own row will say."""
    try:
        return path.read_bytes()
    except OSError:
        return b""


class Journal:
    """What is done already, one JSON line each, beside the table; a line that was cut off is left out.

    Parameters
    ----------
    path
        The file; it need not exist yet.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.done: dict[str, Any] = {}
        self._stream: io.RawIOBase | None = None
        with self._explained():
            content = path.read_bytes() if path.exists() else b""
        self._cut_off = bool(content) and not content.endswith(b"\n")
        for line in content.splitlines():
            try:
                entry = json.loads(line)
                self.done[entry["key"]] = entry["value"]
            except (ValueError, TypeError, KeyError):  # a line that was cut off, perhaps inside a character
                continue

    def __enter__(self) -> Journal:
        with self._explained():
            self._stream = self.path.open("ab", buffering=0)
            if self._cut_off:
                self._stream.write(b"\n")
        return self

    def __exit__(self, *_: object) -> None:
        if self._stream is not None:
            self._stream.close()

    def add(self, key: str, value: Any) -> None:
        """Note something as done; it is in the file before this returns.

        Raises
        ------
        InputError
            Where the file cannot be written, as on a full disk; all that was noted before is kept.
        """
        self.done[key] = value
        line = json.dumps({"key": key, "value": value}).encode() + b"\n"
        with self._explained():
            if self._stream is not None and self._stream.write(line) != len(line):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    @contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise InputError(
                f"the journal {self.path} cannot be read or written: {error.strerror or error}. What it holds is kept; "
                "run the same command again to continue"
            ) from None


def check_output(path: Path, *, replace: bool) -> None:
    """See that the table can be written, before any work is done.

    Parameters
    ----------
    path
        The table.
    replace
        True where an older file may be written over. A table that has its journal beside it is the survey's own, and
        is brought up to date without this.

    Raises
    ------
    InputError
        For a suffix that is no table's, Parquet without its library, or where `check_new_file` refuses.
    """
    if path.suffix not in TABLE_SUFFIXES:
        raise InputError(f"{path}: the table's name must end in {' or '.join(TABLE_SUFFIXES)}")
    if path.suffix == ".parquet" and find_spec("pyarrow") is None:
        raise InputError(
            f"{path}: Parquet needs pyarrow. Install it with: pip install 'ventplan[survey]'; or write .csv"
        )
    check_new_file(path, replace=replace or journal_of(path).is_file())


def journal_of(table: Path) -> Path:
    """The file beside a table that keeps what is done."""
    return table.with_name(table.name + ".journal")


def write_table(rows: Sequence[Row], path: Path) -> None:
    """Write rows as CSV or Parquet, by the suffix.

    Parameters
    ----------
    rows
        Cells by name of the column, of `COLUMNS`.
    path
        Where to.
    """
    used = [name for name in COLUMNS if any(row.get(name) is not None for row in rows)]
    write_file(path, _parquet(rows, used) if path.suffix == ".parquet" else _csv(rows, used))


def _csv(rows: Sequence[Row], used: Sequence[str]) -> str:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(used)
    writer.writerows([_text(row, name) for name in used] for row in rows)
    return stream.getvalue()


def _text(row: Mapping[str, Any], name: str) -> str:
    value = row.get(name)
    if value is None:
        return ""
    return f"{value:.6g}" if COLUMNS[name] == "number" else str(value)


def _parquet(rows: Sequence[Row], used: Sequence[str]) -> bytes:
    pyarrow, parquet = import_module("pyarrow"), import_module("pyarrow.parquet")
    kinds = {"words": pyarrow.string(), "number": pyarrow.float64()}
    columns = {name: pyarrow.array([row.get(name) for row in rows], type=kinds[COLUMNS[name]]) for name in used}
    stream = io.BytesIO()
    parquet.write_table(pyarrow.table(columns), stream)
    return stream.getvalue()
