"""Arguments and options that commands share, and the scenario that they ask for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ventplan.cli.output import UnitSystem, warn
from ventplan.errors import InputError, InvalidValue, unknown_name

if TYPE_CHECKING:
    from ventplan.house.records import House, Scenario


AIM, LIMITS = "Place fans for (choose one)", "Fans and limits"
STATE, ANSWER = "State of the house", "Answer"
"""Panels of the help that several commands have."""


def flag(name: str, help_text: str, panel: str | None = None) -> Any:
    """An option without a value.

    Parameters
    ----------
    name
        Its name, with dashes.
    help_text
        What it does.
    panel
        Panel of the help that lists it.
    """
    return typer.Option(name, metavar="", help=help_text, rich_help_panel=panel)


def option(
    name: str, metavar: str, help_text: str, panel: str | None = None, *, short: str | None = None, **limits: Any
) -> Any:
    """An option with a value.

    Parameters
    ----------
    name
        Its name, with dashes.
    metavar
        What stands for the value in the help.
    help_text
        What it does.
    panel
        Panel of the help that lists it.
    short
        Its short name.
    limits
        More that `typer.Option` takes, such as the lowest value.
    """
    names = [name] if short is None else [name, short]
    return typer.Option(*names, metavar=metavar, help=help_text, rich_help_panel=panel, **limits)


HouseFile = Annotated[Path, typer.Argument(metavar="HOUSE", help="The house file (YAML).", show_default=False)]
ScenarioName = Annotated[
    str | None,
    option("--scenario", "NAME", "Scenario of the house file; the first if left out.", STATE),
]
WindText = Annotated[
    str | None,
    option(
        "--wind", "TEXT", 'Wind at the weather station instead of the file\'s, such as "3 m/s from 240" or calm.', STATE
    ),
]
OutdoorText = Annotated[
    str | None,
    option("--outdoor", "TEMP", "Outdoor temperature instead of the file's, such as 14C or 57F.", STATE),
]
IndoorText = Annotated[
    str | None,
    option("--indoor", "TEMP", "Temperature of every room instead of the file's, such as 26C or 79F.", STATE),
]
TargetAim = Annotated[
    str | None,
    option("--target", "OPENING", "Most air through this opening.", AIM),
]
RoomAim = Annotated[str | None, option("--room", "ROOM", "Most outdoor air in this room.", AIM)]
WholeHouseAim = Annotated[
    bool, flag("--whole-house", "Most outdoor air in all rooms, weighted by people or floor area.", AIM)
]
ClearAim = Annotated[
    str | None,
    option("--clear", "ROOM", "This room clear of smoke or smell soonest.", AIM),
]
CoolAim = Annotated[
    str | None,
    option("--cool", "ROOM", "This room coolest in the morning.", AIM),
]
NightWeather = Annotated[
    Path | None,
    option("--weather", "CSV", "For --cool: hourly weather of the night.", AIM),
]
MorningTime = Annotated[
    str,
    option("--by", "TIME", "For --cool: time in the morning, such as 6:30.", AIM),
]
FansAllowed = Annotated[list[str] | None, option("--fan", "FAN", "Use only this fan; may be repeated.", LIMITS)]
FansAtOnce = Annotated[
    int, option("--fans-at-once", "N", "How many fans may run together, 1 to 3.", LIMITS, min=1, max=3)
]
QuietLevel = Annotated[
    str | None, option("--quiet", "LEVEL", "Loudest sound of the fans where people sleep, such as 40 dB.", LIMITS)
]
KeepOut = Annotated[
    list[str] | None,
    option("--keep-out", "ROOM", "No fan in this room, and its doors and windows shut; may be repeated.", LIMITS),
]
KeepShut = Annotated[
    list[str] | None,
    option("--keep-shut", "OPENING", "This door or window stays shut; may be repeated.", LIMITS),
]
AsJson = Annotated[bool, flag("--json", "Print JSON in SI units instead of tables.", ANSWER)]
ShowUnits = Annotated[
    UnitSystem | None,
    typer.Option("--show", help="Units of the answer; the house file's own if left out.", rich_help_panel=ANSWER),
]
Replace = Annotated[bool, flag("--replace", "Overwrite a file that exists already.", ANSWER)]
Sure = Annotated[
    str | None,
    option(
        "--sure",
        "WORK",
        "Add 90 % intervals, and how likely each plan is the best. WORK is low, normal, high or a number of cases.",
        ANSWER,
    ),
]
Picture = Annotated[
    Path | None,
    option("--output", "FILE", "Draw the answer as well, into a .svg, .png or .pdf file.", ANSWER, short="-o"),
]
Save = Annotated[
    Path | None,
    option("--save", "FILE", "Save what happens step by step, as a CSV file with units.", ANSWER),
]
SaveAs = Annotated[
    str | None,
    option("--save-as", "NAME", "Write a plan into the house file, as a scenario of this name.", ANSWER),
]


def _parsed(text: str, kind: str, option: str) -> float:
    from ventplan.house.units import UnitError, parse_quantity

    try:
        return parse_quantity(text, kind)
    except UnitError as error:
        raise InputError([InvalidValue(option, error.found, error.allowed, error.hint)]) from None


def temperature_c(text: str, option: str) -> float:
    """A temperature that an option gives [°C].

    Parameters
    ----------
    text
        What was typed, with a unit or in °C.
    option
        Name of the option.

    Raises
    ------
    InputError
        For a text that is no temperature, or one outside -50 °C to 60 °C; says so in the unit that was typed.
    """
    value = _parsed(text, "temperature", option)
    if -50.0 <= value <= 60.0:
        return value
    allowed = "−58 °F to 140 °F" if text.strip().upper().endswith("F") else "−50 °C to 60 °C"
    hint = f"A number without a unit is in °C; write {text.strip()}F for °F" if text.strip()[-1:].isdigit() else ""
    raise InputError([InvalidValue(option, f'"{text}"', allowed, hint)])


def clock_h(text: str, option: str) -> float:
    """A time of day that an option gives [h].

    Parameters
    ----------
    text
        What was typed.
    option
        Name of the option.

    Raises
    ------
    InputError
        For anything but a time of day.
    """
    from pydantic_core import PydanticCustomError

    from ventplan.house.fields import to_clock

    try:
        return to_clock(text)
    except PydanticCustomError:
        raise InputError([InvalidValue(option, f'"{text}"', "a time of day such as 6:30, 22:30 or 10:30 pm")]) from None


def level_db(text: str, option: str) -> float:
    """A sound level that an option gives [dB(A)], with its unit or without.

    Parameters
    ----------
    text
        What was typed.
    option
        Name of the option.

    Raises
    ------
    InputError
        For a text that is no level, or one outside 0 to 120 dB.
    """
    plain = text.strip().replace(".", "", 1).isdigit()
    value = _parsed(f"{text} dB" if plain else text, "sound", option)
    if not 0.0 <= value <= 120.0:
        raise InputError([InvalidValue(option, f'"{text}"', "a sound level of 0 to 120 dB")])
    return value


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
    from ventplan.house.weather import odd_outdoor_air, read_wind

    if name is not None and name not in house.scenarios:
        raise unknown_name("scenario", name, house.scenarios)
    scenario = house.scenarios[name] if name is not None else house.first_scenario()
    outdoors = scenario.outdoors
    if wind is not None:
        outdoors = replace(outdoors, wind=read_wind(wind, outdoors.wind))
    if outdoor is not None:
        outdoors = replace(outdoors, temperature_c=temperature_c(outdoor, "--outdoor"))
    if odd := odd_outdoor_air(outdoors.temperature_c):
        warn(f"Caution: {odd}")
    temperatures = scenario.temperatures_c
    if indoor is not None:
        temperatures = dict.fromkeys(temperatures, temperature_c(indoor, "--indoor"))
    return replace(scenario, outdoors=outdoors, temperatures_c=temperatures)
