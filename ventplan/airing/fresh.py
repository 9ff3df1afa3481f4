"""Fresh air of every room in one number."""

from __future__ import annotations

from ventplan.airing.age import age_of_air
from ventplan.airing.flows import air_paths
from ventplan.house.records import House, Scenario
from ventplan.network.flow import Flow


def fresh_air_changes(house: House, scenario: Scenario, flow: Flow) -> dict[str, float]:
    """Fresh air changes of every room, 1 / mean age of its air.

    Parameters
    ----------
    house, scenario
        The house and its state.
    flow
        Its solution.

    Returns
    -------
    dict
        By room [1/h]; 0 where no outdoor air comes.
    """
    rooms = age_of_air(air_paths(house, scenario, flow)).rooms
    return {name: 3600.0 / rooms[name].age_s if name in rooms else 0.0 for name in house.rooms}
