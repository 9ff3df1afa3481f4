"""Every invalid or unlikely value has an error or a remark."""

from __future__ import annotations

from pathlib import Path

import pytest
from ruamel.yaml import YAML

from ventplan.errors import InputError
from ventplan.house import parse_house

DATA = YAML(typ="safe").load((Path(__file__).parent / "nonsense.yaml").read_text("utf-8"))
HOUSE: str = DATA["house"]


def answers(text: str) -> tuple[str, ...]:
    try:
        return parse_house(text).remarks
    except InputError as error:
        return tuple(map(str, error.errors))


def test_the_house_itself_is_read_without_a_remark() -> None:
    assert answers(HOUSE) == ()


@pytest.mark.parametrize(("there", "instead", "said"), DATA["cases"], ids=[f"{c[1][:60]}" for c in DATA["cases"]])
def test_nonsense_is_answered_with_what_is_allowed(there: str, instead: str, said: str) -> None:
    assert HOUSE.count(there) == 1, there
    answered = answers(HOUSE.replace(there, instead))
    assert any(said in answer for answer in answered), answered
