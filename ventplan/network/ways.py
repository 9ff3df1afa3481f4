"""Which way the air goes: a solved house as a graph, its net flow taken apart into ways from outdoors to outdoors."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from ventplan.house.records import OUTDOORS
from ventplan.network.flow import Flow

LEAST_SHARE = 0.03
"""Ways that carry less than this share of the house's air are left out [-]."""
MOST_WAYS = 8
COMES_IN, GOES_OUT = "comes in", "goes out"


@dataclass(frozen=True)
class Way:
    """One way of the air through the house.

    Attributes
    ----------
    openings
        The openings that it passes in series, in order.
    rooms
        The rooms between them.
    flow_kg_s
        What goes this way [kg/s].
    share
        Of all net flow into the house [-].
    tightest
        The opening on it that costs most static pressure, besides those that a fan blows at; empty if there is none.
    """

    openings: tuple[str, ...]
    rooms: tuple[str, ...]
    flow_kg_s: float
    share: float
    tightest: str


def ways(flow: Flow) -> tuple[Way, ...]:
    """Take the net flows of a house apart into ways from outdoors to outdoors.

    Parameters
    ----------
    flow
        A solved scenario.

    Returns
    -------
    tuple of Way
        The strongest first, down to `LEAST_SHARE`; leaks of walls are not openings and are left out.

    Notes
    -----
    Where the air of several openings mixes in a room, which of it goes on to which is not settled by the flows: the
    strongest streams are joined first (the way with the least sum of 1 / flow, taken off at its narrowest).
    """
    graph = _graph(flow)
    entering = sum(data["flow"] for _, _, data in graph.out_edges(COMES_IN, data=True))
    if entering <= 0.0:
        return ()
    found: list[Way] = []
    while len(found) < MOST_WAYS:
        way = _strongest(graph, flow, entering)
        if way is None or way.share < LEAST_SHARE:
            break
        found.append(way)
    return tuple(sorted(found, key=lambda way: -way.flow_kg_s))


def _graph(flow: Flow) -> Any:
    """Rooms as nodes, with outdoors as two; the net flow of each opening as an edge of its own."""
    import networkx as nx

    graph = nx.MultiDiGraph()
    graph.add_nodes_from((COMES_IN, GOES_OUT))
    for name, opening in flow.openings.items():
        a, b = opening.joins if opening.net_kg_s >= 0.0 else opening.joins[::-1]
        amount = abs(opening.net_kg_s)
        if amount > 0.0:
            start, end = (COMES_IN if a == OUTDOORS else a), (GOES_OUT if b == OUTDOORS else b)
            graph.add_edge(start, end, key=name, flow=amount, cost=1.0 / amount)
    return graph


def _strongest(graph: Any, flow: Flow, entering: float) -> Way | None:
    """Find the strongest way that is left, and take its flow off the graph."""
    import networkx as nx

    try:
        nodes = nx.shortest_path(graph, COMES_IN, GOES_OUT, weight="cost")
    except nx.NetworkXNoPath:
        return None
    pairs = list(pairwise(nodes))
    openings = [max((data["flow"], name) for name, data in graph[a][b].items())[1] for a, b in pairs]
    steps = [(a, b, name) for (a, b), name in zip(pairs, openings, strict=True)]
    amount = min(graph[a][b][name]["flow"] for a, b, name in steps)
    for a, b, name in steps:
        rest = graph[a][b][name]["flow"] - amount
        graph.remove_edge(a, b, key=name)
        if rest > 1e-9 * entering:
            graph.add_edge(a, b, key=name, flow=rest, cost=1.0 / rest)
    blown = {fan.opening for fan in flow.fans}
    plain = [name for name in openings if name not in blown]
    tightest = max(plain, key=lambda name: abs(flow.openings[name].dp_pa), default="")
    return Way(tuple(openings), tuple(nodes[1:-1]), amount, amount / entering, tightest)
