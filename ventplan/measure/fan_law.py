"""What each reading of a fan should be, in logarithms: the laws that a fan card is fitted with."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventplan.measure.card_reading import CardReading
from ventplan.measure.uncertainty import Array


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
