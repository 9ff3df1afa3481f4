"""Commands about the house file itself: ``ventplan new``, ``check``, ``draw`` and ``live``."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.options import (
    ANSWER,
    AsJson,
    HouseFile,
    IndoorText,
    OutdoorText,
    Replace,
    ScenarioName,
    ShowUnits,
    WindText,
    flag,
    option,
    scenario_of,
)
from ventplan.cli.output import UnitSystem
from ventplan.errors import InputError

if TYPE_CHECKING:
    from ventplan.show.plan_notes import Tint


def new(
    path: Annotated[Path, typer.Argument(metavar="HOUSE", help="Where to write the starter file.", show_default=False)],
    replace: Replace = False,
    show: Annotated[UnitSystem, typer.Option("--show", help="Units of the starter file.")] = UnitSystem.si,
) -> None:
    """Write a commented house file to fill in.

    Example: ventplan new my_house.yaml
    """
    from ventplan.cli.output import say
    from ventplan.files import check_new_file, write_file
    from ventplan.house import starter_text

    check_new_file(path, replace=replace)
    write_file(path, starter_text("us" if show == UnitSystem.us else "si"))
    say(f"Wrote {path}. Fill in your rooms and openings, then run: ventplan check {path}")


def check(
    house: HouseFile,
    details: Annotated[
        bool, flag("--details", "List rooms, openings, fans, scenarios and every assumed value.", ANSWER)
    ] = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Check a house file: list every error, or what is in it, unusual values and what was assumed.

    Example: ventplan check house_examples/bungalow.yaml
    """
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.house import read_house

    read = read_house(house)
    if as_json:
        print_json("check", read)
        return
    from ventplan.show.house_tables import check_view

    screen = console()
    for part in check_view(read, units_for(read, show), details=details):
        screen.print(part)


class FloorColours(StrEnum):
    """What the colours of the floors and the number in each room show."""

    air_change = "air-change"
    age = "age"
    temperature = "temperature"
    total_exchange = "total-exchange"
    none = "none"

    @property
    def tint(self) -> Tint | None:
        """As ``ventplan.show.plan`` names it."""
        from ventplan.show.plan_notes import TINTS

        return next((tint for tint in TINTS if tint == self.value), None)


def draw(
    house: HouseFile,
    output: Annotated[
        Path,
        option("--output", "FILE", "Picture to write: .svg, .png or .pdf.", short="-o", show_default=False),
    ],
    scenario: ScenarioName = None,
    tint: Annotated[
        FloorColours,
        typer.Option("--tint", help="Colour the floors by this; air-change is the outdoor air change rate."),
    ] = FloorColours.air_change,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    indoor: IndoorText = None,
    replace: Replace = False,
    show: ShowUnits = None,
) -> None:
    """Draw the floor plan to scale, with fans, jets, and the paths and flows of the air.

    Example: ventplan draw house_examples/bungalow.yaml --scenario evening -o plan.svg
    """
    from ventplan.cli.output import check_picture, say, units_for
    from ventplan.house import read_house
    from ventplan.network import solve
    from ventplan.show.paper import save
    from ventplan.show.plan import draw_plan

    check_picture(output, replace=replace)
    read = read_house(house)
    state = scenario_of(read, scenario, wind=wind, outdoor=outdoor, indoor=indoor)
    figure = draw_plan(read, state, solve(read, state), tint=tint.tint, show=units_for(read, show))
    save(figure, output)
    say(f"Drew {read.name}, scenario {state.name!r}, to {output}.")


def live(
    house: HouseFile,
    scenario: ScenarioName = None,
    port: Annotated[
        int | None,
        option("--port", "N", "Port of the page; one that depends on the house file if left out.", min=1024, max=65535),
    ] = None,
    no_open: Annotated[bool, flag("--no-open", "Do not open the browser.")] = False,
) -> None:
    """Open the plan in the browser: draw rooms, drag fans, open windows, and see how the air changes.

    If the house file does not exist yet, you draw the house, and saving writes the file. Only this computer can open
    the page.

    Example: ventplan live house_examples/bungalow.yaml --scenario evening
    """
    try:
        from ventplan.live.server import serve
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in ("starlette", "uvicorn"):
            raise
        raise InputError(
            "the live page needs starlette and uvicorn, which are not installed; install them with: "
            "pip install 'ventplan[live]'"
        ) from None
    serve(house, scenario=scenario, port=port, open_page=not no_open)
