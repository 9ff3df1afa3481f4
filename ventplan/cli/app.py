"""The list of commands.

A command is a function; its imports beyond ``typer`` stand inside the function, so
that ``ventplan --help`` and every command pay only for what they use.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from typing import Annotated, Any, get_type_hints

import typer

from ventplan.cli.clear import clear
from ventplan.cli.flow import compare, flow, setback
from ventplan.cli.house import check, draw, live, new
from ventplan.cli.measure import measure
from ventplan.cli.night import night, weather
from ventplan.cli.options import flag
from ventplan.cli.place import place
from ventplan.cli.rank import RANK_EXAMPLE, rank
from ventplan.cli.report import report
from ventplan.cli.survey import survey
from ventplan.cli.tonight import tonight
from ventplan.cli.verify import FIT_EXAMPLE, VERIFY_EXAMPLE, fit, verify

app = typer.Typer(
    name="ventplan",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Plan how to move outdoor air through a house with portable fans, windows and doors.",
    epilog="Exit codes: 0 an answer, 2 an error in the input or in writing a file, 3 a house without an answer.",
)


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        typer.echo(f"ventplan {version('ventplan')}")
        raise typer.Exit


@app.callback()
def _ventplan(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, metavar="", help="Show the version.")
    ] = False,
) -> None:
    pass


def reads_house(command: Callable[..., None]) -> Callable[..., None]:
    """A command that reads a house file, with the option that lets this file name others outside its own folder."""
    allow = Annotated[bool, flag("--allow-outside", "Let the house file name files outside its own folder.")]
    hints = get_type_hints(command, include_extras=True)
    signature = inspect.signature(command)
    parameters = [p.replace(annotation=hints[p.name]) for p in signature.parameters.values()]
    parameters.append(
        inspect.Parameter("allow_outside", inspect.Parameter.KEYWORD_ONLY, default=False, annotation=allow)
    )

    @functools.wraps(command)
    def run(*arguments: Any, allow_outside: bool = False, **options: Any) -> None:
        if not allow_outside:
            command(*arguments, **options)
            return
        from ventplan.house.fans import outside_allowed

        token = outside_allowed.set(True)
        try:
            command(*arguments, **options)
        finally:
            outside_allowed.reset(token)

    run.__signature__ = signature.replace(parameters=parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {**hints, "allow_outside": allow}
    return run


app.command()(new)
COMMANDS: list[Callable[..., None]] = [
    live, check, draw, flow, place, setback, compare, tonight, night, clear, report, survey,
]  # fmt: skip
for command in COMMANDS:
    app.command()(reads_house(command))
app.command()(weather)
app.add_typer(measure, name="measure")
app.command(epilog=RANK_EXAMPLE)(reads_house(rank))
app.command(epilog=FIT_EXAMPLE)(reads_house(fit))
app.command(epilog=VERIFY_EXAMPLE)(reads_house(verify))
