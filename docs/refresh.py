"""Write what commands print, and tables of figures, into the pages: ``python -m docs.refresh``.

A block of ``console`` begins with ``$ ventplan ...``, and what the command prints follows. As in a shell, ``| head -9``
keeps the first nine lines, ``| tail -9`` the last, and ``| grep -A 9 WORDS`` the first line with these words and nine
more. A table is between ``<!-- table NAME -->`` and ``<!-- end -->``, and the keys of a record in JSON are between
``<!-- record PACKAGE CLASS -->`` and ``<!-- end -->``.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from tempfile import TemporaryDirectory

from docs.evidence import TABLES
from tests.cli.command_line import run

ROOT = Path(__file__).parents[1]
PAGES = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))
CAMPAIGN = ROOT / "house_examples" / "campaign"
"""The commands of ``measuring.md`` use these files, one after another, in a copy of the folder."""


@contextmanager
def working_folder(page: Path) -> Iterator[None]:
    """The folder in which the commands of a page run: the repository, or a copy of the measuring campaign."""
    before = Path.cwd()
    with TemporaryDirectory() as copy:
        if page.name == "measuring.md":
            shutil.copytree(CAMPAIGN, copy, dirs_exist_ok=True)
        os.chdir(copy if page.name == "measuring.md" else ROOT)
        try:
            yield
        finally:
            os.chdir(before)


def printed(command: str) -> str:
    """What a command prints, without spaces at the ends of lines."""
    command, *pipes = command.replace("\\\n", " ").split(" | ")
    answer = run(*shlex.split(command.removeprefix("ventplan ")))
    lines = (answer.out + answer.err).splitlines()
    for pipe in pipes:
        match shlex.split(pipe):
            case ["head", count]:
                lines = lines[: -int(count)]
            case ["tail", count]:
                lines = lines[int(count) :]
            case ["grep", "-A", count, words]:
                first = next(number for number, line in enumerate(lines) if words in line)
                lines = lines[first : first + 1 + int(count)]
            case _:
                raise ValueError(f"{pipe}: allowed are head -N, tail -N and grep -A N WORDS")
    return "\n".join(line.rstrip() for line in lines).strip("\n")


def record_in(package: str, name: str) -> type:
    """The class of this name in a package of ventplan, in whichever module it is."""
    for module in iter_modules([str(ROOT / "ventplan" / package)], f"ventplan.{package}."):
        found = getattr(import_module(module.name), name, None)
        if isinstance(found, type):
            return found
    raise LookupError(f"no class {name} in ventplan.{package}")


def record_list(package: str, name: str) -> str:
    """The attributes of a record with what its docstring says of them; units that end the name are left out."""
    attributes = (record_in(package, name).__doc__ or "").partition("Attributes\n    ----------\n")[2]
    lines = []
    for entry in re.split(r"\n(?=    \S)", attributes.rstrip()):
        head, _, rest = entry.strip("\n").partition("\n")
        keys = [key.strip() for key in head.split(",")]

        def unit(found: re.Match[str], keys: list[str] = keys) -> str:
            ending = re.sub(r"°|\(A\)|[ ()]", "", found[1]).replace("1/", "per_").replace("/", "_").lower()
            return "" if any(key.endswith(f"_{ending}") for key in keys) else found[0]

        meaning = re.sub(
            r"(?:,| and)? \[([^\]]+)\]", unit, " ".join(rest.replace("``", "`").replace("None", "null").split())
        )
        lines.append(f"- {', '.join(f'`{key}`' for key in keys)}: {meaning}")
    return "\n".join(lines)


def refreshed(text: str) -> str:
    """A page with its outputs and tables brought up to date.

    Parameters
    ----------
    text
        The page.
    """

    def console(found: re.Match[str]) -> str:
        command = found.group(1)
        return f"```console\n$ {command}\n{printed(command)}\n```"

    def table(found: re.Match[str]) -> str:
        return f"<!-- table {found[1]} -->\n{TABLES[found[1]]()}\n<!-- end -->"

    def record(found: re.Match[str]) -> str:
        return f"<!-- record {found[1]} {found[2]} -->\n{record_list(found[1], found[2])}\n<!-- end -->"

    text = re.sub(r"```console\n\$ (ventplan (?:[^\n]*\\\n)*[^\n]*)\n.*?```", console, text, flags=re.DOTALL)
    text = re.sub(r"<!-- table (\S+) -->.*?<!-- end -->", table, text, flags=re.DOTALL)
    return re.sub(r"<!-- record (\S+) (\S+) -->.*?<!-- end -->", record, text, flags=re.DOTALL)


def refreshed_page(page: Path) -> str:
    """Any page with its outputs and tables brought up to date."""
    with working_folder(page):
        return refreshed(page.read_text("utf-8"))


def main() -> None:
    """Bring every page up to date."""
    for page in PAGES:
        page.write_text(refreshed_page(page), "utf-8")


if __name__ == "__main__":
    main()
