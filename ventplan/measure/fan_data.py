"""Flow, thrust and spread of a fan from all its readings, by weighted least squares on the logarithms.

Unknowns: flow Q0, thrust T and spread k on the highest setting, and the share n of full speed of each other setting.
Every reading is a product of powers of them (a profile's width apart), so that their logarithms are nearly linear:

    flow         Q0 n                       thrust       T n^2
    walk         alpha = rho Q0 / (2 T n)   beta = k sqrt(pi rho / (2 T)) / n
    profile      b = b0 + k s               Uc = n sqrt(2 T / (pi rho)) / b      with b0 = Q0 sqrt(rho / (2 pi T))

Flow, thrust and power go with the first, second and third power of the speed (fan laws), and the shape of the jet does
not change with it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ventplan.airing import Note, NoteCode
from ventplan.errors import NoAnswerError
from ventplan.house.records import Fan
from ventplan.house.yaml_text import set_value
from ventplan.measure.fan_reading import FanReading
from ventplan.measure.uncertainty import (
    CALIBRATION,
    LEAST_CHANCE,
    Array,
    Estimate,
    Share,
    coverage_factor,
    effective_degrees,
)

TYPICAL_SPREAD = (0.15, 0.20)
"""Spread of a household fan's jet and its relative standard uncertainty [-]: 0.115 for a round jet in theory to 0.19
for broad, swirling fans."""

THRUST_FACTOR = (1.15, 0.15)
"""T A / (rho Q^2) of a small axial fan and its relative standard uncertainty [-]: 1 for an even stream, more for the
slower air at hub and tips (from memory)."""

MOST_RATIO = 4.0
"""Factor either way that thrust may be off the momentum of an even stream, rho Q^2 / A, and that a measured figure may
be off the one before (a judgement: hub, tips and swirl make 1 to 1.5 of the first)."""


@dataclass(frozen=True)
class _Row:
    """Logarithm of one value that was read, its kind, its setting (empty: the highest), and the relative standard
    uncertainty that the common anemometer brings, with the sign of its effect."""

    label: str
    logarithm: float
    kind: str
    setting: str = ""
    distance_m: float = 0.0
    anemometer: float = 0.0


_PARTS = {"walk": ("intercept", "slope"), "profile": ("centre speed", "width")}
_SIGNS = {"walk intercept": -1.0, "walk slope": -1.0, "profile width": 0.0}
"""Effect of too high an indicated speed where it is not +1: flow and Uc rise, 1 / Uc falls, a width stays."""


def _rows_of(readings: Sequence[FanReading]) -> tuple[list[_Row], Array]:
    """All values as rows, and the covariance of their logarithms, the common anemometer included."""
    from scipy.linalg import block_diag

    rows: list[_Row] = []
    for reading in readings:
        for part, value in zip(_PARTS.get(reading.measured, ("",)), reading.values, strict=True):
            label = f"{reading.label}{': ' + part if part else ''}{' on ' + reading.setting if reading.setting else ''}"
            kind = f"{reading.measured} {part}".strip()
            common = _SIGNS.get(kind, 1.0) * reading.anemometer
            rows.append(_Row(label, math.log(value), kind, reading.setting, reading.distance_m, common))
    shared = np.array([row.anemometer for row in rows])
    own = block_diag(*(reading.relative_covariance for reading in readings)) if rows else np.zeros((0, 0))
    return rows, np.asarray(own + np.outer(shared, shared))


_POWERS = {
    "flow": (1.0, 0.0, 0.0, 1.0),
    "thrust": (0.0, 1.0, 0.0, 2.0),
    "speed": (0.0, 0.0, 0.0, 1.0),
    "walk intercept": (1.0, -1.0, 0.0, -1.0),
    "walk slope": (0.0, -0.5, 1.0, -1.0),
    "thrust relation": (-2.0, 1.0, 0.0, 0.0),
    "spread": (0.0, 0.0, 1.0, 0.0),
}
"""Powers of flow, thrust, spread and speed in each kind of reading."""


def _law(row: _Row, unknowns: Array, density: float) -> tuple[float, Array]:
    """Logarithm that a row should read, and its slopes in the logarithms of (flow, thrust, spread, speed)."""
    if not row.kind.startswith("profile"):
        powers = np.array(_POWERS[row.kind])
        factor = {"walk intercept": density / 2.0, "walk slope": math.sqrt(math.pi * density / 2.0)}
        return float(powers @ unknowns) + math.log(factor.get(row.kind, 1.0)), powers
    start = math.sqrt(density / (2.0 * math.pi)) * math.exp(unknowns[0] - 0.5 * unknowns[1])
    growth = math.exp(unknowns[2]) * row.distance_m
    width = start + growth
    widening = np.array([start / width, -0.5 * start / width, growth / width, 0.0])
    if row.kind == "profile width":
        return math.log(width), widening
    momentum = np.array([0.0, 0.5, 0.0, 1.0])
    centre = float(momentum @ unknowns) + 0.5 * math.log(2.0 / (math.pi * density)) - math.log(width)
    return centre, momentum - widening


def _model(rows: Sequence[_Row], point: Array, names: Sequence[str], density: float) -> tuple[Array, Array]:
    """What all rows should read, shape (rows,), and the slopes in every unknown, shape (rows, unknowns)."""
    values, slopes = np.empty(len(rows)), np.zeros((len(rows), len(names)))
    for index, row in enumerate(rows):
        place = names.index(row.setting) if row.setting else None
        speed = 0.0 if place is None else float(point[place])
        values[index], powers = _law(row, np.array([*point[:3], speed]), density)
        slopes[index, :3] = powers[:3]
        if place is not None:
            slopes[index, place] = powers[3]
    return values, slopes


@dataclass(frozen=True)
class Contradiction:
    """A reading that does not agree with the others: its normalised residual, of which 95 % lie within 2."""

    label: str
    normalised: float


@dataclass(frozen=True)
class FanData:
    """A fan as measured.

    Attributes
    ----------
    flow, thrust, spread, start_half_width
        On the highest setting [m3/s], [N], [-], [m].
    speeds
        Share of full speed of each other setting [-].
    correlation
        Correlation of the logarithms of (flow, thrust, spread), shape (3, 3).
    chi_squared, degrees, chance
        Misfit, its degrees of freedom, and the probability that noise of the stated size makes it as large [-]; nan
        without any degrees of freedom, where nothing is checked.
    inflated
        Factor by which the uncertainties of readings that others check were widened since they disagree; else 1.
    residuals, contradictions
        Normalised residual of every value read [-], and the readings that do not agree with the others.
    assumed
        What was not measured and is assumed.
    """

    flow: Estimate
    thrust: Estimate
    spread: Estimate
    start_half_width: Estimate
    speeds: dict[str, Estimate]
    correlation: Array
    chi_squared: float
    degrees: int
    chance: float
    inflated: float
    residuals: dict[str, float]
    contradictions: tuple[Contradiction, ...]
    assumed: tuple[Note, ...]


def combine(readings: Sequence[FanReading], *, density_kg_m3: float, diameter_m: float | None = None) -> FanData:
    """The fan that fits all readings best.

    Parameters
    ----------
    readings
        What was measured; at least a flow, a thrust or a profile on some setting.
    density_kg_m3
        Density of the air [kg/m3].
    diameter_m
        Diameter of the blades [m]; lets a missing thrust or flow be estimated from the other.

    Raises
    ------
    NoAnswerError
        Where the readings leave something open that cannot be estimated.
    """
    rows, covariance = _rows_of(readings)
    settings = tuple(dict.fromkeys(reading.setting for reading in readings if reading.setting))
    names = ("flow", "thrust", "spread", *settings)
    # The problem is nearly linear, so any sensible first guess will do.
    first = {row.kind: row.logarithm for row in reversed(rows)}
    guess = [first.get("flow", math.log(0.3)), first.get("thrust", math.log(1.5)), math.log(TYPICAL_SPREAD[0])]
    point = np.array([*guess, *[-0.2 for _ in settings]])
    rows, covariance, assumed = _complete(rows, covariance, point, names, density_kg_m3, diameter_m)
    target = np.array([row.logarithm for row in rows])
    weight = np.linalg.inv(covariance)
    for _ in range(50):
        values, slopes = _model(rows, point, names, density_kg_m3)
        step = np.linalg.solve(slopes.T @ weight @ slopes, slopes.T @ weight @ (target - values))
        point = point + step
        if np.abs(step).max() < 1e-10:
            break
    else:
        raise NoAnswerError("No fan fits these readings, even roughly. Check them again, their units first.")
    values, slopes = _model(rows, point, names, density_kg_m3)
    inverse = np.linalg.inv(slopes.T @ weight @ slopes)
    residuals = target - values
    degrees = len(rows) - len(names)
    chi_squared = float(residuals @ weight @ residuals)
    chance, inflated = _chance(chi_squared, degrees)
    room = np.diag(covariance - slopes @ inverse @ slopes.T)
    # A value that no other reading checks has no room to disagree, and disagreement does not widen it.
    checked = room > 1e-9 * np.diag(covariance)
    scores = np.where(checked, residuals / np.sqrt(np.clip(room, 1e-30, None)), 0.0)
    gains = inverse @ slopes.T @ weight * np.where(checked, inflated, 1.0)

    def estimate(direction: Sequence[float], unit: str, offset: float = 0.0) -> Estimate:
        along = np.array([*direction, *np.zeros(len(names) - len(direction))])
        return _from_logarithm(float(along @ point) + offset, _budget(along @ gains, readings, rows, covariance), unit)

    spread_of = np.sqrt(np.diag(inverse)[:3])
    return FanData(
        flow=estimate((1.0,), "m3/s"),
        thrust=estimate((0.0, 1.0), "N"),
        spread=estimate((0.0, 0.0, 1.0), ""),
        start_half_width=estimate((1.0, -0.5), "m", 0.5 * math.log(density_kg_m3 / (2.0 * math.pi))),
        speeds={name: estimate((*np.zeros(3 + index), 1.0), "") for index, name in enumerate(settings)},
        correlation=np.asarray(inverse[:3, :3] / np.outer(spread_of, spread_of)),
        chi_squared=chi_squared,
        degrees=degrees,
        chance=chance,
        inflated=inflated,
        residuals={row.label: float(score) for row, score in zip(rows, scores, strict=True)},
        contradictions=tuple(
            Contradiction(row.label, float(score)) for row, score in zip(rows, scores, strict=True) if abs(score) > 2.0
        ),
        assumed=assumed,
    )


def _complete(
    rows: list[_Row], covariance: Array, point: Array, names: Sequence[str], density: float, diameter: float | None
) -> tuple[list[_Row], Array, tuple[Note, ...]]:
    """Add typical figures for what the readings leave open, and only for that."""
    additions, assumed = [], []
    if diameter is not None:
        factor, error = THRUST_FACTOR
        relation = math.log(factor * density / (math.pi / 4.0 * diameter**2))
        note = Note(NoteCode.THRUST_BY_FLOW, numbers={"factor": factor, "error": error})
        additions.append((_Row("typical thrust for the flow", relation, "thrust relation"), error, note))
    typical, error = TYPICAL_SPREAD
    note = Note(NoteCode.TYPICAL_SPREAD, numbers={"spread": typical, "error": error})
    additions.append((_Row("typical spread", math.log(typical), "spread"), error, note))

    def rank(of: Sequence[_Row]) -> int:
        return int(np.linalg.matrix_rank(_model(of, point, names, density)[1], tol=1e-6)) if of else 0

    for row, error, note in additions:
        if rank(rows) < len(names) and rank([*rows, row]) > rank(rows):
            rows = [*rows, row]
            covariance = np.pad(covariance, (0, 1))
            covariance[-1, -1] = error**2
            assumed.append(note)
    if rank(rows) < len(names):
        raise NoAnswerError(
            "These readings do not determine the fan. Give a flow, a thrust or a profile across the jet; the diameter "
            "of the blades if only one of flow and thrust was measured; and for each lower setting its speed or one "
            "reading on it."
        )
    return rows, covariance, tuple(assumed)


def _chance(chi_squared: float, degrees: int) -> tuple[float, float]:
    """Probability of as large a misfit, and the factor on the uncertainties where it is below 5 % (Birge ratio)."""
    from scipy import special

    if degrees < 1:
        return math.nan, 1.0
    chance = float(special.chdtrc(degrees, chi_squared))
    return chance, math.sqrt(chi_squared / degrees) if chance < LEAST_CHANCE else 1.0


def _budget(gain: Array, readings: Sequence[FanReading], rows: Sequence[_Row], covariance: Array) -> tuple[Share, ...]:
    """What each reading contributes to one logarithm, and what the common anemometer does."""
    shares, start = [], 0
    for reading in readings:
        part = gain[start : start + reading.values.size]
        variance = float(part @ reading.relative_covariance @ part)
        shares.append(Share(reading.label, math.sqrt(max(variance, 0.0)), reading.degrees))
        start += reading.values.size
    for index in range(start, len(rows)):
        shares.append(Share(rows[index].label, abs(float(gain[index])) * math.sqrt(covariance[index, index])))
    common = abs(float(gain @ np.array([row.anemometer for row in rows])))
    if common:
        # One anemometer, so one calibration: its fewest degrees of freedom are those of the common error.
        shares.append(Share(CALIBRATION, common, min(reading.anemometer_degrees for reading in readings)))
    return tuple(shares)


def _from_logarithm(logarithm: float, budget: Sequence[Share], unit: str) -> Estimate:
    """A positive quantity from its logarithm; its interval is symmetric in ratio."""
    value = math.exp(logarithm)
    standard = math.sqrt(sum(share.standard**2 for share in budget))
    degrees = effective_degrees(budget)
    reach = coverage_factor(degrees=degrees) * standard
    scaled = tuple(Share(share.name, share.standard * value, share.degrees) for share in budget)
    ends = (value * math.exp(-reach), value * math.exp(reach))
    return Estimate(value, value * standard, degrees, unit, scaled, "linear", ends)


def write_fan(
    text: str,
    name: str,
    fan: FanData,
    *,
    power_w: Mapping[str, float],
    sound_db: Mapping[str, float],
    diameter_m: float | None = None,
    highest: str = "high",
) -> str:
    """The text of a house file with a fan's measured figures in it, rounded to what the uncertainty deserves.

    Parameters
    ----------
    text
        The house file.
    name
        The fan; it is added where the file has none of that name.
    fan
        What was measured.
    power_w, sound_db
        Measured power [W] and sound [dB(A)] by setting; empty for the highest.
    diameter_m
        Diameter of the blades [m], where it is to be written too.
    highest
        What the highest setting is called in the file.
    """

    def electrical(setting: str) -> dict[str, str]:
        found = {"power": f"{power_w[setting]:.3g} W"} if setting in power_w else {}
        return found | ({"sound": f"{sound_db[setting]:.3g} dB"} if setting in sound_db else {})

    entries: dict[tuple[str, ...], object] = {
        ("flow",): f"{fan.flow.value:.3g} m3/s",
        ("thrust",): f"{fan.thrust.value:.3g} N",
        ("spread",): float(f"{fan.spread.value:.3g}"),
        ("flow error",): _percent(fan.flow.normal_relative),
        ("thrust error",): _percent(fan.thrust.normal_relative),
        ("spread error",): _percent(fan.spread.normal_relative),
        **{(key,): value for key, value in electrical("").items()},
    }
    if diameter_m is not None:
        entries["diameter",] = f"{diameter_m * 100:.3g} cm"
    # One by one, so that settings of the file that were not measured stay.
    if fan.speeds:
        entries["settings", highest] = "100 %"
    for setting, speed in fan.speeds.items():
        entries["settings", setting] = {"speed": _percent(speed.value), **electrical(setting)}
    for key, value in entries.items():
        text = set_value(text, ("fans", name, *key), value)
    return text


def _percent(share: float) -> str:
    return f"{share * 100:.2g} %"


def doubts(
    fan: FanData, *, density_kg_m3: float, diameter_m: float | None = None, before: Fan | None = None
) -> tuple[Note, ...]:
    """What is hardly possible in a fan's figures; nothing where all is well.

    Thrust is compared with rho Q^2 / A, A = pi d^2 / 4, and must be within a factor of 4 of it; so must thrust and flow
    be of the figures of the house file, where somebody typed them. Readings contradict one another where their misfit
    has a probability below 5 %.

    Parameters
    ----------
    fan
        What was measured.
    density_kg_m3
        Density of the air [kg/m3].
    diameter_m
        Diameter of the blades [m]; without it thrust is not compared with flow.
    before
        The fan as the house file has it, if it has.
    """
    found = []
    thrust, flow = fan.thrust.value, fan.flow.value
    if diameter_m is not None:
        even = density_kg_m3 * flow**2 / (math.pi / 4.0 * diameter_m**2)
        if not 1.0 / MOST_RATIO <= thrust / even <= MOST_RATIO:
            numbers = {"flow_m3_s": flow, "diameter_m": diameter_m, "expected_n": even, "thrust_n": thrust}
            found.append(Note(NoteCode.THRUST_UNLIKE_FLOW, numbers=numbers))
    if before is not None:
        for name, now, was, key in (
            ("thrust", thrust, before.thrust_n, "thrust_n"),
            ("flow", flow, before.flow_m3_s, "flow_m3_s"),
        ):
            if key not in before.estimated and not 1.0 / MOST_RATIO <= now / was <= MOST_RATIO:
                found.append(Note(NoteCode.UNLIKE_FILE, (name,), {"file": was, "readings": now}))
    found += [
        Note(NoteCode.ODD_SETTING, (setting,), {"share": speed.value})
        for setting, speed in fan.speeds.items()
        if not 0.2 <= speed.value <= 1.0 + 2.0 * speed.standard
    ]
    if fan.degrees and fan.chance < LEAST_CHANCE:
        far = farthest(fan)
        found.append(Note(NoteCode.CONTRADICTION, tuple(far), {**far, "chance": fan.chance, "limit": LEAST_CHANCE}))
    return tuple(found)


def farthest(fan: FanData) -> dict[str, float]:
    """The readings farthest off the others, with how far [standard deviations]; several where all are alike."""
    far = max((abs(score) for score in fan.residuals.values()), default=0.0)
    return {label: score for label, score in fan.residuals.items() if abs(score) > 0.95 * far > 0.0}
