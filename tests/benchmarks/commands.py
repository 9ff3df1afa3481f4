"""From command to answer, and the memory it takes: whole processes, as a person waits for them."""

from __future__ import annotations

import subprocess
import sys
import time

from tests.benchmarks.timing import Table, shown

PLACE = ("place", "house_examples/bungalow.yaml", "--room", "front bedroom")
COMMANDS = (
    ("ventplan --help", ("--help",), "0.3 s"),
    ("ventplan flow, 19 rooms", ("flow", "house_examples/rambling_house.yaml"), "1 s"),
    ("ventplan place, 8 rooms, 9 windows and 2 outside doors, 3 fans", PLACE, "3 s"),
    ("the same, two of the fans at once", (*PLACE, "--fans-at-once", "2"), "–"),
    ("the same, all three at once", (*PLACE, "--fans-at-once", "3"), "–"),
)


# The process tells its own peak: what the system reports of a child counts its parent's memory too.
_RUN = """
import atexit, sys, time
def tell():
    peak = next(line for line in open("/proc/self/status") if line.startswith("VmHWM")).split()[1]
    print(time.process_time(), peak, file=sys.stderr)
atexit.register(tell)
from ventplan.cli import main
main()
"""


def _once(arguments: tuple[str, ...]) -> tuple[float, float, float]:
    """Clock [s], processor time [s] and peak memory [MB] of one run."""
    start = time.perf_counter()
    told = subprocess.run(
        [sys.executable, "-c", _RUN, *arguments],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        check=True,
    )
    processor, kilobytes = told.stderr.split()[-2:]
    return time.perf_counter() - start, float(processor), float(kilobytes) / 1024.0


def table() -> Table:
    """Each command, the least of three runs after a first."""
    rows = []
    for name, arguments, aim in COMMANDS:
        _once(arguments)
        runs = [_once(arguments) for _ in range(3)]
        clock, processor, memory = (min(run[i] for run in runs) for i in range(3))
        rows.append([name, shown(clock), aim, shown(processor), f"{memory:.0f} MB"])
    return Table(
        "From command to answer",
        ("command", "clock", "aim", "processor time", "peak memory"),
        rows,
        "Whole processes; machine code is in the cache. If all states are too many, `place` screens every fan at every "
        "opening on a few sets of open windows and doors, improves the best from there, and solves them in full. With "
        "several fans, the teams whose fans do best alone come first, so that the time levels off.",
    )
