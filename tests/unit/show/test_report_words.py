"""Instructions for a person: what to open, where to stand the fan, and what to do afterwards."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.unit.show.solved_examples import solved
from ventplan.advice.intervals import interval
from ventplan.house.records import Placement
from ventplan.show.instructions import evening_tasks, fan_instruction, free_side, how_far, later_tasks, tissue
from ventplan.show.report import picture_words
from ventplan.show.report_data import Ranges, surest


def test_tasks_are_grouped_by_room_and_end_with_the_fan() -> None:
    house, plan, _ = solved("two_storey", "night")
    tasks = dict(evening_tasks(house, plan, "si"))
    assert "Open the living window to 45°, bug screen on." in tasks["living"]
    assert tasks["small bedroom"][-1].startswith(
        "Stand the stand fan in small bedroom, 1.2 m from small bedroom window"
    )
    assert tasks["Whole house"] == ("Shut every other window and outside door.", "Switch the fan on.")
    told = " ".join(item for items in tasks.values() for item in items)
    for name, share in plan.shares.items():
        if share > 0.0 and house.first_scenario().shares[name] <= 0.0:
            assert f"the {name}" in told, name


def test_afterwards_the_fan_goes_off_and_windows_are_shut() -> None:
    house, plan, _ = solved("one_room_flat", "evening, no screens")
    later = later_tasks(house, plan)
    assert later[0] == "Switch the pedestal fan off."
    assert later[1] == "Shut the balcony door and the south window."
    assert later[2].startswith("Put the bug screens back on")


@pytest.mark.parametrize(
    ("name", "scenario", "sure"), [("two_storey", "through the door", False), ("bungalow", "evening, two fans", True)]
)
def test_tissue_is_held_where_the_direction_is_surest_and_no_fan_blows(name: str, scenario: str, sure: bool) -> None:
    house, plan, flow = solved(name, scenario)
    ranges = Ranges(interval(house, plan, draws=64))
    found, certain = surest(plan, flow, ranges)
    assert found is not None
    assert certain is sure
    assert found.name not in {p.opening for p in plan.placements}
    span = ranges.find("net flow", found.name)
    assert (span.low * span.high > 0.0) is sure
    for other in flow.openings.values():
        width = ranges.find("net flow", other.name)
        if (other.reading_m_s or 0.0) >= 0.05 and other.name not in {p.opening for p in plan.placements}:
            ratio = abs(found.net_m3_s) / (span.high - span.low)
            assert ratio >= abs(other.net_m3_s) / (width.high - width.low) * (1.0 - 1e-9)


def test_a_room_of_any_name_fits_the_sentence() -> None:
    _, _, flow = solved("two_storey", "night")
    assert tissue(flow.openings["living window"]).endswith("blow from “outdoors” towards “living”.")
    assert "most likely blows" in tissue(flow.openings["living window"], certain=False)


def test_every_opening_is_set_whatever_state_the_house_is_in() -> None:
    house, plan, _ = solved("two_storey", "night, sealed fan")
    tasks = dict(evening_tasks(house, plan, "si"))
    told = " ".join(item for items in tasks.values() for item in items)
    assert "Shut every other window and outside door." in tasks["Whole house"]
    for name, opening in house.openings.items():
        inner = opening.kind == "door" and not opening.is_external
        sealed = any(p.sealed and p.opening == name for p in plan.placements)
        if (inner or plan.shares[name] > 0.0) and name not in ("stair window", "chimney") and not sealed:
            assert re.search(rf"the {name}\b", told), name


def test_a_house_that_needs_no_change_has_no_tasks() -> None:
    house, plan, _ = solved("hallway_rig", "box fan at 1 m")
    still = replace(plan, placements=())
    assert evening_tasks(house, still, "si") == ()


def test_left_and_right_are_those_of_someone_who_looks_at_the_window() -> None:
    house, plan, _ = solved("bungalow", "evening")
    south = house.openings["living south window"]
    share = plan.shares[south.name]
    # The free part of a sliding sash begins at the frame's start: the west end of a south wall, which is to the right
    # of someone inside who looks south, and to the left of someone outdoors who looks north.
    assert south.start[0] < south.end[0]
    assert 0.0 < share < 0.95
    assert free_side(south, share, "living") == "right"
    assert free_side(south, share, "outdoors") == "left"
    assert free_side(south, 1.0, "living") == ""


@pytest.mark.parametrize(
    ("name", "opening", "share", "words"),
    [
        ("bungalow", "living south window", 0.25, "so that the gap is 15 in wide"),
        ("bungalow", "study window", 0.25, "so that the gap is 12 in high"),
        ("bungalow", "study window", 0.5, "as far as it goes"),
        ("bungalow", "front door", 0.5, "to 30°"),
    ],
)
def test_how_far_to_open_is_measured_on_the_sash(name: str, opening: str, share: float, words: str) -> None:
    from tests.unit.show.solved_examples import EXAMPLES
    from ventplan.house import read_house

    house = read_house(EXAMPLES / f"{name}.yaml")
    assert how_far(house.openings[opening], share, "us") == words


def test_an_instruction_says_how_far_aside_and_tilted_a_fan_stands_and_that_it_is_sealed() -> None:
    house, plan, _ = solved("bungalow", "evening")
    place = Placement(
        "box fan", "living south window", "living", 1.0, height_m=1.0, aside_m=0.4, turn_deg=-20.0, tilt_deg=8.0
    )
    text = fan_instruction(house, place, "si", share=plan.shares[place.opening])
    assert "facing its open right part, blowing out" in text
    assert "0.40 m to the left of the middle" in text
    assert "tilted up 8°" in text
    sealed = fan_instruction(house, replace(place, sealed=True), "si")
    assert sealed.startswith("Fit the box fan into living south window and close the rest of its open part (")
    assert sealed.endswith("across) with a board, blowing out")
    inwards = replace(place, stands_in="outdoors", aside_m=0.0)
    assert "outdoors, 1.0 m from living south window, facing it, blowing in" in fan_instruction(house, inwards, "si")


def test_the_picture_in_words_has_every_strong_stream() -> None:
    house, plan, flow = solved("bungalow", "evening, two fans")
    text = picture_words(house, plan, flow, "us")
    strongest = max(abs(o.net_m3_s) for o in flow.openings.values())
    for name, air in flow.openings.items():
        assert (f"{name}: " in text) == (abs(air.net_m3_s) > 0.02 * strongest)


def test_a_fan_that_is_sealed_in_to_blow_inwards_is_fixed_from_the_room() -> None:
    house, plan, _ = solved("two_storey", "night")
    window = next(n for n, o in house.openings.items() if o.kind == "window" and o.is_external)
    inwards = replace(plan, placements=(Placement("stand fan", window, "outdoors", 0.0, sealed=True),))
    tasks = dict(evening_tasks(house, inwards, "si"))
    assert "outdoors" not in {room.lower() for room in tasks}
    assert any("blowing in" in step for step in tasks[house.openings[window].joins[0]])
