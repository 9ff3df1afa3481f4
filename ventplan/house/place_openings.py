"""Where each opening lies on the plan: which wall, how far along, how high; every misfit with its numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from ventplan.house.catalogue import assumptions
from ventplan.house.fields import likely_unit
from ventplan.house.geometry import (
    PLAN_BEARINGS,
    SLACK_M,
    Wall,
    covered_spans,
    free_pieces,
    overlap_height_m,
    plan_word,
    polygon,
    shared_walls,
    walls,
)
from ventplan.house.reading import Reading
from ventplan.house.records import OUTDOORS, Point, Room
from ventplan.house.schema import OpeningSpec

LYING = ("roof window", "hatch", "shaft")
MAY_LIE = (*LYING, "vent", "passage")
"""Kinds of opening that always lie flat in a roof or floor, and those that do where the file says where: at."""


@dataclass(frozen=True)
class Placed:
    """An opening's frame on the plan."""

    start: Point
    end: Point
    normal: Point
    bottom_m: float
    drop_m: float


def lies_flat(spec: OpeningSpec) -> bool:
    """True for an opening in a roof or floor."""
    return spec.kind in LYING or (spec.at is not None and spec.kind in MAY_LIE)


def place(reading: Reading, name: str, spec: OpeningSpec) -> Placed | None:
    """The frame of an opening; None after noting why it does not fit."""
    if lies_flat(spec):
        return place_lying(reading, name, spec)
    rooms = [reading.rooms[p] for p in spec.joins if p != OUTDOORS]
    sill, bottom, top = heights(reading, name, spec, rooms)
    wall = None if OUTDOORS in spec.joins else shared_wall(reading, name, spec, rooms[0], rooms[1])
    if (wall is None) is (OUTDOORS not in spec.joins):
        return None
    if not fits_in_height(reading, name, spec, rooms, sill, bottom, top):
        return None
    wall = wall or external_wall(reading, name, spec, rooms[0], bottom, top)
    if wall is None:
        return None
    along = fitted_along(reading, name, spec, wall)
    if along is None:
        return None
    width = spec.size[0]
    if OUTDOORS in spec.joins:
        for other, low, high in covered_spans(wall, reading.near[wall.room], low_m=bottom, high_m=top):
            if min(high, along + width) - max(low, along) > SLACK_M:
                reading.report(
                    ("openings", name, "along"),
                    f"{along:.2f} m to {along + width:.2f} m along the wall, where {other} stands behind it",
                    f"a part of the wall that faces outdoors: {pieces_text(reading, wall, bottom, top)}",
                    f"Or join it to {other}: joins: [{spec.joins[0]}, {other}]",
                )
                return None
        drop = max(bottom, 0.0)
    else:
        lower = min(rooms, key=lambda r: r.floor_m)
        # A stairwell has a landing at every door that leads into it.
        deep = abs(rooms[0].floor_m - rooms[1].floor_m) > 0.3 and lower.use not in ("stairwell", "stairs", "staircase")
        drop = max(0.0, bottom - lower.floor_m) if deep else 0.0
    return Placed(wall.point(along), wall.point(along + width), wall.normal, bottom, drop)


def heights(reading: Reading, name: str, spec: OpeningSpec, rooms: list[Room]) -> tuple[float, float, float]:
    """Sill above the floor, and bottom and top above the ground outside [m]; notes a sill that was assumed."""
    sill = spec.sill
    if sill is None:
        sill = float(assumptions()["kinds"][spec.kind]["sill"])
        if sill:
            reading.assumed.note(f"sill {sill:g} m", name, "openings")
    bottom = max(r.floor_m for r in rooms) + sill
    return sill, bottom, bottom + spec.size[1]


def check_height(reading: Reading, name: str, spec: OpeningSpec) -> None:
    """Note an opening that ends above a ceiling, where the place of a room that it joins is not known."""
    places = {**reading.unplaced, **reading.rooms}
    joined = [p for p in spec.joins if p != OUTDOORS]
    if not lies_flat(spec) and all(p in places for p in joined):
        rooms = [places[p] for p in joined]
        fits_in_height(reading, name, spec, rooms, *heights(reading, name, spec, rooms))


def pieces_text(reading: Reading, wall: Wall, bottom_m: float, top_m: float) -> str:
    """The parts of a wall that face outdoors, as distances along it."""
    free = free_pieces(wall, covered_spans(wall, reading.near[wall.room], low_m=bottom_m, high_m=top_m))
    return ", ".join(f"{wall.along(p.start):.2f} m to {wall.along(p.end):.2f} m" for p in free) or "there is none"


def fits_in_height(
    reading: Reading, name: str, spec: OpeningSpec, rooms: list[Room], sill: float, bottom: float, top: float
) -> bool:
    """True where the opening ends below the ceiling of every room it joins."""
    for room in rooms:
        ceiling = room.floor_m + room.ceiling_m
        if bottom >= ceiling - 0.05:
            found = f"a sill at {sill:.2f} m, {bottom - room.floor_m:.2f} m above the floor of {room.name}"
            reading.report(("openings", name, "sill" if spec.sill is not None else "size"), found,
                       f"below the ceiling of {room.name}, {room.ceiling_m:.2f} m above its floor")  # fmt: skip
            return False
        if top > ceiling + SLACK_M:
            over = f"{top - room.floor_m:.2f} m above the floor of {room.name}"
            reading.report(
                ("openings", name, "size"),
                f"a height of {spec.size[1]:.2f} m on a sill of {sill:.2f} m, which ends {over}",
                f"up to the ceiling, {room.ceiling_m:.2f} m",
                "size is [width, height]" if spec.size[0] < spec.size[1] else "size is [width, height]: in that order",
            )
            return False
    return True


def external_wall(reading: Reading, name: str, spec: OpeningSpec, room: Room, bottom: float, top: float) -> Wall | None:
    """The one wall of a room to outdoors that the file means."""
    path = ("openings", name, "wall")
    every = [renumbered(reading, w) for w in walls(room)]
    outside = [w for w in every if free_pieces(w, covered_spans(w, reading.near[w.room], low_m=bottom, high_m=top))]
    if isinstance(spec.wall, int):
        chosen = [w for w in every if w.edge == spec.wall]
    elif isinstance(spec.wall, str):
        chosen = facing(every, spec.wall)
        if len(chosen) > 1:
            chosen = [w for w in chosen if w in outside] or chosen
    else:
        chosen = outside
    allowed = "; ".join(f"edge {w.edge}: {w}" for w in outside[:8]) or f"no wall of {room.name} faces outdoors"
    if not chosen:
        said = (
            f"wall {spec.wall} of {room.name}" if spec.wall is not None else f"{room.name}, which has no wall outdoors"
        )
        reading.report(path, f"{said}, which it does not have" if spec.wall is not None else said, allowed)
        return None
    if len(chosen) > 1:
        same = "; ".join(f"edge {w.edge}: {w}" for w in chosen[:8])
        found = f"{len(chosen)} walls that it could be" if spec.wall is not None else "no wall"
        reading.report(path, found, f"one wall, by a word or the number of its edge: {same}")
        return None
    if chosen[0] not in outside:
        spans = covered_spans(chosen[0], reading.near[chosen[0].room], low_m=bottom, high_m=top)
        behind = ", ".join(dict.fromkeys(s[0] for s in spans))
        reading.report(
            path,
            f"the {spec.wall} wall of {room.name}, all of it covered by {behind}",
            f"a wall to outdoors: {allowed}",
        )
        return None
    return chosen[0]


def renumbered(reading: Reading, wall: Wall) -> Wall:
    """The wall with its number as the file counts the corners, which may go round clockwise."""
    if wall.room not in reading.clockwise:
        return wall
    count = len(reading.rooms[wall.room].corners)
    return Wall(wall.room, count + 1 - wall.edge, wall.start, wall.end, wall.normal)


def facing(candidates: list[Wall], word: str) -> list[Wall]:
    """Walls that face a word of the plan; failing that, those within 50 deg of it."""
    exact = [w for w in candidates if plan_word(w.normal) == word]

    def off(wall: Wall) -> float:
        angle = math.degrees(math.atan2(wall.normal[0], wall.normal[1]))
        return abs((angle - PLAN_BEARINGS[word] + 180.0) % 360.0 - 180.0)

    return exact or [w for w in candidates if off(w) <= 50.0]


def merged(pieces: tuple[Wall, ...]) -> list[Wall]:
    """Pieces of one edge that touch, as one."""
    result: list[Wall] = []
    for piece in sorted(pieces, key=lambda w: (w.edge, w.start[0] * w.direction[0] + w.start[1] * w.direction[1])):
        last = result[-1] if result else None
        if last and last.edge == piece.edge and math.dist(last.end, piece.start) < 0.02:
            result[-1] = Wall(last.room, last.edge, last.start, piece.end, last.normal)
        else:
            result.append(piece)
    return result


def shared_wall(reading: Reading, name: str, spec: OpeningSpec, first: Room, second: Room) -> Wall | None:
    """The one wall that two rooms share and the file means."""
    shared = [renumbered(reading, w) for w in merged(shared_walls(first, second))]
    if not shared:
        beside = [r.name for r in reading.near[first.name].values() if r is not first and shared_walls(first, r)]
        found = f"{first.name} and {second.name}, which share no wall"
        if overlap_height_m(first, second) <= 0.05:
            found += f" (their floors are at {first.floor_m:.2f} m and {second.floor_m:.2f} m: not the same storey)"
        hint = f"{first.name} shares a wall with {', '.join(beside)}" if beside else "Check at and size of both rooms"
        reading.report(("openings", name, "joins"), found, "two rooms side by side, at most 0.25 m apart", hint)
        return None
    chosen = shared
    if isinstance(spec.wall, str):
        chosen = facing(shared, spec.wall)
    elif isinstance(spec.wall, int):
        chosen = [w for w in shared if w.edge == spec.wall]
    where = "; ".join(str(w) for w in shared)
    if not chosen:
        reading.report(("openings", name, "wall"), f"the {spec.wall} wall of {first.name}",
                   f"the wall that {first.name} and {second.name} share: {where}")  # fmt: skip
        return None
    if len(chosen) > 1:
        reading.report(("openings", name, "wall"), f"{len(chosen)} walls that {first.name} and {second.name} share",
                   f"one of them, by a word or the number of {first.name}'s edge: "
                   + "; ".join(f"edge {w.edge}: {w}" for w in chosen))  # fmt: skip
        return None
    return chosen[0]


def fitted_along(reading: Reading, name: str, spec: OpeningSpec, wall: Wall) -> float | None:
    """How far along its wall the opening begins [m]; in the middle where the file does not say."""
    width, length = spec.size[0], wall.length_m
    shared = OUTDOORS not in spec.joins
    what = f"the wall that {spec.joins[0]} and {spec.joins[1]} share" if shared else f"the wall of {wall.room}"
    if width > length + SLACK_M:
        reading.report(
            ("openings", name, "size"), f"a width of {width:.2f} m", f"up to {length:.2f} m: {what} is {wall}"
        )
        return None
    if spec.along is None:
        reading.assumed.note("in the middle of its wall", name, "openings")
        if shared:
            return max(0.0, (length - width) / 2.0)
        base = max(reading.rooms[p].floor_m for p in spec.joins if p != OUTDOORS)
        spans = covered_spans(wall, reading.near[wall.room], low_m=base, high_m=base + 2.0)
        widest = max(free_pieces(wall, spans) or (wall,), key=lambda w: w.length_m)
        return max(0.0, wall.along(widest.start) + (widest.length_m - width) / 2.0)
    if spec.along + width > length + SLACK_M:
        unit = likely_unit(spec.along, 0.01, length - width, length / 2.0) if spec.along > 1.5 * length else ""
        reading.report(
            ("openings", name, "along"),
            f"{spec.along:.2f} m, so that it ends at {spec.along + width:.2f} m",
            f"0 to {max(length - width, 0.0):.2f} m for a width of {width:.2f} m: {what} is {wall}",
            f"Is it {spec.along:g} {unit}?" if unit else "",
        )
        return None
    return min(spec.along, max(length - width, 0.0))


def place_lying(reading: Reading, name: str, spec: OpeningSpec) -> Placed | None:
    """An opening in a roof or floor, by its place in plan."""
    if spec.at is None:
        allowed = "at: [right, up], its lower left corner on the plan"
        reading.source.report(("openings", name), f"a {spec.kind} without at", allowed, at_key=True)
        return None
    (x, y), (width, depth) = spec.at, spec.size
    shape = polygon([(x, y), (x + width, y), (x + width, y + depth), (x, y + depth)])
    rooms = [reading.rooms[p] for p in spec.joins if p != OUTDOORS]
    for room in rooms:
        inside = polygon(room.corners)
        if not inside.buffer(SLACK_M, join_style="mitre").covers(shape):
            outside = shape.difference(inside).area
            left, low, right, high = inside.bounds
            reading.report(
                ("openings", name, "at"),
                f"({x:.2f}, {y:.2f}) with a size of {width:.2f} m by {depth:.2f} m, "
                f"{outside:.2f} m² of it outside {room.name}",
                f"inside {room.name}, which runs from ({left:.2f}, {low:.2f}) to ({right:.2f}, {high:.2f})",
            )
            return None
    if len(rooms) == 2:
        lower, upper = sorted(rooms, key=lambda r: r.floor_m)
        if overlap_height_m(lower, upper) > 0.3 or upper.floor_m - lower.floor_m < 1.0:
            found = f"{lower.name} and {upper.name}, with floors at {lower.floor_m:.2f} m and {upper.floor_m:.2f} m"
            reading.report(("openings", name, "joins"), found, "one room above the other")
            return None
        level = upper.floor_m if spec.level is None else lower.floor_m + spec.level
        if spec.kind != "shaft" and not lower.floor_m + lower.ceiling_m - 0.1 <= level <= upper.floor_m + 0.1:
            reading.report(
                ("openings", name, "level"),
                f"{level - lower.floor_m:.2f} m above the floor of {lower.name}",
                f"{lower.ceiling_m:.2f} m to {upper.floor_m - lower.floor_m:.2f} m: between its ceiling and the floor "
                f"of {upper.name}",
            )
            return None
        drop = level - lower.floor_m
    else:
        level = rooms[0].floor_m + (rooms[0].ceiling_m if spec.level is None else spec.level)
        if level < rooms[0].floor_m + (0.0 if spec.kind == "shaft" else 0.5):
            reading.report(
                ("openings", name, "level"),
                f"{level - rooms[0].floor_m:.2f} m",
                "the height above the room's floor",
            )
            return None
        if level > rooms[0].floor_m + rooms[0].ceiling_m + 3.0:
            reading.report(
                ("openings", name, "level"),
                f"{level - rooms[0].floor_m:.2f} m above the floor of {rooms[0].name}",
                f"about its ceiling, {rooms[0].ceiling_m:.2f} m: the height at which the opening begins",
            )
            return None
        drop = max(level, 0.0) if spec.kind != "shaft" else 0.0
        if spec.kind != "shaft" and covered_above(reading, name, spec, shape, rooms[0], level):
            return None
    middle = y + depth / 2.0
    return Placed((x, middle), (x + width, middle), (0.0, 0.0), level, drop)


def covered_above(reading: Reading, name: str, spec: OpeningSpec, shape: Any, room: Room, level_m: float) -> bool:
    """True for a hole in a roof that another room covers; notes which."""
    for other in reading.near[room.name].values():
        common = shape.intersection(polygon(other.corners)).area
        if other.name != room.name and other.floor_m + other.ceiling_m > level_m + 0.3 and common > 0.02:
            reading.report(
                ("openings", name, "joins"),
                f"a {spec.kind} of {room.name} to outdoors, {common:.2f} m² of it below {other.name}",
                f"a place where nothing stands above, or joins: [{room.name}, {other.name}]",
            )
            return True
    return False
