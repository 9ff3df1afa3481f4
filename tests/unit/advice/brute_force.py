"""Small random houses, and the best plan of each by trying everything."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np

from ventplan.advice.candidates import aimed, everything_open, stretches
from ventplan.advice.objective import Objective
from ventplan.errors import NoAnswerError
from ventplan.house import House, Placement, Scenario, parse_house
from ventplan.house.fan_pose import fan_supports
from ventplan.network import solve

COARSE_M, FINE_M = 0.2, 0.05
"""Every set of openings is tried at the coarse setbacks; those that come near the best at the fine ones [m]."""
NEAR = 0.95


def random_house(seed: int) -> House:
    """Two or three rooms in a row, one to five windows, one or two fans; every other house has its inner doors shut.

    Every third house has a dead-end room: one without a window.
    """
    rng = np.random.default_rng(seed)
    rooms = int(rng.integers(2, 4))
    widths, depth = rng.uniform(2.8, 4.8, rooms), float(rng.uniform(2.8, 4.2))
    shut = ", open: no" if seed % 2 else ""
    lines = [
        f"outdoors: {{temperature: {rng.uniform(8, 24):.1f} °C, wind: {rng.uniform(0, 4):.1f} m/s from "
        f"{rng.uniform(0, 360):.0f} deg, terrain: suburb}}",
        "indoors: {temperature: 25 °C}",
        "surfaces: {table: 75 cm}",
        "rooms:",
    ]
    left = np.concatenate([[0.0], np.cumsum(widths)])
    for i in range(rooms):
        lines.append(f"  r{i}: {{at: [{left[i]:.2f}, 0], size: [{widths[i]:.2f}, {depth:.2f}], ceiling: 2.5 m}}")
    lines.append("openings:")
    for i in range(rooms - 1):
        along = rng.uniform(0.1, depth - 1.0)
        lines.append(f"  door{i}: {{kind: door, joins: [r{i}, r{i + 1}], along: {along:.2f}, size: [0.8, 2.0]{shut}}}")
    walls = [(i, wall) for i in range(rooms) for wall in ("north", "south")] + [(0, "west"), (rooms - 1, "east")]
    if seed % 3 == 0:
        walls = [(i, wall) for i, wall in walls if i != rooms - 1]
    for n, k in enumerate(rng.permutation(len(walls))[: int(rng.integers(2, 7 - rooms))]):
        room, wall = walls[k]
        length = depth if wall in ("east", "west") else widths[room]
        width = min(float(rng.uniform(0.7, 1.4)), length - 0.4)
        sash = rng.choice(["hung", "sliding", "none", "side hinged"])
        screen = rng.choice(["", ", screen: fine 18x16"])
        lines.append(
            f"  w{n}: {{kind: window, joins: [r{room}, outdoors], wall: {wall}, "
            f"along: {rng.uniform(0.1, length - width - 0.1):.2f}, size: [{width:.2f}, {rng.uniform(0.8, 1.3):.2f}], "
            f"sill: 0.9, sash: {sash}{screen}{rng.choice([', open: no', ''])}}}"
        )
    kinds = ["box 20 in", "pedestal 16 in", "circulator 11 in"]
    lines.append("fans:")
    for n, k in enumerate(rng.permutation(3)[: 1 + int(seed % 4 == 0)]):
        lines.append(f"  f{n}: {{like: {kinds[k]}}}")
    return parse_house("\n".join(lines) + "\n")


def sets_of(house: House, base: Scenario, kept: str = "") -> Iterator[Scenario]:
    """Every set of the openings that can move, inner doors included; one of them may be kept open."""
    opened = everything_open(house, base)
    moving = [name for name, opening in house.openings.items() if opening.can_move and name != kept]
    for chosen in product((False, True), repeat=len(moving)):
        shares = {**opened.shares, **{n: opened.shares[n] if o else 0.0 for n, o in zip(moving, chosen, strict=True)}}
        yield replace(base, shares=shares, placements=())


def poses(house: House, state: Scenario, step_m: float) -> Iterator[Placement]:
    """Every fan at every open opening, from every side indoors, on everything that it can stand on, and sealed in.

    At setbacks so far apart, out of the way of people.
    """
    for fan in house.fans.values():
        for name, opening in house.openings.items():
            if state.shares[name] <= 0.0:
                continue
            for room in opening.joins:
                if fan.can_seal and opening.is_external:
                    yield Placement(fan.name, name, room, 0.0, sealed=True)
                for on in fan_supports(house, fan, opening, room) if room in house.rooms else ():
                    for stretch in stretches(house, state, fan, opening, room, support_m=on.height_m, keep_clear=True):
                        for setback in np.arange(stretch.low_m, stretch.high_m + 1e-9, step_m).tolist():
                            placed = Placement(fan.name, name, room, setback, aside_m=stretch.aside_m)
                            placed = replace(placed, stands_on=on.name, support_m=on.height_m)
                            if on.name != "sill":
                                yield aimed(house, state, placed)


def value_of(house: House, state: Scenario, objective: Objective) -> float:
    """The objective of a state; 0 where it has no answer."""
    try:
        return objective.value(house, state, solve(house, state))
    except NoAnswerError:
        return 0.0


def best_of_everything(house: House, base: Scenario, objective: Objective) -> tuple[float, Scenario]:
    """The best value of all sets of openings with all poses, and its state."""
    kept = objective.name if objective.kind == "opening" else ""
    best: list[tuple[float, int, Scenario]] = []
    sets = list(sets_of(house, base, kept))
    for i, state in enumerate(sets):
        tried = [replace(state, placements=(pose,)) for pose in poses(house, state, COARSE_M)]
        found = [(value_of(house, one, objective), i, one) for one in [state, *tried]]
        best.append(max(found, key=lambda one: one[0]))
    top = max(best, key=lambda one: one[0])
    for value, i, _ in best:
        if value >= NEAR * top[0]:
            tried = [replace(sets[i], placements=(pose,)) for pose in poses(house, sets[i], FINE_M)]
            top = max([top, *((value_of(house, one, objective), i, one) for one in tried)], key=lambda one: one[0])
    return top[0], top[2]
