"""``ventplan survey``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ventplan.cli.options import AsJson, Replace, RoomAim, Sure, TargetAim, WholeHouseAim, option


def survey(
    houses: Annotated[
        list[Path], typer.Argument(metavar="HOUSES...", help="House files, or folders of them.", show_default=False)
    ],
    output: Annotated[
        Path,
        option(
            "--output",
            "TABLE",
            "Table to write, .csv or .parquet. A journal beside it keeps finished rows.",
            short="-o",
        ),
    ],
    scenario: Annotated[
        list[str] | None,
        option("--scenario", "NAME", "Only this scenario; may be repeated; all if left out."),
    ] = None,
    target: TargetAim = None,
    room: RoomAim = None,
    whole_house: WholeHouseAim = False,
    jobs: Annotated[int, option("--jobs", "N", "How many at once; -1 for all cores.")] = -1,
    replace: Replace = False,
    sure: Sure = None,
    as_json: AsJson = False,
) -> None:
    """Ask the same question of many houses, on all cores, and write the answers as a table.

    A house with errors becomes a row that says so. If you stop the command, run it again to continue: finished rows
    are kept in TABLE.journal.

    Example: ventplan survey house_examples -o table.csv --scenario evening
    """
    from importlib.util import find_spec

    from ventplan.advice.survey_runner import BETWEEN_ERRORS, SurveyQuestion
    from ventplan.advice.survey_runner import survey as ask_all
    from ventplan.advice.uncertainty import draws_of
    from ventplan.cli.output import print_json, progress_line, say, warn

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
