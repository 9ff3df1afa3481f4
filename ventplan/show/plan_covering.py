"""What a note would lie on where it might stand, from a coarse picture of each kind of thing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ventplan.show.plan_labels import Box, Spot
from ventplan.show.plan_shapes import Panel, Rings, rings_of

COSTS = {
    "wall": 70.0,
    "fan": 70.0,
    "opening": 40.0,
    "head": 40.0,
    "stream": 16.0,
    "jet": 8.0,
    "obstacle": 3.0,
    "outside": 90.0,
    "elsewhere": 36.0,
}
"""What it costs to cover something wholly with a note."""
TOUCHED = 0.3
"""Part of that cost from the first touch of a wall or of an opening's thin lines [-]."""
CELL_PT = 1.5
"""Size of a cell of the coarse picture [pt]."""


class CoveringInside(Protocol):
    """For boxes on the page: cost of each, and whether it covers anything.

    They should stay in a room where one is given; or, with ``elsewhere`` False, only keep out of the other rooms.
    """

    def __call__(self, boxes: Sequence[Box], inside: Any, *, elsewhere: bool = True) -> Sequence[tuple[float, bool]]:
        """Cost and covering of each box."""
        ...


class Mask:
    """Where something is on a page, in cells, with sums that give the covered share of any box at once.

    Parameters
    ----------
    page
        The part of the page that it is about [pt].
    """

    def __init__(self, page: Box) -> None:
        from PIL import Image, ImageDraw

        self.page = page
        size = (int((page[2] - page[0]) / CELL_PT) + 2, int((page[3] - page[1]) / CELL_PT) + 2)
        self._image = Image.new("1", size)
        self._draw = ImageDraw.Draw(self._image)
        self._sums: NDArray[np.int64] | None = None

    def _cells(self, points: Iterable[Spot]) -> list[Spot]:
        return [((x - self.page[0]) / CELL_PT, (y - self.page[1]) / CELL_PT) for x, y in points]

    def fill(self, rings: Sequence[Sequence[Spot]]) -> None:
        """Add a shape with holes [pt]; a hole is empty even where something was."""
        for i, ring in enumerate(rings):
            self._draw.polygon(self._cells(ring), fill=0 if i else 1)

    def stroke(self, points: Sequence[Spot]) -> None:
        """Add a line [pt]."""
        self._draw.line(self._cells(points), fill=1, width=2)

    def shares(self, boxes: NDArray[np.float64]) -> NDArray[np.float64]:
        """Share of each box that is covered: boxes of shape (n, 4) [pt] give (n,) [-]."""
        if self._sums is None:
            cells = np.asarray(self._image, dtype=np.int64)
            self._sums = np.pad(cells.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
        rows, columns = self._sums.shape
        left, low = np.floor((boxes[:, :2] - np.array(self.page[:2])) / CELL_PT).astype(np.int64).T
        right, high = np.ceil((boxes[:, 2:] - np.array(self.page[:2])) / CELL_PT).astype(np.int64).T
        left, right = np.clip(left, 0, columns - 1), np.clip(right, 1, columns - 1)
        low, high = np.clip(low, 0, rows - 1), np.clip(high, 1, rows - 1)
        inside = self._sums[high, right] - self._sums[low, right] - self._sums[high, left] + self._sums[low, left]
        return np.asarray(inside / np.maximum((right - left) * (high - low), 1))


def covering_of(panel: Panel, page: Box, origin: Spot, points_per_m: float) -> CoveringInside:
    """What boxes on the page would cover: walls, symbols, fans, streams and jets, each as a share of the box.

    Parameters
    ----------
    panel
        What is drawn.
    page
        The panel's part of the page [pt].
    origin
        Where the plan's (0, 0) is on the page [pt].
    points_per_m
        Scale [pt/m].
    """

    def on_page(points: Iterable[tuple[float, float]]) -> list[Spot]:
        return [(origin[0] + x * points_per_m, origin[1] + y * points_per_m) for x, y in points]

    def mask(shapes: Iterable[Rings]) -> Mask:
        made = Mask(page)
        for rings in shapes:
            made.fill([on_page(ring) for ring in rings])
        return made

    areas = panel.areas
    layers = {
        "fan": mask(a.rings for a in areas if a.layer == "fan"),
        "head": mask(a.rings for a in areas if a.what.startswith("arrow of air")),
        "stream": mask(a.rings for a in areas if a.layer == "stream"),
        "jet": mask(a.rings for a in areas if a.layer == "jet"),
        "obstacle": mask(a.rings for a in areas if a.what.startswith("obstacle")),
        "wall": mask(rings_of(panel.walls)),
        "opening": Mask(page),
    }
    for line in panel.lines:
        if line.layer == "opening":
            layers["opening"].stroke(on_page(line.points))
    floors = mask(a.rings for a in areas if a.what.startswith("room"))
    rooms: dict[int, Mask] = {}

    def cost(boxes: Sequence[Box], inside: Any, *, elsewhere: bool = True) -> Sequence[tuple[float, bool]]:
        if not boxes:
            return []
        corners = np.array(boxes, dtype=float)
        total, covers = np.zeros(len(boxes)), np.zeros(len(boxes), dtype=bool)
        for name, layer in layers.items():
            share = layer.shares(corners)
            covers |= share > 0.0
            least = TOUCHED if name in ("wall", "opening") else 0.12
            total += np.where(share > 0.0, COSTS[name] * np.minimum(1.0, least + 3.0 * share), 0.0)
        if inside is not None:
            if id(inside) not in rooms:
                rooms[id(inside)] = mask(rings_of(inside))
            own = rooms[id(inside)].shares(corners)
            total += (
                COSTS["outside"] * (1.0 - own) if elsewhere else COSTS["elsewhere"] * (floors.shares(corners) - own)
            )
        return list(zip(total.tolist(), covers.tolist(), strict=True))

    return cost
