"""A walk down the jet of a fan: which file it may be in, and the fan that its speeds show.

The centre speed of a jet falls so that its inverse is a straight line in the distance s from the blades:
1/Uc = (s + b0/k) k sqrt(pi rho / (2 T)), with b0 = Q0 / sqrt(2 pi T / rho); so the slope gives k^2 / T and the value at
the blades gives Q0 / T.
"""

from __future__ import annotations

import math
import stat
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path

from ventplan.errors import InputError, InvalidValue
from ventplan.house.table import Column, read_table

MOST_WALK_BYTES = 1_000_000
"""Size of the largest file of a jet walk [bytes]."""
outside_allowed: ContextVar[bool] = ContextVar("outside_allowed", default=False)
"""True where a house file may name files outside its own folder; ``--allow-outside`` sets it."""


def walk_file(folder: Path, name: str) -> Path:
    """The file of a jet walk: an ordinary file, not too large, in the folder of the house file or below it.

    Raises
    ------
    InputError
        If it is none; with what to do.
    """
    allowed = "a CSV file in the folder of the house file"

    def refused(found: str, hint: str = "") -> InputError:
        return InputError([InvalidValue("jet", found, allowed, hint)])

    try:
        there, home = (folder / name).resolve(), folder.resolve()
        found = there.stat() if there.is_relative_to(home) or outside_allowed.get() else None
    except FileNotFoundError:
        raise refused("no such file") from None
    except (OSError, ValueError, RuntimeError):
        raise refused("a path that cannot be read") from None
    if found is None:
        hint = "Copy it there, or run the command with --allow-outside if you wrote the house file yourself"
        raise refused("a path that leads out of that folder", hint)
    if not stat.S_ISREG(found.st_mode):
        raise refused("a folder" if stat.S_ISDIR(found.st_mode) else "no ordinary file")
    if found.st_size > MOST_WALK_BYTES:
        raise refused(f"a file of {found.st_size} bytes", f"A walk of a thousand rows has less than {MOST_WALK_BYTES}")
    return there


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
    """Distances [m] and speeds [m/s] from a CSV file with these two headings, units in them.

    Raises
    ------
    InputError
        If the file cannot be read, or a heading or a figure is not as it should be.
    ValueError
        If there are fewer than three rows.
    """
    columns = (
        Column("distance", "length", lowest=0.0, highest=30.0),
        Column("speed", "speed", lowest=0.02, highest=50.0),
    )
    numbers = read_table(path, columns).numbers
    points = list(zip(numbers["distance"], numbers["speed"], strict=True))
    if len(points) < 3:
        raise ValueError("at least three rows of distance and speed")
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
