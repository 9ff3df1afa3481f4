"""Runs every command of ``docs/measuring.md`` on the campaign's readings and writes what it prints into the
page.

Run it from anywhere: ``python house_examples/campaign/tell_story.py``. A test holds the page to what it
would write.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import tempfile
from pathlib import Path

CAMPAIGN = Path(__file__).parent
PAGE = CAMPAIGN.parents[1] / "docs" / "measuring.md"
BLOCK = re.compile(r"```console\n(\$ (?:[^\n]*\\\n)*[^\n]*\n)(.*?)```", re.DOTALL)


def printed(command: str) -> str:
    """What one ``ventplan`` command prints."""
    from typer.testing import CliRunner

    from ventplan.cli.app import app

    words = shlex.split(command.removeprefix("$ ").replace("\\\n", " "))
    assert words[0] == "ventplan", command
    result = CliRunner().invoke(app, words[1:], catch_exceptions=False)
    return "".join(f"{line.rstrip()}\n" for line in result.output.splitlines())


def retold(page: str) -> str:
    """The page with the output of every command as it is now; commands run in order in a copy of the
    campaign."""
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as folder:
        for file in (*CAMPAIGN.glob("*.csv"), *CAMPAIGN.glob("*.yaml")):
            shutil.copy(file, folder)
        os.chdir(folder)
        try:
            return BLOCK.sub(lambda block: f"```console\n{block[1]}{printed(block[1])}```", page)
        finally:
            os.chdir(before)


if __name__ == "__main__":
    PAGE.write_text(retold(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
