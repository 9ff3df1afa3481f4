"""``ventplan flow``."""

from __future__ import annotations

from ventplan.cli.options import AsJson, HouseFile, ScenarioName, ShowUnits
from ventplan.cli.question import OutdoorText, WindText


def flow(
    house: HouseFile,
    scenario: ScenarioName = None,
    wind: WindText = None,
    outdoor: OutdoorText = None,
    as_json: AsJson = False,
    show: ShowUnits = None,
) -> None:
    """Solve a house: air at every opening, in every room, by every fan, and what drives it.

    Example: ventplan flow house_examples/bungalow.yaml --scenario evening --wind "3 m/s from 240"
    """
    from ventplan.airing.fresh import fresh_air_changes
    from ventplan.airing.cautions import cautions
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.cli.question import open_house, scenario_of
    from ventplan.network import solve

    read = open_house(house)
    state = scenario_of(read, scenario, wind=wind, outdoor=outdoor)
    solved = solve(read, state)
    system = units_for(read, show)
    fresh = fresh_air_changes(read, state, solved)
    found = cautions(read, state, solved, units=system)
    if as_json:
        print_json("flow", {"flow": solved, "fresh_air_change_per_h": fresh, "state": state, "cautions": found})
        return
    from ventplan.show.flow_tables import flow_view

    screen = console()
    for part in flow_view(read, state, solved, fresh, found, system):
        screen.print(part)
