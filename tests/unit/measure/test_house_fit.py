"""Correcting a house by readings at its openings."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ventplan.errors import InputError
from ventplan.house import parse_house
from ventplan.measure.anemometer import uncalibrated
from ventplan.measure.fit_report import calibrated_text, fit_house
from ventplan.measure.house_fit import Posterior, fit, fit_most, information_gain, leave_one_out
from ventplan.measure.house_readings import noise_of, read_house_readings
from ventplan.measure.knobs import knobs_of, turned
from ventplan.network import solve

HOUSE = """# a comment that stays
indoors: {temperature: 20 °C}
outdoors: {temperature: 20 °C}
rooms:
  room: {at: [0 m, 0 m], size: [6 m, 4 m], ceiling: 2.5 m}
openings:
  window: {kind: window, joins: [room, outdoors], wall: east, along: 1.5 m, size: [1.0 m, 1.1 m], sill: 0.8 m,
           full: 100 %}
  inlet: {kind: window, joins: [room, outdoors], wall: west, along: 1.5 m, size: [0.6 m, 0.7 m], sill: 0.8 m,
           full: 100 %}    # painted
fans:
  fan: {flow: 0.4 m3/s, thrust: 2.6 N, diameter: 34 cm, spread: 0.13,
        thrust error: 20 %, flow error: 8 %, spread error: 10 %}
scenarios:
  as it stands: {}
  blown: {open: [window, inlet], fans: [{fan: fan, blows out: window, setback: 2 m}]}
"""
VANE = uncalibrated(relative=0.01, start_up_m_s=0.2)


def _read(tmp_path: Path, text: str):
    path = tmp_path / "readings.csv"
    path.write_text(text, encoding="utf-8")
    return read_house_readings(path, house_text=HOUSE, calibration=VANE, model_error=0.01)


def _truth(setbacks: tuple[float, ...], thrust: float = 1.7, discharge: float = 0.55) -> str:
    """Readings without noise from a weaker fan and a narrower inlet than the file says."""
    house = parse_house(HOUSE)
    house = replace(house, fans={"fan": replace(house.fans["fan"], thrust_n=thrust)})
    inlet = replace(house.openings["inlet"], discharge=discharge)
    house = replace(house, openings={**house.openings, "inlet": inlet})
    lines = ["scenario,setback,opening,speed,takes"]
    for setback in setbacks:
        state = house.scenarios["blown"]
        placed = (replace(state.placements[0], setback_m=setback),)
        flow = solve(house, replace(state, placements=placed)).openings["inlet"]
        lines.append(f"blown,{setback} m,inlet,{flow.reading_m_s:.4f},stream")
        lines.append(f"blown,{setback} m,inlet,{flow.face_speed_m_s:.4f},mean")
    return "\n".join(lines) + "\n"


def test_a_fit_lowers_the_misfit_and_finds_the_weaker_fan(tmp_path: Path) -> None:
    house, readings, _ = _read(tmp_path, _truth((1.0, 2.0, 3.0)))
    result, *_ = fit_house(house, readings, noise_of(readings, VANE))
    assert result.misfit_after < 0.2 * result.misfit_before
    thrust = next(one for one in result.corrected if one.name == "thrust of fan")
    assert thrust.factor < 0.9
    assert thrust.posterior < thrust.prior


def test_thrust_and_inlet_cannot_be_told_apart_by_flow_through_the_inlet_alone(tmp_path: Path) -> None:
    house, readings, _ = _read(tmp_path, _truth((2.0,)))
    result, *_ = fit_house(house, readings, noise_of(readings, VANE))
    assert ("thrust of fan", "discharge of inlet") in {pair[:2] for pair in result.tied}


def test_what_readings_cannot_reach_keeps_its_prior(tmp_path: Path) -> None:
    house, readings, _ = _read(tmp_path, _truth((2.0,)))
    result, *_ = fit_house(house, readings, noise_of(readings, VANE))
    for one in result.corrected:
        assert -1e-9 <= one.learnt <= 1.0


def test_calibrated_file_keeps_comments_notes_what_was_and_predicts_the_readings(tmp_path: Path) -> None:
    house, readings, _ = _read(tmp_path, _truth((1.0, 2.0, 3.0)))
    _, knobs, posterior = fit_house(house, readings, noise_of(readings, VANE))
    text = calibrated_text(HOUSE, knobs, posterior, source="readings.csv")
    assert "# a comment that stays" in text
    assert "# painted" in text
    assert "thrust of fan: 2.6 N" in text
    again, readings_again, _ = read_house_readings(
        tmp_path / "readings.csv", house_text=text, calibration=VANE, model_error=0.01
    )
    result, *_ = fit_house(again, readings_again, noise_of(readings_again, VANE))
    assert result.misfit_before < 0.02


def test_next_reading_is_one_that_the_vane_can_take(tmp_path: Path) -> None:
    house, readings, _ = _read(tmp_path, _truth((2.0,)))
    result, *_ = fit_house(house, readings, noise_of(readings, VANE))
    assert result.next_readings
    assert all(one.opening == "inlet" and one.gain >= 0.0 for one in result.next_readings)


def test_set_ups_are_told_in_the_words_of_the_house_file(tmp_path: Path) -> None:
    text = (
        "opening,speed,fan,blows in,stands in,setback,open,screens\n"
        "inlet,0.8 m/s,fan,window,outdoors,4 ft,window + inlet,off\n"
    )
    _, readings, _ = _read(tmp_path, text)
    state = readings[0].scenario
    assert state.placements[0].setback_m == pytest.approx(1.2192)
    assert state.placements[0].stands_in == "outdoors"
    assert state.shares["inlet"] > 0.0


def test_readings_below_start_up_are_counted_and_left_out(tmp_path: Path) -> None:
    _, readings, notes = _read(tmp_path, "scenario,opening,speed\nblown,inlet,0\nblown,inlet,1.1\n")
    assert len(readings) == 1
    assert "lines 2" in notes[0]


@pytest.mark.parametrize(
    ("row", "found"),
    [
        ("blown,inlett,1.0,,", "inlett"),
        ("bown,inlet,1.0,,", "bown"),
        ("blown,inlet,1.0,wide,", "wide"),
        ("blown,inlet,1.0,,3 kg", "kg"),
    ],
)
def test_a_mistake_in_a_set_up_is_placed_in_the_readings(tmp_path: Path, row: str, found: str) -> None:
    with pytest.raises(InputError) as caught:
        _read(tmp_path, f"scenario,opening,speed,takes,setback\nblown,inlet,1.0,,\n{row}\n")
    mistake = caught.value.mistakes[0]
    assert found in mistake.found
    assert mistake.line == 3


def test_one_place_in_the_jet_says_nothing_and_is_left_out_with_a_note(tmp_path: Path) -> None:
    text = "scenario,opening,speed\nblown,window,3.0\nblown,inlet,1.1\n"
    house, readings, _ = _read(tmp_path, text)
    result, *_ = fit_house(house, readings, noise_of(readings, VANE))
    assert len(result.left_out) == 1
    assert "window, line 2" in result.notes[0]


def test_knobs_turn_what_they_name_and_nothing_else() -> None:
    house = parse_house(HOUSE)
    knobs = knobs_of(house, [house.scenarios["blown"]])
    assert turned(house, knobs, np.zeros(len(knobs))) == house
    only = [math.log(1.1) if knob.name == "thrust of fan" else 0.0 for knob in knobs]
    changed = turned(house, knobs, only)
    assert changed.fans["fan"].thrust_n == pytest.approx(2.86)
    assert changed.openings == house.openings


def test_leave_one_out_is_what_refitting_without_the_reading_gives() -> None:
    generator = np.random.default_rng(3)
    slopes, prior = generator.standard_normal((5, 2)), np.array([0.3, 0.5])
    noise = np.diag([0.01, 0.02, 0.01, 0.03, 0.02]) + 0.004
    target = slopes @ [0.2, -0.4] + 0.1 * generator.standard_normal(5)
    posterior = fit(model=lambda p: slopes @ p, readings=list(target), noise=noise, prior=prior)
    off, standard = leave_one_out(posterior, prior)
    # By hand for the last: condition the joint normal of all five on the first four.
    joint = slopes @ np.diag(prior**2) @ slopes.T + noise
    gain = joint[4, :4] @ np.linalg.inv(joint[:4, :4])
    assert off[4] == pytest.approx(target[4] - gain @ target[:4])
    assert standard[4] ** 2 == pytest.approx(joint[4, 4] - gain @ joint[:4, 4])


def test_a_typing_error_is_set_aside_and_the_others_are_left_in_peace(tmp_path: Path) -> None:
    right = _truth((1.0, 2.0, 3.0)).splitlines()
    cells = right[4].split(",")
    cells[3] = str(10.0 * float(cells[3]))
    wrong = [*right[:4], ",".join(cells), *right[5:]]
    house, readings, _ = _read(tmp_path, "\n".join(wrong) + "\n")
    result, _, posterior = fit_house(house, readings, noise_of(readings, VANE))
    flagged = [one.label for one in result.left_out if one.set_aside or abs(one.normalised) > 2.5]
    assert flagged == ["inlet, line 5 (blown: setback 2.0 m)"]
    assert "Set aside" in result.notes[0]
    assert "inlet, line 5" in result.notes[0]
    house, readings, _ = _read(tmp_path, "\n".join([*right[:4], *right[5:]]) + "\n")
    _, _, without = fit_house(house, readings, noise_of(readings, VANE))
    assert posterior.point == pytest.approx(without.point, abs=2e-3)
    assert posterior.covariance == pytest.approx(without.covariance, rel=0.05, abs=1e-5)


def _straight(target: np.ndarray) -> tuple[Posterior, frozenset[int]]:
    slopes = np.linspace(0.5, 1.5, target.size)[:, None]
    return fit_most(
        model=lambda p: slopes @ p, readings=list(target), noise=np.eye(target.size) * 0.01, prior=np.array([0.5])
    )


def test_two_wild_readings_of_seven_are_both_set_aside() -> None:
    target = 0.3 * np.linspace(0.5, 1.5, 7) + np.array([0.05, -0.05, 0.0, 2.0, 0.05, -0.05, -1.5])
    assert _straight(target)[1] == {3, 6}


def test_readings_that_agree_are_all_kept_however_far_off_the_file() -> None:
    posterior, aside = _straight(1.5 * np.linspace(0.5, 1.5, 7))
    assert not aside
    assert posterior.point[0] == pytest.approx(1.5, rel=0.02)


def test_where_half_contradict_the_other_half_all_are_kept() -> None:
    target = 0.3 * np.linspace(0.5, 1.5, 6) + np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])
    assert not _straight(target)[1]


def test_noise_alone_seldom_sets_a_reading_aside() -> None:
    generator = np.random.default_rng(5)
    times = sum(bool(_straight(0.1 * generator.standard_normal(6))[1]) for _ in range(300))
    assert times <= 8  # 1 % of 300 is 3; more than 8 would come by chance in one of 200 runs


def test_information_is_the_halved_logarithm_of_the_variance_ratio() -> None:
    covariance, slopes, error = np.diag([0.04, 0.01]), np.array([1.0, 2.0]), 0.1
    before = np.linalg.det(covariance)
    after = np.linalg.det(np.linalg.inv(np.linalg.inv(covariance) + np.outer(slopes, slopes) / error**2))
    assert information_gain(covariance, slopes, error) == pytest.approx(0.5 * math.log(before / after))


def test_a_merged_scenario_is_not_taken_for_the_house_as_it_stands(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"3: scenario: found an empty cell below a filled one.*merged cells"):
        _read(tmp_path, "scenario,opening,speed\nblown,inlet,1.0\n,inlet,1.1\n")


def test_a_blank_below_a_setback_is_said_to_be_that_of_the_file(tmp_path: Path) -> None:
    _, readings, notes = _read(tmp_path, "scenario,setback,opening,speed\nblown,1 m,inlet,1.0\nblown,,inlet,1.1\n")
    assert readings[1].scenario.placements[0].setback_m == 2.0
    assert notes == ("No setback in line 3, below rows that have one: taken as the house file has it.",)


def test_a_reading_in_an_opening_that_is_shut_is_a_mistake(tmp_path: Path) -> None:
    house, readings, _ = _read(tmp_path, "scenario,shut,opening,speed\nblown,,window,1.0\nblown,inlet,inlet,1.1\n")
    with pytest.raises(InputError, match="shut in its set-up, and read all the same: inlet, line 3"):
        fit_house(house, readings, noise_of(readings, VANE))


def test_pulses_are_fitted_with_their_calibration(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("scenario,opening,pulses,counting time [s]\nblown,inlet,150,30\n", encoding="utf-8")
    wheel = replace(VANE, slope=0.2, indication="Hz")
    _, readings, _ = read_house_readings(path, house_text=HOUSE, calibration=wheel, model_error=0.01)
    assert readings[0].speed_m_s == pytest.approx(1.0)
    with pytest.raises(InputError, match="readings in Hz, and a calibration in m/s"):
        read_house_readings(path, house_text=HOUSE, calibration=VANE)
