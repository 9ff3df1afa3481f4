"""Intervals hold what they say, and plans are ranked in the same possible houses."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from tests.unit.advice.rig import TEXT, coverage, expected_truth, rig, sample_house
from ventplan.advice.comparison import _judged, how_sure
from ventplan.advice.intervals import HALF_WIDTH_SIGMAS, Interval, Quantity, explained, interval, intervals_of
from ventplan.advice.objective import Objective
from ventplan.advice.setback import setback_curve, sure_setback
from ventplan.advice.uncertainty import answered, causes_of, draws_of, normal_draws
from ventplan.cli.app import app
from ventplan.errors import InputError, NoAnswerError
from ventplan.house import House, Scenario
from ventplan.network import solve
from ventplan.show.comparison_tables import aim_with_interval, with_interval

THROUGH_NEAR = Objective("opening", "near")


def series_flow(house: House, scenario: Scenario) -> np.ndarray:
    """Flow at 1 Pa through both windows in series without their screens, in closed form [m3/s]."""
    areas = [o.discharge * o.area_m2 for o in house.openings.values()]
    return np.array([sum(a**-2 for a in areas) ** -0.5 * math.sqrt(2.0 / 1.2)])


def test_ninety_per_cent_intervals_hold_nine_truths_of_ten_for_a_closed_form() -> None:
    house, rng = rig(), np.random.default_rng(5)
    state = house.scenarios["at 1 m"]
    (stated,), draws, _ = intervals_of(house, state, series_flow)
    assert draws == 0
    truths = np.array([series_flow(*sample_house(house, state, rng))[0] for _ in range(2000)])
    held = np.mean((stated.low <= truths) & (truths <= stated.high))
    assert 0.88 <= held <= 0.92


def test_the_closed_form_s_interval_is_that_of_its_logarithm() -> None:
    """Two equal windows: sigma^2 = shared^2 + own^2 / 2, by hand."""
    house = rig()
    (stated,), _, _ = intervals_of(house, house.scenarios["at 1 m"], series_flow)
    sigma = math.log(stated.high / stated.low) / (2.0 * HALF_WIDTH_SIGMAS)
    assert sigma == pytest.approx(math.sqrt(0.07**2 + 0.07**2 / 2.0), rel=0.03)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["small fan", "at 1 m"])
def test_ninety_per_cent_intervals_hold_nine_truths_of_ten(name: str) -> None:
    """By derivatives and by draws alike; chance alone moves a share of 1500 truths by 0.8 %."""
    shares = coverage(rig(), name, expected_truth, truths=1500, draws=1024)
    assert all(0.88 <= share <= 0.92 for share in shares.values()), shares


def test_an_interval_holds_its_value_and_says_how_it_was_made() -> None:
    house = rig()
    found = interval(house, "small fan", [Quantity("net flow", "near"), Quantity("ratio", "0")])
    flow = solve(house, "small fan")
    assert found.draws == 0
    assert found.of("net flow", "near").value == pytest.approx(flow.openings["near"].net_m3_s, rel=1e-6)
    for one in found.intervals:
        assert one.low < one.value < one.high
        assert one.method.startswith("linear")
        assert 0.9 < sum(share for _, share in one.budget) <= 1.0 + 1e-9


def test_a_flow_that_may_turn_round_is_sampled_and_says_so() -> None:
    found = interval(rig(), "windy", [Quantity("net flow", "near")], draws=64).of("net flow", "near")
    assert found.method == "sampled"
    assert found.low < 0.0 < found.high


def test_more_draws_begin_with_those_of_fewer() -> None:
    assert np.array_equal(normal_draws(5, 64, seed=1)[:16], normal_draws(5, 16, seed=1))


def test_draws_are_standard_normal() -> None:
    normal = normal_draws(8, 1024, seed=1)
    assert normal.mean(axis=0) == pytest.approx(0.0, abs=0.02)
    assert normal.std(axis=0) == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize(("text", "draws"), [("low", 64), ("normal", 256), ("high", 1024), ("16", 16), ("300", 512)])
def test_work_is_a_word_or_a_number(text: str, draws: int) -> None:
    assert draws_of(text) == draws


@pytest.mark.parametrize("text", ["some", "7", "-64", "1e3", "99999999"])
def test_other_work_is_an_error(text: str) -> None:
    with pytest.raises(InputError, match="low, normal, high, or 16 to 65536 draws"):
        draws_of(text)


def test_too_many_houses_without_an_answer_are_no_answer() -> None:
    values = np.ones((20, 2))
    values[:3, 0] = np.nan
    with pytest.raises(NoAnswerError, match="17 of 20"):
        answered(values)
    assert answered(values[2:]).sum() == 17


def test_shares_of_a_sum_are_those_of_its_parts() -> None:
    normal = normal_draws(3, 1024, seed=2)
    shares = explained(normal, 2.0 * normal[:, 0] + normal[:, 1])
    assert shares == pytest.approx([0.8, 0.2, 0.0], abs=0.01)


def test_what_plans_have_in_common_does_not_blur_their_ranking() -> None:
    house = rig()
    plans = [house.scenarios["at 1 m"], house.scenarios["small fan"]]
    sure = how_sure(house, THROUGH_NEAR, plans, work=64)
    # In their own intervals each flow is good to a third; in the same house the larger fan wins all the same.
    assert sure.plans[0].interval.low < 0.8 * sure.plans[0].interval.value
    assert sure.plans[0].best_share > 0.95
    near = how_sure(house, THROUGH_NEAR, [plans[0], house.scenarios["at 1.1 m"]], work=64)
    assert max(plan.worst_regret for plan in near.plans) < 0.1
    assert near.plans[0].best_share + near.plans[1].best_share == pytest.approx(1.0)


def test_a_plan_alone_is_best_and_regrets_nothing() -> None:
    house = rig()
    sure = how_sure(house, THROUGH_NEAR, [house.scenarios["small fan"]], work=16)
    assert sure.plans[0].best_share == 1.0
    assert sure.plans[0].worst_regret == 0.0
    assert sure.decided_by == ()


def test_no_plan_is_an_error() -> None:
    with pytest.raises(ValueError, match="at least one plan"):
        how_sure(rig(), THROUGH_NEAR, [])


def test_the_same_seed_gives_the_same_answer() -> None:
    house = rig()
    plans = [house.scenarios["at 1 m"], house.scenarios["at 1.1 m"]]
    assert how_sure(house, THROUGH_NEAR, plans, work=16) == how_sure(house, THROUGH_NEAR, plans, work=16)


def test_a_steady_plan_is_good_whatever_happens_and_a_bold_one_is_best_more_often() -> None:
    house = rig()
    causes = causes_of(house, (house.scenarios["at 1 m"],))
    normal = normal_draws(len(causes), 256, seed=1)
    bold = 1.1 + 0.5 * normal[:, 0]
    sure = _judged(THROUGH_NEAR, [1.1, 1.0], np.stack([bold, np.ones(256)], axis=1), causes, normal)
    assert sure.plans[0].best_share == pytest.approx(0.58, abs=0.02)  # the normal distribution above -0.2
    assert sure.safest == 1
    assert sure.least_regret == 1
    assert sure.decided_by[0][0] == causes[0].group
    assert sure.decided_by[0][1] == pytest.approx(1.0, abs=0.02)


def test_regret_is_what_a_plan_falls_short_of_the_best_one() -> None:
    values = np.array([[1.0, 2.0], [4.0, 2.0]])
    sure = _judged(THROUGH_NEAR, [1.0, 2.0], values, (), np.zeros((2, 0)))
    assert [plan.expected_regret for plan in sure.plans] == pytest.approx([0.25, 0.25])
    assert [plan.worst_regret for plan in sure.plans] == pytest.approx([0.5, 0.5])


def test_the_best_setback_has_an_interval_of_its_own() -> None:
    house = rig()
    state = house.scenarios["at 1 m"]
    answer = setback_curve(house, state, fan="fan", opening="near")
    (on, off) = sure_setback(house, state, answer, work=16)
    assert (on.screens, off.screens) == ("on", "off")
    for one, curve in zip((on, off), answer.curves, strict=True):
        assert one.flow.low < curve.best_flow_m3_s < one.flow.high
        assert one.best_setback.low < curve.best_setback_m < one.best_setback.high
        assert 0.9 < one.kept <= 1.0
        at = one.setbacks_m.index(round(curve.best_setback_m, 4))
        assert (one.low_m3_s[at], one.high_m3_s[at]) == pytest.approx((one.flow.low, one.flow.high))


def test_an_interval_is_told_with_its_value_in_either_unit() -> None:
    one = Interval(0.62, 0.51, 0.74, "linear")
    assert with_interval(one, "flow", "si") == "0.62 m³/s, between 0.51 and 0.74 (90 %)"
    assert with_interval(one, "flow", "us") == "1310 cfm, between 1080 and 1570 (90 %)"


def test_a_time_is_told_from_the_shortest() -> None:
    one = Interval(1 / 300.0, 1 / 600.0, 1 / 180.0, "sampled")
    told = aim_with_interval(Objective("clear", "room"), one, 1 / 500.0, "si")
    assert told == "5.0 min, between 3.0 and 10 (90 %); one case in ten is worse than 8.3"


def printed(tmp_path: Path, *words: str) -> str:
    file = tmp_path / "rig.yaml"
    file.write_text(TEXT, encoding="utf-8")
    answer = CliRunner().invoke(app, [words[0], str(file), *words[1:]])
    assert answer.exit_code == 0, answer.output
    return " ".join(answer.output.split())


def test_flow_says_how_sure_it_is(tmp_path: Path) -> None:
    text = printed(tmp_path, "flow", "--scenario", "small fan", "--sure", "16")
    assert re.search(r"Small: 0\.\d+ m³/s, between 0\.\d+ and 0\.\d+ \(90 %\) through near", text)
    assert "How certain: outdoor air 0." in text


def test_place_says_the_odds_of_each_plan(tmp_path: Path) -> None:
    text = printed(tmp_path, "place", "--target", "far", "--fan", "small", "--sure", "16")
    odds = [int(share) for share in re.findall(r"Probability of being the best: (\d+) %", text)]
    assert len(odds) > 1
    assert sum(odds) == pytest.approx(100, abs=1)
    assert "Most robust: plan" in text


def test_flow_gives_each_quantity_with_its_interval_in_json(tmp_path: Path) -> None:
    file = tmp_path / "rig.yaml"
    file.write_text(TEXT, encoding="utf-8")
    words = ["flow", str(file), "--scenario", "small fan", "--sure", "low", "--json"]
    sure = json.loads(CliRunner().invoke(app, words).output)["result"]["sure"]
    near = next(one for one in sure["intervals"] if (one["kind"], one["name"]) == ("net flow", "near"))
    assert near["low"] < near["value"] < near["high"]
    assert near["method"].startswith("linear")
