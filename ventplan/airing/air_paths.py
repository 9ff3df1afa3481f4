"""From a solved house to who sends air to whom."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ventplan.airing.transport import AirPaths, Array, purging_flow_rates_kg_s
from ventplan.errors import NoAnswerError
from ventplan.house.records import OUTDOORS, House, Opening, Scenario
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.network.weather import densities
from ventplan.physics.air import REFERENCE_DENSITY
from ventplan.physics.exchange import doorway_exchange

MIN_FLOW_KG_S = 1e-9
"""Mass flow below which a path counts as shut [kg/s]: a litre of air in a fortnight."""

MIN_ROOM_DIFFERENCE_K = 0.1
"""Rooms that an open door joins always differ by at least this [K] (common practice, no source)."""

_WORST_IMBALANCE = 1e-3
"""Share of the air entering a room that the solver may leave unbalanced [-]; the rest is a bug."""


def doorway_mixing(opening: Opening, flow: OpeningFlow) -> float:
    """Air that an open door between two rooms swaps even where the rooms count as equally warm.

    Parameters
    ----------
    opening
        The opening.
    flow
        Its solved flow.

    Returns
    -------
    float
        Flow each way [m3/s]: that of a tenth of a kelvin, less the flow that passes anyway; 0 to outdoors.

    References
    ----------
    Brown & Solvason 1962 for the exchange; the tenth of a kelvin is common practice, no source.
    """
    if opening.is_external or opening.is_horizontal or flow.free_area_m2 <= 0.0:
        return 0.0
    swapped = doorway_exchange(
        width_m=flow.free_area_m2 / opening.height_m,
        height_m=opening.height_m,
        temperature_difference_k=MIN_ROOM_DIFFERENCE_K,
        mean_temperature_k=295.0,
        discharge=opening.discharge,
    )
    return max(float(swapped) - max(flow.forward_m3_s, flow.backward_m3_s), 0.0)


def mass_flows(opening: OpeningFlow, air: Mapping[str, float]) -> tuple[float, float]:
    """Air through an opening each way, turbulent exchange included.

    Parameters
    ----------
    opening
        Its solved flow.
    air
        Density of the air in each place [kg/m3].

    Returns
    -------
    tuple of float
        From ``joins[0]`` to ``joins[1]``, and back [kg/s]; the difference is the solver's own net flow.
    """
    one, other = (air[place] for place in opening.joins)
    # The weaker stream is converted; the stronger follows from the net flow, so that rooms stay in balance.
    both = min(opening.forward_m3_s * one, opening.backward_m3_s * other)
    if opening.circling_m3_s > 0.0:
        both = 0.0  # What comes in beside a jet is dragged out by it before it mixes.
    both += opening.exchange_m3_s * (one + other) / 2.0
    return both + max(opening.net_kg_s, 0.0), both + max(-opening.net_kg_s, 0.0)


def air_paths(house: House, scenario: Scenario, flow: Flow) -> AirPaths:
    """Who sends air to whom, with both directions of every opening, in balance.

    Parameters
    ----------
    house
        The house.
    scenario
        The scenario that was solved.
    flow
        Its solution.

    Returns
    -------
    AirPaths
        Mass of mixing air and mass flows of all rooms, in file order.

    Raises
    ------
    NoAnswerError
        Where the flows into a room do not balance those out of it.
    """
    names = tuple(house.rooms)
    place = {name: i for i, name in enumerate((*names, OUTDOORS))}
    air = densities(house, scenario)
    flows = np.zeros((len(place), len(place)))
    through_openings = dict.fromkeys(place, 0.0)
    for opening in flow.openings.values():
        one, other = (place[p] for p in opening.joins)
        forward, backward = mass_flows(opening, air)
        mixed = doorway_mixing(house.openings[opening.name], opening) * REFERENCE_DENSITY
        flows[one, other] += forward + mixed
        flows[other, one] += backward + mixed
        if opening.joins[1] == OUTDOORS:
            through_openings[opening.joins[0]] += opening.backward_m3_s - opening.circling_m3_s + opening.exchange_m3_s
    for name, room in flow.rooms.items():
        # What the walls leak is no opening: it is what comes in besides, and what is missing to a balance.
        i = place[name]
        flows[-1, i] += max(room.outdoor_m3_s - through_openings[name], 0.0) * air[OUTDOORS]
        if house.rooms[name].leak_m3_s > 0.0:
            flows[i, -1] += max(flows[:, i].sum() - flows[i].sum(), 0.0)
    flows[flows < MIN_FLOW_KG_S] = 0.0
    mass = [air[name] * house.rooms[name].volume_m3 * house.rooms[name].mixing for name in names]
    return AirPaths(names=names, mass_kg=np.array(mass), flow_kg_s=balanced(flows, names))


def balanced(flows: Array, names: tuple[str, ...]) -> Array:
    """Spread what the solver left unbalanced over the paths, in proportion to their flow.

    Parameters
    ----------
    flows
        Air from each place to each place [kg/s], shape (n + 1, n + 1).
    names
        The rooms, shape (n,).

    Returns
    -------
    numpy.ndarray
        Flows that balance in every room to rounding, shape (n + 1, n + 1).

    Raises
    ------
    NoAnswerError
        Where more than a thousandth of what enters a room is missing.
    """
    excess = flows.sum(axis=0) - flows.sum(axis=1)
    for i, name in enumerate(names):
        if abs(excess[i]) > _WORST_IMBALANCE * max(flows[:, i].sum(), flows[i].sum()):
            raise NoAnswerError(
                f"the flows of {name} do not balance: {excess[i]:+.3g} kg/s of {flows[:, i].sum():.3g} kg/s"
            )
    links = flows + flows.T
    laplacian = np.diag(links.sum(axis=1)) - links
    level = np.linalg.lstsq(laplacian, excess, rcond=None)[0]
    # A path gains the difference of levels, split over its two directions so that none turns negative.
    change = links * (level[:, None] - level[None, :]) / 2.0
    share = np.divide(flows, links, out=np.zeros_like(flows), where=links > 0.0)
    return np.asarray(np.maximum(flows + share * (change - change.T), 0.0))


def purging_flow_rates_m3_s(house: House, scenario: Scenario, flow: Flow) -> dict[str, float]:
    """Purging flow of every room as a volume.

    Parameters
    ----------
    house, scenario
        The house and its state.
    flow
        Its solution.

    Returns
    -------
    dict
        By room, at the reference density [m3/s].
    """
    paths = air_paths(house, scenario, flow)
    found = dict(zip(paths.names, (purging_flow_rates_kg_s(paths) / REFERENCE_DENSITY).tolist(), strict=True))
    return {name: found.get(name, 0.0) for name in house.rooms}


def purging_air_change_rates_per_h(house: House, scenario: Scenario, flow: Flow) -> dict[str, float]:
    """Effective air changes of every room: purging flow over volume.

    Parameters
    ----------
    house, scenario
        The house and its state.
    flow
        Its solution.

    Returns
    -------
    dict
        By room [1/h].
    """
    flows = purging_flow_rates_m3_s(house, scenario, flow)
    return {name: 3600.0 * flows[name] / room.volume_m3 for name, room in house.rooms.items()}
