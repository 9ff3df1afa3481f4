"""The lines and cells of a CSV file in the dialect of any spreadsheet, with their places for messages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ventplan.errors import InputError, Mistake


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
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError([Mistake("table", reason, "a CSV file that can be read", file=str(path))]) from error
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
