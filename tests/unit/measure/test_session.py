"""Several fans in one form: blank, filled in, half filled in, and with errors."""

from __future__ import annotations

import csv
import io
import math
from html.parser import HTMLParser
from pathlib import Path

import pytest

from ventplan.airing import Note, NoteCode
from ventplan.errors import InputError
from ventplan.measure.anemometer import uncalibrated
from ventplan.measure.session import FanResult, blank_form, evaluate_form
from ventplan.show.instructions import printed_form

DENSITY, THRUST, FLOW, SPREAD = 1.2, 1.8, 0.33, 0.14
VANE = uncalibrated(relative=0.02, start_up_m_s=0.3)
START = FLOW / math.sqrt(2.0 * math.pi * THRUST / DENSITY)


def _centre(distance: float) -> float:
    return math.sqrt(2.0 * THRUST / math.pi / DENSITY) / (START + SPREAD * distance)


def _filled(row: dict[str, str]) -> dict[str, str]:
    """A row of the form with what a fan of known thrust, flow and spread would read; all lengths in m and cm."""
    row = dict(row)
    if row["test"] == "thrust":
        force = THRUST / 9.80665e-3 if row["runs"] == "on" else 0.0
        row["reading [g]"] = f"{900.0 + (force if row['direction'] == 'forward' else -force):.1f}"
    elif row["test"] == "jet":
        row["speed [m/s]"] = f"{_centre(max(float(row['distance [m]']), 0.7)):.3f}"
    elif row["test"] == "profile":
        place, offset = float(row["distance [m]"]), float(row["offset [cm]"]) / 100.0
        width = START + SPREAD * place
        row["speed [m/s]"] = f"{_centre(place) * math.exp(-((offset / width) ** 2)):.3f}"
    elif row["test"] == "box":
        row["speed [m/s]"] = f"{0.9 * FLOW / 0.25:.3f}"
    elif row["test"] in ("diameter", "power", "sound"):
        row["value"] = {"diameter": "34 cm", "power": "45 W", "sound": "52 dB"}[row["test"]]
    return row


def _form(tmp_path: Path, fans: tuple[str, ...], *, only: dict[str, tuple[str, ...]] | None = None) -> Path:
    """A form of which each fan's tests are filled in: all, or those of ``only``."""
    rows = list(csv.DictReader(io.StringIO(blank_form(fans))))
    chosen = [_filled(row) if only is None or row["test"] in only.get(row["fan"], ()) else row for row in rows]
    path = tmp_path / "fans.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, list(rows[0]))
        table.writeheader()
        table.writerows(chosen)
    return path


def _evaluated(path: Path) -> tuple[FanResult, ...]:
    return evaluate_form(path, calibration=VANE, density_kg_m3=DENSITY)[0]


def test_a_full_form_gives_every_fan(tmp_path: Path) -> None:
    for result in _evaluated(_form(tmp_path, ("box fan", "circulator"))):
        assert result.missing == ()
        assert result.card is not None
        assert result.card.thrust.value == pytest.approx(THRUST, rel=0.02)
        assert result.card.flow.value == pytest.approx(FLOW, rel=0.1)
        assert result.card.spread.value == pytest.approx(SPREAD, rel=0.1)
        assert result.power_w == {"": 45.0}
        fan = result.as_fan()
        assert fan is not None
        assert fan.diameter_m == pytest.approx(0.34)


def test_a_half_filled_form_gives_what_it_can_and_names_what_is_missing(tmp_path: Path) -> None:
    path = _form(tmp_path, ("one", "two"), only={"one": ("thrust", "diameter"), "two": ("jet",)})
    one, two = _evaluated(path)
    assert one.card is not None
    assert one.card.thrust.value == pytest.approx(THRUST, rel=0.02)
    assert {"jet", "profile", "box"} <= set(one.missing)
    # A walk alone leaves a jet open: the card says what it assumed, and its interval is wide.
    assert two.card is not None
    assert two.card.flow.relative > 0.3
    assert NoteCode.TYPICAL_SPREAD in [note.code for note in two.notes if isinstance(note, Note)]


def test_an_empty_form_says_what_is_missing_and_nothing_else(tmp_path: Path) -> None:
    (result,) = _evaluated(_form(tmp_path, ("fan",), only={}))
    assert result.card is None
    assert {"thrust", "jet", "profile", "box", "diameter"} <= set(result.missing)
    assert result.notes == ()


def test_a_form_in_us_units_asks_for_nearly_the_same_places() -> None:
    si, us = (list(csv.reader(io.StringIO(blank_form(("a",), show=show)))) for show in ("si", "us"))
    assert "distance [ft]" in us[0]
    assert "speed [ft/min]" in us[0]
    for one, other in zip(si[1:], us[1:], strict=True):
        if one[3]:
            assert float(other[3]) * 0.3048 == pytest.approx(float(one[3]), abs=0.1)


def test_a_test_that_the_form_does_not_know_is_an_error_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "fans.csv"
    path.write_text("fan,test,speed [m/s],distance [m]\na,walk,2,1\n", encoding="utf-8")
    with pytest.raises(InputError, match="walk") as caught:
        _evaluated(path)
    assert caught.value.errors[0].line == 2


@pytest.mark.parametrize("lever", ["sideways", "0", "30 cm / 0 cm"])
def test_a_lever_without_a_length_or_ratio_is_an_error(tmp_path: Path, lever: str) -> None:
    path = _form(tmp_path, ("a",))
    path.write_text(path.read_text("utf-8").replace("a,lever,,,,,,,,,,1,", f"a,lever,,,,,,,,,,{lever},"), "utf-8")
    with pytest.raises(InputError, match="lever"):
        _evaluated(path)


def test_the_printed_page_has_a_cell_for_every_reading_of_the_form() -> None:
    form = blank_form(("box & co", "two"))

    class Cells(HTMLParser):
        rows = 0
        text = ""

        def handle_starttag(self, tag: str, attrs: object) -> None:
            self.rows += tag == "tr"

        def handle_data(self, data: str) -> None:
            self.text += data

    page = Cells()
    page.feed(printed_form(form))
    rows = len(form.splitlines()) - 1
    assert page.rows == rows + 2 * 5  # a heading for each of five tables of two fans
    assert "box & co" in page.text


def test_a_form_in_us_units_has_distances_that_are_found_on_a_tape() -> None:
    rows = list(csv.DictReader(io.StringIO(blank_form(("fan",), show="us"))))
    distances = [float(row["distance [ft]"]) for row in rows if row["distance [ft]"]]
    assert all(distance % 0.5 == 0.0 for distance in distances)
    assert [float(row["offset [in]"]) % 6.0 for row in rows if row["offset [in]"]] == [0.0] * 9


def test_a_form_in_us_units_asks_for_a_box_in_inches() -> None:
    form = blank_form(["fan"], show="us")
    assert "20 in x 20 in" in form
    assert " cm" not in form
    assert "50 cm x 50 cm" in blank_form(["fan"])
