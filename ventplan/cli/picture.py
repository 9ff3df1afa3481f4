"""The option that draws an answer as well, shared by commands whose answer is a curve."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

Picture = Annotated[
    Path | None,
    typer.Option(
        "--output", "-o", metavar="FILE", help="Draw the answer as well: .svg, .png or .pdf, over an older one."
    ),
]


def check_picture(output: Path | None) -> None:
    """Refuse a file name that is no picture's, before any long work.

    Raises
    ------
    InputError
        For any other ending.
    """
    if output is not None:
        from ventplan.show.paper import format_of

        format_of(output)


def save_picture(output: Path | None, figure: Callable[[], Any], *, quiet: bool) -> None:
    """Draw a picture into a file and say so; nothing where none was asked for.

    Parameters
    ----------
    output
        The file, or None.
    figure
        Makes the figure; called only where there is a file to write, since it loads the plotting library.
    quiet
        True where only JSON may be printed.
    """
    if output is None:
        return
    from ventplan.show.paper import save

    save(figure(), output)
    if not quiet:
        print(f"Drew it to {output}.")
