"""How time grows with rooms, openings and states."""

from __future__ import annotations

import time
from functools import partial

import numpy as np

from tests.benchmarks.many_states import with_arrays, with_code
from tests.benchmarks.timing import Table, least, shown
from tests.unit.network.houses import as_table, random_options
from ventplan.network.solver import solve_choices


def table() -> Table:
    """Time for each state by rooms and openings, with each engine."""
    rows = []
    for rooms, openings in ((1, 3), (3, 8), (8, 12), (8, 20), (8, 40), (15, 40), (30, 80)):
        table = as_table(random_options(5, rooms, openings))
        choices = np.random.default_rng(1).integers(0, 3, (2000, openings))
        fast, plain = least(partial(with_code, table, choices), partial(with_arrays, table, choices), repeats=5)
        rows.append([str(rooms), str(openings), shown(fast / 2000), shown(plain / 2000), f"{plain / fast:.1f}"])
    return Table(
        "Each state by rooms and openings",
        ("rooms", "openings", "compiled", "numpy", "numpy / compiled"),
        rows,
        "Random houses whose openings are shut, open, or open with a jet, in 2,000 random states; one thread.",
    )


def table_by_states() -> Table:
    """Time for all states of a house of 8 rooms and 20 openings, by their number."""
    house = as_table(random_options(5, 8, 20))
    rows = []
    for states in (1, 20, 1000, 10_000, 100_000):
        choices = np.random.default_rng(1).integers(0, 3, (states, 20))
        (processor,) = least(partial(solve_choices, house, choices), repeats=3)
        one, two = least(
            partial(solve_choices, house, choices),
            partial(solve_choices, house, choices, workers=2),
            repeats=3,
            clock=time.perf_counter,
        )
        rows.append([f"{states:,}", shown(processor), shown(processor / states), shown(one), shown(two)])
    return Table(
        "All states of a house of 8 rooms and 20 openings",
        ("states", "processor time", "for each", "clock, one thread", "clock, two threads"),
        rows,
        "With the compiled engine loaded. The clock also counts what else the machine does meanwhile. Aim: 3 s on the "
        "clock for 100,000 states on two idle processors.",
    )
