"""What starting costs: modules, and the compiled engine the first time and later."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile

from tests.benchmarks.timing import Table, shown

_CLOCK = "import time; start = time.process_time(); "
_HOUSE = "from tests.unit.network.houses import as_table, random_options; house = as_table(random_options(5, 8, 20)); "
_NUMPY = "import numpy as np; "
_TELL = "; print(time.process_time() - start)"
_LOAD = "from tests.benchmarks.many_states import with_code; with_code(house, np.zeros((1, 20), dtype=int))"


def _run(code: str, cache: str = "") -> float:
    variables = dict(os.environ) | ({"VENTPLAN_CACHE_DIR": cache} if cache else {})
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=variables)
    return float(told.stdout)


def table() -> Table:
    """Processor time of a fresh process for each step."""
    with tempfile.TemporaryDirectory() as cache:
        first = _run(_NUMPY + _HOUSE + _CLOCK + _LOAD + _TELL, cache)
        later = min(_run(_NUMPY + _HOUSE + _CLOCK + _LOAD + _TELL, cache) for _ in range(3))
    module = min(_run(_NUMPY + _CLOCK + "import ventplan.network.solver" + _TELL) for _ in range(3))
    rows = [
        ["import ventplan.network.solver, after numpy", shown(module)],
        ["load the compiled engine, first time ever (compiles)", shown(first)],
        ["load the compiled engine later (reads its machine code)", shown(later)],
    ]
    return Table(
        "Starting",
        ("step", "processor time"),
        rows,
        "The compiled engine loads where states times links pass 30,000 (about 700 states of a house of 8 rooms and "
        "20 openings): numpy takes longer than loading from there on. It is compiled once, where they pass 500,000.",
    )
