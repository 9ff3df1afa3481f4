"""Every command and every program on the pages runs, and every option that they name exists."""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer.main

from tests.cli.command_line import ROOT, run
from ventplan.cli.app import app

PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
STARTS_A_SERVER = "ventplan live "


def blocks(language: str) -> list[tuple[str, str]]:
    """Every block in this language, with the name of its page."""
    fence = re.compile(rf"^```{language}\n(.*?)^```$", re.DOTALL | re.MULTILINE)
    return [(page.name, block) for page in PAGES for block in fence.findall(page.read_text("utf-8"))]


COMMANDS = [
    (page, line)
    for page, block in blocks("sh")
    for line in block.splitlines()
    if line.startswith("ventplan ") and not line.startswith(STARTS_A_SERVER)
]


@pytest.fixture
def copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copytree(ROOT / "house_examples", tmp_path / "house_examples")
    monkeypatch.chdir(tmp_path)


@pytest.mark.slow
@pytest.mark.usefixtures("copy")
@pytest.mark.parametrize(("page", "command"), COMMANDS)
def test_command_of_a_page_runs(page: str, command: str) -> None:
    answer = run(*shlex.split(command)[1:])
    assert answer.code == 0, answer.err


@pytest.mark.slow
@pytest.mark.usefixtures("copy")
@pytest.mark.parametrize(("page", "program"), blocks("python"))
def test_program_of_a_page_runs(page: str, program: str) -> None:
    exec(compile(program, page, "exec"), {})


def test_commands_and_programs_are_found() -> None:
    assert len(COMMANDS) > 8
    assert len(blocks("python")) >= 2


def options() -> set[str]:
    """Every option of every command."""

    def walk(command: Any) -> Iterator[str]:
        for parameter in command.params:
            yield from parameter.opts
        for inner in getattr(command, "commands", {}).values():
            yield from walk(inner)

    return set(walk(typer.main.get_command(app)))


NOT_LISTED = {"--help", "--write"}
"""Options of every program, and of the benchmarks."""


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_options_that_a_page_names_exist(page: Path) -> None:
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", page.read_text("utf-8")))
    assert named - options() - NOT_LISTED == set()
