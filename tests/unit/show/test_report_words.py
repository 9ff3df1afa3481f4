"""Steps that a child could follow."""

import re
from dataclasses import replace

import pytest

from tests.unit.show.solved_examples import solved
from ventplan.advice.intervals import interval
from ventplan.house.records import Placement
from ventplan.network import solve
from ventplan.show.report_data import Ranges, surest
from ventplan.show.report_words import fan_step, free_side, how_far, picture_words, settings, steps, tissue


def test_steps_go_from_shutting_to_the_check():
    house, plan, flow = solved("two_storey", "night")
    surest = flow.openings["living window"]
    found = steps(house, plan, flow, "si", surest=surest)
    assert found[-1].startswith("Check: hold a strip of tissue in the living window. It should blow from “outdoors” ")
    assert found[-2] == "Switch the fan on."
    assert found[-3].startswith("Put the stand fan in “small bedroom”, 1.20 m away from the small bedroom window")
    assert "Open the living window to 45°." in found
    for name, share in plan.shares.items():
        if share > 0.0 and house.first_scenario().shares[name] <= 0.0:
            assert any(f"the {name}" in step for step in found), name


@pytest.mark.parametrize(
    ("name", "scenario", "sure"), [("two_storey", "night", False), ("bungalow", "evening, two fans", True)]
)
def test_tissue_is_held_where_the_direction_is_surest_and_no_fan_blows(name, scenario, sure):
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


def test_a_room_of_any_name_fits_the_sentence():
    _, _, flow = solved("two_storey", "night")
    assert tissue(flow.openings["living window"]).endswith("blow from “outdoors” towards “living”.")
    assert "most likely blows" in tissue(flow.openings["living window"], certain=False)


def test_every_opening_is_set_whatever_state_the_house_is_in():
    house, plan, _ = solved("two_storey", "night, sealed fan")
    found = settings(house, plan, "si")
    told = [(name, step) for name in house.openings for step in found if re.search(rf"the {name}\b", step)]
    sealed = {p.opening for p in plan.placements if p.sealed}
    movable = {name for name in house.openings if name != "stair window"}  # a fixed pane
    assert {name for name, step in told if "bug screen" not in step} == movable - sealed
    for name, step in told:
        if "bug screen" not in step:
            assert (step.endswith(" shut.") or " shut: " in step) == (plan.shares[name] <= 0.0), (name, step)


def test_nothing_to_change_is_said():
    house, plan, _ = solved("hallway_rig", "box fan at 1 m")
    still = replace(plan, placements=())
    assert steps(house, still, solve(house, still), "si") == ("Leave windows and doors as they are.",)


def test_screens_that_come_off_are_named():
    house, plan, flow = solved("one_room_flat", "evening, no screens")
    found = steps(house, plan, flow, "si")
    assert any(step.startswith("Take the bug screens off the balcony door and the south window") for step in found)


def test_left_and_right_are_those_of_someone_who_looks_at_the_window():
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
def test_how_far_to_open_is_measured_on_the_sash(name, opening, share, words):
    from tests.unit.show.solved_examples import EXAMPLES
    from ventplan.house import read_house

    house = read_house(EXAMPLES / f"{name}.yaml")
    assert how_far(house.openings[opening], share, "us") == words


def test_a_fan_aside_or_tilted_or_sealed_is_told_so():
    house, plan, _ = solved("bungalow", "evening")
    place = Placement(
        "box fan", "living south window", "living", 1.0, height_m=1.0, aside_m=0.4, turn_deg=-20.0, tilt_deg=8.0
    )
    text = fan_step(house, plan, place, "si")
    assert "Stand it 0.40 m to the left." in text
    assert "Tilt it up by 8°." in text
    assert "sealed" not in text
    sealed = replace(place, sealed=True)
    assert fan_step(house, plan, sealed, "si").startswith(
        "Fix the box fan in the living south window, blowing out of the house"
    )
    inwards = replace(place, stands_in="outdoors", aside_m=0.0)
    assert "blows into the house" in fan_step(house, plan, inwards, "si")


def test_the_picture_in_words_has_every_strong_stream():
    house, plan, flow = solved("bungalow", "evening, two fans")
    text = picture_words(house, plan, flow, "us")
    strongest = max(abs(o.net_m3_s) for o in flow.openings.values())
    for name, air in flow.openings.items():
        assert (f"{name}: " in text) == (abs(air.net_m3_s) > 0.02 * strongest)
