"""The same house gives the same answer turned, mirrored, moved, or with the lines of its file in another order."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplan.house import Scenario, parse_house
from ventplan.network import solve

Vector = tuple[float, float]
WORDS = {(0, 1): "north", (1, 0): "east", (0, -1): "south", (-1, 0): "west"}
SASHES = ("sliding", "hung", "side hinged", "top hinged", "none")


class Drawing:
    """How a plan is put on paper: turned by quarters, mirrored left to right first, and moved."""

    def __init__(self, quarters: int = 0, mirrored: bool = False, shift: Vector = (0.0, 0.0)) -> None:
        self.quarters, self.mirrored, self.shift = quarters, mirrored, shift

    def way(self, v: Vector) -> Vector:
        """A direction on the paper."""
        x, y = (-v[0], v[1]) if self.mirrored else v
        for _ in range(self.quarters):
            x, y = -y, x
        return x, y

    def point(self, p: Vector) -> Vector:
        """A point on the paper [m]."""
        x, y = self.way(p)
        return x + self.shift[0], y + self.shift[1]

    def north(self, bearing: float) -> float:
        """Bearing of the top of the paper [deg]."""
        return (bearing + 90.0 * self.quarters) % 360.0

    def wind(self, bearing: float, north: float) -> float:
        """Where the wind comes from [deg]: from the other side in a mirror."""
        return (2.0 * north - bearing) % 360.0 if self.mirrored else bearing


def invented(seed: int) -> dict[str, Any]:
    """A plan of four to six rooms in a grid with doors between them, windows all round, and a fan."""
    random = Random(seed)
    xs, ys = [0.0], [0.0]
    for _ in range(random.choice((2, 3))):
        xs.append(xs[-1] + round(random.uniform(2.6, 4.5), 2))
    for _ in range(2):
        ys.append(ys[-1] + round(random.uniform(2.8, 4.2), 2))
    rooms = {f"r{i}{j}": (xs[i], ys[j], xs[i + 1], ys[j + 1]) for i in range(len(xs) - 1) for j in range(2)}
    openings: dict[str, dict[str, Any]] = {}

    def add(joins: list[str], a: Vector, b: Vector, normal: Vector, inner: bool) -> None:
        length = abs(b[0] - a[0]) + abs(b[1] - a[1])
        width = round(random.uniform(0.7, min(1.6, length - 0.4)), 2)
        begin = round(random.uniform(0.1, length - width - 0.1), 2)
        sash = "hinged door" if inner else random.choice(SASHES)
        share = random.choice((0.3, 0.6, 1.0)) if random.random() < 0.8 else 0.0
        sided = sash in ("sliding", "side hinged", "hinged door")
        openings[f"o{len(openings)}"] = {
            "joins": joins,
            "wall": (a, b),
            "normal": normal,
            "begin": begin,
            "width": width,
            "inner": inner,
            "sash": sash,
            "share": 1.0 if sash == "none" else share,
            "height": round(random.uniform(0.6, 1.2), 2),
            "sided": sided,
            "opens": random.choice((None, "left", "right")) if sided else None,
            "screen": random.random() < 0.3,
        }

    for i in range(len(xs) - 1):
        add([f"r{i}0", f"r{i}1"], (xs[i], ys[1]), (xs[i + 1], ys[1]), (0, 1), inner=True)
        add([f"r{i}0", "outdoors"], (xs[i], ys[0]), (xs[i + 1], ys[0]), (0, -1), inner=False)
        add([f"r{i}1", "outdoors"], (xs[i], ys[2]), (xs[i + 1], ys[2]), (0, 1), inner=False)
    for j in range(2):
        add([f"r{0}{j}", f"r{1}{j}"], (xs[1], ys[j]), (xs[1], ys[j + 1]), (1, 0), inner=True)
        add([f"r{0}{j}", "outdoors"], (xs[0], ys[j]), (xs[0], ys[j + 1]), (-1, 0), inner=False)
        add([f"r{len(xs) - 2}{j}", "outdoors"], (xs[-1], ys[j]), (xs[-1], ys[j + 1]), (1, 0), inner=False)
    targets = [name for name, o in openings.items() if o["share"] > 0.0]
    target = random.choice(targets)
    fan = (round(random.uniform(0.3, 1.2), 2), round(random.uniform(-0.1, 0.1), 2), round(random.uniform(-15, 15), 1))
    return {
        "rooms": rooms,
        "openings": openings,
        "north": random.uniform(0.0, 360.0),
        "from": random.uniform(0.0, 360.0),
        "speed": round(random.uniform(0.0, 5.0), 1),
        "warm": {name: round(random.uniform(19, 28), 1) for name in rooms},
        "fan": (target, *fan),
    }


def drawn(house: dict[str, Any], drawing: Drawing, order: Callable[[list[str]], list[str]] = list) -> str:
    """The house file of a plan as it is drawn."""
    lines = [f"north: {drawing.north(house['north']):.6f} deg", "indoors: 24 °C"]
    wind = drawing.wind(house["from"], house["north"])
    wind_text = f"{{speed: {house['speed']} m/s, from: {wind:.6f} deg}}"
    lines += [f"outdoors: {{temperature: 18 °C, wind: {wind_text}}}", "rooms:"]
    for name in order(list(house["rooms"])):
        x1, y1, x2, y2 = house["rooms"][name]
        (a, b), (c, d) = drawing.point((x1, y1)), drawing.point((x2, y2))
        at, size = (min(a, c), min(b, d)), (abs(c - a), abs(d - b))
        lines.append(f"  {name}: {{at: [{at[0]:.6f}, {at[1]:.6f}], size: [{size[0]:.6f}, {size[1]:.6f}], "
                     f"temperature: {house['warm'][name]}}}")  # fmt: skip
    lines.append("openings:")
    reverses: dict[str, bool] = {}
    for name in order(list(house["openings"])):
        o = house["openings"][name]
        start, end = drawing.point(o["wall"][0]), drawing.point(o["wall"][1])
        reverses[name] = (end[0] - start[0]) + (end[1] - start[1]) < 0.0
        length = abs(end[0] - start[0]) + abs(end[1] - start[1])
        along = length - o["begin"] - o["width"] if reverses[name] else o["begin"]
        nx, ny = drawing.way(o["normal"])
        side = o["opens"] or ("left" if o["sided"] and drawing.mirrored else None)
        if side and drawing.mirrored:
            side = {"left": "right", "right": "left"}[side]
        keys = {
            "kind": "door" if o["inner"] else "window",
            "joins": f"[{', '.join(o['joins'])}]",
            "wall": WORDS[round(nx), round(ny)],
            "along": f"{along:.6f}",
            "size": f"[{o['width']:.6f}, {2.0 if o['inner'] else o['height']}]",
            "sill": 0 if o["inner"] else 0.9,
            "sash": o["sash"],
            "open": f"{o['share'] * 100:g} %",
            **({"opens": side} if side else {}),
            **({"screen": "fine 18x16"} if o["screen"] else {}),
        }
        lines.append(f"  {name}: {{{', '.join(f'{key}: {value}' for key, value in keys.items())}}}")
    target, setback, aside, turn = house["fan"]
    sign = -1.0 if reverses[target] else 1.0
    there = house["openings"][target]
    way = f"blows through: {target}, stands in: {there['joins'][0]}" if there["inner"] else f"blows out: {target}"
    pose = f"setback: {setback}, aside: {sign * aside}, turn: {sign * turn} deg"
    lines += ["fans: {fan: {like: table 12 in}}", "scenarios:", f"  run: {{fans: [{{fan: fan, {way}, {pose}}}]}}"]
    return "\n".join(lines) + "\n"


def flows(text: str) -> dict[str, float]:
    house = parse_house(text)
    scenario: Scenario = house.scenarios["run"]
    return {name: air.net_m3_s for name, air in solve(house, scenario).openings.items()}


seeds = st.integers(0, 2**32 - 1)


def readable(house: dict[str, Any]) -> bool:
    from ventplan.errors import InputError

    try:
        parse_house(drawn(house, Drawing()))
    except InputError:
        return False  # a fan that does not fit there
    return True


@settings(max_examples=25, deadline=None)
@given(seed=seeds, quarters=st.integers(1, 3), mirrored=st.booleans(), x=st.floats(-50, 50), y=st.floats(-50, 50))
def test_a_house_turned_mirrored_and_moved_has_the_same_flows(
    seed: int, quarters: int, mirrored: bool, x: float, y: float
) -> None:
    house = invented(seed)
    if readable(house):
        found = flows(drawn(house, Drawing(quarters, mirrored, (round(x, 3), round(y, 3)))))
        assert found == pytest.approx(flows(drawn(house, Drawing())), rel=1e-4, abs=1e-5)


@settings(max_examples=15, deadline=None)
@given(seed=seeds)
def test_the_order_of_rooms_and_openings_in_the_file_changes_nothing(seed: int) -> None:
    house = invented(seed)
    if readable(house):
        shuffled = Random(seed).sample
        found = flows(drawn(house, Drawing(), lambda names: shuffled(names, len(names))))
        assert found == pytest.approx(flows(drawn(house, Drawing())), rel=1e-4, abs=1e-5)


def test_most_of_the_invented_houses_are_read() -> None:
    assert sum(readable(invented(seed)) for seed in range(20)) >= 12
