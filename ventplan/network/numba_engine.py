# mypy: ignore-errors
"""Newton's method compiled: the method of `ventplan.network.newton` and the laws of `ventplan.physics`, state by state.

Needs numba, which takes a third of a second to import and some seconds to compile what is here; `compiled` keeps the
machine code and comes here only where it has none. What is written out here is what arrays do otherwise: loops over
the links of one state, and the elimination of its rooms along a pattern that is worked out once for the house. Nothing
here may allocate arrays or raise: the machine code runs without numba.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
from numba import carray, njit, types
from numba.extending import overload, register_jitable

from ventplan.network import newton
from ventplan.network.links import (
    DENSITY_A,
    DENSITY_B,
    FIGURES,
    LINEAR_A,
    LINEAR_B,
    OFFSET,
    QUADRATIC_A,
    QUADRATIC_B,
    SHAPE,
    SIZE,
)
from ventplan.network.memory import (
    COUPLING_FLOATS,
    COUPLING_INTS,
    COUPLINGS,
    LINK_FLOATS,
    LINK_INTS,
    LINKS,
    NODE_FLOATS,
    NODE_INTS,
    NODES,
    OPENINGS,
    ROWS,
    SIZES,
    STARTED,
    STATES,
    STRIPS,
    TOUCHED,
    Blocks,
    memory_of,
)
from ventplan.network.newton import LEAST_POINT_PA, NEAR, TOLERANCE_KG_S
from ventplan.physics.buoyancy import one_way_flow
from ventplan.physics.crack import crack_flow
from ventplan.physics.orifice import face_velocity

_OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy"}
_compiled = partial(njit, **_OPTIONS)

for _function in (face_velocity, one_way_flow, crack_flow, newton.settle, memory_of):
    register_jitable(error_model="numpy")(_function)


@overload(newton.pick)
def _pick(condition, yes, no):
    return lambda condition, yes, no: yes if condition else no


@overload(newton.some)
def _some(condition):
    return lambda condition: condition


@_compiled()
def _laws(work, at):
    """Mass flows and slopes of the links at their driving pressures."""
    figures, flow, slope = work.figures, work.flow, work.slope
    for k in range(work.counts[0]):
        ahead, rise = one_way_flow(at[k], figures[SHAPE, k], figures[LINEAR_A, k], figures[QUADRATIC_A, k])
        back, fall = one_way_flow(-at[k], figures[SHAPE, k], figures[LINEAR_B, k], figures[QUADRATIC_B, k])
        carried_a, carried_b = figures[SIZE, k] * figures[DENSITY_A, k], figures[SIZE, k] * figures[DENSITY_B, k]
        flow[k] = carried_a * ahead - carried_b * back
        slope[k] = carried_a * rise + carried_b * fall
    for k in range(work.counts[0], work.counts[1]):
        volume, rise = crack_flow(at[k], figures[SIZE, k], figures[SHAPE, k])
        density = figures[DENSITY_A, k] if volume >= 0.0 else figures[DENSITY_B, k]
        flow[k] = density * volume
        slope[k] = density * rise


@_compiled()
def _drive(work, pressure, refresh):
    """Driving pressure of every link; the gains of couplings are those of the last refresh."""
    driving, ends = work.driving, work.ends
    for k in range(work.counts[1]):
        driving[k] = pressure[ends[0, k]] - pressure[ends[1, k]] + work.figures[OFFSET, k]
    for c in range(work.counts[2]):
        if refresh:
            ahead = work.sign[c] * driving[work.source[c]] > 0.0
            work.gains[c] = work.sign[c] * work.share[c] if ahead else 0.0
    if work.counts[2] > 0:
        _couple(work)


@_compiled()
def _couple(work):
    """Add what the couplings give, from the static differences alone."""
    for c in range(work.counts[2]):
        work.given[c] = work.gains[c] * work.driving[work.source[c]]
    for c in range(work.counts[2]):
        work.driving[work.target[c]] += work.given[c]


@_compiled()
def _leaving(work, flow):
    """Net flow that leaves every room, and the largest of them."""
    left, ends = work.left, work.ends
    for i in range(left.size):
        left[i] = 0.0
    for k in range(work.counts[1]):
        left[ends[0, k]] += flow[k]
        left[ends[1, k]] -= flow[k]
    left[left.size - 1] = 0.0
    worst = 0.0
    for i in range(left.size):
        worst = max(worst, abs(left[i]))
    return worst


@_compiled()
def _eliminate(work, step):
    """Solve (balance linearised with the slopes) step = -left along the pattern of the work."""
    matrix, ends, count = work.matrix, work.ends, work.left.size - 1
    for i in range(count + 1):
        for j in range(count + 1):
            matrix[i, j] = 0.0
    for k in range(work.counts[1]):
        a, b, slope = ends[0, k], ends[1, k], work.slope[k]
        matrix[a, a] += slope
        matrix[b, b] += slope
        matrix[a, b] -= slope
        matrix[b, a] -= slope
    for c in range(work.counts[2]):
        j, i = work.target[c], work.source[c]
        more = work.slope[j] * work.gains[c]
        matrix[ends[0, j], ends[0, i]] += more
        matrix[ends[0, j], ends[1, i]] -= more
        matrix[ends[1, j], ends[0, i]] -= more
        matrix[ends[1, j], ends[1, i]] += more
    for i in range(count):
        step[i] = -work.left[i]
        if not work.reached[i]:
            matrix[i, i] = 1.0
    order, first, later = work.order, work.first, work.later
    for turn in range(count):
        k = order[turn]
        inverse = 1.0 / matrix[k, k]
        matrix[k, k] = inverse
        for x in range(first[turn], first[turn + 1]):
            i = later[x]
            factor = matrix[i, k] * inverse
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
def _flow_step(work, going):
    """One step of Newton's method for the flows."""
    figures, point, links, begun = work.figures, work.point, work.counts[1], work.counts[3] > 0
    work.counts[3] += 1
    if begun:
        for k in range(links):
            point[k] = point[k] if abs(point[k]) >= LEAST_POINT_PA else LEAST_POINT_PA
        _laws(work, point)
    else:  # The slopes at rest are far too stiff to start from: one at a pascal, from rest.
        for k in range(links):
            point[k] = figures[OFFSET, k] if abs(figures[OFFSET, k]) > 1.0 else 1.0
        _laws(work, point)
        for k in range(links):
            point[k] = work.flow[k] = 0.0
    _drive(work, work.pressure, True)
    for i in range(work.step.size):
        work.step[i] = 0.0
    _drive(work, work.step, False)
    most = 0.0
    for k in range(links):
        most = max(most, abs(work.flow[k]))
        work.flow[k] += work.slope[k] * (work.driving[k] - point[k])
    _leaving(work, work.flow)
    _eliminate(work, work.pressure)
    _drive(work, work.pressure, False)
    change = 0.0
    for k in range(links):
        driving, here = work.driving[k], point[k]
        change = max(change, abs(work.slope[k] * (driving - here)))
        moved = (here + driving) * abs(here + driving) / (4.0 * abs(here)) if begun else 0.0
        half = figures[SHAPE, k] if k < work.counts[0] else np.inf
        point[k] = moved if abs(here) > half and abs(moved) > half else driving
    return not begun or change > NEAR * most + TOLERANCE_KG_S


@_compiled()
def _evaluate(work, share, going):
    """Balance at a share of the step: slope of the potential along it, largest imbalance and largest flow."""
    for i in range(work.step.size):
        work.trial[i] = work.pressure[i] + share * work.step[i]
    _drive(work, work.trial, True)
    _laws(work, work.driving)
    worst, most, along = _leaving(work, work.flow), 0.0, 0.0
    for k in range(work.counts[1]):
        most = max(most, abs(work.flow[k]))
    for i in range(work.step.size):
        along += work.left[i] * work.step[i]
    return along, worst, most


@_compiled()
def _newton_step(work, fresh):
    """The step from the last balance: slope of the potential along it, and its largest change of pressure."""
    _eliminate(work, work.step)
    along, reach = 0.0, 0.0
    for i in range(work.step.size):
        along += work.left[i] * work.step[i]
        reach = max(reach, abs(work.step[i]))
    return along, reach


@_compiled()
def _take(work, taken):
    """The trial becomes the pressure."""
    if taken:
        for i in range(work.pressure.size):
            work.pressure[i] = work.trial[i]


@overload(newton.flow_step)
def _use_flow_step(work, going):
    return lambda work, going: _flow_step(work, going)


@overload(newton.evaluate)
def _use_evaluate(work, share, going):
    return lambda work, share, going: _evaluate(work, share, going)


@overload(newton.newton_step)
def _use_newton_step(work, fresh):
    return lambda work, fresh: _newton_step(work, fresh)


@overload(newton.take)
def _use_take(work, taken):
    return lambda work, taken: _take(work, taken)


@_compiled()
def _gather(work, choices, state):
    """Copy the figures of the links that carry air in a state, without those of isolated rooms, and its couplings.

    Marks the nodes that air can get to from outdoors.
    """
    figures, ends, reached, rows = work.figures, work.ends, work.reached, work.rows
    openings, links = choices.shape[1], 0
    for c in range(rows.size):
        opening = work.columns[2, c]
        rows[c] = work.starts[c] if opening == openings else work.starts[c] + choices[state, opening]
        work.number[c] = -1
        if work.table[rows[c], SIZE] > 0.0:
            ends[0, links], ends[1, links], ends[2, links] = work.columns[0, c], work.columns[1, c], c
            links += 1
    for i in range(reached.size):
        reached[i] = 1 if i == reached.size - 1 else 0
    grows = True
    while grows:
        grows = False
        for k in range(links):
            if reached[ends[0, k]] != reached[ends[1, k]]:
                reached[ends[0, k]] = reached[ends[1, k]] = 1
                grows = True
    kept, strips, couplings = 0, 0, 0
    for k in range(links):
        if reached[ends[0, k]] == 1:
            column = ends[2, k]
            for i in range(FIGURES):
                figures[i, kept] = work.table[rows[column], i]
            ends[0, kept], ends[1, kept], ends[2, kept] = ends[0, k], ends[1, k], work.columns[2, column]
            strips += 1 if column < work.sizes[STRIPS] else 0
            work.number[column] = kept
            kept += 1
    for c in range(work.pairs.shape[1]):
        source, target = work.pairs[0, c], work.pairs[2, c]
        if (
            work.number[source] >= 0
            and work.number[target] >= 0
            and rows[source] - work.starts[source] == work.pairs[1, c]
            and rows[target] - work.starts[target] == work.pairs[3, c]
        ):
            work.source[couplings], work.target[couplings] = work.number[source], work.number[target]
            work.sign[couplings], work.share[couplings] = work.signs[0, c], work.signs[1, c]
            couplings += 1
    work.counts[0], work.counts[1], work.counts[2], work.counts[3] = strips, kept, couplings, 0


@_compiled()
def _read(work, k):
    """Volume flow of a link both ways at its driving pressure."""
    figures, driving = work.figures, work.driving[k]
    size, shape = figures[SIZE, k], figures[SHAPE, k]
    if k < work.counts[0]:
        ahead, _ = one_way_flow(driving, shape, figures[LINEAR_A, k], figures[QUADRATIC_A, k])
        back, _ = one_way_flow(-driving, shape, figures[LINEAR_B, k], figures[QUADRATIC_B, k])
        return size * ahead, size * back
    volume, _ = crack_flow(driving, size, shape)
    return max(volume, 0.0), max(-volume, 0.0)


@_compiled()
def _solve(work, choices, started, pressures, forward, backward, mass, left):
    """Solve some states; returns the first that does not balance, or -1."""
    openings = choices.shape[1]
    for state in range(choices.shape[0]):
        _gather(work, choices, state)
        for i in range(work.pressure.size):
            work.step[i] = work.pressure[i] = 0.0
        if started:
            for i in range(pressures.shape[1]):
                work.pressure[i] = pressures[state, i]
        failed = newton.settle(work, True, work.counts[2] > 0, started)
        for i in range(pressures.shape[1]):
            pressures[state, i] = work.pressure[i]
        left[state] = _leaving(work, work.flow)
        if failed:
            return state
        for k in range(work.counts[1]):
            opening = work.ends[2, k]
            if opening < openings:
                ahead, back = _read(work, k)
                forward[state, opening] += ahead
                backward[state, opening] += back
                mass[state, opening] += work.flow[k]
    return -1


_INTS, _FLOATS = types.CPointer(types.int64), types.CPointer(types.float64)


@njit(
    [types.int64(_INTS, _FLOATS, _INTS, _INTS, _INTS, _INTS, _FLOATS, _FLOATS, _FLOATS, _INTS, *([_FLOATS] * 5))],
    no_cpython_wrapper=True,
    no_cfunc_wrapper=True,
    **_OPTIONS,
)
def entry(
    sizes, table, later, link_ints, node_ints, coupling_ints, link_floats, node_floats, coupling_floats,
    choices, pressures, forward, backward, mass, left,
):  # fmt: skip
    """Solve states from and into memory that `ventplan.network.compiled` holds; a state that fails, or -1."""
    given = carray(sizes, (SIZES + 4,))
    states, openings, nodes = given[STATES], given[OPENINGS], given[NODES]
    links, couplings = given[LINKS], given[COUPLINGS]
    blocks = Blocks(
        given,
        carray(table, (given[ROWS], FIGURES)),
        carray(later, (given[TOUCHED],)),
        carray(link_ints, (LINK_INTS, links)),
        carray(node_ints, (NODE_INTS, nodes)),
        carray(coupling_ints, (COUPLING_INTS, couplings)),
        carray(link_floats, (LINK_FLOATS, links)),
        carray(node_floats, (NODE_FLOATS + nodes, nodes)),
        carray(coupling_floats, (COUPLING_FLOATS, couplings)),
    )
    flows = (states, openings)
    return _solve(
        memory_of(blocks),
        carray(choices, flows),
        given[STARTED] != 0,
        carray(pressures, (states, nodes - 1)),
        carray(forward, flows),
        carray(backward, flows),
        carray(mass, flows),
        carray(left, (states,)),
    )
