"""Arguments and options that commands share, and the scenario that they ask for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.terminal import warn

if TYPE_CHECKING:
    from ventplan.house.records import House, Scenario


class UnitSystem(StrEnum):
    """Units of the answers."""

    si = "si"
    us = "us"


HouseFile = Annotated[Path, typer.Argument(metavar="HOUSE", help="The house file (YAML).", show_default=False)]
ScenarioName = Annotated[
    str | None,
    typer.Option("--scenario", metavar="NAME", help="Scenario of the house file; its first one if left out."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON in SI units instead of tables.")]
ShowUnits = Annotated[
    UnitSystem | None,
    typer.Option("--show", help="Units of the tables; the house file's own if left out."),
]
Replace = Annotated[bool, typer.Option("--replace", help="Write over a file that exists already.")]
Sure = Annotated[
    str | None,
    typer.Option(
        "--sure",
        metavar="WORK",
        help="Add 90 % intervals and how likely each plan is the best. WORK: low, normal, high or a number of cases.",
    ),
]
WindText = Annotated[
    str | None,
    typer.Option(
        "--wind", metavar="TEXT", help='Wind at the weather station in place of the file\'s, as "3 m/s from 240".'
    ),
]
OutdoorText = Annotated[
    str | None, typer.Option("--outdoor", metavar="TEMP", help="Outdoor temperature in place of the file's, as 14C.")
]
IndoorText = Annotated[
    str | None,
    typer.Option("--indoor", metavar="TEMP", help="Temperature of every room in place of the file's, as 26C."),
]
Picture = Annotated[
    Path | None,
    typer.Option("--output", "-o", metavar="FILE", help="Draw the answer as well: .svg, .png or .pdf."),
]
Save = Annotated[
    Path | None, typer.Option("--save", metavar="FILE", help="Save what happens step by step as CSV, units in heads.")
]
SaveAs = Annotated[
    str | None,
    typer.Option("--save-as", metavar="NAME", help="Write a plan into the house file, as a scenario of this name."),
]


def one_aim(given: Mapping[str, object]) -> None:
    """See that one option says what to aim at.

    Parameters
    ----------
    given
        What each of the options was given; None or False where it was not.

    Raises
    ------
    InputError
        For none or several, by their names.
    """
    from ventplan.errors import InputError

    asked = [option for option, value in given.items() if value not in (None, False)]
    if len(asked) != 1:
        found = f"{' and '.join(asked)} are {len(asked)} aims" if asked else "no aim"
        raise InputError(
            f"{found}: say what to aim at with exactly one of --target OPENING, --room ROOM, --whole-house, "
            "--clear ROOM, --cool ROOM"
        )


def scenario_of(
    house: House, name: str | None, *, wind: str | None = None, outdoor: str | None = None, indoor: str | None = None
) -> Scenario:
    """The scenario of that name, the first if none, with the weather of the command line.

    Raises
    ------
    InputError
        For a name that the house does not have, or weather that cannot be read.
    """
    from ventplan.errors import unknown_name
    from ventplan.house.weather import odd_outdoor_air, read_temperature, read_wind

    if name is not None and name not in house.scenarios:
        raise unknown_name("scenario", name, house.scenarios)
    scenario = house.scenarios[name] if name is not None else house.first_scenario()
    outdoors = scenario.outdoors
    if wind is not None:
        outdoors = replace(outdoors, wind=read_wind(wind, outdoors.wind))
    if outdoor is not None:
        outdoors = replace(outdoors, temperature_c=read_temperature(outdoor))
    if odd := odd_outdoor_air(outdoors.temperature_c):
        warn(f"Caution: {odd}")
    temperatures = scenario.temperatures_c
    if indoor is not None:
        temperatures = dict.fromkeys(temperatures, read_temperature(indoor))
    return replace(scenario, outdoors=outdoors, temperatures_c=temperatures)
