"""Runs the measuring commands on the readings of the example campaign."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from ventplan.cli.app import app

CAMPAIGN = Path(__file__).parents[2] / "house_examples" / "campaign"


def say(*words: str) -> str:
    """What a command prints; its errors are raised."""
    result = CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def answer(*words: str) -> dict[str, Any]:
    """The result in the JSON of a command."""
    printed = json.loads(say(*words, "--json"))
    assert printed["units"] == "SI"
    return printed["result"]
