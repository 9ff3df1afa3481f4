"""How commands answer: JSON in SI for programs, tables through rich for people, pictures, CSV files, saved plans.

Standard output and standard error take every text in any encoding, and a closed pipe or a full disk is reported.
"""

from __future__ import annotations

import csv
import dataclasses
import datetime
import io
import json
import math
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ventplan.files import write_file
from ventplan.text import json_escaped, printable

if TYPE_CHECKING:
    from rich.console import Console

    from ventplan.house.records import House, Scenario
    from ventplan.house.units import System

JSON_FORMAT = 1
"""Number of the JSON layout; it grows only when a key changes its meaning or goes away."""


class UnitSystem(StrEnum):
    """Units of the answers."""

    si = "si"
    us = "us"


class OutputLost(Exception):
    """Standard output takes nothing more.

    Attributes
    ----------
    reason
        What the system says; empty where the reader has closed the pipe, as ``head`` does.
    """

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)


class _Stream(io.TextIOWrapper):
    """A text stream that says which stream failed, whatever library was writing."""

    def write(self, text: str, /) -> int:
        try:
            return super().write(text)
        except OSError as error:
            raise _lost(error) from None

    def flush(self) -> None:
        try:
            super().flush()
        except OSError as error:
            raise _lost(error) from None


def _lost(error: OSError) -> OutputLost:
    return OutputLost("" if isinstance(error, BrokenPipeError) else error.strerror or str(error))


def prepare_streams() -> None:
    """Let standard output and standard error write every text, and say how they failed if they do."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if type(stream) is io.TextIOWrapper:
            lines = stream.line_buffering
            fresh = _Stream(stream.detach(), stream.encoding, "ventplan", line_buffering=lines)
            setattr(sys, name, fresh)


def flush_streams() -> None:
    """Write out what is still in the buffers; a stream that was closed from outside is left alone."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()


def abandon_output(reason: str) -> None:
    """Send what is still in the buffers to nowhere, so that the interpreter does not fail over it at its end.

    Parameters
    ----------
    reason
        Why, printed to standard error if that still works; nothing for a closed pipe.
    """
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        try:
            if stream is sys.stderr and reason:
                warn(f"The output could not be written: {reason}.")
            stream.flush()
        except (OutputLost, OSError, ValueError):
            os.dup2(nowhere, stream.fileno())


def warn(text: str) -> None:
    """Print a line to standard error, with control characters spelled out."""
    print(printable(text), file=sys.stderr)


def say(text: str) -> None:
    """Print a line to standard output, with control characters spelled out."""
    print(printable(text))


def plain(value: Any) -> Any:
    """Turn records, mappings, sets and numpy values into what JSON has; times become text; not-a-number and infinity
    become null; hazards and notes get their words."""
    from ventplan.airing import Note
    from ventplan.airing.safety import Hazard

    if isinstance(value, (Hazard, Note)):
        from ventplan.show.cautions import caution_of, note_words

        return note_words(value) if isinstance(value, Note) else plain(caution_of(value, "si"))
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (set, frozenset)):
        return sorted(plain(item) for item in value)
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, datetime.datetime):
        return value.isoformat(sep=" ")
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def print_json(command: str, result: Any) -> None:
    """Print ``result`` as JSON under a head that names the command and the layout; every quantity is SI."""
    head = {"format": JSON_FORMAT, "command": command, "units": "SI"}
    unicode_output = (getattr(sys.stdout, "encoding", None) or "utf-8").lower().startswith("utf")
    text = json.dumps({**head, "result": plain(result)}, indent=2, ensure_ascii=not unicode_output)
    print(json_escaped(text))


def console() -> Console:
    """The terminal, 80 columns wide if it does not say; without colour when piped. Square brackets stay as they are,
    and control characters in names are spelled out."""
    from rich.console import Console, ConsoleOptions, RenderableType
    from rich.segment import Segment

    class Screen(Console):
        def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
            for part in super().render(renderable, options):
                yield part if part.control else Segment(printable(part.text), part.style)

    screen = Screen(highlight=False, markup=False)
    return screen if screen.is_terminal else Screen(highlight=False, markup=False, width=80, soft_wrap=False)


def units_for(house: House, show: UnitSystem | None) -> System:
    """The unit system to show: what the option says, else what the house file says."""
    return house.show if show is None else "us" if show.value == "us" else "si"


@contextmanager
def progress_line(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """A progress bar on standard error while long work runs; nothing where that is not a terminal.

    Parameters
    ----------
    what
        Word before the bar.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn(what),
        BarColumn(),
        TextColumn("{task.completed:.0f} of {task.total:.0f}"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=1)

        def report(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield report


def check_picture(output: Path | None, *, replace: bool) -> None:
    """Refuse a file name that is no picture's, or that is taken, before any long work.

    Raises
    ------
    InputError
        For any other ending, or where `check_new_file` refuses.
    """
    if output is not None:
        from ventplan.files import check_new_file
        from ventplan.show.paper import format_of

        format_of(output)
        check_new_file(output, replace=replace)


def save_picture(output: Path | None, figure: Callable[[], Any], *, quiet: bool) -> None:
    """Draw a picture into a file and say so; nothing where none was asked for.

    Parameters
    ----------
    output
        The file, or None.
    figure
        Makes the figure; called only where there is a file to write, since it loads the plotting library.
    quiet
        True where only JSON may be printed.
    """
    if output is None:
        return
    from ventplan.show.paper import save

    save(figure(), output)
    if not quiet:
        say(f"Drew it to {output}.")


def write_csv(path: Path, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Write a table as a CSV file."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(heads)
    writer.writerows(rows)
    write_file(path, stream.getvalue())


def save_plans(path: Path, house: House, base: str, plans: Mapping[str, Scenario]) -> None:
    """Write plans into a house file, each as one more scenario; everything else stays as it is, comments too.

    Parameters
    ----------
    path
        The house file.
    house
        The house read from it.
    base
        The scenario that the plans start from, and are based on where the house has it.
    plans
        The whole state of each, by the name of its new scenario.

    Raises
    ------
    InputError
        Where the house has a scenario of such a name, or its file has errors; nothing is written then.
    """
    from ventplan.errors import InputError
    from ventplan.house.read import parse_house
    from ventplan.house.yaml_text import read_text
    from ventplan.live.scenario_edits import with_scenario

    text = read_text(path)
    for name, plan in plans.items():
        if name in house.scenarios:
            raise InputError(f"{house.path or house.name} has a scenario {name!r} already; choose another name")
        text = with_scenario(text, house, base, dataclasses.replace(plan, name=name))
    parse_house(text, house.path)
    write_file(path, text)
