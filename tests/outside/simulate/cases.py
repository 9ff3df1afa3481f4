"""From a case in metres to a grid of cells, and from mean fields back to flows at openings.

A case is one JSON object with the fields of ``tests/outside/data/les_rooms_2.jsonl``: a room, walls across it, openings
and fans. Two fields more: ``wind_m_s``, a uniform stream towards east around the room, and for an opening
``"sealed": true``, a piece of wall whose pressure is wanted. ``room_m`` null leaves the fan in the open.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .lattice import AIR_INDOORS, FAN, SCREEN_ACROSS_X, WALL

AIR_DENSITY_KG_M3, KINEMATIC_VISCOSITY_M2_S = 1.2, 1.5e-5

SCREEN_PA_PER_SPEED, SCREEN_PA_PER_SPEED2 = 0.410, 0.448
"""Pressure loss of a fine 18x16 screen, a v + b v2, at face velocity v [Pa s/m, Pa s2/m2]."""

MARGINS_M = (2.4, 3.0, 1.6, 1.2)
"""Outdoor air west, east, on both sides and above [m]; ``WIND_MARGINS_M`` in a wind."""

WIND_MARGINS_M = (4.0, 5.0, 3.0, 3.0)
FREE_MARGINS_M = (0.6, 0.6, 0.0, 0.0)

TURBULENCE = {"broad": 1.5, "narrow": 0.3}
"""Fluctuation of a disc's force over its mean, by the kind of jet."""

FASTEST_M_S = {"broad": 4.0, "narrow": 5.5, "wind": 7.0}
"""Speed at which air moves a tenth of a cell in a step: it sets the length of the step."""

SPONGE_CELLS = 12


@dataclass(frozen=True)
class Grid:
    """A case on its grid.

    Attributes
    ----------
    kinds
        Kind of every cell, shape (nz, ny, nx).
    figures
        What `lattice.simulation` needs besides.
    cell_m, step_s
        Size of a cell [m] and of a time step [s].
    openings, discs
        Index of the cells of every opening by name, and of every fan in order.
    rooms
        First and last wall of every room from west to east, and its south wall and roof [cells].
    """

    kinds: NDArray[np.uint8]
    figures: dict[str, float]
    cell_m: float
    step_s: float
    openings: dict[str, tuple[Any, ...]]
    discs: tuple[tuple[Any, ...], ...]
    rooms: tuple[tuple[int, int, int, int], ...]


def grid_of(case: Mapping[str, Any], *, cell_m: float = 0.03, smagorinsky: float = 0.11) -> Grid:
    """Lay a case out on a grid.

    Parameters
    ----------
    case
        Fields as in ``les_rooms_2.jsonl``.
    cell_m
        Size of a cell [m].
    smagorinsky
        Constant of Smagorinsky's model [-].
    """
    wind = case.get("wind_m_s", 0.0)
    step_s = 0.1 * cell_m / FASTEST_M_S["wind" if wind else case["jet"]]
    room = case["room_m"] or case["space_m"]
    margins = FREE_MARGINS_M if case["room_m"] is None else WIND_MARGINS_M if wind else MARGINS_M

    def cells(metres: float) -> int:
        return round(metres / cell_m)

    shape = cells(room[2] + margins[3]), cells(room[1] + 2 * margins[2]), cells(margins[0] + room[0] + margins[1])
    kinds = np.zeros(shape, np.uint8)
    west, south, roof = cells(margins[0]), cells(margins[2]), cells(room[2])
    east, north = west + cells(room[0]) + 1, south + cells(room[1]) + 1
    walls = {"west": west, "east": east}
    if case["room_m"] is not None:
        if wind:
            kinds[:roof, south:north, west:east] = AIR_INDOORS
        kinds[: roof + 1, south : north + 1, (west, east)] = WALL
        kinds[: roof + 1, (south, north), west : east + 1] = WALL
        kinds[roof, south : north + 1, west : east + 1] = WALL
        for number, x in enumerate(case["inner_walls_m"], 1):
            walls[f"inner {number}"] = west + cells(x)
            kinds[:roof, south:north, west + cells(x)] = WALL

    openings = {}
    for opening in case["openings"]:
        low, south_end = cells(opening["sill_m"]), cells(opening["centre_m"] - opening["width_m"] / 2)
        high, north_end = low + cells(opening["height_m"]), south_end + cells(opening["width_m"])
        place = slice(low, high), slice(south + 1 + south_end, south + 1 + north_end), walls[opening["wall"]]
        if not opening.get("sealed", False):
            kinds[place] = SCREEN_ACROSS_X if opening["screened"] else 0
        openings[opening["name"]] = place

    up, across = np.mgrid[0 : shape[0], 0 : shape[1]]
    discs = []
    figures = dict.fromkeys(("push", "noise", "swirl", "fan_y", "fan_z", "aim_y", "aim_z"), 0.0)
    figures |= {"fan_radius": 1.0, "aim_x": 1.0, "eddy": 2.0, "eddy_time": 4.0}
    for fan in case["fans"]:
        x = walls[fan["towards"]] - 1 - cells(fan["setback_m"])
        y, z = south + 0.5 + fan["across_m"] / cell_m, fan["height_m"] / cell_m - 0.5
        radius = fan["diameter_m"] / 2 / cell_m
        disc = (across - y) ** 2 + (up - z) ** 2 <= radius**2
        if case["frame_m"]:
            side = case["frame_m"] / 2 / cell_m
            frame = (abs(across - y) <= side) & (abs(up - z) <= side) & ~disc
            for back in range(cells(0.12)):
                kinds[:, :, x - back][frame] = WALL
        for back in range(2):
            kinds[:, :, x - back][disc] = FAN
        if not discs:
            jet_m_s = (2 * fan["thrust_n"] / (AIR_DENSITY_KG_M3 * np.pi * fan["diameter_m"] ** 2 / 4)) ** 0.5
            volume = disc.sum() * 2 * cell_m**3
            pan, tilt = np.radians(fan["turn_deg"]), np.radians(fan["tilt_deg"])
            figures |= {
                "push": fan["thrust_n"] / (AIR_DENSITY_KG_M3 * volume) * step_s**2 / cell_m,
                "noise": TURBULENCE[case["jet"]],
                "swirl": case["swirl"],
                "fan_y": y,
                "fan_z": z,
                "fan_radius": radius,
                "aim_x": np.cos(pan) * np.cos(tilt),
                "aim_y": np.sin(pan) * np.cos(tilt),
                "aim_z": np.sin(tilt),
                "eddy": max(fan["diameter_m"] / 5 / cell_m, 2.0),
                "eddy_time": max(fan["diameter_m"] / 5 / jet_m_s * 2 / step_s, 4.0),
            }
        discs.append((slice(None), slice(None), x, disc))
    figures |= {
        "tau": max(3 * KINEMATIC_VISCOSITY_M2_S * step_s / cell_m**2 + 0.5, 0.5003),
        "smagorinsky": smagorinsky,
        "screen_linear": SCREEN_PA_PER_SPEED * step_s / (AIR_DENSITY_KG_M3 * cell_m),
        "screen_quadratic": SCREEN_PA_PER_SPEED2 / AIR_DENSITY_KG_M3,
        "wind_x": wind * step_s / cell_m,
        "wind_y": 0.0,
        "sponge": float(SPONGE_CELLS),
    }
    ends = sorted(walls.values())
    rooms = tuple((a, b, south, roof) for a, b in itertools.pairwise(ends))
    return Grid(kinds, figures, cell_m, step_s, openings, tuple(discs), rooms)


def result_of(case: Mapping[str, Any], grid: Grid, means: NDArray[np.float32]) -> dict[str, Any]:
    """The case with what was simulated written into it.

    Parameters
    ----------
    case
        The case.
    grid
        Its grid.
    means
        Mean velocity and excess density, shape (4, nz, ny, nx), in lattice units.

    Returns
    -------
    dict
        The case; its openings with ``net_m3_s``, ``forward_m3_s`` and ``backward_m3_s`` (or ``wall_pressure_pa`` where
        sealed), its fans with ``blades_m3_s``, and ``room_pressure_pa`` from west to east.
    """
    speed, face = grid.cell_m / grid.step_s, grid.cell_m**2
    pascal = AIR_DENSITY_KG_M3 * speed**2 / 3
    along = means[0] * speed
    openings = []
    for opening in case["openings"]:
        place = grid.openings[opening["name"]]
        if opening.get("sealed", False):
            before = *place[:2], place[2] + (-2 if opening["wall"] == "west" else 2)
            found = {"wall_pressure_pa": round(float(means[3][before].mean()) * pascal, 2)}
        else:
            flow = along[place] * face
            found = {
                "forward_m3_s": round(float(flow[flow > 0].sum()), 3),
                "backward_m3_s": round(float(flow[flow < 0].sum()), 3),
                "net_m3_s": round(float(flow.sum()), 3),
            }
        openings.append({**opening, **found})
    fans = [
        {**fan, "blades_m3_s": round(float(along[:, :, x][disc].sum()) * face, 3)}
        for fan, (_, _, x, disc) in zip(case["fans"], grid.discs, strict=True)
    ]
    pressures = []
    if case["room_m"] is not None:
        off, deep, end = (max(round(metres / grid.cell_m), 1) for metres in (0.12, 0.3, 0.3))
        for first, last, south, roof in grid.rooms:
            beside = (
                slice(roof * 3 // 10, roof * 7 // 10),
                slice(south + off, south + deep),
                slice(first + end, last - end),
            )
            pressures.append(round(float(means[3][beside].mean()) * pascal, 2))
    return {**case, "openings": openings, "fans": fans, "room_pressure_pa": pressures}
