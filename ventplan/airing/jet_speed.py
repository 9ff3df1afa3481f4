"""How fast a fan's jet is at a spot of its room."""

from __future__ import annotations

import math

from ventplan.house.records import OUTDOORS, House, Opening
from ventplan.network.frames import FreeRectangle
from ventplan.network.rays import Ray, path_to
from ventplan.physics.passing import jet_momentum_density
from ventplan.physics.plume import plume_at_plane

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
    The jet is carried to a plane through the spot, square to its way on the plan, as to that of an opening.
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
    path = path_to(house, ray, plane, FreeRectangle(x, y, z, 0.0, 0.0))
    if path is None:
        return 0.0
    plume = plume_at_plane(source=ray.source, path=path)
    across_plane = math.sqrt(jet_momentum_density(plume=plume, y_m=0.0, z_m=0.0) / density)
    return across_plane / level
