"""``ventplan setback``."""

from __future__ import annotations

from typing import Annotated, Any

from ventplan.cli.options import (
    ANSWER,
    STATE,
    AsJson,
    HouseFile,
    OutdoorText,
    Picture,
    Replace,
    ShowUnits,
    Sure,
    WindText,
    flag,
    option,
    scenario_of,
)
from ventplan.cli.output import check_picture, save_picture


def setback(
    house: HouseFile,
    fan: Annotated[str, option("--fan", "FAN", "The fan.", show_default=False)],
    opening: Annotated[str, option("--opening", "OPENING", "The opening that it blows at.", show_default=False)],
    stands_in: Annotated[str | None, option("--from", "PLACE", "The room that the fan stands in, or outdoors.")] = None,
    scenario: Annotated[
        str | None,
        option(
            "--scenario",
            "NAME",
            "Scenario of the house file; if left out, the first with this fan there, or with other windows open.",
            STATE,
        ),
    ] = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    sure: Sure = None,
    details: Annotated[bool, flag("--details", "Show the curve at twice as many points.", ANSWER)] = False,
    output: Picture = None,
    replace: Replace = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Show how the air of the house changes with the fan's distance from an opening, screens on and off.

    Example: ventplan setback house_examples/hallway_rig.yaml --fan "box fan" --opening "doorway"
    """
    from ventplan.advice import setback_curve
    from ventplan.advice.setback import usual_state
    from ventplan.cli.output import console, print_json, progress_line, units_for
    from ventplan.house import read_house

    check_picture(output, replace=replace)
    read = read_house(house)
    state = scenario_of(read, scenario or usual_state(read, fan, opening).name, wind=wind, outdoor=outdoor)
    answer = setback_curve(read, state, fan=fan, opening=opening, stands_in=stands_in)
    intervals = None
    if sure is not None:
        from ventplan.advice.setback import sure_setback

        with progress_line("how sure") as progress:
            intervals = sure_setback(read, state, answer, work=sure, progress=progress)

    def figure() -> Any:
        from ventplan.show.charts import setback_chart

        return setback_chart(answer, intervals or (), system=units_for(read, show))

    if as_json:
        result = {"answer": answer}
        print_json("setback", result if intervals is None else {**result, "sure": intervals})
        save_picture(output, figure, quiet=True)
        return
    from ventplan.show.comparison_tables import setback_view

    screen = console()
    for part in setback_view(read, answer, units_for(read, show), details=details):
        screen.print(part)
    if intervals is not None:
        from ventplan.show.comparison_tables import setback_sure_view

        for part in setback_sure_view(intervals, units_for(read, show)):
            screen.print(part)
    save_picture(output, figure, quiet=False)
