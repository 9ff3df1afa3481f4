"""Objectives of a search, and what would gain them most, in words."""

from __future__ import annotations

from ventplan.advice.objective import Objective
from ventplan.advice.plan import Bottleneck, Change


def objective_words(objective: Objective) -> str:
    """The objective in plain words."""
    name, morning = objective.name, f"{objective.by_hour:.0f}:00"
    if objective.kind == "cool" and objective.weather is not None:
        morning = objective.weather.label(objective.weather.seconds_until(objective.by_hour))
    return {
        "opening": f"most air through {name}",
        "room": f"most outdoor air for {name}",
        "house": "most outdoor air where people are",
        "clear": f"{name} cleared soonest",
        "cool": f"{name} coolest by {morning}",
    }[objective.kind]


def steering_words(objective: Objective) -> str:
    """What the search steers by, in plain words: what gains are given in."""
    if objective.kind == "cool":
        return f"the outdoor air that reaches {objective.name}"
    return objective_words(objective)


def bottleneck_words(bottleneck: Bottleneck) -> str:
    """What to change, in plain words."""
    names = " and ".join(bottleneck.names)
    return {
        Change.SCREEN_OFF: f"take the screen off {names}",
        Change.OPEN_FULLY: f"open {names} fully",
        Change.LARGER: f"a tenth more free area at {names}",
        Change.STRONGER: f"a tenth more thrust from {names}",
    }[bottleneck.change]
