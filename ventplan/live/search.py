"""Long work told line by line, and stopped when nobody listens any more."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Callable
from typing import Any

Progress = Callable[[int, int], None]
SLOWEST_S = 0.2
"""Longest time between two looks at how far the work is [s]."""


class Stopped(Exception):
    """The page does not wait for the answer any more."""


async def streamed(
    work: Callable[[Progress], dict[str, Any]], explain: Callable[[Exception], tuple[int, dict[str, Any]]]
) -> AsyncIterator[bytes]:
    """Lines of JSON: ``progress`` now and then, ``alive`` in between, at last ``answer`` or ``error``.

    Parameters
    ----------
    work
        Takes a function to report progress to; runs in a thread of its own.
    explain
        From an error to status and words.
    """
    state: dict[str, Any] = {"progress": None, "lines": None}
    stop = threading.Event()

    def progress(done: int, total: int) -> None:
        if stop.is_set():
            raise Stopped
        state["progress"] = [done, total]

    def run() -> None:
        try:
            state["lines"] = {"answer": work(progress)}
        except Stopped:
            state["lines"] = {"error": "stopped"}
        except Exception as error:
            try:
                state["lines"] = explain(error)[1]
            except Exception:
                state["lines"] = {"error": f"an error of the program itself: {type(error).__name__}: {error}"}
                raise

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        told = None
        while thread.is_alive():
            await asyncio.sleep(SLOWEST_S)
            if state["progress"] != told:
                told = state["progress"]
                yield _line({"progress": told})
            else:
                yield b'{"alive": true}\n'
        yield _line(state["lines"])
    finally:
        stop.set()


def _line(value: dict[str, Any]) -> bytes:
    return (json.dumps(value) + "\n").encode()
