"""``ventplan tonight`` from the command line."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.cli.command_line import run

FLAT = Path(__file__).parents[2] / "house_examples" / "one_room_flat.yaml"
NIGHT = ("--high", "33C", "--low", "19C")


def test_it_begins_with_what_to_do_and_ends_with_the_cautions() -> None:
    out = run("tonight", str(FLAT), *NIGHT).out
    assert out.startswith("Keep the house shut until ")
    assert "everything shut" in out
    assert "best windows alone" in out
    assert out.index("what to do") < out.index("Air temperature") < out.index("Caution")


def test_a_noise_limit_is_read_with_its_unit_or_without() -> None:
    for text in ("44", "44 dB"):
        answer = json.loads(run("tonight", str(FLAT), *NIGHT, "--quiet", text, "--json").out)
        assert answer["result"]["tonight"]["quiet_db"] == 44.0


def test_json_has_the_timeline_and_the_temperatures() -> None:
    answer = json.loads(run("tonight", str(FLAT), *NIGHT, "--json").out)["result"]["tonight"]
    assert answer["timeline"][0]["actions"][0]["code"] == "keep shut"
    assert answer["plan"]["waking_c"]["room"] < answer["shut"]["waking_c"]["room"]


def test_a_plan_is_saved_as_scenarios_with_all_comments_kept(tmp_path: Path) -> None:
    house = tmp_path / "flat.yaml"
    shutil.copy(FLAT, house)
    before = house.read_text("utf-8")
    out = run("tonight", str(house), *NIGHT, "--save-as", "hot night").out
    assert "hot night, night" in out
    after = house.read_text("utf-8")
    assert [line for line in before.splitlines() if line not in after.splitlines()] == []
    flow = run("flow", str(house), "--scenario", "hot night, night")
    assert flow.code == 0
    again = run("tonight", str(house), *NIGHT, "--save-as", "hot night")
    assert again.code == 2
    assert "already" in again.err


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ((), "--high and --low"),
        (("--high", "15C", "--low", "20C"), "warmer one as --high"),
        ((*NIGHT, "--bedtime", "late"), "22:30"),
        ((*NIGHT, "--bedtime", "7:00", "--waking", "7:00"), "--bedtime and --waking"),
        ((*NIGHT, "--room", "cellar"), "cellar"),
        ((*NIGHT, "--fan", "turbine"), "turbine"),
        ((*NIGHT, "--quiet", "loud"), "--quiet"),
    ],
)
def test_what_is_missing_or_wrong_is_said_with_what_to_do(options: tuple[str, ...], words: str) -> None:
    answer = run("tonight", str(FLAT), *options)
    assert answer.code == 2
    assert words in answer.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--high", "200F", "--low", "60F"), '--high: found "200F"; allowed: −58 °F to 140 °F'),
        (("--high", "88", "--low", "64F"), "write 88F for °F"),
        (("--high", "88F", "--low", "95F"), "the low of 95F is above the high of 88F"),
        (("--high", "88F", "--low", "64F", "--indoor", "790F"), "−58 °F to 140 °F"),
        (("--high", "88F", "--low", "64F", "--bedtime", "10"), "from bedtime at 10:00 to waking at 7:00 is 21 hours"),
        (("--high", "88F", "--low", "64F", "--waking", "25:00"), "a time of day such as 6:30"),
    ],
    ids=lambda each: " ".join(each) if isinstance(each, tuple) else "",
)
def test_errors_of_temperatures_and_times_are_in_the_units_that_were_typed(words: tuple[str, ...], says: str) -> None:
    answer = run("tonight", str(FLAT.with_name("bungalow.yaml")), *words)
    assert answer.code == 2
    assert says in answer.err
