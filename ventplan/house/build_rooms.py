"""Records of rooms, obstacles, places for people and the weather, with the checks of the plan."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any

from ventplan.house.catalogue import assumptions
from ventplan.house.geometry import (
    SLACK_M,
    close_pairs,
    counter_clockwise,
    neighbours,
    overlap_height_m,
    point,
    polygon,
    signed_area_m2,
)
from ventplan.house.reading import Reading, Refused, validate, without_errors
from ventplan.house.records import Obstacle, Outdoors, PersonAt, Point, Room, Wind
from ventplan.house.schema import ObstacleSpec, OutdoorsSpec, PersonAtSpec, RoomSpec

HEAD_ABOVE_BED_M = 0.1
"""Height of a head above the bed or sofa that it rests on, where the file does not say [m]: a pillow, no source."""

TALLEST_BED_M = 1.0
"""Furniture up to this height may be a bed or sofa that somebody is on [m]; taller is a cupboard."""

APART = frozenset({"use", "flame", "temperature", "mixing", "mass", "gain", "people"})
"""Keys of a room that its place and its height do not depend on."""


def build_rooms(reading: Reading) -> None:
    """Every room of the file; overlaps are errors."""
    section = reading.section("rooms", "a name for each room, and its size")
    if not section and "rooms" in reading.source.data and isinstance(reading.spec.rooms, (dict, type(None))):
        reading.report(("rooms",), "no rooms", "at least one room: rooms: {living: {at: [0 m, 0 m], size: [5 m, 4 m]}}")
    indoors = reading.spec.indoors.temperature
    default_c = assumptions()["weather"]["indoors"]
    if indoors is None and section:
        reading.assumed.note(f"indoors {default_c:g} °C")
    usual_c = default_c if indoors is None else indoors
    flat: list[Room] = []
    for name, data in section.items():
        path = ("rooms", name)
        if name == "outdoors" or not name.strip():
            reading.report(path, f'a room named "{name}"', "any other name; outdoors is the air outside")
            continue
        spec = validate(reading.source, path, data, RoomSpec, reading.names)
        spec = spec or without_errors(data, RoomSpec, reading.names, APART)
        with suppress(Refused):
            if spec is None:
                flat += check_in_part(reading, name, data, usual_c)
            else:
                reading.rooms[name] = make_room(reading, name, spec, usual_c)
    check_overlaps(reading, flat)
    reading.near = neighbours(reading.rooms)


def check_in_part(reading: Reading, name: str, data: Any, indoors_c: float) -> list[Room]:
    """Of a room with an error in its place or its height, keep what the other is good for.

    Returns
    -------
    list of Room
        The room as a slab on its floor, so that whatever overlaps it overlaps the room; none where its place is wrong.
    """
    tall = without_errors(data, RoomSpec, reading.names, APART | {"at", "size", "corners"})
    if tall is not None and tall.ceiling is not None:
        anywhere = tall.model_copy(update={"at": (0.0, 0.0), "size": (1.0, 1.0), "corners": None})
        reading.unplaced[name] = make_room(reading, name, anywhere, indoors_c)
        return []
    placed = without_errors(data, RoomSpec, reading.names, APART | {"ceiling"})
    return [make_room(reading, name, placed.model_copy(update={"ceiling": 0.1}), indoors_c)] if placed else []


def outline(reading: Reading, path: tuple[str, ...], spec: RoomSpec | ObstacleSpec) -> tuple[Point, ...]:
    """Corners from ``at`` and ``size``, or as given; refuses anything else."""
    both = "at: [right, up] and size: [width, depth]; or corners: [[right, up], ...]"
    if spec.corners is not None:
        if spec.at or spec.size:
            reading.refuse((*path, "corners"), "corners together with at or size", both)
        corners = tuple(spec.corners)
        if len(corners) > 3 and corners[0] == corners[-1]:
            corners = corners[:-1]
        check_outline(reading, path, corners)
        return corners
    if spec.at is None or spec.size is None:
        missing = "neither at nor size nor corners" if spec.at is spec.size is None else "at without size"
        if spec.size is not None:
            missing = "size without at"
        reading.refuse(path, missing, both, at_key=True)
    (x, y), (width, depth) = spec.at, spec.size
    return (x, y), (x + width, y), (x + width, y + depth), (x, y + depth)


def check_outline(reading: Reading, path: tuple[str, ...], corners: tuple[Point, ...]) -> None:
    """Refuse an outline that is not simple or has no area."""
    here = (*path, "corners")
    if not 3 <= len(corners) <= 200:
        reading.refuse(here, f"{len(corners)} corners", "3 to 200 corners")
    for i, (a, b) in enumerate(zip(corners, corners[1:] + corners[:1], strict=True)):
        if abs(a[0] - b[0]) + abs(a[1] - b[1]) < 1e-6:
            reading.refuse((*here, i), f"corner ({a[0]:g}, {a[1]:g}) twice in a row", "each corner once")
    shape = polygon(corners)
    if not shape.is_valid:
        from shapely import is_valid_reason

        where = is_valid_reason(shape).partition("[")[2].rstrip("]")
        spot = f" near ({', '.join(f'{float(n):.2f}' for n in where.split())})" if where else ""
        reading.refuse(here, f"an outline that crosses or touches itself{spot}", "corners in order round the room")
    if shape.area < 0.02:
        reading.refuse(here, f"an outline of {shape.area:.3f} m²", "an area above 0.02 m²")


def make_room(reading: Reading, name: str, spec: RoomSpec, indoors_c: float) -> Room:
    """One room's record, with the defaults that it needed."""
    corners = outline(reading, ("rooms", name), spec)
    if signed_area_m2(corners) < 0.0:
        reading.clockwise.add(name)
    usual: dict[str, Any] = assumptions()["room"]
    assumed = {
        f"ceiling {usual['ceiling']:g} m": spec.ceiling,
        "floor level with the ground outside": spec.floor,
        f"medium heat storage ({usual['mass'] / 1000:g} kJ/(m² K))": spec.mass,
        "air fully mixed": spec.mixing,
        "no heat released by people or appliances": spec.people if spec.gain is None else spec.gain,
    }
    for sentence, value in assumed.items():
        if value is None:
            reading.assumed.note(sentence, name, "rooms")

    def chosen(value: float | None, default: float) -> float:
        return default if value is None else value

    return Room(
        name=name,
        corners=counter_clockwise(corners),
        floor_m=chosen(spec.floor, usual["floor"]),
        ceiling_m=chosen(spec.ceiling, usual["ceiling"]),
        use=spec.use.strip().lower(),
        flame="" if spec.flame.strip().lower() in ("no", "none") else spec.flame,
        temperature_c=chosen(spec.temperature, indoors_c),
        mixing=chosen(spec.mixing, usual["mixing"]),
        mass=chosen(spec.mass, float(usual["mass"])),
        gain_w=chosen(spec.gain, 0.0),
        people=chosen(spec.people, 0.0),
    )


def check_overlaps(reading: Reading, flat: Sequence[Room] = ()) -> None:
    """Two rooms at the same height cannot take the same place on the plan."""
    rooms = [*reading.rooms.values(), *flat]
    outlines = [polygon(room.corners) for room in rooms]
    for one, before in close_pairs(outlines, 0.0):
        second, first = rooms[one], rooms[before]
        if overlap_height_m(first, second) < 0.05:
            continue
        common = outlines[before].intersection(outlines[one])
        x1, y1, x2, y2 = common.bounds
        if common.area > 0.02 and min(x2 - x1, y2 - y1) >= SLACK_M:
            corners = f"from ({x1:.2f}, {y1:.2f}) to ({x2:.2f}, {y2:.2f})"
            reading.report(
                ("rooms", second.name),
                f"an overlap of {common.area:.2f} m² with {first.name}, {corners}",
                "rooms side by side; one room above another needs its floor above the other's ceiling",
            )


def build_obstacles(reading: Reading) -> None:
    """Everything that stands in a room."""
    for name, data in reading.section("obstacles", "a name for each obstacle").items():
        spec = validate(reading.source, ("obstacles", name), data, ObstacleSpec, reading.names)
        with suppress(Refused):
            if spec is not None:
                reading.obstacles[name] = make_obstacle(reading, name, spec)


def make_obstacle(reading: Reading, name: str, spec: ObstacleSpec) -> Obstacle:
    """One obstacle's record; refuses one that is partly outside its room."""
    path = ("obstacles", name)
    corners = outline(reading, path, spec)
    height = spec.height
    if height is None:
        height = float(assumptions()["room"]["obstacle height"])
        reading.assumed.note(f"height {height:g} m", name, "obstacles")
    room = reading.rooms.get(spec.room)
    if room is not None:
        shape, inside = polygon(corners), polygon(room.corners)
        if not inside.buffer(SLACK_M, join_style="mitre").covers(shape):
            found = f"{shape.difference(inside).area:.2f} m² of it outside {spec.room}"
            reading.refuse((*path, "room"), found, f"a place inside {spec.room}")
        if height > room.ceiling_m + SLACK_M:
            limit = f"up to the ceiling of {spec.room}, {room.ceiling_m:.2f} m"
            reading.refuse((*path, "height" if spec.height is not None else "room"), f"{height:.2f} m", limit)
        for other in reading.obstacles.values():
            there = polygon(other.corners)
            common = there.intersection(shape).area if other.room == spec.room else 0.0
            if common > 0.3 * min(shape.area, there.area):
                reading.remark(f"obstacle {name}: it overlaps {other.name} by {common:.2f} m²")
    return Obstacle(name, spec.room, counter_clockwise(corners), height, spec.holds_fan)


def build_outdoors(reading: Reading, spec: OutdoorsSpec, base: Outdoors, *, note: bool) -> Outdoors:
    """Weather from what the file says on top of ``base``."""
    given = {
        "temperature_c": spec.temperature,
        "terrain": spec.terrain,
        "shelter": spec.shelter,
        "altitude_m": spec.altitude,
        "relative_humidity": spec.humidity,
        "smoke": spec.smoke,
        "rain": spec.rain,
    }
    result = replace(base, **{k: v for k, v in given.items() if v is not None})  # type: ignore[arg-type]
    if spec.wind is not None:
        wind = {"speed_m_s": spec.wind.speed, "from_deg": spec.wind.bearing, "height_m": spec.wind.height,
                "station_terrain": spec.wind.terrain}  # fmt: skip
        result = replace(result, wind=replace(base.wind, **{k: v for k, v in wind.items() if v is not None}))  # type: ignore[arg-type]
    if note:
        note_weather(reading, spec, result)
    return result


def note_weather(reading: Reading, spec: OutdoorsSpec, result: Outdoors) -> None:
    """Note what was assumed of the weather."""
    if spec.temperature is None:
        reading.assumed.note(f"outdoors {result.temperature_c:g} °C")
    if spec.wind is None:
        reading.assumed.note("no wind")
    wind = spec.wind if spec.wind is not None and spec.wind.speed > 0.0 else None
    for sentence, is_assumed in (
        ("wind from the north", wind is not None and wind.bearing is None),
        ("wind measured 10 m above the ground", wind is not None and wind.height is None),
        ("weather station in open terrain", wind is not None and wind.terrain is None),
        ("house in a suburb", spec.terrain is None),
        ("no shelter from the wind by neighbours or trees", spec.shelter is None),
        ("altitude at sea level", spec.altitude is None),
        ("outdoor humidity 50 %", spec.humidity is None),
    ):
        if is_assumed:
            reading.assumed.note(sentence)


def base_weather() -> Outdoors:
    """The weather of a file that says nothing of it."""
    return Outdoors(temperature_c=float(assumptions()["weather"]["outdoors"]), wind=Wind())


def build_people(reading: Reading) -> None:
    """Every place where somebody sits or sleeps; what lies outside its room is an error."""
    for name, data in reading.section("people at", "a name for each place to sit or sleep").items():
        spec = validate(reading.source, ("people at", name), data, PersonAtSpec, reading.names)
        with suppress(Refused):
            if spec is not None:
                reading.people_at[name] = make_person(reading, name, spec)


def make_person(reading: Reading, name: str, spec: PersonAtSpec) -> PersonAt:
    """One place's record; refuses a head outside its room or inside furniture."""
    there = [o for o in reading.obstacles.values() if o.room == spec.room]
    under = [o for o in there if polygon(o.corners).buffer(-SLACK_M).contains(point(spec.at))]
    height = spec.height
    if height is None:
        # Somebody at a bed or a sofa lies or leans on it; taller things are cupboards, which nobody is on.
        on_furniture = (o.height_m + HEAD_ABOVE_BED_M for o in under if o.height_m <= TALLEST_BED_M)
        usual = float(assumptions()["people at"]["asleep" if spec.asleep else "seated"])
        height = max((usual, *on_furniture))
        place = f"at a place to {'sleep' if spec.asleep else 'sit'}"
        reading.assumed.note(f"head {height:g} m above the floor {place}", name)
    if spec.room in reading.rooms:
        check_is_inside(reading, ("people at", name), reading.rooms[spec.room], spec.at, height)
        for obstacle in under:
            if obstacle.height_m > height:
                found = f"a head {height:.2f} m above the floor, inside {obstacle.name}, {obstacle.height_m:.2f} m high"
                allowed = f"a place beside {obstacle.name}, or above it"
                reading.refuse(("people at", name, "at"), found, allowed)
    return PersonAt(name, spec.room, spec.at, height, spec.asleep)


def check_is_inside(reading: Reading, path: tuple[str, str], room: Room, at: Point, height_m: float) -> None:
    """Refuse a head outside its room."""
    outline = polygon(room.corners)
    beyond = float(outline.distance(point(at)))
    if beyond > SLACK_M:
        left, low, right, high = outline.bounds
        found = f"({at[0]:.2f}, {at[1]:.2f}), {beyond:.2f} m outside {room.name}"
        allowed = f"a point inside {room.name}, which goes from ({left:.2f}, {low:.2f}) to ({right:.2f}, {high:.2f})"
        reading.refuse((*path, "at"), found, allowed)
    if height_m > room.ceiling_m:
        allowed = f"0 to {room.ceiling_m:.2f} m, the ceiling of {room.name}"
        reading.refuse((*path, "height"), f"{height_m:.2f} m above the floor", allowed)
