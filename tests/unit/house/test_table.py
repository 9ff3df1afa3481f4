"""Reading tables the way people's spreadsheets write them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from ventplan.errors import InputError
from ventplan.house.table import Column, Table, read_table

SPEED = Column("wind speed", "speed", lowest=0.0, highest=60.0)
NOTE = Column("note", required=False)


def read(tmp_path: Path, text: str, *columns: Column) -> Table:
    path = tmp_path / "table.csv"
    path.write_text(text, encoding="utf-8")
    return read_table(path, columns or (SPEED, NOTE))


@pytest.mark.parametrize(
    "text",
    [
        "wind speed [km/h],note\n9,calm\n18,breeze\n",
        "note;Wind Speed (km/h)\ncalm;9,0\nbreeze;18,0\n",
        "wind speed\tnote\n2,5\tcalm\n5.0 m/s\tbreeze\n",
        '# walked at dusk\n\nwind_speed [m/s],note\n"2,5",calm\n\n5,"breeze"\n',
        "\ufeffwind speed,note\n9 km/h,calm\n18 km/h,breeze\n",
    ],
)
def test_every_dialect_gives_the_same_table(tmp_path: Path, text: str) -> None:
    table = read(tmp_path, text)
    assert table.numbers["wind speed"] == pytest.approx((2.5, 5.0))
    assert table.words["note"] == ("calm", "breeze")


def test_a_unit_in_the_cell_wins_over_the_heading(tmp_path: Path) -> None:
    assert read(tmp_path, "wind speed [km/h]\n2 m/s\n").numbers["wind speed"] == (2.0,)


def test_comments_lines_and_other_columns_are_kept(tmp_path: Path) -> None:
    table = read(tmp_path, "# by hand\nwind speed,cloud\n\n1,7\n")
    assert (table.comments, table.lines, table.ignored) == (("by hand",), (4,), ("cloud",))
    assert table.words["note"] == ("",)


def test_an_empty_cell_of_an_optional_column_is_nan(tmp_path: Path) -> None:
    table = read(tmp_path, "note,wind speed\na,\n", NOTE, Column("wind speed", "speed", required=False))
    assert math.isnan(table.numbers["wind speed"][0])


def test_all_errors_are_told_at_once_by_line_and_column(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, "note,wind speed [m/s]\na,1\nb,fast\nc,99\nd,\ne,1,5\n")
    places = [(m.line, m.column) for m in caught.value.errors]
    assert places == [(3, 3), (4, 3), (5, 3), (6, 5)]
    assert "decimal comma" in caught.value.errors[-1].hint


def test_a_mark_for_thousands_is_refused_rather_than_guessed(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="one decimal mark"):
        read(tmp_path, 'wind speed,note\n"1,200",a\n')
    with pytest.raises(InputError, match="one decimal mark"):
        read(tmp_path, "wind speed;note\n1.200,5;a\n")


def test_a_misspelt_heading_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="windspeed") as caught:
        read(tmp_path, "note,windspeed\na,1\n")
    assert caught.value.errors[0].column == 6


@pytest.mark.parametrize("text", ["", "# only a comment\n", "wind speed\n"])
def test_a_table_without_values_is_an_error(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError):
        read(tmp_path, text)


def test_a_missing_file_is_an_error_and_no_traceback(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="No such file"):
        read_table(tmp_path / "none.csv", [SPEED])


def test_a_plain_number_takes_only_its_own_unit(tmp_path: Path) -> None:
    sun = Column("sun", "number", unit="W/m2")
    assert read(tmp_path, "sun [W/m²]\n120\n", sun).numbers["sun"] == (120.0,)
    with pytest.raises(InputError, match="numbers in W/m2"):
        read(tmp_path, "sun [lux]\n120\n", sun)


@pytest.mark.parametrize(
    "text",
    [
        "wind speed\n2,5 m/s\n5 m/s\n",  # one column: a comma can only be a decimal one
        "Walked on Tuesday\nall windows shut\n\nwind speed;note\n2,5;a\n5;b\n",
        "wind speed km/h;note\n9;\n18;\n",
        "Wind speed, km/h;note\n9;\n18;;;\n",
        "wind speed,note\n2.5,\n,changed the battery\n5,\n",
        "wind speed,cloud\n2.5,3\n,the fan was moved\n5,4\n",
    ],
)
def test_what_people_write_round_a_table_does_not_spoil_it(tmp_path: Path, text: str) -> None:
    assert read(tmp_path, text, SPEED).numbers["wind speed"] == pytest.approx((2.5, 5.0))


def test_a_note_on_its_own_row_keeps_the_lines_of_the_others(tmp_path: Path) -> None:
    table = read(tmp_path, "Tuesday\nwind speed,cloud\n1,7\n,moved\n2,8\n", SPEED)
    assert table.lines == (3, 5)
    assert table.comments == ("Tuesday",)


def test_the_two_byte_text_of_some_spreadsheets_is_read(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_bytes("wind speed [km/h]\tnote\n9\tcalm\n".encode("utf-16"))
    assert read_table(path, (SPEED, NOTE)).numbers["wind speed"] == (2.5,)


def test_a_word_for_a_unit_stands_in_for_it_and_a_bare_number_is_asked_for_its_unit(tmp_path: Path) -> None:
    scale = Column("reading", "force", alike={"g": "gf", "kg": "kgf"}, bare=False)
    for text in ("reading [g]\n100\n", "reading g\n100\n", "reading\n100 g\n", "reading [g]\n0,1 kg\n"):
        assert read(tmp_path, text, scale).numbers["reading"] == pytest.approx((0.980665,))
    with pytest.raises(InputError, match=r"reading \[g\]"):
        read(tmp_path, "reading\n100\n", scale)


def test_a_bearing_may_have_its_unit_without_brackets(tmp_path: Path) -> None:
    wind = Column("wind from", "bearing")
    assert read(tmp_path, "wind from deg\n240\n", wind).numbers["wind from"] == (240.0,)
