"""Readings of a kitchen scale as a person types them, one run for each speed setting."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ventplan.house.table import Column, Table, read_table
from ventplan.measure.columns import MERGED, blank_below, column_of, mistake_in
from ventplan.measure.thrust import STANDARD_GRAVITY_M_S2
from ventplan.measure.uncertainty import Array

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
    words = (Column("fan"), Column("direction", required=False), Column("setting", required=False))
    table = read_table(path, (*words, READING))
    grams = column_of(table, "reading") / STANDARD_GRAVITY_M_S2 * 1000.0
    every = range(len(table.lines))
    running = [_word(table, "fan", row, {"on": True, "off": False}) for row in every]
    turned = {"forward": False, "": False, "reverse": True, "back": True}
    reverse = [_word(table, "direction", row, turned) for row in every]
    _no_merged_cells(table, running)
    names = table.words["setting"]
    settings = dict.fromkeys(name for name, on in zip(names, running, strict=True) if on)
    if not settings:
        raise mistake_in(table, "fan", "only `off`", "readings with the fan `on` too")
    runs = {
        setting: [row for row in every if names[row] == setting or (not running[row] and not names[row])]
        for setting in settings
    }
    return tuple(
        ScaleReadings(
            setting,
            grams[rows],
            tuple(running[row] for row in rows),
            tuple(reverse[row] for row in rows),
            tuple(table.lines[row] for row in rows),
        )
        for setting, rows in runs.items()
    )


def _no_merged_cells(table: Table, running: list[bool]) -> None:
    """Refuse a blank below a filled cell: it may be the highest setting, forward, or a merged cell."""
    for name, instead in (
        ("setting", "a setting in every row with the fan on, such as `high`, once one has it"),
        ("direction", "forward or reverse in every row, once one has it"),
    ):
        # Readings with the fan off may belong to every setting.
        blank = [row for row in blank_below(table, name) if running[row] or name == "direction"]
        if blank:
            raise mistake_in(table, name, "an empty cell below a filled one", instead, blank[0], MERGED)


def _word(table: Table, name: str, row: int, words: dict[str, bool]) -> bool:
    said = table.words[name][row].strip().lower()
    if said not in words:
        allowed = " or ".join(word for word in words if word)
        raise mistake_in(table, name, f"`{said}`", allowed, row)
    return words[said]
