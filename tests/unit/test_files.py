"""A file is written whole or not at all, whatever goes wrong on the way."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ventplan.errors import InputError
from ventplan.files import write_file

OLD, NEW = "old\n" * 1000, "new\n" * 3000


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "house.yaml"
    path.write_text(OLD, "utf-8")
    return path


def test_a_new_file_has_the_usual_permissions(tmp_path: Path) -> None:
    (tmp_path / "usual").write_text("", "utf-8")
    write_file(tmp_path / "new", "text\n")
    assert (tmp_path / "new").read_bytes() == b"text\n"
    assert (tmp_path / "new").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_an_old_file_keeps_its_permissions_and_leaves_nothing_beside_it(path: Path) -> None:
    path.chmod(0o640)
    write_file(path, NEW)
    assert path.read_text("utf-8") == NEW
    assert path.stat().st_mode & 0o7777 == 0o640
    assert os.listdir(path.parent) == [path.name]


def test_a_link_is_followed(path: Path) -> None:
    (path.parent / "folder").mkdir()
    link = path.parent / "folder" / "link.yaml"
    link.symlink_to(path)
    write_file(link, NEW)
    assert link.is_symlink()
    assert path.read_text("utf-8") == NEW


def test_what_the_check_raises_leaves_the_old_file(path: Path) -> None:
    def check() -> None:
        raise InputError("someone else was quicker")

    with pytest.raises(InputError, match="quicker"):
        write_file(path, NEW, check=check)
    assert path.read_text("utf-8") == OLD
    assert os.listdir(path.parent) == [path.name]


@pytest.mark.parametrize("failure", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()], ids=repr)
@pytest.mark.parametrize("call", ["open", "fdopen", "fsync", "chmod", "replace"])
def test_the_old_file_survives_a_failure_of_every_step(
    path: Path, monkeypatch: pytest.MonkeyPatch, call: str, failure: BaseException
) -> None:
    def fails(*_: Any, **__: Any) -> Any:
        raise failure

    monkeypatch.setattr(os, call, fails)
    with pytest.raises((InputError, KeyboardInterrupt)) as caught:
        write_file(path, NEW)
    monkeypatch.undo()
    assert path.read_text("utf-8") == OLD
    if call != "fdopen":  # which leaves an open handle that the operating system closes
        assert os.listdir(path.parent) == [path.name]
    if isinstance(failure, OSError):
        assert "No space left on device" in str(caught.value)
        assert "unchanged" in str(caught.value)


def in_another_process(script: str, *arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen([sys.executable, "-c", script, *arguments], stdout=subprocess.PIPE, text=True)


@pytest.mark.skipif(sys.platform == "win32", reason="a limit of file sizes is POSIX only")
def test_the_old_file_survives_a_disk_that_takes_half_of_the_new_one(path: Path) -> None:
    script = """
import resource, signal, sys
from ventplan.errors import InputError
from ventplan.files import write_file
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (6000, 6000))
try:
    write_file(sys.argv[1], "new\\n" * 3000)
except InputError as error:
    print(error)
"""
    words, _ = in_another_process(script, str(path)).communicate(timeout=30)
    assert "cannot be written: File too large" in words
    assert path.read_text("utf-8") == OLD
    assert os.listdir(path.parent) == [path.name]


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is POSIX only")
def test_a_program_killed_at_any_moment_leaves_a_whole_file(path: Path) -> None:
    script = """
import sys
from ventplan.files import write_file
print("begun", flush=True)
while True:
    for letter in "ab":
        write_file(sys.argv[1], letter * 2_000_000)
"""
    whole = ("a" * 2_000_000, "b" * 2_000_000, OLD)
    for wait_s in (0.0, 0.004, 0.011, 0.017, 0.03):
        process = in_another_process(script, str(path))
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(wait_s)
        process.send_signal(signal.SIGKILL)
        process.communicate(timeout=10)
        assert path.read_text("utf-8") in whole


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (lambda folder: folder / "none" / "house.yaml", "there is no folder"),
        (lambda folder: folder, "is a folder"),
    ],
)
def test_a_place_that_cannot_be_written_is_explained(tmp_path: Path, place: Callable[[Path], Path], words: str) -> None:
    with pytest.raises(InputError, match=words):
        write_file(place(tmp_path), NEW)


@pytest.mark.skipif(not Path("/dev/stdout").exists(), reason="no /dev/stdout")
def test_a_pipe_is_written_directly() -> None:
    script = "from ventplan.files import write_file; write_file('/dev/stdout', 'to the pipe')"
    assert in_another_process(script).communicate(timeout=30)[0] == "to the pipe"
