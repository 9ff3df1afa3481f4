"""Simulate cases: ``python -m tests.outside.simulate CASES.jsonl RESULTS.jsonl [--only PREFIX] [--cell 0.03]``."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from .cases import grid_of, result_of
from .lattice import simulation


def simulate(
    case: Mapping[str, Any],
    *,
    cell_m: float = 0.03,
    smagorinsky: float = 0.11,
    seconds: float = 30.0,
    warm_up_s: float = 12.0,
    gpu: bool | None = None,
) -> dict[str, Any]:
    """Simulate one case and return it with its mean flows and pressures.

    Parameters
    ----------
    case
        Fields as in ``les_rooms_2.jsonl``.
    cell_m
        Size of a cell [m].
    smagorinsky
        Constant of Smagorinsky's model [-].
    seconds, warm_up_s
        Time simulated, and when averaging begins [s].
    gpu
        Whether to use a CUDA GPU; by default if there is one.
    """
    grid = grid_of(case, cell_m=cell_m, smagorinsky=smagorinsky)
    run = simulation(grid.kinds, grid.figures, gpu=gpu)
    warm = int(warm_up_s / grid.step_s)
    for step in range(int(seconds / grid.step_s)):
        run.advance(step)
        if step >= warm and step % 10 == 0:
            run.sample()
    return result_of(case, grid, run.means())


def main() -> None:
    """Simulate the cases of one file and append each result to another, a line each."""
    parser = argparse.ArgumentParser(prog="python -m tests.outside.simulate", description=__doc__)
    parser.add_argument("cases", type=Path)
    parser.add_argument("results", type=Path)
    parser.add_argument("--only", default="", help="simulate the cases whose names begin so")
    parser.add_argument("--cell", type=float, default=0.03, help="size of a cell in metres")
    parser.add_argument("--smagorinsky", type=float, default=0.11, help="constant of the model of small eddies")
    parser.add_argument("--seconds", type=float, default=30.0, help="time simulated")
    parser.add_argument("--warm-up", type=float, default=12.0, help="time before averaging begins")
    given = parser.parse_args()
    done = {json.loads(line)["name"] for line in given.results.open()} if given.results.exists() else set()
    for case in map(json.loads, given.cases.read_text("utf-8").splitlines()):
        if not case["name"].startswith(given.only) or case["name"] in done:
            continue
        began = time.perf_counter()
        result = simulate(
            case, cell_m=given.cell, smagorinsky=given.smagorinsky, seconds=given.seconds, warm_up_s=given.warm_up
        )
        with given.results.open("a", encoding="utf-8") as file:
            file.write(json.dumps(result) + "\n")
        flows = ", ".join(f"{opening['name']} {opening.get('net_m3_s')}" for opening in result["openings"])
        print(f"{case['name']}: {flows} m3/s ({time.perf_counter() - began:.0f} s)", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
