"""What commands print on the example houses does not change unseen."""

from __future__ import annotations

import re

import pytest

from tests.cli.command_line import ROOT
from tests.golden.write import HERE, QUESTIONS, output

TINY = re.compile(r"more than \d+e-\d+ kg/s|\d+e-\d+ kg/s")


def settled(text: str) -> str:
    """The text without what rounding leaves over, which differs from machine to machine, and its line breaks."""
    return TINY.sub("tiny", " ".join(text.split()))


@pytest.mark.slow
@pytest.mark.parametrize("name", QUESTIONS)
def test_a_command_prints_what_it_did(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    kept = (HERE / f"{name}.txt").read_text("utf-8")
    assert settled(output(QUESTIONS[name])) == settled(kept), "if this is meant: python -m tests.golden.write"
