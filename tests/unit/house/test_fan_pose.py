"""Where a fan stands and points is one thing, measured from the middle of the free part of its opening."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.unit.house.test_errors_have_their_place import errors
from ventplan.house import House, Placement, parse_house, read_house
from ventplan.house.catalogue import assumptions
from ventplan.house.fan_pose import fan_pose, fan_supports, first_met, pose_problem
from ventplan.network.jets import ray_of

EXAMPLES = sorted((Path(__file__).parents[3] / "house_examples").glob("*.yaml"))
# The window is 2 m wide and slides half open: the middle of what is free is half a metre left of that of the frame.
ROOM = """\
rooms: {living: {at: [0, 0], size: [5 m, 4 m], ceiling: 2.5 m}}
openings:
  window: {kind: window, joins: [living, outdoors], wall: south, along: 1.5 m, size: [2 m, 1.2 m], sill: 0.8 m}
  door: {kind: door, joins: [living, outdoors], wall: north, along: 0.5 m, size: [0.9 m, 2 m], sash: none}
fans: {fan: {flow: 0.5 m3/s, diameter: 50 cm, heights: [0.3 m, 1.5 m], seals: yes}}
obstacles: {chest: {room: living, at: [1.7 m, 0.8 m], size: [0.5 m, 0.5 m], height: 0.9 m}}
scenarios:
  run: {open: [window], fans: [{fan: fan, blows out: window, setback: 1 m}]}
"""


def room(*pairs: tuple[str, str]) -> House:
    text = ROOM
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return parse_house(text)


def test_setbacks_count_from_the_middle_of_the_free_part() -> None:
    house = room()
    pose = fan_pose(house, house.scenarios["run"].placements[0], 0.5)
    # Left of a person who looks south out of it is east: 2.5 m to 3.5 m is free.
    assert (pose.x, pose.y, pose.height_m) == pytest.approx((3.0, 1.0, 1.4))
    assert (pose.dx, pose.dy, pose.dz) == pytest.approx((0.0, -1.0, 0.0))
    other = room(("sill: 0.8 m", "sill: 0.8 m, opens: right"), ("[1.7 m, 0.8 m]", "[3.5 m, 2 m]"))
    assert fan_pose(other, other.scenarios["run"].placements[0], 0.5).x == pytest.approx(2.0)


def test_a_fan_is_refused_inside_the_chest_and_accepted_beside_it() -> None:
    assert room().scenarios["run"].placements
    (error,) = errors(ROOM.replace("sill: 0.8 m", "sill: 0.8 m, opens: right"))
    assert "inside chest" in str(error)


def test_the_solver_takes_the_same_pose() -> None:
    for path in EXAMPLES:
        house = read_house(path)
        for scenario in house.scenarios.values():
            for placement in scenario.placements:
                if placement.sealed:
                    continue
                pose = fan_pose(house, placement, scenario.shares[placement.opening])
                ray = ray_of(house, placement, scenario.shares[placement.opening], 1.2)
                assert (pose.x, pose.y, pose.z, pose.dx, pose.dy, pose.dz) == (
                    ray.x,
                    ray.y,
                    ray.z,
                    ray.dx,
                    ray.dy,
                    ray.dz,
                )
                assert pose_problem(house, pose) is None


def placed(**more: float) -> Placement:
    return Placement("fan", "window", "living", **{"setback_m": 1.0, **more})  # type: ignore[arg-type]


def test_pan_and_tilt_give_one_direction() -> None:
    pose = fan_pose(room(), placed(turn_deg=30.0, tilt_deg=20.0), 0.5)
    assert math.hypot(pose.dx, pose.dy, pose.dz) == pytest.approx(1.0)
    assert pose.dx == pytest.approx(math.sin(math.radians(30)) * math.cos(math.radians(20)))
    assert pose.dz == pytest.approx(math.sin(math.radians(20)))


@pytest.mark.parametrize(
    ("more", "kind", "name", "distance_m"),
    [
        ({}, "opening", "window", 1.0),
        ({"aside_m": -1.05}, "obstacle", "chest", 0.2),
        ({"turn_deg": 45.0, "setback_m": 2.0}, "wall", "living", 2.0 * math.sqrt(2.0)),
        ({"tilt_deg": 60.0}, "ceiling", "living", (2.5 - 1.4) / math.sin(math.radians(60))),
        ({"tilt_deg": -60.0}, "floor", "living", 1.4 / math.sin(math.radians(60))),
    ],
)
def test_what_the_axis_of_the_jet_meets_first(more: dict, kind: str, name: str, distance_m: float) -> None:  # type: ignore[type-arg]
    house = room(("height: 0.9 m", "height: 1.6 m"), ("at: [1.7 m, 0.8 m]", "at: [1.7 m, 0.3 m]"))
    met = first_met(house, fan_pose(house, placed(**more), 0.5))
    assert (met.kind, met.name) == (kind, name)
    assert met.distance_m == pytest.approx(distance_m, abs=0.02)


def test_why_a_fan_cannot_stand_somewhere_is_told_in_numbers() -> None:
    house = room()

    def problem(**more: float) -> tuple[str, str, float]:
        found = pose_problem(house, fan_pose(house, placed(**more), 0.5))
        assert found is not None
        return found.reason, found.key, found.high

    assert problem(setback_m=4.2) == ("beyond the wall", "setback", pytest.approx(3.99, abs=0.02))
    assert problem(aside_m=1.9)[:2] == ("beside the room", "aside")
    assert problem(height_m=2.4) == ("between floor and ceiling", "height", pytest.approx(2.25))
    assert problem(height_m=1.8) == ("out of reach", "height", pytest.approx(1.5))
    assert problem(turn_deg=100.0)[:2] == ("faces away", "turn")
    assert pose_problem(house, fan_pose(house, placed(), 0.5)) is None


STOREYS = """\
rooms:
  below: {at: [0 m, 0 m], size: [4 m, 4 m], ceiling: 2.5 m}
  above: {at: [0 m, 0 m], size: [4 m, 4 m], ceiling: 2.5 m, floor: 2.7 m}
openings:
  hatch: {kind: hatch, joins: [above, below], at: [1 m, 1 m], size: [0.8 m, 0.8 m]}
  skylight: {kind: roof window, joins: [above, outdoors], at: [2 m, 2 m], size: [0.8 m, 0.8 m]}
fans: {fan: {flow: 0.3 m3/s, diameter: 30 cm, seals: yes}}
"""


@pytest.mark.parametrize(
    ("opening", "stands_in", "dz"),
    [("hatch", "below", 1.0), ("hatch", "above", -1.0), ("skylight", "above", 1.0), ("skylight", "outdoors", -1.0)],
)
def test_a_fan_sealed_into_a_lying_opening_blows_up_or_down(opening: str, stands_in: str, dz: float) -> None:
    pose = fan_pose(parse_house(STOREYS), Placement("fan", opening, stands_in, setback_m=0.0, sealed=True), 0.7)
    assert (pose.dx, pose.dy, pose.dz) == (0.0, 0.0, dz)


def test_the_usual_setback_and_pitch_come_from_the_table_of_defaults_and_are_reported() -> None:
    house = room((", setback: 1 m}", "}"), ("[1.7 m, 0.8 m]", "[3.5 m, 2.5 m]"))
    assert house.scenarios["run"].placements[0].setback_m == assumptions()["setback"]
    assert any(sentence.startswith("setback 1 m for fan at window") for sentence in house.defaults)
    tall = parse_house(STOREYS)
    assert tall.roof_pitch_deg == assumptions()["roof pitch"]
    assert "roof pitch 30 deg" in tall.defaults


def test_a_fan_reaches_its_heights_on_the_floor_a_chair_a_table_and_the_sill() -> None:
    house = room(("flow: 0.5 m3/s, diameter: 50 cm", "like: box 20 in"))
    supports = fan_supports(house, house.fans["fan"], house.openings["window"], "living")
    assert [(s.name, round(s.lowest_m, 2)) for s in supports] == [
        ("floor", 0.3),
        ("chair", 0.75),
        ("table", 1.05),
        ("sill", 1.1),
    ]
    pole = room(("flow: 0.5 m3/s, diameter: 50 cm, heights: [0.3 m, 1.5 m]", "like: pedestal 16 in"))
    (floor,) = fan_supports(pole, pole.fans["fan"], pole.openings["window"], "living")
    assert (floor.name, floor.lowest_m, floor.highest_m) == ("floor", 0.9, 1.3)


def test_a_scenario_that_opens_its_window_less_moves_the_fan_and_is_checked_again() -> None:
    text = ROOM.replace("sill: 0.8 m", "sill: 0.8 m, opens: right").replace("[1.7 m, 0.8 m]", "[1.2 m, 0.8 m]")
    text = text.replace("size: [0.5 m, 0.5 m]", "size: [0.45 m, 0.5 m]")
    assert parse_house(text)
    (error,) = errors(text + "  less: {based on: run, open: {window: 30 %}}\n")
    assert "chest" in str(error)
    assert error.key == "scenarios > less"


@pytest.mark.parametrize(
    ("fans", "word"),
    [
        ("{fan: fan, blows out: window, sealed: yes}, {fan: two, blows out: window, sealed: yes}", "together 1.50 m"),
        ("{fan: fan, blows out: window}, {fan: two, blows out: window, setback: 1.2 m}", "m apart"),
        ("{fan: fan, blows out: window, sealed: yes, setback: 1 m}", "leave it out"),
    ],
)
def test_fans_that_take_the_place_of_one_another_are_refused(fans: str, word: str) -> None:
    two = "seals: yes}, two: {flow: 1 m3/s, diameter: 1 m, seals: yes}"
    text = ROOM.replace("size: [2 m,", "size: [1.2 m,").replace("seals: yes}", two).replace("[1.7 m, 0.8", "[0, 3")
    text = text.replace("[{fan: fan, blows out: window, setback: 1 m}]", f"[{fans}]")
    assert word in " / ".join(map(str, errors(text)))
