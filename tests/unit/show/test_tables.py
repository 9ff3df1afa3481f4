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
    from ventplan.house.units import fixed, show

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


def test_lengths_of_whole_feet_and_times_beyond_a_day_are_read_at_a_glance() -> None:
    from ventplan.house.units import show_length, show_time_up_to_a_day

    assert show_length(2 * 0.3048, "us") == "2 ft"
    assert show_length(23 * 0.0254, "us") == "23 in"
    assert show_time_up_to_a_day(7200.0) == "2 h"
    assert show_time_up_to_a_day(126 * 3600.0) == "more than 24 h"
    assert show_time_up_to_a_day(float("inf")) == "never"


def test_a_fan_is_set_up_by_an_instruction_with_what_it_stands_on_and_how_high_that_is() -> None:
    from pathlib import Path

    from ventplan.house import Placement, read_house
    from ventplan.show.instructions import fan_instruction

    house = read_house(Path(__file__).parents[3] / "house_examples" / "bungalow.yaml")
    on_table = Placement("box fan", "kitchen window", "kitchen", 0.9144, stands_on="table", support_m=0.75)
    text = fan_instruction(house, on_table, "us")
    assert text.startswith("Stand the box fan on a table 2 ft 6 in high in kitchen, 3 ft from kitchen window")
    assert text.endswith("blowing out")
