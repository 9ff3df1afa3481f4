"""From YAML text to its tree of nodes, within limits of size and depth; syntax errors as plain sentences."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from ventplan.errors import InputError, InvalidValue

MOST_CHARACTERS, MOST_VALUES, MOST_LEVELS = 2_000_000, 60_000, 20
"""Limits of a file: characters, keys and values together, and maps or lists inside one another."""

PHRASES: tuple[tuple[str, str, str], ...] = (
    (r"found undefined alias '(?P<what>.*?)'", "*{what}, a reference to something that the file does not define",
     "A text that begins with * needs quotes"),
    (r"expected chomping", "text behind a | or >", "Write it on the next line, or in quotes"),
    (r"but found another document", "a second document, which begins with ---",
     "A file describes one house: remove the line with ---"),
    (r"expected ',' or '\]'", "a bracket [ that is not closed, or a comma that is missing",
     "Close it with ], and put commas between the items"),
    (r"expected ',' or '\}'", "a brace {{ that is not closed, or a comma that is missing",
     "Close it with }}, and put commas between the entries"),
    (r"expected '<document start>', but found \('(?P<what>[\]}}])", "a {what} that closes nothing", "Remove it"),
    (r"expected <block end>, but found '(?P<what>[\]}}])'", "a {what} that closes nothing", "Remove it"),
    (r"found unexpected end of stream", "a quotation mark that is not closed", "Close it on the same line"),
    (r"found unknown escape character '(?P<what>.*?)'", "\\{what} between double quotes",
     "Write single quotes: nothing is special between them"),
    (r"found character '(?P<what>\\?.)' that cannot start", "a text that begins with {what}",
     "A text that begins with %, @ or ` needs quotes"),
    (r"found unexpected ':'", "a colon where none can stand", "A text with a colon in it needs quotes"),
    (r"mapping values are not allowed", "a colon where none can stand",
     "A text with a colon in it needs quotes; otherwise check the indent and the line above"),
    (r"could not find expected ':'", "a line without a colon", "Write key: value"),
    (r"expected the node content, but found '(?P<what>.)'", "a {what} where a value should stand",
     "Remove one of the commas, or write the value that is missing"),
    (r"expected <block end>", "a line that does not line up with those above it",
     "Give the keys of one map the same indent; a text with quotation marks inside needs quotes of the other kind"),
    (r"'<document start>'", "something before the first key", "A text that begins with %, * or & needs quotes"),
)  # fmt: skip
"""What the parser says, what it means, and what to do."""
NODE_KINDS = {
    "ScalarEvent": "scalar",
    "MappingStartEvent": "mapping",
    "SequenceStartEvent": "sequence",
    "AliasEvent": "",
}
"""Events of a parser that begin a node, and what kind of node."""


@dataclass
class Node:
    """One scalar, map or list of a YAML text, and where it stands.

    Attributes
    ----------
    id
        What it is: ``scalar``, ``mapping`` or ``sequence``.
    value
        Text; pairs of a key and a value; or items.
    start_mark, end_mark
        Line and column of its first character, and of the one behind its last, counted from 0.
    """

    id: str
    value: Any
    start_mark: Any
    end_mark: Any
    tag: str | None = None
    style: str | None = None
    flow_style: bool = False


def compose(text: str, file: str) -> Any:
    """The tree of nodes of a YAML text, None for an empty one.

    Raises
    ------
    InputError
        Where it is too large, too deep, or no YAML.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    if len(text) > MOST_CHARACTERS:
        raise _error(f"{len(text)} characters", f"at most {MOST_CHARACTERS}", file)
    _refuse_tabs(text, file)
    try:
        try:
            return _tree(YAML(typ="safe").parse(text), file)
        except InputError:
            raise
        except Exception:  # the fast parser words its errors less well: ask the other one
            return _tree(YAML(typ="safe", pure=True).parse(text), file)
    except InputError:
        raise
    except YAMLError as error:
        raise InputError([_syntax_error(error, text, file)]) from None
    except Exception as error:  # ruamel's scanner lets a few plain errors through on junk
        raise _error(f"text that is not YAML ({type(error).__name__})", "YAML: key: value", file) from None


def _tree(events: Iterable[Any], file: str) -> Node | None:
    """The tree of nodes from the events of a parser.

    Not with the composer of ``ruamel.yaml``, which recurses into every level, so that a depth of brackets can exhaust
    the stack, and which takes half the time to read a house for tags of plain scalars that nobody asks for.
    """
    from ruamel.yaml.composer import ComposerError

    root: Node | None = None
    inside: list[Node] = []
    anchors: dict[str, Node] = {}
    documents = values = 0
    for event in events:
        kind = type(event).__name__
        if kind == "DocumentStartEvent":
            documents += 1
            if documents > 1:
                raise ComposerError(None, None, "but found another document", event.start_mark)
        elif kind in ("MappingEndEvent", "SequenceEndEvent"):
            ended = inside.pop()
            ended.end_mark = event.end_mark
            if ended.id == "mapping":
                ended.value = list(zip(ended.value[::2], ended.value[1::2], strict=True))
        elif kind in NODE_KINDS:
            values += 1
            if values > MOST_VALUES or len(inside) >= MOST_LEVELS:
                found, allowed = f"more than {MOST_LEVELS} levels of maps and lists inside one another", "a few levels"
                if values > MOST_VALUES:
                    found, allowed = f"more than {MOST_VALUES} keys and values", "a house of at most about 2000 rooms"
                raise _error(found, allowed, file, "", event.start_mark.line + 1)
            if kind == "AliasEvent":
                if event.anchor not in anchors:
                    raise ComposerError(None, None, f"found undefined alias {event.anchor!r}", event.start_mark)
                node = anchors[event.anchor]
            else:
                scalar = kind == "ScalarEvent"
                node = Node(
                    NODE_KINDS[kind],
                    event.value if scalar else [],
                    event.start_mark,
                    event.end_mark,
                    event.tag,
                    event.style if scalar else None,
                    not scalar and event.flow_style,
                )
                if event.anchor is not None:
                    anchors[event.anchor] = node
            if inside:
                inside[-1].value.append(node)
            else:
                root = node
            if kind in ("MappingStartEvent", "SequenceStartEvent"):
                inside.append(node)
    return root


def _error(found: str, allowed: str, file: str, hint: str = "", line: int | None = None) -> InputError:
    return InputError([InvalidValue("the file", found, allowed, hint, file, line, 1 if line else None)])


def _refuse_tabs(text: str, file: str) -> None:
    if "\t" not in text:
        return
    tabs = [i for i, line in enumerate(text.splitlines(), 1) if re.match(r" *\t\s*[^\s#]", line)]
    errors = [
        InvalidValue("the file", "a tab at the start of the line", "spaces", "Replace tabs by spaces", file, i, 1)
        for i in tabs[:100]
    ]
    if errors:
        raise InputError(errors)


def _syntax_error(error: Any, text: str, file: str) -> InvalidValue:
    """One plain sentence about a syntax error."""
    problem = getattr(error, "problem", None) or "a character that YAML does not allow"
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    if "expected ',' or" in problem or "unexpected end of stream" in problem:
        mark = getattr(error, "context_mark", None) or mark
    line = column = None
    if mark is not None:
        line, column = mark.line + 1, mark.column + 1
    elif isinstance(getattr(error, "position", None), int):
        line = text[: error.position].count("\n") + 1
    lines = text.splitlines()
    here = lines[line - 1].strip()[:60] if line and line <= len(lines) else ""
    found = re.sub(r"^(but )?found ", "", problem)
    hint = "Check the colons (a space after each), the brackets and the indent on this line and the one above"
    for pattern, phrase, remedy in PHRASES:
        match = re.search(pattern, problem)
        if match:
            found, hint = phrase.format(**match.groupdict()), remedy.replace("}}", "}")
            break
    found += f", near: {here}" if here else ""
    return InvalidValue("the file", found, "YAML: key: value, with spaces for the indent", hint, file, line, column)
