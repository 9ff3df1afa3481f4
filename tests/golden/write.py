"""What commands print on the example houses: ``python -m tests.golden.write`` writes it anew."""

from __future__ import annotations

import os
import shlex
from pathlib import Path

from tests.cli.command_line import ROOT, run

HERE = Path(__file__).parent

QUESTIONS = {
    "check_one_room_flat": "check house_examples/one_room_flat.yaml",
    "check_hallway_rig_us": "check house_examples/hallway_rig.yaml --show us",
    "flow_bungalow": 'flow house_examples/bungalow.yaml --scenario "evening, two fans"',
    "flow_two_storey": "flow house_examples/two_storey.yaml --scenario night",
    "flow_two_storey_sealed": 'flow house_examples/two_storey.yaml --scenario "night, sealed fan"',
    "flow_rambling_house": 'flow house_examples/rambling_house.yaml --scenario "upstairs at night"',
    "flow_hallway_rig_us": 'flow house_examples/hallway_rig.yaml --scenario "box fan at 2 m" --show us',
    "setback_hallway_rig": 'setback house_examples/hallway_rig.yaml --fan "box fan" --opening doorway',
    "compare_bungalow": 'compare house_examples/bungalow.yaml evening "evening, no screens" "box fan sealed in"',
    "place_one_room_flat": "place house_examples/one_room_flat.yaml --whole-house",
    "error": "flow house_examples/bungalow.yaml --scenario evenin",
}


def output(question: str) -> str:
    """What a command prints, without spaces at the ends of lines, with its exit code."""
    answer = run(*shlex.split(question))
    lines = [f"$ ventplan {question}", *(answer.out + answer.err).splitlines(), f"[exit code {answer.code}]"]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def main() -> None:
    """Write every file anew."""
    os.chdir(ROOT)
    for name, question in QUESTIONS.items():
        (HERE / f"{name}.txt").write_text(output(question), "utf-8")


if __name__ == "__main__":
    main()
