"""``rank``: the order asked for, the reader's units, and a picture when asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from measuring import CAMPAIGN, answer, say

from ventplan.errors import InputError


def test_rank_draws_only_when_asked(tmp_path: Path) -> None:
    picture = tmp_path / "rank.png"
    result = answer("rank", str(CAMPAIGN / "cottage.yaml"), "-o", str(picture))
    assert result["fans"][0]["name"] == "circulator"
    assert picture.stat().st_size > 1000


def test_rank_puts_fans_in_the_order_asked_for() -> None:
    orders = {
        by: [fan["name"] for fan in answer("rank", str(CAMPAIGN.parent / "bungalow.yaml"), "--by", by)["fans"]]
        for by in ("flow", "thrust", "watt")
    }
    assert orders["flow"] == orders["thrust"] == ["pedestal", "box fan", "circulator"]
    assert orders["watt"] == ["pedestal", "circulator", "box fan"]


def test_rank_refuses_a_file_that_is_no_picture() -> None:
    with pytest.raises(InputError, match=r"\.svg, \.png or \.pdf"):
        say("rank", str(CAMPAIGN / "cottage.yaml"), "-o", "rank.txt")


def test_rank_prints_the_units_asked_for_in_80_columns() -> None:
    us = say("rank", str(CAMPAIGN / "cottage.yaml"), "--show", "us")
    assert "gf/W" in us
    assert "3 ft 3 in x 3 ft 7 in" in us
    for word in ("mN/W", " m ", "1.0 x 1.1"):
        assert word not in us
    lines = say("rank", str(CAMPAIGN / "cottage.yaml")).splitlines()
    assert lines[0].startswith("circulator moves")
    assert lines[3].split()[0] == "circulator"
    assert "63 mN/W" in lines[3]
    assert lines[4].startswith("- ")
    assert max(map(len, lines)) <= 80


def test_rank_says_which_fans_a_choice_by_power_or_noise_leaves_out() -> None:
    said = " ".join(say("rank", str(CAMPAIGN / "cottage.yaml")).split())
    assert "No sound in the house file: circulator." in said
    assert "No power" not in said
