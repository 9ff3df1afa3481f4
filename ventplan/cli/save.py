"""Answers over time as CSV files, for a spreadsheet or a plot."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.files import write_file

if TYPE_CHECKING:
    from ventplan.airing.clearing import HouseClearing
    from ventplan.airing.night import Night
    from ventplan.airing.night_simulation import Run
    from ventplan.airing.weather import Weather
    from ventplan.house.units import System

Save = Annotated[
    Path | None, typer.Option("--save", metavar="FILE", help="Save what happens step by step as CSV, units in heads.")
]


def save_night(path: Path, answer: Night, weather: Weather, *, system: System) -> None:
    """Write time, outdoor temperature, and the windows and every room's temperature in each run, step by step."""
    from ventplan.house.units import shown_number, shown_unit

    unit = shown_unit("temperature", system)

    def degrees(value: float) -> str:
        return f"{shown_number(value, 'temperature', system):.2f}"

    first = answer.runs[0]
    heads = ["time", "elapsed [h]", f"outdoors [{unit}]"]
    for run in answer.runs:
        heads += [f"{run.name}: windows", *(f"{run.name}: {room} [{unit}]" for room in run.rooms_c)]
    rows = [
        [
            weather.label(second),
            f"{second / 3600.0:g}",
            degrees(first.outdoor_c[step]),
            *(
                cell
                for run in answer.runs
                for cell in (_windows(run, second), *(degrees(track[step]) for track in run.rooms_c.values()))
            ),
        ]
        for step, second in enumerate(first.times_s)
    ]
    _write(path, heads, rows)


def save_clearing(path: Path, answers: Sequence[HouseClearing], *, unit: str) -> None:
    """Write the concentration in every room in each plan over time; each plan has times of its own."""
    heads = ["plan", "time [min]"]
    rooms = list(answers[0].clearing.rooms)
    heads += [f"{room} [{unit}]" for room in rooms]
    rows = [
        [answer.scenario, f"{second / 60.0:.4g}", *(f"{level:.5g}" for level in levels)]
        for answer in answers
        for second, levels in zip(answer.clearing.times_s, answer.clearing.concentrations, strict=True)
    ]
    _write(path, heads, rows)


def _windows(run: Run, second: float) -> str:
    """State of the windows in the step that begins then."""
    return next((part.windows for part in run.plan if part.begin_s <= second < part.end_s), run.plan[-1].windows)


def _write(path: Path, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(heads)
    writer.writerows(rows)
    write_file(path, stream.getvalue())
