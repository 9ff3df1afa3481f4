"""``ventplan flow``."""

from __future__ import annotations

from ventplan.cli.options import AsJson, HouseFile, ScenarioName, ShowUnits
from ventplan.cli.question import IndoorText, OutdoorText, WindText


def flow(
    house: HouseFile,
    scenario: ScenarioName = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    indoor: IndoorText = None,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Solve a house: air at every opening, in every room, by every fan, and what drives it.

    Example: ventplan flow house_examples/bungalow.yaml --scenario evening --wind "3 m/s from 240"
    """
    from ventplan.airing.cautions import cautions
    from ventplan.airing.purging import effective_air_changes
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.cli.question import open_house, scenario_of
    from ventplan.network import solve

    read = open_house(house)
    state = scenario_of(read, scenario, wind=wind, outdoor=outdoor, indoor=indoor)
    solved = solve(read, state)
    system = units_for(read, show)
    effective = effective_air_changes(read, state, solved)
    found = cautions(read, state, solved, units=system)
    if as_json:
        print_json("flow", {"flow": solved, "effective_air_change_per_h": effective, "state": state, "cautions": found})
        return
    from ventplan.show.flow_tables import flow_view

    screen = console()
    for part in flow_view(read, state, solved, effective, found, system):
        screen.print(part)
