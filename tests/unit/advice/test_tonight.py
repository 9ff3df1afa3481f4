"""What to do tonight: a plan that a person can carry out, that is cooler than the windows alone or has no fan."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ventplan.advice.night_plan import ActionCode, Part, TonightAnswer, TonightQuestion
from ventplan.advice.tonight import plan_tonight, the_rooms, tonight_intervals
from ventplan.airing.policy import Policy
from ventplan.airing.weather import daily_curve
from ventplan.errors import InputError
from ventplan.house import House, parse_house

FLAT = """
indoors: {temperature: 28}
outdoors: {temperature: 20}
rooms:
  bedroom: {at: [0, 0], size: [4, 4], ceiling: 2.5, floor: 6, use: bedroom, people: 2}
  living: {at: [4, 0], size: [6, 4], ceiling: 2.5, floor: 6, gain: 150 W}
openings:
  west: {kind: window, joins: [bedroom, outdoors], wall: west, along: 1.2, size: [0.6, 0.9]}
  door: {kind: door, joins: [bedroom, living], along: 1.5, size: [0.9, 2]}
  east: {kind: window, joins: [living, outdoors], wall: east, along: 0.5, size: [1.2, 1.2]}
  balcony: {kind: door, joins: [living, outdoors], wall: east, along: 2.5, size: [0.8, 2], leads to: balcony}
  entrance: {kind: door, joins: [living, outdoors], wall: north, along: 2.5, size: [0.9, 2], leads to: stairs}
fans:
  fan:
    {flow: 0.9, thrust: 5, diameter: 0.5, spread: 0.15, power: 60 W, sound: 55 dB, settings: {high: 100 %, low: LOW %}}
"""


def flat(low: int = 45) -> House:
    return parse_house(FLAT.replace("LOW", str(low)))


def asked(house: House, *, high_c: float = 31.0, low_c: float = 16.0, **changes: Any) -> TonightQuestion:
    question = TonightQuestion(
        weather=daily_curve(high_c=high_c, low_c=low_c, begin_h=16.5, hours=19.5),
        bedtime_s=6.0 * 3600.0,
        waking_s=14.5 * 3600.0,
        rooms=("bedroom",),
        quiet_db=40.0,
        noise_db=None,
        keep_out=(),
        keep_shut=(),
        fans=tuple(house.fans),
        policy=Policy(),
    )
    return replace(question, **changes)


def tonight(house: House, **changes: Any) -> TonightAnswer:
    return plan_tonight(house, house.first_scenario(), asked(house, **changes))


@pytest.fixture(scope="module")
def answer() -> TonightAnswer:
    return tonight(flat())


def test_the_plan_keeps_shut_until_it_is_cooler_and_shuts_again_in_the_morning(answer: TonightAnswer) -> None:
    first, last = answer.timeline[0], answer.timeline[-1]
    assert [a.code for a in first.actions] == [ActionCode.KEEP_SHUT]
    assert answer.timeline[1].time_s > 0.0
    assert ActionCode.SHUT_ALL in [a.code for a in last.actions]
    assert last.time_s >= 14.5 * 3600.0


def test_every_way_starts_as_warm_as_the_house_is_now_and_is_the_same_until_it_opens(answer: TonightAnswer) -> None:
    opened = answer.timeline[1].time_s
    shut, *others = answer.runs
    for run in others:
        for step, time_s in enumerate(run.times_s):
            if time_s <= opened:
                assert run.rooms_c["bedroom"][step] == pytest.approx(shut.rooms_c["bedroom"][step], abs=0.02)
    assert shut.rooms_c["bedroom"][0] == 28.0


def test_nothing_changes_while_people_sleep(answer: TonightAnswer) -> None:
    assert not [step for step in answer.timeline if 6.0 * 3600.0 < step.time_s < 14.5 * 3600.0]


def test_doors_that_lead_outside_are_shut_at_bedtime_and_the_fire_door_is_never_opened(answer: TonightAnswer) -> None:
    assert answer.night is not None
    assert answer.night.shares["balcony"] == 0.0
    for state in (answer.evening, answer.night):
        assert state is not None
        assert state.shares["entrance"] == 0.0


def test_a_plan_is_never_warmer_than_the_best_windows_alone(answer: TonightAnswer) -> None:
    assert answer.plan.asleep_c <= answer.windows.asleep_c + 1e-9
    assert answer.windows.asleep_c < answer.shut.asleep_c
    if not answer.uses_fan:
        assert answer.plan == replace(answer.windows, name="plan")


def test_a_strong_fan_in_a_flat_with_a_small_window_is_used(answer: TonightAnswer) -> None:
    assert answer.uses_fan
    assert answer.fan_adds_k is not None
    assert answer.windows.asleep_c - answer.plan.asleep_c >= 0.5


def test_fans_at_night_are_quiet_enough_at_the_pillow(answer: TonightAnswer) -> None:
    assert all(level <= answer.quiet_db for level in answer.pillow_db.values())
    silent = tonight(flat(), quiet_db=20.0)
    assert silent.night is not None
    assert silent.night.placements == ()


def test_a_fan_stays_off_where_it_adds_less_than_half_a_degree() -> None:
    weak = flat()
    weak = replace(weak, fans={"fan": replace(weak.fans["fan"], flow_m3_s=0.02, thrust_n=0.01)})
    found = tonight(weak)
    assert not found.uses_fan
    assert found.fan_adds_k is not None
    assert found.fan_adds_k < 0.5


def test_a_night_that_never_gets_cooler_keeps_everything_shut() -> None:
    found = tonight(flat(), high_c=38.0, low_c=32.0)
    assert [a.code for step in found.timeline for a in step.actions] == [ActionCode.KEEP_SHUT]
    assert found.plan.waking_c == found.shut.waking_c
    assert found.night is None


def test_smoke_outdoors_keeps_everything_shut() -> None:
    house = flat()
    smoky = house.first_scenario()
    smoky = replace(smoky, outdoors=replace(smoky.outdoors, smoke=True))
    found = plan_tonight(house, smoky, asked(house))
    assert found.smoke
    assert found.night is None
    assert {hazard.code.value for hazard in found.cautions} <= {"damp-walls-shut"}


def test_a_fan_is_set_up_once_and_only_turned_down_at_bedtime(answer: TonightAnswer) -> None:
    started = [a for step in answer.timeline for a in step.actions if a.code == ActionCode.START_FAN]
    turned = [a for step in answer.timeline for a in step.actions if a.code == ActionCode.CHANGE_SETTING]
    assert [a.setting for a in started] == ["high"]
    assert [a.setting for a in turned] == ["low"]


def test_a_cold_night_does_not_cool_the_bedroom_below_what_is_healthy_for_long() -> None:
    """18 °C is the limit: a plan that shuts at bedtime beats one that lets the room go far below it."""
    found = tonight(flat(), high_c=24.0, low_c=4.0)
    assert found.plan.asleep_c > 16.5


def test_a_house_without_fans_is_planned_with_its_windows() -> None:
    house = replace(flat(), fans={})
    found = tonight(house)
    assert not found.uses_fan
    assert found.fan_adds_k is None
    assert any(a.code == ActionCode.OPEN for step in found.timeline for a in step.actions)


def test_a_room_to_keep_out_of_stays_behind_its_door() -> None:
    found = tonight(flat(), keep_out=("living",))
    for state in (found.evening, found.night):
        if state is not None:
            assert state.shares["door"] == 0.0


def test_the_rooms_that_matter_are_those_that_people_sleep_in() -> None:
    assert the_rooms(flat(), ()) == ("bedroom",)
    assert the_rooms(flat(), ("living",)) == ("living",)
    with pytest.raises(InputError, match="kitchen"):
        the_rooms(flat(), ("kitchen",))


def test_intervals_hold_the_plans_own_temperature(answer: TonightAnswer) -> None:
    house = flat()
    found = tonight_intervals(house, house.first_scenario(), answer, asked(house), draws=8)
    low, high = found.waking_c["bedroom"]
    assert low <= high
    assert low - 0.3 <= answer.plan.waking_c["bedroom"] <= high + 0.3
    assert Part.NIGHT == "night"


def test_shutting_for_the_night_and_setting_up_a_fan_are_sentences_with_their_own_reason() -> None:
    from ventplan.advice.night_plan import Action
    from ventplan.house.records import Placement
    from ventplan.show.instructions import action_words

    house = flat()
    start = Action(ActionCode.START_FAN, ("fan",), placement=Placement("fan", "west", "bedroom"))
    said = {code: action_words(house, Action(code), "si") for code in (ActionCode.SHUT_ALL, ActionCode.SHUT_COOL)}
    assert "warmer outdoors" in said[ActionCode.SHUT_ALL]
    assert "cool enough" in said[ActionCode.SHUT_COOL]
    assert all(text.endswith(".") for text in (*said.values(), action_words(house, start, "si")))


def test_what_is_shut_before_the_morning_is_not_said_to_be_for_the_warmth_outdoors() -> None:
    found = tonight(flat(), high_c=16.0, low_c=10.0)
    codes = {step.when: action.code for step in found.timeline for action in step.actions}
    early = [code for when, code in codes.items() if when >= "18:00"]
    assert ActionCode.SHUT_ALL not in early


def test_the_headline_says_when_a_fan_starts_later_than_the_windows_are_opened(answer: TonightAnswer) -> None:
    from ventplan.show.airing_tables import headline

    for step in answer.timeline:
        if any(action.code == ActionCode.START_FAN for action in step.actions):
            later = step.time_s > answer.timeline[1].time_s
            assert (f"run the fan from {step.when}" in headline(flat(), answer, "si")) == later
            return
    pytest.fail("the plan has no fan")


def test_more_fans_allowed_never_give_a_warmer_night() -> None:
    more = """openings:
  north: {kind: window, joins: [bedroom, outdoors], wall: north, along: 1.2, size: [0.6, 0.9]}
  south: {kind: window, joins: [living, outdoors], wall: south, along: 1.2, size: [0.9, 0.9]}
"""
    house = parse_house(FLAT.replace("LOW", "45").replace("openings:\n", more))
    # Every team with the second fan moves more air than one fan, and is too loud at night.
    loud = replace(house.fans["fan"], name="loud", flow_m3_s=0.3, thrust_n=0.5, sound_db=60.0, settings=())
    house = replace(house, fans={**house.fans, "loud": loud})
    one, two = (tonight(house, fans_at_once=count) for count in (1, 2))
    assert two.plan.asleep_c <= one.plan.asleep_c + 1e-9
    assert two.fan_adds_k is not None
    assert one.fan_adds_k is not None
    assert two.fan_adds_k >= one.fan_adds_k - 1e-9


@pytest.mark.parametrize("fans", [1, 2])
def test_what_the_fan_adds_is_of_the_plan_that_is_given(fans: int) -> None:
    found = tonight(flat(), fans_at_once=fans)
    assert found.uses_fan
    assert found.fan_adds_k == pytest.approx(found.windows.asleep_c - found.plan.asleep_c, abs=1e-9)


def test_what_is_printed_is_to_do_and_says_until_when_and_which_windows_need_a_stop(answer: TonightAnswer) -> None:
    from ventplan.airing.safety import Hazard, HazardCode
    from ventplan.show.airing_tables import tonight_steps

    low = replace(answer, cautions=(Hazard(HazardCode.OPEN_UNATTENDED, ("west", "balcony")),))
    for found in (answer, low):
        steps = dict(tonight_steps(flat(), found, "us"))
        assert all(steps.values())
        assert steps["16:30"] == [f"Keep all windows and outside doors shut until {answer.timeline[1].when}."]
        stops = [line for line in steps.get(answer.bedtime, ()) if line.startswith("Hold west at a stop")]
        assert len(stops) == (found is low)


def test_the_headline_names_the_room_that_gains_and_never_a_gain_of_nothing(answer: TonightAnswer) -> None:
    from ventplan.show.airing_tables import fan_words, headline

    plan = replace(answer.plan, waking_c={"bedroom": 19.0, "living": 19.0})
    windows = replace(answer.windows, waking_c={"bedroom": 19.0, "living": 21.0})
    two = replace(answer, rooms=("bedroom", "living"), plan=plan, windows=windows)
    assert "; living is then 2.0 K cooler than with the best windows alone" in headline(flat(), two, "si")
    assert fan_words(two, "si").startswith("Averaged over bedroom and living from 22:30 to 07:00, the fan makes")
    assert "windows alone" not in headline(flat(), replace(two, windows=replace(windows, waking_c=plan.waking_c)), "si")


def test_a_stopped_search_is_not_followed_by_one_with_more_fans(monkeypatch: pytest.MonkeyPatch) -> None:
    from ventplan.advice.search import Search, SearchResult

    asked_for: list[int] = []
    run = Search.run

    def stopped(self: Search, fans_at_once: int) -> SearchResult:
        asked_for.append(fans_at_once)
        found = run(self, fans_at_once)
        found.stopped = True
        return found

    monkeypatch.setattr(Search, "run", stopped)
    tonight(flat(), fans_at_once=3)
    assert asked_for == [1]
