"""One reading of a house file: what its steps share, and each map of the file as its ``pydantic`` model."""

from __future__ import annotations

import re
import typing
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn, TypeVar

from pydantic import BaseModel, ValidationError

from ventplan.house.fields import listed, nearest
from ventplan.house.records import Fan, Obstacle, Opening, Outdoors, PersonAt, Room
from ventplan.house.schema import FileSpec, OpeningSpec
from ventplan.house.units import describe
from ventplan.house.yaml_text import Path_, Source


@dataclass
class Assumed:
    """Defaults that were used: one sentence each, with the names that share it."""

    names: dict[str, list[str]] = field(default_factory=dict)
    of: dict[str, str] = field(default_factory=dict)

    def note(self, sentence: str, name: str = "", of: str = "") -> None:
        """Note a default; ``of`` is the section the name stands in, such as ``rooms``."""
        here = self.names.setdefault(sentence, [])
        self.of[sentence] = of
        if name:
            here.append(name)

    def sentences(self, totals: dict[str, int]) -> tuple[str, ...]:
        """Every default as a sentence, shared by as many names as there are."""
        result = []
        for sentence, names in self.names.items():
            of = self.of[sentence]
            if not names:
                result.append(sentence)
            elif len(names) > 2 and len(names) == totals.get(of):
                result.append(f"{sentence} for all {of}")
            elif len(names) > 8:
                result.append(f"{sentence} for {', '.join(names[:6])} and {len(names) - 6} more")
            else:
                result.append(f"{sentence} for {', '.join(names)}")
        return tuple(result)


class Refused(Exception):
    """What is read here has an error that is noted, so that nothing can be made of it."""


MOST_NAMES = {"rooms": 2000, "openings": 6000, "fans": 500}
"""How many things of a kind a file may name; 2000 of any other."""


@dataclass
class Reading:
    """One reading of one file."""

    source: Source
    folder: Path
    spec: FileSpec
    names: dict[str, dict[str, Any]]
    assumed: Assumed = field(default_factory=Assumed)
    rooms: dict[str, Room] = field(default_factory=dict)
    near: dict[str, dict[str, Room]] = field(default_factory=dict)
    """For each room, those that stand beside, above or below it."""
    unplaced: dict[str, Room] = field(default_factory=dict)
    """Rooms whose place on the plan has an error and whose height has none: good for checks of height only."""
    clockwise: set[str] = field(default_factory=set)
    openings: dict[str, Opening] = field(default_factory=dict)
    opening_specs: dict[str, OpeningSpec] = field(default_factory=dict)
    obstacles: dict[str, Obstacle] = field(default_factory=dict)
    people_at: dict[str, PersonAt] = field(default_factory=dict)
    fans: dict[str, Fan] = field(default_factory=dict)
    outdoors: Outdoors = field(default_factory=Outdoors)
    remarks: list[str] = field(default_factory=list)

    def report(
        self, path: Iterable[str | int], found: str, allowed: str, hint: str = "", *, at_key: bool = False
    ) -> None:
        """Note an error; ``at_key`` places it at the key instead of the value."""
        self.source.report(tuple(path), found, allowed, hint, at_key=at_key)

    def refuse(
        self, path: Iterable[str | int], found: str, allowed: str, hint: str = "", *, at_key: bool = False
    ) -> NoReturn:
        """Note an error, and end the reading of what has it.

        Raises
        ------
        Refused
            Always.
        """
        self.report(path, found, allowed, hint, at_key=at_key)
        raise Refused

    def remark(self, sentence: str) -> None:
        """Note something that is possible but unlikely; each remark once."""
        if sentence not in self.remarks:
            self.remarks.append(sentence)

    def section(self, key: str, of_what: str) -> dict[str, Any]:
        """A map of named things at the top of the file, nothing as an empty one; anything else is noted."""
        value = self.source.data.get(key)
        if value is None:
            return {}
        if not isinstance(value, dict):
            self.report((key,), describe(value), f"a map: {of_what}")
            return {}
        for name in value:
            if not name.strip() or len(name) > 100:
                found = "an empty name" if not name.strip() else f"a name of {len(name)} letters"
                self.report((key, name), found, f"a name of 1 to 100 letters: {of_what}")
        if len(value) > MOST_NAMES.get(key, 2000):
            self.report((key,), f"{len(value)} {key}", f"at most {MOST_NAMES.get(key, 2000)}")
            return {}
        return value


DIGITS_FIRST = re.compile(r"\d+(?:\D|$)")
Model = TypeVar("Model", bound=BaseModel)


def validate(
    source: Source, path: Path_, data: Any, model: type[Model], names: Mapping[str, Mapping[str, Any]]
) -> Model | None:
    """The map at a path as its model, or None after noting every error in it.

    Parameters
    ----------
    source
        The file, which keeps the errors.
    path
        Where the map stands in it.
    data
        The map.
    model
        What it should be.
    names
        What names may be referred to, by kind (``rooms``, ``openings``, ...).
    """
    if data is None:
        data = {}
    if not isinstance(data, dict):
        source.report(path, describe(data), f"a map with keys such as {listed(key_words(model), 8)}")
        return None
    data = with_commas(source, path, data)
    try:
        return model.model_validate(data, context=names)
    except ValidationError as error:
        for problem in error.errors(include_url=False):
            report(source, path, model, dict(problem))
        return None


def without_errors(
    data: Any, model: type[Model], names: Mapping[str, Mapping[str, Any]], apart: Collection[str]
) -> Model | None:
    """A map that has errors as its model, without the keys that have them; None where any of those is not among
    ``apart``, the keys that what is to be checked still does not depend on."""
    if not isinstance(data, dict):
        return None
    try:
        return model.model_validate(data, context=names)
    except ValidationError as error:
        wrong = {problem["loc"][0] if problem["loc"] else "" for problem in error.errors(include_url=False)}
    if not wrong <= set(apart):
        return None
    try:
        return model.model_validate({key: value for key, value in data.items() if key not in wrong}, context=names)
    except ValidationError:
        return None


def with_commas(source: Source, path: Path_, data: dict[str, Any]) -> dict[str, Any]:
    """A map whose numbers have their decimal commas back, each noted as an error.

    Notes
    -----
    Braces and brackets split at a comma: ``{flow: 900,5 m3/h}`` is a flow of 900 and a key ``5 m3/h`` without a value.
    """
    joined: dict[str, Any] = {}
    last: str | None = None
    for key, value in data.items():
        before = joined.get(last) if last is not None else None
        whole = isinstance(before, int) and not isinstance(before, bool)
        if last is not None and whole and value is None and DIGITS_FIRST.match(key):
            joined[last] = f"{before}.{key}"
            source.report(
                (*path, last),
                f'"{before},{key}", which the comma splits in two',
                f'a decimal point, {before}.{key}; or quotes, "{before},{key}"',
                "Inside braces and brackets a comma begins the next entry",
            )
            continue
        joined[key] = with_commas(source, (*path, key), value) if isinstance(value, dict) else value
        last = key
    return joined


def key_words(model: type[BaseModel]) -> list[str]:
    """The keys of a model as the file writes them."""
    return [field.alias or name for name, field in model.model_fields.items()]


def report(source: Source, path: Path_, model: type[BaseModel], problem: dict[str, Any]) -> None:
    """Turn one complaint of ``pydantic`` into an error."""
    loc: Path_ = tuple(problem["loc"])
    at_key = bool(loc) and loc[-1] == "[key]"
    loc = loc[:-1] if at_key else loc
    full, kind = (*path, *loc), problem["type"]
    found, context = describe(problem.get("input")), problem.get("ctx", {})
    if kind == "error":
        source.report(full, context["found"], context["allowed"], context["hint"], at_key=at_key)
    elif kind == "extra_forbidden":
        words = key_words(inner_model(model, loc[:-1]) or model)
        hint = nearest(loc[-1], words)
        if not hint and problem.get("input") is None:
            hint = "A text with a comma inside braces needs quotes"
        source.report(full, "an unknown key", listed(words, 40), hint, at_key=True)
    elif kind == "missing":
        owner = inner_model(model, loc[:-1]) or model
        wanted = next((f for n, f in owner.model_fields.items() if loc[-1] in (n, f.alias)), None)
        allowed = (wanted.description if wanted else None) or "a value"
        source.report(full[:-1], f"no {loc[-1]}", f"{loc[-1]}: {allowed}", at_key=True)
    elif kind in ("model_type", "model_attributes_type", "dict_type"):
        inner = inner_model(model, loc)
        words_text = listed(key_words(inner), 10) if inner else "names"
        source.report(full, found, f"a map with keys such as {words_text}")
    elif kind in ("list_type", "tuple_type"):
        source.report(full, found, "a list in square brackets")
    else:
        source.report(full, found, problem["msg"])


def inner_model(model: type[BaseModel], loc: Path_) -> type[BaseModel] | None:
    """The model of the map at a path inside another, or None."""
    here: type[BaseModel] | None = model
    for part in loc:
        if here is None:
            return None
        if isinstance(part, int):
            continue
        field = next((f for n, f in here.model_fields.items() if part in (n, f.alias)), None)
        if field is None:
            continue
        here = model_in(field.annotation)
    return here


def model_in(annotation: Any) -> type[BaseModel] | None:
    """The first model inside an annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((m for a in typing.get_args(annotation) if (m := model_in(a))), None)
