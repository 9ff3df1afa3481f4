"""The option that draws an answer as well, shared by commands whose answer is a curve."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from ventplan.cli.terminal import say

Picture = Annotated[
    Path | None,
    typer.Option("--output", "-o", metavar="FILE", help="Draw the answer as well: .svg, .png or .pdf."),
]


def check_picture(output: Path | None, *, replace: bool) -> None:
    """Refuse a file name that is no picture's, or that is taken, before any long work.

    Raises
    ------
    InputError
        For any other ending, or where `check_new_file` refuses.
    """
    if output is not None:
        from ventplan.files import check_new_file
        from ventplan.show.paper import format_of

        format_of(output)
        check_new_file(output, replace=replace)


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
        say(f"Drew it to {output}.")
