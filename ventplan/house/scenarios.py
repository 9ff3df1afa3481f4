"""Complete states of the house from what the file says of scenarios, and where their fans stand."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from ventplan.house.build_openings import opened_share
from ventplan.house.build_rooms import build_outdoors
from ventplan.house.catalogue import assumptions, sashes
from ventplan.house.fan_pose import FanPose, PoseProblem, fan_pose, first_met, floor_m, miss_m, pose_problem
from ventplan.house.fields import listed, nearest
from ventplan.house.geometry import free_rectangle
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
    """One scenario after the one it is based on; a ring of them is an error."""
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
    fans = placements_of(reading, house, path, spec, base)
    fans = standing_fans(reading, house, path, spec, fans, shares)
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


def placements_of(
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
            continue
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
    if fan.stays_at and "sealed" in spec.model_fields_set and not spec.sealed:
        reading.report((*path, "sealed"), f"sealed: no of {fan.name}, which stays in {name}", "leave sealed out")
        return None
    if fan.stays_at:
        spec = spec.model_copy(update={"sealed": True})
    if spec.sealed and not keys_fit_sealed(reading, path, spec):
        return None
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
    placement = Placement(
        fan=spec.fan,
        opening=name,
        stands_in=stands_in,
        setback_m=1.0 if spec.setback is None and not spec.sealed else spec.setback or 0.0,
        height_m=spec.height,
        aside_m=spec.aside,
        turn_deg=spec.turn,
        tilt_deg=spec.tilt,
        sealed=spec.sealed,
        setting=setting,
        stands_on=stands_on,
        support_m=support,
    )
    if spec.setback is None and not spec.sealed:
        reading.assumed.note("setback 1 m", f"{spec.fan} at {name}", "placements")
    return placement


def keys_fit_sealed(reading: Reading, path: Path_, spec: PlacementSpec) -> bool:
    """True for a sealed fan without keys that say where one that stands back is; notes those that have no effect."""
    given = {"setback": spec.setback, "height": spec.height, "aside": spec.aside, "turn": spec.turn, "tilt": spec.tilt,
             "stands on": spec.stands_on}  # fmt: skip
    idle = [key for key, value in given.items() if value]
    for key in idle:
        reading.report((*path, key), f"{key} of a fan that is sealed in", f"{key} of a fan that stands back",
                       "It has no effect here: leave it out, or leave out sealed")  # fmt: skip
    return not idle


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
    sill = opening.bottom_m - floor_m(house, opening, room)
    holding = {o.name: o.height_m for o in house.obstacles.values() if o.room == room}
    heights = {"floor": 0.0, **house.surfaces, **holding, "sill": sill}
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


def standing_fans(
    reading: Reading,
    house: House,
    path: Path_,
    spec: ScenarioSpec,
    placements: Sequence[Placement],
    shares: Mapping[str, float],
) -> tuple[Placement, ...]:
    """The fans that can stand where a scenario puts them with its openings open as far as it says; notes the others."""
    kept: list[tuple[Placement, FanPose]] = []
    for placement in placements:
        at = next((i for i, item in enumerate(spec.fans or ()) if item.fan == placement.fan), None)
        here: Path_ = path if at is None else (*path, "fans", at)
        pose = fan_pose(house, placement, shares[placement.opening])
        problem = pose_problem(house, pose)
        if problem is not None:
            found, allowed, hint = problem_text(house, pose, problem)
            key = (problem.key,) if at is not None and problem.key else ()
            reading.report((*here, *key), found, allowed, hint)
        elif tilts_so(reading, here, house.fans[placement.fan], placement) and not collides(reading, here, pose, kept):
            kept.append((placement, pose))
            remark_on_aim(reading, here, house, pose)
            remark_on_sealing(reading, here, house, placement)
    for name in dict.fromkeys(p.opening for p, _ in kept if p.sealed):
        check_sealed_together(reading, path, house, name, [p.fan for p, _ in kept if p.sealed and p.opening == name])
    return tuple(placement for placement, _ in kept)


def problem_text(house: House, pose: FanPose, problem: PoseProblem) -> tuple[str, str, str]:
    """What was found, what is allowed and what to do, for a fan that cannot stand where a placement puts it."""
    placement = pose.placement
    fan, opening, thing = house.fans[placement.fan], house.openings[placement.opening], problem.thing
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
    back = f"{placement.setback_m:.2f} m back from {opening.name}"
    if problem.reason == "inside a room":
        return f"{back}, inside {thing}", "a place outdoors", ""
    if problem.reason == "beyond the wall":
        return back, f"up to {problem.high:.2f} m: then comes the wall of {thing}", ""
    if problem.reason == "beside the room":
        found = f"a fan of {fan.diameter_m:.2f} m, {placement.aside_m:.2f} m aside from the middle of {opening.name}"
        if thing in house.obstacles:
            return found, f"a place on {thing}", f"Change setback and aside so that the fan stands on {thing}"
        return found, f"a place inside {thing}: it would touch the wall beside the opening", ""
    if problem.reason == "behind an obstacle":
        found = f"{thing}, {problem.high:.2f} m high, between {fan.name} and {opening.name}"
        return found, f"nothing higher than the fan's axis at {pose.height_m:.2f} m in between", ""
    near = "inside" if problem.gap_m == 0.0 else f"{problem.gap_m:.2f} m from"
    allowed = f"{pose.radius_m:.2f} m clear of {thing}; straight back from the opening {problem.high:.2f} m are free"
    return f"{back}, {near} {thing}", allowed, ""


def tilts_so(reading: Reading, path: Path_, fan: Fan, placement: Placement) -> bool:
    """True for a fan that can tilt so far; where only its kind says that it cannot, a remark is enough."""
    low, high = fan.tilt_range_deg
    if low - 0.5 <= placement.tilt_deg <= high + 0.5:
        return True
    most = "not at all" if low == high == 0.0 else f"from {low:g} to {high:g} deg"
    if "tilts" not in fan.estimated:
        reading.report((*path, "tilt"), f"{placement.tilt_deg:g} deg", f"{most}: tilts under fans > {fan.name}")
        return False
    reading.remark(
        f"scenario {path[1]}: {fan.name} is tilted by {placement.tilt_deg:g} deg; it tilts {most} "
        f"({fan.estimated['tilts']}): check, or write tilts: [lowest, highest] under fans"
    )
    return True


def collides(reading: Reading, path: Path_, pose: FanPose, others: Sequence[tuple[Placement, FanPose]]) -> bool:
    """True for a fan in the place of another; notes both."""
    for other, there in others:
        if pose.placement.sealed and other.sealed:
            continue
        apart = math.dist((pose.x, pose.y, pose.z), (there.x, there.y, there.z))
        need = pose.radius_m + there.radius_m
        if pose.placement.stands_in == other.stands_in and apart < need - 0.05:
            reading.report(
                path,
                f"{pose.placement.fan} and {other.fan} {apart:.2f} m apart",
                f"at least {need:.2f} m from the middle of one fan to that of the other",
                "Change setback, aside or height of one of them",
            )
            return True
    return False


def remark_on_aim(reading: Reading, path: Path_, house: House, pose: FanPose) -> None:
    """Remark on a fan whose axis misses its opening by so much that little of its jet gets there."""
    placement = pose.placement
    met = first_met(house, pose)
    if placement.sealed or met.kind == "opening" or met.distance_m > 30.0:
        return
    gap = miss_m(house, pose)
    if gap > max(0.5, 0.25 * placement.setback_m):
        what = {"wall": "the wall", "obstacle": met.name}.get(met.kind, f"the {met.kind}")
        reading.remark(
            f"scenario {path[1]}: the jet of {placement.fan} misses {placement.opening} by {gap:.1f} m and meets "
            f"{what}: check setback, aside, height, turn and tilt"
        )


def remark_on_sealing(reading: Reading, path: Path_, house: House, placement: Placement) -> None:
    """Remark on a fan that is larger than what its sash can free."""
    opening, fan = house.openings[placement.opening], house.fans[placement.fan]
    free = free_rectangle(opening, opening.full_share or 1.0)
    if placement.sealed and fan.diameter_m > min(free.width_m, free.height_m) + 0.02:
        reading.remark(
            f"scenario {path[1]}: {fan.name}, {fan.diameter_m:.2f} m wide, is sealed into {opening.name}, of which "
            f"its sash ({opening.sash}) frees {free.width_m:.2f} m by {free.height_m:.2f} m: does it fit?"
        )


def check_sealed_together(reading: Reading, path: Path_, house: House, name: str, fans: Sequence[str]) -> None:
    """Several fans in one opening must fit beside or above one another."""
    opening, total = house.openings[name], sum(house.fans[fan].diameter_m for fan in fans)
    if len(fans) > 1 and total > max(opening.width_m, opening.height_m) + 0.02:
        reading.report(
            (*path, "fans"),
            f"{' and '.join(fans)}, together {total:.2f} m, sealed into {name} of {opening.width_m:.2f} m "
            f"by {opening.height_m:.2f} m",
            f"fans that fit into {name} beside or above one another",
        )
