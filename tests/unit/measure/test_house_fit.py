"""Correcting a house by readings at its openings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.unit.measure.blown_window import house_text
from ventplan.airing import Note, NoteCode
from ventplan.errors import InputError
from ventplan.house import Placement, parse_house
from ventplan.measure.anemometer import uncalibrated
from ventplan.measure.fan_reading import from_estimate, save_reading
from ventplan.measure.house_fit import Fitted, calibrated_text, fit_house
from ventplan.measure.house_model import house_at, jet_speed, parameters_of, scenario_at
from ventplan.measure.house_readings import HouseReadings, data_from, read_house_readings
from ventplan.measure.inference import Data, Noise, Posterior, fit, fit_most, information_gain, leave_one_out
from ventplan.measure.uncertainty import Estimate
from ventplan.network import solve
from ventplan.show.cautions import note_words

HOUSE = house_text(errors="20 %, 8 %, 10 %")
VANE = uncalibrated(relative=0.01, start_up_m_s=0.2)


def data_of(logarithms: Sequence[float] | np.ndarray, noise: Noise, below: Sequence[bool] = ()) -> Data:
    """Readings, all of them known where ``below`` is left out."""
    values = np.asarray(logarithms, dtype=float)
    return Data(values, np.array(below or [False] * values.size), noise)


def _read(tmp_path: Path, text: str, house: str = HOUSE) -> HouseReadings:
    path = tmp_path / "readings.csv"
    path.write_text(text, encoding="utf-8")
    return read_house_readings(path, house_text=house, calibration=VANE)


def _fit(taken: HouseReadings) -> Fitted:
    data = data_from(taken.readings, VANE, model_error=0.01, jet_error=0.01)
    return fit_house(taken.house, taken.readings, data, notes=taken.notes)


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
    result = _fit(_read(tmp_path, _truth((1.0, 2.0, 3.0)))).result
    assert result.misfit_after < 0.2 * result.misfit_before
    thrust = next(one for one in result.corrected if one.name == "thrust of fan")
    assert thrust.factor < 0.9
    assert thrust.posterior < thrust.prior


def test_one_mean_flow_determines_one_combination_and_no_single_cause_of_it(tmp_path: Path) -> None:
    # A mean alone: beside it, a reading in the stream tells how much the air contracts, and so the discharge.
    head, _, mean = _truth((2.0,)).splitlines()
    result = _fit(_read(tmp_path, f"{head},plus or minus\n{mean},2 %\n")).result
    assert (result.settled, result.unknowns) == (1, 7)
    known = {one.name: one.posterior / one.prior for one in result.corrected}
    # Most of what was not known of each remains: none is known half as badly as before.
    assert min(known["thrust of fan"], known["discharge of inlet"], known["spread of fan"]) > 0.5


def test_figures_that_readings_do_not_depend_on_keep_their_prior(tmp_path: Path) -> None:
    result = _fit(_read(tmp_path, _truth((2.0,)))).result
    for one in result.corrected:
        assert -1e-9 <= one.learnt <= 1.0


def test_calibrated_file_keeps_comments_notes_what_was_and_predicts_the_readings(tmp_path: Path) -> None:
    first = _fit(_read(tmp_path, _truth((1.0, 2.0, 3.0))))
    text = calibrated_text(HOUSE, first, source="readings.csv")
    assert "# a comment that stays" in text
    assert "# painted" in text
    assert "thrust of fan: 2.6 N" in text
    result = _fit(_read(tmp_path, (tmp_path / "readings.csv").read_text(), text)).result
    # A part of the misfit went to the aim of the fan that evening, which no house file keeps.
    assert result.misfit_before < 0.2 * first.result.misfit_before


def test_next_reading_is_fast_enough_for_the_vane(tmp_path: Path) -> None:
    result = _fit(_read(tmp_path, _truth((2.0,)))).result
    assert result.next_readings
    assert all(one.opening == "inlet" and one.gain >= 0.0 for one in result.next_readings)


def test_set_ups_are_written_in_the_words_of_the_house_file(tmp_path: Path) -> None:
    text = (
        "opening,speed,fan,blows in,stands in,setback,open,screens\n"
        "inlet,0.8 m/s,fan,window,outdoors,4 ft,window + inlet,off\n"
    )
    readings = _read(tmp_path, text).readings
    state = readings[0].scenario
    assert state.placements[0].setback_m == pytest.approx(1.2192)
    assert state.placements[0].stands_in == "outdoors"
    assert state.shares["inlet"] > 0.0


def test_a_vane_that_does_not_turn_is_a_reading_below_its_start_up_speed(tmp_path: Path) -> None:
    taken = _read(tmp_path, "scenario,opening,speed\nblown,inlet,0\nblown,inlet,1.1\n")
    assert [reading.below for reading in taken.readings] == [True, False]
    assert taken.readings[0].speed_m_s == VANE.start_up_m_s
    assert "line 2" in note_words(taken.notes[-1])


@pytest.mark.parametrize(
    ("row", "found"),
    [
        ("blown,inlett,1.0,,", "inlett"),
        ("bown,inlet,1.0,,", "bown"),
        ("blown,inlet,1.0,wide,", "wide"),
        ("blown,inlet,1.0,,3 kg", "kg"),
    ],
)
def test_an_error_in_a_set_up_is_placed_in_the_readings(tmp_path: Path, row: str, found: str) -> None:
    with pytest.raises(InputError) as caught:
        _read(tmp_path, f"scenario,opening,speed,takes,setback\nblown,inlet,1.0,,\n{row}\n")
    error = caught.value.errors[0]
    assert found in error.found
    assert error.line == 3


def test_one_place_in_a_jet_does_not_give_the_flow_and_is_left_out_with_a_note(tmp_path: Path) -> None:
    text = "scenario,opening,speed\nblown,window,3.0\nblown,inlet,1.1\n"
    result = _fit(_read(tmp_path, text)).result
    assert len(result.left_out) == 1
    assert result.notes[-1].code is NoteCode.LEFT_OUT
    assert "window, line 2" in note_words(result.notes[-1])


def test_parameters_change_what_they_name_and_nothing_else() -> None:
    house = parse_house(HOUSE)
    blown = house.scenarios["blown"]
    parameters = parameters_of(house, [blown])
    assert house_at(house, parameters, np.zeros(len(parameters))) == house
    assert scenario_at(blown, parameters, np.zeros(len(parameters))) == blown
    only = [{"thrust of fan": math.log(1.1), "sideways aim of fan": 4.0}.get(one.name, 0.0) for one in parameters]
    changed = house_at(house, parameters, only)
    assert scenario_at(blown, parameters, only).placements[0].turn_deg == 4.0
    assert changed.fans["fan"].thrust_n == pytest.approx(2.86)
    assert changed.openings == house.openings


def test_leave_one_out_is_what_refitting_without_the_reading_gives() -> None:
    generator = np.random.default_rng(3)
    slopes, prior = generator.standard_normal((5, 2)), np.array([0.3, 0.5])
    noise = Noise(np.sqrt([0.01, 0.02, 0.01, 0.03, 0.02]), np.full((5, 5), 0.004))
    target = slopes @ [0.2, -0.4] + 0.1 * generator.standard_normal(5)
    data = data_of(target, noise)
    posterior = fit(model=lambda p: slopes @ p, data=data, prior=prior)
    off, standard = leave_one_out(posterior, data, prior)
    # By hand for the last: condition the joint normal of all five on the first four.
    joint = slopes @ np.diag(prior**2) @ slopes.T + noise.covariance
    gain = joint[4, :4] @ np.linalg.inv(joint[:4, :4])
    assert off[4] == pytest.approx(target[4] - gain @ target[:4])
    assert standard[4] ** 2 == pytest.approx(joint[4, 4] - gain @ joint[:4, 4])


def test_a_typing_error_is_set_aside_and_the_other_readings_are_kept(tmp_path: Path) -> None:
    right = _truth((1.0, 2.0, 3.0)).splitlines()
    cells = right[4].split(",")
    cells[3] = str(10.0 * float(cells[3]))
    wrong = [*right[:4], ",".join(cells), *right[5:]]
    fitted = _fit(_read(tmp_path, "\n".join(wrong) + "\n"))
    result, posterior = fitted.result, fitted.posterior
    flagged = [one.label for one in result.left_out if one.set_aside or abs(one.normalised) > 2.5]
    assert flagged == ["inlet, line 5 (blown: setback 2.0 m)"]
    assert result.notes[0].code is NoteCode.SET_ASIDE
    assert "inlet, line 5" in note_words(result.notes[0])
    without = _fit(_read(tmp_path, "\n".join([*right[:4], *right[5:]]) + "\n")).posterior
    assert posterior.point == pytest.approx(without.point, abs=2e-3)
    assert posterior.covariance == pytest.approx(without.covariance, rel=0.05, abs=1e-5)


def _straight(target: np.ndarray) -> tuple[Posterior, frozenset[int]]:
    slopes = np.linspace(0.5, 1.5, target.size)[:, None]
    noise = Noise(np.full(target.size, 0.1), np.zeros((target.size, target.size)))
    return fit_most(model=lambda p: slopes @ p, data=data_of(target, noise), prior=np.array([0.5]))


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


def test_a_blank_below_a_setback_is_the_files_own_with_a_note(tmp_path: Path) -> None:
    taken = _read(tmp_path, "scenario,setback,opening,speed\nblown,1 m,inlet,1.0\nblown,,inlet,1.1\n")
    assert taken.readings[1].scenario.placements[0].setback_m == 2.0
    assert taken.notes[-1:] == (Note(NoteCode.SETUP_OF_FILE, ("setback", "3")),)


def test_a_reading_in_an_opening_that_is_shut_is_an_error(tmp_path: Path) -> None:
    taken = _read(tmp_path, "scenario,shut,opening,speed\nblown,,window,1.0\nblown,inlet,inlet,1.1\n")
    with pytest.raises(InputError, match="read in an opening that is shut in its set-up: inlet, line 3"):
        _fit(taken)


def test_pulses_are_fitted_with_their_calibration(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("scenario,opening,pulses,counting time [s]\nblown,inlet,150,30\n", encoding="utf-8")
    wheel = replace(VANE, slope=0.2, indication="Hz")
    taken = read_house_readings(path, house_text=HOUSE, calibration=wheel)
    assert taken.readings[0].speed_m_s == pytest.approx(1.0)
    with pytest.raises(InputError, match="readings in Hz, and a calibration in m/s"):
        read_house_readings(path, house_text=HOUSE, calibration=VANE)


def test_a_reading_below_a_limit_pulls_the_model_down_and_only_when_it_is_above() -> None:
    noise = Noise(np.array([0.1]), np.zeros((1, 1)))
    below = data_of([0.0], noise, [True])
    above = fit(model=lambda p: 1.0 + p, data=below, prior=np.array([1.0]))
    assert -1.2 < above.point[0] < -0.8
    under = fit(model=lambda p: -1.0 + p, data=below, prior=np.array([1.0]))
    assert under.point[0] == pytest.approx(0.0, abs=0.01)
    assert under.covariance[0, 0] == pytest.approx(1.0, abs=0.01)


def test_a_limit_is_the_truncated_normal_that_scipy_gives() -> None:
    # One reading below 0 with own error s, prior of standard deviation 1: the density of the parameter is
    # phi(p) Phi(-p / s); its mode solves p = -(1 / s) phi / Phi.
    from scipy import optimize, stats

    s = 0.5
    mode = optimize.brentq(lambda p: p + stats.norm.pdf(-p / s) / stats.norm.cdf(-p / s) / s, -3.0, 0.0)
    data = data_of([0.0], Noise(np.array([s]), np.zeros((1, 1))), [True])
    assert fit(model=lambda p: p, data=data, prior=np.array([1.0])).point[0] == pytest.approx(mode, abs=0.01)


def test_a_vane_that_does_not_turn_where_the_model_is_fast_lowers_the_thrust(tmp_path: Path) -> None:
    slow = "scenario,setback,opening,speed\nblown,2 m,inlet,0\nblown,3 m,inlet,0\n"
    fitted = _fit(_read(tmp_path, slow))
    thrust = next(one for one in fitted.result.corrected if one.name == "thrust of fan")
    assert thrust.factor < 1.0
    assert all(one.below for one in fitted.result.left_out)


def test_flows_and_saved_results_of_openings_are_means_over_the_opening(tmp_path: Path) -> None:
    save_reading(from_estimate("flow", Estimate(0.21, 0.021, unit="m3/s")), tmp_path / "inlet.json")
    rows = "scenario,opening,flow [m3/h],result,plus or minus\nblown,inlet,756,,10 %\nblown,inlet,,inlet.json,\n"
    flow, saved = _read(tmp_path, rows).readings
    assert flow.takes == saved.takes == "mean"
    assert flow.speed_m_s == pytest.approx(0.21 / 0.42)
    assert saved.speed_m_s == pytest.approx(0.21 / 0.42)
    assert saved.error == pytest.approx(0.1)


def test_readings_in_the_jet_separate_thrust_from_discharge(tmp_path: Path) -> None:
    fan = parse_house(HOUSE).fans["fan"]
    speed = [jet_speed(parse_house(HOUSE), Placement("fan", "window", "room", 2.0), d) for d in (1.0, 2.0, 3.0)]
    assert speed[2] == pytest.approx(
        math.sqrt(2.0 * fan.thrust_n / math.pi / 1.2)
        / (fan.flow_m3_s / math.sqrt(2.0 * math.pi * fan.thrust_n / 1.2) + fan.spread * 3.0),
        rel=0.002,
    )
    inlet = _truth((2.0,))
    jet = "".join(f"blown,2 m,,{v:.3f},jet,{d} m\n" for v, d in zip(speed, (1.0, 2.0, 3.0), strict=True))
    lines = inlet.replace("takes\n", "takes,distance\n").replace("stream\n", "stream,\n").replace("mean\n", "mean,\n")
    only, both = _fit(_read(tmp_path, inlet)).result, _fit(_read(tmp_path, lines + jet)).result
    known = {name: next(one.posterior for one in fit.corrected if one.name == "thrust of fan")
             for name, fit in (("only", only), ("both", both))}  # fmt: skip
    assert known["both"] < 0.8 * known["only"]
    assert both.settled > only.settled


def test_the_rounding_of_a_coarse_display_is_part_of_the_scatter(tmp_path: Path) -> None:
    rows = "scenario,opening,speed\n" + "".join(f"blown,inlet,{v}\n" for v in (0.5, 0.7, 0.6, 0.5))
    coarse = _read(tmp_path, rows).readings[0]
    fine = _read(tmp_path, rows + "blown,inlet,0.512\n").readings[0]
    assert coarse.error == pytest.approx(math.hypot(0.10, 0.1 / math.sqrt(12.0) / 0.5))
    assert fine.error == pytest.approx(0.10)
