"""What can go wrong, as one small tree.

VentplanError
├── InputError      errors in what the user gave: a file, an option, a name. Exit code 2.
└── NoAnswerError   the input is well formed, and there is no answer to give. Exit code 3.

Anything else that escapes is a bug of ours and ends with Python's own traceback and exit code 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class InvalidValue:
    """One error in a file: where it stands, what was found, what is allowed, what to do.

    Attributes
    ----------
    key
        Path of the key in the file, parts joined by " > ", e.g. ``openings > hall door > along``.
    found
        What stands there, with numbers and units.
    allowed
        What is allowed there, with numbers and units.
    hint
        The nearest valid name or the next thing to do; may be empty.
    file, line, column
        The place, counted from 1; None where the place is not known.
    """

    key: str
    found: str
    allowed: str
    hint: str = ""
    file: str = ""
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        place = ":".join(str(part) for part in (self.file, self.line, self.column) if part)
        head = f"{place}: {self.key}" if place else self.key
        if self.hint.startswith("Did you mean"):  # a list of what is allowed may be long
            return f"{head}: found {self.found}. {self.hint} Allowed: {self.allowed}"
        text = f"{head}: found {self.found}; allowed: {self.allowed}"
        return f"{text}. {self.hint}" if self.hint else text


class VentplanError(Exception):
    """Anything that ventplan can explain to its user."""


class InputError(VentplanError):
    """One or more errors in the input, all of them at once.

    Attributes
    ----------
    errors
        Every error found, in file order.
    """

    def __init__(self, errors: Sequence[InvalidValue] | str) -> None:
        self.errors: tuple[InvalidValue, ...] = () if isinstance(errors, str) else tuple(errors)
        super().__init__(errors if isinstance(errors, str) else "\n".join(map(str, self.errors)))


class NoAnswerError(VentplanError):
    """The question is well formed, but this house has no answer to it; the text says why and what to try."""


def unknown_name(kind: str, name: str, known: Iterable[str]) -> InputError:
    """The error of a name that the house does not have, with the nearest that it has.

    Parameters
    ----------
    kind
        What was named, as ``fan``.
    name
        What was given.
    known
        The names there are.

    Returns
    -------
    InputError
        To be raised.
    """
    from difflib import get_close_matches

    names = {one.lower(): one for one in known}
    near = get_close_matches(name[:60].lower(), list(names), n=1, cutoff=0.5)
    hint = f" Did you mean {names[near[0]]!r}?" if near else ""
    there = ", ".join(map(repr, names.values())) or "none"
    return InputError(f"there is no {kind} {name!r}.{hint} The house has: {there}")
