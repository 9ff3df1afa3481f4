"""Every error in a house file is reported with its line, what was found, and what is allowed."""

from __future__ import annotations

from pathlib import Path

import pytest

from ventplan.errors import InputError, InvalidValue
from ventplan.house import parse_house, read_house

HOUSE = """\
rooms:
  living: {at: [0 m, 0 m], size: [5 m, 4 m]}
  hall: {at: [5 m, 0 m], size: [1.2 m, 6 m]}
  bath: {at: [0 m, 4 m], size: [2 m, 2 m]}
  loft: {at: [0 m, 0 m], size: [5 m, 4 m], floor: 2.7 m}
openings:
  front door: {kind: door, joins: [hall, outdoors], wall: south, along: 0.1 m, size: [0.9 m, 2 m]}
  living door: {kind: door, joins: [living, hall], along: 2 m, size: [0.8 m, 2 m]}
  living window: {kind: window, joins: [living, outdoors], wall: west, along: 1 m, size: [1.2 m, 1.1 m],
    screen: fine 18x16}
fans:
  box fan: {like: box 20 in}
  small fan: {flow: 0.2 m3/s, diameter: 25 cm}
obstacles:
  sofa: {room: living, at: [3 m, 1 m], size: [1 m, 1 m], height: 0.8 m}
people at:
  bed: {room: living, at: [1 m, 3 m], height: 0.7 m, asleep: yes}
scenarios:
  evening: {open: [living window], fans: [{fan: box fan, blows out: living window, setback: 1.5 m}]}
"""


def errors(text: str) -> tuple[InvalidValue, ...]:
    with pytest.raises(InputError) as caught:
        parse_house(text, "house.yaml")
    return caught.value.errors


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


def test_the_house_itself_reads() -> None:
    assert list(parse_house(HOUSE).scenarios) == ["as it stands", "evening"]


CHANGED = [
    # what is replaced, by what, on the line of, words of the message
    ("ceiling of 240 m", "size: [1.2 m, 6 m]}", "size: [1.2 m, 6 m], ceiling: 240 m}", ("240 m", "15 m", "240 cm")),
    ("negative size", "size: [1.2 m, 6 m]", "size: [-1.2 m, 6 m]", ("-1.2 m", "more than 0 m", "negative")),
    ("wrong dimension", "size: [1.2 m, 6 m]", "size: [1.2 m3/s, 6 m]", ("m3/s", "flow", "a length such as")),
    ("unknown unit", "size: [1.2 m, 6 m]", "size: [1.2 cubits, 6 m]", ("cubits", "a length such as")),
    ("decimal comma in brackets", "size: [1.2 m, 6 m]", "size: [1,2 m, 6 m]", ("list of 3", "quotes")),
    ("unknown key", "size: [1.2 m, 6 m]", "size: [1.2 m, 6 m], ceilng: 2 m", ("unknown key", "Did you mean ceiling?")),
    ("missing size", "size: [1.2 m, 6 m]", "floor: 0 m", ("at without size",)),
    (
        "corners and size",
        "at: [0 m, 4 m],",
        "at: [0 m, 4 m], corners: [[0, 4], [2, 4], [2, 6]],",
        ("corners together with",),
    ),
    (
        "crossing outline",
        "at: [0 m, 4 m], size: [2 m, 2 m]",
        "corners: [[0, 4], [2, 6], [2, 4], [0, 6]]",
        ("crosses", "(1.00, 5.00)"),
    ),
    ("two corners", "at: [0 m, 4 m], size: [2 m, 2 m]", "corners: [[0, 4], [2, 6]]", ("2 corners", "3 to 200")),
    ("overlapping rooms", "bath: {at: [0 m, 4 m]", "bath: {at: [0 m, 3 m]", ("2.00 m²", "living", "(0.00, 3.00)")),
    ("room called outdoors", "  bath:", "  outdoors:", ('"outdoors"',)),
    ("unknown room", "joins: [living, hall]", "joins: [living, hal]", ('"hal"', "Did you mean hall?")),
    ("one place joined", "joins: [living, hall]", "joins: [living]", ("list of 1", "two places")),
    ("same place twice", "joins: [living, hall]", "joins: [living, living]", ("living twice",)),
    ("no shared wall", "joins: [living, hall]", "joins: [bath, hall]", ("share no wall", "living")),
    ("different storeys", "joins: [living, hall]", "joins: [loft, living]", ("same storey", "2.70 m", "0.00 m")),
    (
        "past the end of the shared wall",
        "along: 2 m, size: [0.8",
        "along: 3.5 m, size: [0.8",
        ("ends at 4.30 m", "0 to 3.20 m", "4.00 m from (5.00, 0.00) to (5.00, 4.00)"),
    ),
    ("wider than the wall", "size: [0.9 m, 2 m]", "size: [1.5 m, 2 m]", ("1.50 m", "1.20 m from")),
    ("taller than the ceiling", "size: [0.9 m, 2 m]", "size: [0.9 m, 2.6 m]", ("2.60 m", "2.40 m")),
    ("sill above the ceiling", "size: [1.2 m, 1.1 m]", "size: [1.2 m, 1.1 m], sill: 2.5 m", ("2.50 m", "2.40 m")),
    ("wall that is covered", "wall: west, along: 1 m", "wall: east, along: 1 m", ("covered by hall",)),
    (
        "part of a wall that is covered",
        "wall: west, along: 1 m",
        "wall: north, along: 1 m",
        ("bath", "2.00 m to 5.00 m"),
    ),
    ("wall that is none", "wall: west", "wall: left", ('"left"', "north")),
    ("edge that is none", "wall: west", "wall: 9", ("wall 9", "edge 4")),
    ("unknown screen", "screen: fine 18x16", "screen: fine 18x61", ("fine 18x61", "Did you mean fine 18x16?")),
    ("unknown sash", "screen: fine", "sash: slidng, screen: fine", ("slidng", "Did you mean sliding?")),
    ("angle of a sliding sash", "screen: fine", "open: 30 deg, screen: fine", ("30 deg", "a gap")),
    ("gap beyond the sash", "screen: fine", "open: 90 cm, screen: fine", ("0.9 m", "0.60 m")),
    ("share above one", "screen: fine", "open: 80, screen: fine", ("8000 %", "80 %?")),
    ("unknown catalogue fan", "like: box 20 in", "like: box 20in", ("box 20in", "Did you mean box 20 in?")),
    ("fan without figures", "flow: 0.2 m3/s, diameter: 25 cm", "power: 20 W", ("unknown flow and thrust",)),
    (
        "fan at a shut window",
        "open: [living window], ",
        "",
        ("box fan", "shut in this scenario", "open: [living window]"),
    ),
    ("size without cm", "size: [1.2 m, 1.1 m]", "size: [120, 1.1 m]", ("120 m", "20 m", "120 cm?")),
    ("along without mm", "wall: west, along: 1 m", "wall: west, along: 1400", ("1400 m", "200 m", "1400 mm?")),
    ("room without cm", "size: [1.2 m, 6 m]", "size: [1.2 m, 600]", ("600 m", "200 m", "600 cm?")),
    ("thrust in N for gf", "flow: 0.2 m3/s", "flow: 0.2 m3/s, thrust: 150", ("150 N", "150 times", "0.98 N", "150 gf")),
    ("thrust too small", "flow: 0.2 m3/s", "flow: 0.2 m3/s, thrust: 0.1 gf", ("0.001 times", "1/8", "units")),
    ("thrust alone in N", "flow: 0.2 m3/s", "thrust: 150", ("150 N", "50 m/s", "20 m/s", "gf")),
    ("thrust of a generic fan", "like: box 20 in", "like: box 20 in, thrust: 150", ("150 N", "2.1 N", "gf")),
    ("point for thousands", "flow: 0.2 m3/s", "flow: 2.400 m3/h", ("0.000667 m³/s", "0.01 to 5", "decimal point")),
    ("decimal comma in braces", "flow: 0.2 m3/s", "flow: 900,5 m3/h", ('"900,5 m3/h"', "comma splits", "900.5 m3/h")),
    ("absurd flow", "flow: 0.2 m3/s", "flow: 4 m3/s", ("4 m³/s", "0.25 m", "30 m/s")),
    ("spread that is no word", "diameter: 25 cm", "diameter: 25 cm, spread: brod", ("brod", "Did you mean broad?")),
    ("mass as force", "flow: 0.2 m3/s", "thrust: 90 g", ("a mass", "gf")),
    ("setting below all", "flow: 0.2 m3/s", "flow: 0.2 m3/s, settings: {low: 0.3 m3/s}", ("0.3 m³/s", "0.2 m³/s")),
    ("missing jet walk", "flow: 0.2 m3/s", "flow: 0.2 m3/s, jet: no_such.csv", ("no_such.csv",)),
    ("obstacle outside its room", "at: [3 m, 1 m]", "at: [4.5 m, 1 m]", ("0.50 m²", "outside living")),
    ("head outside its room", "at: [1 m, 3 m]", "at: [1 m, 4.5 m]", ("(1.00, 4.50)", "0.50 m outside living")),
    ("head above the ceiling", "height: 0.7 m, asleep", "height: 70, asleep", ("70", "15 m")),
    ("head in the loft", "height: 0.7 m, asleep", "height: 2.6 m, asleep", ("2.60 m", "0 to 2.40 m")),
    ("asleep that is no yes", "asleep: yes", "asleep: often", ('"often"', "yes or no")),
    ("head without a place", "at: [1 m, 3 m], height", "height", ("no at", "where the head is")),
    (
        "head in no room",
        "{room: living, at: [1 m, 3 m]",
        "{room: livin, at: [1 m, 3 m]",
        ("livin", "Did you mean living?"),
    ),
    ("setback through the wall", "setback: 1.5 m", "setback: 5.5 m", ("5.50 m", "up to 5.00 m", "wall of living")),
    ("fan in an obstacle", "setback: 1.5 m", "setback: 3.5 m, aside: 0.4 m", ("3.50 m", "inside sofa", "0.24 m")),
    ("fan through the side wall", "setback: 1.5 m", "setback: 1.5 m, aside: -1.5 m", ("-1.50 m aside", "0.48 m")),
    ("turned away", "setback: 1.5 m", "setback: 1.5 m, turn: 90 deg", ("90 deg", "less than 90")),
    ("tilted away", "setback: 1.5 m", "setback: 1.5 m, tilt: -95 deg", ("-95 deg", "less than 90")),
    ("height outside the room", "setback: 1.5 m", "setback: 1.5 m, height: 2.3 m", ("2.30 m", "2.16 m")),
    ("height out of reach", "setback: 1.5 m", "setback: 1.5 m, height: 1.8 m", ("1.80 m", "1.30 m")),
    ("unknown fan", "{fan: box fan", "{fan: bix fan", ("bix fan", "Did you mean box fan?")),
    (
        "unknown opening",
        "open: [living window]",
        "open: [living windw]",
        ("living windw", "Did you mean living window?"),
    ),
    ("unknown base", "evening: {open", "evening: {based on: mornin, open", ("mornin", "one of the scenarios")),
    ("based on itself", "evening: {open", "evening: {based on: evening, open", ("a ring: evening -> evening",)),
    (
        "blows out of an inner door",
        "blows out: living window",
        "blows out: living door",
        ("living and hall", "blows through"),
    ),
    ("blows in from indoors", "blows out: living window", "blows in: living window", ("sealed: yes", "outdoors")),
    (
        "blows through from nowhere",
        "blows out: living window",
        "blows through: living door",
        ("stands in: living or hall",),
    ),
    ("stands elsewhere", "setback: 1.5 m", "setback: 1.5 m, stands in: hall", ("hall", "living")),
    ("two ways at once", "setback: 1.5 m", "blows in: living window", ("blows out and blows in",)),
    ("unknown setting", "setback: 1.5 m", "setback: 1.5 m, setting: hgih", ("hgih", "Did you mean high?")),
    (
        "sealed by the wrong fan",
        "{fan: box fan, blows out: living window, setback: 1.5 m}",
        "{fan: small fan, blows out: living window, sealed: yes}",
        ("small fan", "seals: yes"),
    ),
    (
        "screens of an opening without one",
        "open: [living window],",
        "open: [living window], screens: [living door],",
        ("living door", "no screen"),
    ),
    ("open and shut", "open: [living window],", "open: [living window], shut: [living window],", ("not both",)),
]


@pytest.mark.parametrize(("old", "new", "words"), [c[1:] for c in CHANGED], ids=[c[0] for c in CHANGED])
def test_error_names_its_line_and_says_what_is_allowed(old: str, new: str, words: tuple[str, ...]) -> None:
    assert HOUSE.count(old) == 1
    changed = HOUSE.replace(old, new)
    found = errors(changed)
    line = line_of(HOUSE, old)
    here = [m for m in found if m.line == line]
    assert here, [str(m) for m in found]
    assert any(all(word in str(m) for word in words) for m in here), [str(m) for m in here]
    assert all(m.file == "house.yaml" and m.column and m.allowed and m.found for m in found)


def test_every_error_is_reported_at_once_in_file_order() -> None:
    text = HOUSE.replace("size: [5 m, 4 m]}\n  hall", "size: [5 m, four]}\n  hall").replace(
        "kind: door, joins: [hall", "kind: dor, joins: [hall"
    )
    text = text.replace("like: box 20 in", "like: bx") + "  late: {open: [nothing]}\nsho: us\n"
    found = errors(text)
    assert [m.line for m in found] == [2, 7, 12, 20, 21]


def test_two_openings_on_the_same_piece_of_wall() -> None:
    text = HOUSE.replace(
        "fans:\n  box",
        "  second window: {kind: window, joins: [living, outdoors], wall: west, along: 2 m, size: [1 m, 1 m]}\n"
        "fans:\n  box",
    )
    (found,) = errors(text)
    assert found.line == 11
    assert "an overlap of 0.20 m with living window" in str(found)


def test_a_ring_of_scenarios_is_named() -> None:
    found = errors(HOUSE + "  one: {based on: two}\n  two: {based on: one}\n")
    assert "one -> two -> one" in str(found[0])


def test_the_same_fan_cannot_stand_twice() -> None:
    twice = "fans: [{fan: box fan, blows out: living window}, {fan: box fan, blows out: living window}]}"
    (found,) = errors(HOUSE + f"  two: {{open: [living window], {twice}\n")
    assert found.line == 20
    assert "second time" in str(found)


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("", 1, "empty file"),
        ("# nothing\n", 1, "empty file"),
        ("- a\n- b\n", 1, "a list of 2"),
        ("just text\n", 1, "just text"),
        ("rooms: {a: {at: [0, 0]\nopenings: {}\n", 1, "brace { that is not closed"),
        ("rooms:\n\ta: {}\n", 2, "tab"),
        ("rooms: {}\nrooms: {}\n", 2, "a second time"),
        ("name: a: b\nrooms: {}\n", 1, "quotes"),
        ("rooms: [living, hall]\nopenings: {}\n", 1, "a list of 2"),
        ("rooms: {living: big}\nopenings: {}\n", 1, "big"),
        ("rooms: {a: &x {b: *x}}\nopenings: {}\n", 1, "alias"),
        ("rooms: !!python/object:os.system {}\nopenings: {}\n", 1, "tag"),
        ("name: a\n---\nname: b\n", 2, "document"),
        ("rooms: {}\n\x00\n", 2, "character"),
    ],
)
def test_text_that_is_no_house_is_explained(text: str, line: int, word: str) -> None:
    found = errors(text)
    assert any(m.line == line and word in str(m) for m in found), [str(m) for m in found]


def test_nesting_without_end_is_explained() -> None:
    assert "levels" in str(errors("rooms: " + "[" * 1200)[0])


def test_files_that_cannot_be_read_are_explained(tmp_path) -> None:  # type: ignore[no-untyped-def]
    from ventplan.house import read_house

    (tmp_path / "other.yaml").write_text("a: b")
    junk = tmp_path / "junk.yaml"
    junk.write_bytes(b"rooms:\n\xff\xfe\x00")
    for path, word in ((tmp_path / "none.yaml", "other.yaml"), (tmp_path, "folder"), (junk, "not text")):
        with pytest.raises(InputError) as caught:
            read_house(path)
        assert word in str(caught.value)
        assert caught.value.errors[0].file == str(path)


def test_yes_and_no_are_words_where_names_stand() -> None:
    house = parse_house(
        "rooms: {no: {at: [0, 0], size: [3, 3]}, on: {at: [3, 0], size: [3, 3]}}\n"
        "openings: {y: {kind: door, joins: [no, on], size: [0.8, 2], open: no, moves: yes}}\n"
    )
    assert list(house.rooms) == ["no", "on"]
    assert house.openings["y"].open_share == 0.0


def test_a_misspelt_section_is_one_error() -> None:
    (found,) = errors(HOUSE.replace("rooms:", "room:"))
    assert found.line == 1
    assert "Did you mean rooms?" in str(found)
    assert len(errors(HOUSE.replace("fans:\n  box", "fnas:\n  box"))) == 1


def test_a_file_without_rooms_or_openings_says_so() -> None:
    assert [m.found for m in errors("name: x\n")] == ["no rooms", "no openings"]


@pytest.mark.parametrize(
    ("one", "other", "told"),
    [
        (("bath: {at: [0 m, 4 m]", "bath: {people: many, at: [0 m, 3 m]"), None, "an overlap of 2.00 m² with living"),
        (
            ("bath: {at: [0 m, 4 m]", "bath: {ceiling: 250 kg, at: [0 m, 3 m]"),
            None,
            "an overlap of 2.00 m² with living",
        ),
        (("size: [1.2 m, 1.1 m]", "open: 150 %, size: [1.2 m, 3.2 m]"), None, "a height of 3.20 m on a sill"),
        (
            ("size: [1.2 m, 1.1 m]", "size: [1.2 m, 3.2 m]"),
            ("size: [5 m, 4 m]}\n  hall", "size: [500, 4 m], ceiling: 2.5 m}\n  hall"),
            "a height of 3.20 m on a sill",
        ),
    ],
    ids=["people and overlap", "ceiling and overlap", "share and height", "size of the room and height"],
)
def test_an_error_does_not_hide_another_that_does_not_depend_on_it(
    one: tuple[str, str], other: tuple[str, str] | None, told: str
) -> None:
    text = HOUSE
    for old, new in filter(None, (one, other)):
        assert old in text
        text = text.replace(old, new)
    found = [error.found for error in errors(text)]
    assert len(found) == 2
    assert any(told in words for words in found)


def test_the_nearest_key_stands_before_the_list_of_all_keys() -> None:
    (error,) = errors(HOUSE.replace("size: [1.2 m, 1.1 m]", "size: [1.2 m, 1.1 m], sil: 0.9 m"))
    assert str(error).index("Did you mean sill?") < str(error).index("Allowed: kind")


def test_a_missing_file_names_the_nearest_files_of_its_folder_first(tmp_path: Path) -> None:
    for name in ("e1", "e2", "e3", "e4", "e5", "oak"):
        (tmp_path / f"{name}.yaml").write_text("")
    with pytest.raises(InputError, match=r"In that folder there is: oak\.yaml"):
        read_house(tmp_path / "oak.yml")


def test_a_ceiling_that_cannot_be_read_makes_no_window_too_high() -> None:
    found = errors(HOUSE.replace("size: [5 m, 4 m]}\n  hall", "size: [5 m, 4 m], ceiling: 500 kg}\n  hall"))
    assert [error.key for error in found] == ["rooms > living > ceiling"]
