"""Write what commands print, and the tables of figures, into the pages anew: ``python -m docs.refresh``.

A block of ``console`` begins with ``$ ventplan ...``, and what the command prints follows; ``| head -9`` keeps the
first nine lines and ``| tail -9`` the last, as in a shell. A table stands between
``<!-- table NAME -->`` or ``<!-- record MODULE.CLASS -->`` and ``<!-- end -->``. Nothing there is typed by hand.
"""

from __future__ import annotations

import os
import re
import shlex
from importlib import import_module
from pathlib import Path
from runpy import run_path

from docs.evidence import TABLES, markdown
from tests.cli.command_line import run

ROOT = Path(__file__).parents[1]
PAGES = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))
STORY = ROOT / "house_examples" / "campaign" / "tell_story.py"
"""Makes the page on measuring, whose commands follow one another in a folder of their own."""


def printed(command: str) -> str:
    """What a command prints, without spaces at the ends of lines."""
    command, _, pipe = command.partition(" | ")
    answer = run(*shlex.split(command.removeprefix("ventplan ")))
    lines = (answer.out + answer.err).splitlines()
    if pipe:
        program, count = pipe.split(" -")
        lines = {"head": lines[: int(count)], "tail": lines[-int(count) :]}[program]
    return "\n".join(line.rstrip() for line in lines).strip("\n")


def record_table(name: str) -> str:
    """The attributes of a record with what its docstring says of them."""
    module, _, kind = name.rpartition(".")
    text = getattr(import_module(module), kind).__doc__ or ""
    attributes = text.partition("Attributes\n    ----------\n")[2]
    rows = []
    for entry in re.split(r"\n(?=    \S)", attributes.rstrip()):
        head, _, rest = entry.strip("\n").partition("\n")
        keys = ", ".join(f"`{key.strip()}`" for key in head.split(","))
        rows.append((keys, " ".join(rest.replace("``", "`").replace("|", "or").replace("None", "null").split())))
    return markdown(("key", "meaning"), rows)


def refreshed(text: str) -> str:
    """A page with its outputs and tables made anew.

    Parameters
    ----------
    text
        The page.
    """

    def console(found: re.Match[str]) -> str:
        command = found.group(1)
        return f"```console\n$ {command}\n{printed(command)}\n```"

    def table(found: re.Match[str]) -> str:
        kind, name = found.group(1), found.group(2)
        made = TABLES[name]() if kind == "table" else record_table(name)
        return f"<!-- {kind} {name} -->\n{made}\n<!-- end -->"

    text = re.sub(r"```console\n\$ (ventplan [^\n]*)\n.*?```", console, text, flags=re.DOTALL)
    return re.sub(r"<!-- (table|record) (\S+) -->.*?<!-- end -->", table, text, flags=re.DOTALL)


def refreshed_page(page: Path) -> str:
    """Any page with its outputs and tables made anew."""
    text = page.read_text("utf-8")
    return str(run_path(str(STORY))["retold"](text)) if page.name == "measuring.md" else refreshed(text)


def main() -> None:
    """Write every page anew."""
    os.chdir(ROOT)
    for page in PAGES:
        page.write_text(refreshed_page(page), "utf-8")


if __name__ == "__main__":
    main()
