"""One large network, against the engine of EPANET."""

from __future__ import annotations

from functools import partial

from tests.benchmarks.timing import Table, least, shown
from tests.outside.pipe_engine import PipeEngine, square_grid
from ventplan.network import compiled
from ventplan.network.solver import solve_pressures


def table() -> Table:
    """Time for one network of 100, 1,024 and 10,000 rooms."""
    compiled.load()
    rows = []
    for side in (10, 32, 100):
        network = square_grid(1, side)
        with PipeEngine(network) as engine:
            reference, ours = least(
                engine.solve,
                partial(solve_pressures, network.as_flow_network()),
                repeats=15 if side < 100 else 5,
            )
        rows.append([f"{side * side:,}", shown(reference), shown(ours), f"{ours / reference:.2f}"])
    return Table(
        "One large network against a pipe network engine",
        ("rooms", "EPANET", "ours", "ours / EPANET"),
        rows,
        "Square grids with windows along the four sides; purely quadratic losses. EPANET as above; ours to an "
        "imbalance of 1e-10 kg/s, from no start; up to 200 rooms with the compiled engine, if it is loaded. Both keep "
        "the order of elimination from solve to solve. Aim: below 2.",
    )
