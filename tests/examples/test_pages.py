"""The pages tell what the code does: outputs and tables are those of now, links lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from docs.refresh import PAGES, ROOT, refreshed_page

LINKED = [ROOT / name for name in ("README.md", "DEVELOPERS.md")] + sorted((ROOT / "docs").glob("*.md"))


@pytest.mark.slow
@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_outputs_and_tables_are_those_of_now(page: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert refreshed_page(page) == page.read_text("utf-8"), "run python -m docs.refresh"


@pytest.mark.parametrize("page", LINKED, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for link in re.findall(r"\]\(([^)#]+)", page.read_text("utf-8")):
        assert (page.parent / link).exists(), link


def test_ci_runs_the_command_that_the_readme_names() -> None:
    command = "python -m pytest -n 2"
    assert (ROOT / ".ci" / "run").read_text("utf-8").rstrip().endswith(f"\n{command}")
    assert command in (ROOT / "README.md").read_text("utf-8")


@pytest.mark.parametrize("page", LINKED, ids=lambda page: page.name)
def test_files_that_a_page_names_exist(page: Path) -> None:
    for name in re.findall(r"`((?:docs|tests|ventplan|house_examples)/[\w./]+)`", page.read_text("utf-8")):
        assert (ROOT / name).exists() or (ROOT / name.rstrip("/")).exists(), name
