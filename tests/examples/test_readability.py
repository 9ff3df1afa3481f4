"""The prose of the pages stays easy to read: a page that gets harder than it is fails.

The measure is the automated readability index, 4.71 letters/word + 0.5 words/sentence - 21.43, about the school grade
of a text (Senter & Smith 1967, AMRL-TR-66-220; from memory). It needs no dictionary, so it works without a network.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BOUNDS: dict[str, float] = tomllib.loads((Path(__file__).parent / "readability.toml").read_text("utf-8"))
"""Highest index of each page: about one above what it has."""
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
LONGEST_SENTENCE = 45
"""Words."""


def prose(page: str) -> str:
    """The page without code, outputs, tables, headings, pictures, and what stands between marks of made outputs."""
    page = re.sub(r"^```.*?^```$", "", page, flags=re.DOTALL | re.MULTILINE)
    page = re.sub(r"<!-- (measured|table|record).*?<!-- end -->", "", page, flags=re.DOTALL)
    lines = (line for line in page.splitlines() if not re.match(r"\||    |#|!\[|<!--", line))
    return re.sub(r"!?\[([^\]]*)\]\([^)]*\)", r"\1", "\n".join(lines))


def sentences(page: str) -> list[list[str]]:
    """The words of each sentence of the prose; code is one word, and an item of a list ends a sentence."""
    text = re.sub(r"`[^`]*`", "code", prose(page))
    parts = re.split(r"(?<=[.!?:;])[*)]*\s+|\n\s*\n|\n\s*(?:-|\d+\.) ", text)
    return [words for part in parts if len(words := re.findall(r"[^\W_][\w'’.-]*", part)) > 2]


def readability(page: str) -> float:
    """The index of a page."""
    found = sentences(page)
    words = [word for sentence in found for word in sentence]
    return 4.71 * sum(map(len, words)) / len(words) + 0.5 * len(words) / len(found) - 21.43


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_page_is_no_harder_to_read_than_it_was(page: Path) -> None:
    text = page.read_text("utf-8")
    assert readability(text) <= BOUNDS[page.name]
    assert [" ".join(words) for words in sentences(text) if len(words) > LONGEST_SENTENCE] == []


def test_long_words_and_long_sentences_count_and_tables_and_code_do_not() -> None:
    easy = "The fan blows out. The window is open. Air comes in by the door."
    hard = "Depressurisation notwithstanding, simultaneous recirculation characterises this configuration."
    assert readability(easy) < 3.0
    assert readability(hard) > 20.0
    for apart in (
        f"| {hard} |",
        f"```console\n$ {hard}\n```",
        f"    {hard}",
        f"<!-- table x -->\n{hard}\n<!-- end -->",
    ):
        assert readability(f"{easy}\n\n{apart}\n") == readability(easy)
    assert len(sentences("One two three. Four five six:\n\n- seven eight nine\n- ten eleven twelve")) == 4
