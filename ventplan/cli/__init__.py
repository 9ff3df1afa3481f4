"""The command line: each command parses, calls one function of the library, and shows what it returns."""

from __future__ import annotations

import gc
import sys

from ventplan.cli.output import OutputLost, abandon_output, flush_streams, prepare_streams, warn
from ventplan.errors import InputError, NoAnswerError

EXIT_INPUT = 2
EXIT_NO_ANSWER = 3
EXIT_STOPPED = 130
OBJECTS_BETWEEN_COLLECTIONS = 50_000
"""How many objects are made before Python looks for garbage: with its own 700 that is a tenth of a short command."""


def main() -> None:
    """Run ``ventplan``: exit code 0 for an answer, 2 for an error in the input or a file that cannot be written, 3 for
    a house without an answer, 130 when stopped by Ctrl+C. A closed pipe, as of ``| head``, is no error.
    """
    code = 0
    gc.set_threshold(OBJECTS_BETWEEN_COLLECTIONS)
    try:
        prepare_streams()
        code = _run()
        flush_streams()
    except OutputLost as lost:
        if lost.reason:
            code = EXIT_INPUT
        abandon_output(lost.reason)
    except KeyboardInterrupt:
        code = EXIT_STOPPED
    sys.exit(code)


def _run() -> int:
    from ventplan.cli.app import app

    try:
        app()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0 if end.code is None else 1
    except InputError as error:
        _explain("Error", str(error))
        return EXIT_INPUT
    except NoAnswerError as error:
        _explain("No answer", str(error))
        return EXIT_NO_ANSWER
    except KeyboardInterrupt:
        return EXIT_STOPPED
    return 0


def _explain(what: str, text: str) -> None:
    lines = text.splitlines()
    count = f" ({len(lines)})" if len(lines) > 1 else ""
    warn("\n".join([f"{what}{count}:", *(f"  {line}" for line in lines)]))
