"""Files of a survey: which houses, what is in them, what is done already, and the table at the end."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal, TextIO

from ventplan.errors import InputError

Cell = str | float | None
Row = Mapping[str, Cell]

COLUMNS: Mapping[str, Literal["words", "number"]] = {
    "file": "words",
    "house": "words",
    "scenario": "words",
    "mistake": "words",
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
    "cut_off_rooms": "words",
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
    if path.is_file():
        data = path.read_bytes()
        digest.update(data)
        for name in sorted({name.strip() for name in _NAMED_FILE.findall(data.decode("utf-8", "replace"))}):
            beside = path.parent / name
            digest.update(name.encode() + (beside.read_bytes() if beside.is_file() else b""))
    return digest.hexdigest()


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
        self._stream: TextIO | None = None
        if path.is_file():
            for line in path.read_text("utf-8").splitlines():
                try:
                    entry = json.loads(line)
                    self.done[entry["key"]] = entry["value"]
                except (ValueError, TypeError, KeyError):
                    continue

    def __enter__(self) -> Journal:
        cut_off = self.path.is_file() and not self.path.read_bytes().endswith(b"\n")
        self._stream = self.path.open("a", encoding="utf-8")
        if cut_off and self._stream.tell() > 0:
            self._stream.write("\n")
        return self

    def __exit__(self, *_: object) -> None:
        if self._stream is not None:
            self._stream.close()

    def add(self, key: str, value: Any) -> None:
        """Note something as done, on the disk before this returns."""
        self.done[key] = value
        if self._stream is not None:
            self._stream.write(json.dumps({"key": key, "value": value}, ensure_ascii=False) + "\n")
            self._stream.flush()


def check_output(path: Path) -> None:
    """See that the table can be written, before any work is done.

    Raises
    ------
    InputError
        For a suffix that is no table's, a folder that is not there, Parquet without its library, or a file that is
        there and no table of a survey.
    """
    if path.suffix not in TABLE_SUFFIXES:
        raise InputError(f"{path}: the table's name must end in {' or '.join(TABLE_SUFFIXES)}")
    if not path.absolute().parent.is_dir():
        raise InputError(f"{path}: there is no folder {path.parent}")
    if path.suffix == ".parquet" and find_spec("pyarrow") is None:
        raise InputError(
            f"{path}: Parquet needs pyarrow. Install it with: pip install 'ventplan[survey]'; or write .csv"
        )

    if path.suffix == ".csv" and path.is_file() and path.stat().st_size and not path.read_bytes().startswith(b"file,"):
        raise InputError(f"{path} is there already and no table of a survey; choose another name, or move it away")


def write_table(rows: Sequence[Row], path: Path) -> None:
    """Write rows as CSV or Parquet, by the suffix; an older table is there until the new one is whole.

    Parameters
    ----------
    rows
        Cells by name of the column, of `COLUMNS`.
    path
        Where to.
    """
    used = [name for name in COLUMNS if any(row.get(name) is not None for row in rows)]
    unfinished = path.with_name(path.name + ".part")
    if path.suffix == ".parquet":
        _write_parquet(rows, used, unfinished)
    else:
        with unfinished.open("w", newline="", encoding="utf-8") as stream:
            writer = csv.writer(stream)
            writer.writerow(used)
            writer.writerows([_text(row, name) for name in used] for row in rows)
    os.replace(unfinished, path)


def _text(row: Mapping[str, Any], name: str) -> str:
    value = row.get(name)
    if value is None:
        return ""
    return f"{value:.6g}" if COLUMNS[name] == "number" else str(value)


def _write_parquet(rows: Sequence[Row], used: Sequence[str], path: Path) -> None:
    pyarrow, parquet = import_module("pyarrow"), import_module("pyarrow.parquet")
    kinds = {"words": pyarrow.string(), "number": pyarrow.float64()}
    columns = {name: pyarrow.array([row.get(name) for row in rows], type=kinds[COLUMNS[name]]) for name in used}
    parquet.write_table(pyarrow.table(columns), path)
