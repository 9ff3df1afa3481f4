"""What one scenario does, several side by side, or one fan at every distance: ``flow``, ``compare``, ``setback``."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from ventplan.cli.options import (
    ANSWER,
    STATE,
    AsJson,
    HouseFile,
    IndoorText,
    OutdoorText,
    Picture,
    Replace,
    ScenarioName,
    ShowUnits,
    Sure,
    WindText,
    flag,
    option,
    scenario_of,
)
from ventplan.cli.output import check_picture, save_picture


def flow(
    house: HouseFile,
    scenario: ScenarioName = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    indoor: IndoorText = None,
    details: Annotated[
        bool, flag("--details", "Add pressures, what drives each flow, total air exchange, and comfort.", ANSWER)
    ] = False,
    show_ways: Annotated[bool, flag("--ways", "Add the main paths of the air, opening by opening.", ANSWER)] = False,
    sure: Sure = None,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Compute the air flow through every opening and room, and what each fan does.

    Example: ventplan flow house_examples/bungalow.yaml --scenario evening --wind "3 m/s from 240"
    """
    from ventplan.airing.age import outdoor_air_change_rates_per_h, purging_air_change_rates_per_h, supply_of_rooms
    from ventplan.airing.comfort import comfort_of_people
    from ventplan.airing.hazards import find_hazards
    from ventplan.cli.output import console, print_json, progress_line, units_for
    from ventplan.house import read_house
    from ventplan.network import solve

    read = read_house(house)
    state = scenario_of(read, scenario, wind=wind, outdoor=outdoor, indoor=indoor)
    solved = solve(read, state)
    system = units_for(read, show)
    outdoor_air = outdoor_air_change_rates_per_h(read, state, solved)
    supply = supply_of_rooms(read, state, solved)
    purging = purging_air_change_rates_per_h(read, state, solved)
    found = find_hazards(read, state, solved)
    people = comfort_of_people(read, state, solved)
    intervals = None
    if sure is not None:
        from ventplan.advice.intervals import interval
        from ventplan.advice.uncertainty import draws_of

        draws = draws_of(sure)
        with progress_line("how sure") as progress:
            intervals = interval(read, state, draws=draws, progress=progress)
    if as_json:
        result: dict[str, object] = {
            "flow": solved,
            "outdoor_air_change_per_h": outdoor_air,
            "effective_air_change_per_h": purging,
            "supply": supply,
            "people_at": people,
            "state": state,
        }
        result["cautions"] = found
        if show_ways:
            from ventplan.network.flow import flow_paths

            result["ways"] = flow_paths(solved)
        if intervals is not None:
            result["sure"] = {"draws": intervals.draws, "solved": intervals.solved, "intervals": intervals.rows()}
        print_json("flow", result)
        return
    from ventplan.show.flow_tables import flow_details_view, flow_view

    screen = console()
    for part in flow_view(read, state, solved, outdoor_air, supply, found, system, details=details):
        screen.print(part)
    if details:
        for part in flow_details_view(read, state, solved, supply, purging, people, system):
            screen.print(part)
    if show_ways:
        from ventplan.network.flow import flow_paths
        from ventplan.show.flow_tables import ways_view

        for part in ways_view(flow_paths(solved)):
            screen.print(part)
    if intervals is not None:
        from ventplan.show.comparison_tables import flow_sure_view

        for part in flow_sure_view(state, solved, intervals, system):
            screen.print(part)


def compare(
    house: HouseFile,
    scenarios: Annotated[
        list[str],
        typer.Argument(metavar="SCENARIO...", help="Two or more scenarios of the house file.", show_default=False),
    ],
    wind: WindText = None,
    outdoor: OutdoorText = None,
    output: Picture = None,
    replace: Replace = False,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Compare scenarios side by side, and say what explains the difference from the first.

    Example: ventplan compare house_examples/bungalow.yaml evening "evening, no screens"
    """
    from ventplan.advice import compare as put_side_by_side
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.errors import InputError
    from ventplan.house import read_house

    check_picture(output, replace=replace)
    read = read_house(house)
    if len(scenarios) < 2:
        others = ", ".join(repr(name) for name in read.scenarios if name not in scenarios) or "none yet"
        raise InputError(f"compare takes two or more scenarios, and found {scenarios[0]!r} alone; others: {others}")
    states = [scenario_of(read, name, wind=wind, outdoor=outdoor) for name in scenarios]
    answer = put_side_by_side(read, states)

    def figure() -> Any:
        from ventplan.show.charts import comparison_chart

        return comparison_chart(answer, title=f"{read.name}: {len(states)} scenarios", system=units_for(read, show))

    if as_json:
        print_json("compare", answer)
        save_picture(output, figure, quiet=True)
        return
    from ventplan.airing.age import supply_of_rooms
    from ventplan.show.comparison_tables import compare_view
    from ventplan.show.flow_tables import MOSTLY_ASSUMED

    screen = console()
    assumed = [
        room
        for state, one in zip(states, answer.scenarios, strict=True)
        for room, air in supply_of_rooms(read, state, one.flow).items()
        if air.assumed > MOSTLY_ASSUMED
    ]
    for part in compare_view(read, states, answer, list(dict.fromkeys(assumed)), units_for(read, show)):
        screen.print(part)
    save_picture(output, figure, quiet=False)


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
