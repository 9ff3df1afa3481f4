"""One card from everything that was measured of a fan."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ventplan.airing import NoteCode
from ventplan.errors import InputError, NoAnswerError
from ventplan.house import parse_house
from ventplan.house.units import UnitError
from ventplan.measure.fan_data import FanData, combine, doubts, write_fan
from ventplan.measure.fan_reading import (
    FanReading,
    Measured,
    flow_by_method,
    from_estimate,
    highest_as_blank,
    parse_figure,
    read_reading,
    read_typed_figures,
    remarks,
    save_reading,
)
from ventplan.measure.rank import rank_fans, square_root_factor
from ventplan.measure.uncertainty import CALIBRATION, Estimate, Share, effective_degrees
from ventplan.show.cautions import note_words

DENSITY, THRUST, FLOW, SPREAD = 1.2, 1.7, 0.30, 0.13
ALPHA, BETA = DENSITY * FLOW / 2.0 / THRUST, SPREAD * math.sqrt(math.pi * DENSITY / 2.0 / THRUST)


def _reading(
    measured: Measured, *values: float, error: float = 0.03, setting: str = "", vane: float = 0.0
) -> FanReading:
    covariance = np.eye(len(values)) * error**2
    return FanReading(measured, np.array(values), covariance, vane, setting=setting, label=measured)


def test_flow_thrust_and_walk_that_agree_give_the_fan() -> None:
    card = combine(
        [_reading("flow", FLOW), _reading("thrust", THRUST), _reading("walk", ALPHA, BETA)], density_kg_m3=DENSITY
    )
    assert (card.flow.value, card.thrust.value, card.spread.value) == pytest.approx((FLOW, THRUST, SPREAD))
    assert card.chi_squared == pytest.approx(0.0, abs=1e-12)
    assert card.degrees == 1
    assert not card.contradictions


def test_two_thrusts_are_averaged_by_their_weights() -> None:
    card = combine(
        [_reading("flow", FLOW), _reading("thrust", 1.6, error=0.02), _reading("thrust", 1.7, error=0.04)],
        density_kg_m3=DENSITY,
    )
    assert math.log(card.thrust.value) == pytest.approx((4 * math.log(1.6) + math.log(1.7)) / 5)
    assert card.thrust.relative == pytest.approx(0.04 / math.sqrt(5.0), rel=1e-3)


def test_a_contradiction_is_named_and_widens_the_intervals() -> None:
    readings = [
        _reading("flow", FLOW),
        _reading("thrust", 2.6),
        _reading("walk", ALPHA, BETA),
        _reading("thrust", THRUST),
    ]
    card = combine(readings, density_kg_m3=DENSITY)
    assert card.chance < 0.01
    assert card.contradictions
    assert card.inflated > 1.0


def test_an_error_of_the_one_anemometer_does_not_average_out() -> None:
    flows = [_reading("flow", FLOW, error=0.01, vane=0.05) for _ in range(9)]
    card = combine([*flows, _reading("thrust", THRUST)], density_kg_m3=DENSITY)
    assert card.flow.relative == pytest.approx(math.hypot(0.05, 0.01 / 3.0), rel=1e-3)


def test_a_setting_is_known_by_its_flow_and_its_thrust_by_the_fan_laws() -> None:
    card = combine(
        [
            _reading("flow", FLOW),
            _reading("thrust", THRUST),
            _reading("flow", 0.83 * FLOW, setting="middle"),
            _reading("thrust", 0.83**2 * THRUST, setting="middle"),
        ],
        density_kg_m3=DENSITY,
    )
    assert card.speeds["middle"].value == pytest.approx(0.83)
    assert card.degrees == 1


def test_what_was_not_measured_is_assumed_with_a_note() -> None:
    card = combine([_reading("flow", FLOW)], density_kg_m3=DENSITY, diameter_m=0.28)
    assert len(card.assumed) == 2
    assert card.thrust.relative > 0.15


def test_nothing_is_assumed_that_was_measured() -> None:
    readings = [_reading("flow", FLOW), _reading("thrust", THRUST), _reading("walk", ALPHA, BETA)]
    assert not combine(readings, density_kg_m3=DENSITY, diameter_m=0.28).assumed


def test_a_walk_alone_uses_a_typical_spread_and_reports_it() -> None:
    card = combine([_reading("walk", ALPHA, BETA)], density_kg_m3=DENSITY)
    assert len(card.assumed) == 1
    assert card.thrust.relative > 0.35


def test_a_thrust_without_flow_or_diameter_does_not_determine_the_fan() -> None:
    with pytest.raises(NoAnswerError, match="the diameter of the blades"):
        combine([_reading("thrust", THRUST)], density_kg_m3=DENSITY)


def test_a_saved_reading_comes_back_the_same(tmp_path: Path) -> None:
    path = tmp_path / "flow.json"
    saved = from_estimate("flow", Estimate(FLOW, 0.02, 7.0), setting="low")
    save_reading(saved, path)
    back = read_reading(path)
    assert back.values == pytest.approx(saved.values)
    assert (back.degrees, back.setting) == (7.0, "low")


def test_figures_are_typed_as_people_write_them() -> None:
    assert parse_figure("0.30 m3/s ± 6 %", "flow").standard == pytest.approx(0.018 / 1.96, rel=1e-4)
    assert parse_figure("170 gf +/- 5 gf", "force").relative == pytest.approx(5.0 / 170.0 / 1.96, rel=1e-4)
    assert parse_figure("620 cfm", "flow").relative == pytest.approx(0.10)
    with pytest.raises(UnitError):
        parse_figure("170 gf ± ", "force")


def test_every_error_in_typed_figures_is_named_at_once(tmp_path: Path) -> None:
    path = tmp_path / "typed.csv"
    path.write_text("what,value\nflow,0.3 N\nwind,3\nthrust,170 gf\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_typed_figures(path)
    assert [error.line for error in caught.value.errors] == [2, 3]


HOUSE = """# kept
rooms:
  room: {at: [0 m, 0 m], size: [5 m, 4 m]}
openings:
  door: {kind: door, joins: [room, outdoors], wall: south, along: 1 m, size: [0.9 m, 2 m]}
fans:
  old: {like: box 20 in}    # stays
"""


def test_a_fan_is_written_into_the_house_file_and_comments_stay() -> None:
    readings = [_reading("flow", FLOW), _reading("thrust", THRUST), _reading("speed", 0.8, setting="low")]
    card = combine(readings, density_kg_m3=DENSITY, diameter_m=0.28)
    text = write_fan(HOUSE, "new", card, power_w={"": 40.0, "low": 25.0}, sound_db={"": 52.0}, diameter_m=0.28)
    assert text.startswith("# kept\n")
    assert "# stays" in text
    fan = parse_house(text).fans["new"]
    assert fan.flow_m3_s == pytest.approx(FLOW, rel=0.005)
    assert fan.thrust_n == pytest.approx(THRUST, rel=0.005)
    assert fan.thrust_error == pytest.approx(0.03, rel=0.02)
    assert {setting.name: setting.power_w for setting in fan.settings} == {"high": None, "low": 25.0}


def test_settings_of_the_file_that_were_not_measured_stay() -> None:
    text = HOUSE.replace("{like: box 20 in}", "{like: box 20 in, settings: {turbo: 100 %, calm: 80 %, night: 40 %}}")
    readings = [_reading("flow", FLOW), _reading("thrust", THRUST), _reading("speed", 0.7, setting="calm")]
    card = combine(readings, density_kg_m3=DENSITY, diameter_m=0.28)
    written = write_fan(text, "old", card, power_w={}, sound_db={}, highest="turbo")
    settings = {one.name: one.speed for one in parse_house(written).fans["old"].settings}
    assert settings == pytest.approx({"turbo": 1.0, "calm": 0.7, "night": 0.4})


@pytest.mark.parametrize("name", ["", "high", "Highest", " MAX ", "100 %"])
def test_a_setting_called_highest_is_the_highest(name: str) -> None:
    assert highest_as_blank([name, "", "low"]) == {name: "", "": "", "low": "low"}


def test_the_first_setting_of_the_file_is_the_highest_and_the_file_gives_the_spelling() -> None:
    named = highest_as_blank(["Turbo", "Calm", ""], listed=["turbo", "calm", "night"])
    assert named == {"Turbo": "", "Calm": "calm", "": ""}


def test_a_fan_may_have_a_setting_above_its_high() -> None:
    assert highest_as_blank(["high", "turbo"], listed=["turbo", "high"]) == {"high": "high", "turbo": ""}


@pytest.mark.parametrize("names", [["", "3"], ["3", "1"], ["high", "max"], ["3"]])
def test_a_name_that_may_be_the_highest_or_not_is_asked_about(names: list[str]) -> None:
    with pytest.raises(InputError, match="--highest"):
        highest_as_blank(names)
    assert set(highest_as_blank(names, highest=names[-1]).values()) <= {"", names[0]}


def test_beside_a_named_highest_any_other_name_is_a_lower_setting() -> None:
    assert highest_as_blank(["high", "2", "1"]) == {"high": "", "2": "2", "1": "1"}


def test_thrust_that_does_not_fit_the_flow_is_doubted() -> None:
    card = combine([_reading("flow", FLOW), _reading("thrust", THRUST)], density_kg_m3=DENSITY)
    # rho Q^2 / A with A = pi / 4 d^2: 1.75 N at 28 cm, 0.14 N at 1 m.
    assert doubts(card, density_kg_m3=DENSITY, diameter_m=0.28) == ()
    said = note_words(doubts(card, density_kg_m3=DENSITY, diameter_m=1.0)[0])
    assert "about 0.14 N" in said


def test_figures_far_off_the_file_are_doubted_unless_those_were_estimated() -> None:
    card = combine([_reading("flow", FLOW), _reading("thrust", THRUST)], density_kg_m3=DENSITY)
    before = replace(parse_house(HOUSE).fans["old"], thrust_n=0.2, flow_m3_s=FLOW, estimated={})
    (doubt,) = doubts(card, density_kg_m3=DENSITY, before=before)
    assert "0.20 N" in note_words(doubt)
    assert "20 gf" in note_words(doubt, "us")  # 0.2 N / 9.80665 m/s2
    assert doubts(card, density_kg_m3=DENSITY, before=replace(before, estimated={"thrust_n": "typical"})) == ()


def test_a_lower_setting_that_runs_faster_is_doubted() -> None:
    readings = [_reading("flow", FLOW), _reading("thrust", THRUST), _reading("speed", 1.6, setting="low")]
    card = combine(readings, density_kg_m3=DENSITY)
    assert "160%" in note_words(doubts(card, density_kg_m3=DENSITY)[0])


def test_fans_are_ranked_by_driven_flow_and_compared_with_the_square_root_curve() -> None:
    house = parse_house(HOUSE.replace("  old:", "  small: {like: circulator 9 in}\n  old:"))
    ranking = rank_fans(house.fans)
    assert [fan.name for fan in ranking.fans] == ["old", "small"]
    assert ranking.fans[0].residual == pytest.approx(-ranking.fans[1].residual, abs=0.05)


def test_square_root_curve_goes_through_fans_that_follow_it() -> None:
    factor, scatter = square_root_factor(thrust_n=np.array([1.0, 4.0]), flow_m3_s=np.array([0.5, 1.0]))
    assert (factor, scatter) == pytest.approx((0.5, 0.0))


def test_readings_that_contradict_one_another_do_not_widen_what_they_do_not_measure() -> None:
    readings = [
        FanReading("flow", np.array([0.42]), np.array([[0.05**2]]), label="flow"),
        FanReading("thrust", np.array([2.8]), np.array([[0.015**2]]), label="one"),
        FanReading("thrust", np.array([2.4]), np.array([[0.015**2]]), label="other"),
    ]
    card = combine(readings, density_kg_m3=1.2)
    assert card.inflated > 3.0
    assert card.flow.relative == pytest.approx(0.05)
    assert card.thrust.relative == pytest.approx(card.inflated * 0.015 / 2.0**0.5)


def test_readings_are_doubted_where_chance_makes_their_misfit_in_one_campaign_of_twenty() -> None:
    # Two readings of one thrust, e apart in their logarithms: chi squared = (ln e / (sqrt(2) 0.015))^2 on one degree.
    def card(sigmas: float) -> FanData:
        other = THRUST * math.exp(-sigmas * 0.015 * math.sqrt(2.0))
        readings = [
            FanReading("thrust", np.array([t]), np.array([[0.015**2]]), label=f"{t:.2f}") for t in (THRUST, other)
        ]
        return combine([_reading("flow", FLOW), *readings], density_kg_m3=DENSITY)

    assert doubts(card(1.9), density_kg_m3=DENSITY) == ()
    said = note_words(doubts(card(2.1), density_kg_m3=DENSITY)[0])
    assert "1.70 above, 1.63 below what the others give by 2.1" in said


def test_a_house_file_gets_the_interval_of_few_readings_not_their_standard_uncertainty() -> None:
    few = Estimate(1.7, 0.05, degrees=2.0)
    assert few.normal_relative == pytest.approx(4.303 / 1.96 * 0.05 / 1.7, rel=1e-3)
    readings = [from_estimate("thrust", few), from_estimate("flow", Estimate(0.3, 0.01))]
    card = combine(readings, density_kg_m3=DENSITY)
    text = write_fan("fans: {}\n", "fan", card, power_w={}, sound_db={})
    assert "thrust error: 6.5 %" in text


def test_an_anemometer_known_from_few_pairs_keeps_its_degrees_of_freedom_in_the_fan(tmp_path: Path) -> None:
    budget = (Share("scatter", 0.003), Share(CALIBRATION, 0.02, 1.5))
    flow = Estimate(0.3, math.hypot(0.003, 0.02), effective_degrees(budget), "m3/s", budget)
    save_reading(from_estimate("flow", flow), tmp_path / "flow.json")
    back = read_reading(tmp_path / "flow.json")
    assert back.anemometer_degrees == 1.5
    card = combine([back, from_estimate("thrust", Estimate(1.7, 0.01))], density_kg_m3=DENSITY)
    assert card.flow.degrees < 2.0


def test_a_thrust_without_its_lever_ratio_gets_a_caution() -> None:
    assert remarks(thrust=2.1, flow=0.5, spread=0.15) == ()
    (note,) = remarks(thrust=37.0)
    assert note.code is NoteCode.IMPLAUSIBLE
    assert "--lever" in note_words(note)
    assert "3770 gf" in note_words(note, "us")  # 37 N / 9.80665 m/s2


def test_each_method_gives_the_same_flow_of_the_same_jet() -> None:
    width = FLOW / math.sqrt(2.0 * math.pi * THRUST / DENSITY) + SPREAD * 2.0
    centre = math.sqrt(2.0 * THRUST / math.pi / DENSITY) / width
    readings = [
        FanReading("flow", np.array([FLOW]), np.diag([0.06**2]), label="box"),
        FanReading("thrust", np.array([THRUST]), np.diag([0.02**2]), label="scale"),
        FanReading("walk", np.array([ALPHA, BETA]), np.diag([0.12**2, 0.03**2]), label="walk"),
        FanReading("profile", np.array([centre, width]), np.diag([0.04**2, 0.04**2]), distance_m=2.0, label="profile"),
    ]
    ways = flow_by_method(readings, density_kg_m3=DENSITY)
    assert set(ways) == {"box", "walk and scale", "walk and profile"}
    assert [one.value for one in ways.values()] == pytest.approx([FLOW] * 3)
    assert ways["walk and scale"].relative == pytest.approx(math.hypot(0.12, 0.02))
