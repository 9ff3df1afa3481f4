"""The command line: each command parses, calls one function of the library, and shows what it returns."""

from __future__ import annotations

import sys

from ventplan.errors import InputError, NoAnswerError

EXIT_INPUT = 2
EXIT_NO_ANSWER = 3


def main() -> None:
    """Run ``ventplan``: exit code 0 for an answer, 2 for a mistake in the input, 3 for a house without an answer."""
    from ventplan.cli.app import app

    try:
        app()
    except InputError as error:
        _explain("Mistake in the input", str(error))
        sys.exit(EXIT_INPUT)
    except NoAnswerError as error:
        _explain("No answer", str(error))
        sys.exit(EXIT_NO_ANSWER)
    except BrokenPipeError:
        sys.stderr.close()


def _explain(what: str, text: str) -> None:
    lines = text.splitlines()
    count = f" ({len(lines)})" if len(lines) > 1 else ""
    print(f"{what}{count}:", *(f"  {line}" for line in lines), sep="\n", file=sys.stderr)
