"""Bearings as people write them: degrees, ``SW``, ``WSW``, ``south-west``."""

from __future__ import annotations

import re

from ventplan.house.units import UnitError, parse_quantity

POINTS = ("n", "nne", "ne", "ene", "e", "ese", "se", "sse", "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw")
LETTERS = {"n": "north", "e": "east", "s": "south", "w": "west"}


def _spelled(point: str) -> str:
    last = "".join(LETTERS[letter] for letter in point[-2:])
    return last if len(point) < 3 else LETTERS[point[0]] + last


BEARINGS = {word: 22.5 * i for i, point in enumerate(POINTS) for word in (point, _spelled(point))}
"""Bearing of the sixteen points of the compass, as letters and as one word [deg]."""


def parse_bearing(value: object) -> float:
    """Turn degrees, letters or words into a bearing.

    Parameters
    ----------
    value
        A number, or text such as ``240 deg``, ``WSW``, ``south-west`` or ``North West``.

    Returns
    -------
    float
        Bearing from 0 up to 360 [deg].

    Raises
    ------
    UnitError
        If it is none; with what was found and what is allowed.
    """
    if isinstance(value, str):
        word = re.sub(r"[\s_-]+", "", value.lower())
        if word in BEARINGS:
            return BEARINGS[word]
    try:
        degrees = parse_quantity(value, "angle")
    except UnitError as error:
        raise UnitError(error.found, "a bearing such as 240 deg, WSW or south-west", error.hint) from None
    if not -360.0 <= degrees <= 360.0:
        raise UnitError(f"{degrees:g} °", "from -360 ° to 360 °")
    return degrees % 360.0
