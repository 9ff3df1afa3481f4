"""``ventplan new``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ventplan.cli.options import Replace


def new(
    path: Annotated[Path, typer.Argument(metavar="HOUSE", help="Where to write the starter file.", show_default=False)],
    replace: Replace = False,
) -> None:
    """Write a commented starter file to fill in.

    Example: ventplan new my_house.yaml
    """
    from ventplan.cli.terminal import say
    from ventplan.files import check_new_file, write_file
    from ventplan.house import starter_text

    check_new_file(path, replace=replace)
    write_file(path, starter_text())
    say(f"Wrote {path}. Fill in your rooms and openings, then run: ventplan check {path}")
