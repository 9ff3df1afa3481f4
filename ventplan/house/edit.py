"""Write a value into a house file and leave every other character as it is: comments, order and layout."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from ventplan.errors import InputError, Mistake
from ventplan.house.yaml_text import compose, key_text

PLAIN = re.compile(r"[^\W\d_][\w °³²./%-]*|[-+]?\d[\w °³²./%-]*")
WORDS_OF_YAML = frozenset(("null", "true", "false", "~"))


def set_value(text: str, key_path: Sequence[str | int], value: Any) -> str:
    """The text with one value set; maps on the way that are missing are made.

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
        raise InputError([Mistake("the file", "an empty key path", "at least one key")])
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
    raise InputError([Mistake(key_text(path), "nothing there", "a path through maps and lists of the file")])


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
