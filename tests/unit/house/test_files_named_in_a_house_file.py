"""A house file from somebody else reads no file outside its folder, hangs on nothing, and shows no file's contents."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.unit.house.test_errors_have_their_place import HOUSE
from ventplan.errors import InputError
from ventplan.house import read_house
from ventplan.house.fans import MOST_WALK_BYTES, outside_allowed

WALK = "distance (m),speed (m/s)\n0.5,3.2\n1.0,2.4\n2.0,1.5\n3.0,1.1\n"
SECRET = "root:x:0:0:the secret\n"


def errors(folder: Path, jet: str) -> str:
    file = folder / "house.yaml"
    file.write_text(HOUSE.replace("diameter: 25 cm", f"diameter: 25 cm, jet: {jet}"))
    with pytest.raises(InputError) as caught:
        read_house(file)
    return str(caught.value)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "secret.txt").write_text(SECRET)
    (tmp_path / "walk.csv").write_text(WALK)
    home = tmp_path / "home"
    (home / "measured").mkdir(parents=True)
    (home / "measured" / "walk.csv").write_text(WALK)
    (home / "list.csv").write_text(SECRET)
    (home / "link.csv").symlink_to(tmp_path / "walk.csv")
    os.mkfifo(home / "pipe.csv")
    (home / "long.csv").write_bytes(b"x" * (MOST_WALK_BYTES + 1))
    return home


@pytest.mark.parametrize(
    ("jet", "word"),
    [
        ("/dev/zero", "leads out of that folder"),
        ("../secret.txt", "leads out of that folder"),
        ("link.csv", "leads out of that folder"),
        ("measured/../../walk.csv", "--allow-outside"),
        ("pipe.csv", "no ordinary file"),
        ("measured", "a folder"),
        ("long.csv", "bytes"),
        ("no_such.csv", "no such file"),
        ("list.csv", "which is no walk"),
        (f"{'x' * 290}.csv", "a path that cannot be read"),
        ('"a\\0b.csv"', "control character"),
    ],
)
def test_only_an_ordinary_file_beside_the_house_file_is_read(folder: Path, jet: str, word: str) -> None:
    said = errors(folder, jet)
    assert word in said
    assert "secret" not in said.replace("secret.txt", "")


def test_a_walk_in_the_folder_or_below_it_is_read(folder: Path) -> None:
    (folder / "house.yaml").write_text(HOUSE.replace("diameter: 25 cm", "diameter: 25 cm, jet: measured/walk.csv"))
    assert "thrust_n" in read_house(folder / "house.yaml").fans["small fan"].estimated


def test_outside_is_read_only_where_it_is_allowed(folder: Path) -> None:
    assert "--allow-outside" in errors(folder, "../walk.csv")
    token = outside_allowed.set(True)
    try:
        assert read_house(folder / "house.yaml").fans["small fan"].spread > 0.0
        assert "no ordinary file" in errors(folder, "/dev/zero")
    finally:
        outside_allowed.reset(token)


def test_the_option_allows_it_on_the_command_line(folder: Path) -> None:
    (folder / "house.yaml").write_text(HOUSE.replace("diameter: 25 cm", "diameter: 25 cm, jet: ../walk.csv"))

    def run(*more: str) -> subprocess.CompletedProcess[str]:
        code = "import sys; sys.argv[0] = 'ventplan'; from ventplan.cli import main; main()"
        command = [sys.executable, "-c", code, "check", str(folder / "house.yaml"), *more]
        return subprocess.run(command, capture_output=True, text=True, check=False)

    refused = run()
    assert refused.returncode == 2
    assert "--allow-outside" in refused.stderr
    assert run("--allow-outside").returncode == 0


@pytest.mark.parametrize("path", ["/dev/zero", "/dev/full"])
def test_a_house_file_without_end_is_refused(path: str) -> None:
    with pytest.raises(InputError):
        read_house(path)
