"""Figures with their uncertainty as a person types them: ``0.30 m3/s ± 6 %``, one by one or in a table."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ventplan.errors import InputError, Mistake
from ventplan.house.table import Column, read_table
from ventplan.house.units import UnitError, parse_quantity
from ventplan.measure.card_reading import CardReading, Measured
from ventplan.measure.uncertainty import LIMIT_DIVISORS, Estimate

UNSTATED_ERROR = 0.10
"""Relative standard uncertainty of a figure that comes without one [-] (a judgement)."""

_PLUS_MINUS = re.compile(r"\s*(?:±|\+/-|\+-)\s*")
_QUANTITIES = {"flow": "flow", "thrust": "force", "speed": "share", "power": "power", "sound": "sound"}


def parse_figure(text: str, quantity: str, unit: str = "") -> Estimate:
    """A figure such as ``0.30 m3/s ± 6 %``; what follows ± is for 95 %, as people state it.

    Raises
    ------
    UnitError
        Where it is no such figure.
    """
    parts = _PLUS_MINUS.split(text.strip())
    value = parse_quantity(parts[0], quantity)
    if len(parts) == 1:
        return Estimate(value, UNSTATED_ERROR * abs(value), unit=unit)
    if len(parts) > 2 or not parts[1]:
        raise UnitError(f'"{text}"', "a figure, or a figure ± its uncertainty")
    relative = "%" in parts[1] and quantity != "share"
    reach = parse_quantity(parts[1], "share") * abs(value) if relative else parse_quantity(parts[1], quantity)
    if not 0.0 < reach < abs(value):
        raise UnitError(f'"{text}"', "an uncertainty above zero and below the figure itself")
    return Estimate(value, reach / LIMIT_DIVISORS["normal"], unit=unit)


@dataclass(frozen=True)
class TypedFigures:
    """Figures of a fan that were typed: readings for the card, and power and sound by setting (empty:
    highest)."""

    readings: tuple[CardReading, ...]
    power_w: dict[str, float]
    sound_db: dict[str, float]


def read_typed_figures(path: str | Path) -> TypedFigures:
    """Columns ``what`` (flow, thrust, speed, power, sound), ``value`` with its unit and ±, and ``setting``.

    Raises
    ------
    InputError
        Mistakes in the file, all at once.
    """
    table = read_table(path, (Column("what"), Column("value"), Column("setting", required=False)))
    readings: list[CardReading] = []
    power: dict[str, float] = {}
    sound: dict[str, float] = {}
    mistakes = []
    for row, what in enumerate(word.lower() for word in table.words["what"]):
        text, setting = table.words["value"][row], table.words["setting"][row]
        if what not in _QUANTITIES:
            mistakes.append(Mistake("what", f"`{what}`", ", ".join(_QUANTITIES), "", table.path, table.lines[row]))
            continue
        try:
            figure = parse_figure(text, _QUANTITIES[what])
            if not 0.0 < figure.value < math.inf:
                raise UnitError(f'"{text}"', f"a {what} above zero")
        except UnitError as error:
            mistakes.append(Mistake(what, error.found, error.allowed, error.hint, table.path, table.lines[row]))
            continue
        if what == "power":
            power[setting] = figure.value
        elif what == "sound":
            sound[setting] = figure.value
        else:
            readings.append(_typed(what, figure, setting, f"{what} ({Path(path).name}, line {table.lines[row]})"))
    if mistakes:
        raise InputError(mistakes)
    return TypedFigures(tuple(readings), power, sound)


def _typed(what: str, figure: Estimate, setting: str, label: str) -> CardReading:
    measured: Measured = "flow" if what == "flow" else "thrust" if what == "thrust" else "speed"
    return CardReading(
        measured, np.array([figure.value]), np.array([[figure.relative**2]]), setting=setting, label=label
    )
