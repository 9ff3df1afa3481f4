"""Thrust of a fan from a kitchen scale, and its flow out of a box.

reading = tare + drift x order + force: the tare and its drift come from the readings with the fan off, taken
between those with it on. Turning the fan round reverses the force and not what the cable and the tilt of the
table do: half the difference of the two directions is the thrust, and half their sum is what was cancelled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.airing import Note, NoteCode
from ventplan.errors import NoAnswerError
from ventplan.house.table import Column, Table, read_table
from ventplan.house.units import UnitError, parse_quantity
from ventplan.measure.anemometer import Fit, fit_linear
from ventplan.measure.opening import PLAIN_DISCHARGE, TAPE_ERROR_M
from ventplan.measure.readings import MERGED, READING, Units, blank_below, column_of, error_in
from ventplan.measure.uncertainty import (
    CALIBRATION,
    Array,
    Estimate,
    Share,
    Source,
    effective_degrees,
    evaluate,
    propagate,
    single,
)

STANDARD_GRAVITY_M_S2 = 9.80665
"""A scale is set with masses where it is sold: gram-force means this, within 0.3 % on Earth."""

ONE_WAY_ERROR = 0.05
"""Relative standard uncertainty for cable and tilt where only one direction was read [-] (a judgement)."""


@dataclass(frozen=True)
class ThrustResult:
    """Thrust of a fan at one setting.

    Attributes
    ----------
    thrust
        Thrust [N].
    gram_force
        The same in gram-force, for people [gf].
    drift_g
        Drift of the tare over the whole run [g].
    bias_g
        Half the sum of both directions, which the turning cancelled [g]; None where only one was read.
    outliers
        Numbers of readings far off the rest, counted from 0; they were kept.
    notes
        What the readings leave open.
    """

    thrust: Estimate
    gram_force: float
    drift_g: float
    bias_g: float | None
    outliers: tuple[int, ...]
    notes: tuple[Note, ...]


def parse_lever(text: str) -> tuple[float, float]:
    """Ratio of the arms of a lever and its relative standard uncertainty [-], from two arms by tape, each known to 2 mm
    (``30 cm / 60 cm``), or from a number; raises UnitError for anything else."""
    parts = [part.strip() for part in text.split("/")]
    if len(parts) == 2:
        scale, fan = (parse_quantity(part, "length") for part in parts)
        if not (0.005 <= scale <= 10.0 and 0.005 <= fan <= 10.0):
            raise UnitError(f'"{text}"', "two arms from 0.005 m to 10 m, such as 30 cm / 60 cm")
        return scale / fan, math.hypot(TAPE_ERROR_M / scale, TAPE_ERROR_M / fan)
    ratio = parse_quantity(text, "number")
    if not 0.01 <= ratio <= 100.0:
        raise UnitError(f'"{text}"', "a ratio from 0.01 to 100, or two arms such as 30 cm / 60 cm")
    return ratio, 0.0


def thrust_from_scale(
    *,
    readings_g: ArrayLike,
    running: Sequence[bool],
    reverse: Sequence[bool] | None = None,
    lever: float = 1.0,
    lever_error: float = 0.0,
    resolution_g: float = 1.0,
    scale_error: float = 0.005,
) -> ThrustResult:
    """Thrust of a fan from a scale, in the order in which the readings were taken.

    Parameters
    ----------
    readings_g
        Readings of the scale, shape (n,) [g].
    running
        Whether the fan ran, shape (n,).
    reverse
        Whether the fan was turned round, shape (n,); all one way if left out.
    lever
        Arm of the scale over arm of the fan, both from the pivot [-]: thrust = lever x force on the scale.
    lever_error
        Relative standard uncertainty of the lever [-].
    resolution_g
        Step of the scale's display [g]; a rectangular half step counts for the tare and for the load.
    scale_error
        Relative standard uncertainty of the scale [-].

    Raises
    ------
    ValueError
        Where a direction lacks readings with the fan on, or with it off.
    """
    values, on = np.asarray(readings_g, dtype=float), np.asarray(running, dtype=bool)
    back = np.zeros_like(on) if reverse is None else np.asarray(reverse, dtype=bool)
    sides = [side for side in (~back, back) if side.any()]
    fits, drifts = zip(*(_force(values[side], on[side]) for side in sides), strict=True)
    forces = [float(fit.coefficients[1]) for fit in fits]
    both = len(fits) == 2
    net = (forces[0] - forces[1]) / 2.0 if both else forces[0]
    parts = [Share("scatter of the scale", math.sqrt(fit.covariance[1, 1]) / len(fits), fit.degrees) for fit in fits]
    scatter = math.sqrt(sum(part.standard**2 for part in parts))
    sources: list[Source] = [
        single("scatter of the scale", mean=abs(net), standard=scatter, degrees=effective_degrees(parts)),
        # Tare and load are each rounded: two half steps, rectangular.
        single("step of the scale", mean=0.0, standard=resolution_g / math.sqrt(12.0) * math.sqrt(2.0)),
        single("scale", mean=1.0, standard=scale_error),
        single("lever", mean=lever, standard=lever * lever_error),
        single("cable and tilt", mean=1.0, standard=0.0 if both else ONE_WAY_ERROR),
    ]
    thrust = propagate(_newtons, sources, unit="N")
    return ThrustResult(
        thrust=thrust,
        gram_force=thrust.value / STANDARD_GRAVITY_M_S2 * 1000.0,
        drift_g=sum(drifts),
        bias_g=sum(forces) / 2.0 if both else None,
        outliers=tuple(
            sorted(
                int(np.flatnonzero(side)[index])
                for side, fit in zip(sides, fits, strict=True)
                for index in fit.outliers(least=resolution_g)
            )
        ),
        notes=(*_faint(thrust), *_notes(forces, net=net, both=both)),
    )


def _newtons(force_g: float, step_g: float, scale: float, lever: float, rest: float) -> float:
    return (force_g + step_g) / 1000.0 * scale * lever * rest * STANDARD_GRAVITY_M_S2


def _force(values: Array, on: NDArray[np.bool_]) -> tuple[Fit, float]:
    """Tare, force and drift by least squares, and the drift over the run; no drift where the readings cannot
    tell."""
    if not on.any() or on.all():
        raise ValueError("each direction needs readings with the fan off and with it on")
    order = np.linspace(-0.5, 0.5, values.size)
    columns = [np.ones(values.size), on.astype(float)]
    off = order[~on]
    # One tare before the runs does not show drift; two tares with a run between do.
    if values.size >= 5 and off.min() < order[on].max() < off.max():
        columns.append(order)
    if values.size <= len(columns):
        raise ValueError("each direction needs more readings: take off, on, off, on, off")
    fit = fit_linear(np.stack(columns, axis=1), values)
    return fit, float(fit.coefficients[2]) if len(columns) == 3 else 0.0


def _faint(thrust: Estimate) -> tuple[Note, ...]:
    low, high = thrust.interval
    return (Note(NoteCode.THRUST_NEAR_ZERO, numbers={"below_n": high}),) if low <= 0.0 else ()


def _notes(forces: Sequence[float], *, net: float, both: bool) -> tuple[Note, ...]:
    notes = []
    if not both:
        notes.append(Note(NoteCode.ONE_DIRECTION, numbers={"allowed": ONE_WAY_ERROR}))
    elif abs(sum(forces)) / 2.0 > 0.2 * abs(net):
        notes.append(Note(NoteCode.DIRECTIONS_DIFFER))
    if both and forces[0] * forces[1] > 0.0:
        notes.append(Note(NoteCode.SAME_DIRECTION))
    return tuple(notes)


@dataclass(frozen=True)
class ScaleReadings:
    """Readings of a scale on one setting, in the order taken."""

    setting: str
    readings_g: Array
    running: tuple[bool, ...]
    reverse: tuple[bool, ...]
    lines: tuple[int, ...]


def read_scale_readings(path: str | Path, *, units: Units | None = None) -> tuple[ScaleReadings, ...]:
    """Columns ``fan`` (on or off), ``reading`` (in g as the display says, or a force: gf, N...), and where they
    matter ``direction`` and ``setting``.

    Readings with the fan off belong to the setting of their row, or to every setting where that cell is
    empty.

    Raises
    ------
    InputError
        Errors in the file.
    """
    words = (Column("fan"), Column("direction", required=False), Column("setting", required=False))
    table = read_table(path, (*words, READING), units=units)
    grams = column_of(table, "reading") / STANDARD_GRAVITY_M_S2 * 1000.0
    every = range(len(table.lines))
    running = [_word(table, "fan", row, {"on": True, "off": False}) for row in every]
    turned = {"forward": False, "": False, "reverse": True, "back": True}
    reverse = [_word(table, "direction", row, turned) for row in every]
    _no_merged_cells(table, running)
    names = table.words["setting"]
    settings = dict.fromkeys(name for name, on in zip(names, running, strict=True) if on)
    if not settings:
        raise error_in(table, "fan", "only `off`", "readings with the fan `on` too")
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
            raise error_in(table, name, "an empty cell below a filled one", instead, blank[0], MERGED)


def _word(table: Table, name: str, row: int, words: dict[str, bool]) -> bool:
    said = table.words[name][row].strip().lower()
    if said not in words:
        allowed = " or ".join(word for word in words if word)
        raise error_in(table, name, f"`{said}`", allowed, row)
    return words[said]


@dataclass(frozen=True)
class BoxResult:
    """Flow of a fan without its box.

    Attributes
    ----------
    free_flow
        Flow through the blades in the open [m3/s].
    back_pressure
        Static pressure in the box while it was measured [Pa].
    lost
        Share of the free flow that the box took away [-].
    """

    free_flow: Estimate
    back_pressure: Estimate
    lost: float


def share_of_free_flow(*, pressure_ratio: ArrayLike, linear_share: ArrayLike) -> Array:
    """Flow over free flow on the fan curve p / p0 = 1 - c r - (1 - c) r^2 [-], nan above the shut-off
    pressure.

    Parameters
    ----------
    pressure_ratio
        Static pressure over shut-off pressure [-].
    linear_share
        c: 1 for a straight line, 0 for a parabola [-].
    """
    c = np.asarray(linear_share, dtype=float)
    rest = 1.0 - np.asarray(pressure_ratio, dtype=float)
    # The form that stays finite as c goes to 1.
    root = np.sqrt(np.where(rest >= 0.0, c**2 + 4.0 * (1.0 - c) * rest, np.nan))
    # Rounding may leave free delivery a hair above itself.
    # At shut-off a parabola gives 0 / 0.
    return np.asarray(np.minimum(2.0 * rest / np.maximum(c + root, 1e-300), 1.0))


def without_box(
    *,
    flow: Estimate,
    exit_area_m2: float,
    shutoff_pa: float,
    density_kg_m3: float = 1.2,
) -> BoxResult:
    """The flow that the fan would have without the box: its curve, and the loss at the box's exit.

    The pressure in the box is p = rho / 2 (Q / (Cd A))^2, and on its curve the fan moves Q = r(p / p0) Q0.

    Parameters
    ----------
    flow
        Flow through the exit [m3/s].
    exit_area_m2
        Area of the exit [m2].
    shutoff_pa
        Shut-off pressure of the fan [Pa]; it is seldom known well, and counts as known within 30 %.
    density_kg_m3
        Density of the air [kg/m3].

    Raises
    ------
    NoAnswerError
        Where the pressure in the box is more than half of the shut-off pressure: then the answer would
        be the guess of the curve rather than the reading.
    """

    def back_pressure(q: ArrayLike, vane: ArrayLike, cd: ArrayLike) -> Array:
        through = np.asarray(q) + np.asarray(vane)
        return np.asarray(density_kg_m3 / 2.0 * (through / (np.asarray(cd) * exit_area_m2)) ** 2)

    def free(q: ArrayLike, vane: ArrayLike, cd: ArrayLike, p0: ArrayLike, c: ArrayLike) -> Array:
        ratio = back_pressure(q, vane, cd) / np.asarray(p0)
        share = share_of_free_flow(pressure_ratio=ratio, linear_share=np.clip(c, 0.0, 1.0))
        return np.asarray((np.asarray(q) + np.asarray(vane)) / share)

    held = float(back_pressure(flow.value, 0.0, PLAIN_DISCHARGE))
    if held > 0.5 * shutoff_pa:
        raise NoAnswerError(
            f"The pressure in the box is {held:.1f} Pa of the {shutoff_pa:.0f} Pa at which the fan moves no air: "
            "the flow without the box would be a guess. Cut the exit larger and read again."
        )
    # The anemometer's part is kept apart: the same vane reads the jet of this fan, too.
    shared = math.sqrt(sum(share.standard**2 for share in flow.budget if share.name == CALIBRATION))
    rest = math.sqrt(max(flow.standard**2 - shared**2, 0.0))
    boxed = (
        single("flow through the box", mean=flow.value, standard=rest, degrees=flow.degrees),
        single(CALIBRATION, mean=0.0, standard=shared),
    )
    exit_ = single("discharge of the exit", mean=PLAIN_DISCHARGE, standard=0.05 * PLAIN_DISCHARGE)
    curve = (
        single("shut-off pressure", mean=shutoff_pa, standard=0.3 * shutoff_pa),
        # Anything from a parabola to a straight line: rectangular from 0 to 1.
        single("shape of the fan curve", mean=0.5, standard=1.0 / math.sqrt(12.0)),
    )
    generator = np.random.default_rng(1)
    free_flow = evaluate(free, (*boxed, exit_, *curve), generator=generator, unit="m3/s")
    pressure = evaluate(back_pressure, (*boxed, exit_), generator=generator, unit="Pa")
    return BoxResult(free_flow, pressure, 1.0 - flow.value / free_flow.value)
