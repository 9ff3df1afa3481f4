"""ventplan: where to put which fan, and what it will do.

>>> import ventplan
>>> house = ventplan.read_house("house_examples/bungalow.yaml")  # doctest: +SKIP
>>> flow = ventplan.solve(house, "evening")  # doctest: +SKIP
>>> answer = ventplan.place(house, room="front bedroom")  # doctest: +SKIP
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

# Public names and the module each lives in; a module is imported when one of its names is first used.
_PUBLIC = {
    "read_house": "ventplan.house",
    "parse_house": "ventplan.house",
    "solve": "ventplan.network",
    "place": "ventplan.advice",
    "setback_curve": "ventplan.advice",
    "compare": "ventplan.advice",
    "trade_off": "ventplan.advice",
    "place_over": "ventplan.advice",
    "interval": "ventplan.advice.intervals",
    "how_sure": "ventplan.advice",
    "survey": "ventplan.advice.survey_runner",
    "clear_house": "ventplan.airing.clearing",
    "share_released": "ventplan.airing.clearing",
    "night": "ventplan.airing.night",
    "read_weather": "ventplan.airing.weather_files",
    "find_hazards": "ventplan.airing.hazards",
    "VentplanError": "ventplan.errors",
    "InputError": "ventplan.errors",
    "NoAnswerError": "ventplan.errors",
}

__all__ = ["__version__", *_PUBLIC]


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'ventplan' has no attribute {name!r}")
    return getattr(import_module(_PUBLIC[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
