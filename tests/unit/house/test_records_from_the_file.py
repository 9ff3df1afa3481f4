"""What the file says arrives in the records, and what it does not say is among the defaults."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from ventplan.errors import InputError
from ventplan.house import parse_house, read_house
from ventplan.house.fans import jet_line
from ventplan.house.remarks import leakage_is_assumed

ROOM = "rooms: {room: {at: [0, 0], size: [5, 4]}}\n"


def opening(words: str) -> object:
    place = "kind: window, joins: [room, outdoors], wall: west, along: 1, size: [1.2, 1]"
    return parse_house(f"{ROOM}openings: {{it: {{{place}, {words}}}}}").openings["it"]


@pytest.mark.parametrize(
    ("words", "share", "full", "along"),
    [
        ("sash: sliding, open: yes", 0.5, 0.5, "width"),
        ("sash: sliding, open: 50 %", 0.25, 0.5, "width"),
        ("sash: sliding, open: 30 cm", 0.25, 0.5, "width"),
        ("sash: hung, open: 25 cm", 0.25, 0.5, "height"),
        ("sash: side hinged, open: 30 deg", 0.5, 1.0, "width"),
        ("sash: side hinged, open: 120 deg", 1.0, 1.0, "width"),
        ("sash: side hinged, full: 30 deg, open: 50 %", 0.25, 0.5, "width"),
        ("sash: bottom hinged, open: 10 cm", math.sin(2 * math.asin(0.05)), 0.2, "height"),
        # Each half of a pivot sash frees sin(angle) of half the frame; a gap is that of half the leaf of 1 m.
        ("sash: pivot, open: 30 deg", 0.5, 0.7, "height"),
        ("sash: pivot, open: 10 cm", math.sin(2 * math.asin(0.1)), 0.7, "height"),
        ("sash: louvre, open: 30 deg", 0.4, 0.8, "height"),
        ("sash: fixed", 0.0, 0.0, "width"),
        ("sash: none", 1.0, 1.0, "width"),
        ("sash: sliding, full: 10 %, open: yes", 0.1, 0.1, "width"),
    ],
)
def test_free_share_by_share_angle_or_gap(words: str, share: float, full: float, along: str) -> None:
    it = opening(words)
    assert (it.open_share, it.full_share, it.free_along) == (pytest.approx(share), pytest.approx(full), along)  # type: ignore[attr-defined]


def test_open_area_of_a_plain_weave() -> None:
    # (1 - n1 d)(1 - n2 d) for 18 x 16 threads an inch of 0.28 mm: plain geometry of a square weave
    expected = (1 - 18 / 25.4 * 0.28) * (1 - 16 / 25.4 * 0.28)
    assert opening("screen: {threads: 18x16, wire: 0.28 mm}").screen.open_area_ratio == pytest.approx(expected)  # type: ignore[attr-defined]
    assert opening("screen: fine 18x16").screen.open_area_ratio == pytest.approx(expected)  # type: ignore[attr-defined]
    assert opening("screen: none").screen is None  # type: ignore[attr-defined]


def fan(words: str, folder: Path | None = None) -> object:
    path = str(folder / "house.yaml") if folder else ""
    return parse_house(f"{ROOM}openings: {{}}\nfans: {{it: {{{words}}}}}", path).fans["it"]


def test_thrust_of_a_uniform_jet_from_flow_and_diameter() -> None:
    it = fan("flow: 0.5, diameter: 0.5")
    assert it.thrust_n == pytest.approx(1.2 * 0.25 / (math.pi / 16))  # type: ignore[attr-defined]
    assert "thrust_n" in it.estimated
    assert "flow_m3_s" not in it.estimated


def test_flow_of_a_uniform_jet_from_thrust_and_diameter() -> None:
    it = fan("thrust: 2 N, diameter: 0.5")
    assert it.flow_m3_s == pytest.approx(math.sqrt(math.pi / 16 * 2 / 1.2))  # type: ignore[attr-defined]
    assert "flow_m3_s" in it.estimated  # type: ignore[attr-defined]


def test_catalogue_fan_follows_the_figure_that_was_measured() -> None:
    plain = fan("like: box 20 in")
    half = fan(f"like: box 20 in, flow: {plain.flow_m3_s / 2}")  # type: ignore[attr-defined]
    assert half.thrust_n == pytest.approx(plain.thrust_n / 4)  # type: ignore[attr-defined]
    quarter = fan(f"like: box 20 in, thrust: {plain.thrust_n / 4}")  # type: ignore[attr-defined]
    assert quarter.flow_m3_s == pytest.approx(plain.flow_m3_s / 2)  # type: ignore[attr-defined]
    assert [s.name for s in plain.settings] == ["high", "medium", "low"]  # type: ignore[attr-defined]


def test_a_walk_down_the_jet_gives_thrust_and_spread_back(tmp_path: Path) -> None:
    flow, thrust, spread, density = 0.4, 1.5, 0.15, 1.2
    start = flow / math.sqrt(2 * math.pi * thrust / density)
    rows = [(s, math.sqrt(2 * thrust / (math.pi * density)) / (start + spread * s)) for s in (0.5, 1.0, 1.5, 2.0, 3.0)]
    lines = "\n".join(f"{s * 100:.1f},{u * 3.6:.9f}" for s, u in rows)
    (tmp_path / "walk.csv").write_text(f"distance (cm),speed (km/h)\n{lines}\n")
    it = fan("flow: 0.4, diameter: 0.4, jet: walk.csv", tmp_path)
    assert (it.thrust_n, it.spread) == (pytest.approx(thrust, rel=1e-5), pytest.approx(spread, rel=1e-5))  # type: ignore[attr-defined]
    it = fan("thrust: 1.5 N, diameter: 0.4, jet: walk.csv", tmp_path)
    assert (it.flow_m3_s, it.spread) == (pytest.approx(flow, rel=1e-5), pytest.approx(spread, rel=1e-5))  # type: ignore[attr-defined]
    it = fan("spread: 0.15, diameter: 0.4, jet: walk.csv", tmp_path)
    assert (it.flow_m3_s, it.thrust_n) == (pytest.approx(flow, rel=1e-5), pytest.approx(thrust, rel=1e-5))  # type: ignore[attr-defined]


def test_speeds_that_rise_are_no_jet() -> None:
    with pytest.raises(ValueError, match="fall"):
        jet_line([(1.0, 1.0), (2.0, 2.0), (3.0, 3.0)])


def test_blower_door_figure_is_spread_over_cracks_and_outside_walls() -> None:
    text = ROOM + (
        "leakage: {ach50: 6}\nopenings:\n"
        "  one: {kind: window, joins: [room, outdoors], wall: west, along: 1, size: [1, 1]}\n"
        "  two: {kind: window, joins: [room, outdoors], wall: east, along: 1, size: [2, 1]}\n"
    )
    house = parse_house(text)
    one, two = house.openings.values()
    assert two.leak_m3_s == pytest.approx(2 * one.leak_m3_s)
    # 6 air changes an hour of 48 m3 at 50 Pa
    cracks = sum(o.leak_m3_s * 50**o.leak_exponent for o in (one, two))
    assert cracks + house.rooms["room"].leak_m3_s * 50**0.65 == pytest.approx(6 * 48 / 3600)


def test_a_file_without_leakage_is_said_to_assume_tight_walls() -> None:
    window = "openings: {one: {kind: window, joins: [room, outdoors], wall: west, along: 1, size: [1, 1]}}\n"
    bare, told = parse_house(ROOM + window), parse_house(ROOM + "leakage: {ach50: 6}\n" + window)
    assert any("write leakage: {ach50: 6}" in sentence for sentence in bare.defaults)
    assert leakage_is_assumed(bare)
    assert not leakage_is_assumed(told)


def test_blower_door_figure_of_a_tight_house_makes_its_cracks_smaller() -> None:
    text = ROOM + (
        "leakage: {ach50: 0.6}\nopenings:\n"
        "  one: {kind: window, joins: [room, outdoors], wall: west, along: 1, size: [1, 1]}\n"
        "  two: {kind: window, joins: [room, outdoors], wall: east, along: 1, size: [2, 1]}\n"
    )
    house = parse_house(text)
    one, two = house.openings.values()
    assert two.leak_m3_s == pytest.approx(2 * one.leak_m3_s)
    assert house.rooms["room"].leak_m3_s == 0.0
    assert sum(o.leak_m3_s * 50**o.leak_exponent for o in (one, two)) == pytest.approx(0.6 * 48 / 3600)


def test_scenarios_change_only_what_they_name() -> None:
    text = ROOM + (
        "outdoors: {temperature: 10, wind: 3 m/s from south-west}\nopenings:\n"
        "  one: {kind: window, joins: [room, outdoors], wall: west, along: 1, size: [1, 1], screen: fine 18x16}\n"
        "  two: {kind: window, joins: [room, outdoors], wall: east, along: 1, size: [2, 1], screen: fine 18x16}\n"
        "fans: {fan: {like: table 12 in}}\n"
        "scenarios:\n"
        "  later: {based on: first, screens: off, outdoors: {wind: {speed: 5 m/s}}, open: {two: 50 %}}\n"
        "  first: {open: [one], fans: [{fan: fan, blows out: one}]}\n"
        "  third: {based on: later, screens: [two], shut: [one], fans: [],\n"
        "    indoors: {temperature: 30, rooms: {room: 31}}}\n"
    )
    house = parse_house(text)
    assert list(house.scenarios) == ["as it stands", "later", "first", "third"]
    first, later, third = (house.scenarios[n] for n in ("first", "later", "third"))
    assert first.shares == {"one": 0.5, "two": 0.0}
    assert first.screened == {"one", "two"}
    assert later.screened == frozenset()
    assert third.screened == {"two"}
    assert later.shares == {"one": 0.5, "two": 0.25}
    assert third.shares == {"one": 0.0, "two": 0.25}
    assert later.placements == first.placements
    assert first.placements[0].stands_in == "room"
    assert not third.placements
    assert (first.outdoors.wind.speed_m_s, first.outdoors.wind.from_deg) == (3.0, 225.0)
    assert (later.outdoors.wind.speed_m_s, later.outdoors.wind.from_deg) == (5.0, 225.0)
    assert later.outdoors.temperature_c == 10.0
    assert third.temperatures_c == {"room": 31.0}


def test_every_default_is_a_sentence_and_what_is_stated_is_none() -> None:
    few = parse_house(ROOM + "openings: {}\n").defaults
    for words in ("ceiling 2.4 m for room", "indoors 24 °C", "outdoors 20 °C", "no wind", "north is the top"):
        assert any(words in sentence for sentence in few), words
    text = "north: 10 deg\nshow: si\nindoors: {temperature: 22}\n" + ROOM.replace("4]", "4], ceiling: 2.5, floor: 0")
    stated = parse_house(text + "openings: {}\n").defaults
    for words in ("ceiling", "indoors", "north", "SI units", "floor"):
        assert not any(words in sentence for sentence in stated), words


EXAMPLES = sorted((Path(__file__).parents[3] / "house_examples").glob("*.yaml"))
STARTER = Path(__file__).parents[3] / "ventplan" / "house" / "starter.yaml"


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 5


@pytest.mark.parametrize("path", [*EXAMPLES, STARTER], ids=lambda p: p.stem)
def test_examples_read_say_they_are_invented_and_take_screens_off(path: Path) -> None:
    house = read_house(path)
    assert "invented" in path.read_text("utf-8").splitlines()[0]
    assert len(house.scenarios) >= 4
    screened = any(o.screen for o in house.openings.values())
    assert not screened or any("no screens" in name and not s.screened for name, s in house.scenarios.items())
    assert next(iter(house.scenarios)) == "as it stands"


def test_places_to_sit_and_sleep_have_their_usual_heights_unless_stated() -> None:
    text = ROOM + (
        "openings: {}\npeople at:\n  chair: {room: room, at: [1, 2]}\n"
        "  bed: {room: room, at: [3, 2], asleep: yes}\n  bunk: {room: room, at: [3, 3], height: 1.6, asleep: yes}\n"
    )
    house = parse_house(text)
    assert {n: (p.height_m, p.asleep) for n, p in house.people_at.items()} == {
        "chair": (1.1, False),
        "bed": (0.6, True),
        "bunk": (1.6, True),
    }
    assert "head 0.6 m above the floor at a place to sleep for bed" in house.defaults
    assert parse_house(ROOM + "openings: {}\n").people_at == {}


def test_a_head_without_a_height_rests_on_the_bed_under_it() -> None:
    bed = "obstacles:\n  bed: {room: room, at: [1, 1], size: [2, 2], height: 0.7}\n"
    text = ROOM + "openings: {}\npeople at:\n  me: {room: room, at: [2, 2], asleep: yes}\n" + bed
    assert parse_house(text).people_at["me"].height_m == pytest.approx(0.8)
    with pytest.raises(InputError, match="inside bed"):
        parse_house(text.replace("height: 0.7", "height: 1.9"))
