"""Whatever is typed into a house file, the answer is a house or an ``InputError``; units turn there and back."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ventplan.errors import InputError
from ventplan.house import parse_house
from ventplan.house.units import KNOWN, SHOWN, parse_quantity, shown_number, shown_unit, unit_factor
from ventplan.house.yaml_text import parse_yaml, set_value

STARTER = (Path(__file__).parents[3] / "ventplan" / "house" / "starter.yaml").read_text("utf-8")
LINES = [line for line in STARTER.splitlines() if line.strip() and not line.strip().startswith("#")]
SMALL = """\
rooms:
  a: {at: [0, 0], size: [5, 4]}
  b: {at: [5, 0], size: [3, 4]}
openings:
  w: {kind: window, joins: [a, outdoors], wall: west, along: 1 m, size: [1, 1], screen: fine 18x16}
  d: {kind: door, joins: [a, b], along: 1 m, size: [0.8, 2]}
fans: {f: {like: box 20 in}}
obstacles: {o: {room: a, at: [3, 3], size: [1, 1]}}
people at: {p: {room: a, at: [1, 3], height: 1, asleep: yes}}
scenarios: {s: {open: [w], fans: [{fan: f, blows out: w, setback: 1 m}]}}
"""
PIECES = st.one_of(
    st.text(max_size=6),
    st.sampled_from(
        [
            "{",
            "}",
            "[",
            "]",
            ": ",
            ", ",
            "- ",
            "&x ",
            "*x",
            "\n",
            "\t",
            "'",
            '"',
            "!!int ",
            "? ",
            "|",
            "%",
            "no",
            "~",
            "-1",
            "1e999",
            "0",
            "nan",
            "999999 m",
            "90 deg",
            "[[0,0],[1,1]]",
            "{a: {}}",
            "outdoors",
            "<<: ",
        ]
    ),
)


def read_or_explain(text: str) -> None:
    try:
        parse_house(text)
        return
    except InputError as error:
        errors = error.errors
    assert errors
    assert all(m.found and m.allowed for m in errors)


@given(st.integers(0, len(SMALL)), st.integers(0, 12), PIECES)
@settings(max_examples=70, deadline=None)
def test_typing_errors_never_end_in_a_traceback(at: int, removed: int, piece: str) -> None:
    read_or_explain(SMALL[:at] + piece + SMALL[at + removed :])


@given(st.text(max_size=60))
@settings(max_examples=60, deadline=None)
def test_any_text_is_a_house_or_explained(text: str) -> None:
    read_or_explain(text)


WORDS = [
    ("rooms", "a", "at"),
    ("rooms", "a", "size"),
    ("rooms", "a", "ceiling"),
    ("rooms", "a", "corners"),
    ("rooms", "a", "mass"),
    ("openings", "w", "wall"),
    ("openings", "w", "joins"),
    ("openings", "w", "open"),
    ("openings", "w", "screen"),
    ("openings", "w", "at"),
    ("openings", "w", "kind"),
    ("openings", "w", "full"),
    ("fans", "f", "flow"),
    ("fans", "f", "settings"),
    ("fans", "f", "jet"),
    ("fans", "f", "diameter"),
    ("obstacles", "o", "room"),
    ("people at", "p", "at"),
    ("people at", "p", "height"),
    ("people at",),
    ("scenarios", "s", "open"),
    ("scenarios", "s", "screens"),
    ("scenarios", "s", "fans"),
    ("scenarios", "s", "fans", 0, "setback"),
    ("scenarios", "s", "based on"),
    ("outdoors", "wind"),
    ("outdoors",),
    ("rooms",),
    ("openings",),
    ("fans",),
    ("scenarios",),
    ("north",),
    ("leakage",),
    ("scenarios", "s", "indoors"),
    ("scenarios", "s", "fans", 0, "aside"),
]
SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-1000, 1000),
    st.floats(allow_nan=False, width=32),
    st.text(max_size=8),
    st.sampled_from(
        ["w", "d", "a", "outdoors", "50 %", "30 deg", "2 m", "-2 m", "hatch", "roof window", "off", "s", "as it stands"]
    ),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["w", "a", "x", "speed", "from"]), inner, max_size=3)
    ),
    max_leaves=6,
)


@given(st.sampled_from(WORDS), VALUES)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_value_at_any_key_is_read_or_explained(path: tuple[str | int, ...], value: object) -> None:
    read_or_explain(set_value(SMALL, path, value))


@given(st.text(max_size=20))
@settings(max_examples=100, deadline=None)
def test_any_text_written_into_a_file_is_read_back(value: str) -> None:
    if value.isprintable():
        found = parse_yaml(set_value(SMALL, ("name",), value)).data["name"]
        assert found == (value if isinstance(found, str) else float(value))


@given(st.sampled_from([(q, u) for q in KNOWN for u in KNOWN[q]]), st.floats(-1e4, 1e4))
def test_a_value_with_its_unit_turns_there_and_back(unit: tuple[str, str], value: float) -> None:
    quantity, word = unit
    number = float(f"{value:.6f}")
    factor, offset = unit_factor(word, quantity)
    inside = parse_quantity(f"{number:.6f} {word}", quantity)
    assert (inside - offset) / factor == pytest.approx(number, rel=1e-9, abs=1e-6)


@given(st.sampled_from(sorted(set(SHOWN) - {"temperature difference"})), st.floats(0.001, 1e4))
def test_what_is_shown_can_be_typed_in_again(quantity: str, value: float) -> None:
    kind = {"wind": "speed", "thrust": "force"}.get(quantity, quantity)
    for system in ("si", "us"):
        text = f"{shown_number(value, quantity, system):.15f} {shown_unit(quantity, system)}"  # type: ignore[arg-type]
        assert parse_quantity(text, kind) == pytest.approx(value, rel=1e-5)
