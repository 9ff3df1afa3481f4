"""Hazards in words: every code has its subject, its advice, its source, and numbers in the units asked for."""

from __future__ import annotations

import json

import pytest

from ventplan.airing import Note, NoteCode
from ventplan.airing.safety import Hazard, HazardCode
from ventplan.cli.output import plain
from ventplan.show.cautions import SAME_TEXT, caution_lines, caution_of, cautions_of, note_words, texts

FAN = {"setback_m": 0.2, "sealed": 0.0}
BOILER = ("kitchen", "gas boiler")
EXAMPLES: dict[HazardCode, tuple[tuple[str, ...], dict[str, float]]] = {
    HazardCode.FLAME_FLAGGED: (
        ("kitchen", "gas boiler"),
        {"depressurisation_pa": 3.0, "by_fans_pa": 1.5, "limit_pa": 2},
    ),
    HazardCode.FLAME_MILD: (("kitchen", "gas boiler"), {"depressurisation_pa": 1.0, "by_fans_pa": 1.0, "limit_pa": 2}),
    HazardCode.GARAGE_AIR: (("garage",), {"flow_m3_s": 0.01}),
    HazardCode.GARAGE_WALL: (("hall", "garage"), {"depressurisation_pa": 0.8}),
    HazardCode.SMOKE: ((), {"flow_m3_s": 0.2}),
    HazardCode.FIRE_DOOR: (("entrance",), {}),
    HazardCode.STORM: (("south window", "door"), {"wind_m_s": 20.0}),
    HazardCode.FALL: (("south window",), {"gap_m": 0.6, "drop_m": 4.0, "screened": 1.0}),
    HazardCode.FAN_FALL: (("box fan", "south window"), {"drop_m": 4.0}),
    HazardCode.OPEN_UNATTENDED: (("patio door", "west window"), {}),
    HazardCode.RAIN: (("box fan", "south window"), FAN),
    HazardCode.FAN_OUTDOORS: (("box fan", "south window"), FAN),
    HazardCode.FAN_IN_DOORWAY: (("box fan", "hall door"), FAN),
    HazardCode.CIRCUIT: (("living",), {"fans_w": 320.0, "heater_w": 1500.0}),
    HazardCode.HEATER_BESIDE_FANS: (("living",), {"fans_w": 50.0, "heater_w": 1500.0}),
    HazardCode.DAMP_AIR: (("cellar",), {"dew_point_c": 22.0, "room_c": 18.0, "humidity": 0.95}),
    HazardCode.DAMP_WALLS: (("bath",), {"humidity": 0.9, "damp_h": 9.0, "shut_h": 2.0}),
    HazardCode.DAMP_WALLS_SHUT: (("bath",), {"humidity": 1.0, "damp_h": 9.0, "shut_h": 50.0}),
    HazardCode.NOISE: (("bedroom", "box fan", "tower fan"), {"level_db": 52.3}),
    HazardCode.DRAUGHT: (("bed",), {"temperature_c": 21.0, "speed_m_s": 0.4, "bothered": 0.3}),
    HazardCode.STRONG_AIR: (("bed",), {"speed_m_s": 1.2, "limit_m_s": 0.8}),
    HazardCode.WARM_AIR: ((), {"flow_m3_s": 0.3, "warmer_k": 4.0}),
}
COMFORT = {"draught", "strong-air", "noise", "damp-air", "damp-walls", "damp-walls-shut", "warm-air"}


@pytest.mark.parametrize("code", list(HazardCode))
def test_every_hazard_has_its_words_with_all_that_it_is_about(code: HazardCode) -> None:
    names, numbers = EXAMPLES[code]
    said = caution_of(Hazard(code, names, numbers), "si")
    assert all((said.about, said.do, said.source))
    assert said.computed[:1] == said.computed[:1].lower()
    assert all(name in said.computed for name in names)
    assert ("Local codes" in said.do) == (code not in COMFORT)
    assert "safe" not in said.do.lower()


def test_each_text_belongs_to_a_code() -> None:
    assert {code.value for code in HazardCode if code not in SAME_TEXT} == set(texts()) - {"closing"}


def test_sentences_follow_the_units() -> None:
    drop = Hazard(HazardCode.FALL, ("south window",), {"gap_m": 0.6, "drop_m": 4.0, "screened": 0.0})
    assert "13 ft" in caution_of(drop, "us").computed
    assert "4.00 m" in caution_of(drop, "si").computed
    assert "no screen on" in caution_of(drop, "si").computed


def test_what_fans_add_is_said_where_something_else_lowers_the_pressure_too() -> None:
    flame = Hazard(HazardCode.FLAME_FLAGGED, *EXAMPLES[HazardCode.FLAME_FLAGGED])
    assert ", 1.5 Pa of it by fans" in caution_of(flame, "si").computed


def test_json_has_the_words_with_the_code_and_the_numbers() -> None:
    hazard = Hazard(HazardCode.FALL, *EXAMPLES[HazardCode.FALL])
    (found,) = json.loads(json.dumps(plain([hazard])))
    assert found["code"] == "fall"
    assert found["numbers"]["drop_m"] == 4.0
    assert {"about", "computed", "do", "source"} <= set(found)
    assert found["computed"] == cautions_of([hazard], "si")[0].computed


def flame(pressure_pa: float) -> Hazard:
    numbers = EXAMPLES[HazardCode.FLAME_FLAGGED][1] | {"depressurisation_pa": pressure_pa}
    return Hazard(HazardCode.FLAME_FLAGGED, BOILER, numbers)


def test_a_caution_of_several_plans_is_said_once_with_the_worst_of_them() -> None:
    fall = Hazard(HazardCode.FALL, *EXAMPLES[HazardCode.FALL])
    lines = caution_lines({"plan 1": [flame(3.0), fall], "plan 2": [flame(4.5)]}, "si")
    assert len(lines) == 3
    assert "4.5 Pa below outdoors" in lines[0]
    assert "(plan 2; less in plan 1)" in lines[0]
    assert lines[1].startswith("A window open above a drop: south window is open by 0.60 m above a drop of 4.00 m")
    assert "(plan 1)" in lines[1]
    assert lines[2] == texts()["closing"]
    assert sum(texts()["closing"] in line for line in lines) == 1


def test_the_gravest_caution_comes_first_and_one_plan_needs_no_name() -> None:
    noise = Hazard(HazardCode.NOISE, *EXAMPLES[HazardCode.NOISE])
    lines = caution_lines({"": [noise, flame(3.0)]}, "si")
    assert lines[0].startswith(
        "Room depressurised near a flame (backdraught risk): kitchen, with gas boiler, is 3.0 Pa"
    )
    assert "()" not in " ".join(lines)


def test_notes_on_measurements_have_the_units_of_their_reader() -> None:
    slow = Note(NoteCode.BELOW_START_UP, numbers={"area": 0.1, "start_up_m_s": 0.254})
    assert "0 to 0.25 m/s" in note_words(slow)
    assert "0 to 50 ft/min" in note_words(slow, "us")  # 0.254 m/s, exact by the definition of the foot
    weak = Note(NoteCode.THRUST_NEAR_ZERO, numbers={"below_n": 0.0980665})
    assert "below 0.10 N" in note_words(weak)
    assert "below 10 gf" in note_words(weak, "us")
    assert plain(slow) == note_words(slow, "si")


def test_a_reading_to_check_is_said_to_be_above_or_below_the_others() -> None:
    assert "box: it is 2.5 standard deviations below" in note_words(
        Note(NoteCode.CHECK_READING, ("box",), {"off": -2.5})
    )
    assert "2.5 standard deviations above" in note_words(Note(NoteCode.CHECK_READING, ("box",), {"off": 2.5}))
