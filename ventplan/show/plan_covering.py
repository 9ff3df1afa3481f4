"""What a note would lie on where it might stand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from ventplan.show.plan_labels import Box, Spot
from ventplan.show.plan_shapes import Area, Panel

COSTS = {
    "wall": 70.0,
    "fan": 70.0,
    "opening": 40.0,
    "head": 40.0,
    "stream": 16.0,
    "jet": 8.0,
    "obstacle": 3.0,
    "outside": 90.0,
}
"""What it costs to cover something wholly with a note."""
CoveringInside = Callable[[Sequence[Box], Any], Sequence[tuple[float, bool]]]
"""For boxes on the page and a room that they should stay in (or None): cost of each, and whether it covers anything."""


def covering_of(panel: Panel, origin: Spot, points_per_m: float) -> CoveringInside:
    """What boxes on the page would cover: walls, symbols, fans, streams and jets, each as a share of the box.

    Parameters
    ----------
    panel
        What is drawn.
    origin
        Where the plan's (0, 0) is on the page [pt].
    points_per_m
        Scale [pt/m].
    """
    import shapely

    def union(kind: Callable[[Area], bool]) -> Any:
        shapes = [shapely.Polygon(a.rings[0], a.rings[1:]).buffer(0) for a in panel.areas if kind(a)]
        return shapely.unary_union(shapes)

    symbols = [shapely.LineString(line.points).buffer(0.03) for line in panel.lines if line.layer == "opening"]
    layers = {
        "fan": union(lambda a: a.layer == "fan"),
        "head": union(lambda a: a.what.startswith("arrow of air")),
        "stream": union(lambda a: a.layer == "stream"),
        "jet": union(lambda a: a.layer == "jet"),
        "obstacle": union(lambda a: a.what.startswith("obstacle")),
        "opening": shapely.unary_union(symbols),
        "wall": panel.walls,
    }
    (ox, oy), s = origin, points_per_m

    def cost(boxes: Sequence[Box], inside: Any) -> Sequence[tuple[float, bool]]:
        if not boxes:
            return []
        left, low, right, high = (np.array(boxes).T - np.array([[ox], [oy], [ox], [oy]])) / s
        shapes = shapely.box(left, low, right, high)
        areas = shapely.area(shapes)
        total, covers = np.zeros(len(boxes)), np.zeros(len(boxes), dtype=bool)
        for name, layer in layers.items():
            share = shapely.area(shapely.intersection(layer, shapes)) / areas
            covers |= share > 1e-4
            total += np.where(share > 1e-4, COSTS[name] * np.minimum(1.0, 0.12 + 3.0 * share), 0.0)
        if inside is not None:
            total += COSTS["outside"] * shapely.area(shapely.difference(shapes, inside)) / areas
        return list(zip(total.tolist(), covers.tolist(), strict=True))

    return cost
