"""Whatever writes a file writes all of it or nothing, keeps the older one, and says why."""

from __future__ import annotations

import os
import resource
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from command_line import EXAMPLES, Answer, run

from ventplan.errors import InputError
from ventplan.files import check_new_file, write_file

RIG, FLAT, CAMPAIGN = EXAMPLES / "hallway_rig.yaml", EXAMPLES / "one_room_flat.yaml", EXAMPLES / "campaign"
WRITERS: dict[str, tuple[str, tuple[str | Path, ...]]] = {
    "draw": ("plan.svg", ("draw", RIG, "-o")),
    "report": ("report.html", ("report", RIG, "-o")),
    "setback": ("curve.png", ("setback", RIG, "--fan", "box fan", "--opening", "doorway", "-o")),
    "compare": ("bars.pdf", ("compare", RIG, "box fan at 1 m", "box fan at 2 m", "-o")),
    "clear picture": ("clear.svg", ("clear", FLAT, "--from", "room", "--scenario", "evening", "-o")),
    "clear table": ("clear.csv", ("clear", FLAT, "--from", "room", "--scenario", "evening", "--save")),
    "night picture": ("night.svg", ("night", FLAT, "--weather", EXAMPLES / "weather_week.csv", "-o")),
    "night table": ("night.csv", ("night", FLAT, "--weather", EXAMPLES / "weather_week.csv", "--save")),
    "rank": ("rank.svg", ("rank", RIG, "-o")),
    "new": ("house.yaml", ("new",)),
    "survey": ("table.csv", ("survey", RIG, "--jobs", "1", "-o")),
    "survey, parquet": ("table.parquet", ("survey", RIG, "--jobs", "1", "-o")),
    "anemometer": ("vane.json", ("measure", "anemometer", CAMPAIGN / "vane.csv", "-o")),
    "opening": ("flow.json", ("measure", "opening", CAMPAIGN / "box.csv", "--size", "50 cm x 50 cm", "-o")),
    "thrust": ("thrust.json", ("measure", "thrust", CAMPAIGN / "scale.csv", "--lever", "30 cm / 60 cm", "-o")),
    "jet": ("jet.json", ("measure", "jet", CAMPAIGN / "jet.csv", "-o")),
    "fit": ("fitted.yaml", ("fit", CAMPAIGN / "cottage.yaml", CAMPAIGN / "openings.csv", "--doubtful", "-o")),
}


@contextmanager
def full_disk(bytes_left: int) -> Iterator[None]:
    """Let no file of this process grow beyond a few bytes, as on a full disk."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (bytes_left, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def asked(writer: str, folder: Path, *more: str) -> tuple[Path, Answer]:
    name, command = WRITERS[writer]
    return folder / name, run(*command, folder / name, *more)


def plain(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("writer", WRITERS)
def test_an_existing_file_is_written_over_only_with_replace(writer: str, tmp_path: Path) -> None:
    path = tmp_path / WRITERS[writer][0]
    path.write_text("mine")
    _, refused = asked(writer, tmp_path)
    assert refused.code == 2
    assert f"{path} exists already; choose another name, or add --replace to write over it" in plain(refused.err)
    assert path.read_text() == "mine"
    path, answer = asked(writer, tmp_path, "--replace")
    assert (answer.code, answer.err) == (0, "")
    assert path.read_bytes() != b"mine"


@pytest.mark.parametrize("writer", WRITERS)
def test_a_full_disk_leaves_the_old_file_and_no_other(writer: str, tmp_path: Path) -> None:
    asked(writer, tmp_path)  # loads what is loaded once, such as fonts, while the disk has room
    path = tmp_path / WRITERS[writer][0]
    for other in tmp_path.iterdir():
        other.unlink()
    path.write_text("mine")
    with full_disk(24):
        _, answer = asked(writer, tmp_path, "--replace")
    assert answer.code == 2
    assert "cannot be" in answer.err
    assert "File too large" in answer.err or "No space left" in answer.err
    assert "Traceback" not in answer.err
    assert path.read_text() == "mine"
    assert {other.name for other in tmp_path.iterdir()} <= {path.name, f"{path.name}.journal"}


@pytest.mark.parametrize("writer", WRITERS)
def test_a_folder_that_is_missing_or_locked_is_said(
    writer: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, answer = asked(writer, tmp_path / "nowhere")
    assert answer.code == 2
    assert "there is no folder" in plain(answer.err)
    monkeypatch.setattr("ventplan.files.os.access", lambda path, mode: mode != os.W_OK)
    path, answer = asked(writer, tmp_path)
    assert answer.code == 2
    assert "does not allow new files" in plain(answer.err)
    assert not path.exists()


def test_a_fan_goes_into_a_house_file_whole_or_not_at_all(tmp_path: Path) -> None:
    house, flow, thrust = tmp_path / "house.yaml", tmp_path / "flow.json", tmp_path / "thrust.json"
    shutil.copy(CAMPAIGN / "cottage.yaml", house)
    run(*WRITERS["opening"][1], flow)
    run(*WRITERS["thrust"][1], thrust)
    before = house.read_bytes()
    command = ("measure", "fan", "new fan", flow, thrust, "--diameter", "40 cm", "--into", house)
    with full_disk(100):
        answer = run(*command)
    assert (answer.code, house.read_bytes()) == (2, before)
    assert "The old file is unchanged" in plain(answer.err)
    answer = run(*command)
    assert (answer.code, answer.err) == (0, "")
    assert "new fan" in house.read_text("utf-8")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a folder"):
        check_new_file(tmp_path, replace=True)


def test_a_lone_surrogate_is_written_spelled_out(tmp_path: Path) -> None:
    write_file(tmp_path / "text", "caf\udce9")
    assert (tmp_path / "text").read_text("utf-8") == "caf\\udce9"
