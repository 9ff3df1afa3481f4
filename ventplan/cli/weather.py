"""``ventplan weather``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ventplan.cli.options import Replace


def weather(
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE", help="Hourly table, such as a typical year, as CSV.", show_default=False),
    ],
    output: Annotated[
        Path, typer.Option("-o", "--output", metavar="CSV", help="Weather file to write.", show_default=False)
    ],
    columns: Annotated[
        str | None,
        typer.Option(
            "--columns",
            metavar="TEXT",
            help='Which column is which, by heading or by position from 1: "month=2, day=3, hour=4, temperature=7".',
        ),
    ] = None,
    month: Annotated[
        int | None, typer.Option("--month", metavar="N", min=1, max=12, help="Keep only this month.")
    ] = None,
    replace: Replace = False,
) -> None:
    """Make a weather file for night, tonight and place --over from an hourly table of another layout.

    Example: ventplan weather house_examples/weather_week.csv --month 7 -o july.csv
    """
    from ventplan.airing.typical_year import chosen_columns, typical_weather
    from ventplan.cli.terminal import say
    from ventplan.files import check_new_file, write_file

    check_new_file(output, replace=replace)
    text = typical_weather(file, columns=chosen_columns(columns) if columns else None, month=month)
    write_file(output, text)
    head, *rows = text.splitlines()
    say(f"Wrote {output}: {len(rows)} rows from {rows[0].split(',')[0]} to {rows[-1].split(',')[0]}.")
    say(f"Columns: {head}.")
