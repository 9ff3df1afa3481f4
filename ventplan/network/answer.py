"""Solve a house in one state, and read flows at openings, in rooms and at fans from the solved arrays."""

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
from ventplan.network.links import DRIVERS
from ventplan.network.openings import stack_offset_pa
from ventplan.network.solver import isolated_rooms, solve_linear, solve_pressures
from ventplan.network.weather import open_country_wind_speed
from ventplan.physics.buoyancy import GRAVITY_M_S2, de_gids_phaff_exchange, floor_exchange
from ventplan.physics.orifice import USUAL_DISTANCE_M, reading_over_mean

Floats = NDArray[np.float64]

ONE_WAY = 0.05
"""A reading means something where the air against the stream is less than this share of it [-]."""


def solve(house: House, scenario: Scenario | str | None = None, *, near: Flow | None = None) -> Flow:
    """Solve a house in one state.

    Parameters
    ----------
    house
        The house.
    scenario
        The state, or the name of one of the house's; its first if left out.
    near
        The answer of a similar state to start from; it saves time and changes nothing.

    Returns
    -------
    Flow
        Flows, pressures and what each fan drives.

    Raises
    ------
    NoAnswerError
        Where no room has a way to outdoors.
    KeyError
        Where the house has no scenario of that name.

    Notes
    -----
    Rooms cut off from outdoors are named in ``Flow.cut_off``; their air stands still and the rest is solved.
    """
    if scenario is None:
        scenario = house.first_scenario()
    elif isinstance(scenario, str):
        scenario = house.scenarios[scenario]
    assembled = assemble(house, scenario)
    alone = isolated_rooms(assembled.network)
    if alone:
        rest = _without(house, scenario, alone)
        return replace(solve(*rest, near=near), cut_off=alone)
    return read_back(house, scenario, *_settled(house, scenario, assembled, near))


def solve_arrays(house: House, scenario: Scenario) -> tuple[Assembled, Floats]:
    """Solve a house in one state, and keep the arrays.

    Parameters
    ----------
    house, scenario
        The house and its state; rooms that are cut off from outdoors are left out.

    Returns
    -------
    tuple
        The house as arrays, and the pressures of its rooms, shape (rooms,) [Pa].

    Raises
    ------
    NoAnswerError
        As `solve`.
    """
    assembled = assemble(house, scenario)
    alone = isolated_rooms(assembled.network)
    return solve_arrays(*_without(house, scenario, alone)) if alone else _settled(house, scenario, assembled)


def _settled(
    house: House, scenario: Scenario, assembled: Assembled, near: Flow | None = None
) -> tuple[Assembled, Floats]:
    start = ground_pressures(house, assembled.density, near.rooms) if near is not None else None
    return assembled, solve_pressures(assembled.network, start_pa=start)


def _without(house: House, scenario: Scenario, alone: tuple[str, ...]) -> tuple[House, Scenario]:
    """The house without the rooms that are cut off, and its state."""
    if len(alone) == len(house.rooms):
        raise NoAnswerError(
            f"no room of {house.name!r} has a way for air to outdoors in scenario {scenario.name!r}; "
            "open a window or door to outdoors, or give one a leak."
        )
    rooms = {name: room for name, room in house.rooms.items() if name not in alone}
    openings = {
        name: opening for name, opening in house.openings.items() if not any(place in alone for place in opening.joins)
    }
    placements = tuple(p for p in scenario.placements if p.opening in openings)
    return replace(house, rooms=rooms, openings=openings), replace(scenario, placements=placements)


def driver_flows(assembled: Assembled, pressure_pa: Floats) -> dict[str, Floats]:
    """Split the mass flow of each link among wind, stack and fans.

    Parameters
    ----------
    assembled
        The house as arrays.
    pressure_pa
        Solved pressures, shape (rooms,) [Pa].

    Returns
    -------
    dict
        By driver, mass flows of shape (links,) [kg/s]; their sum is the solution's.

    Notes
    -----
    With the conductance of each link frozen at its chord g = (m - m0) / dp in the solution, the house is linear and
    the responses to the three parts of the offsets add up to the solution exactly. m0 is the net mass that air of two
    densities carries through an upright opening at no pressure difference at its middle; it is stack.
    """
    network = assembled.network
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


def read_back(house: House, scenario: Scenario, assembled: Assembled, pressure_pa: Floats) -> Flow:
    """Put a solution into words.

    Parameters
    ----------
    house, scenario
        The house and its state.
    assembled
        The house as arrays.
    pressure_pa
        Solved pressures, shape (rooms,) [Pa].

    Returns
    -------
    Flow
        The solved scenario.
    """
    network = assembled.network
    driving = network.driving_pressure(pressure_pa)
    mass, _ = network.mass_flow_and_slope(driving)
    forward, backward = network.volume_flows(driving)
    by_driver = driver_flows(assembled, pressure_pa)
    node_pressure = dict(zip(network.nodes, pressure_pa.tolist(), strict=True))

    def by_opening(of_links: Floats) -> list[float]:
        owned = network.owner >= 0
        sums: list[float] = np.bincount(network.owner[owned], of_links[owned], len(house.openings)).tolist()
        return sums

    ahead, back, masses = by_opening(forward), by_opening(backward), by_opening(mass)
    drivers = {driver: by_opening(part) for driver, part in by_driver.items()}
    openings = {
        name: _opening_flow(
            house=house,
            scenario=scenario,
            opening=opening,
            assembled=assembled,
            forward=ahead[i],
            backward=back[i],
            mass=masses[i],
            drivers={driver: parts[i] for driver, parts in drivers.items()},
            pressures=node_pressure,
        )
        for i, (name, opening) in enumerate(house.openings.items())
    }
    imbalance = network.imbalance(mass)
    return Flow(
        scenario=scenario.name,
        openings=openings,
        rooms=_rooms(house, assembled, openings, node_pressure, forward, backward),
        fans=_fans(house, scenario, assembled, openings, forward, backward),
        imbalance_kg_s=float(np.max(np.abs(imbalance), initial=0.0)),
        in_line=tuple(dict.fromkeys(jet.opening for jet in assembled.jets if jet.after)),
        neutral_level_m=house_neutral_level(house, scenario, assembled.density, node_pressure),
    )


def ground_pressures(house: House, density: Mapping[str, float], rooms: Mapping[str, RoomAir]) -> Floats:
    """Pressures of rooms at ground level, as the solver has them, from those at their floors; 0 for rooms not given.

    Parameters
    ----------
    house
        The house.
    density
        Density of the air by place [kg/m3].
    rooms
        Solved rooms by name.

    Returns
    -------
    ndarray
        Shape (rooms of the house,) [Pa].
    """
    return np.array(
        [
            rooms[name].pressure_pa + _head_pa(room, density) if name in rooms else 0.0
            for name, room in house.rooms.items()
        ]
    )


def _head_pa(room: Room, density: Mapping[str, float]) -> float:
    """What the weight of a room's air against that of the air outdoors takes off from the ground to its floor [Pa]."""
    return GRAVITY_M_S2 * (density[room.name] - density[OUTDOORS]) * room.floor_m


def _opening_flow(
    *,
    house: House,
    scenario: Scenario,
    opening: Opening,
    assembled: Assembled,
    forward: float,
    backward: float,
    mass: float,
    drivers: Mapping[str, float],
    pressures: Mapping[str, float],
) -> OpeningFlow:
    a, b = opening.joins
    density = assembled.density
    share = scenario.shares[opening.name]
    sealed = any(p.sealed and p.opening == opening.name for p in scenario.placements)
    area = opening.area_m2 * share if not sealed else 0.0
    outside = assembled.wind_pa.get(opening.name, 0.0)
    dp = pressures[a] - (outside if b == OUTDOORS else pressures[b]) + stack_offset_pa(opening, scenario, density)
    blown = any((opening.name, place) in assembled.captures for place in (a, b))
    face = (forward + backward) / area if area > 0.0 else 0.0
    reading = None
    if area > 0.0 and not blown and min(forward, backward) <= ONE_WAY * max(forward, backward):
        screened = opening.screen is not None and opening.name in scenario.screened
        ratio = reading_over_mean(
            distance_m=USUAL_DISTANCE_M, area_m2=area, discharge=opening.discharge, screened=screened
        )
        reading = face * float(ratio)
    net = forward - backward
    carried = density[a] if mass >= 0.0 else density[b]
    return OpeningFlow(
        name=opening.name,
        joins=opening.joins,
        forward_m3_s=forward,
        backward_m3_s=backward,
        net_m3_s=net,
        net_kg_s=mass,
        dp_pa=dp,
        free_area_m2=area,
        face_speed_m_s=face,
        reading_m_s=reading,
        circling_m3_s=min(forward, backward) if blown and opening.is_external else 0.0,
        exchange_m3_s=max(0.0, _still_exchange(house, scenario, opening, density, area) - max(forward, backward)),
        wind_m3_s=drivers["wind"] / carried,
        stack_m3_s=drivers["stack"] / carried,
        fan_m3_s=drivers["fan"] / carried,
    )


def _still_exchange(
    house: House, scenario: Scenario, opening: Opening, density: Mapping[str, float], area: float
) -> float:
    """What an opening swaps by turbulence where nothing flows through it [m3/s].

    To outdoors by gusts and warmth (single-sided); through a floor where the air above is the heavier. Through a
    shaft, which is long and narrow, nothing.
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
    house: House,
    assembled: Assembled,
    openings: Mapping[str, OpeningFlow],
    pressures: Mapping[str, float],
    forward: Floats,
    backward: Floats,
) -> dict[str, RoomAir]:
    network, density = assembled.network, assembled.density
    inflow = dict.fromkeys((*house.rooms, OUTDOORS), 0.0)
    fresh = dict.fromkeys(house.rooms, 0.0)
    for flow in openings.values():
        a, b = flow.joins
        inflow[b] += flow.forward_m3_s + flow.exchange_m3_s
        inflow[a] += flow.backward_m3_s + flow.exchange_m3_s
        if b == OUTDOORS:
            fresh[a] += flow.backward_m3_s - flow.circling_m3_s + flow.exchange_m3_s
    names = (*network.nodes, OUTDOORS)
    for link in np.flatnonzero(network.owner < 0).tolist():
        a, b = names[network.a[link]], names[network.b[link]]
        inflow[a] += float(backward[link])
        if b == OUTDOORS:
            fresh[a] += float(backward[link])
    rooms = {}
    for name, room in house.rooms.items():
        rooms[name] = RoomAir(
            name=name,
            pressure_pa=pressures[name] - _head_pa(room, density),
            inflow_m3_s=inflow[name],
            air_change_per_h=3600.0 * inflow[name] / room.volume_m3,
            outdoor_m3_s=fresh[name],
            direct_air_change_per_h=3600.0 * fresh[name] / room.volume_m3,
            neutral_level_m=room_neutral_level(room, density, pressures[name]),
        )
    return rooms


def _fans(
    house: House,
    scenario: Scenario,
    assembled: Assembled,
    openings: Mapping[str, OpeningFlow],
    forward: Floats,
    backward: Floats,
) -> tuple[FanFlow, ...]:
    found = []
    owners = {name: i for i, name in enumerate(house.openings)}
    sealed_seen: dict[str, int] = {}
    for placement in scenario.placements:
        opening = house.openings[placement.opening]
        outwards = opening.joins[0] == placement.stands_in
        driven = openings[opening.name].net_m3_s * (1.0 if outwards else -1.0)
        blades = fan_of(house, placement).flow_m3_s
        if placement.sealed:
            mine = np.flatnonzero(assembled.network.owner == owners[opening.name])
            link = mine[sealed_seen.get(opening.name, 0)]
            sealed_seen[opening.name] = sealed_seen.get(opening.name, 0) + 1
            net = float(forward[link] - backward[link])
            blades = net if outwards else -net
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
