"""From what the file says of openings to records: sash, screen, leak and drop; the plan is in ``place_openings``."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import replace
from typing import Any, Literal

from ventplan.house.catalogue import Sash, assumptions, free_share, sashes, screen_of, screens
from ventplan.house.fields import Amount
from ventplan.house.geometry import PLAN_BEARINGS, SLACK_M, close_pairs, outside_walls_of, plan_word
from ventplan.house.place_openings import MAY_LIE, Frame, check_height, frame_of, lies_flat
from ventplan.house.reading import Reading, Refused, validate, without_errors
from ventplan.house.records import OUTDOORS, Opening, Point, Screen
from ventplan.house.remarks import NO_LEAKAGE
from ventplan.house.schema import OpeningSpec, ScreenSpec
from ventplan.house.yaml_text import Path_
from ventplan.physics.orifice import CRACK_EXPONENT

Side = Literal["start", "end", "bottom", "top"]
PLAIN_HOLES = ("passage", "vent", "shaft")
"""Kinds of opening that have no sash unless the file says so."""


APART = frozenset(
    ("sash", "open", "full", "screen", "discharge", "leak", "leak exponent", "wind pressure", "drop", "moves", "opens",
     "keep", "leads to")
)  # fmt: skip
"""Keys of an opening that its place does not depend on."""


def build_openings(reading: Reading) -> None:
    """Every opening of the file; two on the same piece of wall are an error."""
    for name, data in reading.section("openings", "a name for each opening").items():
        whole = validate(reading.source, ("openings", name), data, OpeningSpec, reading.names)
        spec = whole or without_errors(data, OpeningSpec, reading.names, APART)
        if spec is None:
            continue
        with suppress(Refused):
            if any(p != OUTDOORS and p not in reading.rooms for p in spec.joins):
                check_height(reading, name, spec)
            elif whole is None:
                frame_of(reading, name, spec)  # for its errors
            else:
                reading.opening_specs[name] = spec
                check_keys(reading, name, spec)
                reading.openings[name] = make_opening(reading, name, spec, frame_of(reading, name, spec))
    check_collisions(reading)
    spread_leakage(reading)


def make_opening(reading: Reading, name: str, spec: OpeningSpec, frame: Frame) -> Opening:
    """One opening's record, with the defaults that it needed."""
    usual: dict[str, Any] = assumptions()["kinds"][spec.kind]
    usual_opening: dict[str, float] = assumptions()["opening"]
    external = OUTDOORS in spec.joins
    sash = sashes()[spec.sash or usual["sash"]]
    if spec.sash is None and spec.kind not in PLAIN_HOLES:
        reading.assumed.note(f"sash {sash.name}", name, "openings")
    full = full_share(reading, name, spec, sash)
    share = opened_share(reading, ("openings", name, "open"), spec, sash, full, spec.open)
    if spec.open is None:
        reading.assumed.note(f"{'open' if stands_open(sash, spec) else 'shut'} as it stands", name, "openings")
    long_shaft = spec.kind == "shaft" and (external or spec.loss is not None) and spec.discharge is None
    if spec.discharge is None and not long_shaft:
        reading.assumed.note(f"discharge coefficient {usual_opening['discharge']:g}", name, "openings")
    if spec.leak is None and reading.spec.leakage is None:
        reading.assumed.note("crack flow when shut estimated from kind and size", name, "openings")
    can_move = spec.moves and sash.moves != "fixed" and has_leaf(spec, share < full)
    screen = make_screen(reading, name, spec)
    check_sash_keys(reading, name, spec, sash, moves=can_move, share=share)
    opens = opening_side(reading, name, spec, sash, frame)
    drop = frame.drop_m if spec.drop is None else spec.drop
    if spec.leads_to in ("balcony", "stairs") and spec.drop is None:
        drop = 0.0
    width, height = spec.size
    top = shaft_top(reading, name, spec, frame)
    discharge = spec.discharge or usual_opening["discharge"]
    if long_shaft:
        discharge = shaft_discharge(reading, name, spec, (top or frame.bottom_m) - frame.bottom_m)
    leak = usual["leak" if external else "inner leak"] * width * height
    return Opening(
        name=name,
        kind=spec.kind,  # type: ignore[arg-type]
        joins=spec.joins,
        start=frame.start,
        end=frame.end,
        normal=frame.normal,
        bottom_m=frame.bottom_m,
        height_m=height,
        sash=sash.name,
        open_share=share,
        full_share=full,
        free_along=sash.along,
        opens=opens,
        screen=screen,
        discharge=discharge,
        leak_m3_s=leak if spec.leak is None else spec.leak,
        leak_exponent=spec.leak_exponent or usual_opening["leak exponent"],
        wind_pressure=spec.wind_pressure,
        drop_m=drop,
        can_move=can_move,
        slope_faces=slope_direction(spec.faces),
        pitch_deg=spec.pitch,
        top_m=top,
        column_c=spec.column,
        leads_to=spec.leads_to or "",  # type: ignore[arg-type]
        keep=spec.keep or "",  # type: ignore[arg-type]
    )


def check_keys(reading: Reading, name: str, spec: OpeningSpec) -> None:
    """Refuse keys that have no effect at an opening of this kind."""
    external, lies = OUTDOORS in spec.joins, lies_flat(spec)
    flat = "what lies flat (roof window, hatch, shaft, or a vent with at)"
    only: tuple[tuple[str, bool, tuple[str, ...]], ...] = (
        ("a roof window", spec.kind == "roof window", ("faces", "pitch")),
        ("a shaft", spec.kind == "shaft", ("loss", "column")),
        ("a shaft to outdoors", spec.kind == "shaft" and external, ("top",)),
        ("an opening in a wall", not lies, ("wall", "along", "sill")),
        (flat, lies, ("level",)),
        (flat, spec.kind in MAY_LIE, ("at",)),
        ("an opening that moves", spec.moves, ("keep",)),
        ("a shaft without discharge", spec.discharge is None, ("loss",)),
        ("an opening to outdoors", external, ("wind_pressure", "leads_to")),
    )
    idle = [(key.replace("_", " "), where) for where, holds, keys in only for key in keys
            if not holds and getattr(spec, key) is not None]  # fmt: skip
    here = f"a {spec.kind}" if external else f"a {spec.kind} between two rooms"
    for key, where in idle:
        hint = "It has no effect here: leave it out"
        reading.report(("openings", name, key), f'"{key}" for {here}', f'"{key}" only for {where}', hint)
    if idle:
        raise Refused


def check_sash_keys(reading: Reading, name: str, spec: OpeningSpec, sash: Sash, *, moves: bool, share: float) -> None:
    """Refuse keys of how far an opening opens, and of what it leaks when shut, that have no effect at its sash."""
    wrong: list[tuple[str, str, str]] = []
    if sash.moves == "fixed" and spec.open is not None and spec.open.value > 0.0:
        wrong.append(("open", "open for a sash that is fixed", "another sash, or leave open out"))
    if sash.moves in ("bare", "fixed") and spec.full is not None:
        wrong.append(("full", f"full for the sash {sash.name}", "full only for a sash that moves"))
    elif spec.full is not None and spec.full.value <= 0.0:
        wrong.append(("full", "an opening that cannot be opened", "sash: fixed; or how far it goes"))
    if share > 0.0 and not moves:
        for key, value in (("leak", spec.leak), ("leak exponent", spec.leak_exponent)):
            if value is not None:
                wrong.append((key, f"{key} for an opening that is never shut", f"{key} only for one that can be shut"))
    if spec.keep == "shut" and share > 0.0 and spec.open is not None:
        wrong.append(("keep", "keep: shut for an opening that is open", "open: no, or keep: open"))
    if spec.keep == "open" and share <= 0.0:
        wrong.append(("keep", "keep: open for an opening that is shut", "open: yes, or keep: shut"))
    for key, found, allowed in wrong:
        reading.report(("openings", name, key), found, allowed)
    if wrong:
        raise Refused


def opening_side(reading: Reading, name: str, spec: OpeningSpec, sash: Sash, frame: Frame) -> Side:
    """The end or edge of the frame at which the free part lies when it is partly open.

    Left and right are those of a person in the first room who faces the opening, so that they stay the same however the
    plan is turned.
    """
    path, lies = ("openings", name, "opens"), frame.normal == (0.0, 0.0)
    up = sash.along == "height" or lies
    if spec.opens is None and up:
        return sash.opens
    if sash.moves in ("bare", "fixed") and spec.opens is not None:
        found, allowed = f"opens for the sash {sash.name}", "opens only for a sash that slides or is hinged at one end"
        reading.refuse(path, found, allowed)
    word = spec.opens or str(assumptions()["opens"])
    if up:
        if not lies and sash.name == "hung" and word in ("bottom", "top"):
            return word  # type: ignore[return-value]
        allowed = "bottom or top" if sash.name == "hung" else "leave opens out: this sash is not free at one end"
        reading.refuse(path, f"{word} for the sash {sash.name} of a {spec.kind}", allowed)
    (x1, y1), (x2, y2), (nx, ny) = frame.start, frame.end, frame.normal
    sides = {"left": (-ny, nx), "right": (ny, -nx), "bottom": (0.0, 0.0), "top": (0.0, 0.0)}
    wx, wy = sides[word] if word in sides else slope_direction(word) or (0.0, 0.0)
    towards_end = (wx * (x2 - x1) + wy * (y2 - y1)) / math.dist(frame.start, frame.end)
    if abs(towards_end) < 0.5:
        ends = f"{plan_word((-ny, nx))} or {plan_word((ny, -nx))}"
        allowed = f"left or right, seen from {spec.joins[0]}, or one of its ends on the plan: {ends}"
        reading.refuse(path, f"{word} for a sash that opens sideways", allowed)
    return "end" if towards_end > 0.0 else "start"


def slope_direction(faces: str | None) -> Point | None:
    """Unit vector in plan down a slope, from a word of the plan."""
    if faces is None:
        return None
    angle = math.radians(PLAN_BEARINGS[faces])
    return round(math.sin(angle), 9) + 0.0, round(math.cos(angle), 9) + 0.0


def shaft_top(reading: Reading, name: str, spec: OpeningSpec, frame: Frame) -> float | None:
    """Height of a shaft's upper end above the ground outside [m]; None for other openings and within the house."""
    if spec.kind != "shaft" or OUTDOORS not in spec.joins:
        return None
    highest = max(room.floor_m + room.ceiling_m for room in reading.rooms.values())
    if spec.top is None:
        above = float(assumptions()["shaft"]["top"])
        reading.assumed.note(f"top {above:g} m above the highest ceiling", name, "openings")
        return highest + above
    if spec.top > highest + 8.0 or spec.top < reading.rooms[spec.joins[0]].floor_m + 1.8:
        reading.remark(
            f"opening {name}: top of {spec.top:.2f} m above the ground outside, in a house {highest:.2f} m high to its "
            "highest ceiling"
        )
    if spec.top <= frame.bottom_m:
        allowed = f"above its lower end at {frame.bottom_m:.2f} m"
        reading.report(("openings", name, "top"), f"{spec.top:.2f} m", allowed)
    return spec.top


def shaft_discharge(reading: Reading, name: str, spec: OpeningSpec, length_m: float) -> float:
    """Discharge coefficient of a shaft from its losses in series: 1 / sqrt(ends + friction L / D + loss)."""
    usual: dict[str, float] = assumptions()["shaft"]
    width, depth = spec.size
    hydraulic = 2.0 * width * depth / (width + depth)
    reading.assumed.note(
        f"friction factor {usual['friction']:g} and a loss of {usual['ends']:g} at its ends", name, "openings"
    )
    loss: float = usual["ends"] + usual["friction"] * max(length_m, 0.0) / hydraulic + (spec.loss or 0.0)
    return 1.0 / math.sqrt(loss)


def stands_open(sash: Sash, spec: OpeningSpec) -> bool:
    """True for what is open when the file does not say: plain holes and doors between rooms."""
    return sash.moves == "bare" or (spec.kind == "door" and OUTDOORS not in spec.joins)


def has_leaf(spec: OpeningSpec, partly_shut: bool) -> bool:
    """True where there is something to open and shut: a plain hole has nothing, unless the file names or shuts it."""
    return spec.kind not in PLAIN_HOLES or spec.sash is not None or partly_shut


def full_share(reading: Reading, name: str, spec: OpeningSpec, sash: Sash) -> float:
    """Free share when opened as far as it goes: the sash's own, or what the file says of the frame."""
    if spec.full is None:
        return sash.full_share
    if spec.full.kind == "share":
        return spec.full.value
    return opened_share(reading, ("openings", name, "full"), spec, sash, 1.0, spec.full)


def opened_share(
    reading: Reading, path: Path_, spec: OpeningSpec, sash: Sash, full: float, amount: Amount | None
) -> float:
    """Free share of the frame for an amount in the file; refuses what the sash cannot do."""
    if amount is None:
        return full if stands_open(sash, spec) else 0.0
    try:
        return free_share(sash, amount, full_share=full, leaf_m=spec.size[0 if sash.along == "width" else 1])
    except ValueError as error:
        unit = {"angle": "deg", "length": "m", "share": ""}[amount.kind]
        reading.refuse(path, f"{amount.value:g} {unit}".strip(), str(error))


def make_screen(reading: Reading, name: str, spec: OpeningSpec) -> Screen | None:
    """The opening's screen: of the catalogue, or of its own mesh."""
    if not isinstance(spec.screen, ScreenSpec):
        return screens()[spec.screen] if spec.screen is not None else None
    try:
        first, second = spec.screen.threads
        return screen_of(f"own {first:g}x{second:g}", spec.screen)
    except ValueError as error:
        found = f"a wire of {spec.screen.wire * 1000:.2f} mm at {max(spec.screen.threads):g} threads an inch"
        reading.refuse(("openings", name, "screen", "wire"), found, str(error))


def check_collisions(reading: Reading) -> None:
    """Two openings cannot take the same piece of a wall."""
    from shapely import LineString

    openings = list(reading.openings.values())
    for one, before in close_pairs([LineString([o.start, o.end]) for o in openings], 0.35):
        opening, other = openings[one], openings[before]
        common = common_width_m(opening, other)
        if common > SLACK_M:
            (x1, y1), (x2, y2) = other.start, other.end
            reading.report(
                ("openings", opening.name),
                f"an overlap of {common:.2f} m with {other.name}",
                f"openings beside each other; {other.name} is {other.width_m:.2f} m wide",
                f"Change along: {other.name} runs from ({x1:.2f}, {y1:.2f}) to ({x2:.2f}, {y2:.2f})",
            )


def common_width_m(first: Opening, second: Opening) -> float:
    """Length of wall that two openings both take [m], 0 if they are apart."""
    if first.is_horizontal or second.is_horizontal:
        return 0.0
    (nx, ny), (mx, my) = first.normal, second.normal
    if abs(nx * mx + ny * my) < 0.999 or not set(first.joins) & set(second.joins) - {OUTDOORS}:
        return 0.0
    if abs((second.start[0] - first.start[0]) * nx + (second.start[1] - first.start[1]) * ny) > 0.3:
        return 0.0
    top = min(first.bottom_m + first.height_m, second.bottom_m + second.height_m)
    if top - max(first.bottom_m, second.bottom_m) < SLACK_M:
        return 0.0
    tx, ty = (first.end[0] - first.start[0]) / first.width_m, (first.end[1] - first.start[1]) / first.width_m
    ends = sorted((p[0] - first.start[0]) * tx + (p[1] - first.start[1]) * ty for p in (second.start, second.end))
    return min(first.width_m, ends[1]) - max(0.0, ends[0])


def spread_leakage(reading: Reading) -> None:
    """Share a blower door's figure out: what the cracks of shut openings do not leak, the outside walls do, by area.

    Cracks that the file states are kept. Where the assumed ones alone would leak more than the whole house, they are
    made smaller together and the walls are tight.
    """
    leakage = reading.spec.leakage
    if leakage is None and reading.rooms:
        reading.assumed.note(NO_LEAKAGE)
    if leakage is None or not reading.rooms:
        return

    def at_50_pa(openings: list[Opening]) -> float:
        return float(sum(o.leak_m3_s * 50.0**o.leak_exponent for o in openings))

    outside = [o for o in reading.openings.values() if o.is_external]
    assumed = [o for o in outside if reading.opening_specs[o.name].leak is None]
    stated = [o for o in outside if o not in assumed]
    total = leakage.ach50 * sum(r.volume_m3 for r in reading.rooms.values()) / 3600.0
    left = max(total - at_50_pa(stated), 0.0)
    usual = at_50_pa(assumed)
    areas = {
        name: room.ceiling_m * sum(wall.length_m for wall in outside_walls_of(room, reading.near[name]))
        for name, room in reading.rooms.items()
    }
    walls, whole = left - usual, sum(areas.values())
    if walls <= 0.0 or whole <= 0.0:
        for opening in assumed:
            reading.openings[opening.name] = replace(opening, leak_m3_s=max(opening.leak_m3_s * left / usual, 1e-6))
        reading.assumed.note("all leakage of the house is that of its shut openings to outdoors; its walls are tight")
        return
    for name, room in reading.rooms.items():
        leak = walls * areas[name] / whole / 50.0**CRACK_EXPONENT
        reading.rooms[name] = replace(room, leak_m3_s=leak)
    reading.assumed.note("leakage beyond that of the shut openings is spread over the outside walls by area")
