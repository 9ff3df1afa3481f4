"""``ventplan flow``."""

from __future__ import annotations

from typing import Annotated

import typer

from ventplan.cli.options import AsJson, HouseFile, ScenarioName, ShowUnits, Sure
from ventplan.cli.question import IndoorText, OutdoorText, WindText


def flow(
    house: HouseFile,
    scenario: ScenarioName = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    indoor: IndoorText = None,
    details: Annotated[
        bool, typer.Option("--details", help="Add pressures, what drives each flow, total air exchange, and comfort.")
    ] = False,
    show_ways: Annotated[
        bool, typer.Option("--ways", help="Add the main paths of the air, opening by opening.")
    ] = False,
    sure: Sure = None,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Compute the air through every opening and room of a house, and what each fan does.

    Example: ventplan flow house_examples/bungalow.yaml --scenario evening --wind "3 m/s from 240"
    """
    from ventplan.airing.age import outdoor_air_change_rates_per_h
    from ventplan.airing.air_paths import purging_air_change_rates_per_h
    from ventplan.airing.comfort import comfort_of_people
    from ventplan.airing.hazards import find_hazards
    from ventplan.cli.output import console, print_json, progress_line, units_for
    from ventplan.cli.question import open_house, scenario_of
    from ventplan.network import solve

    read = open_house(house)
    state = scenario_of(read, scenario, wind=wind, outdoor=outdoor, indoor=indoor)
    solved = solve(read, state)
    system = units_for(read, show)
    outdoor_air = outdoor_air_change_rates_per_h(read, state, solved)
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
            "people_at": people,
            "state": state,
        }
        result["cautions"] = found
        if show_ways:
            from ventplan.network.flow import ways

            result["ways"] = ways(solved)
        if intervals is not None:
            result["sure"] = {"draws": intervals.draws, "solved": intervals.solved, "intervals": intervals.rows()}
        print_json("flow", result)
        return
    from ventplan.show.cautions import cautions_of
    from ventplan.show.flow_tables import flow_details_view, flow_view

    screen = console()
    for part in flow_view(read, state, solved, outdoor_air, cautions_of(found, system), system, details=details):
        screen.print(part)
    if details:
        for part in flow_details_view(read, state, solved, purging, people, system):
            screen.print(part)
    if show_ways:
        from ventplan.network.flow import ways
        from ventplan.show.flow_tables import ways_view

        for part in ways_view(ways(solved)):
            screen.print(part)
    if intervals is not None:
        from ventplan.show.comparison_tables import flow_sure_view

        for part in flow_sure_view(state, solved, intervals, system):
            screen.print(part)
