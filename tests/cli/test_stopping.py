"""Ctrl-C stops a search soon, from any point, with the best so far or nothing, and exit code 130."""

from __future__ import annotations

import signal
import subprocess
import sys
import time

import pytest
from command_line import EXAMPLES, ROOT

SOON_S = 0.5
BUSY = 4.0
"""Machines that run tests are busy: times the time that a quiet one may take."""


def started(*arguments: str) -> subprocess.Popen[str]:
    program = "import sys; from ventplan.cli import main; print('begun', file=sys.stderr, flush=True); main()"
    return subprocess.Popen(
        [sys.executable, "-c", program, *arguments],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # A run of tests in the background ignores Ctrl-C, and hands that on to the programs that it starts.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )


@pytest.mark.skipif(sys.platform == "win32", reason="signals of another kind")
@pytest.mark.parametrize("after_s", [0.05, 0.3, 0.8, 1.5, 2.5])
def test_a_search_stops_soon_with_the_best_so_far_or_nothing(after_s: float) -> None:
    process = started("place", str(EXAMPLES / "rambling_house.yaml"), "--whole-house", "--fans-at-once", "2")
    assert process.stderr is not None
    process.stderr.readline()
    time.sleep(after_s)
    process.send_signal(signal.SIGINT)
    begun = time.monotonic()
    out, err = process.communicate(timeout=60)
    assert time.monotonic() - begun < BUSY * SOON_S
    assert process.returncode == 130
    assert "Traceback" not in err
    assert "Traceback" not in out
