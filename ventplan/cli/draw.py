"""``ventplan draw``."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.options import HouseFile, Replace, ScenarioName, ShowUnits
from ventplan.cli.question import IndoorText, OutdoorText, WindText

if TYPE_CHECKING:
    from ventplan.show.plan_notes import Tint


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
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="Picture to write: .svg, .png or .pdf.",
            show_default=False,
        ),
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
    """Draw the floor plan to scale: fans, jets, and the way of the air with its flows and readings.

    Example: ventplan draw house_examples/bungalow.yaml --scenario evening -o plan.svg
    """
    from ventplan.cli.output import units_for
    from ventplan.cli.picture import check_picture
    from ventplan.cli.question import open_house, scenario_of
    from ventplan.cli.terminal import say
    from ventplan.network import solve
    from ventplan.show.paper import save
    from ventplan.show.plan import draw_plan

    check_picture(output, replace=replace)
    read = open_house(house)
    state = scenario_of(read, scenario, wind=wind, outdoor=outdoor, indoor=indoor)
    figure = draw_plan(read, state, solve(read, state), tint=tint.tint, show=units_for(read, show))
    save(figure, output)
    say(f"Drew {read.name}, scenario {state.name!r}, to {output}.")
