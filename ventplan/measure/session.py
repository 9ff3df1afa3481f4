"""Measuring several fans in one evening: a blank form to fill in, and everything that follows from it at once.

The form is one table, a row for each reading that is asked for. Rows without a reading are missing, and named; whatever
is there is worked out, so that a form may be evaluated at any time and again when more has been filled in.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any, Literal, TypeVar

import numpy as np

from ventplan.airing import Note, NoteCode
from ventplan.errors import InputError, InvalidValue, NoAnswerError
from ventplan.house.records import Fan
from ventplan.house.table import Column, Table, read_table
from ventplan.house.units import UnitError, parse_quantity
from ventplan.measure.anemometer import Calibration
from ventplan.measure.fan_bench import STANDARD_GRAVITY_M_S2, ThrustResult, parse_lever, thrust_from_scale, without_box
from ventplan.measure.fan_data import FanData, combine
from ventplan.measure.fan_reading import (
    FanReading,
    from_estimate,
    from_profile,
    from_walk,
    highest_as_blank,
    parse_figure,
    remarks,
)
from ventplan.measure.jet import Profile, Walk, fit_profile, fit_walk
from ventplan.measure.opening import PlaceReading, flow_through, parse_size, positions
from ventplan.measure.readings import READING, SPEEDS, Units, unit_notes
from ventplan.measure.uncertainty import Array, Estimate

SCALE_RUN = ("off", "on", "off", "on", "off")

SHUT_OFF_PA = 20.0
"""Pressure at which a fan in a box moves no air, where the form does not say [Pa]; taken as known within 60 %."""


@dataclass(frozen=True)
class _Layout:
    """What a blank form proposes, in the units of its reader and easy to find on a tape: distances of a walk and of a
    profile [distance], offsets of the profile and the size of the box [near]."""

    distance: str
    near: str
    speed: str
    near_m: float
    walk: tuple[float, ...]
    profile_at: float
    offsets: tuple[int, ...]
    box: int
    diameter: str
    lever: str


_LAYOUTS = {
    "si": _Layout(
        "m", "cm", "m/s", 0.01, (0.3, 0.6, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0), 2.0,
        (-60, -45, -30, -15, 0, 15, 30, 45, 60), 50, "34 cm", "30 cm / 60 cm",
    ),
    "us": _Layout(
        "ft", "in", "ft/min", 0.0254, (1.0, 2.0, 3.0, 5.0, 6.5, 8.0, 10.0, 13.0), 6.5,
        (-24, -18, -12, -6, 0, 6, 12, 18, 24), 20, "14 in", "12 in / 24 in",
    ),
}  # fmt: skip

_CELLS = ("setting", "distance", "offset", "across", "up", "runs", "direction", "reading", "speed", "value", "note")


def blank_form(fans: Sequence[str], *, show: Literal["si", "us"] = "si") -> str:
    """A form to fill in, as CSV: a row for every reading, places filled in as a proposal.

    Parameters
    ----------
    fans
        Names of the fans.
    show
        Units of the headings and of the places.
    """
    layout = _LAYOUTS[show]
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    units = {"distance": layout.distance, "speed": layout.speed, "reading": "g"}
    units |= dict.fromkeys(("offset", "across", "up"), layout.near)
    table.writerow(["fan", "test", *(f"{name} [{units[name]}]" if name in units else name for name in _CELLS)])

    def row(fan: str, test: str, **cells: str) -> None:
        table.writerow([fan, test, *(cells.get(name, "") for name in _CELLS)])

    side = layout.box * layout.near_m
    for fan in fans:
        row(fan, "diameter", note=f"of the blades, such as {layout.diameter}")
        row(fan, "power", note="by a meter at the plug, such as 45 W")
        row(fan, "sound", note="1 m away, such as 52 dB")
        row(fan, "lever", value="1", note=f"arm of the scale / arm of the fan, such as {layout.lever}; 1 for none")
        for way in ("forward", "reverse"):
            for runs in SCALE_RUN:
                row(fan, "thrust", runs=runs, direction=way, note="" if runs == "on" else "fan off: the tare")
        for place in layout.walk:
            row(fan, "jet", distance=f"{place:g}", note="the highest speed at this distance")
        for offset in layout.offsets:
            row(fan, "profile", distance=f"{layout.profile_at:g}", offset=f"{offset:g}")
        size = f"{layout.box} {layout.near} x {layout.box} {layout.near}"
        row(fan, "box size", value=size, note="exit of the box around the fan")
        for across, up in positions(width_m=side, height_m=side):
            places = {"across": f"{across / layout.near_m:.3g}", "up": f"{up / layout.near_m:.3g}"}
            row(fan, "box", **places, note="in the exit of the box")
    return text.getvalue()


FIGURES = {
    "diameter": "length", "power": "power", "sound": "sound", "lever": "", "box size": "", "box pressure": "pressure",
    "flow": "flow", "maker's thrust": "force", "speed": "share",
}  # fmt: skip
"""Single figures of a fan that a form asks for or takes, and their quantity."""

_COLUMNS = (
    Column("fan"),
    Column("test"),
    *(Column(name, required=False) for name in ("setting", "runs", "direction", "value")),
    Column("distance", "length", required=False, lowest=0.0, highest=50.0),
    Column("offset", "length", required=False, lowest=-20.0, highest=20.0),
    *(Column(name, "length", required=False, lowest=0.0, highest=20.0) for name in ("across", "up")),
    replace(READING, required=False),
    SPEEDS[0],
)

Pairs = tuple[tuple[float, ...], tuple[float, ...]]
"""Places [m] and speeds [m/s] of some readings."""


@dataclass(frozen=True)
class FanResult:
    """What a form gives for one fan.

    Attributes
    ----------
    name, card
        The fan, and its flow, thrust and spread, or None where the readings do not determine them.
    thrusts, flow
        Thrust by setting, and flow through the blades from the box; empty and None where not read.
    walk, walk_readings
        The walk down the jet, and its distances [m] and speeds [m/s].
    profiles, profile_readings
        Profiles across the jet by distance [m], and their offsets [m] and speeds [m/s].
    diameter_m
        Diameter of the blades [m], or None.
    power_w, sound_db
        By setting; empty for the highest.
    missing, notes
        What the form still asks for; what was assumed, and what could not be worked out.
    """

    name: str
    card: FanData | None = None
    thrusts: Mapping[str, Estimate] = field(default_factory=dict)
    flow: Estimate | None = None
    walk: Walk | None = None
    walk_readings: Pairs = ((), ())
    profiles: Mapping[float, Profile] = field(default_factory=dict)
    profile_readings: Mapping[float, Pairs] = field(default_factory=dict)
    diameter_m: float | None = None
    power_w: Mapping[str, float] = field(default_factory=dict)
    sound_db: Mapping[str, float] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    notes: tuple[str | Note, ...] = ()

    def as_fan(self) -> Fan | None:
        """The fan as a record, for a ranking; None without a card."""
        if self.card is None:
            return None
        card = self.card
        return Fan(
            name=self.name,
            flow_m3_s=card.flow.value,
            thrust_n=card.thrust.value,
            diameter_m=self.diameter_m or 2.0 * math.sqrt(1.2 * card.flow.value**2 / card.thrust.value / math.pi),
            spread=card.spread.value,
            power_w=self.power_w.get(""),
            sound_db=self.sound_db.get(""),
            flow_error=card.flow.normal_relative,
            thrust_error=card.thrust.normal_relative,
            spread_error=card.spread.normal_relative,
        )


def evaluate_form(
    path: str | Path, *, calibration: Calibration, density_kg_m3: float, units: Units | None = None
) -> tuple[tuple[FanResult, ...], tuple[Note, ...]]:
    """Everything that a form says, fan by fan, and notes on its units.

    Parameters
    ----------
    path
        The form, filled in as far as it is.
    calibration
        What the anemometer's readings mean.
    density_kg_m3
        Density of the air [kg/m3].
    units
        Units of numbers that have none, by quantity.

    Raises
    ------
    InputError
        Errors in the form, all at once.
    """
    table = read_table(path, _COLUMNS, units=units)
    notes = unit_notes(table, _COLUMNS, units or {}, asked=("distance", "speed", "offset", "across", "up"))
    known = {"thrust", "jet", "profile", "box", *FIGURES}
    errors = [
        InvalidValue("test", f'"{test}"', ", ".join(sorted(known)), "", table.path, line)
        for test, line in zip(table.words["test"], table.lines, strict=True)
        if test.lower() not in known
    ]
    if errors:
        raise InputError(errors)
    fans = dict.fromkeys(table.words["fan"])
    results = tuple(_fan(_Rows(table, fan), calibration, density_kg_m3) for fan in fans)
    return results, tuple(notes)


Value = TypeVar("Value")


class _Rows:
    """The rows of one fan in a form."""

    def __init__(self, table: Table, fan: str) -> None:
        self.table, self.fan = table, fan
        rows = [row for row, name in enumerate(table.words["fan"]) if name == fan]
        self.by_test: dict[str, list[int]] = {}
        for row in rows:
            self.by_test.setdefault(table.words["test"][row].lower(), []).append(row)
        names = [table.words["setting"][row] for row in rows]
        stands_for = highest_as_blank(names)
        self.setting = {row: stands_for[table.words["setting"][row]] for row in rows}

    def read(self, test: str, column: str) -> list[int]:
        """Rows of a test in which this column is filled in."""
        if column == "value":
            return [row for row in self.by_test.get(test, []) if self.table.words["value"][row]]
        return [row for row in self.by_test.get(test, []) if math.isfinite(self.table.numbers[column][row])]

    def numbers(self, column: str, rows: Sequence[int]) -> Array:
        return np.array([self.table.numbers[column][row] for row in rows])

    def figure(self, what: str) -> dict[str, str]:
        """What was typed for a single figure, by setting."""
        return {self.setting[row]: self.table.words["value"][row] for row in self.read(what, "value")}

    def parsed(self, what: str, parse: Callable[[str], Value], text: str) -> Value:
        """What a parser makes of a figure; an error names its line."""
        try:
            return parse(text)
        except UnitError as error:
            line = self.table.lines[self.by_test[what][0]]
            wrong = InvalidValue(what, error.found, error.allowed, error.hint, self.table.path, line)
            raise InputError([wrong]) from None

    def quantity(self, what: str) -> dict[str, float]:
        """A single figure in SI, by setting."""
        parse = partial(parse_quantity, quantity=FIGURES[what])
        return {setting: self.parsed(what, parse, text) for setting, text in self.figure(what).items()}

    def missing(self) -> tuple[str, ...]:
        """What is asked for and was not filled in."""
        said = []
        for test, rows in self.by_test.items():
            column = {"thrust": "reading", "jet": "speed", "profile": "speed", "box": "speed"}.get(test, "value")
            there = len(self.read(test, column))
            if there < len(rows):
                said.append(test if there == 0 else f"{test} ({there} of {len(rows)} rows)")
        return tuple(said)


def _fan(rows: _Rows, calibration: Calibration, density: float) -> FanResult:
    """One fan, each test by itself: what fails is noted, and leaves the others alone."""
    notes: list[str | Note] = []

    def attempt(what: str, work: Callable[[], Any]) -> Any:
        try:
            return work()
        except (NoAnswerError, ValueError) as error:
            if isinstance(error, InputError):
                raise
            notes.append(f"{what}: {error}")
            return None

    readings: list[FanReading] = []
    thrusts: dict[str, Estimate] = {}
    for setting in dict.fromkeys(rows.setting[row] for row in rows.read("thrust", "reading")):
        result: ThrustResult | None = attempt(
            f"thrust{f' on {setting}' if setting else ''}", partial(_thrust, rows, setting)
        )
        if result is not None:
            thrusts[setting] = result.thrust
            readings.append(from_estimate("thrust", result.thrust, setting=setting, label="thrust"))
            notes += result.notes
    flow: Estimate | None = attempt("box", lambda: _box(rows, calibration, density))
    if flow is not None:
        readings.append(from_estimate("flow", flow, label="flow from the box"))
    walk, walked = attempt("jet", lambda: _walk(rows, calibration)) or (None, ((), ()))
    if walk is not None:
        readings.append(from_walk(walk, label="jet"))
    profiles, profiled = {}, {}
    for place in sorted(set(rows.numbers("distance", rows.read("profile", "speed")).round(3).tolist())):
        fitted = attempt(f"profile at {place:g} m", partial(_profile, rows, place, calibration, density))
        if fitted is not None:
            profiles[place], profiled[place] = fitted
            readings.append(from_profile(profiles[place], distance_m=place))
    for what, measured in (("flow", "flow"), ("maker's thrust", "thrust"), ("speed", "speed")):
        for setting, text in rows.figure(what).items():
            typed = rows.parsed(what, partial(parse_figure, quantity=FIGURES[what]), text)
            readings.append(from_estimate(measured, typed, setting=setting, label=what))  # type: ignore[arg-type]
    diameter = rows.quantity("diameter").get("")
    card = None
    if readings:
        card = attempt("card", lambda: combine(readings, density_kg_m3=density, diameter_m=diameter))
    if card is not None:
        notes += [
            *card.assumed,
            *(Note(NoteCode.CHECK_READING, (one.label,), {"off": one.normalised}) for one in card.contradictions),
        ]
        notes += remarks(flow=card.flow.value, thrust=card.thrust.value, spread=card.spread.value)
    return FanResult(
        name=rows.fan, card=card, thrusts=thrusts, flow=flow, walk=walk, walk_readings=walked, profiles=profiles,
        profile_readings=profiled, diameter_m=diameter, power_w=rows.quantity("power"),
        sound_db=rows.quantity("sound"), missing=rows.missing(), notes=tuple(notes),
    )  # fmt: skip


def _thrust(rows: _Rows, setting: str) -> ThrustResult:
    table = rows.table
    chosen = [
        row for row in rows.read("thrust", "reading")
        if rows.setting[row] == setting or (table.words["runs"][row].lower() == "off" and not rows.setting[row])
    ]  # fmt: skip
    lever, error = rows.parsed("lever", parse_lever, rows.figure("lever").get("", "1"))
    return thrust_from_scale(
        readings_g=rows.numbers("reading", chosen) / STANDARD_GRAVITY_M_S2 * 1000.0,
        running=[table.words["runs"][row].lower() == "on" for row in chosen],
        reverse=[table.words["direction"][row].lower() in ("reverse", "back") for row in chosen],
        lever=lever,
        lever_error=error,
    )


def _box(rows: _Rows, calibration: Calibration, density: float) -> Estimate | None:
    chosen = rows.read("box", "speed")
    if not chosen:
        return None
    size = rows.figure("box size").get("")
    if size is None:
        raise NoAnswerError("write the size of the box's exit in the row `box size`, such as 50 cm x 50 cm")
    width, height = rows.parsed("box size", parse_size, size)
    places = [
        PlaceReading(
            rows.table.numbers["speed"][row],
            across_m=rows.table.numbers["across"][row],
            up_m=rows.table.numbers["up"][row],
            still_share=float(rows.table.numbers["speed"][row] == 0.0),
        )
        for row in chosen
    ]
    through = flow_through(readings=places, width_m=width, height_m=height, calibration=calibration)
    return without_box(
        flow=through.flow,
        exit_area_m2=through.free_area.value,
        shutoff_pa=rows.quantity("box pressure").get("", SHUT_OFF_PA),
        density_kg_m3=density,
    ).free_flow


def _pairs(places: Array, speeds: Array) -> Pairs:
    return tuple(places.tolist()), tuple(speeds.tolist())


def _walk(rows: _Rows, calibration: Calibration) -> tuple[Walk, Pairs] | None:
    chosen = rows.read("jet", "speed")
    if not chosen:
        return None
    shown, distances = rows.numbers("speed", chosen), rows.numbers("distance", chosen)
    speeds = calibration.speed(shown)
    seen = speeds >= calibration.start_up_m_s
    walk = fit_walk(
        distances_m=distances[seen], speeds_m_s=speeds[seen], calibration=calibration.source(), indicated=shown[seen]
    )
    return walk, _pairs(distances[seen], speeds[seen])


def _profile(rows: _Rows, place: float, calibration: Calibration, density: float) -> tuple[Profile, Pairs]:
    chosen = [row for row in rows.read("profile", "speed") if abs(rows.table.numbers["distance"][row] - place) < 1e-3]
    shown, offsets = rows.numbers("speed", chosen), rows.numbers("offset", chosen)
    profile = fit_profile(
        offsets_m=offsets,
        speeds_m_s=calibration.speed(shown),
        density_kg_m3=density,
        start_up_m_s=calibration.start_up_m_s,
        calibration=calibration.source(),
        indicated=shown,
    )
    return profile, _pairs(offsets, calibration.speed(shown))
