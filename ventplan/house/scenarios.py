"""Complete states of the house from what the file says of scenarios, and where their fans stand."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress

from ventplan.house.build_openings import opened_share
from ventplan.house.build_rooms import build_outdoors
from ventplan.house.catalogue import assumptions, sashes
from ventplan.house.fan_pose import (
    LOWEST_SILL_M,
    FanPose,
    PoseProblem,
    axis_range_m,
    fan_pose,
    first_met,
    floor_m,
    miss_m,
    pose_problem,
)
from ventplan.house.fields import listed, nearest
from ventplan.house.geometry import free_rectangle
from ventplan.house.reading import Reading, Refused, validate
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Scenario
from ventplan.house.schema import OpeningSpec, PlacementSpec, ScenarioSpec
from ventplan.house.units import UnitError, describe, parse_quantity
from ventplan.house.yaml_text import Path_

AS_IT_STANDS = "as it stands"
"""Name of the first scenario: the house as its file states it."""
MOST_BASES = 200
"""Scenarios that may be based on one another in a row."""
HIGHEST_SUPPORT_M = 2.5
"""Height above the floor of the highest thing that a fan can stand on [m]."""


def build_scenarios(reading: Reading, house: House) -> dict[str, Scenario]:
    """Every scenario, on top of the house as it stands."""
    section = reading.section("scenarios", "a name for each scenario")
    specs: dict[str, ScenarioSpec] = {} if AS_IT_STANDS in section else {AS_IT_STANDS: ScenarioSpec.model_validate({})}
    for name in sorted(section, key=lambda name: name != AS_IT_STANDS):  # the house as it stands is always the first
        spec = validate(reading.source, ("scenarios", name), section[name], ScenarioSpec, reading.names)
        if spec is not None:
            specs[name] = spec
    done: dict[str, Scenario] = {}
    for name in specs:
        with suppress(Refused):
            resolve(reading, house, specs, name, done, ())
    return {name: done[name] for name in specs if name in done}


def resolve(
    reading: Reading,
    house: House,
    specs: Mapping[str, ScenarioSpec],
    name: str,
    done: dict[str, Scenario],
    chain: tuple[str, ...],
) -> Scenario:
    """One scenario after the one that it is based on; refuses a ring of them."""
    if name in done:
        return done[name]
    if name in chain:
        ring = " -> ".join((*chain[chain.index(name) :], name))
        here = ("scenarios", name, "based on")
        reading.refuse(here, f"a ring: {ring}", "a scenario that does not lead back to this one")
    if name not in specs or len(chain) > MOST_BASES:
        raise Refused
    spec = specs[name]
    base = as_it_stands(house)
    if spec.based_on is not None:
        base = resolve(reading, house, specs, spec.based_on, done, (*chain, name))
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
    shares = dict(base.shares) | opened(reading, house, path, spec) | shut(reading, house, path, spec)
    temperatures = dict(base.temperatures_c)
    if spec.indoors.temperature is not None:
        temperatures = dict.fromkeys(temperatures, spec.indoors.temperature)
    temperatures.update({n: t for n, t in spec.indoors.rooms.items() if n in temperatures})
    placements = placements_of(reading, house, path, spec, base)
    placements = standing_fans(reading, house, path, spec, placements, shares)
    check_open(reading, path, spec, placements, shares)
    return Scenario(
        name,
        shares,
        screened(reading, house, path, spec, base),
        placements,
        build_outdoors(reading, spec.outdoors, base.outdoors, note=False),
        temperatures,
    )


def opened(reading: Reading, house: House, path: Path_, spec: ScenarioSpec) -> dict[str, float]:
    """Free shares of the openings that a scenario opens; notes those that cannot be opened so."""
    shares = {}
    for name, amount in spec.open.items():
        opening, its_spec, here = house.openings.get(name), reading.opening_specs.get(name), (*path, "open", name)
        if opening is None or its_spec is None:
            continue
        if not opening.can_move and amount.value > 0.0 and not opening.open_share:
            found = f"{name}, which cannot be opened ({why_still(its_spec, opening)})"
            reading.report(here, found, "an opening that moves")
            continue
        with suppress(Refused):
            shares[name] = opened_share(reading, here, its_spec, sashes()[opening.sash], opening.full_share, amount)
    return shares


def shut(reading: Reading, house: House, path: Path_, spec: ScenarioSpec) -> dict[str, float]:
    """Free share 0 for each opening that a scenario shuts; notes those that cannot be shut."""
    shares = {}
    for i, name in enumerate(spec.shut):
        opening, its_spec, here = house.openings.get(name), reading.opening_specs.get(name), (*path, "shut", i)
        if name in spec.open and spec.open[name].value > 0.0:
            reading.report(here, f"{name}, which the same scenario opens", "open or shut, not both")
        if opening is None or its_spec is None:
            continue
        if not opening.can_move and opening.open_share > 0.0:
            found = f"{name}, which stays as it is ({why_still(its_spec, opening)})"
            reading.report(here, found, "an opening that moves")
        else:
            shares[name] = 0.0
    return shares


def why_still(spec: OpeningSpec, opening: Opening) -> str:
    """Why an opening can be neither opened nor shut."""
    if not spec.moves:
        return "moves: no"
    return f"a {opening.kind} without a sash" if opening.sash == "none" else f"sash {opening.sash}"


def check_open(
    reading: Reading, path: Path_, spec: ScenarioSpec, placements: Sequence[Placement], shares: Mapping[str, float]
) -> None:
    """Note fans that blow at an opening that is shut, also where the base placed them."""
    for placement in placements:
        name = placement.opening
        if placement.sealed or shares[name] > 0.0:
            continue
        here = path
        for i, item in enumerate(spec.fans or ()):
            key = next((key for key, opening in blown_at(item).items() if opening == name), None)
            if item.fan == placement.fan and key is not None:
                here = (*path, "fans", i, key)
        found = f"{placement.fan} blowing at {name}, which is shut in this scenario"
        reading.report(here, found, "an opening that is open in it", f"Add it: open: [{name}]", at_key=here == path)


def screened(reading: Reading, house: House, path: Path_, spec: ScenarioSpec, base: Scenario) -> frozenset[str]:
    """Which screens are in place."""
    if spec.screens is None:
        return base.screened
    every = frozenset(n for n, o in house.openings.items() if o.screen)
    if spec.screens in ("on", "off"):
        return every if spec.screens == "on" else frozenset()
    for i, name in enumerate(spec.screens):
        if name in house.openings and name not in every:
            allowed = f"openings with one: {listed(sorted(every))}"
            hint = f"Give it one: screen: fine 18x16 under openings > {name}"
            reading.report((*path, "screens", i), f"{name}, which has no screen", allowed, hint)
    return frozenset(spec.screens) & every


def blown_at(spec: PlacementSpec) -> dict[str, str]:
    """The opening that a fan blows at, by the key that names it: one, if the file is right."""
    given = {"blows out": spec.out, "blows in": spec.inwards, "blows through": spec.through}
    return {key: name for key, name in given.items() if name is not None}


def placements_of(
    reading: Reading, house: House, path: Path_, spec: ScenarioSpec, base: Scenario
) -> tuple[Placement, ...]:
    """The fans that run; a list of fans replaces that of the base."""
    if spec.fans is None:
        return base.placements
    result: dict[str, Placement] = {}
    for i, item in enumerate(spec.fans):
        here = (*path, "fans", i)
        if item.fan in result:
            hint = "A second fan of the same kind needs its own name under fans"
            reading.report((*here, "fan"), f"{item.fan} a second time", "each fan once", hint)
            continue
        with suppress(Refused):
            result[item.fan] = make_placement(reading, house, here, item)
    return tuple(result.values())


def make_placement(reading: Reading, house: House, path: Path_, spec: PlacementSpec) -> Placement:
    """Where one fan stands and what it blows at."""
    given = blown_at(spec)
    if len(given) != 1:
        found = " and ".join(given) or "no opening to blow at"
        reading.refuse(path, found, "one of: blows out, blows in, blows through, with the name of an opening")
    key, name = next(iter(given.items()))
    if name not in house.openings or spec.fan not in house.fans:
        raise Refused  # for the errors of the fan or the opening
    opening, fan = house.openings[name], house.fans[spec.fan]
    if key != "blows through" and not opening.is_external:
        found, hint = f"{name}, between {opening.joins[0]} and {opening.joins[1]}", f"Write blows through: {name}"
        reading.refuse((*path, key), found, "an opening to outdoors", f"{hint}, stands in: {opening.joins[0]}")
    if fan.stays_at and name != fan.stays_at:
        reading.refuse((*path, key), name, f"{fan.stays_at}, where {fan.name} stays")
    if fan.stays_at and "sealed" in spec.model_fields_set and not spec.sealed:
        reading.refuse((*path, "sealed"), f"sealed: no of {fan.name}, which stays in {name}", "leave sealed out")
    sealed = spec.sealed or bool(fan.stays_at)
    if sealed:
        check_sealed_keys(reading, path, spec)
    stands_in = place_of(reading, path, spec, key, opening, sealed)
    words = [setting.name for setting in fan.settings]
    if spec.setting and spec.setting not in words:
        allowed = f"a setting of {fan.name}: {listed(words)}"
        reading.refuse((*path, "setting"), describe(spec.setting), allowed, nearest(spec.setting, words))
    support = None if spec.stands_on is None else support_m(reading, house, path, spec, opening, stands_in)
    setback = 0.0 if sealed else spec.setback
    if setback is None:
        setback = float(assumptions()["setback"])
        reading.assumed.note(f"setback {setback:g} m", f"{spec.fan} at {name}", "placements")
    return Placement(
        fan=spec.fan,
        opening=name,
        stands_in=stands_in,
        setback_m=setback,
        height_m=spec.height,
        aside_m=spec.aside,
        turn_deg=spec.turn,
        tilt_deg=spec.tilt,
        sealed=sealed,
        setting=spec.setting,
        stands_on=spec.stands_on or "",
        support_m=support,
    )


def place_of(reading: Reading, path: Path_, spec: PlacementSpec, key: str, opening: Opening, sealed: bool) -> str:
    """The room that a fan stands in, or outdoors; it blows through the opening to the other side."""
    name, (first, second) = opening.name, opening.joins
    if key == "blows through":
        if spec.stands_in is None:
            reading.refuse((*path, key), f"blows through {name} without stands in", f"stands in: {first} or {second}")
        if spec.stands_in not in opening.joins:
            allowed = f"{first} or {second}, which {name} joins"
            reading.refuse((*path, "stands in"), spec.stands_in, allowed, nearest(spec.stands_in, opening.joins))
        return spec.stands_in
    expected = OUTDOORS if key == "blows in" else first
    if key == "blows in" and not sealed and spec.stands_in != OUTDOORS:
        found = f"a fan that blows in at {name} and stands " + (
            f"in {spec.stands_in}" if spec.stands_in else "in no named room"
        )
        hint = "A fan that stands indoors can only blow out of a window"
        reading.refuse((*path, key), found, "sealed: yes; or stands in: outdoors", hint)
    if key == "blows out" and spec.stands_in not in (None, expected):
        reading.refuse((*path, "stands in"), spec.stands_in, expected, nearest(spec.stands_in, opening.joins))
    return expected


def check_sealed_keys(reading: Reading, path: Path_, spec: PlacementSpec) -> None:
    """Refuse keys of a sealed fan that say where one that stands back is: they have no effect."""
    given = {"setback": spec.setback, "height": spec.height, "aside": spec.aside, "turn": spec.turn, "tilt": spec.tilt,
             "stands on": spec.stands_on}  # fmt: skip
    idle = [key for key, value in given.items() if value]
    for key in idle:
        reading.report((*path, key), f"{key} of a fan that is sealed in", f"{key} of a fan that stands back",
                       "It has no effect here: leave it out, or leave out sealed")  # fmt: skip
    if idle:
        raise Refused


def support_m(reading: Reading, house: House, path: Path_, spec: PlacementSpec, opening: Opening, room: str) -> float:
    """Height above the floor of what the file says a fan stands on: by its name, or a height alone [m]."""
    here, word, fan = (*path, "stands on"), str(spec.stands_on), house.fans[spec.fan]
    sill = opening.bottom_m - floor_m(house, opening, room)
    holding = {o.name: o.height_m for o in house.obstacles.values() if o.room == room}
    heights = {"floor": 0.0, **house.surfaces, **holding, "sill": sill}
    if word in holding and word not in house.surfaces and not house.obstacles[word].holds_fan:
        reading.refuse(here, f"{word}, which the file does not say a fan can stand on",
                       f"Write holds fan: yes under obstacles > {word}, or another place")  # fmt: skip
    if word not in heights:
        try:
            heights[word] = parse_quantity(word, "length")
        except UnitError:
            allowed = f"{listed([*heights][:12])}, or a height such as 0.6 m"
            reading.refuse(here, describe(word), allowed, nearest(word, heights))
    support = heights[word]
    if not 0.0 <= support <= HIGHEST_SUPPORT_M or (word == "sill" and sill < LOWEST_SILL_M):
        allowed = f"something from 0 m to {HIGHEST_SUPPORT_M:g} m above the floor"
        reading.refuse(here, f"{word}, {support:.2f} m above the floor", allowed)
    setback = float(assumptions()["setback"]) if spec.setback is None else spec.setback
    if word == "sill" and setback > float(assumptions()["sill"]):
        found = f"sill, {setback:.2f} m from {opening.name}"
        reading.refuse(here, found, f"a setback of at most {assumptions()['sill']:g} m for a fan on the sill")
    low, high = axis_range_m(fan, support)
    if spec.height is not None and not low - 0.03 <= spec.height <= high + 0.03:
        reading.refuse(
            (*path, "height"),
            f"{spec.height:.2f} m for {fan.name} on {word}, {support:.2f} m high",
            f"{low:.2f} m" if high - low < 0.01 else f"{low:.2f} m to {high:.2f} m",
            f"Leave height out, or say how high the axis is above what the fan stands on: axis under fans > {fan.name}",
        )
    return support


def standing_fans(
    reading: Reading,
    house: House,
    path: Path_,
    spec: ScenarioSpec,
    placements: Sequence[Placement],
    shares: Mapping[str, float],
) -> tuple[Placement, ...]:
    """The fans that can stand where a scenario puts them with its openings open as far as it says; notes the others."""
    kept: list[FanPose] = []
    for placement in placements:
        at = next((i for i, item in enumerate(spec.fans or ()) if item.fan == placement.fan), None)
        here: Path_ = path if at is None else (*path, "fans", at)
        pose = fan_pose(house, placement, shares[placement.opening])
        problem = pose_problem(house, pose)
        with suppress(Refused):
            if problem is not None:
                key = (problem.key,) if at is not None and problem.key else ()
                reading.refuse((*here, *key), *problem_text(house, pose, problem))
            check_tilt(reading, here, house, placement)
            check_apart(reading, here, pose, kept)
            kept.append(pose)
            remark_on_aim(reading, path[1], house, pose)
            remark_on_sealing(reading, path[1], house, placement)
    for name in dict.fromkeys(pose.placement.opening for pose in kept if pose.placement.sealed):
        together = [p.placement.fan for p in kept if p.placement.sealed and p.placement.opening == name]
        check_sealed_together(reading, path, house, name, together)
    return tuple(pose.placement for pose in kept)


def problem_text(house: House, pose: FanPose, problem: PoseProblem) -> tuple[str, str, str]:
    """What was found, what is allowed and what to do, for a fan that cannot stand where a placement puts it."""
    placement = pose.placement
    fan, opening, thing = house.fans[placement.fan], house.openings[placement.opening], problem.thing
    back = f"{placement.setback_m:.2f} m back from {opening.name}"
    if problem.reason == "faces away":
        return f"{problem.value:g} deg", "less than 90 deg either way: the fan must face its opening", ""
    if problem.reason == "lies flat":
        found = f"{fan.name} set back from {opening.name}, which lies flat"
        return found, "sealed: yes, or an opening in a wall", ""
    if problem.reason == "cannot be sealed":
        hint = f"If it can, write seals: yes under fans > {fan.name}"
        return f"{fan.name}, whose shape cannot be sealed in", "a fan with seals: yes", hint
    if problem.reason == "too wide to be sealed":
        size = f"{opening.width_m:.2f} m by {opening.height_m:.2f} m"
        found = f"a fan of {fan.diameter_m:.2f} m in {opening.name} of {size}"
        return found, "an opening at least as wide and as high as the fan", ""
    if problem.reason == "between floor and ceiling":
        limit = f"{problem.low:.2f} m or more"
        if math.isfinite(problem.high):
            limit = f"{problem.low:.2f} m to {problem.high:.2f} m in {placement.stands_in}"
        hint = "" if placement.height_m is not None else f"Check heights under fans > {fan.name}"
        found = f"{problem.value:.2f} m for a fan of {fan.diameter_m:.2f} m"
        return found, f"{limit}: its blades between floor and ceiling", hint
    if problem.reason == "out of reach":
        hint = f"If it reaches more, say so: heights: [lowest, highest] under fans > {fan.name}"
        if placement.support_m is not None:
            hint = f"Leave height out, or say how high its axis is: axis under fans > {fan.name}"
        where = f"on {placement.stands_on}" if placement.stands_on else "where"
        limit = f"{problem.low:.2f} m to {problem.high:.2f} m, {where} {fan.name} can stand"
        return f"{problem.value:.2f} m", limit, hint
    if problem.reason == "inside a room":
        return f"{back}, inside {thing}", "a place outdoors", ""
    if problem.reason == "beyond the wall":
        return back, f"up to {problem.high:.2f} m, where the wall of {thing} is", ""
    if problem.reason in ("beside the room", "off its support"):
        found = f"a fan of {fan.diameter_m:.2f} m, {placement.aside_m:.2f} m aside from the middle of {opening.name}"
        if problem.reason == "off its support":
            return found, f"a place on {thing}", f"Change setback and aside so that the fan stands on {thing}"
        return found, f"a place inside {thing}: it would touch the wall beside the opening", ""
    if problem.reason == "behind an obstacle":
        found = f"{thing}, {problem.high:.2f} m high, between {fan.name} and {opening.name}"
        return found, f"nothing higher than the fan's axis at {pose.height_m:.2f} m in between", ""
    near = "inside" if problem.gap_m == 0.0 else f"{problem.gap_m:.2f} m from"
    allowed = f"{pose.radius_m:.2f} m clear of {thing}; straight back from the opening {problem.high:.2f} m are free"
    return f"{back}, {near} {thing}", allowed, ""


def check_tilt(reading: Reading, path: Path_, house: House, placement: Placement) -> None:
    """Refuse a tilt that the file says the fan has not; where only its kind says so, a remark is enough."""
    fan = house.fans[placement.fan]
    low, high = fan.tilt_range_deg
    if low - 0.5 <= placement.tilt_deg <= high + 0.5:
        return
    allowed = "no tilt" if low == high == 0.0 else f"from {low:g} to {high:g} deg"
    if "tilts" not in fan.estimated:
        reading.refuse((*path, "tilt"), f"{placement.tilt_deg:g} deg", f"{allowed}: tilts under fans > {fan.name}")
    reading.remark(
        f"scenario {path[1]}: {fan.name} is tilted by {placement.tilt_deg:g} deg; allowed: {allowed} "
        f"({fan.estimated['tilts']}): check, or write tilts: [lowest, highest] under fans"
    )


def check_apart(reading: Reading, path: Path_, pose: FanPose, others: Sequence[FanPose]) -> None:
    """Refuse a fan in the place of another."""
    fan = pose.placement
    for there in others:
        other = there.placement
        if (fan.sealed and other.sealed) or fan.stands_in != other.stands_in:
            continue
        apart = math.dist((pose.x, pose.y, pose.z), (there.x, there.y, there.z))
        need = pose.radius_m + there.radius_m
        if apart < need - 0.05:
            reading.refuse(
                path,
                f"{fan.fan} and {other.fan} {apart:.2f} m apart",
                f"at least {need:.2f} m from the middle of one fan to that of the other",
                "Change setback, aside or height of one of them",
            )


def remark_on_aim(reading: Reading, scenario: object, house: House, pose: FanPose) -> None:
    """Remark on a fan whose axis misses its opening by so much that little of its jet gets there."""
    placement = pose.placement
    met = first_met(house, pose)
    if placement.sealed or met.kind == "opening" or met.distance_m > 30.0:
        return
    gap = miss_m(house, pose)
    if gap > max(0.5, 0.25 * placement.setback_m):
        what = {"wall": "the wall", "obstacle": met.name}.get(met.kind, f"the {met.kind}")
        reading.remark(
            f"scenario {scenario}: the jet of {placement.fan} misses {placement.opening} by {gap:.1f} m and meets "
            f"{what}: check setback, aside, height, turn and tilt"
        )


def remark_on_sealing(reading: Reading, scenario: object, house: House, placement: Placement) -> None:
    """Remark on a fan that is larger than what its sash can free."""
    opening, fan = house.openings[placement.opening], house.fans[placement.fan]
    free = free_rectangle(opening, opening.full_share or 1.0)
    if placement.sealed and fan.diameter_m > min(free.width_m, free.height_m) + 0.02:
        reading.remark(
            f"scenario {scenario}: {fan.name}, {fan.diameter_m:.2f} m wide, is sealed into {opening.name}, of which "
            f"its sash ({opening.sash}) frees {free.width_m:.2f} m by {free.height_m:.2f} m: does it fit?"
        )


def check_sealed_together(reading: Reading, path: Path_, house: House, name: str, fans: Sequence[str]) -> None:
    """Note several fans in one opening that do not fit beside or above one another."""
    opening, total = house.openings[name], sum(house.fans[fan].diameter_m for fan in fans)
    if len(fans) > 1 and total > max(opening.width_m, opening.height_m) + 0.02:
        size = f"{opening.width_m:.2f} m by {opening.height_m:.2f} m"
        found = f"{' and '.join(fans)}, together {total:.2f} m, sealed into {name} of {size}"
        reading.report((*path, "fans"), found, f"fans that fit into {name} beside or above one another")
