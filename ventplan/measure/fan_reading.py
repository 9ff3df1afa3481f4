"""One measured fact about a fan, as logarithms, so that errors are relative."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, cast, get_args

import numpy as np

from ventplan.airing import Note, NoteCode
from ventplan.errors import InputError, InvalidValue, NoAnswerError
from ventplan.files import write_file
from ventplan.house.table import Column, read_table
from ventplan.house.units import UnitError, parse_quantity
from ventplan.measure.anemometer import finite_or_none, infinite_if_none, read_saved
from ventplan.measure.jet import PROFILE_ERROR, Profile, Walk
from ventplan.measure.uncertainty import CALIBRATION, WIDE, Array, Estimate, Share, effective_degrees

PLAUSIBLE = {"thrust": (0.1, 12.0), "flow": (0.03, 2.0), "spread": (0.08, 0.30)}
"""What household fans have, from a small desk fan to a large floor fan [N], [m3/s], [-].
Thrust and flow are typical figures, from memory; the spread is 0.115 for a round jet in theory, 0.19 for broad ones."""

Measured = Literal["flow", "thrust", "walk", "profile", "speed"]


@dataclass(frozen=True)
class FanReading:
    """A measured fact about a fan.

    Attributes
    ----------
    measured, values
        ``flow`` [m3/s], ``thrust`` [N], ``speed``, the share of the highest rotational speed [-], one value; ``walk``
        (alpha [s/m], beta [s/m2]) or ``profile`` (Uc [m/s], b [m]), two.
    relative_covariance, degrees
        Covariance of their logarithms without the part of the anemometer, shape (n, n), and its degrees of freedom [-].
    anemometer, anemometer_degrees
        Relative standard uncertainty of the anemometer that was used [-], common to all readings of a fan, since people
        own one, and its degrees of freedom [-]; 0 where none was used.
    setting
        Speed setting; empty for the highest.
    distance_m
        Distance from the blades, of a profile [m].
    label
        Where it comes from, for messages.
    """

    measured: Measured
    values: Array
    relative_covariance: Array
    anemometer: float = 0.0
    degrees: float = math.inf
    setting: str = ""
    distance_m: float = 0.0
    label: str = ""
    anemometer_degrees: float = math.inf


def remarks(**figures: float) -> tuple[Note, ...]:
    """A note for each result that no household fan has.

    Parameters
    ----------
    figures
        Results by name: ``thrust`` [N], ``flow`` [m3/s], ``spread`` [-].
    """
    notes = []
    for name, value in figures.items():
        low, high = PLAUSIBLE[name]
        if not low <= value <= high:
            notes.append(Note(NoteCode.IMPLAUSIBLE, (name,), {"value": value, "lowest": low, "highest": high}))
    return tuple(notes)


def from_estimate(measured: Measured, estimate: Estimate, *, setting: str = "", label: str = "") -> FanReading:
    """A flow, a thrust or a speed with its budget; the anemometer's share is kept apart. Raises NoAnswerError where its
    95 % interval reaches down to zero: it has no logarithm to be combined with others."""
    low, high = estimate.interval
    if low <= 0.0:
        raise NoAnswerError(
            f"The {measured} does not differ from zero within its uncertainty: 95 % interval {low:.2g} to {high:.2g} "
            f"{estimate.unit}. It cannot be combined with other readings: take more, or look for what went wrong."
        )
    shared = math.sqrt(sum(share.standard**2 for share in estimate.budget if share.name == CALIBRATION))
    rest = max(estimate.standard**2 - shared**2, 0.0) / estimate.value**2
    return FanReading(
        measured=measured,
        values=np.array([estimate.value]),
        relative_covariance=np.array([[rest]]),
        anemometer=shared / estimate.value,
        degrees=estimate.degrees,
        setting=setting,
        label=label or measured,
        anemometer_degrees=_calibration_degrees(estimate),
    )


def _calibration_degrees(estimate: Estimate) -> float:
    """Degrees of freedom of the anemometer's part of a figure [-]."""
    return min((share.degrees for share in estimate.budget if share.name == CALIBRATION), default=math.inf)


def as_estimate(reading: FanReading, *, unit: str) -> Estimate:
    """A flow, thrust or speed as an estimate, the anemometer's share in its budget; raises InputError for a walk or a
    profile, which have two values."""
    if reading.values.size != 1:
        raise InputError([InvalidValue(reading.label, f"a {reading.measured}", "one flow, thrust or speed")])
    value = float(reading.values[0])
    own = value * math.sqrt(float(reading.relative_covariance[0, 0]))
    shared = value * reading.anemometer
    shares = (Share(reading.label, own, reading.degrees), Share(CALIBRATION, shared, reading.anemometer_degrees))
    return Estimate(value, math.hypot(own, shared), effective_degrees(shares), unit, shares)


def from_walk(walk: Walk, *, setting: str = "", label: str = "") -> FanReading:
    """A walk; the Gaussian shape's error goes to the intercept, which is where it makes the thrust uncertain."""
    values = walk.line.coefficients
    own = sum(source.covariance for source in walk.sources if source.name != CALIBRATION)
    scale = np.outer(values, values)
    shared = sum(source.covariance[1, 1] for source in walk.sources if source.name == CALIBRATION)
    relative = np.asarray(own / scale) + np.diag([PROFILE_ERROR**2, 0.0])
    return FanReading(
        measured="walk",
        values=values,
        relative_covariance=relative,
        anemometer=math.sqrt(shared) / float(values[1]),
        degrees=walk.line.degrees,
        setting=setting,
        label=label or "walk",
        anemometer_degrees=min((s.degrees for s in walk.sources if s.name == CALIBRATION), default=math.inf),
    )


def from_profile(profile: Profile, *, distance_m: float, setting: str = "") -> FanReading:
    """A profile across the jet; half of the shape's error goes to Uc, since thrust goes with its square."""
    values = np.array([profile.centre_speed.value, profile.half_width.value])
    own = profile.covariance / np.outer(values, values)
    shared = sum(s.standard**2 for s in profile.centre_speed.budget if s.name == CALIBRATION)
    return FanReading(
        measured="profile",
        values=values,
        relative_covariance=np.asarray(own + np.diag([(PROFILE_ERROR / 2.0) ** 2, 0.0])),
        anemometer=math.sqrt(shared) / float(values[0]),
        degrees=profile.degrees,
        setting=setting,
        distance_m=distance_m,
        label=f"profile at {distance_m:.2f} m",
        anemometer_degrees=_calibration_degrees(profile.centre_speed),
    )


def save_reading(reading: FanReading, path: str | Path) -> None:
    """Write a reading to a JSON file that ``ventplan measure fan`` takes."""
    data = {
        "fan_reading": 1,
        "measured": reading.measured,
        "setting": reading.setting,
        "values": reading.values.tolist(),
        "relative_covariance": reading.relative_covariance.tolist(),
        "anemometer": reading.anemometer,
        "degrees_of_freedom": finite_or_none(reading.degrees),
        "distance_m": reading.distance_m,
        "anemometer_degrees_of_freedom": finite_or_none(reading.anemometer_degrees),
    }
    write_file(path, json.dumps(data, indent=2) + "\n")


def read_reading(path: str | Path) -> FanReading:
    """Read what ``save_reading`` wrote; raises InputError where the file cannot be read or is none."""

    def build(data: dict[str, Any]) -> FanReading:
        if data["measured"] not in get_args(Measured):
            raise ValueError(f"`{data['measured']}` as what was measured")
        values = np.asarray(data["values"], dtype=float)
        covariance = np.asarray(data["relative_covariance"], dtype=float)
        if covariance.shape != (values.size, values.size):
            raise ValueError("values and covariance of different sizes")
        if not (values > 0.0).all():
            raise ValueError("a value that is not above zero: which way round did the fan push?")
        return FanReading(
            measured=data["measured"],
            values=values,
            relative_covariance=covariance,
            anemometer=float(data["anemometer"]),
            degrees=infinite_if_none(data.get("degrees_of_freedom")),
            setting=str(data.get("setting", "")),
            distance_m=float(data.get("distance_m", 0.0)),
            label=f"{data['measured']} ({Path(path).name})",
            anemometer_degrees=infinite_if_none(data.get("anemometer_degrees_of_freedom")),
        )

    again = "`ventplan measure opening`, `thrust` and `jet` write one with -o"
    return read_saved(path, "fan reading", key="fan_reading", hint=again, build=build)


UNSTATED_ERROR = 0.10
"""Relative standard uncertainty of a figure that comes without one [-] (a judgement)."""

_PLUS_MINUS = re.compile(r"\s*(?:±|\+/-|\+-)\s*")

_QUANTITIES = {"flow": "flow", "thrust": "force", "speed": "share", "power": "power", "sound": "sound"}


def parse_figure(text: str, quantity: str, unit: str = "") -> Estimate:
    """A figure such as ``0.30 m3/s ± 6 %``; what follows ± is for 95 %, as people state it. Raises UnitError for
    anything else."""
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
    return Estimate(value, reach / WIDE, unit=unit)


@dataclass(frozen=True)
class TypedFigures:
    """Figures of a fan that were typed: readings for the card, and power and sound by setting (empty:
    highest)."""

    readings: tuple[FanReading, ...]
    power_w: dict[str, float]
    sound_db: dict[str, float]


def read_typed_figures(path: str | Path) -> TypedFigures:
    """Columns ``what`` (flow, thrust, speed, power, sound), ``value`` with its unit and ±, and ``setting``.

    Raises
    ------
    InputError
        Errors in the file, all at once.
    """
    table = read_table(path, (Column("what"), Column("value"), Column("setting", required=False)))
    readings: list[FanReading] = []
    power: dict[str, float] = {}
    sound: dict[str, float] = {}
    errors = []
    for row, what in enumerate(word.lower() for word in table.words["what"]):
        text, setting = table.words["value"][row], table.words["setting"][row]
        if what not in _QUANTITIES:
            errors.append(InvalidValue("what", f"`{what}`", ", ".join(_QUANTITIES), "", table.path, table.lines[row]))
            continue
        try:
            figure = parse_figure(text, _QUANTITIES[what])
            if not 0.0 < figure.value < math.inf:
                raise UnitError(f'"{text}"', f"a {what} above zero")
        except UnitError as error:
            errors.append(InvalidValue(what, error.found, error.allowed, error.hint, table.path, table.lines[row]))
            continue
        if what == "power":
            power[setting] = figure.value
        elif what == "sound":
            sound[setting] = figure.value
        else:
            label = f"{what} ({Path(path).name}, line {table.lines[row]})"
            variance = np.array([[figure.relative**2]])
            readings.append(
                FanReading(cast(Measured, what), np.array([figure.value]), variance, setting=setting, label=label)
            )
    if errors:
        raise InputError(errors)
    return TypedFigures(tuple(readings), power, sound)


def flow_by_method(readings: Sequence[FanReading], *, density_kg_m3: float) -> dict[str, Estimate]:
    """Flow through the blades on the highest setting by each method that the readings allow, each by itself.

    A flow that was measured; and 2 T alpha / rho from a walk, with the thrust of a scale or of a profile,
    T = rho (pi / 2) Uc^2 b^2. The walk's intercept alpha is an extrapolation to the blades, which makes this method the
    less certain one.

    Parameters
    ----------
    readings
        What was measured.
    density_kg_m3
        Density of the air [kg/m3].
    """
    mine = [reading for reading in readings if not reading.setting]
    found: dict[str, Estimate] = {}

    def add(name: str, value: float, variance: float, anemometer: float) -> None:
        found[name] = Estimate(value, value * math.sqrt(variance + anemometer**2), unit="m3/s")

    for one in mine:
        if one.measured == "flow":
            add(one.label or "flow", float(one.values[0]), float(one.relative_covariance[0, 0]), one.anemometer)
    walk = next((one for one in mine if one.measured == "walk"), None)
    if walk is None:
        return found
    for one in mine:
        alpha, name = float(walk.values[0]), f"{walk.label} and {one.label}"
        # Thrust from a profile goes with the square of speed and width; alpha with one over the speed that is shown.
        share = 4.0 if one.measured == "profile" else 1.0
        variance = float(walk.relative_covariance[0, 0]) + share * float(one.relative_covariance.sum())
        if one.measured == "thrust":
            add(name, 2.0 * float(one.values[0]) * alpha / density_kg_m3, variance, walk.anemometer)
        if one.measured == "profile":
            flow = math.pi * float(one.values.prod()) ** 2 * alpha
            add(name, flow, variance, abs(2.0 * one.anemometer - walk.anemometer))
    return found


HIGHEST_WORDS = frozenset({"high", "highest", "max", "maximum", "full", "100%", "100 %"})
"""Names that say by themselves that no setting is above."""

LOWER_WORDS = frozenset({"medium", "middle", "mid", "med", "low", "lowest", "min", "minimum", "slow", "quiet", "night"})
"""Names that say by themselves that a setting is above."""


def highest_as_blank(names: Iterable[str], *, listed: Sequence[str] = (), highest: str | None = None) -> dict[str, str]:
    """What each name of a setting stands for: blank for the highest, or one spelling of a lower one.

    A blank name is the highest. So is, of the others, the one that is given (``highest``), else the one that the house
    file lists first for the fan, else one of ``HIGHEST_WORDS``.

    Parameters
    ----------
    names
        Names in the readings, blank ones too.
    listed
        Settings of the fan in the house file, highest first; a name there is known.
    highest
        Name of the highest setting, where it was given.

    Raises
    ------
    InputError
        Where a name may be the highest or not.
    """
    said = list(dict.fromkeys(names))
    spelt = {_plain(name): name for name in (*said[::-1], *listed)}
    plain = dict.fromkeys(_plain(name) for name in said if name.strip())
    cards = [_plain(name) for name in listed]
    words = [name for name in plain if name in HIGHEST_WORDS and name not in cards]
    if highest is not None:
        tops = {_plain(highest)}
    else:
        tops = {*cards[:1], *words}
        unclear = [name for name in plain if name not in tops | LOWER_WORDS and name not in cards]
        if not cards and len(words) > 1:
            raise _unclear([spelt[name] for name in words])
        if unclear and not tops & plain.keys():
            raise _unclear([spelt[name] for name in unclear])
    return {name: "" if _plain(name) in {"", *tops} else spelt[_plain(name)] for name in said}


def _plain(name: str) -> str:
    return " ".join(name.lower().split())


def _unclear(names: Sequence[str]) -> InputError:
    asked = " and ".join(f"`{name}`" for name in names)
    return InputError(
        [
            InvalidValue(
                "setting",
                f"{asked}, which may be the fan's highest or not",
                "a blank for the highest setting, or `high`, `highest` or `max`, and other names for lower ones",
                f"Say which is the highest, such as --highest {names[0]!r}, or list its settings in the house file",
            )
        ]
    )
