"""Nothing that is nearly right ends in a traceback, a hang, or an answer that is no number.

``pytest tests/fuzz`` tries 2,000 cases of one seed; ``--fuzz-cases 100000 --fuzz-seed 7`` tries others.
"""

from __future__ import annotations

import contextlib
import io
import math
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from tests.fuzz.mutate import FILES, arguments, house_text, table_text
from ventplan.errors import InputError, VentplanError
from ventplan.house import House, parse_house
from ventplan.text import has_control_characters

LONGEST_S = 20.0
"""Time that one case may take, on a busy machine [s]; most take some milliseconds."""
PARTS = 8
"""Tests that share the cases, so that a failure tells roughly where."""


def cases(config: pytest.Config, part: int, share: float) -> tuple[int, range]:
    seed, count = int(config.getoption("--fuzz-seed")), int(config.getoption("--fuzz-cases"))
    return seed, range(part, int(count * share), PARTS)


def explained(action: Callable[[], object], what: object) -> None:
    """Run something that may only end well, or in an error that is explained."""
    begin = time.monotonic()
    said: VentplanError | None = None
    try:
        action()
    except VentplanError as error:
        said = error
    except Exception as error:
        raise AssertionError(f"{type(error).__name__}: {error}\n{what!r}") from error
    assert said is None or str(said).strip(), what
    assert all(m.found and m.allowed for m in said.errors) if isinstance(said, InputError) else True, what
    assert time.monotonic() - begin < LONGEST_S, what


def read_and_solve(text: str, solved: bool) -> None:
    house = parse_house(text)
    for sentence in (*house.defaults, *house.remarks):
        assert not has_control_characters(sentence)
    if not solved:
        return
    from ventplan.network import solve

    for scenario in list(house.scenarios.values())[-2:]:
        flow = solve(house, scenario)
        assert all(math.isfinite(air.net_m3_s) for air in flow.openings.values())


@pytest.mark.parametrize("part", range(PARTS))
def test_a_house_file_is_read_or_explained(part: int, pytestconfig: pytest.Config) -> None:
    seed, numbers = cases(pytestconfig, part, 0.75)
    for number in numbers:
        text = house_text(seed, number)
        explained(lambda text=text, number=number: read_and_solve(text, number % 5 == 0), (seed, number, text))  # type: ignore[misc]


NIGHT = "time,temperature,wind speed,wind from\n" + "".join(
    f"2026-07-01 {20 + hour}:00,{21 - hour} °C,2 m/s,{90 * hour}\n" for hour in range(4)
)
"""A short evening, invented."""
MOST_ROOMS, MOST_HOUSES = 8, 4
"""Rooms of the largest house that is searched, and how many houses, for a test of a few seconds."""


def searched(house: House) -> None:
    from ventplan.advice import place

    scenario, fan = list(house.scenarios.values())[-1], next(iter(house.fans))
    answer = place(house, scenario, whole_house=True, fans=[fan], count=1, details=False)
    assert all(math.isfinite(plan.value) for plan in answer.plans)


def cleared(house: House) -> None:
    from ventplan.airing.clearing import clear_house, share_released

    clear_house(house, list(house.scenarios.values())[-1:], share_released([next(iter(house.rooms))]))


@pytest.mark.slow
def test_a_house_that_is_read_is_aired_and_searched_or_explained(pytestconfig: pytest.Config, tmp_path: Path) -> None:
    from ventplan.airing.night import night
    from ventplan.airing.weather_files import read_weather

    file = tmp_path / "night.csv"
    file.write_text(NIGHT, "utf-8")
    weather = read_weather(file)
    seed, numbers = cases(pytestconfig, 0, 0.75)
    houses = 0
    for number in numbers:
        text = house_text(seed, number)
        try:
            house = parse_house(text)
        except VentplanError:
            continue
        if len(house.rooms) > MOST_ROOMS or not house.fans:
            continue
        for action in (cleared, searched, partial(night, scenarios=[house.first_scenario()], weather=weather)):
            explained(partial(action, house), (seed, number, text))
        houses += 1
        if houses == MOST_HOUSES:
            break
    assert houses


@pytest.mark.parametrize("part", range(PARTS))
def test_a_table_is_read_or_explained(part: int, pytestconfig: pytest.Config, tmp_path: Path) -> None:
    from ventplan.airing.weather_files import read_weather
    from ventplan.house.fans import jet_line, read_walk

    seed, numbers = cases(pytestconfig, part, 0.17)
    file = tmp_path / "table.csv"
    for number in numbers:
        content = table_text(seed, number)
        file.write_bytes(content)
        explained(lambda: read_weather(file) and None, (seed, number, content))

        def walk() -> None:
            with contextlib.suppress(ValueError):  # speeds that are no jet's
                jet_line(read_walk(file))

        explained(walk, (seed, number, content))


@pytest.mark.parametrize("part", range(PARTS))
def test_arguments_are_answered_or_explained(
    part: int, pytestconfig: pytest.Config, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from ventplan.cli import main

    seed, numbers = cases(pytestconfig, part, 0.08)
    monkeypatch.chdir(tmp_path)
    for number in numbers:
        words = arguments(seed, number, str(FILES[number % len(FILES)]))
        out, err = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.TextIOWrapper(io.BytesIO(), "utf-8")
        with monkeypatch.context() as patch:
            patch.setattr(sys, "argv", ["ventplan", *words])
            patch.setattr(sys, "stdout", out)
            patch.setattr(sys, "stderr", err)
            begin = time.monotonic()
            try:
                main()
                code: object = 0
            except SystemExit as end:
                code = end.code or 0
            except Exception as error:
                raise AssertionError(f"{type(error).__name__}: {error}\n{words!r}") from error
        assert code in (0, 2, 3), (words, code)
        assert time.monotonic() - begin < LONGEST_S, words
