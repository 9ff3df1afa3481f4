"""``ventplan new``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def new(
    path: Annotated[Path, typer.Argument(metavar="HOUSE", help="Where to write the starter file.", show_default=False)],
) -> None:
    """Write a commented starter file to fill in.

    Example: ventplan new my_house.yaml
    """
    from ventplan.errors import InputError
    from ventplan.house import starter_text

    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(starter_text())
    except FileExistsError:
        raise InputError(f"{path} exists already; choose another name, or move it away") from None
    except OSError as error:
        raise InputError(f"{path} cannot be written: {error.strerror}") from None
    print(f"Wrote {path}. Fill in your rooms and openings, then run: ventplan check {path}")
