"""YAML text as plain data that remembers where everything stood, and values written back without touching the rest.

YAML 1.2 as ``ruamel.yaml`` parses it: ``no`` and ``on`` are words, not truth values. The tree of nodes is enough:
it carries the places, and is several times faster to make than the round-trip types.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

from ventplan.errors import InputError, InvalidValue
from ventplan.house.yaml_syntax import MOST_CHARACTERS, MOST_VALUES, compose
from ventplan.text import has_control_characters, printable

Path_ = tuple[str | int, ...]
Place = tuple[int, int]

NULLS = frozenset(("", "~", "null", "Null", "NULL"))
TRUTHS = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
WHOLE = re.compile(r"[-+]?\d{1,300}")
REAL = re.compile(r"[-+]?(?:\.\d+|\d+(?:\.\d*)?)(?:[eE][-+]?\d+)?")
MOST_ERRORS = 200
"""Errors that are listed at once; a file with more is not read to its end."""
MOST_FILES = 1000
"""Files of a folder among which the nearest name is looked for."""
PLAIN_TAGS = frozenset(
    f"tag:yaml.org,2002:{word}"
    for word in ("map", "seq", "str", "int", "float", "bool", "null", "timestamp", "merge", "value")
) | {"!"}


def key_text(path: Path_) -> str:
    """A key path as people read it: ``openings > hall door > size > second``."""
    words = ["first", "second", "third", "fourth"]
    parts = [p if isinstance(p, str) else words[p] if p < len(words) else f"number {p + 1}" for p in path]
    return " > ".join(str(p) for p in parts) or "the file"


@dataclass
class Source:
    """A parsed file: its data, and the place of every key and value.

    Attributes
    ----------
    data
        Maps, lists and scalars.
    keys, values
        (line, column) of each key and each value, counted from 1, by path.
    errors
        What was wrong with the text itself, such as a key that stands twice.
    """

    file: str
    data: Any = None
    keys: dict[Path_, Place] = field(default_factory=dict)
    values: dict[Path_, Place] = field(default_factory=dict)
    errors: list[InvalidValue] = field(default_factory=list)

    def place(self, path: Path_, at_key: bool = False) -> Place:
        """Where a path stands, or the nearest thing above it that does."""
        while path:
            here = (self.keys.get(path) if at_key else None) or self.values.get(path) or self.keys.get(path)
            if here:
                return here
            path = path[:-1]
        return (1, 1)

    def report(self, path: Path_, found: str, allowed: str, hint: str = "", *, at_key: bool = False) -> None:
        """Note an error at a path.

        Raises
        ------
        InputError
            With the errors so far where there are too many to go on.
        """
        line, column = self.place(path, at_key)
        error = InvalidValue(key_text(path), found, allowed, hint, self.file, line, column)
        self.errors.append(_in_us_units(error, self.plain_numbers(path)) if self.shows_us_units else error)
        if len(self.errors) > MOST_ERRORS:
            rest = InvalidValue("the file", f"more than {MOST_ERRORS} errors", "none", "Correct these first", self.file)
            raise InputError([*self.in_order()[:MOST_ERRORS], rest])

    def in_order(self) -> list[InvalidValue]:
        """The errors in file order, each once, in the units that the file asks for."""
        return sorted(dict.fromkeys(self.errors), key=lambda m: (m.line or 0, m.column or 0))

    def plain_numbers(self, path: Path_) -> list[float]:
        """Numbers without a unit at a path, alone or in a list or map there; zero is the same in most units."""
        here = self.data
        for part in path:
            inside = here.get(part) if isinstance(here, dict) else None
            if isinstance(here, list) and isinstance(part, int) and part < len(here):
                inside = here[part]
            here = inside
        parts = list(here.values()) if isinstance(here, dict) else here if isinstance(here, list) else [here]
        return [float(one) for one in parts if isinstance(one, (int, float)) and not isinstance(one, bool) and one]

    @property
    def shows_us_units(self) -> bool:
        """Whether the file asks for US customary units."""
        return isinstance(self.data, dict) and self.data.get("show") == "us"


UNIT_TO_WRITE = {"m": "ft", "°C": "°F", "m/s": "mph", "m³/s": "cfm", "N": "gf"}
"""The US customary unit that a number without a unit was probably meant in, by the SI unit that it was read in."""


def _in_us_units(error: InvalidValue, plain: Sequence[float]) -> InvalidValue:
    from ventplan.house.units import in_us_units

    wind = "wind" in error.key
    found, allowed, hint = (in_us_units(text, wind=wind) for text in (error.found, error.allowed, error.hint))
    if plain:
        found = in_us_units(error.found, wind=wind, plain=plain)
        read_as = re.search(r"([-\d.e+]+), read as \S+ (\S+)", found)
        if read_as is not None and read_as[2] in UNIT_TO_WRITE:
            hint = f"Write {read_as[1]} {UNIT_TO_WRITE[read_as[2]]}" + (
                f" or {read_as[1]} in" if read_as[2] == "m" else ""
            )
    # A guess at another unit counts from metres; in inches it is none that the reader could have meant.
    return replace(
        error,
        found=found,
        allowed=allowed,
        hint=re.sub(r" or [\d.]+ m3/h\?", "?", re.sub(r"\s*Is it [\d.]+ in\?", "", hint)),
    )


def read_text(path: str | Path) -> str:
    """The text of a file.

    Raises
    ------
    InputError
        If the file is missing, is a folder, cannot be read, or is no text.
    """
    name = str(path)

    def failed(found: str, hint: str = "", line: int | None = None) -> InputError:
        return InputError([InvalidValue("the file", found, "a text file in YAML, encoded in UTF-8", hint, name, line)])

    try:
        with open(path, "rb") as stream:
            raw = stream.read(4 * MOST_CHARACTERS + 1)
    except FileNotFoundError:
        there = [p.name for p in sorted(Path(path).parent.glob("[!.]*.y*ml"))[:MOST_FILES]]
        near = sorted(there, key=lambda one: -SequenceMatcher(None, one.lower(), Path(path).name.lower()).ratio())[:5]
        hint = f"In that folder there is: {', '.join(near)}" if near else "Check the name and the folder"
        raise failed("no such file", hint) from None
    except IsADirectoryError:
        raise failed("a folder", "Name the file in it") from None
    except (OSError, ValueError) as error:
        raise failed(f"a file that cannot be read ({getattr(error, 'strerror', None) or 'bad name'})") from None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise failed("bytes that are not text", "Save it as plain text in UTF-8", line) from None


def parse_yaml(text: str, file: str = "") -> Source:
    """YAML text to data with places.

    Raises
    ------
    InputError
        If the text is not YAML; doubled keys and odd tags are collected in ``Source.errors`` instead.
    """
    source = Source(file)
    node = compose(text, file)
    if node is None:
        return source
    source.data = Builder(source).build(node, ())
    return source


class Builder:
    """Walks the nodes once; remembers places; refuses loops."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.open_nodes: set[int] = set()
        self.count = 0

    def build(self, node: Any, path: Path_) -> Any:
        """The plain value of a node."""
        mark = node.start_mark
        self.source.values[path] = (mark.line + 1, mark.column + 1)
        self.count += 1
        if id(node) in self.open_nodes or self.count > MOST_VALUES:
            self.source.report(path, "an alias (*) that contains itself, or repeats very much", "plain values")
            return None
        if node.tag is not None and str(node.tag) not in PLAIN_TAGS:
            self.source.report(path, f"the tag {str(node.tag)[:40]}", "a value without a tag")
            return None
        self.open_nodes.add(id(node))
        try:
            if node.id == "mapping":
                return dict(self.pairs(node, path))
            if node.id == "sequence":
                return [self.build(child, (*path, i)) for i, child in enumerate(node.value)]
            return self.scalar(node, path)
        finally:
            self.open_nodes.discard(id(node))

    def pairs(self, node: Any, path: Path_) -> Iterator[tuple[str, Any]]:
        """Keys and values of a map; a key that stands twice is an error."""
        seen: dict[str, int] = {}
        for key_node, value_node in node.value:
            line, column = key_node.start_mark.line + 1, key_node.start_mark.column + 1
            if key_node.id != "scalar":
                self.source.values[(*path, "?")] = (line, column)
                self.source.report((*path, "?"), "a map or list as a key", "a name as a key")
                continue
            key = printable(str(key_node.value))
            inner = (*path, key)
            if has_control_characters(str(key_node.value)):
                self.source.keys[inner] = (line, column)
                self.source.report(inner, "a control character in the name", "letters, digits and signs", at_key=True)
            if key in seen:
                self.source.keys[inner] = (line, column)
                hint = f"The other one is on line {seen[key]}"
                self.source.report(inner, f'"{key[:40]}" a second time', "each name once", hint, at_key=True)
                continue
            seen[key] = line
            self.source.keys[inner] = (line, column)
            yield key, self.build(value_node, inner)

    def scalar(self, node: Any, path: Path_) -> Any:
        """A scalar by the YAML 1.2 core schema; quoted text stays text."""
        text = printable(node.value)
        if text != node.value:
            self.source.report(path, "a control character in the text", "letters, digits and signs")
        if node.style in ("'", '"', "|", ">"):
            return text
        if text in NULLS:
            return None
        if text in TRUTHS:
            return TRUTHS[text]
        if WHOLE.fullmatch(text):
            return int(text)
        return float(text) if REAL.fullmatch(text) else text


PLAIN = re.compile(r"[^\W\d_][\w °³²./%-]*|[-+]?\d[\w °³²./%-]*")
WORDS_OF_YAML = frozenset(("null", "true", "false", "~"))


def set_value(text: str, key_path: Sequence[str | int], value: Any) -> str:
    """The text with one value set; maps on the way that are missing are made.

    A round trip through ``ruamel.yaml`` was tried: it keeps comments, and realigns 8 to 62 lines of each example.

    What stands at the path is replaced; what does not is put behind its brothers, in brackets if they are in brackets.

    Parameters
    ----------
    text
        The house file.
    key_path
        Keys from the top, such as ``("fans", "box fan", "flow")``; whole numbers pick items of lists, and the number of
        items adds one.
    value
        Text, number, yes/no, list or map.

    Raises
    ------
    InputError
        If the text is no YAML, or the path leads through something that is no map or list.
    """
    path = tuple(key_path)
    if not path:
        raise InputError([InvalidValue("the file", "an empty key path", "at least one key")])
    node = compose(text, "")
    for depth, part in enumerate(path):
        if node is not None and is_nothing(node):
            return replaced(text, node, nested(path[depth:], value))
        child = None if node is None else step(node, part, path[: depth + 1])
        if child is None:
            return added(text, node, path[depth:], value)
        node = child
    return replaced(text, node, value)


def step(node: Any, part: str | int, path: tuple[str | int, ...]) -> Any:
    """The child of a node, or None where it may be added.

    Raises
    ------
    InputError
        If there can be none.
    """
    if node.id == "mapping":
        return next((v for k, v in node.value if k.id == "scalar" and str(k.value) == str(part)), None)
    if node.id == "sequence" and isinstance(part, int) and 0 <= part <= len(node.value):
        return node.value[part] if part < len(node.value) else None
    raise InputError([InvalidValue(key_text(path), "nothing there", "a path through maps and lists of the file")])


def is_nothing(node: Any) -> bool:
    """True for a key without a value."""
    return bool(node.id == "scalar" and node.style not in ("'", '"', "|", ">") and node.value in ("", "~", "null"))


def nested(path: tuple[str | int, ...], value: Any) -> Any:
    """The value inside maps for the keys that lead to it."""
    for part in reversed(path):
        value = {part: value}
    return value


def replaced(text: str, node: Any, value: Any) -> str:
    """The text with a node's own text replaced."""
    start = offset(text, node.start_mark)
    new = flow_text(value)
    if node.id == "scalar" and node.style not in ("|", ">"):
        end = offset(text, node.end_mark)
        space = "" if end > start or text[start - 1 : start] == " " else " "
        return f"{text[:start]}{space}{new}{text[end:]}"
    if node.flow_style:
        end = offset(text, node.end_mark)
        return f"{text[:start]}{new}{text[end:]}"
    end = content_end(text, node)
    key_end = len(text[:start].rstrip())
    return text[:key_end] + f" {new}" + text[end:]


def added(text: str, node: Any, path: tuple[str | int, ...], value: Any) -> str:
    """The text with a new key or item behind the last one of a map or list."""
    value = nested(path[1:], value)
    is_list = node is not None and node.id == "sequence"
    entry = flow_text(value) if is_list else f"{scalar_text(path[0])}: {flow_text(value)}"
    if node is None:
        return text + ("" if not text or text.endswith("\n") else "\n") + entry + "\n"
    if node.flow_style:
        end = offset(text, node.end_mark) - 1
        kept: str = text[:end].rstrip() if node.value and "#" not in text[:end].rsplit("\n", 1)[-1] else text[:end]
        return kept + (", " if node.value else "") + entry + text[end:]
    end = text.find("\n", content_end(text, node))
    end = len(text) if end < 0 else end
    indent = " " * node.start_mark.column + ("- " if is_list else "")
    return f"{text[:end]}\n{indent}{entry}{text[end:]}"


def content_end(text: str, node: Any) -> int:
    """Where the last scalar or bracket of a node ends in the text."""
    while node.id != "scalar" and not node.flow_style and node.value:
        node = node.value[-1][1] if node.id == "mapping" else node.value[-1]
    end = offset(text, node.end_mark)
    if node.id == "scalar" and node.style in ("|", ">"):
        end = len(text[:end].rstrip())
    return end


def flow_text(value: Any) -> str:
    """A value as YAML writes it on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{scalar_text(k)}: {flow_text(v)}" for k, v in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(flow_text(v) for v in value) + "]"
    return scalar_text(value)


def scalar_text(value: Any) -> str:
    """A scalar as YAML writes it; text that could be read as something else is quoted."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return repr(value)
    word = str(value)
    if PLAIN.fullmatch(word) and word.lower() not in WORDS_OF_YAML and word == word.strip():
        return word
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
    return f'"{escaped}"'


def offset(text: str, mark: Any) -> int:
    """Position in the text of a mark (line and column, both counted from 0)."""
    start = 0
    for _ in range(mark.line):
        found = text.find("\n", start)
        if found < 0:
            return len(text)
        start = found + 1
    return min(start + int(mark.column), len(text))
