"""What each opening of a house can be, as tables that a state picks its figures from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.network.links import Crack, Strip

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STRIP_FIGURES = (
    "width_m",
    "height_m",
    "stack_gradient_pa_m",
    "linear_forward",
    "quadratic_forward",
    "linear_backward",
    "quadratic_backward",
    "density_forward",
    "density_backward",
    "offset_pa",
)
CRACK_FIGURES = ("coefficient", "exponent", "density_forward", "density_backward", "offset_pa")

_NO_STRIP = (0.0, 1.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.0)
_NO_CRACK = (0.0, 0.65, 1.0, 1.0, 0.0)


@dataclass(frozen=True)
class Choice:
    """One state that one opening can be in: shut, open, open with a jet at it, with a fan sealed in, and so on.

    Attributes
    ----------
    strips, cracks
        Its ways for air; all join the two places of the opening in the same order.
    """

    strips: tuple[Strip, ...] = ()
    cracks: tuple[Crack, ...] = ()


@dataclass(frozen=True)
class Columns:
    """Ways for air of one kind, one a column; a state finds the figures of column c in row ``first[c] + choice``.

    Attributes
    ----------
    figures
        Figures of every column in every choice, shape (figures, rows).
    first
        First row of each column, shape (columns,).
    opening
        Opening that each column belongs to; the number of openings for those that are always there.
    a, b
        Nodes; flow counts from a to b.
    """

    figures: Floats
    first: Ints
    opening: Ints
    a: Ints
    b: Ints

    def rows(self, choices: Ints) -> Ints:
        """Rows of the figures in each state, shape (columns, states); ``choices`` has shape (states, openings)."""
        with_always = np.vstack([choices.T, np.zeros((1, choices.shape[0]), dtype=np.int64)])
        rows: Ints = self.first[:, None] + with_always[self.opening]
        return rows

    @property
    def carries(self) -> NDArray[np.bool_]:
        """True for the rows that let air pass: those with an area, or a flow at 1 Pa."""
        there: NDArray[np.bool_] = self.figures[0] * self.figures[1] > 0.0
        return there


class ChoiceTable:
    """A house whose openings can each be in one of several choices; not changed once made.

    Parameters
    ----------
    nodes
        Names of the rooms, without outdoors.
    options
        For each opening, its choices.
    always
        Leaks that are there in every state, such as those of walls.

    Attributes
    ----------
    strips, cracks
        Ways for air of each kind.
    """

    def __init__(self, nodes: Sequence[str], options: Sequence[Sequence[Choice]], always: Sequence[Crack] = ()) -> None:
        self.nodes = tuple(nodes)
        self.choice_count: Ints = np.array([len(choices) for choices in options], dtype=np.int64)
        if np.any(self.choice_count == 0):
            raise ValueError(f"opening {int(np.argmin(self.choice_count))} has no choice")
        ends = [_ends(opening, choices) for opening, choices in enumerate(options)]
        strips, cracks = [], []
        for opening, choices in enumerate(options):
            rows = [[_strip_figures(strip) for strip in choice.strips] for choice in choices]
            strips += [(opening, *ends[opening], column) for column in _columns(rows, _NO_STRIP)]
            rows = [[_crack_figures(crack) for crack in choice.cracks] for choice in choices]
            cracks += [(opening, *ends[opening], column) for column in _columns(rows, _NO_CRACK)]
        cracks += [(len(options), crack.a, crack.b, [_crack_figures(crack)]) for crack in always]
        self.strips = _stack(strips, len(STRIP_FIGURES))
        self.cracks = _stack(cracks, len(CRACK_FIGURES))

    def checked(self, choices: ArrayLike) -> Ints:
        """Choices as whole numbers of shape (states, openings).

        Parameters
        ----------
        choices
            Which choice each opening is in, shape (states, openings).

        Returns
        -------
        ndarray
            The same, as integers.

        Raises
        ------
        ValueError
            Where the shape is wrong or a choice is out of range.
        """
        given = np.asarray(choices)
        openings = self.choice_count.size
        if given.ndim != 2 or given.shape[1] != openings:
            raise ValueError(f"choices must have shape (states, {openings}), not {given.shape}")
        rows: Ints = given.astype(np.int64)
        if np.any(rows != given) or np.any(rows < 0) or np.any(rows >= self.choice_count):
            raise ValueError("choices must be whole numbers from 0 to the number of choices of their opening less 1")
        return rows


def _ends(opening: int, choices: Sequence[Choice]) -> tuple[int, int]:
    found = {(strip.a, strip.b) for choice in choices for strip in choice.strips}
    found |= {(crack.a, crack.b) for choice in choices for crack in choice.cracks}
    if len(found) > 1:
        raise ValueError(f"the ways for air of opening {opening} must all join the same two places: {sorted(found)}")
    return found.pop() if found else (0, 0)


def _strip_figures(strip: Strip) -> tuple[float, ...]:
    return (
        strip.width_m,
        strip.height_m,
        strip.gradient_pa_m,
        strip.linear_a,
        strip.quadratic_a,
        strip.linear_b,
        strip.quadratic_b,
        strip.density_a,
        strip.density_b,
        strip.wind_pa + strip.stack_pa + strip.fan_pa,
    )


def _crack_figures(crack: Crack) -> tuple[float, ...]:
    offset = crack.wind_pa + crack.stack_pa + crack.fan_pa
    return crack.coefficient, crack.exponent, crack.density_a, crack.density_b, offset


def _columns(rows: Sequence[Sequence[tuple[float, ...]]], nothing: tuple[float, ...]) -> list[list[tuple[float, ...]]]:
    """As many columns as the fullest choice has ways, filled up with ways that carry nothing."""
    count = max(map(len, rows))
    return [[row[i] if i < len(row) else nothing for row in rows] for i in range(count)]


def _stack(columns: Sequence[tuple[int, int, int, list[tuple[float, ...]]]], figures: int) -> Columns:
    sizes = [len(column[3]) for column in columns]
    flat = [row for column in columns for row in column[3]]
    return Columns(
        figures=np.ascontiguousarray(np.array(flat, dtype=float).reshape(len(flat), figures).T),
        first=np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64)[: len(columns)],
        opening=np.array([column[0] for column in columns], dtype=np.int64),
        a=np.array([column[1] for column in columns], dtype=np.int64),
        b=np.array([column[2] for column in columns], dtype=np.int64),
    )
