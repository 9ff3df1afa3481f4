"""Readings in a house with the set-up that each was taken in, and how far they and the model may be off."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, get_args

import numpy as np

from ventplan.advice.uncertainty import default_uncertainties
from ventplan.airing import Note, NoteCode
from ventplan.errors import InputError, InvalidValue
from ventplan.house import parse_house
from ventplan.house.fields import nearest
from ventplan.house.records import House, Placement, Scenario
from ventplan.house.table import Column, Table, read_table
from ventplan.house.units import UnitError, parse_quantity
from ventplan.house.yaml_text import set_value
from ventplan.measure.anemometer import Calibration
from ventplan.measure.fan_reading import read_reading
from ventplan.measure.inference import Data, Noise
from ventplan.measure.opening import ONE_PLACE_ERROR
from ventplan.measure.readings import (
    MERGED,
    SPEEDS,
    ZERO_OR_NO_ROW,
    Units,
    blank_below,
    error_in,
    indications,
    unit_notes,
)
from ventplan.measure.uncertainty import WIDE, Array
from ventplan.network.jets import jet_situation

MODEL_ERROR = 0.08
"""Relative standard uncertainty of the model at one opening in one set-up, by itself [-]: even flow simulation agrees
with measurement within 10 to 20 % only (NIST, NISTIR 7065, 2003)."""

JET_ERROR = {
    situation: math.hypot(default_uncertainties().jet_shared, own)
    for situation, own in (
        ("straight", default_uncertainties().jet_own),
        ("near", default_uncertainties().jet_own_near),
        ("aside", default_uncertainties().jet_own_aside),
    )
}
"""Relative standard uncertainty of the flow that a jet drives, by how the fan stands at its opening [-]: 6 % where it
blows at the middle of it, 10 % close to it, 17 % off its middle (the table of ``ventplan.advice.uncertainty``).

Refitted to the residuals ln(simulated / model) of the 121 simulated rooms with one fan (tests/outside): their root mean
square is 6.0 % (75 rooms), 9.5 % (18) and 17.8 % (28). The most likely factor on all three figures is 0.97."""

CORRELATION_LENGTH = 0.6
"""Change of ln(setback + 0.1 m) over which the error of the jet model changes [-], as the standard deviation of a
Gaussian correlation. Most likely in the 22 series of those rooms that differ in setback alone: 0.55; between 0.3 and
1.1 the likelihood is within 1.9 of the best. The residuals keep their sign over about a factor of two."""

MEAN_ERROR = 0.05
"""Relative standard uncertainty of a mean over an opening from a traverse [-] (a judgement)."""

IN_JET_ERROR = 0.05
"""Relative standard uncertainty of one reading in the middle of a jet [-]: the jet wanders, and the highest speed is
sought by hand (a judgement)."""

Takes = Literal["stream", "mean", "jet"]

_POSE = {
    "setback": ("setback_m", "length"),
    "height": ("height_m", "length"),
    "aside": ("aside_m", "length"),
    "turn": ("turn_deg", "angle"),
    "tilt": ("tilt_deg", "angle"),
}
"""Columns that say how a fan stands: the attribute of its placement, and the quantity."""

_FAN_KEYS = ("fan", "blows out", "blows in", "stands in", *_POSE, "setting")
_SET_UP = ("scenario", *_FAN_KEYS, "screens", "open", "shut")

_COLUMNS = (
    Column("opening", required=False),
    *SPEEDS,
    Column("flow", "flow", required=False, lowest=0.0, highest=50.0),
    Column("result", required=False),
    Column("takes", required=False),
    Column("distance", "length", required=False, lowest=0.0, highest=50.0),
    Column("plus or minus", "share", required=False, lowest=0.001, highest=2.0),
    *(Column(name, required=False) for name in _SET_UP),
)


@dataclass(frozen=True)
class HouseReading:
    """One reading.

    Attributes
    ----------
    scenario, opening
        The set-up, and where it was taken; empty for a reading in the jet.
    speed_m_s, below
        Speed [m/s]; where the vane did not turn, its start-up speed, and True: the speed is below that.
    takes, distance_m
        ``stream`` for the anemometer in the middle of the stream, ``mean`` for the mean over the opening, ``jet`` for
        the middle of the jet, at a distance from the blades [m].
    error, by_anemometer
        Relative standard uncertainty of this reading alone [-], and False where it does not share the anemometer's.
    label
        Its place and its line in the file, for people.
    situation
        How the fan stands at its opening, by which the jet model's error is known (`jet_situation`).
    """

    scenario: Scenario
    opening: str
    speed_m_s: float
    takes: Takes
    error: float
    label: str
    below: bool = False
    distance_m: float = 0.0
    by_anemometer: bool = True
    situation: Literal["straight", "near", "aside"] = "straight"

    @property
    def place(self) -> str:
        """Where it was taken, for people."""
        return self.opening or f"the jet at {self.distance_m:.2f} m"

    @property
    def line(self) -> str:
        """Its line in the file of readings."""
        return self.label.rpartition("line ")[2]

    @property
    def fan(self) -> Placement | None:
        """The only fan of the set-up that stands free; None for none or several."""
        free = [placed for placed in self.scenario.placements if not placed.sealed]
        return free[0] if len(free) == 1 else None

    @property
    def setback_m(self) -> float:
        """Setback of that fan [m]; nan for none or several."""
        return self.fan.setback_m if self.fan else math.nan

    def at_setback(self, house: House, setback_m: float) -> HouseReading:
        """The same reading with its fan at another setback [m]; it may be below any limit."""
        placed = self.fan
        if placed is None:
            return replace(self, below=True)
        moved = replace(placed, setback_m=setback_m)
        placements = tuple(moved if one is placed else one for one in self.scenario.placements)
        name = f"{self.scenario.name} at {setback_m:.3f} m"
        state = replace(self.scenario, name=name, placements=placements)
        return replace(self, scenario=state, below=True, situation=jet_situation(house, state, moved))


def model_covariance(
    readings: Sequence[HouseReading], *, model_error: float = MODEL_ERROR, jet_error: float | None = None
) -> Array:
    """Covariance of the model's own error of the logarithms of readings, shape (n, n).

    Two readings in one opening of one set-up share ``model_error`` [-]. Two in set-ups in which one fan stands at the
    same opening share ``jet_error`` [-], by ``JET_ERROR`` if left out, with the correlation
    exp(-(ln s1 / s2)^2 / (2 l^2)) at setbacks s1 and s2.
    """
    places = [(reading.scenario.name, reading.opening, reading.distance_m) for reading in readings]
    fans = [reading.fan if reading.takes != "jet" else None for reading in readings]
    errors = [JET_ERROR[reading.situation] if jet_error is None else jet_error for reading in readings]
    covariance = np.zeros((len(readings), len(readings)))
    for i, one in enumerate(fans):
        for j, other in enumerate(fans):
            if places[i] == places[j]:
                covariance[i, j] += model_error**2
            if one is None or other is None:
                continue
            if (one.fan, one.opening, one.stands_in) == (other.fan, other.opening, other.stands_in):
                apart = math.log((one.setback_m + 0.1) / (other.setback_m + 0.1))
                covariance[i, j] += errors[i] * errors[j] * math.exp(-0.5 * (apart / CORRELATION_LENGTH) ** 2)
    return covariance


def calibration_errors(readings: Sequence[HouseReading], calibration: Calibration) -> Array:
    """Relative standard uncertainty that the anemometer brings to each reading, the same error for all, shape (n,);
    as wide at 95 % as its degrees of freedom make it."""
    speeds = np.array([reading.speed_m_s for reading in readings])
    indicated = (speeds - calibration.intercept_m_s) / calibration.slope
    shared = calibration.expanded_at(indicated) / WIDE / speeds
    return np.asarray(np.where([reading.by_anemometer for reading in readings], shared, 0.0))


def data_from(
    readings: Sequence[HouseReading],
    calibration: Calibration,
    *,
    model_error: float = MODEL_ERROR,
    jet_error: float | None = None,
) -> Data:
    """Readings with all their errors, in the form that a fit takes.

    Parameters
    ----------
    readings
        The readings.
    calibration
        What the anemometer's readings mean; its error is common to all.
    model_error, jet_error
        Relative standard uncertainties of the model [-], see ``model_covariance``.
    """
    shared = calibration_errors(readings, calibration)
    common = model_covariance(readings, model_error=model_error, jet_error=jet_error) + np.outer(shared, shared)
    return Data(
        logarithms=np.log([reading.speed_m_s for reading in readings]),
        below=np.array([reading.below for reading in readings]),
        noise=Noise(np.array([reading.error for reading in readings]), common),
    )


@dataclass(frozen=True)
class HouseReadings:
    """The house of a file of readings, the readings in the order of the file, and what was assumed about them."""

    house: House
    readings: tuple[HouseReading, ...]
    notes: tuple[Note, ...]


def read_house_readings(
    path: str | Path,
    *,
    house_text: str,
    house_path: str = "",
    calibration: Calibration,
    units: Units | None = None,
    display_m_s: float | None = None,
) -> HouseReadings:
    """Readings with their set-ups.

    Each row has a ``speed`` (or ``pulses`` and ``counting time``), or a ``flow``, or a ``result`` that ``ventplan
    measure opening -o`` saved, and the ``opening`` that it belongs to. ``takes`` says ``stream`` (one place in the
    middle of it, the default), ``mean`` (over the opening, from a traverse) or ``jet`` (the middle of the jet,
    ``distance`` from the blades); ``plus or minus`` its uncertainty for 95 % where known. The set-up: ``scenario``
    names one of the house file to start from; ``fan``, ``blows out`` or ``blows in``, ``stands in``, ``setback``,
    ``height``, ``aside``, ``turn``, ``tilt``, ``setting``, ``screens`` (on or off), ``open`` and ``shut`` (names with
    semicolons or + between) say what differs.

    Parameters
    ----------
    path
        The CSV file.
    house_text, house_path
        The house file, and its place.
    calibration
        What the anemometer's readings mean.
    units
        Units of numbers that have none, by quantity.
    display_m_s
        Step of the anemometer's display [m/s]; the last digit of the readings if left out.

    Raises
    ------
    InputError
        Errors in either file.
    """
    table = read_table(path, _COLUMNS, units=units)
    notes = unit_notes(table, _COLUMNS, units or {}, asked=("speed",))
    indicated, unit = indications(table, complete=False)
    if np.isfinite(indicated).any() and unit != calibration.indication:
        found = f"readings in {unit}, and a calibration in {calibration.indication}"
        raise error_in(table, "speed", found, "both alike; `ventplan measure anemometer` calibrates pulses too", 0)
    blank = blank_below(table, "scenario")
    if blank:
        named = "a scenario in every row once one has it, such as `as it stands`"
        raise error_in(table, "scenario", "an empty cell below a filled one", named, blank[0], MERGED)
    house = parse_house(house_text, house_path)
    _check_names(table, house)
    states = _states(table, house, house_text, house_path)
    step = _display_step(indicated * calibration.slope) if display_m_s is None else display_m_s
    readings = []
    for row, (state, shown) in enumerate(zip(states, indicated.tolist(), strict=True)):
        reading = _reading(table, row, house, state, shown, Path(path).parent)
        if math.isfinite(shown):
            reading = _with_speed(reading, shown, calibration, step)
        if reading.fan is not None:
            reading = replace(reading, situation=jet_situation(house, state, reading.fan))
        readings.append(reading)
    slow = [reading.line for reading in readings if reading.below]
    if slow:
        notes.append(Note(NoteCode.VANE_STILL, tuple(slow)))
    for name in _SET_UP[1:]:
        rows = [str(table.lines[row]) for row in blank_below(table, name)]
        if rows:
            notes.append(Note(NoteCode.SETUP_OF_FILE, (name, *rows)))
    return HouseReadings(house, tuple(readings), tuple(notes))


def _display_step(speeds_m_s: Array) -> float:
    """Step of a display from the last digit of its readings [m/s]: 0.1 or 0.01, or 0 where they show none."""
    shown = speeds_m_s[np.isfinite(speeds_m_s) & (speeds_m_s > 0.0)]
    for step in (0.1, 0.01) if shown.size >= 4 else ():
        if np.abs(shown / step - np.round(shown / step)).max() < 1e-6:
            return step
    return 0.0


def _reading(table: Table, row: int, house: House, state: Scenario, indicated: float, folder: Path) -> HouseReading:
    """One row, without the speed of the anemometer."""
    name, line = table.words["opening"][row], table.lines[row]
    given, flow, saved = (table.numbers["plus or minus"][row], table.numbers["flow"][row], table.words["result"][row])
    said = [math.isfinite(indicated), math.isfinite(flow), bool(saved)]
    if sum(said) != 1:
        found = "an empty row" if not any(said) else "more than one of them"
        allowed = "a speed (or pulses and counting time), a flow, or a result"
        raise error_in(table, "speed", found, allowed, row, ZERO_OR_NO_ROW)
    takes = table.words["takes"][row].lower() or "stream"
    if takes not in get_args(Takes):
        raise error_in(table, "takes", f'"{takes}"', "stream, mean or jet", row)
    if takes == "jet":
        distance = table.numbers["distance"][row]
        if not math.isfinite(distance) or not math.isfinite(indicated):
            raise error_in(table, "distance", "an empty cell", "a speed and its distance from the blades", row)
        if len(state.placements) != 1:
            found = f"{len(state.placements)} fans in this set-up"
            raise error_in(table, "takes", found, "one fan, for a reading in its jet", row)
        own = given / WIDE if math.isfinite(given) else IN_JET_ERROR
        return HouseReading(state, "", 0.0, "jet", own, f"jet at {distance:.2f} m, line {line}", distance_m=distance)
    if not name:
        raise error_in(table, "opening", "an empty cell", "an opening of the house file", row)
    if not math.isfinite(indicated):
        takes = "mean"
    default = MEAN_ERROR if takes == "mean" else ONE_PLACE_ERROR["screened" if name in state.screened else "bare"]
    own = given / WIDE if math.isfinite(given) else default
    reading = HouseReading(state, name, 0.0, "mean" if takes == "mean" else "stream", own, f"{name}, line {line}")
    if math.isfinite(indicated):
        return reading
    area = state.shares[name] * house.openings[name].area_m2
    if area <= 0.0:
        raise error_in(table, "opening", f"{name}, shut in its set-up", "an opening that was open", row)
    if saved:
        taken = read_reading(folder / saved)
        if taken.measured != "flow":
            raise error_in(table, "result", f"a saved {taken.measured}", "a flow from `measure opening -o`", row)
        flow, own = float(taken.values[0]), math.hypot(math.sqrt(taken.relative_covariance[0, 0]), taken.anemometer)
    return replace(reading, speed_m_s=flow / area, error=own, by_anemometer=False)


def _with_speed(reading: HouseReading, indicated: float, calibration: Calibration, step: float) -> HouseReading:
    """The reading with its corrected speed, its own scatter and the rounding of the display; or the start-up speed."""
    speed = float(calibration.speed(indicated))
    if not speed >= calibration.start_up_m_s:
        return replace(reading, speed_m_s=calibration.start_up_m_s, below=True)
    # The scatter of one calibrated reading, and the display's rounding (rectangular, JCGM 100:2008, F.2.2.1).
    scatter = math.hypot(calibration.scatter_m_s, step / math.sqrt(12.0)) / speed
    return replace(reading, speed_m_s=speed, error=math.hypot(reading.error, scatter))


def _check_names(table: Table, house: House) -> None:
    """Every opening and scenario of the readings is in the house; all that are not are reported at once."""
    errors = [
        InvalidValue(kind, f'"{name}"', allowed, nearest(name, known), table.path, line, column)
        for kind, known, allowed in (
            ("scenario", house.scenarios, f"one of {', '.join(house.scenarios)}"),
            ("opening", house.openings, "an opening of the house file"),
        )
        for name, line, column in zip(table.words[kind], table.lines, table.columns[kind], strict=True)
        if name and name not in known
    ]
    if errors:
        raise InputError(sorted(errors, key=lambda one: (one.line or 0, one.column or 0)))


def _states(table: Table, house: House, text: str, path: str) -> list[Scenario]:
    """The scenario of every row; equal set-ups share one."""
    rows = [tuple(table.words[name][row] for name in _SET_UP) for row in range(len(table.lines))]
    lines = {said: table.lines[rows.index(said)] for said in dict.fromkeys(rows)}
    keys = {said: f"set-up of line {line} of the readings" for said, line in lines.items()}
    for said, key in keys.items():
        text = set_value(text, ("scenarios", key), _scenario_entry(dict(zip(_SET_UP, said, strict=True))))
    try:
        made = parse_house(text, path).scenarios
    except InputError as error:
        of_keys = {keys[said]: line for said, line in lines.items()}
        raise InputError([_in_readings(error, of_keys, table.path) for error in error.errors]) from error
    states = {said: _adjusted(made[key], said, table.path, lines[said]) for said, key in keys.items()}
    return [states[said] for said in rows]


def _adjusted(state: Scenario, said: tuple[str, ...], path: str, line: int) -> Scenario:
    """The set-up under its name in words; without a fan of its own, its pose and setting are those of the fans that run
    already."""
    cells = dict(zip(_SET_UP, said, strict=True))
    differs = ", ".join(f"{key} {cells[key]}" for key in _SET_UP[1:] if cells[key])
    state = replace(state, name=f"{cells['scenario'] or 'as it stands'}: {differs or 'as in the house file'}")
    changed = {key: cells[key] for key in (*_POSE, "setting") if cells[key]}
    if cells["fan"] or not changed:
        return state
    if not state.placements:
        key = next(iter(changed))
        raise InputError([InvalidValue(key, "no fan in this set-up", "a fan, or a scenario with one", "", path, line)])
    values: dict[str, Any] = {"setting": changed.pop("setting")} if "setting" in changed else {}
    for key, text in changed.items():
        attribute, quantity = _POSE[key]
        try:
            values[attribute] = parse_quantity(text, quantity)
        except UnitError as error:
            raise InputError([InvalidValue(key, error.found, error.allowed, error.hint, path, line)]) from None
    return replace(state, placements=tuple(replace(placement, **values) for placement in state.placements))


def _scenario_entry(said: Mapping[str, str]) -> dict[str, object]:
    """A set-up as a scenario of the house file."""
    entry: dict[str, object] = {"based on": said["scenario"]} if said["scenario"] else {}
    for key in ("open", "shut"):
        if said[key]:
            entry[key] = [name.strip() for name in said[key].replace("+", ";").split(";")]
    if said["screens"]:
        entry["screens"] = said["screens"]
    if said["fan"]:
        entry["fans"] = [{key: said[key] for key in _FAN_KEYS if said[key]}]
    return entry


def _in_readings(error: InvalidValue, lines: Mapping[str, int], path: str) -> InvalidValue:
    """An error in a set-up at its row of the readings."""
    line = next((line for name, line in lines.items() if f"> {name}" in error.key), None)
    return error if line is None else replace(error, file=path, line=line, column=None)
