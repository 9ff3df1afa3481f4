# mypy: ignore-errors
"""Newton's method compiled: the method of `ventplan.network.newton` and the laws of `ventplan.physics`, state by state.

Needs numba, which takes a third of a second to import and some seconds to compile this module; `compiled` keeps the
machine code and imports this module only without it. The functions here replace array operations: loops over the links
of one state, and the elimination of its rooms along a pattern that is worked out once for the house. ``work`` is
`ventplan.network.newton.Blocks`. Nothing here may allocate arrays or raise, since the machine code runs without numba.
"""

from __future__ import annotations

from functools import partial

from numba import carray, njit, types
from numba.extending import overload, register_jitable

from ventplan.network import newton
from ventplan.network.graphs import NEAR
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
)  # fmt: skip
from ventplan.network.newton import (
    COLUMN_A,
    COLUMN_B,
    COLUMN_OPENING,
    COLUMN_STRIPS,
    COLUMNS,
    COUPLINGS,
    DRIVING,
    FIRST_LATER,
    FIRST_ROW,
    FLOW,
    FLOW_STEPS_DONE,
    GAIN,
    GIVEN,
    LEAST_POINT_PA,
    LEFT,
    LINK_FLOATS,
    LINK_INTS,
    LINKS,
    NODE_FLOATS,
    NODE_INTS,
    NODES,
    NUMBER,
    OPENING,
    OPENINGS,
    ORDER,
    PAIR_FLOATS,
    PAIR_INTS,
    PAIR_SHARE,
    PAIR_SIGN,
    PAIRS,
    POINT,
    PRESSURE,
    REACHED,
    ROW,
    ROWS,
    SHARE,
    SIGN,
    SIZES,
    SLOPE,
    SOURCE,
    SOURCE_CHOICE,
    SOURCE_COLUMN,
    STARTED,
    STATES,
    STEP,
    STRIPS,
    TARGET,
    TARGET_CHOICE,
    TARGET_COLUMN,
    TOLERANCE_KG_S,
    TOUCHED,
    TRIAL,
    A,
    B,
    Blocks,
)  # fmt: skip
from ventplan.physics.buoyancy import one_way_flow
from ventplan.physics.orifice import crack_flow, face_velocity

_OPTIONS = {"nogil": True, "error_model": "numpy"}
_INLINE = _OPTIONS | {"forceinline": True}
_compiled = partial(njit, **_INLINE)

for _function in (face_velocity, one_way_flow, crack_flow, newton.balance):
    register_jitable(**_INLINE)(_function)


@overload(newton.pick, jit_options=_INLINE)
def _pick(condition, yes, no):
    return lambda condition, yes, no: yes if condition else no


@overload(newton.some, jit_options=_INLINE)
def _some(condition):
    return lambda condition: condition


@_compiled()
def _laws(work):
    """Mass flows and slopes of the links at their driving pressures."""
    links, strips = work.links, work.sizes[STRIPS]
    for k in range(strips):
        ahead, rise = one_way_flow(links[DRIVING, k], links[SHAPE, k], links[LINEAR_A, k], links[QUADRATIC_A, k])
        back, fall = one_way_flow(-links[DRIVING, k], links[SHAPE, k], links[LINEAR_B, k], links[QUADRATIC_B, k])
        carried_a, carried_b = links[SIZE, k] * links[DENSITY_A, k], links[SIZE, k] * links[DENSITY_B, k]
        links[FLOW, k] = carried_a * ahead - carried_b * back
        links[SLOPE, k] = carried_a * rise + carried_b * fall
    for k in range(strips, work.sizes[LINKS]):
        volume, rise = crack_flow(links[DRIVING, k], links[SIZE, k], links[SHAPE, k])
        density = links[DENSITY_A, k] if volume >= 0.0 else links[DENSITY_B, k]
        links[FLOW, k] = density * volume
        links[SLOPE, k] = density * rise


@_compiled()
def _drive(work):
    """Driving pressure of every link at the trial: its static difference, plus what couplings add with their gains."""
    links, nodes, ends, pairs = work.links, work.nodes, work.link_ints, work.pairs
    for k in range(work.sizes[LINKS]):
        links[DRIVING, k] = nodes[TRIAL, ends[A, k]] - nodes[TRIAL, ends[B, k]] + links[OFFSET, k]
    for c in range(work.sizes[COUPLINGS]):
        pairs[GIVEN, c] = pairs[GAIN, c] * links[DRIVING, work.pair_ints[SOURCE, c]]
    for c in range(work.sizes[COUPLINGS]):
        links[DRIVING, work.pair_ints[TARGET, c]] += pairs[GIVEN, c]


@_compiled()
def _gain(work):
    """Gains of the couplings at the trial."""
    nodes, ends, pairs = work.nodes, work.link_ints, work.pairs
    for c in range(work.sizes[COUPLINGS]):
        k = work.pair_ints[SOURCE, c]
        static = nodes[TRIAL, ends[A, k]] - nodes[TRIAL, ends[B, k]] + work.links[OFFSET, k]
        pairs[GAIN, c] = pairs[SIGN, c] * pairs[SHARE, c] if pairs[SIGN, c] * static > 0.0 else 0.0


@_compiled()
def _leaving(work):
    """Net flow that leaves every room; returns the largest."""
    links, nodes, ends, outdoors = work.links, work.nodes, work.link_ints, work.sizes[NODES] - 1
    for i in range(outdoors + 1):
        nodes[LEFT, i] = 0.0
    for k in range(work.sizes[LINKS]):
        nodes[LEFT, ends[A, k]] += links[FLOW, k]
        nodes[LEFT, ends[B, k]] -= links[FLOW, k]
    nodes[LEFT, outdoors] = 0.0
    worst = 0.0
    for i in range(outdoors):
        worst = max(worst, abs(nodes[LEFT, i]))
    return worst


@_compiled()
def _eliminate(work):
    """Solve (balance linearised with the slopes) step = -left along the pattern of the house."""
    links, nodes, ends = work.links, work.nodes, work.link_ints
    matrix, rooms = nodes[NODE_FLOATS:], work.sizes[NODES] - 1
    for i in range(rooms + 1):
        for j in range(rooms + 1):
            matrix[i, j] = 0.0
    for k in range(work.sizes[LINKS]):
        a, b, slope = ends[A, k], ends[B, k], links[SLOPE, k]
        matrix[a, a] += slope
        matrix[b, b] += slope
        matrix[a, b] -= slope
        matrix[b, a] -= slope
    for c in range(work.sizes[COUPLINGS]):
        j, i = work.pair_ints[TARGET, c], work.pair_ints[SOURCE, c]
        more = links[SLOPE, j] * work.pairs[GAIN, c]
        matrix[ends[A, j], ends[A, i]] += more
        matrix[ends[A, j], ends[B, i]] -= more
        matrix[ends[B, j], ends[A, i]] -= more
        matrix[ends[B, j], ends[B, i]] += more
    for i in range(rooms):
        nodes[STEP, i] = -nodes[LEFT, i]
        if work.node_ints[REACHED, i] == 0:
            matrix[i, i] = 1.0
    later = work.later
    for turn in range(rooms):
        k, start, stop = (
            work.node_ints[ORDER, turn],
            work.node_ints[FIRST_LATER, turn],
            work.node_ints[FIRST_LATER, turn + 1],
        )
        inverse = 1.0 / matrix[k, k]
        matrix[k, k] = inverse
        for x in range(start, stop):
            i = later[x]
            factor = matrix[i, k] * inverse
            if factor != 0.0:
                nodes[STEP, i] -= factor * nodes[STEP, k]
                for y in range(start, stop):
                    matrix[i, later[y]] -= factor * matrix[k, later[y]]
    for turn in range(rooms - 1, -1, -1):
        k = work.node_ints[ORDER, turn]
        value = nodes[STEP, k]
        for x in range(work.node_ints[FIRST_LATER, turn], work.node_ints[FIRST_LATER, turn + 1]):
            value -= matrix[k, later[x]] * nodes[STEP, later[x]]
        nodes[STEP, k] = value * matrix[k, k]


@overload(newton.flow_step, jit_options=_INLINE)
def _flow_step(work, going):
    def operation(work, going):
        links, nodes, count, rooms = work.links, work.nodes, work.sizes[LINKS], work.sizes[NODES] - 1
        begun = work.sizes[FLOW_STEPS_DONE] > 0
        work.sizes[FLOW_STEPS_DONE] += 1
        for k in range(count):
            if begun:
                links[POINT, k] = links[POINT, k] if abs(links[POINT, k]) >= LEAST_POINT_PA else LEAST_POINT_PA
                links[DRIVING, k] = links[POINT, k]
            else:  # The slopes at rest are far too stiff to start from: one at a pascal, from rest.
                links[DRIVING, k] = links[OFFSET, k] if abs(links[OFFSET, k]) > 1.0 else 1.0
        _laws(work)
        for i in range(rooms):
            nodes[TRIAL, i] = nodes[PRESSURE, i]
        _gain(work)
        for i in range(rooms):
            nodes[TRIAL, i] = 0.0
        _drive(work)
        most = 0.0
        for k in range(count):
            links[POINT, k], links[FLOW, k] = (links[POINT, k], links[FLOW, k]) if begun else (0.0, 0.0)
            most = max(most, abs(links[FLOW, k]))
            links[FLOW, k] += links[SLOPE, k] * (links[DRIVING, k] - links[POINT, k])
        _leaving(work)
        _eliminate(work)
        for i in range(rooms):
            nodes[PRESSURE, i] = nodes[TRIAL, i] = nodes[STEP, i]
            nodes[STEP, i] = 0.0
        _drive(work)
        change = 0.0
        for k in range(count):
            driving, here = links[DRIVING, k], links[POINT, k]
            change = max(change, abs(links[SLOPE, k] * (driving - here)))
            moved = (here + driving) * abs(here + driving) / (4.0 * abs(here)) if begun else 0.0
            steady = k < work.sizes[STRIPS] and abs(here) > links[SHAPE, k] and abs(moved) > links[SHAPE, k]
            links[POINT, k] = moved if steady else driving
        return not begun or change > NEAR * most + TOLERANCE_KG_S

    return operation


@overload(newton.evaluate, jit_options=_INLINE)
def _evaluate(work, share, going):
    def operation(work, share, going):
        nodes, rooms = work.nodes, work.sizes[NODES] - 1
        for i in range(rooms):
            nodes[TRIAL, i] = nodes[PRESSURE, i] + share * nodes[STEP, i]
        _gain(work)
        _drive(work)
        _laws(work)
        worst, most, along = _leaving(work), 0.0, 0.0
        for k in range(work.sizes[LINKS]):
            most = max(most, abs(work.links[FLOW, k]))
        for i in range(rooms):
            along += nodes[LEFT, i] * nodes[STEP, i]
        return along, worst, most

    return operation


@overload(newton.newton_step, jit_options=_INLINE)
def _newton_step(work, fresh):
    def operation(work, fresh):
        nodes, along, reach = work.nodes, 0.0, 0.0
        _eliminate(work)
        for i in range(work.sizes[NODES] - 1):
            along += nodes[LEFT, i] * nodes[STEP, i]
            reach = max(reach, abs(nodes[STEP, i]))
        return along, reach

    return operation


@overload(newton.take, jit_options=_INLINE)
def _take(work, taken):
    def operation(work, taken):
        if taken:
            for i in range(work.sizes[NODES] - 1):
                work.nodes[PRESSURE, i] = work.nodes[TRIAL, i]

    return operation


@_compiled()
def _gather(work, choices, state):
    """Copy the figures of the links that carry air in a state, and its couplings, without those of isolated rooms.

    Marks the nodes that are not isolated.
    """
    sizes, table, ints, reached, pairs = work.sizes, work.table, work.link_ints, work.node_ints[REACHED], work.pair_ints
    links = 0
    for c in range(sizes[COLUMNS]):
        opening = ints[COLUMN_OPENING, c]
        ints[ROW, c] = ints[FIRST_ROW, c] + (0 if opening == sizes[OPENINGS] else choices[state, opening])
        ints[NUMBER, c] = -1
        if table[ints[ROW, c], SIZE] > 0.0:
            ints[A, links], ints[B, links], ints[OPENING, links] = ints[COLUMN_A, c], ints[COLUMN_B, c], c
            links += 1
    for i in range(sizes[NODES]):
        reached[i] = 1 if i == sizes[NODES] - 1 else 0
    grows = True
    while grows:
        grows = False
        for k in range(links):
            if reached[ints[A, k]] != reached[ints[B, k]]:
                reached[ints[A, k]] = reached[ints[B, k]] = 1
                grows = True
    kept, strips, couplings = 0, 0, 0
    for k in range(links):
        if reached[ints[A, k]] == 1:
            column = ints[OPENING, k]
            for i in range(FIGURES):
                work.links[i, kept] = table[ints[ROW, column], i]
            ints[A, kept], ints[B, kept], ints[OPENING, kept] = ints[A, k], ints[B, k], ints[COLUMN_OPENING, column]
            strips += 1 if column < sizes[COLUMN_STRIPS] else 0
            ints[NUMBER, column] = kept
            kept += 1
    for c in range(sizes[PAIRS]):
        source, target = pairs[SOURCE_COLUMN, c], pairs[TARGET_COLUMN, c]
        chosen = ints[ROW, source] - ints[FIRST_ROW, source] == pairs[SOURCE_CHOICE, c]
        chosen = chosen and ints[ROW, target] - ints[FIRST_ROW, target] == pairs[TARGET_CHOICE, c]
        if chosen and ints[NUMBER, source] >= 0 and ints[NUMBER, target] >= 0:
            pairs[SOURCE, couplings], pairs[TARGET, couplings] = ints[NUMBER, source], ints[NUMBER, target]
            work.pairs[SIGN, couplings] = work.pairs[PAIR_SIGN, c]
            work.pairs[SHARE, couplings] = work.pairs[PAIR_SHARE, c]
            couplings += 1
    sizes[STRIPS], sizes[LINKS], sizes[COUPLINGS], sizes[FLOW_STEPS_DONE] = strips, kept, couplings, 0


@_compiled()
def _read(work, k):
    """Volume flow of a link each way at its driving pressure."""
    links, driving = work.links, work.links[DRIVING, k]
    size, shape = links[SIZE, k], links[SHAPE, k]
    if k < work.sizes[STRIPS]:
        ahead, _ = one_way_flow(driving, shape, links[LINEAR_A, k], links[QUADRATIC_A, k])
        back, _ = one_way_flow(-driving, shape, links[LINEAR_B, k], links[QUADRATIC_B, k])
        return size * ahead, size * back
    volume, _ = crack_flow(driving, size, shape)
    return max(volume, 0.0), max(-volume, 0.0)


@_compiled()
def _solve(work, choices, pressures, forward, backward, mass, left):
    """Solve some states; returns the first that does not balance, or -1."""
    sizes, nodes = work.sizes, work.nodes
    rooms, started = sizes[NODES] - 1, sizes[STARTED] == 1
    for state in range(sizes[STATES]):
        _gather(work, choices, state)
        for i in range(rooms):
            nodes[STEP, i] = 0.0
            nodes[PRESSURE, i] = pressures[state, i] if started else 0.0
        failed = newton.balance(work, True, sizes[COUPLINGS] > 0, started)
        for i in range(rooms):
            pressures[state, i] = nodes[PRESSURE, i]
            left[state] = max(left[state], abs(nodes[LEFT, i]))
        if failed:
            return state
        for k in range(sizes[LINKS]):
            opening = work.link_ints[OPENING, k]
            if opening < sizes[OPENINGS]:
                ahead, back = _read(work, k)
                forward[state, opening] += ahead
                backward[state, opening] += back
                mass[state, opening] += work.links[FLOW, k]
    return -1


_INTS, _FLOATS = types.CPointer(types.int64), types.CPointer(types.float64)


@njit(
    [types.int64(_INTS, _FLOATS, _INTS, _INTS, _INTS, _INTS, _FLOATS, _FLOATS, _FLOATS, _INTS, *([_FLOATS] * 5))],
    no_cpython_wrapper=True,
    no_cfunc_wrapper=True,
    **_OPTIONS,
)
def entry(
    sizes, table, later, link_ints, node_ints, pair_ints, links, nodes, pairs,
    choices, pressures, forward, backward, mass, left,
):  # fmt: skip
    """Solve states from and into the memory of `ventplan.network.compiled`; returns a state that fails, or -1."""
    of = carray(sizes, (SIZES,))
    work = Blocks(
        of,
        carray(table, (of[ROWS], FIGURES)),
        carray(later, (of[TOUCHED],)),
        carray(link_ints, (LINK_INTS, of[COLUMNS])),
        carray(node_ints, (NODE_INTS, of[NODES])),
        carray(pair_ints, (PAIR_INTS, of[PAIRS])),
        carray(links, (LINK_FLOATS, of[COLUMNS])),
        carray(nodes, (NODE_FLOATS + of[NODES], of[NODES])),
        carray(pairs, (PAIR_FLOATS, of[PAIRS])),
    )
    flows = (of[STATES], of[OPENINGS])
    return _solve(
        work,
        carray(choices, flows),
        carray(pressures, (of[STATES], of[NODES] - 1)),
        carray(forward, flows),
        carray(backward, flows),
        carray(mass, flows),
        carray(left, (of[STATES],)),
    )
