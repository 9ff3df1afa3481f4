"""What limits an aim now, and what to change first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ventplan.advice.aims import Aim
from ventplan.advice.plans import Limit
from ventplan.house.records import House, Scenario
from ventplan.network import solve

MORE = 0.10
"""Share by which a thing is enlarged to see whether it limits [-]."""
SHOWN = 5
LEAST_GAIN = 0.002


def limits_of(house: House, scenario: Scenario, aim: Aim, value: float) -> tuple[Limit, ...]:
    """Change one thing at a time and see what the aim gains.

    Parameters
    ----------
    house, scenario
        The house and its state.
    aim
        What is judged.
    value
        The aim's value in that state.

    Returns
    -------
    tuple of Limit
        The largest gains first; changes that can be made (opening something fully, taking a screen off) and, where
        nothing can, a tenth more of something.
    """
    if value <= 0.0:
        return ()
    found = [
        Limit(change, aim.value(other, state, solve(other, state)) / value - 1.0)
        for change, other, state in _changes(house, scenario)
    ]
    found = [limit for limit in found if limit.gain > LEAST_GAIN]
    return tuple(sorted(found, key=lambda limit: -limit.gain)[:SHOWN])


def _changes(house: House, scenario: Scenario) -> Iterator[tuple[str, House, Scenario]]:
    for name, opening in house.openings.items():
        share = scenario.shares[name]
        if share <= 0.0:
            continue
        if opening.screen is not None and name in scenario.screened:
            yield f"take the screen off {name}", house, replace(scenario, screened=scenario.screened - {name})
        if opening.can_move and share < opening.full_share - 1e-9:
            fully = replace(scenario, shares={**scenario.shares, name: opening.full_share})
            yield f"open {name} fully", house, fully
        else:
            larger = replace(opening, discharge=opening.discharge * (1.0 + MORE))
            yield f"a tenth more free area at {name}", _with_opening(house, name, larger), scenario
    for placement in scenario.placements:
        fan = house.fans[placement.fan]
        stronger = replace(fan, thrust_n=fan.thrust_n * (1.0 + MORE), shutoff_pa=fan.shutoff_pa * (1.0 + MORE))
        yield (
            f"a tenth more thrust from {fan.name}",
            replace(house, fans={**house.fans, fan.name: stronger}),
            scenario,
        )


def _with_opening(house: House, name: str, opening: object) -> House:
    return replace(house, openings={**house.openings, name: opening})  # type: ignore[dict-item]
