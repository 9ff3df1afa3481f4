"""One card for a fan from everything that was measured of it, by weighted least squares on the logarithms.

Unknowns: flow Q0, thrust T and spread k on the highest setting, and the share n of full speed of each other
setting.
Every reading is a product of powers of them (a profile's width apart), so that their logarithms are nearly
linear:

    flow         Q0 n                       thrust       T n^2
    walk         alpha = rho Q0 / (2 T n)   beta = k sqrt(pi rho / (2 T)) / n
    profile      b = b0 + k s               Uc = n sqrt(2 T / (pi rho)) / b      with b0 = Q0 sqrt(rho / (2
    pi T))

Flow, thrust and power go with the first, second and third power of the speed (fan laws), and the shape of
the jet does not change with it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventplan.errors import NoAnswerError
from ventplan.measure.card_reading import CardReading
from ventplan.measure.uncertainty import (
    CALIBRATION,
    LEAST_CHANCE,
    Array,
    Estimate,
    Share,
    coverage_factor,
    effective_degrees,
)


@dataclass(frozen=True)
class Row:
    """One value that was read: its logarithm, what kind it is, and on which setting (empty: the highest)."""

    label: str
    logarithm: float
    kind: str
    setting: str
    distance_m: float = 0.0


_ROWS = {"walk": ("intercept", "slope"), "profile": ("centre speed", "width")}


def stacked(readings: Sequence[CardReading]) -> tuple[list[Row], Array]:
    """All values as rows, and the covariance of their logarithms, with the one anemometer in common."""
    rows: list[Row] = []
    shared = []
    blocks = []
    for reading in readings:
        parts = _ROWS.get(reading.measured, ("",))
        for part, value in zip(parts, reading.values, strict=True):
            label = f"{reading.label}{': ' + part if part else ''}{' on ' + reading.setting if reading.setting else ''}"
            kind = f"{reading.measured} {part}".strip()
            rows.append(Row(label, math.log(value), kind, reading.setting, reading.distance_m))
            # Too large a speed makes flow and Uc too large, and 1 / Uc too small; a width does not feel it.
            sign = {"walk intercept": -1.0, "walk slope": -1.0, "profile width": 0.0}.get(kind, 1.0)
            shared.append(sign * reading.anemometer)
        blocks.append(reading.relative_covariance)
    covariance = np.outer(shared, shared)
    start = 0
    for block in blocks:
        stop = start + block.shape[0]
        covariance[start:stop, start:stop] += block
        start = stop
    return rows, covariance


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


def _law(row: Row, unknowns: Array, density: float) -> tuple[float, Array]:
    """Logarithm of what a row should read, and its slopes in the logarithms of (flow, thrust, spread,
    speed)."""
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


def modelled(rows: Sequence[Row], point: Array, names: Sequence[str], density: float) -> tuple[Array, Array]:
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


TYPICAL_SPREAD = (0.15, 0.20)
"""Spread of a household fan's jet and its relative standard uncertainty [-]: 0.115 for a round jet in theory
to 0.19 for broad, swirling fans."""

THRUST_FACTOR = (1.15, 0.15)
"""T A / (rho Q^2) of a small axial fan and its relative standard uncertainty [-]: 1 for an even stream, more
for the slower air at hub and tips (from memory)."""


@dataclass(frozen=True)
class Contradiction:
    """A reading that does not agree with the others: its normalised residual, of which 95 % lie within 2."""

    label: str
    normalised: float


@dataclass(frozen=True)
class FanCard:
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
        Factor by which the uncertainties of readings that others check were widened since they disagree; 1 if they do
        not.
    residuals
        Normalised residual of every value read [-].
    contradictions
        Readings that do not agree with the others.
    assumed
        What was not measured and is assumed, one plain sentence each.
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
    assumed: tuple[str, ...]


def flow_by_way(readings: Sequence[CardReading], *, density_kg_m3: float) -> dict[str, Estimate]:
    """Flow through the blades on the highest setting by each way that the readings allow, each by itself.

    A flow that was measured; and 2 T alpha / rho from a walk, with the thrust of a scale or of a profile,
    T = rho (pi / 2) Uc^2 b^2. The walk's intercept alpha is an extrapolation to the blades, which makes this way the
    coarser one.

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
    alpha, own = float(walk.values[0]), float(walk.relative_covariance[0, 0])
    for one in mine:
        if one.measured == "thrust":
            flow = 2.0 * float(one.values[0]) * alpha / density_kg_m3
            add(f"{walk.label} and {one.label}", flow, own + float(one.relative_covariance[0, 0]), walk.anemometer)
        if one.measured == "profile":
            speed, width = (float(value) for value in one.values)
            # Thrust goes with the square of both; the walk's alpha with one over the speed that the vane shows.
            spread = 4.0 * float(one.relative_covariance.sum())
            flow = math.pi * (speed * width) ** 2 * alpha
            add(f"{walk.label} and {one.label}", flow, own + spread, abs(2.0 * one.anemometer - walk.anemometer))
    return found


def combine(readings: Sequence[CardReading], *, density_kg_m3: float, diameter_m: float | None = None) -> FanCard:
    """The fan card that fits all readings best.

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
    rows, covariance = stacked(readings)
    settings = tuple(dict.fromkeys(reading.setting for reading in readings if reading.setting))
    names = ("flow", "thrust", "spread", *settings)
    point = _start(rows, settings)
    rows, covariance, assumed = _complete(rows, covariance, point, names, density_kg_m3, diameter_m)
    target = np.array([row.logarithm for row in rows])
    weight = np.linalg.inv(covariance)
    for _ in range(50):
        values, slopes = modelled(rows, point, names, density_kg_m3)
        step = np.linalg.solve(slopes.T @ weight @ slopes, slopes.T @ weight @ (target - values))
        point = point + step
        if np.abs(step).max() < 1e-10:
            break
    else:
        raise NoAnswerError("No fan fits these readings, even badly: look at them again, units first.")
    values, slopes = modelled(rows, point, names, density_kg_m3)
    inverse = np.linalg.inv(slopes.T @ weight @ slopes)
    residuals = target - values
    degrees = len(rows) - len(names)
    chi_squared = float(residuals @ weight @ residuals)
    chance, inflated = _chance(chi_squared, degrees)
    room = np.diag(covariance - slopes @ inverse @ slopes.T)
    # A value that nothing else speaks about has no room to disagree.
    scores = np.where(room > 1e-9 * np.diag(covariance), residuals / np.sqrt(np.clip(room, 1e-30, None)), 0.0)
    gains = inverse @ slopes.T @ weight
    width = np.array([1.0, -0.5, 0.0, *np.zeros(len(settings))])
    start_width = math.log(math.sqrt(density_kg_m3 / (2.0 * math.pi)))

    # Disagreement says nothing of a value that no other reading checks: it is not widened.
    widened = np.where(room > 1e-9 * np.diag(covariance), inflated, 1.0)

    def estimate(direction: Array, offset: float, unit: str) -> Estimate:
        budget = _budget(direction @ gains * widened, readings, rows, covariance)
        return _from_logarithm(float(direction @ point) + offset, budget, unit)

    unit_vectors = np.eye(len(names))
    spread_of = np.sqrt(np.diag(inverse)[:3])
    return FanCard(
        flow=estimate(unit_vectors[0], 0.0, "m3/s"),
        thrust=estimate(unit_vectors[1], 0.0, "N"),
        spread=estimate(unit_vectors[2], 0.0, ""),
        start_half_width=estimate(width, start_width, "m"),
        speeds={name: estimate(unit_vectors[3 + index], 0.0, "") for index, name in enumerate(settings)},
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


def _start(rows: Sequence[Row], settings: Sequence[str]) -> Array:
    """A first guess; the problem is nearly linear, so that any sensible one will do."""
    first = {row.kind: row.logarithm for row in reversed(rows)}
    return np.array(
        [
            first.get("flow", math.log(0.3)),
            first.get("thrust", math.log(1.5)),
            math.log(TYPICAL_SPREAD[0]),
            *[next((r.logarithm for r in rows if r.kind == "speed" and r.setting == s), -0.2) for s in settings],
        ]
    )


def _complete(
    rows: list[Row],
    covariance: Array,
    point: Array,
    names: Sequence[str],
    density: float,
    diameter: float | None,
) -> tuple[list[Row], Array, tuple[str, ...]]:
    """Add typical figures for what the readings leave open, and only for that."""
    rows, assumed = list(rows), []
    additions = []
    if diameter is not None:
        area = math.pi / 4.0 * diameter**2
        factor, error = THRUST_FACTOR
        relation = Row("typical thrust for the flow", math.log(factor * density / area), "thrust relation", "")
        said = f"Thrust and flow are tied by T = {factor:.2f} rho Q^2 / A within {error:.0%}: only one was measured."
        additions.append((relation, error, said))
    typical, error = TYPICAL_SPREAD
    spread = Row("typical spread", math.log(typical), "spread", "")
    additions.append((spread, error, f"Spread is the typical {typical:.2f} within {error:.0%}: no reading settles it."))
    for row, error, said in additions:
        before = _rank(rows, point, names, density)
        if before < len(names) and _rank([*rows, row], point, names, density) > before:
            rows.append(row)
            covariance = np.block(
                [[covariance, np.zeros((covariance.shape[0], 1))], [np.zeros((1, covariance.shape[0])), error**2]]
            )
            assumed.append(said)
    if _rank(rows, point, names, density) < len(names):
        raise NoAnswerError(
            "These readings do not settle the fan: give a flow, a thrust or a profile across the jet, the diameter "
            "of the blades if only one of flow and thrust was measured, and for each lower setting its speed or one "
            "reading on it."
        )
    return rows, covariance, tuple(assumed)


def _rank(rows: Sequence[Row], point: Array, names: Sequence[str], density: float) -> int:
    return int(np.linalg.matrix_rank(modelled(rows, point, names, density)[1], tol=1e-6)) if rows else 0


def _chance(chi_squared: float, degrees: int) -> tuple[float, float]:
    """Probability of as large a misfit, and the factor on the uncertainties where it is below 5 % (Birge
    ratio)."""
    from scipy import special

    if degrees < 1:
        return math.nan, 1.0
    chance = float(special.chdtrc(degrees, chi_squared))
    return chance, math.sqrt(chi_squared / degrees) if chance < LEAST_CHANCE else 1.0


def _budget(gain: Array, readings: Sequence[CardReading], rows: Sequence[Row], covariance: Array) -> tuple[Share, ...]:
    """What each reading brings to one logarithm, the anemometer that they share apart."""
    shares, common, start = [], 0.0, 0
    for reading in readings:
        stop = start + reading.values.size
        part = gain[start:stop]
        variance = float(part @ reading.relative_covariance @ part)
        shares.append(Share(reading.label, math.sqrt(max(variance, 0.0)), reading.degrees))
        signs = [-1.0, -1.0] if reading.measured == "walk" else [1.0, 0.0] if reading.measured == "profile" else [1.0]
        common += float(part @ np.array(signs)) * reading.anemometer
        start = stop
    for index in range(start, len(rows)):
        shares.append(Share(rows[index].label, abs(float(gain[index])) * math.sqrt(covariance[index, index])))
    if common:
        # One anemometer, so one calibration: its fewest degrees of freedom are those of the common error.
        degrees = min((reading.anemometer_degrees for reading in readings), default=math.inf)
        shares.append(Share(CALIBRATION, abs(common), degrees))
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
