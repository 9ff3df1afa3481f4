"""From the speeds along a jet's centre line to the fan that made it.

A jet's centre speed falls so that its inverse is a straight line in the distance s from the blades:
1/Uc = (s + b0/k) k sqrt(pi rho / (2 T)), with b0 = Q0 / sqrt(2 pi T / rho); so the slope gives k^2 / T and the value at
the blades gives Q0 / T.
"""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from pathlib import Path

from ventplan.house.units import UnitError, parse_quantity, unit_factor
from ventplan.house.yaml_text import read_text


@dataclass(frozen=True)
class JetLine:
    """The straight line through 1/Uc over s.

    Attributes
    ----------
    slope_s_m2
        d(1/Uc)/ds [s/m2].
    start_s_m
        1/Uc at the blades [s/m].
    slope_error, start_error
        Standard errors, relative [-].
    """

    slope_s_m2: float
    start_s_m: float
    slope_error: float
    start_error: float


def read_walk(path: Path) -> list[tuple[float, float]]:
    """Distances [m] and speeds [m/s] from a CSV file whose head names both, each with its unit.

    Raises
    ------
    InputError
        If the file cannot be read.
    ValueError
        If a column is missing or a figure is none; the text says what is wanted.
    """
    rows = [
        row for row in csv.reader(read_text(path).splitlines()) if row and not row[0].lstrip().startswith("#")
    ]
    if len(rows) < 4:
        raise ValueError("a head and at least three rows, such as: distance (m), speed (m/s)")
    columns: dict[str, tuple[int, str]] = {}
    for i, head in enumerate(rows[0]):
        match = re.fullmatch(r"\s*(distance|speed)\s*[\[(]?\s*([^)\]]*?)\s*[\])]?\s*", head, re.IGNORECASE)
        if match:
            columns[match[1].lower()] = (i, match[2])
    if len(columns) < 2:
        raise ValueError(
            "columns distance and speed with units in the head, such as: distance (m), speed (m/s)"
        )
    points = []
    for number, row in enumerate(rows[1:], 2):
        values = []
        for word, quantity in (("distance", "length"), ("speed", "speed")):
            i, unit = columns[word]
            try:
                factor = unit_factor(unit, quantity)[0] if unit else 1.0
                values.append(parse_quantity(row[i].strip(), "number") * factor)
            except (UnitError, IndexError) as error:
                raise ValueError(f"a number for {word} in row {number} ({error})") from None
        if values[0] < 0.0 or values[1] <= 0.0:
            raise ValueError(f"a distance from 0 and a speed above 0 in row {number}")
        points.append((values[0], values[1]))
    return points


def jet_line(points: list[tuple[float, float]]) -> JetLine:
    """Least squares of 1/Uc over s.

    Raises
    ------
    ValueError
        If the speeds do not fall along the way as those of a jet do.
    """
    count = len(points)
    mean = sum(s for s, _ in points) / count
    inverse = [1.0 / u for _, u in points]
    mean_inverse = sum(inverse) / count
    spread = sum((s - mean) ** 2 for s, _ in points)
    if spread <= 0.0:
        raise ValueError("different distances")
    slope = sum((s - mean) * y for (s, _), y in zip(points, inverse, strict=True)) / spread
    start = mean_inverse - slope * mean
    if slope <= 0.0 or start <= 0.0:
        raise ValueError("speeds that fall with distance, slower near the blades than 1/s would have it")
    rest = sum((y - start - slope * s) ** 2 for (s, _), y in zip(points, inverse, strict=True))
    variance = rest / max(count - 2, 1)
    return JetLine(
        slope,
        start,
        math.sqrt(variance / spread) / slope,
        math.sqrt(variance * (1.0 / count + mean**2 / spread)) / start,
    )


def fan_from_line(
    line: JetLine, *, flow_m3_s: float | None, thrust_n: float | None, spread: float, density: float
) -> tuple[float, float, float]:
    """Flow [m3/s], thrust [N] and spread [-] from the line and whichever of them is known.

    With a known flow or thrust the line gives the other two; with neither, the spread is taken as given.
    """
    if thrust_n is None and flow_m3_s is not None:
        thrust_n = flow_m3_s * density / (2.0 * line.start_s_m)
    if thrust_n is None:
        thrust_n = math.pi * density / 2.0 * (spread / line.slope_s_m2) ** 2
    else:
        spread = line.slope_s_m2 / math.sqrt(math.pi * density / (2.0 * thrust_n))
    if flow_m3_s is None:
        flow_m3_s = 2.0 * line.start_s_m * thrust_n / density
    return flow_m3_s, thrust_n, spread
