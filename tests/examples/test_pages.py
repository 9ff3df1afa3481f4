"""The pages show what the code does: outputs and tables are up to date, links lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from docs.refresh import PAGES, ROOT, record_list, refreshed_page
from ventplan.airing.safety import HazardCode

LINKED = [ROOT / name for name in ("README.md", "DEVELOPERS.md")] + sorted((ROOT / "docs").glob("*.md"))

PACKAGES = "physics|house|network|airing|advice|measure|show|live|cli"


@pytest.mark.slow
@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_outputs_and_tables_are_up_to_date(page: Path) -> None:
    assert refreshed_page(page) == page.read_text("utf-8"), "run python -m docs.refresh"


def test_keys_of_every_record_on_the_json_page_are_described() -> None:
    for package, name in re.findall(r"<!-- record (\S+) (\S+) -->", (ROOT / "docs" / "json.md").read_text("utf-8")):
        assert record_list(package, name).startswith("- `"), name


def test_every_code_of_a_caution_is_on_the_json_page() -> None:
    page = (ROOT / "docs" / "json.md").read_text("utf-8")
    assert [code for code in HazardCode if f"`{code}`" not in page] == []


@pytest.mark.parametrize("page", LINKED, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for link in re.findall(r"\]\(([^)#]+)", page.read_text("utf-8")):
        assert (page.parent / link).exists(), link


def test_ci_runs_the_command_that_the_readme_names() -> None:
    command = "python -m pytest -n 2"
    assert (ROOT / ".ci" / "run").read_text("utf-8").rstrip().endswith(f"\n{command}")
    assert command in (ROOT / "README.md").read_text("utf-8")


def test_the_tour_of_the_readme_is_short() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    tour = readme.partition("## A tour\n")[2].partition("\n## ")[0]
    assert len(tour.splitlines()) <= 80
    for block in re.findall(r"```console\n(.*?)```", tour, re.DOTALL):
        assert len(block.splitlines()) <= 11, "a command and ten lines of what it prints"


def test_figures_of_trust_in_the_readme_are_those_of_the_model_page() -> None:
    model = (ROOT / "docs" / "model.md").read_text("utf-8")
    rows = {
        cells[0]: cells[1:]
        for cells in re.findall(r"^\| ([^|]+) \| (\d+) \| \S+ \| (\S+) \| (\S+) \|", model, re.MULTILINE)
    }
    rooms, root_mean_square, worst = rows["second set of rooms (LES)"]
    kept_back, later, _ = rows["third set, kept back"]
    readme = " ".join((ROOT / "README.md").read_text("utf-8").split())
    assert f"In {rooms} rooms" in readme
    assert f"by {float(root_mean_square):.2f} of the flow through the blades" in readme
    assert f"by {abs(float(worst)):.2f} in the worst" in readme
    assert f"In {kept_back} rooms" in readme
    assert f"it is off by {float(later):.2f}" in readme


@pytest.mark.parametrize("page", LINKED, ids=lambda page: page.name)
def test_files_that_a_page_names_exist(page: Path) -> None:
    text = page.read_text("utf-8")
    for name in re.findall(r"`((?:docs|tests|ventplan|house_examples)/[\w./]+)`", text):
        assert (ROOT / name.rstrip("/")).exists(), name
    for name in re.findall(rf"\b((?:{PACKAGES})/\w+\.py)\b", text):
        assert (ROOT / "ventplan" / name).exists(), name
