"""All that the page shows after a step: the house in metres, scenarios, errors, undo and redo."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from itertools import combinations
from typing import Any

from ventplan.house import OUTDOORS, House, Opening, Room
from ventplan.house.catalogue import assumptions, fan_specs, sashes, screens
from ventplan.house.geometry import Wall, covered_spans, free_pieces, plan_word, shared_walls, walls
from ventplan.house.units import System, UnitError, parse_quantity, show
from ventplan.live.drawing import fan_symbol, ghost_paths, wall_paths
from ventplan.live.scenario_edits import state_of
from ventplan.live.session import Session
from ventplan.show.plan_notes import middle_of
from ventplan.show.plan_shapes import rings_of
from ventplan.show.plan_storeys import Storey, storeys_of, wall_gap_m, walls_of

HEAD_M = 2.0
"""Height above the floor up to which a wall must be free for an opening to outdoors [m]."""


def plan_of(house: House, data: Mapping[str, Any], system: System) -> dict[str, Any]:
    """Everything of a house that the page draws.

    Parameters
    ----------
    house
        The house, possibly without what has errors.
    data
        The maps of its file, for what is written there.
    system
        Units of the texts.
    """
    storeys = storeys_of(house, system) if house.rooms else ()
    sites = list(_sites(house, data))
    return {
        "name": house.name,
        "show": house.show,
        "north_deg": house.north_deg,
        "storeys": [_storey(house, storey, storeys[i - 1] if i else None) for i, storey in enumerate(storeys)],
        "rooms": {name: _room(house, room, data, system) for name, room in house.rooms.items()},
        "openings": {name: _opening(house, o, sites, data, system) for name, o in house.openings.items()},
        "fans": {name: _fan(house, name, data, system) for name in house.fans},
        "obstacles": {
            o.name: {
                "room": o.room,
                "corners": o.corners,
                "height_m": o.height_m,
                "label": middle_of(o.corners),
                "written": _raw(data, "obstacles", o.name),
            }
            for o in house.obstacles.values()
        },
        "sites": sites,
        "surfaces": dict(house.surfaces),
        "defaults": list(house.defaults),
    }


def _storey(house: House, storey: Storey, below: Storey | None) -> dict[str, Any]:
    return {
        "title": storey.title or "Floor plan",
        "level_m": storey.level_m,
        "rooms": list(storey.rooms),
        "passing": list(storey.passing),
        "openings": list(storey.openings),
        "walls": wall_paths(rings_of(walls_of(house, storey))),
        "below": ghost_paths(house, below, storey) if below is not None else [],
    }


def _raw(data: Mapping[str, Any], section: str, name: str) -> dict[str, Any]:
    found = data.get(section)
    item = found.get(name) if isinstance(found, dict) else None
    return item if isinstance(item, dict) else {}


def _room(house: House, room: Room, data: Mapping[str, Any], system: System) -> dict[str, Any]:
    xs, ys = [p[0] for p in room.corners], [p[1] for p in room.corners]
    return {
        "corners": room.corners,
        "label": middle_of(room.corners),
        "floor_m": room.floor_m,
        "ceiling_m": room.ceiling_m,
        "use": room.use,
        "flame": room.flame,
        "area": show(room.area_m2, "area", system),
        "volume": show(room.volume_m3, "volume", system),
        "size": f"{show(max(xs) - min(xs), 'length', system)} × {show(max(ys) - min(ys), 'length', system)}",
        "written": _raw(data, "rooms", room.name),
        "openings": sum(room.name in o.joins for o in house.openings.values()),
    }


def _opening(
    house: House, opening: Opening, sites: list[dict[str, Any]], data: Mapping[str, Any], system: System
) -> dict[str, Any]:
    return {
        "kind": opening.kind,
        "joins": opening.joins,
        "start": opening.start,
        "end": opening.end,
        "normal": opening.normal,
        "gap_m": wall_gap_m(house, opening),
        "width_m": opening.width_m,
        "height_m": opening.height_m,
        "sash": opening.sash,
        "full_share": opening.full_share,
        "along_width": opening.free_along == "width",
        "opens": opening.opens,
        "screen": opening.screen.name if opening.screen else "",
        "can_move": opening.can_move,
        "flat": opening.is_horizontal,
        "size": f"{show(opening.width_m, 'length', system)} × {show(opening.height_m, 'length', system)}",
        "on_wall": _on_wall(opening, sites),
        "written": _raw(data, "openings", opening.name),
    }


def _on_wall(opening: Opening, sites: list[dict[str, Any]]) -> dict[str, Any] | None:
    """Position of an opening along its wall, and how far it can be moved [m]."""
    if opening.is_horizontal:
        return None
    x, y, _ = opening.centre
    for site in sites:
        (ax, ay), (bx, by) = site["start"], site["end"]
        length = site["length_m"] or 1.0
        dx, dy = (bx - ax) / length, (by - ay) / length
        off, here = abs((x - ax) * dy - (y - ay) * dx), (x - ax) * dx + (y - ay) * dy
        if set(site["joins"]) == set(opening.joins) and off < 0.27 and -0.02 <= here <= length + 0.02:
            along = here - opening.width_m / 2.0 + site["along_m"]
            high = site["along_m"] + length - opening.width_m
            return {"along_m": along, "low_m": site["along_m"], "high_m": max(high, site["along_m"]), "way": [dx, dy]}
    return None


def _fan(house: House, name: str, data: Mapping[str, Any], system: System) -> dict[str, Any]:
    fan = house.fans[name]
    return {
        "diameter_m": fan.diameter_m,
        "symbol": fan_symbol(fan.diameter_m / 2.0),
        "settings": [s.name for s in fan.settings],
        "can_seal": fan.can_seal,
        "flow": show(fan.flow_m3_s, "flow", system),
        "thrust": show(fan.thrust_n, "thrust", system),
        "written": _raw(data, "fans", name),
    }


def _sites(house: House, data: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Pieces of wall that an opening can be put on, and how the file would name them."""
    for room in house.rooms.values():
        every = walls(room)
        spans = {w: covered_spans(w, house.rooms, low_m=room.floor_m, high_m=room.floor_m + HEAD_M) for w in every}
        free = {w: free_pieces(w, spans[w]) for w in every}
        for wall in every:
            for piece in free[wall]:
                yield _site(piece, (room.name, OUTDOORS), _wall_name(wall, every, free, data), wall.along(piece.start))
    for first, second in combinations(house.rooms.values(), 2):
        shared = shared_walls(first, second)
        for wall in shared:
            name = None if len(shared) == 1 else _number(wall, len(first.corners), data)
            yield _site(wall, (first.name, second.name), name, 0.0)


def _site(piece: Wall, joins: tuple[str, str], wall: str | int | None, along_m: float) -> dict[str, Any]:
    return {
        "joins": joins,
        "wall": wall,
        "start": piece.start,
        "end": piece.end,
        "normal": piece.normal,
        "length_m": piece.length_m,
        "along_m": along_m,
    }


def _wall_name(
    wall: Wall, every: tuple[Wall, ...], free: Mapping[Wall, tuple[Wall, ...]], data: Mapping[str, Any]
) -> str | int:
    """A direction such as ``west`` if it names only one wall, otherwise the number of the edge."""
    same = [w for w in every if plan_word(w.normal) == plan_word(wall.normal)]
    same = [w for w in same if free[w]] if len(same) > 1 else same
    return plan_word(wall.normal) if same == [wall] else _number(wall, len(every), data)


def _number(wall: Wall, count: int, data: Mapping[str, Any]) -> int:
    """The number of an edge as the file counts its corners, which may go round clockwise."""
    corners = _raw(data, "rooms", wall.room).get("corners")
    if not isinstance(corners, list):
        return wall.edge
    try:
        points = [(parse_quantity(x, "length"), parse_quantity(y, "length")) for x, y in corners]
    except (UnitError, TypeError, ValueError):
        return wall.edge
    turned = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(points, points[1:] + points[:1], strict=True))
    return wall.edge if turned >= 0.0 else count + 1 - wall.edge


def page_of(session: Session, system: System | None = None) -> dict[str, Any]:
    """Everything that the page needs to draw itself.

    Parameters
    ----------
    session
        The house being edited.
    system
        Units that the reader chose; the file's own if None.
    """
    draft = session.draft
    shows = draft if draft.house is not None or session.last_valid is None else session.last_valid
    house = shows.house
    shown: System = system or (house.show if house else "si")
    return {
        "file": session.file.path.name,
        "place": str(session.file.path),
        "revision": session.revision,
        "text": draft.text,
        "on_disk": session.on_disk,
        "unsaved": session.unsaved,
        "undo": session.undo[-1][0] if session.undo else "",
        "redo": session.redo[-1][0] if session.redo else "",
        "units": shown,
        "errors": [asdict(m) for m in draft.errors],
        "house": plan_of(house, shows.data, shown) if house else None,
        "older": shows is not draft,
        "scenarios": {n: state_of(s) | {"words": weather_words(s, shown)} for n, s in house.scenarios.items()}
        if house
        else {},
        "catalogue": {"fans": list(fan_specs()), "screens": list(screens()), "sashes": list(sashes()),
                      "kinds": list(assumptions()["kinds"])},
    }  # fmt: skip


def weather_words(scenario: Any, system: System) -> dict[str, str]:
    """The weather of a scenario as people read it."""
    wind = scenario.outdoors.wind
    return {
        "temperature": show(scenario.outdoors.temperature_c, "temperature", system),
        "wind": show(wind.speed_m_s, "wind", system),
        "from": show(wind.from_deg, "angle", system),
    }
