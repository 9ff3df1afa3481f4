"""Records of a solved house: flows at openings, air in rooms, fans; neutral levels; paths of the air through it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from ventplan.house.records import OUTDOORS, House, Room, Scenario
from ventplan.physics.buoyancy import GRAVITY_M_S2


@dataclass(frozen=True)
class OpeningFlow:
    """Air through one opening; flow is counted from ``joins[0]`` to ``joins[1]``.

    Attributes
    ----------
    forward_m3_s, backward_m3_s
        Flow each way at the same time, both >= 0 [m3/s], at the density of the air where it comes from.
    net_m3_s
        forward - backward [m3/s].
    net_kg_s
        Net mass flow [kg/s].
    dp_pa
        Static pressure of ``joins[0]`` minus that of ``joins[1]`` at the middle of the opening [Pa].
    free_area_m2
        Free area in this scenario [m2].
    face_speed_m_s
        Mean speed over the free area, (forward + backward) / free area [m/s].
    reading_m_s
        Expected reading of a small anemometer 12 cm downstream of the middle of the free area [m/s]; None if one
        reading says nothing: a jet goes through the opening, the air goes both ways, or it is a shaft or a vent.
    exchange_m3_s
        Exchange with the other side by turbulence or through a floor, besides forward and backward [m3/s].
    circling_m3_s
        Part of forward and backward that only circles around a jet at an opening to outdoors: it enters beside the jet,
        and the jet drags it out again [m3/s].
    wind_m3_s, stack_m3_s, fan_m3_s
        Parts of the net flow that wind, stack and fans drive, with all resistances fixed at this solution [m3/s]. They
        can oppose one another, and add up to ``net_kg_s`` over the density of the air on the side that it comes from.
    """

    name: str
    joins: tuple[str, str]
    forward_m3_s: float
    backward_m3_s: float
    net_m3_s: float
    net_kg_s: float
    dp_pa: float
    free_area_m2: float
    face_speed_m_s: float
    reading_m_s: float | None
    exchange_m3_s: float = 0.0
    circling_m3_s: float = 0.0
    wind_m3_s: float = 0.0
    stack_m3_s: float = 0.0
    fan_m3_s: float = 0.0


@dataclass(frozen=True)
class RoomAir:
    """Air in one room.

    Attributes
    ----------
    pressure_pa
        Static pressure at the floor, relative to the still air outdoors at the same height [Pa].
    inflow_m3_s
        Air that enters from outdoors and from other rooms [m3/s].
    air_change_per_h
        inflow / volume [1/h].
    outdoor_m3_s, direct_air_change_per_h
        Air that enters straight from outdoors, without what circles around a jet [m3/s], and over the volume [1/h].
    neutral_level_m
        Height above the ground at which its pressure is that of the still air outdoors [m]; None if that is not between
        its floor and its ceiling.
    """

    name: str
    pressure_pa: float
    inflow_m3_s: float
    air_change_per_h: float
    outdoor_m3_s: float
    direct_air_change_per_h: float
    neutral_level_m: float | None = None


@dataclass(frozen=True)
class FanFlow:
    """What one fan drives.

    Attributes
    ----------
    blades_m3_s
        Flow through the blades [m3/s].
    driven_m3_s
        Net flow through its opening in the direction in which it blows [m3/s].
    ratio
        driven / blades [-].
    sealed
        True if it is sealed into the opening.
    """

    name: str
    opening: str
    blades_m3_s: float
    driven_m3_s: float
    ratio: float
    sealed: bool = False


@dataclass(frozen=True)
class Flow:
    """A solved scenario.

    Attributes
    ----------
    openings, rooms
        By name, in file order.
    fans
        One for each placement.
    imbalance_kg_s
        Largest mass imbalance of any room [kg/s].
    isolated_rooms
        Rooms without a path to outdoors.
    in_line
        Openings that a jet reaches after it has passed another.
    neutral_level_m
        Height above the ground at which the pressure indoors, averaged over the rooms that open doors join, is that of
        the still air outdoors [m]; None if there is no such height, or several (see those of the rooms).
    """

    scenario: str
    openings: Mapping[str, OpeningFlow]
    rooms: Mapping[str, RoomAir]
    fans: tuple[FanFlow, ...]
    imbalance_kg_s: float
    isolated_rooms: tuple[str, ...] = ()
    in_line: tuple[str, ...] = ()
    neutral_level_m: float | None = None


LEAST_DENSITY_DIFFERENCE = 1e-3
"""Density difference below which no neutral level is reported [kg/m3]: about a quarter of a kelvin."""

SAME_LEVEL_M = 0.5
"""Distance up to which changes of sign count as one level [m]: rooms joined by doors differ a little."""


def room_neutral_level(room: Room, density: Mapping[str, float], pressure_pa: float) -> float | None:
    """Neutral level of a room, p / (g (rho_in - rho_out)); None if that is not between its floor and ceiling.

    Parameters
    ----------
    room
        The room.
    density
        Density of the air by place [kg/m3].
    pressure_pa
        Its static pressure at ground level, relative to the air outdoors there [Pa].

    Returns
    -------
    float or None
        Height above the ground [m].
    """
    difference = density[room.name] - density[OUTDOORS]
    if abs(difference) < LEAST_DENSITY_DIFFERENCE:
        return None
    level = pressure_pa / (GRAVITY_M_S2 * difference)
    return level if room.floor_m <= level <= room.floor_m + room.ceiling_m else None


def _main_zone(house: House, scenario: Scenario) -> frozenset[str]:
    """The largest part of the house, by volume, whose rooms are joined by open doors and other openings."""
    left, best, most = set(house.rooms), frozenset[str](), 0.0
    joined: dict[str, set[str]] = {name: set() for name in house.rooms}
    for name, opening in house.openings.items():
        if not opening.is_external and scenario.shares[name] > 0.0:
            a, b = opening.joins
            joined[a].add(b)
            joined[b].add(a)
    while left:
        front, zone = [next(room for room in house.rooms if room in left)], set[str]()
        while front:
            here = front.pop()
            zone.add(here)
            front += joined[here] - zone
        left -= zone
        volume = sum(house.rooms[name].volume_m3 for name in zone)
        if volume > most:
            best, most = frozenset(zone), volume
    return best


def house_neutral_level(
    house: House, scenario: Scenario, density: Mapping[str, float], pressures: Mapping[str, float]
) -> float | None:
    """Neutral level of the house.

    Parameters
    ----------
    house, scenario
        The house and its state.
    density
        Density of the air by place [kg/m3].
    pressures
        Static pressure of each room at ground level, relative to the air outdoors there [Pa].

    Returns
    -------
    float or None
        Height above the ground at which p - g (rho_in - rho_out) z changes its sign, averaged at each height over the
        rooms there that open doors join, by their area [m]. None without a change of sign, or with changes more than
        `SAME_LEVEL_M` apart.
    """
    outside = density[OUTDOORS]
    zone = [house.rooms[name] for name in _main_zone(house, scenario)]
    warm = [room for room in zone if abs(density[room.name] - outside) >= LEAST_DENSITY_DIFFERENCE]
    edges = sorted({z for room in warm for z in (room.floor_m, room.floor_m + room.ceiling_m)})
    found: list[float] = []
    before = 0.0
    for low, high in pairwise(edges):
        here = [r for r in warm if r.floor_m <= low + 1e-9 and r.floor_m + r.ceiling_m >= high - 1e-9]
        if not here:
            continue
        area = sum(room.area_m2 for room in here)
        pressure = sum(room.area_m2 * pressures[room.name] for room in here) / area
        gradient = sum(room.area_m2 * GRAVITY_M_S2 * (density[room.name] - outside) for room in here) / area
        bottom, top = pressure - gradient * low, pressure - gradient * high
        if before * bottom < 0.0:
            found.append(low)
        if bottom * top < 0.0:
            found.append(pressure / gradient)
        before = top
    if not found or max(found) - min(found) > SAME_LEVEL_M:
        return None
    return sum(found) / len(found)


LEAST_PATH_SHARE = 0.03
"""Share of the air of the house below which a path is left out [-]."""
MOST_PATHS = 8
_COMES_IN, _GOES_OUT = "comes in", "goes out"


@dataclass(frozen=True)
class FlowPath:
    """One path of the air through the house, from outdoors to outdoors.

    Attributes
    ----------
    openings
        The openings that it passes, in order.
    rooms
        The rooms between them.
    flow_kg_s
        Mass flow along it [kg/s].
    share
        The same over all net flow into the house [-].
    tightest
        The opening on it with the largest pressure difference, except those that a fan blows at; empty without one.
    """

    openings: tuple[str, ...]
    rooms: tuple[str, ...]
    flow_kg_s: float
    share: float
    tightest: str


def flow_paths(flow: Flow) -> tuple[FlowPath, ...]:
    """Split the net flows of a house into paths from outdoors to outdoors.

    Parameters
    ----------
    flow
        A solved scenario.

    Returns
    -------
    tuple of FlowPath
        The strongest first, down to `LEAST_PATH_SHARE`; without leaks of walls, which are not openings.

    Notes
    -----
    Flows do not determine which air goes where when that of several openings mixes in a room. The strongest flows are
    joined first: the path with the least sum of 1 / flow, with the smallest flow on it, is subtracted repeatedly.
    """
    graph = _graph(flow)
    entering = sum(data["flow"] for _, _, data in graph.out_edges(_COMES_IN, data=True))
    if entering <= 0.0:
        return ()
    found: list[FlowPath] = []
    while len(found) < MOST_PATHS:
        path = _strongest(graph, flow, entering)
        if path is None or path.share < LEAST_PATH_SHARE:
            break
        found.append(path)
    return tuple(sorted(found, key=lambda path: -path.flow_kg_s))


def _graph(flow: Flow) -> Any:
    """Rooms as nodes, with outdoors as two; the net flow of each opening as an edge of its own."""
    import networkx as nx

    graph = nx.MultiDiGraph()
    graph.add_nodes_from((_COMES_IN, _GOES_OUT))
    for name, opening in flow.openings.items():
        a, b = opening.joins if opening.net_kg_s >= 0.0 else opening.joins[::-1]
        amount = abs(opening.net_kg_s)
        if amount > 0.0:
            start, end = (_COMES_IN if a == OUTDOORS else a), (_GOES_OUT if b == OUTDOORS else b)
            graph.add_edge(start, end, key=name, flow=amount, cost=1.0 / amount)
    return graph


def _strongest(graph: Any, flow: Flow, entering: float) -> FlowPath | None:
    """Find the strongest path that is left, and subtract its flow from the graph."""
    import networkx as nx

    try:
        nodes = nx.shortest_path(graph, _COMES_IN, _GOES_OUT, weight="cost")
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
    return FlowPath(tuple(openings), tuple(nodes[1:-1]), amount, amount / entering, tightest)
