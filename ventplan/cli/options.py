"""Arguments and options that commands share."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


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
