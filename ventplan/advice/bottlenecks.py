"""What limits an objective now, and what to change first.

Small changes of figures come from the exact derivatives of the solution (the adjoint, one more solve for all of
them); changes that a person makes in one go, opening something fully or taking a screen off, are solved in full.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ventplan.advice.objective import Objective, occupancy_weights
from ventplan.advice.plan import Bottleneck, Change
from ventplan.airing.age import balance_inverse
from ventplan.airing.air_paths import air_paths, doorway_mixing, mixing_slope
from ventplan.house.records import OUTDOORS, House, Opening, Scenario
from ventplan.network import Flow, solve
from ventplan.network.answer import solve_arrays
from ventplan.network.assemble import Assembled
from ventplan.network.flow import OpeningFlow
from ventplan.network.solver import FlowSum, adjoint, net_flow

Floats = NDArray[np.float64]

FIGURE_STEP = 0.10
"""Share by which a figure is increased to find how much it limits the objective [-]."""
MAX_BOTTLENECKS = 5
MIN_GAIN = 0.005


def bottlenecks_of(
    house: House, scenario: Scenario, objective: Objective, value: float, flow: Flow
) -> tuple[Bottleneck, ...]:
    """What the objective would gain by each change.

    Parameters
    ----------
    house, scenario
        The house and its state.
    objective
        What is judged.
    value
        The objective's steering value in that state.
    flow
        The solved state.

    Returns
    -------
    tuple of Bottleneck
        The largest gains first.
    """
    if value <= 0.0:
        return ()
    found = [*_in_one_go(house, scenario, objective, value), *derivatives(house, scenario, objective, flow)]
    found = [limit for limit in found if limit.gain > MIN_GAIN]
    return tuple(sorted(found, key=lambda limit: -limit.gain)[:MAX_BOTTLENECKS])


def _in_one_go(house: House, scenario: Scenario, objective: Objective, value: float) -> Iterator[Bottleneck]:
    """Changes that a person makes in one go, each solved in full."""
    for name, opening in house.openings.items():
        share = scenario.shares[name]
        if share <= 0.0:
            continue
        states = {}
        if opening.screen is not None and name in scenario.screened:
            states[Change.SCREEN_OFF] = replace(scenario, screened=scenario.screened - {name})
        if opening.can_move and share < opening.full_share - 1e-9:
            states[Change.OPEN_FULLY] = replace(scenario, shares={**scenario.shares, name: opening.full_share})
        for change, state in states.items():
            yield Bottleneck(change, (name,), objective.value(house, state, solve(house, state)) / value - 1.0)
        if _is_blown(scenario, name):
            # A wider opening catches more of a jet and lets more air back in around it: no small change of one figure.
            wider = replace(house, openings={**house.openings, name: _widened(opening)})
            gain = objective.value(wider, scenario, solve(wider, scenario)) / value - 1.0
            yield Bottleneck(Change.LARGER, (name,), gain)


def _is_blown(scenario: Scenario, opening: str) -> bool:
    """True where a fan blows at the opening from a setback."""
    return any(p.opening == opening and not p.sealed for p in scenario.placements)


def _widened(opening: Opening) -> Opening:
    """The opening a tenth wider, about the same middle."""
    (x1, y1), (x2, y2) = opening.start, opening.end
    dx, dy = (x2 - x1) * FIGURE_STEP / 2.0, (y2 - y1) * FIGURE_STEP / 2.0
    return replace(opening, start=(x1 - dx, y1 - dy), end=(x2 + dx, y2 + dy))


def derivatives(house: House, scenario: Scenario, objective: Objective, flow: Flow) -> Iterator[Bottleneck]:
    """A tenth more of each opening's free area and each fan's thrust, by the exact derivatives of the solution.

    Parameters
    ----------
    house, scenario
        The house and its state.
    objective
        What is judged; a room to clear is judged by its purging flow here.
    flow
        The solved state.

    Yields
    ------
    Bottleneck
        Gain for a tenth more, to first order; jets in line are held as they are. More thrust comes with more flow
        by the fan laws, so that the jet keeps its shape.
    """
    assembled, pressure = solve_arrays(house, scenario)
    network, openings = assembled.network, list(assembled.house.openings)
    if objective.kind == "opening":
        index = openings.index(objective.name)
        flow_sum = net_flow(network, index)
        value = flow.openings[objective.name].net_kg_s
    else:
        flow_sum, value = _freshness(house, scenario, objective, flow, assembled)
    if abs(value) < 1e-9:
        return
    sensitivity = adjoint(network, pressure, flow_sum)
    strips = assembled.strips
    area = np.array([0.0 if s.jet_from >= 0 else s.width_m * s.height_m for s in strips])
    by_area = sensitivity.area * area / value
    fan_pa = network.offset_pa["fan"][: len(strips)]
    by_thrust = sensitivity.offset[: len(strips)] * fan_pa / value
    # A stronger fan moves more at no pressure too: the linear part of a sealed fan's curve goes with sqrt(thrust).
    linear = np.array([0.5 * s.linear_a if s.jet_from < 0 and s.fan_pa != 0.0 else 0.0 for s in strips])
    linear *= [_is_sealed(scenario, openings[s.owner]) for s in strips]
    by_thrust += (sensitivity.linear_a + sensitivity.linear_b) * linear / value
    owner = network.owner[: len(strips)]
    for index, name in enumerate(openings):
        if not any(p.opening == name for p in scenario.placements) and scenario.shares[name] > 0.0:
            yield Bottleneck(Change.LARGER, (name,), FIGURE_STEP * float(by_area[owner == index].sum()))
    for opening in dict.fromkeys(p.opening for p in scenario.placements):
        fans = tuple(p.fan for p in scenario.placements if p.opening == opening)
        mine = owner == openings.index(opening)
        yield Bottleneck(Change.STRONGER, fans, FIGURE_STEP * float(by_thrust[mine].sum()))


def _is_sealed(scenario: Scenario, opening: str) -> bool:
    """True where a fan is sealed into the opening."""
    return any(p.sealed and p.opening == opening for p in scenario.placements)


def _freshness(
    house: House, scenario: Scenario, objective: Objective, flow: Flow, assembled: Assembled
) -> tuple[FlowSum, float]:
    """One over the objective as a weighted sum of mass flows, to first order, with its sign turned, and its value.

    With G the inverse of the balance matrix, theta = G M the ages and w the weights of the rooms, air q from s to t
    changes the mean age w theta by -dq theta_s (g_s - g_t), g = w G, with g and theta 0 outdoors. For a room to clear
    the source takes the place of M, and the room's own concentration that of its age.
    """
    paths = air_paths(house, scenario, flow)
    inverse = balance_inverse(paths)
    weights, source = np.zeros(len(paths.names)), paths.mass_kg
    if objective.kind == "house":
        weights = occupancy_weights(house)
    else:
        weights[paths.names.index(objective.name)] = 1.0
    if objective.kind == "clear":
        source = weights
    held = inverse @ source
    place = {name: i for i, name in enumerate(paths.names)} | {OUTDOORS: len(paths.names)}
    rows = np.array([place.get(name, place[OUTDOORS]) for name in (*assembled.network.nodes, OUTDOORS)])
    reach = np.append(weights @ inverse, 0.0)[rows]
    spread = np.append(held, 0.0)[rows]
    a, b = assembled.network.a, assembled.network.b
    forward = spread[a] * (reach[a] - reach[b])
    backward = spread[b] * (reach[b] - reach[a])
    # Around a jet only the net flow counts, in the direction of the stronger stream.
    # Where turbulence makes up what an opening lacks to a given exchange, the stronger stream is made up in full,
    # whatever the solution gives it, and the weaker one gets as much more as the stronger one lacks: it falls by as
    # much as the net flow rises. At an inner door with little net flow, it falls by the slope of the counterflow.
    solved = [flow.openings[name] for name in assembled.house.openings]
    owner = assembled.network.owner
    slopes, net_counts = zip(*(_weaker_slope(house, opening) for opening in solved), strict=True)
    slope, only_net = np.array([*slopes, 0.0])[owner], np.array([*net_counts, False])[owner]
    ahead = np.array([*(o.forward_m3_s >= o.backward_m3_s for o in solved), False])[owner]
    stronger, weaker = np.where(ahead, forward, backward), np.where(ahead, backward, forward)
    by_net = stronger * (1.0 + slope) + weaker * slope
    forward = np.where(only_net, np.where(ahead, by_net, -by_net), forward)
    backward = np.where(only_net, np.where(ahead, -by_net, by_net), backward)
    return FlowSum(forward, backward), float(weights @ held)


def _weaker_slope(house: House, flow: OpeningFlow) -> tuple[float, bool]:
    """How the weaker stream of an opening changes with its net flow [-], and whether only the net flow counts."""
    if flow.circling_m3_s > 0.0:
        return 0.0, True
    if flow.exchange_m3_s > 0.0:
        return -1.0, True
    opening = house.openings[flow.name]
    return mixing_slope(opening, flow), doorway_mixing(opening, flow) > 0.0
