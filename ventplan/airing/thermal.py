"""How warm rooms get while air passes through them: one node of air and one of fabric for each room.

    C_air_i  dT_i/dt  = sum_j m_ji cp (T_j - T_i) + G_i (T_mass_i - T_i) + heat released in the room
    C_mass_i dT_mass_i/dt = G_i (T_i - T_mass_i) + U_i (T_out - T_mass_i) + sun on the fabric

Each step is exact for constant flows and weather, so it is stable for any length.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplan.airing.transport import AirPaths, Array, Stepper
from ventplan.house.geometry import facing_span, walls
from ventplan.house.records import House, Outdoors, Scenario
from ventplan.network.flow import Flow
from ventplan.network.jets import fan_of
from ventplan.physics.air import SPECIFIC_HEAT

SURFACE_W_M2_K = 3.45
"""Heat passed between air and surfaces for each square metre of surface [W/(m2 K)] (ISO 13790:2008, 7.2.2.2;
from memory)."""

MASS_W_M2_K = 9.1
"""Heat passed between surfaces and what lies behind them [W/(m2 K)] (ISO 13790:2008, 12.2.2; from memory)."""

SURFACE_SHARE = 4.5
"""Area of all surfaces for each square metre of floor [-] (ISO 13790:2008, 7.2.2.2; from memory)."""

MASS_SHARES = ((165_000.0, 2.5), (260_000.0, 3.0), (370_000.0, 3.5))
"""Heat that the fabric stores [J/(m2 K)] and area of the fabric for each square metre of floor [-]: up to
medium, heavy, very heavy (ISO 13790:2008, table 12; from memory)."""

WALL_W_M2_K, ROOF_W_M2_K = 1.0, 0.4
"""Heat through outer walls with their windows, and through the roof [W/(m2 K)], where the file says nothing:
an older house with some insulation (common practice, no source)."""

PERSON_W, PERSON_WATER_KG_S = 70.0, 45.0 / 2.45e6
"""Sensible heat [W] and water vapour [kg/s] of a person seated at rest: 70 W and 45 W of latent heat (ASHRAE
Fundamentals, table of heat gain from occupants; from memory)."""

SUN_SHARE = 0.12
"""Share of the sun on a level surface that comes in through a square metre of window with its blind half down
[-] (common practice, no source)."""

MOVED_K = 0.5
"""The house is solved again when a room or the air outdoors has moved by more than this [K]; twice that while all is
shut. Against 0.02 K, temperatures in the morning change by less than 0.05 K in the
scenarios of `house_examples/bungalow.yaml`."""

MOVED_M_S = 0.25
"""... or the wind by more than this [m/s], and four times that while everything is shut."""

MOVED_DEG = 10.0
"""... or, unless it is calm, has turned by more than this [deg]."""

FLOOR_THICKNESS_M = 0.4
"""Thickness of a floor between two storeys, at most [m] (common practice, no source)."""


@dataclass(frozen=True)
class Fabric:
    """What the house stores and loses, room by room.

    Attributes
    ----------
    stored_j_k
        Heat capacity of the fabric [J/K], shape (n,).
    coupling_w_k
        Heat passed between air and fabric [W/K], shape (n,).
    envelope_w_k
        Heat passed between fabric and outdoors [W/K], shape (n,).
    """

    stored_j_k: Array
    coupling_w_k: Array
    envelope_w_k: Array


def coupling_w_m2_k(stored_j_m2_k: float) -> float:
    """Heat passed between air and fabric for each square metre of floor.

    Parameters
    ----------
    stored_j_m2_k
        Heat that the fabric stores [J/(m2 K)].

    Returns
    -------
    float
        Conductance [W/(m2 K)]: from air to surfaces and from surfaces to mass, in series.

    References
    ----------
    ISO 13790:2008, simple hourly method, 7.2.2.2 and 12.2.2; figures from memory.

    Examples
    --------
    >>> round(coupling_w_m2_k(165_000.0), 2)
    9.23
    """
    stored, shares = zip(*MASS_SHARES, strict=True)
    share = float(np.interp(stored_j_m2_k, stored, shares))
    return 1.0 / (1.0 / (SURFACE_SHARE * SURFACE_W_M2_K) + 1.0 / (share * MASS_W_M2_K))


def fabric_of(house: House) -> Fabric:
    """What a house stores and loses.

    Parameters
    ----------
    house
        The house; where ``fabric_w_k`` is not given, it is estimated from outer walls and roof.

    Returns
    -------
    Fabric
        Figures of each room, in file order.
    """
    rooms = list(house.rooms.values())
    stored = np.array([room.mass * room.area_m2 for room in rooms])
    coupling = np.array([coupling_w_m2_k(room.mass) * room.area_m2 for room in rooms])
    outer = _outer_w_k(house)
    if house.fabric_w_k is not None:
        outer = house.fabric_w_k * (outer / outer.sum() if outer.sum() > 0.0 else np.full(len(rooms), 1.0 / len(rooms)))
    return Fabric(stored_j_k=stored, coupling_w_k=coupling, envelope_w_k=outer)


def outer_areas_m2(house: House) -> tuple[Array, Array]:
    """Area of each room's walls and roof that faces outdoors.

    Parameters
    ----------
    house
        The house.

    Returns
    -------
    tuple of ndarray
        Walls and roofs [m2], in file order. A wall counts by the area that meets no other room of any
        storey; the edge of a floor between two storeys counts as part of the room below it.
    """
    from shapely.geometry import Polygon, box
    from shapely.ops import unary_union

    rooms = list(house.rooms.values())
    outlines = [Polygon(room.corners) for room in rooms]
    wall_area, roof_area = [], []
    for room, outline in zip(rooms, outlines, strict=True):
        low, top = room.floor_m, room.floor_m + room.ceiling_m
        area = 0.0
        for wall in walls(room):
            met = [
                box(span[0], other.floor_m, span[1], other.floor_m + other.ceiling_m + FLOOR_THICKNESS_M)
                for other in rooms
                if other is not room
                for far in walls(other)
                if (span := facing_span(wall, far))
            ]
            area += box(0.0, low, wall.length_m, top).difference(unary_union(met)).area
        above = [
            other_outline
            for other, other_outline in zip(rooms, outlines, strict=True)
            if other is not room and other.floor_m + other.ceiling_m / 2.0 > top
        ]
        wall_area.append(area)
        roof_area.append(outline.difference(unary_union(above)).area)
    return np.array(wall_area), np.array(roof_area)


def _outer_w_k(house: House) -> Array:
    """Conductance of each room's outer walls and roof [W/K]."""
    wall_area, roof_area = outer_areas_m2(house)
    return np.asarray(WALL_W_M2_K * wall_area + ROOF_W_M2_K * roof_area)


@dataclass(frozen=True)
class HeatStep:
    """One step of all temperatures, worked out once for a solved flow.

    Attributes
    ----------
    stepper
        The step of air and fabric temperatures, shape (2 n,).
    capacity_j_k
        Heat capacities of air and fabric [J/K], shape (2 n,).
    outdoor_w_k
        Heat that each node exchanges with outdoors for each kelvin [W/K], shape (2 n,).
    vented_w_k
        Heat that leaves each room with the air for each kelvin [W/K], shape (n,).
    """

    stepper: Stepper
    capacity_j_k: Array
    outdoor_w_k: Array
    vented_w_k: Array

    @classmethod
    def of(cls, paths: AirPaths, fabric: Fabric, volumes_kg: Array, duration_s: float) -> HeatStep:
        """Work out a step.

        Parameters
        ----------
        paths
            Mass flows between rooms.
        fabric
            What the house stores and loses.
        volumes_kg
            All air in each room [kg], shape (n,).
        duration_s
            Length of the step [s].
        """
        n = len(paths.names)
        heat = paths.flow_kg_s * SPECIFIC_HEAT
        capacity = np.concatenate([volumes_kg * SPECIFIC_HEAT, fabric.stored_j_k])
        exchange = np.zeros((2 * n, 2 * n))
        exchange[:n, :n] = heat[:-1, :-1].T
        exchange[:n, n:] = exchange[n:, :n] = np.diag(fabric.coupling_w_k)
        outdoor = np.concatenate([heat[-1, :-1], fabric.envelope_w_k])
        exchange -= np.diag(exchange.sum(axis=1) + outdoor)
        return cls(
            stepper=Stepper.of(exchange / capacity[:, None], duration_s),
            capacity_j_k=capacity,
            outdoor_w_k=outdoor,
            vented_w_k=heat[:-1, -1],
        )

    def take(self, temperatures_c: Array, *, outdoor_c: float, heat_w: Array) -> HeatResult:
        """Take the step.

        Parameters
        ----------
        temperatures_c
            Air and fabric temperatures before it [°C], shape (2 n,).
        outdoor_c
            Outdoor temperature during it [°C].
        heat_w
            Heat released in each node [W], shape (2 n,).

        Returns
        -------
        HeatResult
            Temperatures after it, and where the heat went.
        """
        n = len(self.vented_w_k)
        # Counted from outdoors, so that nothing is lost in the difference of large numbers.
        before, source = temperatures_c - outdoor_c, heat_w / self.capacity_j_k
        after = self.stepper.after(before, source)
        summed = self.stepper.summed(before, source)
        vented = float(self.vented_w_k @ summed[:n])
        through_fabric = float(self.outdoor_w_k[n:] @ summed[n:])
        released = float(heat_w.sum()) * self.stepper.duration_s
        stored = float(self.capacity_j_k @ (after - before))
        return HeatResult(
            temperatures_c=after + outdoor_c,
            vented_j=vented,
            through_fabric_j=through_fabric,
            released_j=released,
            unaccounted_j=stored - (released - vented - through_fabric),
        )


@dataclass(frozen=True)
class HeatResult:
    """What one step did.

    Attributes
    ----------
    temperatures_c
        Air and fabric temperatures after it [°C], shape (2 n,).
    vented_j
        Heat carried out of the house by air [J].
    through_fabric_j
        Heat lost through walls and roof [J].
    released_j
        Heat released indoors [J].
    unaccounted_j
        What the house stored, less what it got and lost [J]: zero but for rounding.
    """

    temperatures_c: Array
    vented_j: float
    through_fabric_j: float
    released_j: float
    unaccounted_j: float


def fan_power_w(house: House, scenario: Scenario) -> float | None:
    """Electrical input of all fans of a scenario [W]; None where one is not known."""
    powers = [fan_of(house, placement).power_w for placement in scenario.placements]
    return None if None in powers else sum(power for power in powers if power is not None)


def fan_heat_w(house: House, scenario: Scenario) -> dict[str, float]:
    """Electrical input of the fans that stand in each room, all of which becomes heat there [W]."""
    heat: dict[str, float] = {}
    for placement in scenario.placements:
        if placement.stands_in in house.rooms:
            power_w = fan_of(house, placement).power_w or 0.0
            heat[placement.stands_in] = heat.get(placement.stands_in, 0.0) + power_w
    return heat


def heat_released_w(house: House, scenario: Scenario, *, sun_w_m2: float) -> Array:
    """Heat released in each node: people, appliances and fans in the air, sun in the fabric.

    Parameters
    ----------
    house, scenario
        The house and its state.
    sun_w_m2
        Sun on a level surface [W/m2].

    Returns
    -------
    ndarray
        Air of each room, then fabric of each room [W], shape (2 n,).
    """
    names, fans = list(house.rooms), fan_heat_w(house, scenario)
    air = [room.gain_w + fans.get(name, 0.0) + room.people * PERSON_W for name, room in house.rooms.items()]
    sun = np.zeros(len(names))
    for opening in house.openings.values():
        if opening.is_external and opening.kind in ("window", "roof window"):
            sun[names.index(opening.joins[0])] += opening.area_m2 * sun_w_m2 * SUN_SHARE
    return np.concatenate([air, sun])


@dataclass(frozen=True)
class SolvedState:
    """A solved flow with its steps, and what it was solved for.

    Attributes
    ----------
    state
        Name of the state of the windows.
    temperatures_c
        Air temperatures [°C], shape (n,).
    outdoors
        Weather.
    flow, paths
        The flow, and its mass flows between rooms.
    heat, water
        Steps of the temperatures and of the water in the air.
    """

    state: str
    temperatures_c: Array
    outdoors: Outdoors
    flow: Flow
    paths: AirPaths
    heat: HeatStep
    water: Stepper

    def still_good(self, state: str, temperatures_c: Array, outdoors: Outdoors, moved_k: float) -> bool:
        """True while nothing has moved far enough to solve again.

        Parameters
        ----------
        state, temperatures_c, outdoors
            How things stand now.
        moved_k
            How far temperatures may move [K].
        """
        turned = abs((outdoors.wind.from_deg - self.outdoors.wind.from_deg + 180.0) % 360.0 - 180.0)
        moved_k, moved_m_s = (2.0 * moved_k, 4.0 * MOVED_M_S) if state == "shut" else (moved_k, MOVED_M_S)
        return (
            state == self.state
            and float(np.abs(temperatures_c - self.temperatures_c).max()) <= moved_k
            and abs(outdoors.temperature_c - self.outdoors.temperature_c) <= moved_k
            and abs(outdoors.wind.speed_m_s - self.outdoors.wind.speed_m_s) <= moved_m_s
            and (turned <= MOVED_DEG or outdoors.wind.speed_m_s < moved_m_s)
        )
