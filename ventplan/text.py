"""Text that is safe to show: no control characters, and plain letters where an encoding lacks a sign."""

from __future__ import annotations

import codecs
import re
import unicodedata

_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""Everything that a terminal could take for a command (C0 and C1 controls but tab and line feed), signs that turn the
direction of text, line separators, and halves of surrogate pairs, which no encoding can write."""

PLAIN_SIGNS = {
    "−": "-", "–": "-", "—": "-", "‐": "-", "─": "-", "×": "x", "·": ".", "±": "+/-", "°": "deg ", "²": "2", "³": "3",
    "₂": "2", "µ": "u", "μ": "u", "“": '"', "”": '"', "‘": "'", "’": "'", "′": "'", "″": '"', "…": "...", "→": "->",
    "≤": "<=", "≥": ">=", "≈": "~", "ρ": "rho", "Δ": "delta ",
}  # fmt: skip
"""What stands in for a sign in an encoding that lacks it."""


def has_control_characters(text: str) -> bool:
    """Whether a text holds a character that must not reach a terminal; tab and line feed may."""
    return _CONTROL.search(text) is not None


def printable(text: str) -> str:
    """The text with control characters, direction signs and lone surrogates spelled out, such as ``\\x1b``."""
    return _CONTROL.sub(lambda found: _spelled(found[0]), text)


def json_escaped(text: str) -> str:
    """JSON text with the same characters written as JSON escapes, such as ``\\u009b``: it reads back unchanged."""
    return _CONTROL.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def _spelled(character: str) -> str:
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


def plain_signs(error: UnicodeError) -> tuple[str, int]:
    """Error handler for output in an encoding that lacks a character: the nearest plain sign, or a question mark.

    Parameters
    ----------
    error
        What the codec could not encode.

    Returns
    -------
    str, int
        What to write in its place, and where to go on.

    Raises
    ------
    UnicodeError
        The error itself, if it is not an encoding error.
    """
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_in_ascii, error.object[error.start : error.end])), error.end


def _in_ascii(character: str) -> str:
    if character in PLAIN_SIGNS:
        return PLAIN_SIGNS[character]
    if _CONTROL.match(character):
        return _spelled(character)
    bare = unicodedata.normalize("NFKD", character).encode("ascii", "ignore").decode()
    return bare or "?"


codecs.register_error("ventplan", plain_signs)
