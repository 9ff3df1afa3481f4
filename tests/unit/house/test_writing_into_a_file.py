"""A value written into a house file changes that value and no other character."""

from __future__ import annotations

from pathlib import Path

import pytest

from ventplan.errors import InputError
from ventplan.house import parse_house
from ventplan.house.yaml_text import parse_yaml, set_value

STARTER = (Path(__file__).parents[3] / "ventplan" / "house" / "starter.yaml").read_text("utf-8")


def changed_lines(new: str) -> tuple[set[str], set[str]]:
    old_lines, new_lines = set(STARTER.splitlines()), set(new.splitlines())
    return old_lines - new_lines, new_lines - old_lines


@pytest.mark.parametrize(
    ("path", "value", "removed", "added"),
    [
        (("fans", "circulator", "flow"), "0.28 m3/s", 1, 1),
        (("fans", "box fan", "flow"), "0.5 m3/s", 1, 1),
        (("fans", "new fan"), {"like": "box 20 in"}, 0, 1),
        (("scenarios", "evening", "fans", 0, "setback"), "1.4 m", 1, 1),
        (
            ("scenarios", "evening", "fans", 1),
            {"fan": "circulator", "blows out": "living window", "aside": 0.4},
            1,
            1,
        ),
        (("scenarios", "late, no fan"), {"based on": "evening, no screens", "fans": []}, 0, 1),
        (("outdoors", "rain"), True, 0, 1),
        (("leakage", "ach50"), 6, 0, 1),
        (("name",), "Ours: the house", 1, 1),
    ],
)
def test_only_the_value_changes_and_the_file_still_reads(path: tuple, value: object, removed: int, added: int) -> None:  # type: ignore[type-arg]
    new = set_value(STARTER, path, value)
    gone, come = changed_lines(new)
    assert (len(gone), len(come)) == (removed, added)
    data = parse_yaml(new).data
    for part in path:
        data = data[part]
    assert data == value or (value is True and data == "yes")
    parse_house(new)


@pytest.mark.parametrize(
    "start", ["", "# only a comment\n", "fans:\n", "fans: {}\n", "name: x", "fans:\n  a: 1 # note\n"]
)
def test_missing_maps_are_made(start: str) -> None:
    data = parse_yaml(set_value(start, ("fans", "box", "flow"), "1 m3/s")).data
    assert data["fans"]["box"]["flow"] == "1 m3/s"


def test_a_path_through_a_value_is_an_error() -> None:
    with pytest.raises(InputError):
        set_value(STARTER, ("name", "first"), 1)
