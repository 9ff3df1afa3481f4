"""How far the doubts about the fans' own figures carry through to the flows of the house."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

from ventplan.advice.compare import outdoor_air
from ventplan.house.records import House, Scenario
from ventplan.network import Flow, solve

HOUSE = ""
"""Key of the air from outdoors into the whole house."""
COVERAGE = 2.0
"""Standard uncertainties in a half-width of 95 % (JCGM 100:2008, G.6.6)."""


def fan_doubts(house: House, scenario: Scenario, flow: Flow) -> Mapping[str, float]:
    """Half-width of 95 % of each flow from what is not known about the fans' thrust, flow and spread.

    Parameters
    ----------
    house, scenario
        The house and its state.
    flow
        Its solution.

    Returns
    -------
    Mapping
        By opening, and under `HOUSE` for the air from outdoors [m3/s]; empty where no fan runs.

    Notes
    -----
    u^2 = sum over figures of (f(x + u(x)) - f(x))^2, each figure moved alone by its standard uncertainty, times
    two (JCGM 100:2008, 5.1.2 with finite differences). Windows, leaks, wind and the model itself add to it.
    """
    squares: dict[str, float] = {}
    for other in _moved_fans(house, scenario):
        changed = solve(other, scenario)
        for name, air in flow.openings.items():
            step = changed.openings[name].net_m3_s - air.net_m3_s
            squares[name] = squares.get(name, 0.0) + step**2
        step = outdoor_air(changed) - outdoor_air(flow)
        squares[HOUSE] = squares.get(HOUSE, 0.0) + step**2
    return {name: COVERAGE * math.sqrt(square) for name, square in squares.items()}


def _moved_fans(house: House, scenario: Scenario) -> Iterator[House]:
    for name in dict.fromkeys(p.fan for p in scenario.placements):
        fan = house.fans[name]
        for moved in (
            replace(
                fan,
                thrust_n=fan.thrust_n * (1.0 + fan.thrust_error),
                shutoff_pa=fan.shutoff_pa * (1.0 + fan.thrust_error),
            ),
            replace(fan, flow_m3_s=fan.flow_m3_s * (1.0 + fan.flow_error)),
            replace(fan, spread=fan.spread * (1.0 + fan.spread_error)),
        ):
            yield replace(house, fans={**house.fans, name: moved})
