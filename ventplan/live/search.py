"""Long work told line by line, and stopped when nobody listens any more."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Callable
from typing import Any

from ventplan.live.worker import Progress, Stopped

BETWEEN_S = 0.2
"""Time between two looks at how far the work is [s]."""


async def streamed(
    work: Callable[[Progress, threading.Event], dict[str, Any]],
    explain: Callable[[Exception], tuple[int, dict[str, Any]]],
) -> AsyncIterator[bytes]:
    """Lines of JSON: ``progress`` now and then, ``alive`` in between, at last ``answer`` or ``error``.

    Parameters
    ----------
    work
        Takes a function to report progress to, and an event that is set when nobody waits any more; runs in a thread.
    explain
        From an error to status and words.
    """
    state: dict[str, Any] = {"progress": None, "last": None}
    stop = threading.Event()

    def progress(done: int, total: int) -> None:
        state["progress"] = [done, total]

    def run() -> None:
        try:
            state["last"] = {"answer": work(progress, stop)}
        except Stopped:
            state["last"] = {"error": "stopped"}
        except Exception as error:
            try:
                state["last"] = explain(error)[1]
            except Exception:
                state["last"] = {"error": f"an error of the program itself: {type(error).__name__}: {error}"}
                raise

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        told = None
        while thread.is_alive():
            await asyncio.sleep(BETWEEN_S)
            if state["progress"] != told:
                told = state["progress"]
                yield _line({"progress": told})
            else:
                yield _line({"alive": True})
        yield _line(state["last"])
    finally:
        stop.set()


def _line(value: dict[str, Any]) -> bytes:
    return (json.dumps(value) + "\n").encode()
