"""Quantities as people write them, against ``pint``; SI values as people read them."""

from __future__ import annotations

import math

import pytest

from ventplan.house.units import (
    KNOWN,
    QUANTITIES,
    SHOWN,
    UnitError,
    parse_quantity,
    registry,
    show,
    shown_number,
    unit_factor,
)

PINT_NAMES = {
    "sq ft": "ft**2", "cu ft": "ft**3", "m2": "m**2", "cm2": "cm**2", "ft2": "ft**2", "in2": "in**2", "m3": "m**3",
    "ft3": "ft**3", "m3/s": "m**3/s", "m3/h": "m**3/hour", "m3/min": "m**3/minute", "cfm": "ft**3/minute",
    "CFM": "ft**3/minute", "ft3/min": "ft**3/minute", "km/h": "km/hour", "mph": "mile/hour", "knots": "knot",
    "kn": "knot", "kt": "knot", "ft/min": "ft/minute", "fpm": "ft/minute", "gf": "gram_force",
    "kgf": "kilogram_force", "lbf": "pound_force", "ozf": "ounce_force", "in H2O": "inch_H2O", "inH2O": "inch_H2O",
    "in wc": "inch_H2O", "mm H2O": "millimeter_H2O", "mmH2O": "millimeter_H2O", "deg": "degree", "degrees": "degree",
    "°": "degree", '"': "inch", "'": "foot", "°C": "degC", "C": "degC", "°F": "degF", "F": "degF", "K": "kelvin",
    "h": "hour", "d": "day", "W/°C": "W/K", "J/(m2 K)": "J/(m**2*K)", "kJ/(m2 K)": "kJ/(m**2*K)",
    "Wh/(m2 K)": "W*hour/(m**2*K)", "Btu/(h °F)": "BTU/(hour*delta_degF)", "Btu/(ft2 °F)": "BTU/(ft**2*delta_degF)",
    "L": "liter", "l": "liter", "L/s": "liter/s", "l/s": "liter/s",
}  # fmt: skip


@pytest.mark.parametrize("quantity", [q for q in KNOWN if QUANTITIES[q].pint_unit])
def test_table_of_units_agrees_with_pint(quantity: str) -> None:
    for unit in KNOWN[quantity]:
        factor, offset = unit_factor(unit, quantity)
        for value in (0.0, 1.0, 37.5):
            theirs = registry().Quantity(value, PINT_NAMES.get(unit, unit)).to(QUANTITIES[quantity].pint_unit)
            assert factor * value + offset == pytest.approx(theirs.magnitude, rel=1e-6, abs=1e-9), unit


@pytest.mark.parametrize(
    ("text", "quantity", "value"),
    [
        ("5 ft 6 in", "length", 1.6764),
        ("5'6\"", "length", 1.6764),
        ("3 1/2 in", "length", 0.0889),
        ("1/2 in", "length", 0.0127),
        ("2,5 m", "length", 2.5),
        (".5 m", "length", 0.5),
        ("-30 cm", "length", -0.3),
        ("1.2", "length", 1.2),
        (1.2, "length", 1.2),
        ("75 °F", "temperature", 23.8889),
        ("-3°C", "temperature", -3.0),
        ("293.15 K", "temperature", 20.0),
        ("83 %", "share", 0.83),
        ("1 h 20 min", "time", 4800.0),
        ("30 ft³", "volume", 0.849505),
        ("2 furlong", "length", 402.336),
        ("165 kJ/(m² K)", "heat storage", 165e3),
    ],
)
def test_quantities_as_people_write_them(text: object, quantity: str, value: float) -> None:
    assert parse_quantity(text, quantity) == pytest.approx(value, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "quantity", "word"),
    [
        ("2 m", "flow", "which is one of length"),
        ("170 g", "force", "gf"),
        ("1,800 cfm", "flow", "1800"),
        ("three m", "length", "a length such as"),
        ("2 m 3", "length", "a length such as"),
        (True, "length", "found yes"),
        (None, "length", "found nothing"),
        ([1], "length", "a list of 1"),
        (math.inf, "length", "found inf"),
        ("1e999 m", "length", "found"),
        ("2 m/s/", "speed", "unknown unit"),
        ("3 second", "length", "not one of length"),
        (10**400, "length", "very large"),
        ("", "length", "found"),
        ("2 ft 3 parsnips", "length", "parsnips"),
    ],
)
def test_what_is_no_such_quantity_is_explained(text: object, quantity: str, word: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_quantity(text, quantity)
    assert word in str(caught.value)


@pytest.mark.parametrize(
    ("value", "quantity", "si", "us"),
    [
        (0.52, "flow", "0.52 m³/s", "1100 cfm"),
        (0.0853, "flow", "0.085 m³/s", "181 cfm"),
        (1.23, "length", "1.23 m", "4 ft"),
        (0.00028, "length", "0.28 mm", "0.011 in"),
        (1.67, "thrust", "1.67 N", "170 gf"),
        (2.31, "pressure", "2.3 Pa", "2.3 Pa"),
        (-3.04, "temperature", "−3.0 °C", "26.5 °F"),
        (0.83, "share", "83%", "83%"),
        (78.3, "volume", "78.3 m³", "2770 ft³"),
        (0.304, "speed", "0.30 m/s", "60 ft/min"),
        (3.0, "wind", "3.0 m/s", "6.7 mph"),
        (2.0, "temperature difference", "2.0 K", "3.6 °F"),
        (45.0, "time", "45 s", "45 s"),
        (4800.0, "time", "80 min", "80 min"),
        (9000.0, "time", "2 h 30 min", "2 h 30 min"),
        (math.inf, "time", "never", "never"),
        (math.nan, "flow", "–", "–"),
        (0.0, "flow", "0 m³/s", "0 cfm"),
        (55.0, "power", "55 W", "55 W"),
        (1e-9, "pressure", "0 Pa", "0 Pa"),
    ],
)
def test_values_as_people_read_them(value: float, quantity: str, si: str, us: str) -> None:
    assert (show(value, quantity, "si"), show(value, quantity, "us")) == (si, us)


def test_shown_units_are_units_that_the_reader_knows() -> None:
    for quantity in SHOWN:
        for system in ("si", "us"):
            assert math.isfinite(shown_number(1.0, quantity, system))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "us"),
    [
        ("found 18.29 m", "found 60 ft"),
        ("allowed: 0 to 1.83 m for a width of 0.61 m", "allowed: 0 to 6 ft for a width of 2 ft"),
        ("from 1.2 m to 15 m", "from 3 ft 11 in to 49 ft 3 in"),
        ("the wall runs from (4.27, 8.53) to (6.71, 8.53)", "the wall runs from (14 ft, 28 ft) to (22 ft, 28 ft)"),
        ("air of 20.0 °C, 0.5 m3/s at 0.5 m/s", "air of 68.0 °F, 1060 cfm at 98 ft/min"),
        ("165 kJ/(m² K), 2 Pa, 3 rooms, 50 %", "8.1 Btu/(ft² °F), 2 Pa, 3 rooms, 50 %"),
        ('found "1 200 mm", and 1.5 N of 2 m', 'found "1 200 mm", and 153 gf of 6 ft 7 in'),
        ("already 5 ft, 900 cfm and 3 mph", "already 5 ft, 900 cfm and 3 mph"),
    ],
)
def test_sentences_are_turned_into_us_units(text: str, us: str) -> None:
    from ventplan.house.units import in_us_units

    assert in_us_units(text) == us
    assert in_us_units(us) == us


US_HOUSE = """
show: us
outdoors: {temperature: 30}
rooms: {room: {at: [0, 0], size: [16 ft, 13 ft], temperature: 70 °F}}
openings: {window: {kind: window, joins: [room, outdoors], wall: south, along: 1, size: [3 ft, 1], sill: 1}}
"""


def test_a_file_in_us_units_remarks_on_the_keys_whose_numbers_have_no_unit() -> None:
    from ventplan.house import parse_house

    def remarks(text: str) -> list[str]:
        return [one for one in parse_house(text).remarks if one.startswith("numbers without a unit")]

    (remark,) = remarks(US_HOUSE)
    assert "along, sill, size in m; temperature in °C" in remark
    assert remarks(US_HOUSE.replace("show: us", "show: si")) == []
    with_units = US_HOUSE.replace("30}", "86 °F}").replace("1, size: [3 ft, 1], sill: 1", "3 ft, size: [3 ft, 3 ft]")
    assert remarks(with_units) == []


@pytest.mark.parametrize(
    ("old", "new", "found", "hint"),
    [
        ("temperature: 30", "temperature: 66", "66, read as 66 °C (150.8 °F)", "Write 66 °F"),
        ("size: [3 ft, 1]", "size: [5, 1]", "a width of 5, read as 5 m (16 ft 5 in)", "Write 5 ft or 5 in"),
    ],
)
def test_a_refused_number_without_a_unit_is_shown_as_it_was_written(old: str, new: str, found: str, hint: str) -> None:
    from ventplan.errors import InputError
    from ventplan.house import parse_house

    with pytest.raises(InputError) as caught:
        parse_house(US_HOUSE.replace(old, new))
    (error,) = caught.value.errors
    assert found in error.found
    assert error.hint == hint


def test_a_house_in_us_units_has_errors_and_assumed_values_in_them() -> None:
    from ventplan.errors import InputError
    from ventplan.house import parse_house

    house = """
show: us
rooms: {room: {at: [0 ft, 0 ft], size: [16 ft, 13 ft], ceiling: CEILING}}
openings: {window: {kind: window, joins: [room, outdoors], wall: south, along: 3 ft, size: [3 ft, 3 ft], sill: 3 ft}}
"""
    with pytest.raises(InputError, match="found 80 ft; allowed: from 3 ft 11 in to 49 ft 3 in"):
        parse_house(house.replace("CEILING", "80 ft"))
    read = parse_house(house.replace("CEILING", "8 ft"))
    assert not any(" m " in f"{text} " or "°C" in text for text in (*read.defaults, *read.remarks))
