"""Cautions that an answer causes: what was computed, what to do, and who says so. None is shown without its
cause."""

from __future__ import annotations

from ventplan.airing import cautions_air, cautions_things
from ventplan.airing.caution import Caution
from ventplan.house.records import House, Scenario
from ventplan.house.units import System
from ventplan.network.flow import Flow

__all__ = ["Caution", "cautions"]


def cautions(
    house: House,
    scenario: Scenario,
    flow: Flow,
    *,
    units: System | None = None,
) -> tuple[Caution, ...]:
    """The cautions that a solved scenario causes.

    Parameters
    ----------
    house
        The house.
    scenario
        The scenario that was solved.
    flow
        Its solution.
    units
        Units of the sentences; the house file's own if None.

    Returns
    -------
    tuple of Caution
        In order of weight; empty where nothing calls for one.
    """
    system = units or house.show
    found = [
        *cautions_air.flames(house, scenario, flow, system),
        *cautions_air.garages(house, scenario, flow, system),
        *cautions_air.smoke(scenario, flow, system),
        *cautions_air.storm(house, scenario, flow, system),
        *cautions_things.falls(house, scenario, flow, system),
        *cautions_things.fans(house, scenario, system),
        *cautions_things.circuits(house, scenario, system),
        *cautions_air.warm_air(house, scenario, flow, system),
        *cautions_air.damp_air(scenario, flow, system),
        *cautions_things.noise(house, scenario, flow),
        *cautions_air.draughts(house, scenario, flow, system),
    ]
    return tuple(found)
