# mypy: disable-error-code="no-untyped-def,misc,call-arg"
"""Newton's method for many states of one house, compiled: the laws of `ventplan.physics` written out as scalars.

Needs numba. Importing this module imports it, and the first call ever compiles (later runs read the compiled code
from disk), so `ventplan.network.bulk` comes here only where that pays. Each state is solved alone, in the steps of
`ventplan.network.solve`, and only over the ways that carry air in it; the matrix of the rooms is factored along a
pattern that is worked out once for the house. Each function is called in one place only, since compiling time goes
with the number of calls.

Two tables hold the ways of a state, strips first: ``figures``, whose columns the constants below name, and ``ends``
with node a, node b and opening.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from numba import njit
from numpy.typing import NDArray

from ventplan.network.bulk_table import ChoiceTable, Columns
from ventplan.network.factors import elimination_order
from ventplan.network.solve import MAX_STEPS, TOLERANCE_KG_S
from ventplan.physics.crack import SMOOTHING_PA

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_compiled = partial(njit, nogil=True, cache=True, error_model="numpy")

SIZE, OFFSET, DENSITY_A, DENSITY_B = 0, 1, 2, 3  # Size is the area of a strip and the flow at 1 Pa of a crack.
HALF_PA, LINEAR_A, QUADRATIC_A, LINEAR_B, QUADRATIC_B = 4, 5, 6, 7, 8
EXPONENT = 4
FIGURES = 9

TRIALS = 60
LEAST_MOVE_PA = 1e-14
SMOOTH = SMOOTHING_PA * SMOOTHING_PA
START, SEARCH, POLISH = 0, 1, 2


@_compiled()
def _strip(dp, figures, k):
    """Volume flow each way and slope of the net mass flow (`ventplan.physics.buoyancy`).

    The streams are the part of the height where dp is positive and the part where it is negative.
    """
    area, half = figures[k, SIZE], figures[k, HALF_PA]
    high, low = dp + half, dp - half
    ahead, back, slope = 0.0, 0.0, 0.0
    for side in range(2):
        if side == 0:
            fast_pa, slow_pa = high, max(low, 0.0)
            linear, quadratic, density = figures[k, LINEAR_A], figures[k, QUADRATIC_A], figures[k, DENSITY_A]
        else:
            fast_pa, slow_pa = -low, max(-high, 0.0)
            linear, quadratic, density = figures[k, LINEAR_B], figures[k, QUADRATIC_B], figures[k, DENSITY_B]
        if fast_pa < 0.0 or (fast_pa == 0.0 and side == 1):
            continue
        square, four = linear * linear, 4.0 * quadratic
        fast = 2.0 * fast_pa / (linear + np.sqrt(square + four * fast_pa) + 1e-300)
        slow = fast
        if half > 0.0:
            slow = 2.0 * slow_pa / (linear + np.sqrt(square + four * slow_pa) + 1e-300)
        total = fast + slow
        share = fast_pa / (2.0 * half) if fast_pa < 2.0 * half else 1.0
        per_pa = area * share / (linear + quadratic * total + 1e-300)
        flow = per_pa * (linear * total / 2.0 + 2.0 * quadratic * (total * total - fast * slow) / 3.0)
        slope += density * per_pa
        if side == 0:
            ahead = flow
        else:
            back = flow
    return ahead, back, slope


@_compiled()
def _crack(dp, figures, k):
    """Volume flow each way and slope of the mass flow (`ventplan.physics.crack`)."""
    rounded = dp * dp + SMOOTH
    steep = figures[k, SIZE] * rounded ** (0.5 * (figures[k, EXPONENT] - 3.0))
    flow = steep * rounded * dp
    density = figures[k, DENSITY_A] if dp >= 0.0 else figures[k, DENSITY_B]
    return max(flow, 0.0), max(-flow, 0.0), density * steep * (figures[k, EXPONENT] * dp * dp + SMOOTH)


@_compiled()
def _balance(pressure, figures, ends, strips, ways, least_pa, flows, left):
    """Fill the flows (ahead, back, slope) of the ways and what is left in each room; largest flow and imbalance.

    With a least driving pressure, the ways are straight lines with their slope at that pressure or above.
    """
    most, worst = 0.0, 0.0
    for i in range(left.size):
        left[i] = 0.0
    for k in range(ways):
        a, b = ends[k, 0], ends[k, 1]
        dp = pressure[a] - pressure[b] + figures[k, OFFSET]
        at = dp if abs(dp) >= least_pa else least_pa
        if k < strips:
            flows[k, 0], flows[k, 1], flows[k, 2] = _strip(at, figures, k)
        else:
            flows[k, 0], flows[k, 1], flows[k, 2] = _crack(at, figures, k)
        mass = figures[k, DENSITY_A] * flows[k, 0] - figures[k, DENSITY_B] * flows[k, 1]
        if least_pa > 0.0:
            mass = flows[k, 2] * dp
        left[a] += mass
        left[b] -= mass
        most = max(most, abs(mass))
    left[left.size - 1] = 0.0
    for i in range(left.size):
        worst = max(worst, abs(left[i]))
    return most, worst


@_compiled()
def _step(flows, left, ends, ways, reached, order, first, later, matrix, step):
    """Solve (weighted Laplacian without outdoors) step = -left along the pattern of the house."""
    count = step.size - 1
    for i in range(count):
        for j in range(count):
            matrix[i, j] = 0.0
    for k in range(ways):
        a, b, slope = ends[k, 0], ends[k, 1], flows[k, 2]
        matrix[a, a] += slope
        matrix[b, b] += slope
        matrix[a, b] -= slope
        matrix[b, a] -= slope
    for i in range(count):
        step[i] = -left[i]
        if not reached[i]:
            matrix[i, i] = 1.0
    for turn in range(count):
        k = order[turn]
        inverse = 1.0 / matrix[k, k]
        matrix[k, k] = inverse
        for x in range(first[turn], first[turn + 1]):
            i = later[x]
            factor = matrix[k, i] * inverse
            if factor != 0.0:
                step[i] -= factor * step[k]
                for y in range(first[turn], first[turn + 1]):
                    matrix[i, later[y]] -= factor * matrix[k, later[y]]
    for turn in range(count - 1, -1, -1):
        k = order[turn]
        value = step[k]
        for x in range(first[turn], first[turn + 1]):
            value -= matrix[k, later[x]] * step[later[x]]
        step[k] = value * matrix[k, k]


@_compiled()
def _settle(figures, ends, strips, ways, reached, order, first, later, flows, pressure, left, step, trial, matrix):
    """Newton's method with the line search of `ventplan.network.solve`; the imbalance, or less than 0 for no answer.

    Starts with one step with every way's chord at a pascal: the slopes at rest are far too stiff to start from.
    """
    for i in range(pressure.size):
        trial[i] = step[i] = 0.0
    stage, trials, steps = START, 0, 0
    start, before, share = np.inf, np.inf, 0.0
    low, low_slope, high, high_slope = 0.0, 0.0, np.inf, np.inf
    while steps < MAX_STEPS:
        least = 1.0 if stage == START else 0.0
        most, worst = _balance(trial, figures, ends, strips, ways, least, flows, left)
        if stage == POLISH:
            if worst < before:
                for i in range(pressure.size):
                    pressure[i] = trial[i]
                return worst
            for i in range(pressure.size):
                trial[i] = pressure[i]
            before = np.inf
            continue
        trials += 1
        along, reach = 0.0, 0.0
        for i in range(step.size):
            along += left[i] * step[i]
            reach = max(reach, abs(step[i]))
        if trials < TRIALS and abs(along) > 0.5 * abs(start) and share * reach >= LEAST_MOVE_PA:
            if along < 0.0:
                low, low_slope = share, along
                share = share * 2.0 if high == np.inf else 0.5 * (low + high)
            else:
                high, high_slope = share, along
                chord = low - low_slope * (high - low) / (high_slope - low_slope)
                share = min(max(chord, low + 0.1 * (high - low)), high - 0.1 * (high - low))
            for i in range(step.size):
                trial[i] = pressure[i] + share * step[i]
            continue
        for i in range(step.size):
            pressure[i] = trial[i]
        steps += 1
        _step(flows, left, ends, ways, reached, order, first, later, matrix, step)
        start, trials, share = 0.0, 0, 1.0
        for i in range(step.size):
            trial[i] = pressure[i] + step[i]
            start += left[i] * step[i]
        low, low_slope, high, high_slope = 0.0, start, np.inf, np.inf
        if stage == START:
            stage, start = SEARCH, np.inf
        elif worst <= TOLERANCE_KG_S * max(1.0, most):
            stage, before = POLISH, worst
    return -1.0


@_compiled()
def _gather(state, choices, first, openings, table, columns, reached, figures, ends):
    """Copy the figures of the ways that carry air in a state, without those of rooms that are cut off.

    Marks the places that air can get to from outdoors. Returns the number of strips and of ways.
    """
    strips, ways = 0, 0
    for c in range(first.size):
        row = first[c] if columns[c, 2] == openings else first[c] + choices[state, columns[c, 2]]
        if table[row, SIZE] > 0.0:
            for i in range(FIGURES):
                figures[ways, i] = table[row, i]
            for i in range(3):
                ends[ways, i] = columns[c, i]
            ways += 1
            if columns[c, 3] == 0:
                strips += 1
    for i in range(reached.size):
        reached[i] = i == reached.size - 1
    grows = True
    while grows:
        grows = False
        for k in range(ways):
            if reached[ends[k, 0]] != reached[ends[k, 1]]:
                reached[ends[k, 0]] = reached[ends[k, 1]] = grows = True
    kept, kept_strips = 0, 0
    for k in range(ways):
        if reached[ends[k, 0]]:
            for i in range(FIGURES):
                figures[kept, i] = figures[k, i]
            for i in range(3):
                ends[kept, i] = ends[k, i]
            kept += 1
            if k < strips:
                kept_strips += 1
    return kept_strips, kept


@_compiled()
def _solve(
    choices, starts, table, columns, order, first, later, figures, flows, ends, reached, pressure, left, step, trial,
    matrix, pressures, forward, backward, masses, imbalance,
):  # fmt: skip
    """Solve some states; returns the first that does not balance, or -1."""
    openings = choices.shape[1]
    for state in range(choices.shape[0]):
        strips, ways = _gather(state, choices, starts, openings, table, columns, reached, figures, ends)
        worst = _settle(
            figures, ends, strips, ways, reached, order, first, later, flows, pressure, left, step, trial, matrix
        )
        if worst < 0.0:
            return state
        imbalance[state] = worst
        for i in range(pressure.size - 1):
            pressures[state, i] = pressure[i]
        for k in range(ways):
            opening = ends[k, 2]
            if opening < openings:
                forward[state, opening] += flows[k, 0]
                backward[state, opening] += flows[k, 1]
                mass = figures[k, DENSITY_A] * flows[k, 0] - figures[k, DENSITY_B] * flows[k, 1]
                masses[state, opening] += mass
    return -1


def _strip_table(columns: Columns) -> Floats:
    width, height, gradient, la, qa, lb, qb, density_a, density_b, offset = columns.figures
    half = np.abs(gradient) * height / 2.0
    return np.stack([width * height, offset, density_a, density_b, half, la, qa, lb, qb], axis=1)


def _crack_table(columns: Columns) -> Floats:
    coefficient, exponent, density_a, density_b, offset = columns.figures
    rest = [np.zeros_like(offset)] * (FIGURES - 5)
    return np.stack([coefficient, offset, density_a, density_b, exponent, *rest], axis=1)


class CompiledStates:
    """The compiled solver of one house.

    Parameters
    ----------
    table
        The house and what each of its openings can be.
    """

    def __init__(self, table: ChoiceTable) -> None:
        kinds = (table.strips, table.cracks)
        tables = [_strip_table(table.strips), _crack_table(table.cracks)]
        starts = np.cumsum([0, *map(len, tables)])
        self._table = np.vstack(tables)
        self._first: Ints = np.concatenate([kind.first + start for kind, start in zip(kinds, starts[:-1], strict=True)])
        self._columns: Ints = np.concatenate(
            [
                np.stack([kind.a, kind.b, kind.opening, np.full_like(kind.a, kind is table.cracks)], axis=1)
                for kind in kinds
            ]
        )
        self._pattern = elimination_order(len(table.nodes), self._columns[:, 0], self._columns[:, 1])

    def solve_into(
        self,
        choices: Ints,
        *,
        pressure: Floats,
        forward: Floats,
        backward: Floats,
        mass: Floats,
        imbalance: Floats,
    ) -> int:
        """Solve some states into arrays of zeros that are given.

        Parameters
        ----------
        choices
            Which choice each opening is in, shape (states, openings).
        pressure
            Shape (states, rooms) [Pa].
        forward, backward
            Shape (states, openings) [m3/s].
        mass
            Shape (states, openings) [kg/s].
        imbalance
            Shape (states,) [kg/s].

        Returns
        -------
        int
            The first state that does not balance, or -1.
        """
        columns, places = self._first.size, pressure.shape[1] + 1
        found = _solve(
            choices,
            self._first,
            self._table,
            self._columns,
            *self._pattern,
            np.zeros((columns, FIGURES)),
            np.zeros((columns, 3)),
            np.zeros((columns, 3), dtype=np.int64),
            np.zeros(places, dtype=np.bool_),
            *np.zeros((4, places)),
            np.zeros((places, places)),
            pressure,
            forward,
            backward,
            mass,
            imbalance,
        )
        return int(found)
