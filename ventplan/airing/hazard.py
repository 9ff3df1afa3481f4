"""One caution, and the texts that stand in ``hazards.toml`` beside this file: what to do, and who says so."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any


@dataclass(frozen=True)
class Caution:
    """One caution.

    Attributes
    ----------
    about
        Subject in a few words.
    computed
        What in the answer causes it, with numbers.
    do
        What to do.
    source
        Who says so.
    """

    about: str
    computed: str
    do: str
    source: str


@lru_cache(maxsize=1)
def texts() -> dict[str, Any]:
    """The texts by kind, and ``closing``, the sentence that defers to codes and licensed practice."""
    import tomllib
    from importlib.resources import files

    found: dict[str, Any] = tomllib.loads(files("ventplan.airing").joinpath("hazards.toml").read_text(encoding="utf-8"))
    return found


def weight(about: str) -> int:
    """Place of a subject among the cautions: their order in ``hazards.toml``, the gravest first."""
    return [text["about"] for kind, text in texts().items() if kind != "closing"].index(about)


def caution(kind: str, computed: str) -> Caution:
    """A caution of a kind in ``hazards.toml``, with what was computed."""
    text = texts()[kind]
    do = f"{text['do']} {texts()['closing']}" if text.get("defer") else text["do"]
    return Caution(text["about"], computed, do, text["source"])
