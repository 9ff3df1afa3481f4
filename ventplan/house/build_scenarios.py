"""Complete states of the house from what the file says of scenarios, with the checks of where fans stand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ventplan.house.build_openings import opened_share
from ventplan.house.build_rooms import build_outdoors
from ventplan.house.catalogue import assumptions, sashes
from ventplan.house.fan_pose import axis_height_m, setback_limit_m, standing_point
from ventplan.house.fields import listed, nearest
from ventplan.house.geometry import polygon
from ventplan.house.reading import Reading, validate
from ventplan.house.records import OUTDOORS, Fan, House, Opening, Placement, Scenario
from ventplan.house.schema import OpeningSpec, PlacementSpec, ScenarioSpec
from ventplan.house.units import UnitError, describe, parse_quantity
from ventplan.house.yaml_text import Path_

AS_IT_STANDS = "as it stands"
"""Name of the first scenario: the house as its file states it."""


def build_scenarios(reading: Reading, house: House) -> dict[str, Scenario]:
    """Every scenario, on top of the house as it stands."""
    section = reading.section("scenarios", "a name for each scenario")
    specs: dict[str, ScenarioSpec] = {}
    for name, data in section.items():
        spec = validate(reading.source, ("scenarios", name), data, ScenarioSpec, reading.names)
        if spec is not None:
            specs[name] = spec
    if AS_IT_STANDS not in section:
        specs[AS_IT_STANDS] = ScenarioSpec.model_validate({})
    if AS_IT_STANDS in specs:  # always the first
        specs = {AS_IT_STANDS: specs[AS_IT_STANDS], **specs}
    done: dict[str, Scenario] = {}
    for name in specs:
        if name not in done:
            resolve(reading, house, specs, name, done, ())
    return {name: done[name] for name in specs if name in done}


def resolve(
    reading: Reading,
    house: House,
    specs: dict[str, ScenarioSpec],
    name: str,
    done: dict[str, Scenario],
    chain: tuple[str, ...],
) -> Scenario | None:
    """One scenario after the one it is based on; a ring of them is a mistake."""
    if name in done:
        return done[name]
    if name in chain:
        ring = " -> ".join((*chain[chain.index(name) :], name))
        reading.report(
            ("scenarios", name, "based on"),
            f"a ring: {ring}",
            "a scenario that does not lead back to this one",
        )
        return None
    if name not in specs or len(chain) > 200:
        return None
    spec = specs[name]
    base = as_it_stands(house)
    if spec.based_on is not None:
        found = resolve(reading, house, specs, spec.based_on, done, (*chain, name))
        if found is None:
            return None
        base = found
    done[name] = apply(reading, house, name, spec, base)
    return done[name]


def as_it_stands(house: House, name: str = AS_IT_STANDS) -> Scenario:
    """The house as its file states it: every opening as it stands, every screen in place, no fan."""
    first = next(iter(house.scenarios.values()))
    return Scenario(
        name,
        {n: o.open_share for n, o in house.openings.items()},
        frozenset(n for n, o in house.openings.items() if o.screen),
        (),
        first.outdoors,
        {n: r.temperature_c for n, r in house.rooms.items()},
    )


def apply(reading: Reading, house: House, name: str, spec: ScenarioSpec, base: Scenario) -> Scenario:
    """The base with what a scenario changes."""
    path: Path_ = ("scenarios", name)
    shares = dict(base.shares)
    for opening, amount in spec.open.items():
        if opening in house.openings:
            record, its_spec = house.openings[opening], reading.opening_specs[opening]
            here = (*path, "open", opening)
            if not record.can_move and amount.value > 0.0 and not record.open_share:
                found = f"{opening}, which cannot be opened ({why_still(its_spec, record)})"
                reading.report(here, found, "an opening that moves")
                continue
            share = opened_share(reading, here, its_spec, sashes()[record.sash], record.full_share, amount)
            shares[opening] = shares[opening] if share is None else share
    for i, opening in enumerate(spec.shut):
        if opening in spec.open and spec.open[opening].value > 0.0:
            reading.report((*path, "shut", i), f"{opening}, which the same scenario opens", "open or shut, not both")
        if opening in house.openings:
            record = house.openings[opening]
            if not record.can_move and record.open_share > 0.0:
                reading.report(
                    (*path, "shut", i),
                    f"{opening}, which stays as it is ({why_still(reading.opening_specs[opening], record)})",
                    "an opening that moves",
                )
                continue
            shares[opening] = 0.0
    temperatures = dict(base.temperatures_c)
    if spec.indoors.temperature is not None:
        temperatures = dict.fromkeys(temperatures, spec.indoors.temperature)
    temperatures.update({n: t for n, t in spec.indoors.rooms.items() if n in temperatures})
    fans = placements(reading, house, path, spec, base)
    check_open(reading, path, spec, fans, shares)
    return Scenario(
        name,
        shares,
        screened(reading, house, path, spec, base),
        fans,
        build_outdoors(reading, spec.outdoors, base.outdoors, note=False),
        temperatures,
    )


def why_still(spec: OpeningSpec, opening: Opening) -> str:
    """Why an opening can be neither opened nor shut."""
    if not spec.moves:
        return "moves: no"
    return f"a {opening.kind} without a sash" if opening.sash == "none" else f"sash {opening.sash}"


def check_open(
    reading: Reading, path: Path_, spec: ScenarioSpec, fans: tuple[Placement, ...], shares: Mapping[str, float]
) -> None:
    """A fan that is not sealed into its opening blows at an open one; also where the base placed it."""
    for placement in fans:
        name = placement.opening
        if placement.sealed or shares[name] > 0.0:
            continue
        here = path
        for i, item in enumerate(spec.fans or ()):
            ways = {"blows out": item.out, "blows in": item.inwards, "blows through": item.through}
            key = next((key for key, opening in ways.items() if opening == name), None)
            if item.fan == placement.fan and key is not None:
                here = (*path, "fans", i, key)
        reading.source.report(
            here,
            f"{placement.fan} blowing at {name}, which is shut in this scenario",
            "an opening that is open in it",
            f"Add it: open: [{name}]",
            at_key=here == path,
        )


def screened(reading: Reading, house: House, path: Path_, spec: ScenarioSpec, base: Scenario) -> frozenset[str]:
    """Which screens are in place."""
    if spec.screens is None:
        return base.screened
    every = frozenset(n for n, o in house.openings.items() if o.screen)
    if spec.screens in ("on", "off"):
        return every if spec.screens == "on" else frozenset()
    for i, name in enumerate(spec.screens):
        if name in house.openings and name not in every:
            hint = f"Give it one: screen: fine 18x16 under openings > {name}"
            reading.report(
                (*path, "screens", i),
                f"{name}, which has no screen",
                f"openings with one: {listed(sorted(every))}",
                hint,
            )
    return frozenset(spec.screens) & every


def placements(
    reading: Reading, house: House, path: Path_, spec: ScenarioSpec, base: Scenario
) -> tuple[Placement, ...]:
    """The fans that run; a list of fans replaces that of the base."""
    if spec.fans is None:
        return base.placements
    result: list[Placement] = []
    for i, item in enumerate(spec.fans):
        here = (*path, "fans", i)
        if any(p.fan == item.fan for p in result):
            reading.report(
                (*here, "fan"),
                f"{item.fan} a second time",
                "each fan once",
                "A second one like it needs its own name under fans",
            )
        placement = make_placement(reading, house, here, item)
        if placement is not None:
            result.append(placement)
    return tuple(result)


def make_placement(reading: Reading, house: House, path: Path_, spec: PlacementSpec) -> Placement | None:
    """Where one fan stands and what it blows at; None after noting what cannot be."""
    given = [(w, n) for w, n in (("out", spec.out), ("in", spec.inwards), ("through", spec.through)) if n is not None]
    if len(given) != 1:
        found = "no opening to blow at" if not given else " and ".join(f"blows {w}" for w, _ in given)
        reading.source.report(path, found, "one of: blows out, blows in, blows through, with the name of an opening")
        return None
    (way, name), key = given[0], f"blows {given[0][0]}"
    if name not in house.openings or spec.fan not in house.fans:
        return None
    opening, fan = house.openings[name], house.fans[spec.fan]
    if way != "through" and not opening.is_external:
        reading.report((*path, key), f"{name}, between {opening.joins[0]} and {opening.joins[1]}",
                   "an opening to outdoors", f"Write blows through: {name}, stands in: {opening.joins[0]}")  # fmt: skip
        return None
    if fan.stays_at and name != fan.stays_at:
        reading.report((*path, key), name, f"{fan.stays_at}, where {fan.name} stays")
        return None
    if fan.stays_at:
        spec = spec.model_copy(update={"sealed": True})
    stands_in = spec.stands_in
    if way == "through" and stands_in is None:
        reading.report(
            (*path, key),
            f"blows through {name} without stands in",
            f"stands in: {opening.joins[0]} or {opening.joins[1]}",
        )
        return None
    expected = {"out": opening.joins[0], "in": OUTDOORS}.get(way)
    stands_in = stands_in or expected or opening.joins[0]
    if way == "in" and not spec.sealed and spec.stands_in != OUTDOORS:
        found = f"a fan that blows in at {name}, and stands " + (
            f"in {spec.stands_in}" if spec.stands_in else "nowhere said"
        )
        reading.report((*path, key), found, "sealed: yes; or stands in: outdoors",
                   "A fan that stands indoors can only blow out of a window")  # fmt: skip
        return None
    if spec.sealed and way == "in":
        stands_in = OUTDOORS
    if (expected and stands_in != expected) or stands_in not in opening.joins:
        either = f"{opening.joins[0]} or {opening.joins[1]}, which {name} joins"
        reading.report((*path, "stands in"), stands_in, expected or either, nearest(stands_in, opening.joins))
        return None
    setting = spec.setting
    if setting and setting not in {s.name for s in fan.settings}:
        words = [s.name for s in fan.settings]
        reading.report(
            (*path, "setting"),
            describe(setting),
            f"a setting of {fan.name}: {listed(words)}",
            nearest(setting, words),
        )
        return None
    stand = stand_of(reading, house, path, spec, opening, stands_in)
    if stand is None:
        return None
    stands_on, support = stand
    height = spec.height
    if stands_on and height is None and support is not None:
        floor = house.rooms[stands_in].floor_m if stands_in in house.rooms else 0.0
        low, high = (support + axis for axis in fan.axis_m)
        height = min(max(opening.centre[2] - floor, low), high)
    placement = Placement(
        fan=spec.fan,
        opening=name,
        stands_in=stands_in,
        setback_m=1.0 if spec.setback is None and not spec.sealed else spec.setback or 0.0,
        height_m=height,
        aside_m=spec.aside,
        turn_deg=spec.turn,
        tilt_deg=spec.tilt,
        sealed=spec.sealed,
        setting=setting,
        stands_on=stands_on,
    )
    if spec.setback is None and not spec.sealed:
        reading.assumed.note("setback 1 m", f"{spec.fan} at {name}", "placements")
    return placement if check_placement(reading, house, path, placement) else None


def check_placement(reading: Reading, house: House, path: Path_, placement: Placement) -> bool:
    """True for a fan that stands inside its room, clear of obstacles, at a height it reaches; notes why not."""
    opening, fan = house.openings[placement.opening], house.fans[placement.fan]
    for key, angle in (("turn", placement.turn_deg), ("tilt", placement.tilt_deg)):
        if abs(angle) >= 90.0:
            reading.report((*path, key), f"{angle:g} deg", "less than 90 deg either way: the fan must face its opening")
            return False
    low, high = fan.tilt_range_deg
    if not low - 0.5 <= placement.tilt_deg <= high + 0.5:
        most = "not at all" if low == high == 0.0 else f"from {low:g} to {high:g} deg"
        if "tilts" not in fan.estimated:
            reading.report((*path, "tilt"), f"{placement.tilt_deg:g} deg", f"{most}: tilts under fans > {fan.name}")
            return False
        reading.remarks.append(
            f"scenario {path[1]}: {fan.name} is tilted by {placement.tilt_deg:g} deg; it tilts {most} "
            f"({fan.estimated['tilts']}): check, or write tilts: [lowest, highest] under fans"
        )
    if placement.sealed:
        return check_sealed(reading, path, placement, opening, fan)
    if opening.is_horizontal:
        reading.report(
            path,
            f"{fan.name} set back from {opening.name}, which lies flat",
            "sealed: yes, or an opening in a wall",
        )
        return False
    height = check_height(reading, house, path, placement, opening, fan)
    if height is None:
        return False
    if placement.stands_in == OUTDOORS or placement.stands_in not in house.rooms:
        return True
    return check_room(reading, house, path, placement, opening, fan, height)


def check_sealed(reading: Reading, path: Path_, placement: Placement, opening: Opening, fan: Fan) -> bool:
    """True for a fan that may be sealed into its opening."""
    if not fan.can_seal:
        reading.report((*path, "sealed"), f"{fan.name}, whose shape cannot be sealed in", "a fan with seals: yes",
                   f"If it can, write seals: yes under fans > {fan.name}")  # fmt: skip
        return False
    if fan.diameter_m > min(opening.width_m, opening.height_m) + 0.02:
        found = f"a fan of {fan.diameter_m:.2f} m in {opening.name}"
        found += f" of {opening.width_m:.2f} m by {opening.height_m:.2f} m"
        reading.report((*path, "sealed"), found, "an opening at least as wide and as high as the fan")
        return False
    return True


def check_height(
    reading: Reading, house: House, path: Path_, placement: Placement, opening: Opening, fan: Fan
) -> float | None:
    """The height of the axis [m], or None after noting that it is out of the fan's reach or the room."""
    height = axis_height_m(house, placement)
    radius = fan.diameter_m / 2.0
    room = house.rooms.get(placement.stands_in)
    if placement.height_m is not None:
        high = room.ceiling_m - radius if room else math.inf
        if not radius - 0.06 <= height <= high + 1e-9:
            limit = f"{radius:.2f} m to {high:.2f} m in {placement.stands_in}" if room else f"{radius:.2f} m or more"
            reading.report((*path, "height"), f"{height:.2f} m for a fan of {fan.diameter_m:.2f} m",
                       f"{limit}: its blades between floor and ceiling")  # fmt: skip
            return None
        if not placement.stands_on and not fan.lowest_m - 0.02 <= height <= fan.highest_m + 0.02:
            reading.report(
                (*path, "height"),
                f"{height:.2f} m",
                f"{fan.lowest_m:.2f} m to {fan.highest_m:.2f} m, where {fan.name} can stand",
                f"If it reaches more, say so: heights: [lowest, highest] under fans > {fan.name}",
            )
            return None
    return height


def check_room(
    reading: Reading,
    house: House,
    path: Path_,
    placement: Placement,
    opening: Opening,
    fan: Fan,
    height_m: float,
) -> bool:
    """True for a fan inside its room and clear of obstacles, with nothing in its jet's way."""
    room, radius = placement.stands_in, fan.diameter_m / 2.0
    back, aside = placement.setback_m, placement.aside_m
    wall = setback_limit_m(house, room, opening, aside, radius_m=radius, past_obstacles=True)
    if back > wall + 0.01:
        key = "setback" if wall > 0.0 else "aside"
        if wall > 0.0:
            reading.report(
                (*path, key),
                f"{back:.2f} m back from {opening.name}",
                f"up to {wall:.2f} m: then comes the wall of {room}",
            )
        else:
            reading.report(
                (*path, key),
                f"a fan of {fan.diameter_m:.2f} m, {aside:.2f} m aside from the middle of {opening.name}",
                f"a place inside {room}: it would touch the wall beside the opening",
            )
        return False
    from shapely import Point as Spot

    spot = Spot(standing_point(opening, room, back, aside))
    for obstacle in house.obstacles.values():
        if obstacle.room != room or obstacle.name == placement.stands_on:
            continue
        shape = polygon(obstacle.corners)
        gap = shape.distance(spot)
        if gap < radius - 0.01:
            free = setback_limit_m(house, room, opening, aside, radius_m=radius)
            reading.report(
                (*path, "setback"),
                f"{back:.2f} m back from {opening.name}, "
                f"{'inside' if gap == 0.0 else f'{gap:.2f} m from'} {obstacle.name}",
                f"{radius:.2f} m clear of {obstacle.name}; "
                f"straight back from the opening {max(free - radius, 0.0):.2f} m are free",
            )
            return False
        if obstacle.height_m > height_m and shape.intersects(path_line(opening, room, spot)):
            reading.report(
                (*path, "setback"),
                f"{obstacle.name}, {obstacle.height_m:.2f} m high, between {fan.name} and {opening.name}",
                f"nothing higher than the fan's axis at {height_m:.2f} m in between",
            )
            return False
    return True


def stand_of(
    reading: Reading, house: House, path: Path_, spec: PlacementSpec, opening: Opening, room: str
) -> tuple[str, float | None] | None:
    """What a fan stands on, and how high that is above the floor [m]; None after noting why it cannot.

    Nothing said gives an empty name and no height; a height alone names itself.
    """
    if spec.stands_on is None:
        return "", None
    here, word = (*path, "stands on"), spec.stands_on
    fan = house.fans[spec.fan]
    sill = opening.bottom_m - (house.rooms[room].floor_m if room in house.rooms else 0.0)
    holding = {o.name: o.height_m for o in house.obstacles.values() if o.room == room}
    heights = {"floor": 0.0, **house.surfaces, **holding, "sill": sill}
    if spec.sealed:
        reading.report(
            here, f"stands on {word} for a fan sealed into {opening.name}", "no such key: the opening holds it"
        )
        return None
    if word in holding and word not in house.surfaces and not house.obstacles[word].holds_fan:
        reading.report(here, f"{word}, which the file does not say a fan can stand on",
                       f"Write holds fan: yes under obstacles > {word}, or another place")  # fmt: skip
        return None
    if word not in heights:
        try:
            heights[word] = parse_quantity(word, "length")
        except UnitError:
            words = [*heights][:12]
            reading.report(here, describe(word), f"{listed(words)}, or a height such as 0.6 m", nearest(word, heights))
            return None
    support = heights[word]
    if not 0.0 <= support <= 2.5 or (word == "sill" and not sill >= 0.05):
        reading.report(here, f"{word}, {support:.2f} m above the floor", "something from 0 m to 2.5 m above the floor")
        return None
    if word == "sill" and (spec.setback is None or spec.setback > float(assumptions()["sill"])):
        reading.report(here, f"sill, {'1.00' if spec.setback is None else f'{spec.setback:.2f}'} m from {opening.name}",
                       f"a setback of at most {assumptions()['sill']:g} m for a fan on the sill")  # fmt: skip
        return None
    low, high = (support + axis for axis in fan.axis_m)
    if spec.height is not None and not low - 0.03 <= spec.height <= high + 0.03:
        reading.report(
            (*path, "height"),
            f"{spec.height:.2f} m for {fan.name} on {word}, {support:.2f} m high",
            f"{low:.2f} m" if high - low < 0.01 else f"{low:.2f} m to {high:.2f} m",
            f"Leave height out, or say how high the axis is above what the fan stands on: axis under fans > {fan.name}",
        )
        return None
    return word, support


def path_line(opening: Opening, room: str, spot: Any) -> Any:
    """The straight line from a fan to the middle of its opening."""
    from shapely import LineString

    return LineString([(spot.x, spot.y), opening.centre[:2]])
