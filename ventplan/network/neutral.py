"""Neutral pressure levels: where the pressure indoors is that of the still air outdoors at the same height."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from ventplan.house.records import OUTDOORS, House, Room, Scenario
from ventplan.physics.buoyancy import GRAVITY_M_S2

LEAST_DENSITY_DIFFERENCE = 1e-3
"""Air that differs by less has no neutral level worth telling [kg/m3]: about a quarter of a kelvin."""

SAME_LEVEL_M = 0.5
"""Changes of sign that lie closer than this are one level [m]: rooms joined by doors differ a little."""


def room_neutral_level(room: Room, density: Mapping[str, float], pressure_pa: float) -> float | None:
    """Level where a room's pressure is that of the air outdoors.

    Parameters
    ----------
    room
        The room.
    density
        Density of the air by place [kg/m3].
    pressure_pa
        Its static pressure carried down to ground level, against the air outdoors there [Pa].

    Returns
    -------
    float or None
        p / (g (rho_in - rho_out)), where that lies between floor and ceiling [m above the ground].
    """
    difference = density[room.name] - density[OUTDOORS]
    if abs(difference) < LEAST_DENSITY_DIFFERENCE:
        return None
    level = pressure_pa / (GRAVITY_M_S2 * difference)
    return level if room.floor_m <= level <= room.floor_m + room.ceiling_m else None


def main_zone(house: House, scenario: Scenario) -> frozenset[str]:
    """The largest part of the house, by volume, whose rooms are joined by open doors and other openings.

    Parameters
    ----------
    house, scenario
        The house and its state.
    """
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
    """The level where the house turns from below the outdoor pressure to above it, or back.

    Parameters
    ----------
    house, scenario
        The house and its state.
    density
        Density of the air by place [kg/m3].
    pressures
        Static pressure of each room carried down to ground level, against the air outdoors there [Pa].

    Returns
    -------
    float or None
        Height above the ground [m] where p - g (rho_in - rho_out) z changes its sign, averaged at each height over
        the rooms there that open doors join (`main_zone`), by their area. None without a change of sign, or with
        changes more than `SAME_LEVEL_M` apart.
    """
    outside = density[OUTDOORS]
    zone = [house.rooms[name] for name in main_zone(house, scenario)]
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
