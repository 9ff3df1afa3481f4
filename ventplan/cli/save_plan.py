"""A plan as a scenario of the house file, for every other command to take from there."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ventplan.house.records import House, Scenario


def with_scenario(text: str, house: House, base: str, plan: Scenario, name: str) -> str:
    """The text of a house file with one more scenario; everything else stays as it is, comments too.

    Parameters
    ----------
    text
        The house file.
    house
        The house read from it.
    base
        The scenario that the plan starts from, and is based on where the house has it.
    plan
        The whole state.
    name
        Name of the new scenario.

    Raises
    ------
    InputError
        Where the house has a scenario of that name, or its file has errors.
    """
    from ventplan.errors import InputError
    from ventplan.house.read import parse_house
    from ventplan.live import scenario_edits

    if name in house.scenarios:
        raise InputError(f"{house.path or house.name} has a scenario {name!r} already; choose another name")
    text = scenario_edits.with_scenario(text, house, base, replace(plan, name=name))
    parse_house(text, house.path)
    return text


def save_plan(path: Path, house: House, base: str, plan: Scenario, name: str) -> str:
    """Write a plan into the house file and say so.

    Parameters
    ----------
    path
        The house file.
    house
        The house read from it.
    base
        The scenario that the plan starts from.
    plan
        The whole state.
    name
        Name of the new scenario.

    Returns
    -------
    str
        What was done, and how to go on.
    """
    from ventplan.files import write_file
    from ventplan.house.yaml_text import read_text

    write_file(path, with_scenario(read_text(path), house, base, plan, name))
    return f"Saved in {path} as the scenario {name!r}. See what it does: ventplan flow {path} --scenario '{name}'"
