"""Tables that ``night`` and ``clear`` save, and what their options allow."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from measuring import CAMPAIGN, answer, say
from typer.testing import CliRunner

from ventplan.cli.app import app
from ventplan.errors import InputError

EXAMPLES = CAMPAIGN.parent


NIGHT = """time,temperature [°C],humidity [%]
20:00,26,60
23:00,20,60
02:00,17,60
"""


@pytest.fixture
def mild(tmp_path: Path) -> str:
    (tmp_path / "mild.csv").write_text(NIGHT, encoding="utf-8")
    return str(tmp_path / "mild.csv")


def _table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_night_saves_what_happens_step_by_step(mild: str, tmp_path: Path) -> None:
    saved, house = tmp_path / "steps.csv", str(EXAMPLES / "bungalow.yaml")
    result = answer("night", house, "--weather", mild, "--save", str(saved), "--show", "si")
    rows = _table(saved)
    runs = result["night"]["runs"]
    assert len(rows) == len(runs[0]["times_s"]) == 25  # six hours in quarters, both ends
    assert float(rows[0]["outdoors [°C]"]) == pytest.approx(runs[0]["outdoor_c"][0], abs=0.01)
    for run in runs:
        room, track = next(iter(run["rooms_c"].items()))
        assert float(rows[-1][f"{run['name']}: {room} [°C]"]) == pytest.approx(track[-1], abs=0.01)
    fans = [row[f"{runs[-1]['name']}: windows"] for row in rows]
    assert "with fans" in fans
    assert {row["everything shut: windows"] for row in rows} == {"shut"}
    with pytest.raises(InputError, match="exists already"):
        say("night", house, "--weather", mild, "--save", str(saved))


def test_night_begins_with_the_house_and_counts_its_progress(mild: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from contextlib import contextmanager

    seen: list[tuple[int, int]] = []

    @contextmanager
    def recorded(what: str):  # type: ignore[no-untyped-def]
        yield lambda done, total: seen.append((done, total))

    monkeypatch.setattr("ventplan.cli.output.progress_line", recorded)
    out = say("night", str(EXAMPLES / "bungalow.yaml"), "--weather", mild)
    assert out.startswith("Bungalow: ")
    assert "heat by fans / fans" not in out
    assert seen == sorted(seen)
    assert seen[-1] == (18, 18)  # hours of three runs


def test_clear_saves_the_concentrations_and_names_one_peak(tmp_path: Path) -> None:
    saved, house = tmp_path / "air.csv", str(EXAMPLES / "bungalow.yaml")
    words = ("clear", house, "--breath", "--scenario", "as it stands", "--save", str(saved))
    result = answer(*words)
    clearing = result["plans"][0]["clearing"]
    rows = _table(saved)
    assert len(rows) == len(clearing["times_s"])
    assert float(rows[-1]["living [ppm]"]) == pytest.approx(clearing["concentrations"][-1][0], rel=1e-3)
    out = say(*words, "--replace")
    end = f"{clearing['rooms']['living']['end']:.0f}"
    row = out[out.index("living ") : out.index("hall ")]
    assert "e+0" not in out
    assert row.count(end) == 2  # where it settles, and so its peak
    assert "in the end" in row


@pytest.mark.parametrize(
    ("words", "allowed"),
    [
        (("night", "bungalow.yaml", "--weather", "weather_week.csv", "--margin", "-3"), "0 K to 20 K"),
        (("night", "bungalow.yaml", "--weather", "weather_week.csv", "--fan-margin", "-3"), "0 K to 20 K"),
        (("night", "bungalow.yaml", "--weather", "weather_week.csv", "--coolest", "-300 C"), "−50 °C to 60 °C"),
        (("night", "bungalow.yaml", "--weather", "weather_week.csv", "--dew-point", "-300 C"), "−50 °C to 60 °C"),
        (("clear", "bungalow.yaml", "--to", "-5 %"), "above 0"),
        (("clear", "bungalow.yaml", "--breath", "--below", "-1"), "above 0"),
        (("clear", "bungalow.yaml", "--breath", "--start", "-1"), "0 to 100000"),
    ],
    ids=lambda said: " ".join(said[2:]) if isinstance(said, tuple) else "",
)
def test_airing_options_say_what_is_allowed(
    words: tuple[str, ...], allowed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(EXAMPLES)
    with pytest.raises(InputError) as caught:
        CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert allowed in caught.value.errors[0].allowed
