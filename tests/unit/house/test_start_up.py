"""Reading a house with everyday units loads no library that it does not need."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

STARTER = Path(__file__).parents[3] / "ventplan" / "house" / "starter.yaml"


def test_reading_loads_neither_networkx_nor_scipy_nor_pint() -> None:
    code = (
        "import sys; from ventplan.house import read_house; read_house(sys.argv[1]);"
        "print([m for m in ('networkx', 'scipy', 'pint', 'matplotlib') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(STARTER)],
        capture_output=True,
        text=True,
        check=True,
        cwd=STARTER.parents[2],
    )
    assert done.stdout.strip() == "[]"
