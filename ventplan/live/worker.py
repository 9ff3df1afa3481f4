"""A second process for long questions, so that dragging stays quick, and its progress as lines of JSON."""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import threading
from collections.abc import AsyncIterator, Callable
from multiprocessing.connection import Connection
from typing import Any

Progress = Callable[[int, int], None]


class Stopped(Exception):
    """The page no longer waits for the answer."""


class Worker:
    """A process that answers one question after another; the first question starts it.

    A question is a function at the top level of a module, with arguments that can be pickled.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: Any = None
        self._pipe: Connection | None = None
        self._closed = False

    def ask(
        self,
        call: Callable[..., Any],
        arguments: tuple[Any, ...],
        *,
        progress: Progress | None = None,
        stop: threading.Event | None = None,
    ) -> Any:
        """Answer a question in the other process.

        Parameters
        ----------
        call, arguments
            The function and its arguments; with ``progress`` it takes a progress function as its last argument.
        progress
            Called here with what the function reports there.
        stop
            Set by another thread when nobody waits any more: the process is ended.

        Raises
        ------
        Stopped
            If it was stopped.
        Exception
            What the function raised.
        """
        with self._lock:
            pipe = self._started()
            pipe.send((call, arguments, progress is not None))
            try:
                while True:
                    while not pipe.poll(0.1):
                        if stop is not None and stop.is_set():
                            self._end()
                            raise Stopped
                    kind, value = pipe.recv()
                    if kind == "progress" and progress is not None:
                        progress(*value)
                    elif kind == "answer":
                        return value
                    elif kind == "error":
                        raise value
            except (EOFError, OSError):
                self._end()
                if self._closed:
                    raise Stopped from None
                raise RuntimeError("the process for long questions ended without an answer") from None

    def close(self) -> None:
        """End the process for good."""
        self._closed = True
        self._end()

    def _started(self) -> Connection:
        if self._pipe is None or self._process is None or not self._process.is_alive():
            context = multiprocessing.get_context("spawn")
            self._pipe, far = context.Pipe()
            self._process = context.Process(target=_serve, args=(far,), daemon=True)
            self._process.start()
            far.close()
        return self._pipe

    def _end(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.join(2.0)
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None


def _serve(pipe: Connection) -> None:
    import os
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C is for the program itself, which then ends this one
    if hasattr(os, "nice"):
        os.nice(5)
    while True:
        try:
            call, arguments, reports = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            more = (lambda done, total: pipe.send(("progress", (done, total))),) if reports else ()
            pipe.send(("answer", call(*arguments, *more)))
        except Exception as error:
            pipe.send(("error", error))


PROGRESS_INTERVAL_S = 0.2
"""Time between two lines of progress [s]."""


async def streamed(
    work: Callable[[Progress, threading.Event], dict[str, Any]],
    explain: Callable[[Exception], tuple[int, dict[str, Any]]],
) -> AsyncIterator[bytes]:
    """Lines of JSON: ``progress`` when there is some, ``alive`` in between, and last ``answer`` or ``error``.

    Parameters
    ----------
    work
        Takes a function to report progress to, and an event that is set when nobody waits any more; runs in a thread.
    explain
        From an error to status and words; raises errors that it cannot explain.
    """
    done_of_total: list[int] = []
    last: list[bytes] = []
    stop = threading.Event()

    def progress(done: int, total: int) -> None:
        done_of_total[:] = done, total

    def run() -> None:
        try:
            last.append(_line({"answer": work(progress, stop)}))
        except Stopped:
            last.append(_line({"error": "stopped"}))
        except Exception as error:
            try:
                last.append(_line(explain(error)[1]))
            except Exception:
                last.append(_line({"error": f"an error of the program itself: {type(error).__name__}: {error}"}))
                raise

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        sent: list[int] = []
        while thread.is_alive():
            await asyncio.sleep(PROGRESS_INTERVAL_S)
            if done_of_total != sent:
                sent = list(done_of_total)
                yield _line({"progress": sent})
            else:
                yield _line({"alive": True})
        yield last[0]
    finally:
        stop.set()


def _line(value: dict[str, Any]) -> bytes:
    return (json.dumps(value) + "\n").encode()
