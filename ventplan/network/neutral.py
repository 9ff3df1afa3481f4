"""Neutral pressure levels: where the pressure indoors is that of the still air outdoors at the same height."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from ventplan.house.records import OUTDOORS, Room
from ventplan.physics.buoyancy import GRAVITY_M_S2

LEAST_DENSITY_DIFFERENCE = 1e-3
"""Air that differs by less has no neutral level worth telling [kg/m3]: about a quarter of a kelvin."""


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


def house_neutral_level(
    rooms: Mapping[str, Room], density: Mapping[str, float], pressures: Mapping[str, float]
) -> float | None:
    """The one level where the house as a whole turns from below the outdoor pressure to above it, or back.

    Parameters
    ----------
    rooms
        The rooms.
    density
        Density of the air by place [kg/m3].
    pressures
        Static pressure of each room carried down to ground level, against the air outdoors there [Pa].

    Returns
    -------
    float or None
        Height above the ground [m]: the only change of sign of p - g (rho_in - rho_out) z, averaged at each height
        over the rooms there by their area. None without a change or with several.
    """
    outside = density[OUTDOORS]
    warm = {name: room for name, room in rooms.items() if abs(density[name] - outside) >= LEAST_DENSITY_DIFFERENCE}
    edges = sorted({z for room in warm.values() for z in (room.floor_m, room.floor_m + room.ceiling_m)})
    found: list[float] = []
    before = 0.0
    for low, high in pairwise(edges):
        here = [r for r in warm.values() if r.floor_m <= low + 1e-9 and r.floor_m + r.ceiling_m >= high - 1e-9]
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
    return found[0] if len(found) == 1 else None
