"""``ventplan survey``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ventplan.cli.options import AsJson, Replace, Sure


def survey(
    houses: Annotated[
        list[Path], typer.Argument(metavar="HOUSES...", help="House files, or folders of them.", show_default=False)
    ],
    output: Annotated[
        Path,
        typer.Option(
            "-o",
            "--output",
            metavar="TABLE",
            help="Table to write, .csv or .parquet. A journal beside it keeps finished rows.",
        ),
    ],
    scenario: Annotated[
        list[str] | None,
        typer.Option("--scenario", metavar="NAME", help="Only this scenario; may be repeated; all if left out."),
    ] = None,
    target: Annotated[
        str | None, typer.Option("--target", metavar="OPENING", help="Also place fans: most air through this opening.")
    ] = None,
    room: Annotated[
        str | None, typer.Option("--room", metavar="ROOM", help="Also place fans: most air change for this room.")
    ] = None,
    whole_house: Annotated[
        bool, typer.Option("--whole-house", help="Also place fans: most air change for the worst room.")
    ] = False,
    jobs: Annotated[int, typer.Option("--jobs", metavar="N", help="How many at once; -1 for all cores.")] = -1,
    replace: Replace = False,
    sure: Sure = None,
    as_json: AsJson = False,
) -> None:
    """Ask many houses the same question, across cores, and write the answers as a table.

    Stopped, it goes on where it was: rows that are done stand in TABLE.journal. A house with errors becomes a row
    that says so.

    Example: ventplan survey house_examples -o table.csv --scenario evening
    """
    from importlib.util import find_spec

    from ventplan.advice.survey_runner import BETWEEN_ERRORS, SurveyQuestion
    from ventplan.advice.survey_runner import survey as ask_all
    from ventplan.advice.uncertainty import draws_of
    from ventplan.cli.output import print_json, progress_line
    from ventplan.cli.terminal import say, warn

    question = SurveyQuestion(
        scenarios=tuple(scenario or ()),
        target=target,
        room=room,
        whole_house=whole_house,
        draws=draws_of(sure) if sure is not None else 0,
    )
    if jobs == -1 and find_spec("joblib") is None:
        warn("One core only, since joblib is not there: pip install 'ventplan[survey]'.")
        jobs = 1
    try:
        with progress_line("rows") as progress:
            answer = ask_all(houses, question, output=output, jobs=jobs, replace=replace, progress=progress)
    except KeyboardInterrupt:
        warn(f"Stopped. {output}.journal keeps the finished rows; run the same command again to continue.")
        raise typer.Exit(130) from None
    wrong = answer.errors
    if as_json:
        found = {"computed": answer.computed, "kept": answer.kept, "rows": answer.rows}
        print_json("survey", {"table": str(output), "journal": f"{output}.journal", **found})
        return
    say(f"{output}: {len(answer.rows)} rows, {answer.computed} worked out now, {answer.kept} from before.")
    if wrong:
        say(f"{len(wrong)} of them without an answer; the column `error` says why:")
    for row in wrong:
        first, *rest = str(row["error"]).split(BETWEEN_ERRORS)
        # An error in a file begins with the file's name already.
        where = f"{row['file']}, {row['scenario']}: " if row.get("scenario") else ""
        say(f"  {where}{first}" + (f" (and {len(rest)} more)" if rest else ""))
    say(f"{output}.journal keeps what is done: asked again, only houses that changed are worked out. Delete it freely.")
