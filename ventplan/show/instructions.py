"""What a person does with fans, windows and doors, and when measuring fans, as instructions."""

from __future__ import annotations

import csv
import html
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from ventplan.house.fan_pose import fan_height_m
from ventplan.house.geometry import free_rectangle, normal_from, tangent_of
from ventplan.house.records import OUTDOORS, House, Opening, Placement, Scenario
from ventplan.house.units import System, show_length
from ventplan.network.flow import OpeningFlow
from ventplan.show.tables import show_setback

if TYPE_CHECKING:
    from ventplan.advice.night_plan import Action

MOST_LEFT_OUT = 2
"""Windows that stay shut when a plan is said to open all others."""
LEAST_BOARD_M = 0.15
"""How much longer than the fan an open part is that needs a board [m] (common practice, no source)."""
FEWEST_ALL = 4
"""Fewer windows than this are named one by one."""
HOW_TO_READ = {
    "thrust": "Weigh the thrust: with the fan off, on, off, on, off; then the same with the fan turned round. Keep "
    "fingers and cords away from the blades.",
    "jet": "Walk down the jet with the anemometer, and note the highest speed at each distance from the blades.",
    "profile": "Across the jet, at one distance: from the middle of the jet to both sides.",
    "box": "A cardboard box around the fan: the speed at each place of its exit, from its left edge and its bottom.",
}
"""What to do for each test of a form."""


def opening_names(house: House, names: Sequence[str], shares: Mapping[str, float]) -> str:
    """Openings to open, listed; where nearly every window is among them, as all windows except those that stay shut.

    Parameters
    ----------
    house
        The house.
    names
        What to open.
    shares
        Free share of every opening in the plan [-].
    """
    windows = [n for n, o in house.openings.items() if o.kind == "window" and o.is_external and o.can_move]
    opened = [name for name in windows if name in names]
    shut = [name for name in windows if shares[name] <= 0.0]
    if len(opened) < FEWEST_ALL or len(shut) > MOST_LEFT_OUT or len(opened) + len(shut) < len(windows):
        return listed(names)
    every = f"all windows except {listed(shut)}" if shut else "all windows"
    return listed([*(name for name in names if name not in windows), every])


def change_lines(house: House, opens: Sequence[str], shuts: Sequence[str], shares: Mapping[str, float]) -> list[str]:
    """What to open and to shut, as sentences."""
    lines = [f"Open {opening_names(house, opens, shares)}."] if opens else []
    lines += [f"Shut {listed(shuts)}."] if shuts else []
    return lines or ["Leave windows and doors as they are."]


def change_words(opens: Sequence[str], shuts: Sequence[str]) -> str:
    """What to open and to shut, as part of a sentence."""
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
    """How far to open a window or door, in a few words."""
    if share >= opening.full_share - 1e-6:
        return WHOLE
    if opening.sash in ("sliding", "sliding door", "pocket"):
        return f"so that the gap is {show_length(opening.width_m * share, system)} wide"
    if opening.sash == "hung":
        return f"so that the gap is {show_length(opening.height_m * share, system)} high"
    if opening.sash in ("hinged door", "side hinged") and share < 1.0:
        return f"to {math.degrees(math.asin(share)):.0f}°"
    return f"so that {100.0 * share:.0f} % of it is free"


def end_is_right(opening: Opening, place: str) -> bool:
    """True where an opening's end lies to the right of somebody who looks at the opening from a place."""
    (nx, ny), (ux, uy) = normal_from(opening, place), tangent_of(opening)
    return ux * ny - uy * nx > 0.0


def free_side(opening: Opening, share: float, place: str) -> str:
    """Which side of a half-open frame is free, for one who looks at it from a place: left, right, or nothing."""
    if share >= 0.95 or opening.free_along != "width" or opening.is_horizontal:
        return ""
    return "left" if end_is_right(opening, place) else "right"


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
        joins = house.openings[
            placement.opening
        ].joins  # a fan is sealed in from indoors, in whichever direction it blows
        where = next(p for p in joins if p != OUTDOORS) if placement.sealed else placement.stands_in
        share = plan.shares[placement.opening]
        rooms[where].append(f"{fan_instruction(house, placement, system, share=share)}.")
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
    found += [f"Put the bug {'screens' if len(bare) > 1 else 'screen'} back on {the(bare)}."] if bare else []
    return tuple(found)


def has_leaf(opening: Opening) -> bool:
    """True for an opening that can be opened or shut, unlike a plain hole, a shaft or a fixed pane."""
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


def direction_words(house: House, placement: Placement) -> str:
    """In which direction a fan blows."""
    if placement.stands_in == OUTDOORS:
        return "blowing in"
    beyond = house.openings[placement.opening].other(placement.stands_in)
    return "blowing out" if beyond == OUTDOORS else f"blowing through it into {beyond}"


def placement_line(house: House, placement: Placement, system: System) -> str:
    """A fan in a few words: its setting, where it stands, and what it blows through."""
    setting = f" on {placement.setting}" if placement.setting else ""
    way = direction_words(house, placement)
    if placement.sealed:
        return f"{placement.fan}{setting} sealed into {placement.opening}, {way}"
    where = "outdoors" if placement.stands_in == OUTDOORS else f"in {placement.stands_in}"
    setback = show_setback(placement.setback_m, system)
    return f"{placement.fan}{setting} {where}, {setback} from {placement.opening}, {way}"


def fan_instruction(house: House, placement: Placement, system: System, *, share: float | None = None) -> str:
    """How to set up a fan with one's hands, in a sentence without its full stop.

    Parameters
    ----------
    house, placement
        The house, and where the fan stands.
    system
        Units.
    share
        Free share of its opening [-], where the height of the axis and the free side of the frame are to be given too.
    """
    opening, way = house.openings[placement.opening], direction_words(house, placement)
    setting = f", on {placement.setting}" if placement.setting else ""
    if placement.sealed:
        if house.fans[placement.fan].stays_at:
            return f"Run the {placement.fan} in {placement.opening}, {way}{setting}"
        rest = _rest_to_close(house, placement, system)
        return f"Fit the {placement.fan} into {placement.opening} and {rest}, {way}{setting}"
    where = f"in {placement.stands_in}" if placement.stands_in != OUTDOORS else "outdoors"
    facing = "it"
    if share is not None:
        side = free_side(opening, share, placement.stands_in)
        facing = f"its open {side} part" if side else "it"
        height = fan_height_m(house, placement, free_rectangle(opening, share))
        placement = replace(placement, height_m=height)
    setback = show_setback(placement.setback_m, system)
    parts = [f"{setback} from {placement.opening}, facing {facing}, {way}", *stance(house, placement, system)]
    return f"Stand the {placement.fan}{_support(house, placement, system)} {where}, {', '.join(parts)}{setting}"


def _rest_to_close(house: House, placement: Placement, system: System) -> str:
    """What to close around a fan that is sealed in: a board where the open part of the frame is larger than the fan."""
    opening = house.openings[placement.opening]
    free, fan_m = free_rectangle(opening, opening.full_share or 1.0), house.fans[placement.fan].diameter_m
    if max(free.width_m, free.height_m) < fan_m + LEAST_BOARD_M:
        return "seal the gaps"
    sides = [show_length(side, system) for side in (free.width_m, free.height_m, fan_m)]
    return f"close the rest of its open part ({sides[0]} x {sides[1]}; the blades are {sides[2]} across) with a board"


def _support(house: House, placement: Placement, system: System) -> str:
    """What a fan stands on; the height too if it is a kind of furniture, such as a table, and not a named piece."""
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
        parts.append(f"axis {show_length(placement.height_m, system)} high")
    if abs(placement.aside_m) >= 0.01:
        towards = "right" if end_is_right(opening, placement.stands_in) == (placement.aside_m > 0.0) else "left"
        parts.append(f"{show_length(abs(placement.aside_m), system)} to the {towards} of the middle, aimed at it")
    if placement.tilt_deg >= 1.0:
        parts.append(f"tilted up {placement.tilt_deg:.0f}°")
    elif placement.tilt_deg <= -1.0:
        parts.append(f"tilted down {-placement.tilt_deg:.0f}°")
    return parts


def action_words(house: House, action: Action, system: System) -> str:
    """One action as an instruction."""
    from ventplan.advice.night_plan import ActionCode

    names = listed(action.names) if action.names else ""
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
            return f"Open {names}{' wide' if wide else f', to {100.0 * action.share:.0f} % of the frame'}."
        case ActionCode.START_FAN:
            assert action.placement is not None
            return f"{fan_instruction(house, action.placement, system)}."


def printed_form(form: str) -> str:
    """A form for measuring fans as a page to print, one table for each fan and test.

    Parameters
    ----------
    form
        From `ventplan.measure.session.blank_form`.
    """
    head, *rows = list(csv.reader(io.StringIO(form)))
    parts = [
        "<!doctype html><html lang='en'><meta charset='utf-8'><title>Fans to measure</title><style>",
        "body{font:11pt sans-serif}table{border-collapse:collapse;margin:0 0 1em}td,th{border:1px solid #888;"
        "padding:.2em .6em;min-width:4em}h2{break-before:page}h2:first-of-type{break-before:auto}</style>",
        "<h1>Fans to measure</h1><p>Date: ________ Temperature: ________ Anemometer: ________ Scale: ________</p>",
    ]

    def line(tag: str, cells: Iterable[str]) -> str:
        return "<tr>" + "".join(f"<{tag}>{html.escape(cell)}</{tag}>" for cell in cells) + "</tr>"

    for fan in dict.fromkeys(row[0] for row in rows):
        parts.append(f"<h2>{html.escape(fan)}</h2>")
        groups: dict[str, list[list[str]]] = {}
        for row in rows:
            if row[0] == fan:
                groups.setdefault(row[1] if row[1] in HOW_TO_READ else "single figures", []).append(row)
        for test, lines in groups.items():
            wanted = {"thrust": "reading", "single figures": "value"}.get(test, "speed")
            first = 2 if test in HOW_TO_READ else 1
            shown = [i for i, name in enumerate(head) if name.startswith(wanted) or any(row[i] for row in lines)]
            shown = [i for i in shown if i >= first]
            parts.append(f"<h3>{html.escape(test)}</h3><p>{html.escape(HOW_TO_READ.get(test, ''))}</p><table>")
            parts += [line("th", (head[i] for i in shown)), *(line("td", (row[i] for i in shown)) for row in lines)]
            parts.append("</table>")
    return "".join(parts) + "</html>\n"
