"""Streams that go on from one opening to the next: one answer from any start, whatever the order of the file."""

from __future__ import annotations

import itertools
from dataclasses import replace
from unittest.mock import patch

import numpy as np
import pytest

from ventplan.house import parse_house
from ventplan.house.records import OUTDOORS, Fan, House, Opening, Outdoors, Placement, Room, Scenario, Screen
from ventplan.network import solve
from ventplan.network.assemble import assemble
from ventplan.network.solver import isolated_rooms, solve_pressures
from ventplan.physics.orifice import confined_loss_ratio

MESH = Screen("mesh", open_area_ratio=0.6, wire_m=0.25e-3)

BESIDE = """
outdoors: {temperature: 24, wind: calm}
indoors: {temperature: 24}
rooms:
  a: {at: [0,0], size: [5,4]}
  b: {at: [5,0], size: [4,4]}
openings:
  d: {kind: door, joins: [a,b], along: 1.5, size: [0.8,2], open: yes}
  x: {kind: window, joins: [b,outdoors], wall: east, along: 1, size: [1,1], sash: none, open: yes}
WINDOWS
fans:
  f: {like: box 20 in}
scenarios:
  run: {fans: [{fan: f, blows through: d, stands in: b, setback: 1.5}]}
"""


def window(name: str, along: float, size: str, sill: float = 0.9, more: str = "") -> str:
    return (
        f"  {name}: {{kind: window, joins: [a, outdoors], wall: west, along: {along}, size: {size}, sill: {sill}, "
        f"sash: none, open: yes{more}}}"
    )


LEFT = window("left", 1.1, "[0.8, 1.2]", more=", screen: pollen mesh 30x30")
RIGHT = window("right", 1.9, "[0.8, 1.2]")
SPLIT = (window("lower", 1.5, "[1.0, 0.6]"), window("upper", 1.5, "[1.0, 0.6]", 1.5))
WHOLE = window("both", 1.5, "[1.0, 1.2]")


def with_windows(*windows: str) -> House:
    return parse_house(BESIDE.replace("WINDOWS", "\n".join(windows)))


def test_the_order_of_openings_in_the_file_changes_nothing() -> None:
    one, other = (solve(with_windows(*windows), "run") for windows in ((LEFT, RIGHT), (RIGHT, LEFT)))
    for name, opening in one.openings.items():
        assert other.openings[name].net_m3_s == pytest.approx(opening.net_m3_s, abs=1e-9)


def test_openings_in_line_share_a_jet() -> None:
    house = with_windows(LEFT, RIGHT)
    assert set(solve(house, "run").in_line) == {"left", "right"}


def test_two_halves_of_a_window_pass_as_much_as_the_whole() -> None:
    # What a room does to a hole goes with its area, so halves lose a little more than the whole; that is left out here.
    with patch("ventplan.network.openings.confined_loss_ratio", lambda **_: 1.0):
        halves, whole = (solve(with_windows(*windows), "run") for windows in (SPLIT, (WHOLE,)))
    through = halves.openings["lower"].net_m3_s + halves.openings["upper"].net_m3_s
    assert through == pytest.approx(whole.openings["both"].net_m3_s, rel=0.02)


def test_an_opening_in_a_narrow_room_has_a_smaller_loss() -> None:
    ratios = [confined_loss_ratio(upstream=a, downstream=b) for a, b in itertools.product((0.0, 0.2, 0.5), repeat=2)]
    assert ratios[0] == pytest.approx(1.0)
    assert all(0.0 < ratio < 1.0 for ratio in ratios[1:])


# Random houses


def random_house(random: np.random.Generator) -> House:
    """Rooms on a grid with doors between them, windows, wind, warmth, screens and fans, all at random."""
    xs = np.cumsum([0.0, *random.uniform(1.2, 6.0, random.integers(1, 4))])
    ys = np.cumsum([0.0, *random.uniform(1.2, 5.0, random.integers(1, 3))])
    height = float(random.uniform(2.2, 3.0))
    rooms, cells = {}, {}
    for i, j in itertools.product(range(len(xs) - 1), range(len(ys) - 1)):
        name = f"r{i}{j}"
        (x1, x2), (y1, y2) = xs[i : i + 2].tolist(), ys[j : j + 2].tolist()
        cells[i, j] = name
        rooms[name] = Room(name, ((x1, y1), (x2, y1), (x2, y2), (x1, y2)), ceiling_m=height)
    openings: dict[str, Opening] = {}

    def add(joins: tuple[str, str], start: tuple[float, float], end: tuple[float, float], normal: tuple[float, float]):
        length = float(np.hypot(end[0] - start[0], end[1] - start[1]))
        outside = joins[1] == OUTDOORS
        width = min(float(random.uniform(0.3, 2.0)), length)
        tall = min(float(random.uniform(0.3, 1.6) if outside else random.uniform(1.8, 2.1)), height)
        low = float(random.uniform(0.0, height - tall)) if outside else 0.0
        at = float(random.uniform(0.0, length - width))
        ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
        begin = (start[0] + ux * at, start[1] + uy * at)
        name = f"o{len(openings)}"
        openings[name] = Opening(
            name=name,
            kind="passage",
            joins=joins,
            start=begin,
            end=(begin[0] + ux * width, begin[1] + uy * width),
            normal=normal,
            bottom_m=low,
            height_m=tall,
            discharge=float(random.uniform(0.5, 0.8)),
            wind_pressure=float(random.uniform(-0.8, 0.8)) if outside else None,
            screen=MESH if outside and random.random() < 0.3 else None,
        )

    for (i, j), name in cells.items():
        corners = rooms[name].corners
        sides = [
            ((i, j - 1), (0.0, -1.0)),
            ((i + 1, j), (1.0, 0.0)),
            ((i, j + 1), (0.0, 1.0)),
            ((i - 1, j), (-1.0, 0.0)),
        ]
        for k, (cell, normal) in enumerate(sides):
            start, end = corners[k], corners[(k + 1) % 4]
            if cell in cells:
                if cell > (i, j) and random.random() < 0.8:
                    add((name, cells[cell]), start, end, normal)
            elif random.random() < 0.5:
                add((name, OUTDOORS), start, end, normal)
    fans, placements = {}, []
    for k in range(int(random.integers(0, 4)) if openings else 0):
        target = openings[f"o{random.integers(0, len(openings))}"]
        place = target.joins[int(random.integers(0, 2))]
        flow = float(random.uniform(0.1, 0.9))
        spread, size = float(random.uniform(0.11, 0.2)), float(random.uniform(0.2, 0.5))
        fans[f"f{k}"] = Fan(
            f"f{k}", flow_m3_s=flow, thrust_n=float(random.uniform(0.4, 5.0)), diameter_m=size, spread=spread
        )
        placements.append(
            Placement(
                f"f{k}",
                target.name,
                place,
                float(random.uniform(0.05, 2.5)),
                aside_m=float(random.normal(0.0, 0.2)),
                height_m=float(random.uniform(0.3, 1.6)),
                turn_deg=float(random.choice([0.0, random.normal(0.0, 15.0)])),
            )
        )
    wind = Outdoors(temperature_c=float(random.uniform(0.0, 35.0)))
    wind = replace(wind, wind=replace(wind.wind, speed_m_s=float(random.choice([0.0, random.uniform(0.5, 12.0)]))))
    warm = {name: float(random.choice([24.0, random.uniform(15.0, 30.0)])) for name in rooms}
    screened = frozenset(name for name, o in openings.items() if o.screen is not None)
    run = Scenario("run", dict.fromkeys(openings, 1.0), screened, tuple(placements), wind, warm)
    return House("random", rooms, openings, fans, {}, {"run": run})


def shuffled(house: House, random: np.random.Generator) -> House:
    """The same house with its rooms and openings in another order."""
    rooms, openings = list(house.rooms), list(house.openings)
    random.shuffle(rooms)
    random.shuffle(openings)
    return replace(house, rooms={n: house.rooms[n] for n in rooms}, openings={n: house.openings[n] for n in openings})


def check_random_houses(seed: int, count: int) -> int:
    """Solve random houses from several starts and in another order of rooms and openings; how many had couplings."""
    random = np.random.default_rng(seed)
    coupled = solved = 0
    while solved < count:
        house = random_house(random)
        scenario = house.first_scenario()
        network = assemble(house, scenario).network
        if isolated_rooms(network):
            continue
        solved += 1
        coupled += bool(len(network.couplings.source))
        first = solve_pressures(network)
        driving = network.driving_pressure(first)
        mass, _ = network.mass_flow_and_slope(driving)
        assert float(np.max(np.abs(network.imbalance(mass)))) / 1.1 < 1e-8, (seed, solved)
        forward, backward = network.volume_flows(driving)
        for start in (
            np.zeros(first.size),
            random.normal(0.0, 20.0, first.size),
            first + random.normal(0, 2, first.size),
        ):
            again = network.driving_pressure(solve_pressures(network, start_pa=start))
            ahead, back = network.volume_flows(again)
            assert np.allclose(ahead - back, forward - backward, rtol=0.0, atol=1e-6), (seed, solved)
        other = shuffled(house, random)
        mixed = assemble(other, scenario).network
        ahead, back = mixed.volume_flows(mixed.driving_pressure(solve_pressures(mixed)))
        names = list(other.openings)
        for index, name in enumerate(house.openings):
            net = float((forward - backward)[network.owner == index].sum())
            same = float((ahead - back)[mixed.owner == names.index(name)].sum())
            assert same == pytest.approx(net, abs=1e-6), (seed, solved, name)
    return coupled


def test_random_houses_have_one_answer_from_any_start_and_in_any_order() -> None:
    assert check_random_houses(seed=1, count=60) > 10


@pytest.mark.slow
@pytest.mark.long
@pytest.mark.parametrize("seed", range(2, 12))
def test_ten_thousand_random_houses_have_one_answer_from_any_start_and_in_any_order(seed: int) -> None:
    assert check_random_houses(seed=seed, count=1000) > 300
