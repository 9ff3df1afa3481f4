"""Air speed at a spot of a room, from jets that enter through openings and jets of fans."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ventplan.house.geometry import FreeRectangle, free_rectangle, normal_from
from ventplan.house.records import OUTDOORS, House, Opening, Scenario
from ventplan.network.flow import Flow
from ventplan.network.jets import JetAtOpening, Ray, captures_at, jets_of_fan, path_to
from ventplan.network.weather import densities
from ventplan.physics.jet_capture import JetCapture
from ventplan.physics.jet_path import jet_at_plane, momentum_density

Vector = tuple[float, float, float]

MIN_INFLOW_M3_S = 0.001
"""Inflows below this make no jet of their own [m3/s] (common practice, no source)."""


@dataclass(frozen=True)
class InflowJet:
    """Air that enters a room through an opening.

    Attributes
    ----------
    opening
        Its name.
    comes_from
        The place that the air comes from.
    middle
        Middle of the stream in the plane of the opening [m].
    along, across
        Unit vectors of its direction and of its width.
    start_speed_m_s
        Speed where it is narrowest [m/s].
    width_m, height_m
        Sides of its effective area [m].
    temperature_c
        Temperature of the air that it brings [°C].
    """

    opening: str
    comes_from: str
    middle: Vector
    along: Vector
    across: Vector
    start_speed_m_s: float
    width_m: float
    height_m: float
    temperature_c: float

    @property
    def area_m2(self) -> float:
        """Effective area [m2]."""
        return self.width_m * self.height_m

    @property
    def is_level(self) -> bool:
        """True for a stream from an opening in a wall."""
        return abs(self.along[2]) < 0.7


def inflow_jets(house: House, scenario: Scenario, flow: Flow, room: str) -> tuple[InflowJet, ...]:
    """The jets of air that enter a room through its openings.

    Parameters
    ----------
    house, scenario, flow
        The house, its state, and the solution.
    room
        Name of the room.

    Returns
    -------
    tuple of InflowJet
        One for each opening that lets air in, in file order.

    Notes
    -----
    A plain opening contracts the stream by its discharge coefficient; a screen evens it out over the free area. Where
    air goes both ways, what enters takes its share of the height, at the bottom if it is the cooler. A fan's jet from
    the other side is the stream, unless more than half of the air comes by itself. What comes back round a jet that the
    room's own fan blows out of it goes with that jet again, and is no stream.
    """
    air = densities(house, scenario)
    jets = [
        jet
        for placement in scenario.placements
        if not placement.sealed
        for jet in jets_of_fan(house, scenario, placement, air[placement.stands_in])
        if room in house.openings[jet.opening].joins and jet.opening in flow.openings
    ]
    blown_out = {jet.opening for jet in jets if jet.stands_in == room}
    first = {jet.opening: jet for jet in reversed(jets) if jet.stands_in != room}
    captured = captures_at(house, scenario, [jet for jet in jets if jet.stands_in != room], air)
    found = []
    for name, solved in flow.openings.items():
        if room not in solved.joins or name in blown_out:
            continue
        entering = solved.forward_m3_s if solved.joins[1] == room else solved.backward_m3_s
        entering += solved.exchange_m3_s
        both = solved.forward_m3_s + solved.backward_m3_s + 2.0 * solved.exchange_m3_s
        if entering < MIN_INFLOW_M3_S:
            continue
        opening, origin = house.openings[name], solved.joins[0] if solved.joins[1] == room else solved.joins[1]
        capture = captured.get((name, origin))
        if capture is not None and entering <= 2.0 * capture.flow_m3_s:
            found.append(_blown(house, scenario, opening, room, entering, first[name], capture, air[origin]))
        elif (plain := _plain(house, scenario, opening, room, entering, both)) is not None:
            found.append(plain)
    return tuple(found)


def _temperature(scenario: Scenario, place: str) -> float:
    return scenario.outdoors.temperature_c if place == OUTDOORS else scenario.temperatures_c[place]


def _frame(house: House, opening: Opening, room: str) -> tuple[Vector, Vector]:
    """Direction into the room, and along the width of the frame."""
    width = opening.width_m or 1.0
    across = ((opening.end[0] - opening.start[0]) / width, (opening.end[1] - opening.start[1]) / width, 0.0)
    if not opening.is_horizontal:
        nx, ny = normal_from(opening, opening.other(room))
        return (nx, ny, 0.0), across
    other = house.rooms.get(opening.other(room))
    upwards = other is not None and other.floor_m < house.rooms[room].floor_m
    return (0.0, 0.0, 1.0 if upwards else -1.0), across


def _plain(
    house: House, scenario: Scenario, opening: Opening, room: str, entering_m3_s: float, both_m3_s: float
) -> InflowJet | None:
    share, origin = scenario.shares[opening.name], opening.other(room)
    along, across = _frame(house, opening, room)
    free = free_rectangle(opening, share)
    sealed = [p for p in scenario.placements if p.sealed and p.opening == opening.name]
    inwards = [p for p in sealed if p.stands_in != room] or sealed
    disc = math.pi / 4.0 * sum(house.fans[p.fan].diameter_m ** 2 for p in inwards)
    temperature = _temperature(scenario, origin)
    if disc > 0.0:
        side = math.sqrt(disc)
        middle = (free.x, free.y, free.z)
        return InflowJet(opening.name, origin, middle, along, across, entering_m3_s / disc, side, side, temperature)
    if free.area_m2 <= 0.0:
        return None
    part = entering_m3_s / both_m3_s
    z = free.z
    if not opening.is_horizontal:
        rest = (1.0 - part) * free.height_m / 2.0
        z += rest if temperature > scenario.temperatures_c[room] else -rest
    screened = opening.screen is not None and opening.name in scenario.screened
    contraction = 1.0 if screened else opening.discharge
    width, height = free.width_m * math.sqrt(contraction), free.height_m * part * math.sqrt(contraction)
    speed = entering_m3_s / (width * height)
    return InflowJet(opening.name, origin, (free.x, free.y, z), along, across, speed, width, height, temperature)


def _blown(
    house: House,
    scenario: Scenario,
    opening: Opening,
    room: str,
    entering_m3_s: float,
    jet: JetAtOpening,
    capture: JetCapture,
    density: float,
) -> InflowJet:
    """The stream that a jet from the other side becomes: of its direction, and of the area that its momentum needs."""
    free = free_rectangle(opening, scenario.shares[opening.name])
    _, across = _frame(house, opening, room)
    area = min(density * capture.flow_m3_s**2 / capture.momentum_n, free.area_m2)
    shrink = math.sqrt(area / free.area_m2)
    aside = _within(jet.at_plane.y_m, free.width_m * (1.0 - shrink) / 2.0)
    above = _within(jet.at_plane.z_m, free.height_m * (1.0 - shrink) / 2.0)
    return InflowJet(
        opening=opening.name,
        comes_from=jet.stands_in,
        middle=(free.x + aside * across[0], free.y + aside * across[1], free.z + above),
        along=(jet.ray.dx, jet.ray.dy, jet.ray.dz),
        across=across,
        start_speed_m_s=min(entering_m3_s, capture.flow_m3_s) / area,
        width_m=free.width_m * shrink,
        height_m=free.height_m * shrink,
        temperature_c=_temperature(scenario, jet.stands_in),
    )


def _within(value: float, most: float) -> float:
    return min(max(value, -most), most)


def openings_left_by(house: House, flow: Flow, room: str) -> Iterator[tuple[Opening, float]]:
    """Openings that let air out of a room, and the flow out [m3/s].

    Parameters
    ----------
    house, flow
        The house and its solution.
    room
        Name of the room.
    """
    for name, solved in flow.openings.items():
        if room in solved.joins:
            leaving = solved.forward_m3_s if solved.joins[0] == room else solved.backward_m3_s
            if leaving >= MIN_INFLOW_M3_S:
                yield house.openings[name], leaving


Spot = tuple[float, float, float]


def jet_speed(house: House, ray: Ray, spot: Spot, density: float) -> float:
    """Speed of a fan's jet, with its mirror images in the walls, at a spot of the room that it goes through.

    Parameters
    ----------
    house
        The house.
    ray
        The jet's axis.
    spot
        Where [m], shape (3,).
    density
        Density of the air [kg/m3].

    Returns
    -------
    float
        [m/s]; 0 behind the fan.

    Notes
    -----
    The jet is evaluated in a vertical plane through the spot, square to its direction on the floor plan.
    """
    level = math.hypot(ray.dx, ray.dy)
    if level < 1e-9:
        return 0.0
    nx, ny = ray.dx / level, ray.dy / level
    x, y, z = spot
    plane = Opening(
        "",
        "passage",
        (ray.place, OUTDOORS),
        (x + ny / 2.0, y - nx / 2.0),
        (x - ny / 2.0, y + nx / 2.0),
        (nx, ny),
        z,
        0.0,
    )
    path = path_to(house.rooms.get(ray.place), ray, plane, FreeRectangle(x, y, z, 0.0, 0.0))
    if path is None:
        return 0.0
    jet = jet_at_plane(source=ray.source, path=path)
    here = np.zeros(1)
    across_plane = math.sqrt(float(momentum_density(jet=jet, y_m=here, z_m=here)[0, 0]) / density)
    return across_plane / level
