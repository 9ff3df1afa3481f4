"""From a solved house to the mass flows between rooms."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from ventplan.airing.transport import AirPaths, Array
from ventplan.errors import NoAnswerError
from ventplan.house.records import OUTDOORS, House, Opening, Scenario
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.network.weather import densities
from ventplan.physics.air import REFERENCE_DENSITY
from ventplan.physics.buoyancy import doorway_exchange

MIN_FLOW_KG_S = 1e-9
"""Mass flow below which a path counts as shut [kg/s]: a litre of air in two weeks."""

MIN_ROOM_DIFFERENCE_K = 0.1
"""Least temperature difference between rooms joined by an open door [K] (common practice, no source)."""

_WORST_IMBALANCE = 1e-3
"""Share of the air entering a room that the solver may leave unbalanced [-]; the rest is a bug."""


def doorway_mixing(opening: Opening, flow: OpeningFlow) -> float:
    """Exchange of air through an open inner door, also between rooms of the same temperature.

    Parameters
    ----------
    opening
        The opening.
    flow
        Its solved flow.

    Returns
    -------
    float
        Flow in each direction [m3/s]: the counterflow for a difference of 0.1 K less that of the solution; 0 for
        openings to outdoors.
    """
    exchange = _least_exchange_m3_s(opening, flow)
    if exchange <= 0.0:
        return 0.0
    weaker = counterflow_m3_s(net_m3_s=abs(flow.net_m3_s), exchange_m3_s=exchange)[0]
    return max(weaker - min(flow.forward_m3_s, flow.backward_m3_s), 0.0)


def mixing_slope(opening: Opening, flow: OpeningFlow) -> float:
    """How the counterflow for a difference of 0.1 K changes with the net flow through an open inner door [-]."""
    exchange = _least_exchange_m3_s(opening, flow)
    return counterflow_m3_s(net_m3_s=abs(flow.net_m3_s), exchange_m3_s=exchange)[1] if exchange > 0.0 else 0.0


def _least_exchange_m3_s(opening: Opening, flow: OpeningFlow) -> float:
    """Exchange in each direction of an inner door, for the least temperature difference and no net flow [m3/s]."""
    if opening.is_external or opening.is_horizontal or flow.free_area_m2 <= 0.0:
        return 0.0
    return float(
        doorway_exchange(
            width_m=flow.free_area_m2 / opening.height_m,
            height_m=opening.height_m,
            temperature_difference_k=MIN_ROOM_DIFFERENCE_K,
            mean_temperature_k=295.0,
            discharge=opening.discharge,
        )
    )


def counterflow_m3_s(*, net_m3_s: float, exchange_m3_s: float) -> tuple[float, float]:
    """Weaker of the two streams through a doorway with a temperature difference and a net flow.

    Parameters
    ----------
    net_m3_s
        Net flow, >= 0 [m3/s].
    exchange_m3_s
        Flow in each direction without a net flow, E [m3/s].

    Returns
    -------
    tuple of float
        The weaker stream [m3/s], 0 from a net flow of 2.83 E on, and its derivative with respect to the net flow [-].

    Notes
    -----
    The speed grows with the square root of the distance from the neutral level. With that level at a share x of the
    height from the side of the weaker stream, the streams are 2^1.5 E x^1.5 and 2^1.5 E (1 - x)^1.5.

    References
    ----------
    Brown & Solvason 1962, International Journal of Heat and Mass Transfer 5:859 (natural convection with forced flow).

    Examples
    --------
    >>> round(counterflow_m3_s(net_m3_s=1.0, exchange_m3_s=1.0)[0], 2)
    0.54
    """
    scale = 2.0**1.5 * exchange_m3_s
    if net_m3_s >= scale:
        return 0.0, 0.0
    share, wanted = 0.5, net_m3_s / scale
    # Newton's method from the right on a concave function converges monotonically, in about six steps; `brentq` of
    # scipy would take longer, and this is called for every door of every plan of a search.
    for _ in range(40):
        excess = (1.0 - share) ** 1.5 - share**1.5 - wanted
        step = excess / (1.5 * (math.sqrt(1.0 - share) + math.sqrt(share)))
        share = max(share + step, 0.0)
        if abs(step) < 1e-14:
            break
    return scale * share**1.5, -math.sqrt(share) / (math.sqrt(share) + math.sqrt(1.0 - share))


def mass_flows(opening: OpeningFlow, air: Mapping[str, float]) -> tuple[float, float]:
    """Air through an opening in both directions, turbulent exchange included.

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
    """Mass flows between rooms and outdoors, with both directions of every opening, in balance.

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


def leaving_shares(house: House, scenario: Scenario, flow: Flow, paths: AirPaths, shares: Array) -> dict[str, float]:
    """Where what is released leaves the house.

    Parameters
    ----------
    house, scenario, flow
        The house, its state, and the solution.
    paths
        Mass flows between rooms.
    shares
        Share of what is released that is released in each room [-], shape (n,).

    Returns
    -------
    dict
        Share by opening to outdoors [-]; ``cracks`` for what leaks through walls.
    """
    aired = paths.aired
    if not aired.any() or not shares[aired].sum() > 0.0:
        return {}
    steps = paths.flow_kg_s[:-1, :-1][np.ix_(aired, aired)] / paths.leaving_kg_s[aired][:, None]
    expected_visits = np.zeros(len(aired))
    expected_visits[aired] = np.linalg.solve((np.eye(len(steps)) - steps).T, shares[aired])
    each_kg = np.divide(
        expected_visits, paths.leaving_kg_s, out=np.zeros_like(expected_visits), where=paths.leaving_kg_s > 0.0
    )
    air = densities(house, scenario)
    leaving: dict[str, float] = {}
    for name, opening in flow.openings.items():
        if opening.joins[1] == OUTDOORS:
            outwards, _ = mass_flows(opening, air)
            leaving[name] = float(each_kg[paths.names.index(opening.joins[0])] * outwards)
    leaving["cracks"] = float(shares[aired].sum()) - sum(leaving.values())
    return {name: share for name, share in leaving.items() if share > 1e-4}
