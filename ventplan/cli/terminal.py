"""Standard output and standard error of the commands: any encoding, a closed pipe, a full disk."""

from __future__ import annotations

import io
import os
import sys

from ventplan.text import printable


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
