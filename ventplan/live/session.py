"""The editing session of one house file: the current text, the house read from it, undo, redo and saving.

What has an error is left out of the house, and the error says where.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any

from ventplan.errors import InputError, InvalidValue, VentplanError
from ventplan.house import House
from ventplan.house.read import build_house
from ventplan.house.yaml_text import key_text, parse_yaml, set_value
from ventplan.live.house_file import ABSENT, HouseFile, added_to_section, removed, removed_with_mentions, renamed
from ventplan.live.scenario_edits import detached

EMPTY = """name: {name}
show: si

rooms:

openings:
"""
"""Text of a new house file."""

NOT_DRAWN_YET = ("no rooms", "no openings")


@dataclass(frozen=True)
class Draft:
    """A text and what was read from it.

    Attributes
    ----------
    text
        The house file.
    data
        Its maps and lists.
    house
        What could be read, or None if the text is not a house.
    errors
        In file order; an empty house is not an error.
    """

    text: str
    data: dict[str, Any]
    house: House | None
    errors: tuple[InvalidValue, ...]


def read_draft(text: str, path: Path) -> Draft:
    """Read as much of a text as is valid.

    Parameters
    ----------
    text
        A house file, possibly with errors.
    path
        Where it is kept, for files beside it.
    """
    try:
        source = parse_yaml(text, str(path))
        if not isinstance(source.data, dict):
            return Draft(text, {}, None, ())
        house = build_house(source, path.parent)
    except InputError as error:
        errors = error.errors or (InvalidValue("the file", str(error), "a house file"),)
        return Draft(text, {}, None, errors)
    found = tuple(m for m in source.in_order() if m.found not in NOT_DRAWN_YET)
    return Draft(text, source.data, house, found)


def new_errors(before: Draft, after: Draft, keys: Sequence[str]) -> tuple[InvalidValue, ...]:
    """Errors that a change caused in the thing it changed, or in the text as a whole.

    Parameters
    ----------
    before, after
        The text before and after.
    keys
        Paths of what was changed, parts joined by " > ".
    """
    fresh = fresh_errors(before, after)
    if after.house is None and before.house is not None:
        return fresh or after.errors
    return tuple(m for m in fresh if any(_meet(m.key, key) for key in keys))


def fresh_errors(before: Draft, after: Draft) -> tuple[InvalidValue, ...]:
    """Errors of a text that the one before it did not have."""
    old = {(m.key, m.found) for m in before.errors}
    return tuple(m for m in after.errors if (m.key, m.found) not in old)


def broken_scenarios(before: Draft, after: Draft, keys: Sequence[str]) -> tuple[InvalidValue, ...]:
    """Errors that a change caused in other scenarios; none if the house itself must be repaired first.

    Parameters
    ----------
    before, after
        The text before and after.
    keys
        Paths of what was changed, parts joined by " > ".
    """
    fresh = [m for m in fresh_errors(before, after) if not any(_meet(m.key, key) for key in keys)]
    return tuple(fresh) if all(m.key.startswith("scenarios > ") for m in fresh) else ()


def _meet(one: str, other: str) -> bool:
    """True if one path is the other or leads to it."""
    return f"{one} > ".startswith(f"{other} > ") or f"{other} > ".startswith(f"{one} > ")


MAX_REPAIR_ROUNDS = 8
"""Rounds of removing invalid parts before a repair is given up."""
MAX_UNDO_STEPS = 300
"""Steps that can be undone."""
SECTIONS = ("rooms", "openings", "fans", "obstacles", "scenarios")


class OtherPageChanged(VentplanError):
    """Another page made a step that this one has not seen."""


class BreaksScenarios(InputError):
    """A step would make other scenarios invalid.

    Attributes
    ----------
    repairs
        Codes for `Session.change`, and their descriptions.
    """

    def __init__(self, errors: Sequence[InvalidValue], repairs: Mapping[str, str]) -> None:
        super().__init__(errors)
        self.repairs = repairs


@dataclass
class Session:
    """One house file being edited.

    Attributes
    ----------
    file
        The only file that is ever written.
    draft
        The current text.
    on_disk
        Digest of the content that the current text was made from.
    saved_text
        That content.
    revision
        Grows with every step, so that two pages notice each other.
    last_valid
        The last text that was a house, which the page shows while the current one is not.
    undo, redo
        Steps: what was done, and the text before or after it.
    """

    file: HouseFile
    draft: Draft
    on_disk: str
    saved_text: str
    revision: int = 1
    last_valid: Draft | None = None
    undo: list[tuple[str, str]] = field(default_factory=list)
    redo: list[tuple[str, str]] = field(default_factory=list)
    lock: Lock = field(default_factory=Lock)

    def __post_init__(self) -> None:
        self.last_valid = self.draft if self.draft.house is not None else self.last_valid

    @property
    def unsaved(self) -> bool:
        """True if the current text is not saved."""
        return self.draft.text != self.saved_text

    def check_revision(self, revision: int, what: str) -> None:
        """Refuse a step of a page that has not seen the latest one.

        Parameters
        ----------
        revision
            The latest step that the page has seen.
        what
            The step that is refused, in a few words.

        Raises
        ------
        OtherPageChanged
            If so; it says which step was not done, and what the other page did last.
        """
        if revision != self.revision:
            last = f" (last: {self.undo[-1][0]})" if self.undo else ""
            raise OtherPageChanged(
                f"Not done: {what}. Another page changed this house meanwhile{last}. "
                "This page now shows the house with that change; repeat your step if you still want it."
            )

    def set_text(self, what: str, text: str) -> None:
        """Replace the current text; the step can be undone."""
        if text == self.draft.text:
            return
        self.undo = [*self.undo[-MAX_UNDO_STEPS + 1 :], (what, self.draft.text)]
        self.redo = []
        self._show(text)

    def change(self, what: str, keys: Sequence[str], make: Callable[[str], str], *, repair: str = "") -> None:
        """Change the text, unless the changed thing would be invalid or another scenario would break.

        Parameters
        ----------
        what
            The step in a few words.
        keys
            Paths of what is changed, parts joined by " > ".
        make
            From text to text.
        repair
            What to do with scenarios that it would break: a code of `BreaksScenarios.repairs`.

        Raises
        ------
        InputError
            With the errors that the change would cause in the thing itself. Errors in other parts of the house are
            listed on the page instead, so that a room can be moved before its doors.
        BreaksScenarios
            If other scenarios would become invalid in a valid house.
        """
        text = make(self.draft.text)
        after = read_draft(text, self.file.path)
        wrong = new_errors(self.draft, after, keys)
        if wrong:
            raise InputError(wrong)
        broken = broken_scenarios(self.draft, after, keys)
        if broken:
            repairs = self._repairs(make, after, broken, keys)
            if repair not in repairs:
                raise BreaksScenarios(broken, {code: words for code, (words, _) in repairs.items()})
            text = repairs[repair][1]
        self.set_text(what, text)

    def _repairs(
        self, make: Callable[[str], str], after: Draft, broken: Sequence[InvalidValue], keys: Sequence[str]
    ) -> dict[str, tuple[str, str]]:
        """By code: description and text of each repair that leaves no new error."""
        names = list(dict.fromkeys(m.key.split(" > ")[1] for m in broken))
        known = [n for n in names if self.draft.house is not None and n in self.draft.house.scenarios]
        listed = ", ".join(names)
        found: dict[str, tuple[str, str]] = {}
        if self.draft.house is not None and known == names and any(key.startswith("scenarios > ") for key in keys):
            text = self.draft.text
            for name in names:
                text = detached(text, self.draft.house, name)
            found["separate"] = f"Do it, and keep {listed} as it is: it no longer follows another scenario", make(text)
        text = after.text
        for _ in range(MAX_REPAIR_ROUNDS):
            errors = broken_scenarios(self.draft, read_draft(text, self.file.path), keys)
            if not errors:
                break
            text = without_invalid_parts(text, errors)
        found["leave out"] = f"Do it, and take out of {listed} what no longer works there", text
        return {
            code: (words, text)
            for code, (words, text) in found.items()
            if not fresh_errors(self.draft, read_draft(text, self.file.path))
        }

    def step(self, back: bool) -> None:
        """Undo or redo a step if there is one."""
        here, there = (self.undo, self.redo) if back else (self.redo, self.undo)
        if here:
            what, text = here.pop()
            there.append((what, self.draft.text))
            self._show(text)

    def save(self, *, over: str | None = None) -> None:
        """Write the text to the file.

        Parameters
        ----------
        over
            Digest of the newer content on disk that the user chose to overwrite, or None.

        Raises
        ------
        NewerOnDisk
            If the file has changed since it was read.
        """
        text = self.draft.text
        self.on_disk = self.file.write(text, seen=over or self.on_disk)
        self.saved_text = text

    def load(self) -> None:
        """Read the file again; undo brings the current text back."""
        text, digest = self.file.read()
        self.set_text("load the file", text)
        self.on_disk, self.saved_text = digest, text

    def _show(self, text: str) -> None:
        self.draft = read_draft(text, self.file.path)
        self.last_valid = self.draft if self.draft.house is not None else self.last_valid
        self.revision += 1


def open_session(file: HouseFile) -> Session:
    """A session on a file, or on an empty house if there is no file yet.

    Raises
    ------
    InputError
        If the file cannot be read as text.
    """
    text, digest = file.read()
    saved = text
    if digest == ABSENT or not text.strip():
        text = EMPTY.format(name=file.path.stem.replace("_", " ").capitalize() or "House")
    return Session(file, read_draft(text, file.path), digest, saved)


def apply_changes(text: str, changes: Sequence[dict[str, Any]]) -> str:
    """The text after some changes, each a map with ``path`` and one of ``add``, ``set``, ``rename``,
    ``remove`` or ``forget``.

    Raises
    ------
    InputError
        If a path does not exist or a name is taken.
    """
    for change in changes:
        path = tuple(change["path"])
        if not path or not all(isinstance(p, (str, int)) and not isinstance(p, bool) for p in path):
            raise InputError([InvalidValue(key_text(path), "no path", "keys from the top of the file")])
        if "add" in change:
            text = added_to_section(text, str(path[0]), str(path[1]), change["add"])
        elif "set" in change:
            text = set_value(text, path, change["set"])
        elif "rename" in change and len(path) == 2 and path[0] in SECTIONS:
            text = renamed(text, str(path[0]), str(path[1]), str(change["rename"]).strip())
        elif change.get("forget") and len(path) == 2 and path[0] in SECTIONS:
            text = removed_with_mentions(text, str(path[0]), str(path[1]))
        elif change.get("remove"):
            text = removed(text, path)
        else:
            raise InputError([InvalidValue(key_text(path), "an unknown change", "add, set, rename, remove or forget")])
    return text


def without_invalid_parts(text: str, errors: Sequence[InvalidValue]) -> str:
    """The text without the parts of scenarios that have errors: fans and named openings.

    Parameters
    ----------
    text
        The house file.
    errors
        With keys such as ``scenarios > night > fans > first > setback``.
    """
    paths: set[tuple[str | int, ...]] = set()
    for error in errors:
        parts = error.key.split(" > ")
        if len(parts) > 3 and parts[2] == "fans":
            paths.add((*parts[:3], item_number(parts[3])))
        elif len(parts) > 2:
            paths.add(tuple(parts[:4]))
    # From the back, so that the numbers of list items in front stay right.
    for path in sorted(paths, key=str, reverse=True):
        only = path[2] == "fans" and len(parse_yaml(text).data["scenarios"][path[1]].get("fans") or ()) == 1
        text = set_value(text, path[:3], []) if only else removed(text, path)
    return text


def item_number(word: str) -> int:
    """The index of a list item by the word that `ventplan.house.yaml_text.key_text` has for it."""
    return next((i for i in range(200) if key_text((i,)) == word), 0)
