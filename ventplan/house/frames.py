"""The free part of an opening, and how its frame lies."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ventplan.house.records import House, Opening, Point


@dataclass(frozen=True)
class FreeRectangle:
    """The free part of an opening's frame.

    Attributes
    ----------
    x, y, z
        Its middle [m].
    width_m, height_m
        Its sides [m].
    """

    x: float
    y: float
    z: float
    width_m: float
    height_m: float

    @property
    def area_m2(self) -> float:
        """Free area [m2]."""
        return self.width_m * self.height_m


def free_rectangle(opening: Opening, share: float) -> FreeRectangle:
    """The free part of an opening that is open by a share of its frame.

    Parameters
    ----------
    opening
        The opening.
    share
        Free share of the frame's area [-], 0 to 1. The free part begins at the side that ``opening.opens`` names.

    Returns
    -------
    FreeRectangle
        Middle and sides [m].
    """
    (x1, y1), (x2, y2) = opening.start, opening.end
    across = share if opening.free_along == "width" else 1.0
    up = share if opening.free_along == "height" else 1.0
    height = opening.height_m * up
    rise = 0.0 if opening.is_horizontal else opening.height_m - height / 2.0 if opening.opens == "top" else height / 2.0
    middle = 1.0 - across / 2.0 if opening.opens == "end" else across / 2.0
    return FreeRectangle(
        x=x1 + (x2 - x1) * middle,
        y=y1 + (y2 - y1) * middle,
        z=opening.bottom_m + rise,
        width_m=opening.width_m * across,
        height_m=height,
    )


def normal_from(opening: Opening, place: str) -> Point:
    """Unit vector in plan that points from ``place`` through the opening."""
    sign = 1.0 if opening.joins[0] == place else -1.0
    return sign * opening.normal[0], sign * opening.normal[1]


def tangent_of(opening: Opening) -> Point:
    """Unit vector in plan from the start of an opening's frame to its end."""
    (x1, y1), (x2, y2) = opening.start, opening.end
    length = opening.width_m
    return (x2 - x1) / length, (y2 - y1) / length


def rise_per_m(house: House, opening: Opening) -> float:
    """How much an opening rises for each metre of its height [-]: 1 upright, 0 lying, the sine of a roof's pitch."""
    if not opening.is_horizontal:
        return 1.0
    if opening.kind != "roof window":
        return 0.0
    return math.sin(math.radians(house.roof_pitch_deg if opening.pitch_deg is None else opening.pitch_deg))


def opening_sides(opening: Opening, free: FreeRectangle) -> tuple[float, float]:
    """Sides of the free part across and along the way it rises [m]; a roof may rise along the width of the frame."""
    down = opening.slope_faces
    along_width = down is not None and abs(down[0]) > abs(down[1])
    return (free.height_m, free.width_m) if along_width else (free.width_m, free.height_m)
