"""The pressures of one network or of many states of one house, and exact derivatives of flows by the figures of links.

Pressures are found by the method of `ventplan.network.newton`. Searches solve tens of thousands of states that differ
in which openings are open and where the fans stand: the figures of every choice are in a table
(`ventplan.network.choices.ChoiceTable`), so a state is a row of integers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.errors import NoAnswerError
from ventplan.network import compiled
from ventplan.network.choices import BulkFlow, ChoiceTable
from ventplan.network.graphs import DenseGraph, Graph, SparseGraph, StateGraph
from ventplan.network.links import (
    DENSITY_A,
    DENSITY_B,
    LINEAR_A,
    LINEAR_B,
    OFFSET,
    QUADRATIC_A,
    QUADRATIC_B,
    SHAPE,
    SIZE,
    Couplings,
    FlowNetwork,
    LinkLaws,
)
from ventplan.network.newton import MAX_ROUNDS, ArrayWork, StatesWork
from ventplan.physics.buoyancy import one_way_flow
from ventplan.physics.orifice import face_velocity

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

DENSE_LIMIT = 60
"""Rooms up to which numpy solves with a dense matrix."""
COMPILED_LIMIT = 200
"""Rooms up to which the compiled engine, where it is loaded, is faster than numpy with sparse factors."""
MAX_TURNS = 60
TURN_TOLERANCE_PA = 1e-9
"""Change of what couplings add below which alternating solves end [Pa]."""
STATES_AT_ONCE = 2048
"""States per round of array operations: few enough to stay in the cache of the processor."""
WORTH_LOADING = 30_000
"""States times links from which loading the compiled engine, a twentieth of a second, pays (``docs/speed.md``)."""
WORTH_COMPILING = 500_000
"""States times links from which it is compiled if it is not in the cache: some seconds, once."""

Engine = Callable[[Ints, BulkFlow], int]
"""Solves some states into arrays of zeros; returns a state that does not balance, or -1."""


def isolated_rooms(network: FlowNetwork) -> tuple[str, ...]:
    """Names of the rooms without a path for air to outdoors."""
    carries = network.laws.figures[SIZE] > 0.0
    a, b = network.a[carries], network.b[carries]
    reached = np.arange(len(network.nodes) + 1) == len(network.nodes)
    while np.any(front := reached[a] != reached[b]):
        reached[a[front]] = reached[b[front]] = True
    return tuple(name for name, found in zip(network.nodes, reached[:-1], strict=True) if not found)


def solve_pressures(network: FlowNetwork, *, start_pa: Floats | None = None) -> Floats:
    """Find the pressures at which the air of every room balances.

    Parameters
    ----------
    network
        The house as arrays; every room must have a path to outdoors (`isolated_rooms`).
    start_pa
        Where to start, shape (rooms,) [Pa]; every start gives the same result, a near one sooner.

    Returns
    -------
    ndarray
        Static pressures at ground level, shape (rooms,) [Pa].

    Raises
    ------
    NoAnswerError
        If the balance is not reached; names the worst room and its imbalance.
    """
    if not network.nodes:
        return np.zeros(0)
    pressure, failed = _balanced(network, start_pa)
    if failed and len(network.couplings):
        pressure, failed = _balanced(network, _by_turns(network))
    if failed:
        left = network.imbalance(network.mass_flow_and_slope(network.driving_pressure(pressure))[0])
        worst = int(np.argmax(np.abs(left)))
        raise NoAnswerError(
            f"the air of {network.nodes[worst]!r} does not balance: {left[worst]:.3g} kg/s are left after "
            f"{MAX_ROUNDS} rounds. Please report this house: every house should have an answer."
        )
    return pressure


def _balanced(network: FlowNetwork, start_pa: Floats | None) -> tuple[Floats, bool]:
    """Pressures by Newton's method, and True if a room does not balance."""
    rooms = len(network.nodes)
    engine = compiled.loaded()
    if engine is not None and rooms <= COMPILED_LIMIT:
        return compiled.solve_network(engine, network, start_pa)
    start = np.zeros(rooms) if start_pa is None else np.array(start_pa, dtype=float)
    work = ArrayWork(network.laws, _graph(network), network.couplings, start)
    failed = work.balance(started=start_pa is not None)
    return work.pressure, failed


def _by_turns(network: FlowNetwork) -> Floats:
    """Pressures near balance, by solving repeatedly with what the couplings add held fixed.

    With that fixed there are no couplings, so each solve has one solution. In a house with one room between the
    openings in line, what is added changes from solve to solve by at most the largest share times the change before
    (docs/model.md); by less in all houses tried. That is slow, so Newton's method does the rest.
    """
    pressure: Floats | None = None
    added = np.zeros(network.links)
    for _ in range(MAX_TURNS):
        figures = network.laws.figures.copy()
        figures[OFFSET] += added
        start = np.zeros(len(network.nodes)) if pressure is None else pressure
        work = ArrayWork(LinkLaws(figures, network.laws.strips), _graph(network), Couplings.of(()), start)
        work.balance(started=pressure is not None)
        pressure = np.asarray(work.pressure)
        static = network.static_pressure(pressure)
        before, added = added, network.driving_pressure(pressure) - static
        if np.max(np.abs(added - before)) < TURN_TOLERANCE_PA:
            break
    return pressure if pressure is not None else np.zeros(len(network.nodes))


def solve_linear(
    network: FlowNetwork, slope: Floats, right: Floats, *, gains: Floats | None = None, transposed: bool = False
) -> Floats:
    """Solve (graph Laplacian weighted by the slopes, without outdoors) x = right.

    Parameters
    ----------
    network
        The house as arrays.
    slope
        Slope of each link's mass flow over its driving pressure, shape (links,) [kg/(s Pa)].
    right
        Right-hand side, shape (rooms,), or several, shape (rooms, sides); the matrix is factored once.
    gains
        Slopes of the couplings in the solution (`FlowNetwork.coupling_gains`), shape (couplings,); without them,
        couplings are not part of the matrix.
    transposed
        Solve with the transposed matrix, which differs only if there are couplings.

    Returns
    -------
    ndarray
        The shape of ``right``.
    """
    couplings = network.couplings
    if gains is None:
        return _graph(network).solve(slope, right, Couplings.of(()), slope[:0])
    if transposed:
        weights = slope[couplings.target] * gains / slope[couplings.source]
        turned = Couplings(couplings.target, couplings.source, couplings.sign, couplings.share)
        return _graph(network).solve(slope, right, turned, weights)
    return _graph(network).solve(slope, right, couplings, gains)


def _graph(network: FlowNetwork) -> Graph:
    rooms = len(network.nodes)
    if rooms <= DENSE_LIMIT:
        return DenseGraph(network.a, network.b, rooms)
    return _sparse_graph(rooms, network.a.tobytes(), network.b.tobytes())


@lru_cache(maxsize=8)
def _sparse_graph(rooms: int, a: bytes, b: bytes) -> SparseGraph:
    """The order of the rooms, for networks that differ in figures alone."""
    return SparseGraph(np.frombuffer(a, dtype=np.int64), np.frombuffer(b, dtype=np.int64), rooms)


@dataclass(frozen=True)
class FlowSum:
    """A weighted sum of the mass flows of the links [kg/s].

    Attributes
    ----------
    forward, backward
        Weight of the flow each way, both flows counted >= 0, shape (links,) [-].
    """

    forward: Floats
    backward: Floats


def net_flow(network: FlowNetwork, opening: int) -> FlowSum:
    """Net mass flow through the opening of this index, from node a to node b."""
    mine = (network.owner == opening).astype(np.float64)
    return FlowSum(mine, -mine)


@dataclass(frozen=True)
class Sensitivity:
    """A sum of flows and its derivatives by figures of the links, strips first.

    Attributes
    ----------
    value
        The sum itself [kg/s].
    offset
        By the offset, which wind, stack and jets add to, shape (links,) [kg/(s Pa)].
    area
        By the area of a strip at its height, shape (strips,) [kg/(s m2)].
    linear_a, linear_b
        By the linear loss coefficients of a strip, shape (strips,) [kg/s per Pa s/m].
    """

    value: float
    offset: Floats
    area: Floats
    linear_a: Floats
    linear_b: Floats


def adjoint(network: FlowNetwork, pressure_pa: Floats, of: FlowSum) -> Sensitivity:
    """Derivatives of a sum of flows by figures of every link.

    Parameters
    ----------
    network
        The house as arrays; every room must have a path to outdoors.
    pressure_pa
        Its solved pressures, shape (rooms,) [Pa].
    of
        The sum.

    Notes
    -----
    In the solution the imbalances F(p, x) of the rooms are zero for any figures x. With the multipliers l of
    (dF/dp)^T l = (dJ/dp)^T, a sum J changes with a figure of link k by

        dJ/dx_k = dJ_k/dx_k - (l_a - l_b) dm_k/dx_k      at a fixed driving pressure,

    where J_k is the part of the link in the sum, m_k its net mass flow, and a and b its nodes (l is 0 outdoors). The
    matrix is that of Newton's method, so all derivatives together cost as much as one of its steps.
    """
    driving = network.driving_pressure(pressure_pa)
    ahead, back = _OneWay(network, driving), _OneWay(network, driving, backward=True)
    # A rise of the driving pressure lowers the flow back, which is counted with the driving pressure reversed.
    by_driving = of.forward * ahead.slope - of.backward * back.slope
    slope = ahead.slope + back.slope
    gains = network.coupling_gains(pressure_pa)
    right = network.imbalance(network.couplings.drawn(by_driving, gains))
    multiplier = np.append(solve_linear(network, slope, right, gains=gains, transposed=True), 0.0)
    across = multiplier[network.a] - multiplier[network.b]
    strips = slice(network.laws.strips)
    forward, backward = (of.forward - across)[strips], (of.backward + across)[strips]
    return Sensitivity(
        value=float(of.forward @ ahead.flow + of.backward @ back.flow),
        offset=network.couplings.drawn(by_driving - across * slope, gains),
        area=forward * ahead.by_area + backward * back.by_area,
        linear_a=forward * ahead.by_linear,
        linear_b=backward * back.by_linear,
    )


class _OneWay:
    """Mass flow of each link one way, its slope over the pressure that way, and its derivatives by figures.

    Where dp = a v + b v^2, dv/da = -v dv/dp; the integral over the part of a strip's height that air passes this way,
    from face velocity v1 down to v2, is a polynomial in v1 and v2.
    """

    def __init__(self, network: FlowNetwork, driving: Floats, *, backward: bool = False) -> None:
        s, figures = network.laws.strips, network.laws.figures
        rows = (DENSITY_B, LINEAR_B, QUADRATIC_B) if backward else (DENSITY_A, LINEAR_A, QUADRATIC_A)
        density, linear, quadratic = figures[rows, :s]
        towards = -driving if backward else driving
        area, half, middle = figures[SIZE, :s], figures[SHAPE, :s], towards[:s]
        velocity, slope = one_way_flow(middle, half, linear, quadratic)
        fast, slow = (face_velocity(np.maximum(dp, 0.0), linear, quadratic) for dp in (middle + half, middle - half))
        self.by_area = density * velocity
        self.by_linear = -area * density * slope * (fast + slow) / 2.0
        # The law of a crack takes its density from the sign of the pressure from a to b.
        flow, steepness = network.mass_flow_and_slope(driving)
        here = (driving[s:] < 0.0) if backward else (driving[s:] >= 0.0)
        self.flow = np.append(area * self.by_area, np.where(here, np.abs(flow[s:]), 0.0))
        self.slope = np.append(area * density * slope, np.where(here, steepness[s:], 0.0))


def solve_choices(
    table: ChoiceTable,
    choices: ArrayLike,
    *,
    progress: Callable[[int, int], None] | None = None,
    workers: int = 1,
) -> BulkFlow:
    """Solve many states of one house.

    Parameters
    ----------
    table
        The house and what each of its openings can be.
    choices
        Choice of each opening, shape (states, openings), integers.
    progress
        Called in this thread with the number of states done and of all states; an exception from it stops the work.
    workers
        Number of threads.

    Returns
    -------
    BulkFlow
        One row for each state, in the same order. Isolated rooms have pressure 0 and no flow at their openings.

    Raises
    ------
    ValueError
        If a choice is out of range or the shape is not (states, openings).
    NoAnswerError
        If a state does not balance; says which and by how much.
    """
    rows = table.checked(choices)
    states = rows.shape[0]
    result = BulkFlow.room_for(table, states)
    engine = _engine(table, states)

    def work(part: slice) -> int:
        bad = engine(rows[part], result.part(part))
        if bad >= 0:
            raise NoAnswerError(
                f"the air of the house does not balance in state {part.start + bad}: "
                f"{result.imbalance_kg_s[part.start + bad]:.3g} kg/s are left. Please report this house: every house "
                "should have an answer."
            )
        return int(part.stop - part.start)

    parts = [slice(i, min(i + STATES_AT_ONCE, states)) for i in range(0, states, STATES_AT_ONCE)]
    done = 0
    for finished in _run(work, parts, workers):
        done += finished
        if progress is not None:
            progress(done, states)
    return result


def solve_states(table: ChoiceTable, choices: Ints, into: BulkFlow) -> int:
    """The engine of numpy: solves some states into arrays of zeros; returns a state that does not balance, or -1."""
    rows, states = table.rows(choices), choices.shape[0]
    column, state, isolated = table.links_in(choices)
    laws = LinkLaws(table.figures[:, rows[column, state]], int(np.count_nonzero(column < table.strips)))
    graph = StateGraph(state, table.a[column], table.b[column], isolated.astype(float))
    couplings = table.couplings_in(choices, column, state)
    work = StatesWork(laws, graph, couplings)
    bad = work.balance(started=False)

    static = graph.across(work.found) + laws.figures[OFFSET]
    driving = couplings.drive(static, couplings.gains(static))
    mass, _ = laws.mass_flow_and_slope(driving)
    openings = choices.shape[1] + 1
    at = state * openings + table.opening[column]
    flows = (into.forward_m3_s, into.backward_m3_s, into.mass_kg_s)
    for out, each in zip(flows, (*laws.volume_flows(driving), mass), strict=True):
        out[:] = np.bincount(at, each, states * openings).reshape(-1, openings)[:, :-1]
    into.pressure_pa[:] = work.found.T
    into.imbalance_kg_s[:] = graph.largest(graph.leaving(mass))
    return int(np.argmax(bad)) if np.any(bad) else -1


def _engine(table: ChoiceTable, states: int) -> Engine:
    """The compiled engine if it is available and loading it pays, otherwise that of numpy."""
    work = states * table.first.size
    engine = compiled.load(compiling=work >= WORTH_COMPILING) if work >= WORTH_LOADING else compiled.loaded()
    return partial(solve_states, table) if engine is None else compiled.CompiledStates(engine, table)


def _run(work: Callable[[slice], int], parts: Sequence[slice], workers: int) -> Iterator[int]:
    """Do the parts, in threads if there are several, and yield the size of each when it is done."""
    if workers <= 1 or len(parts) <= 1:
        yield from map(work, parts)
        return
    with ThreadPoolExecutor(workers) as pool:
        pending: set[Future[int]] = {pool.submit(work, part) for part in parts}
        try:
            while pending:
                ready, pending = wait(pending, return_when=FIRST_COMPLETED)
                for future in ready:
                    yield future.result()
        finally:
            for future in pending:
                future.cancel()
