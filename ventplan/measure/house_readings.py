"""Readings at openings with the set-up that each was taken in, from a CSV file and the house file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from ventplan.errors import InputError, Mistake
from ventplan.house import House, Scenario, parse_house
from ventplan.house.fields import nearest
from ventplan.house.table import Column, Table, read_table
from ventplan.house.units import UnitError, parse_quantity
from ventplan.house.yaml_text import set_value
from ventplan.measure.anemometer import Calibration
from ventplan.measure.house_fit import HouseReading, Takes
from ventplan.measure.opening import ONE_PLACE_ERROR
from ventplan.measure.readings import MERGED, SPEEDS, blank_below, indications, mistake_in
from ventplan.measure.uncertainty import WIDE, Array

MODEL_ERROR = 0.08
"""Relative standard uncertainty of the model itself at one opening [-]: even flow simulation agrees with
measurement within 10 to 20 % only (NIST, NISTIR 7065, 2003)."""

MEAN_ERROR = 0.05
"""Relative standard uncertainty of a mean over an opening from a traverse [-] (a judgement)."""

_SET_UP = ("scenario", "fan", "blows out", "blows in", "stands in", "setback", "setting", "screens", "open", "shut")


def read_house_readings(
    path: str | Path,
    *,
    house_text: str,
    house_path: str = "",
    calibration: Calibration,
    model_error: float = MODEL_ERROR,
) -> tuple[House, tuple[HouseReading, ...], tuple[str, ...]]:
    """Readings with their set-ups.

    Columns ``opening`` and ``speed`` (or ``pulses`` and ``counting time``); ``takes`` says ``stream`` (one place in
    the middle of it, the default) or ``mean`` (over the opening, from a traverse); ``plus or minus`` its uncertainty
    for 95 % where known. The set-up: ``scenario`` names one of the house file to start from, and ``fan``, ``blows out``
    or ``blows in``, ``stands in``, ``setback``, ``setting``, ``screens`` (on or off), ``open`` and ``shut`` (names with
    semicolons or + between) say what differs.

    Parameters
    ----------
    path
        The CSV file.
    house_text, house_path
        The house file, and its place.
    calibration
        What the anemometer's readings mean.
    model_error
        Relative standard uncertainty of the model [-].

    Returns
    -------
    tuple
        The house (with the set-ups among its scenarios), the readings, and notes on those left out.

    Raises
    ------
    InputError
        Mistakes in either file.
    """
    table = read_table(path, _columns())
    indicated, unit = indications(table)
    if unit != calibration.indication:
        found = f"readings in {unit}, and a calibration in {calibration.indication}"
        raise mistake_in(table, "speed", found, "both alike; `ventplan measure anemometer` calibrates pulses too", 0)
    blank = blank_below(table, "scenario")
    if blank:
        named = "a scenario in every row once one has it, such as `as it stands`"
        raise mistake_in(table, "scenario", "an empty cell below a filled one", named, blank[0], MERGED)
    house = parse_house(house_text, house_path)
    _check_names(table, house)
    states = _states(table, house, house_text, house_path)
    readings, slow = [], []
    for row, line in enumerate(table.lines):
        name = table.words["opening"][row]
        speed = float(calibration.speed(indicated[row]))
        label = f"{name}, line {line}"
        if not speed >= calibration.start_up_m_s:
            slow.append(line)
            continue
        takes = _takes(table, row)
        state = states[row]
        bare = "screened" if name in state.screened else "bare"
        given = table.numbers["plus or minus"][row]
        own = given / WIDE if math.isfinite(given) else MEAN_ERROR if takes == "mean" else ONE_PLACE_ERROR[bare]
        readings.append(HouseReading(state, name, speed, takes, math.hypot(own, model_error), label))
    if not readings:
        raise InputError([Mistake("speed", "no reading above start-up", "at least one", file=str(path))])
    notes = (
        f"Left out, below start-up ({calibration.start_up_m_s:.2f} m/s): lines {', '.join(map(str, slow))}. Of "
        "readings just above it, those that chance made high are kept and the others not: read faster streams.",
    )
    return house, tuple(readings), (*(notes if slow else ()), *_as_the_file_has_it(table))


def _as_the_file_has_it(table: Table) -> list[str]:
    """A note for each part of a set-up that is blank below rows that have one: it may have been a merged cell."""
    return [
        f"No {name} in line{'s' if len(rows) > 1 else ''} {', '.join(str(table.lines[row]) for row in rows)}, below "
        "rows that have one: taken as the house file has it."
        for name in _SET_UP[1:]
        if (rows := blank_below(table, name))
    ]


def noise_of(readings: tuple[HouseReading, ...], calibration: Calibration) -> Array:
    """Covariance of the logarithms of the readings: their own errors, and the anemometer's, which all
    share: normal, as wide at 95 % as its degrees of freedom make it."""
    middle = float(np.mean([reading.speed_m_s for reading in readings]))
    indicated = (middle - calibration.intercept_m_s) / calibration.slope
    shared = float(calibration.expanded_at(indicated)) / WIDE / middle
    own = np.diag([reading.error**2 for reading in readings])
    return np.asarray(own + shared**2)


def _columns() -> tuple[Column, ...]:
    return (
        Column("opening"),
        *SPEEDS,
        Column("takes", required=False),
        Column("plus or minus", "share", required=False, lowest=0.001, highest=2.0),
        *(Column(name, required=False) for name in _SET_UP),
    )


def _check_names(table: Table, house: House) -> None:
    """Every opening and scenario of the readings is in the house; all that are not are told at once."""
    mistakes = [
        Mistake(kind, f'"{name}"', allowed, nearest(name, known), table.path, line, column)
        for kind, known, allowed in (
            ("scenario", house.scenarios, f"one of {', '.join(house.scenarios)}"),
            ("opening", house.openings, "an opening of the house file"),
        )
        for name, line, column in zip(table.words[kind], table.lines, table.columns[kind], strict=True)
        if name not in known and (name or kind == "opening")
    ]
    if mistakes:
        raise InputError(sorted(mistakes, key=lambda one: (one.line or 0, one.column or 0)))


def _takes(table: Table, row: int) -> Takes:
    said = table.words["takes"][row].lower()
    if said in ("", "stream"):
        return "stream"
    if said == "mean":
        return "mean"
    raise InputError([Mistake("takes", f'"{said}"', "stream or mean", "", table.path, table.lines[row])])


def _states(table: Table, house: House, text: str, path: str) -> list[Scenario]:
    """The scenario of every row; equal set-ups share one."""
    rows = [tuple(table.words[name][row] for name in _SET_UP) for row in range(len(table.lines))]
    first = {said: table.lines[rows.index(said)] for said in dict.fromkeys(rows)}
    for said in first:
        text = set_value(text, ("scenarios", _name(said)), _spec(dict(zip(_SET_UP, said, strict=True))))
    try:
        made = parse_house(text, path).scenarios
    except InputError as error:
        lines = {_name(said): line for said, line in first.items()}
        raise InputError([_moved(mistake, lines, table.path) for mistake in error.mistakes]) from error
    states = {said: _adjusted(made[_name(said)], said, table.path, line) for said, line in first.items()}
    return [states[said] for said in rows]


def _adjusted(state: Scenario, said: tuple[str, ...], path: str, line: int) -> Scenario:
    """Without a fan of its own, a set-up's setback and setting are those of the fans that run already."""
    cells = dict(zip(_SET_UP, said, strict=True))
    if cells["fan"] or not (cells["setback"] or cells["setting"]):
        return state
    if not state.placements:
        raise InputError([Mistake("setback", "no fan in this set-up", "a fan, or a scenario with one", "", path, line)])
    placements = state.placements
    if cells["setback"]:
        try:
            setback = parse_quantity(cells["setback"], "length")
        except UnitError as error:
            raise InputError([Mistake("setback", error.found, error.allowed, error.hint, path, line)]) from None
        placements = tuple(replace(placement, setback_m=setback) for placement in placements)
    if cells["setting"]:
        placements = tuple(replace(placement, setting=cells["setting"]) for placement in placements)
    return replace(state, placements=placements)


def _name(said: tuple[str, ...]) -> str:
    """A set-up in words, such as ``evening: setback 1.5 m``; the colon keeps it apart from the file's own
    names."""
    cells = dict(zip(_SET_UP, said, strict=True))
    differs = ", ".join(f"{key} {cells[key]}" for key in _SET_UP[1:] if cells[key])
    return f"{cells['scenario'] or 'as it stands'}: {differs or 'as the file has it'}"


def _spec(said: Mapping[str, str]) -> dict[str, object]:
    """What a scenario of the house file would say of a set-up."""
    spec: dict[str, object] = {"based on": said["scenario"]} if said["scenario"] else {}
    for key in ("open", "shut"):
        if said[key]:
            spec[key] = [name.strip() for name in said[key].replace("+", ";").split(";")]
    if said["screens"]:
        spec["screens"] = said["screens"]
    if said["fan"]:
        keys = ("fan", "blows out", "blows in", "stands in", "setback", "setting")
        spec["fans"] = [{key: said[key] for key in keys if said[key]}]
    return spec


def _moved(mistake: Mistake, lines: Mapping[str, int], path: str) -> Mistake:
    """A mistake in a set-up belongs to its row of the readings."""
    for name, line in lines.items():
        if f"> {name}" in mistake.key:
            return replace(mistake, file=path, line=line, column=None)
    return mistake
