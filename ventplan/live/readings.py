"""Readings that a person types in, held against the model."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from ventplan.errors import InputError, Mistake
from ventplan.house import House, Scenario
from ventplan.house.fields import nearest
from ventplan.house.shown import show
from ventplan.house.units import System, UnitError, parse_quantity
from ventplan.measure.anemometer import uncalibrated
from ventplan.measure.house_model import MODEL_ERROR
from ventplan.network import solve

TWO_SIDED = 2.0
"""Standard uncertainties within which a reading and the model agree."""
MOST_READINGS = 200


def held_against(
    house: House, scenario: Scenario, readings: Sequence[Mapping[str, Any]], system: System
) -> dict[str, Any]:
    """Each reading beside the reading that the model expects, and whether the two can both be right.

    Parameters
    ----------
    house, scenario
        The house and the state that the readings were taken in.
    readings
        Each with ``opening`` and ``speed`` as typed (a number is in the unit that is shown).
    system
        Units of the texts.

    Raises
    ------
    InputError
        For an opening that the house does not have, or a speed that cannot be read; the key names the row.

    Notes
    -----
    A reading is expected in the stream, 12 cm downstream of the middle of the free area. Both agree where they differ
    by less than two standard uncertainties, those of an anemometer that nobody has calibrated and of the model itself
    (`ventplan.measure.house_model.MODEL_ERROR`).
    """
    flow, meter = solve(house, scenario), uncalibrated()
    rows, ratios, mistakes = [], [], []
    for number, reading in enumerate(readings[:MOST_READINGS]):
        name, typed = str(reading.get("opening", "")), str(reading.get("speed", "")).strip()
        key = f"readings > {number + 1}"
        if name not in house.openings:
            near = nearest(name, house.openings)
            mistakes.append(Mistake(f"{key} > opening", f'"{name}"', "an opening of this house", near))
            continue
        try:
            speed = _speed(typed, system)
        except UnitError as error:
            mistakes.append(Mistake(f"{key} > speed", error.found, error.allowed, error.hint))
            continue
        expected = flow.openings[name].reading_m_s if name in flow.openings else None
        row = {"opening": name, "measured": show(speed, "speed", system), "expected": "–", "verdict": ""}
        if expected is None:
            row["verdict"] = "one reading says nothing here: a jet goes through it, or the air goes both ways"
        elif speed < meter.start_up_m_s:
            row["expected"] = show(expected, "speed", system)
            slow = expected < meter.start_up_m_s
            row["verdict"] = "both too slow to turn the vane" if slow else "the vane stands still, and should not"
        else:
            row["expected"] = show(expected, "speed", system)
            spread = math.hypot(float(meter.standard_at(speed)), MODEL_ERROR * expected)
            off = (speed - expected) / spread
            ratios.append(speed / expected if expected > 0.0 else float("nan"))
            word = "agree" if abs(off) <= TWO_SIDED else "measured more" if off > 0.0 else "measured less"
            row["verdict"] = f"{word} ({speed / expected - 1.0:+.0%})" if expected > 1e-3 else word
        rows.append(row)
    if mistakes:
        raise InputError(mistakes)
    mean = sum(ratios) / len(ratios) if ratios else None
    return {"rows": rows, "mean": None if mean is None else f"{mean - 1.0:+.0%}", "count": len(ratios)}


def _speed(typed: str, system: System) -> float:
    try:
        float(typed.replace(",", "."))
    except ValueError:
        return parse_quantity(typed, "speed")
    value: float = parse_quantity(f"{typed} {'ft/min' if system == 'us' else 'm/s'}", "speed")
    if value < 0.0:
        raise UnitError(f'"{typed}"', "a speed, 0 where the vane stands still")
    return value
