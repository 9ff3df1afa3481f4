"""What a person does with fans, windows and doors, as instructions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from ventplan.advice.night_plan import Action, ActionCode
from ventplan.house.fan_pose import fan_height_m
from ventplan.house.geometry import free_rectangle, normal_from
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Scenario
from ventplan.house.units import System, show_length
from ventplan.network.flow import OpeningFlow
from ventplan.show.plan_shapes import frame_of
from ventplan.show.tables import (
    show_setback,
)

if TYPE_CHECKING:
    pass


def change_words(opens: Sequence[str], shuts: Sequence[str]) -> str:
    """What to open and to shut, in words."""
    parts = [f"open {', '.join(opens)}"] if opens else []
    return "; ".join([*parts, f"shut {', '.join(shuts)}"] if shuts else parts)


WHOLE = "as far as it goes"
Tasks = tuple[tuple[str, tuple[str, ...]], ...]
"""Rooms with what to do in each."""


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
    """Where to put a fan, in imperatives."""
    opening = house.openings[placement.opening]
    setting = f" Set it to {placement.setting}." if placement.setting else ""
    outwards = opening.other(placement.stands_in) == OUTDOORS
    way = "out of the house" if outwards else "into the house" if placement.stands_in == OUTDOORS else ""
    way = way or f"through it into “{opening.other(placement.stands_in)}”"
    if placement.sealed:
        return f"Fix the {placement.fan} in the {opening.name}, blowing {way}, and seal the gaps around it.{setting}"
    share = scenario.shares[opening.name]
    free = free_rectangle(opening, share)
    height = show_length(fan_height_m(house, placement, free), system)
    side = free_side(opening, share, placement.stands_in)
    target = f"the open {side} part of the {opening.name}" if side else f"the middle of the {opening.name}"
    where = "outdoors" if placement.stands_in == OUTDOORS else f"in “{placement.stands_in}”"
    text = (
        f"Put the {placement.fan} {where}, {show_setback(placement.setback_m, system)} away from the {opening.name}, "
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


def evening_tasks(house: House, plan: Scenario, system: System) -> Tasks:
    """What to do to set the house to a plan from whatever state it is in, room by room."""
    rooms: dict[str, list[str]] = {name: [] for name in (*house.rooms, OUTDOORS)}
    ajar: list[str] = []
    closed: list[str] = []
    others = False
    for name, opening in house.openings.items():
        if not has_leaf(opening) or _sealed(plan, name):
            continue
        room = next(place for place in opening.joins if place != OUTDOORS)
        share = plan.shares[name]
        if opening.kind == "door" and not opening.is_external:
            words = how_far(opening, share, system)
            if share > 0.0:
                ajar.append(name if words == WHOLE else f"{name} ({words})")
            else:
                closed.append(name)
        elif share > 0.0:
            screen = "" if opening.screen is None else f", bug screen {'on' if name in plan.screened else 'off'}"
            rooms[room].append(f"Open the {name} {how_far(opening, share, system)}{screen}.")
        else:
            others = True
    for placement in plan.placements:
        joins = house.openings[placement.opening].joins  # a fan is sealed in from indoors, whichever way it blows
        where = next(p for p in joins if p != OUTDOORS) if placement.sealed else placement.stands_in
        rooms[where].append(fan_step(house, plan, placement, system))
    last = ["Shut every other window and outside door."] if others else []
    if plan.placements:
        last.append(f"Switch the {'fan' if len(plan.placements) == 1 else 'fans'} on.")
    doors = [f"Prop {the(ajar)} open."] if ajar else []
    doors += [f"Shut {the(closed)}."] if closed else []
    groups = [(name, tuple(items)) for name, items in rooms.items() if items]
    groups += [("Doors inside", tuple(doors))] if doors else []
    return (*groups, ("Whole house", tuple(last))) if last else tuple(groups)


def later_tasks(house: House, plan: Scenario) -> tuple[str, ...]:
    """What to do when the plan has done its work."""
    fans = list(dict.fromkeys(placement.fan for placement in plan.placements))
    opened = [n for n, o in house.openings.items() if o.is_external and has_leaf(o) and plan.shares[n] > 0.0]
    bare = [n for n in opened if house.openings[n].screen is not None and n not in plan.screened]
    found = [f"Switch the {listed(fans)} off."] if fans else []
    found += [f"Shut {the(opened)}."] if opened else []
    return (
        (*found, f"Put the bug {'screens' if len(bare) > 1 else 'screen'} back on {the(bare)}.")
        if bare
        else tuple(found)
    )


def has_leaf(opening: Opening) -> bool:
    """True where there is something to open or shut: no plain hole, shaft or fixed pane."""
    return opening.can_move or opening.sash not in ("none", "fixed")


def _sealed(plan: Scenario, name: str) -> bool:
    return any(p.sealed and p.opening == name for p in plan.placements)


def tissue(air: OpeningFlow, *, certain: bool = True) -> str:
    """A test that needs no instrument: a strip of tissue in an opening shows which way the air goes."""
    start, end = air.joins if air.net_m3_s > 0.0 else air.joins[::-1]
    return f"Hold a strip of tissue in the {air.name}. " + (
        f"It should blow from “{start}” towards “{end}”."
        if certain
        else f"It most likely blows from “{start}” towards “{end}”; the wind of the moment may turn it round."
    )


def downstream(air: OpeningFlow) -> str:
    """The side of an opening that the air goes to."""
    return air.joins[1] if air.net_m3_s > 0.0 else air.joins[0]


def placement_line(house: House, placement: Placement, system: System) -> str:
    """A placed fan in one line."""
    opening = house.openings[placement.opening]
    outwards = opening.other(placement.stands_in) == OUTDOORS
    way = "out of" if outwards else "in at" if placement.stands_in == OUTDOORS else "through"
    setting = f" on {placement.setting}" if placement.setting else ""
    if placement.sealed:
        return f"{placement.fan}{setting} sealed into {placement.opening}, blowing {'out' if outwards else 'in'}"
    head = f"{placement.fan}{setting} in {placement.stands_in}, blowing {way} {placement.opening}"
    return ", ".join([head, f"{show_setback(placement.setback_m, system)} from it", *stance(house, placement, system)])


def fan_instruction(house: House, placement: Placement, system: System) -> str:
    """How to set up a fan with one's hands, without a full stop."""
    beyond = house.openings[placement.opening].other(placement.stands_in)
    way = "blowing out" if beyond == OUTDOORS else f"blowing through it into {beyond}"
    if placement.stands_in == OUTDOORS:
        way = "blowing in"
    setting = f", on {placement.setting}" if placement.setting else ""
    if placement.sealed:
        if house.fans[placement.fan].stays_at:
            return f"Run the {placement.fan} in {placement.opening}, {way}{setting}"
        return f"Fit the {placement.fan} into {placement.opening} and seal the gaps, {way}{setting}"
    where = f"in {placement.stands_in}" if placement.stands_in != OUTDOORS else "outdoors"
    setback = show_setback(placement.setback_m, system)
    parts = [f"{setback} from {placement.opening}, facing it, {way}", *stance(house, placement, system)]
    return f"Stand the {placement.fan}{_support(house, placement, system)} {where}, {', '.join(parts)}{setting}"


def _support(house: House, placement: Placement, system: System) -> str:
    """What a fan stands on, with its height where that is a piece of furniture of no name of its own."""
    on = placement.stands_on
    if not on:
        return ""
    if on in house.surfaces and placement.support_m:
        article = "an" if on[0] in "aeiou" else "a"
        return f" on {article} {on} {show_length(placement.support_m, system)} high"
    return f" on the {on}"


def stance(house: House, placement: Placement, system: System) -> list[str]:
    """How high a placed fan stands, how far to the side, and its tilt."""
    opening, parts = house.openings[placement.opening], []
    if placement.height_m is not None:
        parts.append(f"its axis {show_length(placement.height_m, system)} above the floor")
    if abs(placement.aside_m) >= 0.01:
        towards = "right" if placement.aside_m * _right_hand(opening.normal, placement, house) > 0 else "left"
        parts.append(f"{show_length(abs(placement.aside_m), system)} to the {towards} of the middle, aimed at it")
    if placement.tilt_deg >= 1.0:
        parts.append(f"tilted up {placement.tilt_deg:.0f}°")
    elif placement.tilt_deg <= -1.0:
        parts.append(f"tilted down {-placement.tilt_deg:.0f}°")
    return parts


def _right_hand(normal: tuple[float, float], placement: Placement, house: House) -> float:
    """+1 where the opening's end lies to the right of somebody who looks at it from where the fan stands."""
    opening = house.openings[placement.opening]
    sign = 1.0 if opening.joins[0] == placement.stands_in else -1.0
    nx, ny = sign * normal[0], sign * normal[1]
    tx, ty = opening.end[0] - opening.start[0], opening.end[1] - opening.start[1]
    return 1.0 if tx * ny - ty * nx > 0.0 else -1.0


def action_words(house: House, action: Action, system: System) -> str:
    """One action as an instruction."""
    names = _listed(action.names)
    match action.code:
        case ActionCode.KEEP_SHUT:
            return "Keep all windows and outside doors shut."
        case ActionCode.SHUT_ALL:
            return "Shut all windows and outside doors: it gets warmer outdoors than in."
        case ActionCode.SHUT_COOL:
            return "Shut all windows and outside doors: the rooms are cool enough for the night."
        case ActionCode.SHUT:
            return f"Shut {names}."
        case ActionCode.STOP_FAN:
            return f"Turn the {names} off."
        case ActionCode.CHANGE_SETTING:
            return f"Turn the {names} to {action.setting or 'its highest setting'}."
        case ActionCode.OPEN:
            full = min(house.openings[name].full_share for name in action.names)
            wide = action.share >= 0.97 * full
            return f"Open {names}{' wide' if wide else f' to {100.0 * action.share:.0f} % of the frame'}."
        case ActionCode.START_FAN:
            assert action.placement is not None
            return f"{fan_instruction(house, action.placement, system)}."


def _listed(names: Sequence[str]) -> str:
    """Names as a list with "and"."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
