"""Whether a log is even in time: what loggers write as times, and the steps between them."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence

import numpy as np

from ventplan.house.units import UnitError, parse_quantity

_DAY_S = 86400.0


def seconds_of(text: str) -> float:
    """A time in a log [s]: ``12``, ``0.5 min``, ``20:00:01`` or ``2030-07-01 20:00:01``; nan for any other text."""
    try:
        return parse_quantity(text, "time")
    except UnitError:
        pass
    try:
        return datetime.datetime.fromisoformat(text.rstrip("Z")).replace(tzinfo=datetime.UTC).timestamp()
    except ValueError:
        pass
    try:
        clock = datetime.time.fromisoformat(text.zfill(len(text) + (text[1:2] == ":")))
    except ValueError:
        return math.nan
    return clock.hour * 3600.0 + clock.minute * 60.0 + clock.second + clock.microsecond / 1e6


def uneven_steps(texts: Sequence[str]) -> list[str]:
    """A note where a log is not evenly spaced in time, as the counting of its memory takes it to be.

    Parameters
    ----------
    texts
        The time of each reading, as the log has it; nothing is said where all are empty.
    """
    if not any(texts):
        return []
    times = np.array([seconds_of(text) for text in texts])
    if not np.isfinite(times).all():
        return ["The times of the log could not be read (such as 12 s, 20:00:01 or 2030-07-01 20:00:01): they are "
                "taken to be even."]  # fmt: skip
    steps = np.diff(times)
    steps = np.where(steps < -_DAY_S / 2.0, steps + _DAY_S, steps)  # past midnight
    usual = float(np.median(steps))
    gaps = int((np.abs(steps - usual) > 0.2 * abs(usual)).sum())
    if gaps == 0:
        return []
    return [
        f"The log is uneven: {gaps} of {steps.size} steps differ from the usual one; its memory is known less well."
    ]
