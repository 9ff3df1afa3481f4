"""Runs ``ventplan`` in this process as a terminal of 80 columns without colour would see it."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

import typer.main

from ventplan.cli import main

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "house_examples"


@dataclass(frozen=True)
class Answer:
    """What a command gave back."""

    code: int
    out: str
    err: str

    @property
    def result(self) -> Any:
        """The result in its JSON."""
        return json.loads(self.out)["result"]


def run(*arguments: str | Path) -> Answer:
    """Run the command line."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    with (
        patch.object(sys, "argv", ["ventplan", *map(str, arguments)]),
        patch.dict("os.environ", {"COLUMNS": "80", "NO_COLOR": "1", "TERM": "dumb"}),
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
    return Answer(code, out.getvalue(), err.getvalue())


def commands() -> Iterator[tuple[str, ...]]:
    """Every command, with those below a group."""
    from ventplan.cli.app import app

    def walk(command: Any, path: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        inner = getattr(command, "commands", None)
        if inner is None:
            yield path
            return
        for name, below in inner.items():
            yield from walk(below, (*path, name))

    yield from walk(typer.main.get_command(app), ())
