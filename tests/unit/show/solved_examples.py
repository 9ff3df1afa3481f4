"""Example houses, solved once for all tests of pictures."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from ventplan.house.records import House, Scenario
from ventplan.house.units import System
from ventplan.network.flow import Flow
from ventplan.show.plan import Plan
from ventplan.show.plan_notes import Tint
from ventplan.show.plan_page import Layout

pytest.importorskip("matplotlib")

EXAMPLES = Path(__file__).parents[3] / "house_examples"
HERE = Path(__file__).parent
SOLVED = [
    ("one_room_flat", "evening"),
    ("bungalow", "evening, two fans"),
    ("two_storey", "night"),
    ("two_storey", "night, sealed fan"),
    pytest.param("rambling_house", "upstairs at night", marks=pytest.mark.slow),
    ("hallway_rig", "both fans side by side"),
    ("crowded_cottage", "everything open"),
]


@cache
def solved(name: str, scenario: str) -> tuple[House, Scenario, Flow]:
    """A house, one of its scenarios, and its solution."""
    from ventplan.house import read_house
    from ventplan.network import solve

    folder = next(folder for folder in (EXAMPLES, HERE) if (folder / f"{name}.yaml").exists())
    house = read_house(folder / f"{name}.yaml")
    return house, house.scenarios[scenario], solve(house, house.scenarios[scenario])


@cache
def planned(name: str, scenario: str, tint: Tint | None = None, show: System | None = None) -> tuple[Plan, Layout]:
    """A plan and its layout."""
    from ventplan.show.plan import layout_of, plan_of

    plan = plan_of(*solved(name, scenario), tint=tint, show=show)
    return plan, layout_of(plan)
