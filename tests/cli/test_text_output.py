"""Text reaches any terminal: in its encoding, without control characters, through a pipe that is closed early."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from command_line import EXAMPLES, ROOT, run

from ventplan.text import has_control_characters, printable

RIG, BUNGALOW = EXAMPLES / "hallway_rig.yaml", EXAMPLES / "bungalow.yaml"
CODE = "import sys; sys.argv[0] = 'ventplan'; from ventplan.cli import main; main()"


def shell(arguments: str, *, encoding: str = "utf-8", more: str = "") -> subprocess.CompletedProcess[bytes]:
    """Run ventplan in a shell of its own; the exit code is that of ventplan, whatever stands behind a pipe."""
    line = f'set -o pipefail; "$PYTHON" -c "$CODE" {arguments} {more}'
    names = {"PYTHON": sys.executable, "CODE": CODE, "PYTHONIOENCODING": encoding, "PYTHONPATH": str(ROOT)}
    return subprocess.run(["bash", "-c", line], capture_output=True, cwd=ROOT, env={**os.environ, **names}, timeout=120)


HOSTILE = r"""
name: "evil \e[31mred\e]0;title\a"
rooms:
  "ro\e[2Jom": {at: [0 m, 0 m], size: [5.6 m, 4.2 m], ceiling: 2.6 m}
openings:
  "do\u202eor": {kind: door, joins: ["ro\e[2Jom", outdoors], wall: north, along: 4.4 m, size: [0.9 m, 2.0 m]}
  window: {kind: window, joins: ["ro\udc80om", outdoors], wall: south, along: 2.4 m, size: [0.9 m, 1.0 m]}
"""


@pytest.mark.parametrize("encoding", ["cp1252", "latin-1", "ascii", "utf-16"])
@pytest.mark.parametrize("command", ["flow", "check"])
def test_every_encoding_gets_an_answer(command: str, encoding: str) -> None:
    done = shell(f"{command} {BUNGALOW}", encoding=encoding)
    assert (done.returncode, done.stderr) == (0, b"")
    assert "Bungalow" in done.stdout.decode(encoding)


def test_signs_that_an_encoding_lacks_become_plain_ones() -> None:
    text = shell(f"flow {BUNGALOW}", encoding="ascii").stdout.decode("ascii")
    assert "64.0 deg F" in text
    assert "?" not in text


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
def test_json_stays_json_in_every_encoding(encoding: str, tmp_path: Path) -> None:
    house = tmp_path / "house.yaml"
    house.write_text(RIG.read_text("utf-8").replace("box fan", "Lüfter → 1"), "utf-8")
    done = shell(f"check {house} --json", encoding=encoding)
    assert "Lüfter → 1" in json.loads(done.stdout.decode(encoding))["result"]["fans"]


def test_control_characters_in_names_are_errors_and_never_printed(tmp_path: Path) -> None:
    house = tmp_path / "house.yaml"
    house.write_text(HOSTILE, "utf-8")
    answer = run("flow", house)
    assert answer.code == 2
    assert answer.err.count("a control character") >= 5
    assert not has_control_characters(answer.out + answer.err)


@pytest.mark.parametrize("argument", ["$'\\e[31m'", "$'a\\xffb'", "$'\\u202e'", "$'\\u009b31m'"])
@pytest.mark.parametrize("command", ["flow {house} --scenario {text}", "check {text}", "flow {house} --wind {text}"])
def test_hostile_arguments_are_spelled_out(command: str, argument: str) -> None:
    done = shell(command.format(house=RIG, text=argument))
    assert done.returncode == 2
    assert not has_control_characters(done.stderr.decode("utf-8"))
    assert b"Traceback" not in done.stderr


def test_a_file_name_that_is_no_text_is_still_a_file(tmp_path: Path) -> None:
    name = os.fsdecode(b"caf\xe9")
    (tmp_path / f"{name}.yaml").write_bytes(RIG.read_bytes())
    done = shell(f"check {tmp_path}/$'caf\\xe9'.yaml")
    assert (done.returncode, done.stderr) == (0, b"")
    done = shell(f"draw {tmp_path}/$'caf\\xe9'.yaml -o {tmp_path}/$'caf\\xe9'.svg")
    assert (done.returncode, done.stderr) == (0, b"")
    assert "caf\\udce9.svg" in done.stdout.decode().replace("\n", "")
    assert (tmp_path / f"{name}.svg").exists()


@pytest.mark.parametrize("arguments", [f"flow {BUNGALOW}", f"flow {BUNGALOW} --json", "flow --help"])
def test_a_closed_pipe_is_quiet_and_no_error(arguments: str) -> None:
    for reader in ("head -1", "true"):
        done = shell(arguments, more=f"| {reader}")
        assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
@pytest.mark.parametrize("option", ["", "--json"])
def test_output_to_a_full_disk_is_an_error_in_one_line(option: str) -> None:
    done = shell(f"flow {BUNGALOW} {option}", more="> /dev/full")
    assert done.returncode == 2
    assert done.stderr == b"The output could not be written: No space left on device.\n"


def test_streams_that_are_closed_are_left_alone() -> None:
    assert shell(f"flow {BUNGALOW}", more=">&-").returncode == 0
    assert shell("flow nowhere.yaml", more="2>&-").returncode == 2


def test_every_control_character_is_spelled_out() -> None:
    every = "".join(map(chr, [*range(0x20), *range(0x7F, 0xA0), 0x202E, 0x2066, 0xD800, 0xDFFF]))
    assert not has_control_characters(printable(every))
    assert printable("tab\tand\nline, é ³ →") == "tab\tand\nline, é ³ →"
