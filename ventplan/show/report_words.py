"""The words of a report: what to do tonight, step by step, and what the picture shows."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ventplan.house.frames import free_rectangle, normal_from
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Scenario
from ventplan.house.shown import show, show_length
from ventplan.house.units import System
from ventplan.network.flow import Flow, OpeningFlow
from ventplan.network.rays import fan_height
from ventplan.show.plan_shapes import frame_of

WHOLE = "as far as it goes"


def listed(names: Sequence[str]) -> str:
    """Names as people list them: a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def the(names: Sequence[str]) -> str:
    """Names with their articles, listed."""
    return listed([f"the {name}" for name in names])


def how_far(opening: Opening, share: float, system: System) -> str:
    """How far to open something, in a few words."""
    if share >= opening.full_share - 1e-6:
        return WHOLE
    if opening.sash in ("sliding", "sliding door", "pocket"):
        return f"so that the gap is {show_length(opening.width_m * share, system)} wide"
    if opening.sash == "hung":
        return f"so that the gap is {show_length(opening.height_m * share, system)} high"
    if opening.sash in ("hinged door", "side hinged") and share < 1.0:
        return f"to {math.degrees(math.asin(share)):.0f}°"
    return f"so that {100.0 * share:.0f} % of it is free"


def free_side(opening: Opening, share: float, place: str) -> str:
    """Which side of a half-open frame is free, for one who looks at it from a room: left, right, or nothing."""
    if share >= 0.95 or opening.free_along != "width" or opening.is_horizontal:
        return ""
    nx, ny = normal_from(opening, place)
    ux, uy = frame_of(opening).u
    right = (-ux) * ny + (-uy) * (-nx)
    return "right" if right > 0.0 else "left"


def fan_step(house: House, scenario: Scenario, placement: Placement, system: System) -> str:
    """Where to put a fan, as one would tell a child."""
    opening = house.openings[placement.opening]
    setting = f" Set it to {placement.setting}." if placement.setting else ""
    outwards = opening.other(placement.stands_in) == OUTDOORS
    way = "out of the house" if outwards else "into the house" if placement.stands_in == OUTDOORS else ""
    way = way or f"through it into “{opening.other(placement.stands_in)}”"
    if placement.sealed:
        return f"Fix the {placement.fan} in the {opening.name}, blowing {way}, and seal the gaps around it.{setting}"
    share = scenario.shares[opening.name]
    free = free_rectangle(opening, share)
    height = show_length(fan_height(house, placement, free), system)
    side = free_side(opening, share, placement.stands_in)
    target = f"the open {side} part of the {opening.name}" if side else f"the middle of the {opening.name}"
    where = "outdoors" if placement.stands_in == OUTDOORS else f"in “{placement.stands_in}”"
    text = (
        f"Put the {placement.fan} {where}, {show_length(placement.setback_m, system)} away from the {opening.name}, "
        f"with the middle of its blades {height} above the floor."
    )
    if abs(placement.aside_m) >= 0.02:
        nx, ny = normal_from(opening, placement.stands_in)
        ux, uy = frame_of(opening).u
        right = (ux * ny - uy * nx) * placement.aside_m > 0.0
        text += f" Stand it {show_length(abs(placement.aside_m), system)} to the {'right' if right else 'left'}."
    text += f" Point it at {target}, so that it blows {way}."
    if abs(placement.tilt_deg) >= 1.0:
        text += f" Tilt it {'up' if placement.tilt_deg > 0 else 'down'} by {abs(placement.tilt_deg):.0f}°."
    return text + setting


def settings(house: House, plan: Scenario, system: System) -> tuple[str, ...]:
    """How every window, door and screen stands in a plan, so that it is reached from whatever state the house is in.

    Parameters
    ----------
    house
        The house.
    plan
        The state to reach. What a fan is sealed into is left to `fan_step`.
    system
        Units of lengths.
    """
    moved = {n: o for n, o in house.openings.items() if has_leaf(o) and not _sealed(plan, n)}
    inner = {n: o for n, o in moved.items() if o.kind == "door" and not o.is_external}
    groups: dict[str, list[str]] = {}
    for name, opening in moved.items():
        if name not in inner and plan.shares[name] > 0.0:
            groups.setdefault(how_far(opening, plan.shares[name], system), []).append(name)
    found = [f"Open {the(names)} {'each ' if len(names) > 1 else ''}{words}." for words, names in groups.items()]
    shut = [n for n in moved if n not in inner and plan.shares[n] <= 0.0]
    if shut:
        found.append(f"Keep all other windows and outside doors shut: {the(shut)}.")
    ajar = {n: how_far(o, plan.shares[n], system) for n, o in inner.items() if plan.shares[n] > 0.0}
    if ajar:
        names = [n if words == WHOLE else f"{n} ({words})" for n, words in ajar.items()]
        found.append(f"Keep {the(names)} open, with something heavy against {'it' if len(names) == 1 else 'each'}.")
    if len(ajar) < len(inner):
        found.append(f"Keep {the([n for n in inner if n not in ajar])} shut.")
    screens = [n for n, o in moved.items() if o.screen is not None and plan.shares[n] > 0.0]
    off, on = [n for n in screens if n not in plan.screened], [n for n in screens if n in plan.screened]
    if off:
        found.append(f"Take the bug {'screen' if len(off) == 1 else 'screens'} off {the(off)}.")
    if on:
        found.append(f"Keep the bug {'screen' if len(on) == 1 else 'screens'} on {the(on)}.")
    return tuple(found)


def has_leaf(opening: Opening) -> bool:
    """True where there is something to open or shut: no plain hole, shaft or fixed pane."""
    return opening.can_move or opening.sash not in ("none", "fixed")


def steps(
    house: House,
    plan: Scenario,
    flow: Flow,
    system: System,
    *,
    surest: OpeningFlow | None = None,
    certain: bool = True,
) -> tuple[str, ...]:
    """What to do, in order, to set the house to a plan from whatever state it is in.

    Parameters
    ----------
    house
        The house.
    plan
        The state to reach.
    flow
        Its solution.
    system
        Units of lengths.
    surest
        The opening whose direction is least in doubt, for a test with a strip of tissue, or None.
    certain
        True where that direction is all but certain.
    """
    found = list(settings(house, plan, system)) or ["Leave windows and doors as they are."]
    found += [fan_step(house, plan, placement, system) for placement in plan.placements]
    if plan.placements:
        found.append(f"Switch the {'fan' if len(plan.placements) == 1 else 'fans'} on.")
    return (*found, tissue(surest, certain=certain)) if surest is not None else tuple(found)


def _sealed(plan: Scenario, name: str) -> bool:
    return any(p.sealed and p.opening == name for p in plan.placements)


def tissue(air: OpeningFlow, *, certain: bool = True) -> str:
    """A test that needs no instrument: a strip of tissue in an opening shows which way the air goes."""
    start, end = air.joins if air.net_m3_s > 0.0 else air.joins[::-1]
    return f"Check: hold a strip of tissue in the {air.name}. " + (
        f"It should blow from “{start}” towards “{end}”."
        if certain
        else f"It most likely blows from “{start}” towards “{end}”; the wind of the moment may turn it round."
    )


def downstream(air: OpeningFlow) -> str:
    """The side of an opening that the air goes to."""
    return air.joins[1] if air.net_m3_s > 0.0 else air.joins[0]


def picture_words(house: House, scenario: Scenario, flow: Flow, system: System) -> str:
    """The plan in words: where air comes in, which way it goes, and where it leaves."""
    sentences = [f"Floor plan of {house.name} with {len(house.rooms)} rooms."]
    for placement in scenario.placements:
        sentences.append(fan_step(house, scenario, placement, system))
    least = 0.02 * max((abs(o.net_m3_s) for o in flow.openings.values()), default=0.0)
    for name, air in flow.openings.items():
        if abs(air.net_m3_s) > least:
            start, end = air.joins if air.net_m3_s > 0.0 else air.joins[::-1]
            sentences.append(f"{name}: {show(abs(air.net_m3_s), 'flow', system)} from {start} to {end}.")
    return " ".join(sentences)
