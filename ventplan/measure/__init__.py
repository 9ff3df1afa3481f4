"""From readings to facts: anemometer, openings, thrust, jets, fan cards, and a house fitted to readings.

>>> from ventplan.measure import jet_from_walk  # doctest: +SKIP
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

# Public names and the module each lives in; a module is imported when one of its names is first used.
_PUBLIC = {
    "Estimate": "uncertainty",
    "propagate": "uncertainty",
    "simulate": "uncertainty",
    "average": "readings",
    "calibrate": "anemometer",
    "positions": "opening",
    "flow_through": "opening",
    "without_box": "fan_bench",
    "thrust_from_scale": "fan_bench",
    "fit_walk": "jet",
    "fit_profile": "jet",
    "jet_from_walk": "jet",
    "combine": "fan_data",
    "write_fan": "fan_data",
    "rank_fans": "rank",
    "fit_house": "house_fit",
    "read_house_readings": "house_readings",
    "verify": "verification",
}

__all__ = [*_PUBLIC]


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'ventplan.measure' has no attribute {name!r}")
    return getattr(import_module(f"ventplan.measure.{_PUBLIC[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
