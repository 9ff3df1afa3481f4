"""Many states of one house at once: each opening is in one of a few choices, and a state picks one for each.

Searches ask for tens of thousands of states that differ in which openings are open and where the fans stand. The
figures of every choice lie in tables, so a state is a row of whole numbers, and the laws and the Newton method of
`ventplan.network.solve` run over many states together, with the same line search and the same tolerance.
"""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.errors import NoAnswerError
from ventplan.network.bulk_arrays import solve_states
from ventplan.network.bulk_table import Choice, ChoiceTable

__all__ = ["BulkFlow", "Choice", "ChoiceTable", "solve_choices"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STATES_AT_ONCE = 2048
"""States that one round of array operations holds: few enough to stay in the processor's cache."""
WORTH_LOADING = 500_000
"""States times ways for air from which loading the compiled code repays its second (``docs/speed.md``)."""


@dataclass(frozen=True)
class BulkFlow:
    """Solved states, one a row.

    Attributes
    ----------
    pressure_pa
        Static pressure of each room at ground level, 0 where it is cut off from outdoors, shape (states, rooms) [Pa].
    forward_m3_s, backward_m3_s
        Air through each opening both ways, both >= 0, shape (states, openings) [m3/s].
    mass_kg_s
        Net mass flow through each opening, shape (states, openings) [kg/s].
    imbalance_kg_s
        Largest mass imbalance of any room, shape (states,) [kg/s].
    """

    pressure_pa: Floats
    forward_m3_s: Floats
    backward_m3_s: Floats
    mass_kg_s: Floats
    imbalance_kg_s: Floats


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
        Which choice each opening is in, shape (states, openings), whole numbers.
    progress
        Called in this thread with the number of states done and of all states. What it raises stops the work and is
        passed on.
    workers
        How many threads share the work.

    Returns
    -------
    BulkFlow
        One row for each state, in the order asked.

    Raises
    ------
    ValueError
        Where a choice is out of range or the shape is not (states, openings).
    NoAnswerError
        Where a state does not balance; says which and by how much.

    Notes
    -----
    Rooms that have no way to outdoors in a state keep pressure 0 there, and nothing flows at their openings.
    """
    rows = table.checked(choices)
    states, openings, rooms = rows.shape[0], rows.shape[1], len(table.nodes)
    result = BulkFlow(
        pressure_pa=np.zeros((states, rooms)),
        forward_m3_s=np.zeros((states, openings)),
        backward_m3_s=np.zeros((states, openings)),
        mass_kg_s=np.zeros((states, openings)),
        imbalance_kg_s=np.zeros(states),
    )

    engine = _engine(table, states)

    def work(part: slice) -> int:
        bad = engine(
            rows[part],
            pressure=result.pressure_pa[part],
            forward=result.forward_m3_s[part],
            backward=result.backward_m3_s[part],
            mass=result.mass_kg_s[part],
            imbalance=result.imbalance_kg_s[part],
        )
        if bad >= 0:
            raise NoAnswerError(
                f"the air of the house does not balance in state {part.start + bad}: "
                f"{result.imbalance_kg_s[part.start + bad]:.3g} kg/s are left. Please report this house: every house "
                "should have an answer."
            )
        return int(part.stop - part.start)

    done = 0
    for finished in _run(work, _parts(states, STATES_AT_ONCE), workers):
        done += finished
        if progress is not None:
            progress(done, states)
    return result


def _engine(table: ChoiceTable, states: int) -> Callable[..., int]:
    """What solves the states: compiled code where it is at hand and repays loading, otherwise numpy."""
    work = states * (table.strips.first.size + table.cracks.first.size)
    loaded = "ventplan.network.bulk_compiled" in sys.modules
    if work >= (0 if loaded else WORTH_LOADING) and importlib.util.find_spec("numba") is not None:
        from ventplan.network.bulk_compiled import CompiledStates

        return CompiledStates(table).solve_into
    return partial(solve_states, table)


def _parts(states: int, size: int) -> list[slice]:
    return [slice(start, min(start + size, states)) for start in range(0, states, size)]


def _run(work: Callable[[slice], int], parts: Sequence[slice], workers: int) -> Iterator[int]:
    """Do the parts, in threads where there are several, and say after each how much it held."""
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
