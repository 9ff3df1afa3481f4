"""Where each opening lies on the plan: which wall, how far along, how high; what does not fit is an error."""

from __future__ import annotations

import math
from collections.abc import Sequence
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
DEEP_M = 0.3
"""Difference of two floors from which a door between them is a drop [m]."""


@dataclass(frozen=True)
class Frame:
    """An opening's frame on the plan, its lower edge, and the fall through it [m]."""

    start: Point
    end: Point
    normal: Point
    bottom_m: float
    drop_m: float


def lies_flat(spec: OpeningSpec) -> bool:
    """True for an opening in a roof or floor."""
    return spec.kind in LYING or (spec.at is not None and spec.kind in MAY_LIE)


def frame_of(reading: Reading, name: str, spec: OpeningSpec) -> Frame:
    """The frame of an opening; refuses one that does not fit."""
    if lies_flat(spec):
        return lying_frame(reading, name, spec)
    rooms = [reading.rooms[p] for p in spec.joins if p != OUTDOORS]
    sill, bottom = sill_and_bottom(reading, name, spec, rooms)
    wall = shared_wall(reading, name, spec, rooms[0], rooms[1]) if len(rooms) == 2 else None
    check_fits_in_height(reading, name, spec, rooms, sill, bottom)
    if wall is None:
        wall = external_wall(reading, name, spec, rooms[0], bottom)
    along, width = along_wall(reading, name, spec, wall), spec.size[0]
    if len(rooms) == 1:
        for other, low, high in covered_spans(
            wall, reading.near[wall.room], low_m=bottom, high_m=bottom + spec.size[1]
        ):
            if min(high, along + width) - max(low, along) > SLACK_M:
                reading.refuse(
                    ("openings", name, "along"),
                    f"{along:.2f} m to {along + width:.2f} m along the wall, where {other} stands behind it",
                    f"a part of the wall that faces outdoors: {outdoor_pieces(reading, wall, bottom, spec.size[1])}",
                    f"Or join it to {other}: joins: [{spec.joins[0]}, {other}]",
                )
        drop = max(bottom, 0.0)
    else:
        lower = min(rooms, key=lambda r: r.floor_m)
        # A stairwell has a landing at every door that leads into it.
        stairs = lower.use in ("stairwell", "stairs", "staircase")
        deep = abs(rooms[0].floor_m - rooms[1].floor_m) > DEEP_M and not stairs
        drop = max(0.0, bottom - lower.floor_m) if deep else 0.0
    return Frame(wall.point(along), wall.point(along + width), wall.normal, bottom, drop)


def sill_and_bottom(reading: Reading, name: str, spec: OpeningSpec, rooms: Sequence[Room]) -> tuple[float, float]:
    """Sill above the floor, and lower edge above the ground outside [m]; notes a sill that was assumed."""
    sill = spec.sill
    if sill is None:
        sill = float(assumptions()["kinds"][spec.kind]["sill"])
        if sill:
            reading.assumed.note(f"sill {sill:g} m", name, "openings")
    return sill, max(r.floor_m for r in rooms) + sill


def check_height(reading: Reading, name: str, spec: OpeningSpec) -> None:
    """Refuse an opening that ends above a ceiling, where the place of a room that it joins is not known."""
    places = {**reading.unplaced, **reading.rooms}
    joined = [p for p in spec.joins if p != OUTDOORS]
    if not lies_flat(spec) and all(p in places for p in joined):
        rooms = [places[p] for p in joined]
        check_fits_in_height(reading, name, spec, rooms, *sill_and_bottom(reading, name, spec, rooms))


def outdoor_pieces(reading: Reading, wall: Wall, bottom_m: float, height_m: float) -> str:
    """The parts of a wall that face outdoors, as distances along it."""
    covered = covered_spans(wall, reading.near[wall.room], low_m=bottom_m, high_m=bottom_m + height_m)
    pieces = (f"{wall.along(p.start):.2f} m to {wall.along(p.end):.2f} m" for p in free_pieces(wall, covered))
    return ", ".join(pieces) or "there is none"


def check_fits_in_height(
    reading: Reading, name: str, spec: OpeningSpec, rooms: Sequence[Room], sill: float, bottom: float
) -> None:
    """Refuse an opening that ends above the ceiling of a room it joins."""
    width, height = spec.size
    for room in rooms:
        if bottom >= room.floor_m + room.ceiling_m - 0.05:
            found = f"a sill at {sill:.2f} m, {bottom - room.floor_m:.2f} m above the floor of {room.name}"
            allowed = f"below the ceiling of {room.name}, {room.ceiling_m:.2f} m above its floor"
            reading.refuse(("openings", name, "sill" if spec.sill is not None else "size"), found, allowed)
        top = bottom + height - room.floor_m
        if top > room.ceiling_m + SLACK_M:
            over = f"ends {top:.2f} m above the floor of {room.name}"
            found = f"a height of {height:.2f} m on a sill of {sill:.2f} m, which {over}"
            hint = "size is [width, height]" if width < height else "size is [width, height]: in that order"
            reading.refuse(("openings", name, "size"), found, f"up to the ceiling, {room.ceiling_m:.2f} m", hint)


def external_wall(reading: Reading, name: str, spec: OpeningSpec, room: Room, bottom: float) -> Wall:
    """The one wall of a room to outdoors that the file means."""
    path, top = ("openings", name, "wall"), bottom + spec.size[1]
    every = [renumbered(reading, w) for w in walls(room)]
    covered = {w: covered_spans(w, reading.near[w.room], low_m=bottom, high_m=top) for w in every}
    outside = [w for w in every if free_pieces(w, covered[w])]
    chosen = meant(every, spec.wall) if spec.wall is not None else outside
    if isinstance(spec.wall, str) and len(chosen) > 1:
        chosen = [w for w in chosen if w in outside] or chosen
    allowed = "; ".join(f"edge {w.edge}: {w}" for w in outside[:8]) or f"no wall of {room.name} faces outdoors"
    if not chosen:
        found = f"{room.name}, which has no wall outdoors"
        if spec.wall is not None:
            found = f"wall {spec.wall}, which {room.name} does not have"
        reading.refuse(path, found, allowed)
    if len(chosen) > 1:
        same = "; ".join(f"edge {w.edge}: {w}" for w in chosen[:8])
        found = f"{len(chosen)} walls that fit" if spec.wall is not None else "no wall"
        reading.refuse(path, found, f"one wall, by a word or the number of its edge: {same}")
    if chosen[0] not in outside:
        behind = ", ".join(dict.fromkeys(span[0] for span in covered[chosen[0]]))
        found = f"the {spec.wall} wall of {room.name}, all of it covered by {behind}"
        reading.refuse(path, found, f"a wall to outdoors: {allowed}")
    return chosen[0]


def renumbered(reading: Reading, wall: Wall) -> Wall:
    """The wall with its number as the file counts the corners, which may go round clockwise."""
    if wall.room not in reading.clockwise:
        return wall
    count = len(reading.rooms[wall.room].corners)
    return Wall(wall.room, count + 1 - wall.edge, wall.start, wall.end, wall.normal)


def meant(candidates: Sequence[Wall], wall: str | int) -> list[Wall]:
    """Walls with the number of an edge, or that face a word of the plan; failing that, those within 50 deg of it."""
    if isinstance(wall, int):
        return [w for w in candidates if w.edge == wall]
    exact = [w for w in candidates if plan_word(w.normal) == wall]

    def off_deg(candidate: Wall) -> float:
        angle = math.degrees(math.atan2(candidate.normal[0], candidate.normal[1]))
        return abs((angle - PLAN_BEARINGS[wall] + 180.0) % 360.0 - 180.0)

    return exact or [w for w in candidates if off_deg(w) <= 50.0]


def shared_wall(reading: Reading, name: str, spec: OpeningSpec, first: Room, second: Room) -> Wall:
    """The one wall that two rooms share and the file means."""
    shared = [renumbered(reading, w) for w in shared_walls(first, second)]
    if not shared:
        beside = [r.name for r in reading.near[first.name].values() if r is not first and shared_walls(first, r)]
        found = f"{first.name} and {second.name}, which share no wall"
        if overlap_height_m(first, second) <= 0.05:
            found += f" (their floors are at {first.floor_m:.2f} m and {second.floor_m:.2f} m: not the same storey)"
        hint = f"{first.name} shares a wall with {', '.join(beside)}" if beside else "Check at and size of both rooms"
        reading.refuse(("openings", name, "joins"), found, "two rooms side by side, at most 0.25 m apart", hint)
    chosen = shared if spec.wall is None else meant(shared, spec.wall)
    path, both = ("openings", name, "wall"), f"{first.name} and {second.name} share"
    if not chosen:
        where = "; ".join(map(str, shared))
        reading.refuse(path, f"the {spec.wall} wall of {first.name}", f"the wall that {both}: {where}")
    if len(chosen) > 1:
        edges = "; ".join(f"edge {w.edge}: {w}" for w in chosen)
        allowed = f"one of them, by a word or the number of {first.name}'s edge: {edges}"
        reading.refuse(path, f"{len(chosen)} walls that {both}", allowed)
    return chosen[0]


def along_wall(reading: Reading, name: str, spec: OpeningSpec, wall: Wall) -> float:
    """How far along its wall the opening begins [m]; in the middle where the file does not say."""
    width, length = spec.size[0], wall.length_m
    shared = OUTDOORS not in spec.joins
    what = f"the wall that {spec.joins[0]} and {spec.joins[1]} share" if shared else f"the wall of {wall.room}"
    if width > length + SLACK_M:
        allowed = f"up to {length:.2f} m: {what} is {wall}"
        reading.refuse(("openings", name, "size"), f"a width of {width:.2f} m", allowed)
    room_left = max(length - width, 0.0)
    if spec.along is None:
        reading.assumed.note("in the middle of its wall", name, "openings")
        if shared:
            return room_left / 2.0
        base = reading.rooms[spec.joins[0]].floor_m
        spans = covered_spans(wall, reading.near[wall.room], low_m=base, high_m=base + 2.0)
        widest = max(free_pieces(wall, spans) or (wall,), key=lambda w: w.length_m)
        return max(0.0, wall.along(widest.start) + (widest.length_m - width) / 2.0)
    if spec.along + width > length + SLACK_M:
        unit = likely_unit(spec.along, 0.01, length - width, length / 2.0) if spec.along > 1.5 * length else ""
        reading.refuse(
            ("openings", name, "along"),
            f"{spec.along:.2f} m, so that it ends at {spec.along + width:.2f} m",
            f"0 to {room_left:.2f} m for a width of {width:.2f} m: {what} is {wall}",
            f"Is it {spec.along:g} {unit}?" if unit else "",
        )
    return min(spec.along, room_left)


def lying_frame(reading: Reading, name: str, spec: OpeningSpec) -> Frame:
    """An opening in a roof or floor, by its place in plan."""
    path = ("openings", name)
    if spec.at is None:
        allowed = "at: [right, up], its lower left corner on the plan"
        reading.refuse(path, f"a {spec.kind} without at", allowed, at_key=True)
    (x, y), (width, depth) = spec.at, spec.size
    shape = polygon([(x, y), (x + width, y), (x + width, y + depth), (x, y + depth)])
    rooms = sorted((reading.rooms[p] for p in spec.joins if p != OUTDOORS), key=lambda r: r.floor_m)
    for room in rooms:
        inside = polygon(room.corners)
        if not inside.buffer(SLACK_M, join_style="mitre").covers(shape):
            outside = shape.difference(inside).area
            left, low, right, high = inside.bounds
            reading.refuse(
                (*path, "at"),
                f"({x:.2f}, {y:.2f}) with a size of {width:.2f} m by {depth:.2f} m, "
                f"{outside:.2f} m² of it outside {room.name}",
                f"inside {room.name}, which runs from ({left:.2f}, {low:.2f}) to ({right:.2f}, {high:.2f})",
            )
    level = floor_opening_level(reading, name, spec, rooms[0], rooms[1]) if len(rooms) == 2 else None
    drop = 0.0 if level is None else level - rooms[0].floor_m
    if level is None:
        level = roof_opening_level(reading, name, spec, rooms[0])
        if spec.kind != "shaft":
            drop = max(level, 0.0)
            check_roof_is_free(reading, name, spec, shape, rooms[0], level)
    middle = y + depth / 2.0
    return Frame((x, middle), (x + width, middle), (0.0, 0.0), level, drop)


def floor_opening_level(reading: Reading, name: str, spec: OpeningSpec, lower: Room, upper: Room) -> float:
    """Height above the ground outside of an opening between a room and the one above it [m]."""
    if overlap_height_m(lower, upper) > DEEP_M or upper.floor_m - lower.floor_m < 1.0:
        found = f"{lower.name} and {upper.name}, with floors at {lower.floor_m:.2f} m and {upper.floor_m:.2f} m"
        reading.refuse(("openings", name, "joins"), found, "one room above the other")
    level = upper.floor_m if spec.level is None else lower.floor_m + spec.level
    if spec.kind != "shaft" and not lower.floor_m + lower.ceiling_m - 0.1 <= level <= upper.floor_m + 0.1:
        between = f"between its ceiling and the floor of {upper.name}"
        found = f"{level - lower.floor_m:.2f} m above the floor of {lower.name}"
        allowed = f"{lower.ceiling_m:.2f} m to {upper.floor_m - lower.floor_m:.2f} m: {between}"
        reading.refuse(("openings", name, "level"), found, allowed)
    return level


def roof_opening_level(reading: Reading, name: str, spec: OpeningSpec, room: Room) -> float:
    """Height above the ground outside of an opening in a roof, or of the lower end of a shaft [m]."""
    path = ("openings", name, "level")
    above = room.ceiling_m if spec.level is None else spec.level
    if above < (0.0 if spec.kind == "shaft" else 0.5):
        reading.refuse(path, f"{above:.2f} m", "the height above the room's floor")
    if above > room.ceiling_m + 3.0:
        found = f"{above:.2f} m above the floor of {room.name}"
        reading.refuse(
            path, found, f"about its ceiling, {room.ceiling_m:.2f} m: the height at which the opening begins"
        )
    return room.floor_m + above


def check_roof_is_free(reading: Reading, name: str, spec: OpeningSpec, shape: Any, room: Room, level_m: float) -> None:
    """Refuse a hole in a roof that another room covers."""
    for other in reading.near[room.name].values():
        common = shape.intersection(polygon(other.corners)).area
        if other.name != room.name and other.floor_m + other.ceiling_m > level_m + 0.3 and common > 0.02:
            found = f"a {spec.kind} of {room.name} to outdoors, {common:.2f} m² of it below {other.name}"
            allowed = f"a place where nothing stands above, or joins: [{room.name}, {other.name}]"
            reading.refuse(("openings", name, "joins"), found, allowed)
