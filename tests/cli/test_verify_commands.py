"""``verify`` and ``fit``: readings compared with a house, and a house corrected by them."""

from __future__ import annotations

from pathlib import Path

import pytest
from measuring import CAMPAIGN, answer, say

from ventplan.errors import InputError


@pytest.fixture
def vane(tmp_path: Path) -> str:
    path = str(tmp_path / "vane.json")
    say("measure", "anemometer", str(CAMPAIGN / "vane.csv"), "-o", path)
    return path


def test_fit_writes_a_house_file_that_reads(vane: str, tmp_path: Path) -> None:
    out = tmp_path / "calibrated.yaml"
    result = answer(
        "fit", str(CAMPAIGN / "cottage.yaml"), str(CAMPAIGN / "openings.csv"), "--calibration", vane, "-o", str(out)
    )
    assert result["misfit_after"] < result["misfit_before"]
    assert out.read_text(encoding="utf-8").startswith("# Calibrated by the readings in openings.csv.")


def test_verify_answers_first_and_draws_the_readings(vane: str, tmp_path: Path) -> None:
    files = (str(CAMPAIGN / "cottage.yaml"), str(CAMPAIGN / "openings.csv"), "--calibration", vane)
    picture = tmp_path / "verified.svg"
    said = say("verify", *files, "-o", str(picture))
    assert said.startswith("The prediction holds: 22 of 22 readings agree")
    assert picture.stat().st_size > 0
    result = answer("verify", *files)
    assert len(result["comparisons"]) == 22
    assert isinstance(result["wrong_here"], bool)


def test_a_house_is_not_written_from_readings_that_contradict_it_unless_asked(vane: str, tmp_path: Path) -> None:
    rows = "\n".join(f"living to bedroom,{name},{speed}" for name, speed in (("bedroom window", 5), ("living door", 5)))
    (tmp_path / "r.csv").write_text(f"scenario,opening,speed [m/s]\n{rows}\n", encoding="utf-8")
    out = tmp_path / "new.yaml"
    words = ("fit", str(CAMPAIGN / "cottage.yaml"), str(tmp_path / "r.csv"), "--calibration", vane, "-o", str(out))
    with pytest.raises(InputError, match="Nothing was written into"):
        say(*words)
    assert not out.exists()
    say(*words, "--doubtful")
    assert out.exists()


@pytest.mark.slow
def test_fit_writes_over_no_file_unless_asked(tmp_path: Path) -> None:
    house = tmp_path / "cottage.yaml"
    house.write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    # With no calibration the vane's readings contradict the house a little.
    words = ("fit", str(house), str(CAMPAIGN / "openings.csv"), "-o", str(house), "--doubtful")
    with pytest.raises(InputError, match="exists already"):
        say(*words)
    assert "Calibrated" not in house.read_text(encoding="utf-8")
    say(*words, "--replace")
    assert house.read_text(encoding="utf-8").startswith("# Calibrated")


def test_names_that_a_house_lacks_are_listed_at_once_with_their_places(tmp_path: Path) -> None:
    rows = "living to bedrom,bedroom window,1.2\nliving to bedroom,bedroom windw,1.2\n"
    (tmp_path / "r.csv").write_text(f"scenario,opening,speed [m/s]\n{rows}", encoding="utf-8")
    with pytest.raises(InputError) as wrong:
        say("fit", str(CAMPAIGN / "cottage.yaml"), str(tmp_path / "r.csv"))
    assert [(one.key, one.line, one.column) for one in wrong.value.errors] == [("scenario", 2, 1), ("opening", 3, 19)]


def test_an_error_about_a_reading_at_a_shut_window_names_its_file(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text("opening,speed [m/s]\nbedroom window,1.2\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"r\.csv: read in an opening that is shut"):
        say("fit", str(CAMPAIGN / "cottage.yaml"), str(tmp_path / "r.csv"))


def test_verify_shows_ten_readings_and_all_of_them_with_details(vane: str) -> None:
    files = ("verify", str(CAMPAIGN / "cottage.yaml"), str(CAMPAIGN / "openings.csv"), "--calibration", vane)

    def rows(said: str) -> int:
        return sum(line.rstrip().endswith(("agrees", "higher", "lower")) for line in said.splitlines())

    short = say(*files)
    assert rows(short) == 10
    assert "12 more readings: add --details." in short
    assert rows(say(*files, "--details")) == 22


def test_fit_lists_the_figures_that_changed_and_all_of_them_with_details(vane: str) -> None:
    files = ("fit", str(CAMPAIGN / "cottage.yaml"), str(CAMPAIGN / "openings.csv"), "--calibration", vane)
    short, full = say(*files, "--show", "us"), say(*files, "--details")
    assert " N " not in short
    assert "m³/s" not in short
    assert "Each reading predicted from the others" not in short
    assert "Each reading predicted from the others" in full
