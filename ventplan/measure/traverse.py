"""Where to hold the probe in an opening, and how well the mean of those places stands for the whole of it."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from ventplan.measure.uncertainty import Array

Rule = Literal["equal area", "log-Tchebycheff"]

LOG_TCHEBYCHEFF: dict[int, tuple[float, ...]] = {
    5: (0.074, 0.288, 0.500, 0.712, 0.926),
    6: (0.061, 0.235, 0.437, 0.563, 0.765, 0.939),
    7: (0.053, 0.203, 0.366, 0.500, 0.634, 0.797, 0.947),
}
"""Shares of the side of a rectangular duct (ISO 3966; ASHRAE Handbook Fundamentals, measurement chapter).

They assume the boundary layer of a duct's walls. In the plane of a window, which has none, equal areas are
right."""


def shares_of_side(*, count: int, rule: Rule = "equal area") -> tuple[float, ...]:
    """Places along one side as shares of its length.

    Raises
    ------
    ValueError
        For log-Tchebycheff with other than 5, 6 or 7 places, or fewer than one place.
    """
    if rule == "log-Tchebycheff":
        if count not in LOG_TCHEBYCHEFF:
            raise ValueError("the log-Tchebycheff rule has 5, 6 or 7 places along a side")
        return LOG_TCHEBYCHEFF[count]
    if count < 1:
        raise ValueError("a traverse needs at least one place along a side")
    return tuple((index + 0.5) / count for index in range(count))


def positions(
    *, width_m: float, height_m: float, rule: Rule = "equal area", spacing_m: float = 0.2
) -> tuple[tuple[float, float], ...]:
    """Where to hold the probe: distances from the left edge and from the bottom, row by row from the top.

    Parameters
    ----------
    width_m, height_m
        Clear size of the opening [m].
    rule
        ``equal area`` for windows, doors and boxes; ``log-Tchebycheff`` inside a duct.
    spacing_m
        Largest distance between neighbours [m]; at least 3 places a side (equal area) or 5 (log-Tchebycheff).

    Returns
    -------
    tuple
        (across, up) [m], one pair for each place.
    """
    sides = []
    for length in (width_m, height_m):
        count = max(math.ceil(length / spacing_m - 1e-9), 3)
        if rule == "log-Tchebycheff":
            count = min(max(count, 5), 7)
        sides.append([share * length for share in shares_of_side(count=count, rule=rule)])
    return tuple((across, up) for up in reversed(sides[1]) for across in sides[0])


def place_weights(
    *, across_m: ArrayLike, up_m: ArrayLike, width_m: float, height_m: float, rule: Rule = "equal area"
) -> Array:
    """Share of the area that each place stands for, shape (n,); they add up to 1.

    On a full grid of places, each stands for the cell that reaches halfway to its neighbours; at equal-area
    centres these cells are equal. Log-Tchebycheff places count alike by the rule itself. Places off a grid
    count alike too.

    Parameters
    ----------
    across_m, up_m
        Places, shape (n,) [m]; nan where not noted.
    width_m, height_m
        Clear size [m].
    rule
        How the places were chosen.
    """
    x, y = np.asarray(across_m, dtype=float), np.asarray(up_m, dtype=float)
    alike = np.full(x.size, 1.0 / x.size)
    if rule == "log-Tchebycheff" or np.isnan(x).any() or np.isnan(y).any():
        return alike
    columns, rows = np.unique(np.round(x, 3)), np.unique(np.round(y, 3))
    if columns.size * rows.size != x.size:
        return alike
    share_x = _cell_shares(columns, width_m)[np.searchsorted(columns, np.round(x, 3))]
    share_y = _cell_shares(rows, height_m)[np.searchsorted(rows, np.round(y, 3))]
    return np.asarray(share_x * share_y)


def _cell_shares(places: Array, length: float) -> Array:
    edges = np.concatenate([[0.0], (places[1:] + places[:-1]) / 2.0, [length]])
    return np.asarray(np.diff(edges) / length)


def sampling_uncertainty(*, across_m: ArrayLike, up_m: ArrayLike, speeds_m_s: ArrayLike) -> tuple[float, float]:
    """Standard uncertainty of the mean of a traverse from having looked at a few places only.

    Each place stands for the cell around it. The scatter inside a cell cannot be seen, but neighbours differ
    by at least as much when the profile is smooth: s_cell^2 = mean of (difference of neighbours)^2 / 2, and
    u = s_cell / sqrt(n). It errs on the safe side.

    Parameters
    ----------
    across_m, up_m
        Places, shape (n,) [m].
    speeds_m_s
        Speeds there, shape (n,) [m/s].

    Returns
    -------
    tuple
        u [m/s], and degrees of freedom [-] (half the number of pairs, which share their ends).
    """
    x, y = np.asarray(across_m, dtype=float), np.asarray(up_m, dtype=float)
    speed = np.asarray(speeds_m_s, dtype=float)
    squares = np.concatenate([_neighbour_squares(x, y, speed), _neighbour_squares(y, x, speed)])
    if squares.size == 0:
        return math.inf, 1.0
    return float(math.sqrt(squares.mean() / 2.0 / speed.size)), max(squares.size / 2.0, 1.0)


def _neighbour_squares(along: Array, row: Array, speed: Array) -> Array:
    """Squared differences of neighbours along each row of places."""
    rows = np.unique(np.round(row, 3))
    parts = []
    for level in rows:
        inside = np.abs(row - level) < 1e-3
        order = np.argsort(along[inside])
        parts.append(np.diff(speed[inside][order]) ** 2)
    return np.concatenate(parts) if parts else np.empty(0)
