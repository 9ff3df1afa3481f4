"""Example houses, solved once for all tests of pictures."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

pytest.importorskip("matplotlib")

EXAMPLES = Path(__file__).parents[3] / "house_examples"
SOLVED = [
    ("one_room_flat", "evening"),
    ("bungalow", "evening, two fans"),
    ("two_storey", "night"),
    ("two_storey", "night, sealed fan"),
    pytest.param("rambling_house", "upstairs at night", marks=pytest.mark.slow),
    ("hallway_rig", "both fans side by side"),
]


@cache
def solved(name, scenario):
    """A house, one of its scenarios, and its solution."""
    from ventplan.house import read_house
    from ventplan.network import solve

    house = read_house(EXAMPLES / f"{name}.yaml")
    return house, house.scenarios[scenario], solve(house, house.scenarios[scenario])


@cache
def planned(name, scenario, tint=None, show=None):
    """A plan and its layout."""
    from ventplan.show.plan import layout_of, plan_of

    plan = plan_of(*solved(name, scenario), tint=tint, show=show)
    return plan, layout_of(plan, "One line of words.")
