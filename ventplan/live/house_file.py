"""The house file being edited: read and replaced on disk with a check for other writers, and changes to its text.

The changes here are those besides setting a value: adding to a section, removing, renaming. Like
``ventplan.house.yaml_text`` they leave every other character as it is.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ventplan.errors import InputError, InvalidValue, VentplanError
from ventplan.files import write_file
from ventplan.house.yaml_syntax import compose
from ventplan.house.yaml_text import (
    content_end,
    flow_text,
    is_nothing,
    key_text,
    offset,
    read_text,
    scalar_text,
    set_value,
    step,
)

ABSENT = "absent"
"""Digest of a file that does not exist."""


def digest_of(content: bytes) -> str:
    """A digest that identifies the content of a file."""
    return hashlib.sha256(content).hexdigest()[:32]


class NewerOnDisk(VentplanError):
    """Another program has changed the file since it was read.

    Attributes
    ----------
    digest
        Digest of the present content, `ABSENT` if there is no file.
    """

    def __init__(self, digest: str) -> None:
        self.digest = digest
        what = "was removed" if digest == ABSENT else "was changed by another program"
        super().__init__(f"the file {what} since this page read it; nothing was written")


@dataclass(frozen=True)
class HouseFile:
    """A house file by its path; nothing else is ever written.

    Attributes
    ----------
    path
        Where it is, or will be.
    """

    path: Path

    def digest(self) -> str:
        """Digest of the present content."""
        try:
            return digest_of(self.path.read_bytes())
        except FileNotFoundError:
            return ABSENT
        except OSError:  # a folder, or not ours to read: `read_text` says which
            return ""

    def read(self) -> tuple[str, str]:
        """Text and digest; an empty text if there is no file yet.

        Raises
        ------
        InputError
            If it cannot be read.
        """
        if not self.path.exists():
            return "", ABSENT
        seen = self.digest()  # before reading: what is written in between counts as newer and is not overwritten
        return read_text(self.path), seen

    def write(self, text: str, *, seen: str) -> str:
        """Write the text if the content is still the one that was read.

        Parameters
        ----------
        text
            The whole new text.
        seen
            Digest of the content that the text was made from.

        Returns
        -------
        str
            Digest of the new content.

        Raises
        ------
        NewerOnDisk
            If the file has changed.
        InputError
            If it cannot be written.

        Notes
        -----
        `ventplan.files.write_file` replaces the file in one step. The content is compared just before that, under a
        lock that other runs of this program respect on systems that have such locks.
        """

        def check() -> None:
            now = self.digest()
            if now != seen:
                raise NewerOnDisk(now)

        check()
        with _locked(self.path):
            write_file(self.path, text, check=check)
        return digest_of(text.encode("utf-8"))


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    """Hold the lock of a file that exists; the comparison alone guards it on systems without such locks."""
    try:
        import fcntl

        handle = os.open(path, os.O_RDONLY)
    except (ImportError, OSError):
        yield
        return
    try:
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


Key = str | int

USES: dict[str, dict[tuple[str, ...], int]] = {
    "rooms": {
        ("openings", "*", "joins", "*"): 0,
        ("obstacles", "*", "room"): 2,
        ("people at", "*", "room"): 2,
        ("tonight", "rooms"): 2,
        ("tonight", "rooms", "*"): 3,
        ("tonight", "keep out"): 2,
        ("tonight", "keep out", "*"): 3,
        ("scenarios", "*", "fans", "*", "stands in"): 4,
        ("scenarios", "*", "indoors", "rooms", "="): 5,
    },
    "openings": {
        ("fans", "*", "stays"): 3,
        ("scenarios", "*", "open"): 3,
        ("scenarios", "*", "open", "*"): 4,
        ("scenarios", "*", "open", "="): 4,
        ("scenarios", "*", "shut"): 3,
        ("scenarios", "*", "shut", "*"): 4,
        ("scenarios", "*", "screens"): 3,
        ("scenarios", "*", "screens", "*"): 4,
        ("scenarios", "*", "fans", "*", "blows out"): 4,
        ("scenarios", "*", "fans", "*", "blows in"): 4,
        ("scenarios", "*", "fans", "*", "blows through"): 4,
    },
    "fans": {("scenarios", "*", "fans", "*", "fan"): 4},
    "scenarios": {("scenarios", "*", "based on"): 0},
    "obstacles": {},
}
"""Where a name of each section is used elsewhere, and how many keys of that path lead to what goes with the thing (0:
nothing goes). "*" is any key or item, "=" at the end the keys themselves."""


def added_to_section(text: str, section: str, name: str, value: Any) -> str:
    """The text with a new entry in a section, on a line of its own; a missing section is added.

    Raises
    ------
    InputError
        If the name is taken.
    """
    root = compose(text, "")
    node = None if root is None else step(root, section, (section,))
    if node is None or is_nothing(node) or (node.id == "mapping" and not node.value):
        line = f"\n  {scalar_text(name)}: {flow_text(value)}\n"
        if node is None:
            return text + ("" if not text or text.endswith("\n") else "\n") + f"{section}:{line}"
        start, end = offset(text, node.start_mark), offset(text, node.end_mark)
        head, tail = text[:start].rstrip(" "), text[end:]
        return head + line + tail.lstrip(" ").removeprefix("\n")
    if step(node, name, (section, name)) is not None:
        key = key_text((section, name))
        raise InputError([InvalidValue(key, f"a second {name}", "each name once", "Give it another name")])
    return set_value(text, (section, name), value)


def removed(text: str, path: Sequence[Key]) -> str:
    """The text without the value at a path; unchanged if there is none.

    Parameters
    ----------
    text
        The house file.
    path
        Keys from the top; whole numbers pick items of lists.
    """
    node: Any = compose(text, "")
    for part in path[:-1]:
        node = None if node is None else _child(node, part)
    if node is None or node.id == "scalar":
        return text
    pairs = node.value if node.id == "mapping" else [(item, item) for item in node.value]
    index = _index(pairs, path[-1], node.id)
    if index is None:
        return text
    start, end = offset(text, pairs[index][0].start_mark), content_end(text, pairs[index][1])
    if node.flow_style:
        if index + 1 < len(pairs):
            end = offset(text, pairs[index + 1][0].start_mark)
        elif index > 0:
            start = content_end(text, pairs[index - 1][1])
        return text[:start] + text[end:]
    line_start, line_end = text.rfind("\n", 0, start) + 1, text.find("\n", end)
    if len(pairs) == 1:
        empty = "{}" if node.id == "mapping" else "[]"
        key_end = len(text[:line_start].rstrip()) if line_start else 0
        return f"{text[:key_end]} {empty}{text[line_end:] if line_end >= 0 else ''}"
    return text[:line_start] + (text[line_end + 1 :] if line_end >= 0 else "")


def renamed(text: str, section: str, old: str, new: str) -> str:
    """The text with a thing renamed, there and wherever its name is used.

    Raises
    ------
    InputError
        If the new name is empty or taken.
    """
    root = compose(text, "")
    node = None if root is None else step(root, section, (section,))
    if not new.strip() or (node is not None and node.id == "mapping" and _child(node, new) is not None):
        key = key_text((section, old))
        raise InputError(
            [InvalidValue(key, f'the name "{new}"', "a name that nothing else has", "Give it another name")]
        )
    for _, name in _found(root, {(section, "="): 0, **USES[section]}, old):
        text = text[: offset(text, name.start_mark)] + scalar_text(new) + text[offset(text, name.end_mark) :]
    return text


def removed_with_mentions(text: str, section: str, name: str) -> str:
    """The text without a thing and all that names it: its mentions in scenarios, fans that blow at it."""
    found = _found(compose(text, ""), {(section, "="): 2, **USES[section]}, name)
    for path in dict.fromkeys(path for path, _ in found if path):
        text = removed(text, path)
    return text


def _found(root: Any, patterns: Mapping[tuple[str, ...], int], name: str) -> list[tuple[tuple[Key, ...], Any]]:
    """Where a name is used, from the back so that the places in front stay right: what goes with it, and its node."""
    uses = [
        (path[:depth], node)
        for pattern, depth in patterns.items()
        for path, node in _matching(root, pattern, ())
        if node.id == "scalar" and str(node.value) == name
    ]
    return sorted(uses, key=lambda use: int(use[1].start_mark.index), reverse=True)


def _matching(node: Any, pattern: Sequence[str], path: tuple[Key, ...]) -> Iterator[tuple[tuple[Key, ...], Any]]:
    """Paths and nodes that a pattern of `USES` leads to."""
    if node is None:
        return
    if not pattern:
        yield path, node
        return
    part, rest = pattern[0], pattern[1:]
    if node.id == "mapping" and part == "=":
        yield from (((*path, str(key.value)), key) for key, _ in node.value)
    elif node.id == "mapping":
        for key, value in node.value:
            if part in ("*", str(key.value)):
                yield from _matching(value, rest, (*path, str(key.value)))
    elif node.id == "sequence" and part == "*":
        for i, item in enumerate(node.value):
            yield from _matching(item, rest, (*path, i))


def _child(node: Any, part: Key) -> Any:
    if node.id == "mapping":
        return next((v for k, v in node.value if str(k.value) == str(part)), None)
    if node.id == "sequence" and isinstance(part, int) and 0 <= part < len(node.value):
        return node.value[part]
    return None


def _index(pairs: Sequence[tuple[Any, Any]], part: Key, kind: str) -> int | None:
    if kind == "mapping":
        return next((i for i, (k, _) in enumerate(pairs) if str(k.value) == str(part)), None)
    return part if isinstance(part, int) and 0 <= part < len(pairs) else None
