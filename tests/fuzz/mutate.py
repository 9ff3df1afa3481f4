"""House files, tables and arguments that are nearly right, made from good ones by changes that keep to their grammar.

Every case comes from a seed and its number alone, so that a failure can be made again.
"""

# ruff: noqa: SIM905
from __future__ import annotations

import copy
from pathlib import Path
from random import Random
from typing import Any

from ventplan.house.yaml_text import flow_text, parse_yaml

ROOT = Path(__file__).parents[2]
FILES = [*sorted((ROOT / "house_examples").glob("*.yaml")), ROOT / "ventplan" / "house" / "starter.yaml"]
NONSENSE = parse_yaml((ROOT / "tests" / "unit" / "house" / "nonsense.yaml").read_text("utf-8")).data
TEXTS = [NONSENSE["house"], *(path.read_text("utf-8") for path in FILES)]
HOUSES: list[dict[str, Any]] = [parse_yaml(text).data for text in TEXTS]
TABLES = [path.read_text("utf-8") for path in sorted((ROOT / "house_examples").rglob("*.csv"))]

NUMBERS = (
    *("0 -1 1e-9 1e9 1e400 -0.0 nan inf 0x1F 1_000 1'000 3/8 ½ 1e --2 ٣ ").split(),
    "",
)
UNITS = (
    *(
        "m cm mm in ft ' m2 m3/s cfm m/s mph m/h knots N gf g Pa W kW dB % deg ° rad °C °F K min h W/K furlong /s ² "
    ).split(),
    '"',
    "m m",
)
WORDS = (
    *(
        "yes | no | none | on | off | calm | outdoors | floor | sill | table | left | north | as it stands | hatch | "
        "roof window | sliding | fixed | box 20 in | fine 18x16 | 18x16 | 22:30 | 3 m/s from SW | ~ | null | true | "
        "= | << | *x | &x | !!int | ? | | | > | % | @ | ` | # | ' | é | 名前 | 🏠 | ../../etc/passwd | /dev/zero | . | "
        ".. | { | } | [ | ] "
    ).split(" | "),
    '"',
    "\\",
    "\x00",
    "\x1b[31m",
    "\udc80",
    "\u202e",
    "a" * 400,
    ": ",
    ", ",
    "- ",
)
KEYS = tuple(
    """
    at, size, corners, floor, ceiling, use, flame, temperature, mixing, mass, gain, people, kind, joins, wall,
    along, level, sill, sash, open, full, opens, screen, discharge, leak, leak exponent, wind pressure, drop, moves,
    keep, leads to, faces, pitch, top, loss, column, like, flow, thrust, diameter, spread, power, sound, pressure,
    settings, seals, heights, axis, tilts, stays, jet, room, height, holds fan, asleep, based on, shut, screens,
    fans, outdoors, indoors, note, fan, blows out, blows in, blows through, stands in, stands on, setback, aside,
    turn, tilt, sealed, setting, wind, terrain, shelter, altitude, humidity, smoke, rain, name, show, north,
    leakage, roof pitch, fabric, surfaces, tonight, rooms, openings, obstacles, people at, scenarios, ach50,
    bedtime, quiet
    """.strip()
    .replace("\n", " ")
    .replace("    ", "")
    .split(", ")
)


def some_value(random: Random, house: dict[str, Any]) -> Any:
    """A value that might stand anywhere."""
    names = [name for section in house.values() if isinstance(section, dict) for name in section]
    pick = random.randrange(9)
    if pick < 2:
        return f"{random.choice((*NUMBERS, f'{random.uniform(-20, 40):.3g}'))} {random.choice(UNITS)}".strip()
    if pick == 2:
        return random.choice((random.uniform(-1000.0, 1000.0), random.randrange(-50, 500), 10**30, True, None))
    if pick == 3:
        return [some_value(random, house) for _ in range(random.randrange(4))]
    if pick == 4:
        return {str(random.choice((*KEYS, *names))): some_value(random, house) for _ in range(random.randrange(3))}
    if pick < 7:
        return random.choice(names)
    return random.choice(WORDS)


def nodes(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Paths of all maps, lists and values."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(found for key, child in inner for found in nodes(child, (*path, key)))]


def changed(random: Random, house: dict[str, Any]) -> dict[str, Any]:
    """A house with one change to its tree."""
    house = copy.deepcopy(house)
    paths = [path for path in nodes(house) if path]
    path = random.choice(paths)
    parent: Any = house
    for key in path[:-1]:
        parent = parent[key]
    last, pick = path[-1], random.randrange(8)
    if pick < 3:
        parent[last] = some_value(random, house)
    elif pick == 3:
        del parent[last]
    elif pick == 4 and isinstance(parent, dict):
        parent[random.choice(KEYS)] = parent.pop(last) if random.random() < 0.5 else some_value(random, house)
    elif pick == 5 and isinstance(parent, dict):
        parent[f"{last} {random.randrange(3)}"] = copy.deepcopy(parent[last])
    elif pick == 6:
        value: Any = house
        for key in random.choice(paths):
            value = value[key]
        parent[last] = copy.deepcopy(value)
    elif isinstance(parent[last], (int, float)) and not isinstance(parent[last], bool):
        parent[last] = parent[last] * random.choice((-1.0, 0.0, 0.1, 2.0, 100.0))
    else:
        parent[last] = [parent[last]]
    return house


def scrambled(random: Random, text: str) -> str:
    """A text with a few letters gone, doubled or put in."""
    for _ in range(random.randrange(1, 4)):
        at, gone = random.randrange(len(text) + 1), random.choice((0, 0, 1, 2, 8, 40))
        text = text[:at] + random.choice(("", "", random.choice(WORDS), text[at : at + gone] * 2)) + text[at + gone :]
    return text[: random.randrange(len(text) + 1)] if random.random() < 0.1 else text


def house_text(seed: int, number: int) -> str:
    """A house file that may be wrong."""
    random = Random(f"house {seed} {number}")
    if number % 4 == 0:
        return scrambled(random, random.choice(TEXTS))
    house = random.choice(HOUSES)
    for _ in range(random.choice((1, 1, 1, 2, 3))):
        house = changed(random, house) or {"rooms": {}}
    return flow_text(house)


def table_text(seed: int, number: int) -> bytes:
    """A table of readings or weather that may be wrong."""
    random = Random(f"table {seed} {number}")
    lines = random.choice(TABLES).splitlines()[:40]
    for _ in range(random.randrange(1, 4)):
        row = random.randrange(len(lines))
        cells = lines[row].split(",")
        at = random.randrange(len(cells))
        cells[at] = random.choice((*NUMBERS, *WORDS, *UNITS, cells[at] * 2, f"{cells[at]} {random.choice(UNITS)}"))
        lines[row] = random.choice((",", ",", ",", ";", "\t")).join(cells)
        if random.random() < 0.15:
            del lines[row]
        if not lines:
            lines = [""]
    text = random.choice(("\n", "\r\n", "\r")).join(lines)
    return text.encode(random.choice(("utf-8", "utf-8", "utf-16", "cp1252", "latin-1")), "replace")


def arguments(seed: int, number: int, file: str) -> list[str]:
    """Arguments of a quick command, some of them wrong."""
    random = Random(f"arguments {seed} {number}")
    command = random.choice(("check", "flow", "flow", "rank", "setback", "clear", "chek", "--versoin"))
    options = (
        "--json",
        "--scenario",
        "--show",
        "--sure",
        "--wind",
        "--outdoor",
        "--indoor",
        "--fan",
        "--target",
        "--room",
        "--from",
        "--replace",
        "--save",
        "--help",
        "--allow-outside",
    )
    words = (*WORDS, *NUMBERS, "evening", "us", "3 m/s from 240", "20 C", "box fan", "living window")
    chosen = [command, file if random.random() < 0.9 else random.choice(words)]
    for _ in range(random.randrange(4)):
        chosen += random.choice(
            ([random.choice(options)], [random.choice(options), random.choice(words)], [random.choice(words)])
        )
    return [word.replace("\x00", "") for word in chosen]
