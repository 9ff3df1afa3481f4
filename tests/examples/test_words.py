"""Spelling, and phrases that were replaced by plain ones, over everything that a person reads."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
READ = sorted(
    path
    for pattern in ("README.md", "DEVELOPERS.md", "docs/*.md", "docs/*.py", "ventplan/**/*")
    for path in ROOT.glob(pattern)
    if path.suffix in (".md", ".py", ".toml", ".yaml", ".js", ".html", ".css", ".jinja")
)
PHRASES = [
    line for line in (Path(__file__).parent / "old_phrases.txt").read_text("utf-8").splitlines() if line[:1] not in "# "
]
NAMES_AND_WORDS = "fro,inforce,caf"
"""Right as they stand: "to and fro", a name in JavaScript, a file name in Latin-1."""


def old_phrases(text: str) -> list[str]:
    """Old phrases in a text, also where a line ends within one."""
    plain = " ".join(re.sub(r"[\"'`]\s*\n\s*f?[\"']", " ", text).split())
    return [found[0] for phrase in PHRASES for found in re.finditer(phrase, plain, re.IGNORECASE)]


@pytest.mark.parametrize("path", READ, ids=lambda path: str(path.relative_to(ROOT)))
def test_old_phrases_do_not_come_back(path: Path) -> None:
    assert old_phrases(path.read_text("utf-8")) == []


def test_the_check_finds_what_it_looks_for() -> None:
    assert old_phrases('"The plan keeps "\n    "90 % of it."') == ["keeps 90 %"]


def test_spelling() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "codespell_lib", "--ignore-words-list", NAMES_AND_WORDS, *map(str, READ)],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert (done.returncode, done.stdout) == (0, "")
