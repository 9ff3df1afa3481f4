"""A plan is a scenario: saved into the house file, comments kept, and taken from there by every other command."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from command_line import EXAMPLES, run


def test_a_saved_plan_gives_what_it_promised_and_leaves_the_rest_of_the_file(tmp_path: Path) -> None:
    file = tmp_path / "flat.yaml"
    shutil.copy(EXAMPLES / "one_room_flat.yaml", file)
    before = file.read_text("utf-8").splitlines()
    question = ("place", str(file), "--target", "south window")
    plans = json.loads(run(*question, "--json", "--save-as", "my plan").out)["result"]["answer"]["plans"]
    after = file.read_text("utf-8").splitlines()
    added = [line for line in after if line not in before]
    assert len(added) == 1
    assert [line for line in after if line in before] == before
    flow = json.loads(run("flow", str(file), "--scenario", "my plan", "--json").out)
    found = flow["result"]["flow"]["openings"]["south window"]["net_m3_s"]
    assert abs(found) == pytest.approx(plans[0]["value"], rel=2e-3)
    again = run(*question, "--save-as", "my plan")
    assert again.code == 2
    assert "choose another name" in again.err
    assert file.read_text("utf-8").splitlines() == after


def test_a_plan_that_was_not_found_cannot_be_saved(tmp_path: Path) -> None:
    file = tmp_path / "flat.yaml"
    shutil.copy(EXAMPLES / "one_room_flat.yaml", file)
    before = file.read_text("utf-8")
    answer = run("place", str(file), "--target", "south window", "--save-as", "x", "--plan", "9")
    assert answer.code == 2
    assert "choose one of them" in answer.err
    assert file.read_text("utf-8") == before
