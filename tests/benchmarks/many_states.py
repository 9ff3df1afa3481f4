"""Many states of one network, for each state, against the engine of EPANET."""

from __future__ import annotations

from functools import partial

import numpy as np

from tests.benchmarks.timing import Table, least, shown
from tests.outside.pipe_engine import PipeEngine, QuadraticNetwork, square_grid
from ventplan.network import compiled
from ventplan.network.choices import BulkFlow, Choice, ChoiceTable
from ventplan.network.solver import solve_states

STATES = 2000
WINDS = 8


def with_code(table: ChoiceTable, choices: np.ndarray) -> None:
    """Solve with the compiled engine."""
    engine = compiled.load()
    assert engine is not None
    assert compiled.CompiledStates(engine, table)(choices, BulkFlow.room_for(table, len(choices))) == -1


def with_arrays(table: ChoiceTable, choices: np.ndarray) -> None:
    """Solve with numpy."""
    assert solve_states(table, choices, BulkFlow.room_for(table, len(choices))) == -1


def states_of(network: QuadraticNetwork) -> tuple[ChoiceTable, np.ndarray]:
    """The network in states that differ in the wind pressure at each window."""
    random = np.random.default_rng(0)
    outside = network.b == network.rooms
    options = [[Choice((strip,))] for strip in network.as_strips()]
    for _ in range(WINDS - 1):
        wind = np.where(outside, random.normal(0.0, 3.0, outside.size), 0.0)
        blown = QuadraticNetwork(network.rooms, network.a, network.b, network.loss, wind).as_strips()
        for choices, strip, out in zip(options, blown, outside, strict=True):
            if out:
                choices.append(Choice((strip,)))
    table = ChoiceTable([f"room {i}" for i in range(network.rooms)], options)
    return table, np.where(outside, random.integers(0, WINDS, (STATES, outside.size)), 0)


def table() -> Table:
    """Time for each state on grids of 9 and 25 rooms, one thread."""
    rows = []
    for side in (3, 5):
        network = square_grid(1, side)
        choices_of, choices = states_of(network)
        with PipeEngine(network) as engine:
            times = least(
                lambda engine=engine: [engine.solve() for _ in range(STATES // 10)],
                partial(with_code, choices_of, choices),
                partial(with_arrays, choices_of, choices),
            )
        reference, fast, plain = times[0] / (STATES // 10), times[1] / STATES, times[2] / STATES
        rows.append(
            [
                f"{side * side} rooms, {network.a.size} openings",
                shown(reference),
                shown(fast),
                shown(plain),
                f"{fast / reference:.2f}",
                f"{plain / reference:.2f}",
            ]
        )
    return Table(
        "Many states, each state, against a pipe network engine",
        ("network", "EPANET", "compiled", "numpy", "compiled / EPANET", "numpy / EPANET"),
        rows,
        "EPANET solves one network again from its own start (relative accuracy 1e-5, head error 1e-7); ours solves "
        "2,000 states with different winds to an imbalance of 1e-10 kg/s. One thread, processor time. Aim: below 1.",
    )
