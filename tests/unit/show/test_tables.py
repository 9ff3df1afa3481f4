"""Tables give the words room before they break them."""

from __future__ import annotations

import pytest

from ventplan.show.tables import WIDTH, table


def printed(words: int, numbers: int) -> list[str]:
    from rich.console import Console

    screen = Console(width=WIDTH, file=None)
    heads = ("opening", "goes", *("net" for _ in range(numbers)))
    row = ("w" * words, "to the stairs", *("1.00" for _ in range(numbers)))
    with screen.capture() as caught:
        screen.print(table("", heads, [row], words=2))
    return [line.rstrip() for line in caught.get().splitlines()]


@pytest.mark.parametrize(("words", "numbers", "gap"), [(20, 3, 3), (28, 6, 2), (32, 6, 1)])
def test_columns_move_together_before_words_are_broken(words: int, numbers: int, gap: int) -> None:
    lines = printed(words, numbers)
    assert len(lines) == 3
    assert max(map(len, lines)) <= WIDTH
    assert lines[2].endswith(("1.00" + " " * gap) * (numbers - 1) + "1.00")


def test_what_cannot_fit_is_folded_within_the_width() -> None:
    lines = printed(70, 6)
    assert len(lines) > 3
    assert max(map(len, lines)) <= WIDTH


def test_numbers_have_one_minus_sign_and_none_before_zero() -> None:
    from ventplan.house.shown import fixed, show

    assert fixed(-0.001, 2) == "0.00"
    assert fixed(-1.234, 2) == "−1.23"
    assert show(-0.04, "temperature", "si") == "0.0 °C"


def test_nothing_drives_an_opening_without_a_net_flow() -> None:
    from tests.unit.show.solved_examples import solved
    from ventplan.show.flow_tables import opening_rows

    _, _, flow = solved("two_storey", "night")
    rows = {row[0]: row for row in opening_rows(flow, "si")}
    assert rows["bath door"][1] == "no net flow"
    assert rows["bath door"][-1] == "–"
