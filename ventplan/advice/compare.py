"""Scenarios side by side, and what explains the difference."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ventplan.airing.air_paths import purging_air_change_rates_per_h
from ventplan.airing.hazard import Caution
from ventplan.airing.hazards import cautions
from ventplan.errors import unknown_name
from ventplan.house.records import House, Scenario
from ventplan.house.units import System
from ventplan.network import Flow, solve


@dataclass(frozen=True)
class Compared:
    """One scenario of a comparison.

    Attributes
    ----------
    scenario
        Its name.
    flow
        Its solution.
    effective_air_change_per_h
        Purging flow over volume, by room [1/h]: air in circles does not count.
    cautions
        What it causes.
    """

    scenario: str
    flow: Flow
    effective_air_change_per_h: Mapping[str, float]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class Difference:
    """What one kind of change explains of the difference between the first scenario and another.

    Attributes
    ----------
    scenario
        The other scenario.
    change
        What is changed from the first, in plain words.
    flow_m3_s
        Change of the house's air from outdoors when this alone is changed [m3/s].
    """

    scenario: str
    change: str
    flow_m3_s: float


@dataclass(frozen=True)
class Comparison:
    """Scenarios side by side; the first is what the others are held against."""

    scenarios: tuple[Compared, ...]
    differences: tuple[Difference, ...]


def outdoor_air(flow: Flow) -> float:
    """Air that the whole house takes in from outdoors [m3/s]."""
    return sum(room.outdoor_m3_s for room in flow.rooms.values())


def compare(house: House, names: Sequence[str | Scenario], *, units: System | None = None) -> Comparison:
    """Solve scenarios and put them side by side.

    Parameters
    ----------
    house
        The house.
    names
        Scenarios or their names, two or more for a comparison.
    units
        Units of the cautions; the house file's own if None.

    Returns
    -------
    Comparison
        Their solutions, and what explains the differences from the first: each kind of change (openings, screens,
        fans, weather) made alone.

    Raises
    ------
    InputError
        For a name that the house does not have.
    """
    scenarios = [_find(house, name) for name in names]
    compared = []
    for scenario in scenarios:
        flow = solve(house, scenario)
        compared.append(_compared(house, scenario, flow, units))
    first = scenarios[0]
    before = outdoor_air(compared[0].flow)
    differences = [
        Difference(other.name, change, outdoor_air(solve(house, state)) - before)
        for other in scenarios[1:]
        for change, state in _steps(first, other)
    ]
    return Comparison(tuple(compared), tuple(differences))


def _compared(house: House, scenario: Scenario, flow: Flow, units: System | None) -> Compared:
    changes = purging_air_change_rates_per_h(house, scenario, flow)
    return Compared(scenario.name, flow, changes, cautions(house, scenario, flow, units=units))


def _find(house: House, name: str | Scenario) -> Scenario:
    if isinstance(name, Scenario):
        return name
    if name not in house.scenarios:
        raise unknown_name("scenario", name, house.scenarios)
    return house.scenarios[name]


def _steps(first: Scenario, other: Scenario) -> list[tuple[str, Scenario]]:
    steps = []
    if dict(first.shares) != dict(other.shares):
        opened = [n for n, s in other.shares.items() if s > first.shares[n]]
        shut = [n for n, s in other.shares.items() if s < first.shares[n]]
        parts = [f"open {', '.join(opened)}"] if opened else []
        parts += [f"shut {', '.join(shut)}"] if shut else []
        steps.append(("; ".join(parts), replace(first, shares=other.shares)))
    if first.screened != other.screened:
        used = {name for name, share in first.shares.items() if share > 0.0}
        on, off = (sorted(names & used) for names in (other.screened - first.screened, first.screened - other.screened))
        parts = [f"screens off at {', '.join(off)}"] if off else []
        parts += [f"screens on at {', '.join(on)}"] if on else []
        steps += [("; ".join(parts), replace(first, screened=other.screened))] if parts else []
    if first.placements != other.placements:
        steps.append(("fans as in " + other.name, _with_fans(first, other)))
    if first.outdoors != other.outdoors or dict(first.temperatures_c) != dict(other.temperatures_c):
        weather = replace(first, outdoors=other.outdoors, temperatures_c=other.temperatures_c)
        steps.append(("weather and temperatures as in " + other.name, weather))
    return steps


def _with_fans(first: Scenario, other: Scenario) -> Scenario:
    """The first scenario with the other's fans, their own openings opened as there."""
    blown = {p.opening: other.shares[p.opening] for p in other.placements}
    return replace(first, placements=other.placements, shares={**first.shares, **blown})
