"""Solve a house in one state, and read the flows at openings, in rooms and at fans from the solved arrays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ventplan.errors import NoAnswerError
from ventplan.house.geometry import free_rectangle, opening_sides, rise_per_m
from ventplan.house.records import OUTDOORS, House, Opening, Room, Scenario
from ventplan.network.assemble import Assembled, assemble
from ventplan.network.flow import FanFlow, Flow, OpeningFlow, RoomAir, house_neutral_level, room_neutral_level
from ventplan.network.jets import fan_of
from ventplan.network.links import DRIVERS, FlowNetwork
from ventplan.network.openings import stack_offset_pa
from ventplan.network.solver import isolated_rooms, solve_linear, solve_pressures
from ventplan.network.weather import open_country_wind_speed
from ventplan.physics.buoyancy import GRAVITY_M_S2, de_gids_phaff_exchange, floor_exchange
from ventplan.physics.orifice import USUAL_DISTANCE_M, reading_over_mean

Floats = NDArray[np.float64]

ONE_WAY = 0.05
"""Flow against the main one, as a share of it, below which a reading at the opening is predicted [-]."""


def solve(house: House, scenario: Scenario | str | None = None, *, near: Flow | None = None) -> Flow:
    """Solve a house in one state.

    Parameters
    ----------
    house
        The house.
    scenario
        The state, or the name of a scenario of the house; its first one by default.
    near
        Solution of a similar state to start from; it saves time and does not change the result.

    Returns
    -------
    Flow
        Flows, pressures and what each fan drives. Rooms without a path to outdoors are in ``Flow.isolated_rooms``; the
        rest is solved without them.

    Raises
    ------
    NoAnswerError
        If no room has a path to outdoors.
    KeyError
        If the house has no scenario of that name.
    """
    if scenario is None:
        scenario = house.first_scenario()
    elif isinstance(scenario, str):
        scenario = house.scenarios[scenario]
    assembled, pressure = solve_arrays(house, scenario, near=near)
    isolated = tuple(name for name in house.rooms if name not in assembled.house.rooms)
    return replace(read_back(assembled, pressure), isolated_rooms=isolated)


def solve_arrays(house: House, scenario: Scenario, *, near: Flow | None = None) -> tuple[Assembled, Floats]:
    """As `solve`, as arrays: the house without isolated rooms, and the pressures of its rooms, shape (rooms,) [Pa]."""
    assembled = assemble(house, scenario)
    isolated = isolated_rooms(assembled.network)
    if isolated:
        return solve_arrays(*_without(house, scenario, isolated), near=near)
    start = ground_pressures(house, assembled.density, near.rooms) if near is not None else None
    return assembled, solve_pressures(assembled.network, start_pa=start)


def _without(house: House, scenario: Scenario, isolated: tuple[str, ...]) -> tuple[House, Scenario]:
    """The house without isolated rooms, and its state."""
    if len(isolated) == len(house.rooms):
        raise NoAnswerError(
            f"no room of {house.name!r} has a path for air to outdoors in scenario {scenario.name!r}; "
            "open a window or door to outdoors, or give one a leak."
        )
    rooms = {name: room for name, room in house.rooms.items() if name not in isolated}
    openings = {name: opening for name, opening in house.openings.items() if not set(opening.joins) & set(isolated)}
    placements = tuple(p for p in scenario.placements if p.opening in openings)
    return replace(house, rooms=rooms, openings=openings), replace(scenario, placements=placements)


def driver_flows(network: FlowNetwork, pressure_pa: Floats) -> dict[str, Floats]:
    """Split the mass flow of each link into the parts that wind, stack and fans drive.

    Parameters
    ----------
    network
        The house as arrays.
    pressure_pa
        Solved pressures, shape (rooms,) [Pa].

    Returns
    -------
    dict
        By driver, mass flows of shape (links,) [kg/s]; their sum is that of the solution.

    Notes
    -----
    With the conductance of each link fixed at its chord g = (m - m0) / dp in the solution, the house is linear, and
    the responses to the three parts of the offsets add up to the solution exactly. m0 is the net mass flow of a
    vertical opening between air of two densities at no pressure difference at its middle; it counts as stack.
    """
    driving = network.driving_pressure(pressure_pa)
    flow, slope = network.mass_flow_and_slope(driving)
    at_rest, _ = network.mass_flow_and_slope(np.zeros_like(driving))
    steady = np.abs(driving) > 1e-9
    chord = np.where(steady, (flow - at_rest) / np.where(steady, driving, 1.0), slope)
    chord = np.maximum(chord, 1e-12)
    gains, drive = network.coupling_gains(pressure_pa), network.couplings.drive
    drives = [chord * drive(network.offset_pa[name], gains) + (at_rest if name == "stack" else 0.0) for name in DRIVERS]
    right = -np.stack([network.imbalance(each) for each in drives], axis=1)
    with_outdoors = np.vstack([solve_linear(network, chord, right, gains=gains), np.zeros(len(drives))])
    across = (with_outdoors[network.a] - with_outdoors[network.b]).T
    return {name: chord * drive(across[i], gains) + drives[i] for i, name in enumerate(DRIVERS)}


def read_back(assembled: Assembled, pressure_pa: Floats) -> Flow:
    """The solution of a house from the pressures of its rooms, shape (rooms,) [Pa]."""
    house, network = assembled.house, assembled.network
    driving = network.driving_pressure(pressure_pa)
    mass, _ = network.mass_flow_and_slope(driving)
    forward, backward = network.volume_flows(driving)
    pressures = dict(zip(network.nodes, pressure_pa.tolist(), strict=True))
    owned = network.owner >= 0

    def by_opening(of_links: Floats) -> Floats:
        return np.bincount(network.owner[owned], of_links[owned], len(house.openings)).astype(np.float64, copy=False)

    drivers = driver_flows(network, pressure_pa)
    sums = np.stack([by_opening(each) for each in (forward, backward, mass, *(drivers[name] for name in DRIVERS))])
    openings = {
        name: _opening_flow(assembled, opening, pressures, *sums[:, i].tolist())
        for i, (name, opening) in enumerate(house.openings.items())
    }
    return Flow(
        scenario=assembled.scenario.name,
        openings=openings,
        rooms=_rooms(assembled, openings, pressures, backward),
        fans=_fans(assembled, openings, forward - backward),
        imbalance_kg_s=float(np.max(np.abs(network.imbalance(mass)), initial=0.0)),
        in_line=tuple(dict.fromkeys(jet.opening for jet in assembled.jets if jet.after)),
        neutral_level_m=house_neutral_level(house, assembled.scenario, assembled.density, pressures),
    )


def ground_pressures(house: House, density: Mapping[str, float], rooms: Mapping[str, RoomAir]) -> Floats:
    """Pressures of the rooms at ground level, as the solver has them, from those at their floors; 0 for others [Pa]."""
    return np.array(
        [
            rooms[name].pressure_pa + _head_pa(room, density) if name in rooms else 0.0
            for name, room in house.rooms.items()
        ]
    )


def _head_pa(room: Room, density: Mapping[str, float]) -> float:
    """Difference of pressure between ground and floor of a room, less that outdoors [Pa]."""
    return GRAVITY_M_S2 * (density[room.name] - density[OUTDOORS]) * room.floor_m


def _opening_flow(
    assembled: Assembled,
    opening: Opening,
    pressures: Mapping[str, float],
    forward: float,
    backward: float,
    mass: float,
    wind_kg_s: float,
    stack_kg_s: float,
    fan_kg_s: float,
) -> OpeningFlow:
    scenario, density, (a, b) = assembled.scenario, assembled.density, opening.joins
    sealed = any(p.sealed and p.opening == opening.name for p in scenario.placements)
    area = 0.0 if sealed else opening.area_m2 * scenario.shares[opening.name]
    outside = assembled.wind_pa.get(opening.name, 0.0)
    dp = pressures[a] - (outside if b == OUTDOORS else pressures[b]) + stack_offset_pa(opening, scenario, density)
    captures_jet = any((opening.name, place) in assembled.captures for place in (a, b))
    face = (forward + backward) / area if area > 0.0 else 0.0
    reading = None
    thin = opening.kind not in ("shaft", "vent")  # A stream that leaves a duct does not contract as at a thin edge.
    if thin and area > 0.0 and not captures_jet and min(forward, backward) <= ONE_WAY * max(forward, backward):
        screened = opening.screen is not None and opening.name in scenario.screened
        ratio = reading_over_mean(
            distance_m=USUAL_DISTANCE_M, area_m2=area, discharge=opening.discharge, screened=screened
        )
        reading = face * float(ratio)
    carried = density[a] if mass >= 0.0 else density[b]
    exchange = _still_exchange(assembled.house, scenario, opening, density, area)
    return OpeningFlow(
        name=opening.name,
        joins=opening.joins,
        forward_m3_s=forward,
        backward_m3_s=backward,
        net_m3_s=forward - backward,
        net_kg_s=mass,
        dp_pa=dp,
        free_area_m2=area,
        face_speed_m_s=face,
        reading_m_s=reading,
        circling_m3_s=min(forward, backward) if captures_jet and opening.is_external else 0.0,
        exchange_m3_s=max(0.0, exchange - max(forward, backward)),
        wind_m3_s=wind_kg_s / carried,
        stack_m3_s=stack_kg_s / carried,
        fan_m3_s=fan_kg_s / carried,
    )


def _still_exchange(
    house: House, scenario: Scenario, opening: Opening, density: Mapping[str, float], area: float
) -> float:
    """Exchange of an opening without net flow [m3/s].

    To outdoors by turbulence and warmth (single-sided); through a floor if the air above is heavier. None through a
    shaft, which is long and narrow.
    """
    if area <= 0.0 or opening.kind == "shaft":
        return 0.0
    if not opening.is_external:
        lower, upper = sorted(opening.joins, key=lambda place: house.rooms[place].floor_m)
        if not opening.is_horizontal or density[upper] <= density[lower]:
            return 0.0
        return float(floor_exchange(area_m2=area, density_above=density[upper], density_below=density[lower]))
    _, along = opening_sides(opening, free_rectangle(opening, scenario.shares[opening.name]))
    return float(
        de_gids_phaff_exchange(
            area_m2=area,
            wind_speed_m_s=open_country_wind_speed(scenario),
            height_m=rise_per_m(house, opening) * along,
            temperature_difference_k=scenario.temperatures_c[opening.joins[0]] - scenario.outdoors.temperature_c,
        )
    )


def _rooms(
    assembled: Assembled, openings: Mapping[str, OpeningFlow], pressures: Mapping[str, float], backward: Floats
) -> dict[str, RoomAir]:
    house, network, density = assembled.house, assembled.network, assembled.density
    inflow = dict.fromkeys((*house.rooms, OUTDOORS), 0.0)
    outdoor = dict.fromkeys(house.rooms, 0.0)
    for flow in openings.values():
        a, b = flow.joins
        inflow[b] += flow.forward_m3_s + flow.exchange_m3_s
        inflow[a] += flow.backward_m3_s + flow.exchange_m3_s
        if b == OUTDOORS:
            outdoor[a] += flow.backward_m3_s - flow.circling_m3_s + flow.exchange_m3_s
    for link in np.flatnonzero(network.owner < 0).tolist():  # Leaks of walls go from a room to outdoors.
        room = network.nodes[network.a[link]]
        inflow[room] += float(backward[link])
        outdoor[room] += float(backward[link])
    return {
        name: RoomAir(
            name=name,
            pressure_pa=pressures[name] - _head_pa(room, density),
            inflow_m3_s=inflow[name],
            air_change_per_h=3600.0 * inflow[name] / room.volume_m3,
            outdoor_m3_s=outdoor[name],
            direct_air_change_per_h=3600.0 * outdoor[name] / room.volume_m3,
            neutral_level_m=room_neutral_level(room, density, pressures[name]),
        )
        for name, room in house.rooms.items()
    }


def _fans(assembled: Assembled, openings: Mapping[str, OpeningFlow], net_of_links: Floats) -> tuple[FanFlow, ...]:
    house, found = assembled.house, []
    strips_of_sealed = {
        name: iter(np.flatnonzero(assembled.network.owner == owner).tolist())
        for owner, name in enumerate(house.openings)
    }
    for placement in assembled.scenario.placements:
        opening = house.openings[placement.opening]
        sign = 1.0 if opening.joins[0] == placement.stands_in else -1.0
        driven = sign * openings[opening.name].net_m3_s
        blades = fan_of(house, placement).flow_m3_s
        if placement.sealed:  # One strip for each fan, in the order of the placements.
            blades = sign * float(net_of_links[next(strips_of_sealed[opening.name])])
        found.append(
            FanFlow(
                name=placement.fan,
                opening=placement.opening,
                blades_m3_s=blades,
                driven_m3_s=driven,
                ratio=driven / blades if blades > 0.0 else 0.0,
                sealed=placement.sealed,
            )
        )
    return tuple(found)
