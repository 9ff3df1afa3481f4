"""What holds of variants of a house and of intervals, whatever the figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.advice.rig import rig
from ventplan.advice.comparison import _judged
from ventplan.advice.intervals import intervals_of
from ventplan.advice.objective import Objective
from ventplan.advice.uncertainty import Cause, Uncertainties, causes_of, default_uncertainties, perturbed
from ventplan.house import House, Scenario
from ventplan.network import solve

HOUSE = rig()
STATE = HOUSE.scenarios["at 1 m"]
NAMES = [cause.name for cause in causes_of(HOUSE, (STATE,))]
SHIFTS = st.dictionaries(st.sampled_from(NAMES), st.floats(-0.2, 0.2))


@settings(max_examples=50, deadline=None)
@given(SHIFTS)
def test_shifting_back_gives_the_house_again(shifts: dict[str, float]) -> None:
    there, state = perturbed(HOUSE, STATE, shifts)
    back, again = perturbed(there, state, {name: -shift for name, shift in shifts.items()})
    for name, opening in HOUSE.openings.items():
        assert back.openings[name].discharge == pytest.approx(opening.discharge)
        assert back.openings[name].leak_m3_s == pytest.approx(opening.leak_m3_s)
        assert back.openings[name].screen.open_area_ratio == pytest.approx(opening.screen.open_area_ratio)  # type: ignore[union-attr]
    for name, fan in HOUSE.fans.items():
        assert back.fans[name].thrust_n == pytest.approx(fan.thrust_n)
        assert back.fans[name].spread == pytest.approx(fan.spread)
    assert again.temperatures_c == pytest.approx(STATE.temperatures_c)


@settings(max_examples=25, deadline=None)
@given(SHIFTS)
def test_every_variant_has_an_answer_that_balances(shifts: dict[str, float]) -> None:
    assert solve(*perturbed(HOUSE, STATE, shifts)).imbalance_kg_s < 1e-8


@settings(max_examples=20, deadline=None)
@given(st.floats(0.1, 1.0), st.floats(1.0, 3.0))
def test_more_doubt_never_narrows_an_interval(scale: float, more: float) -> None:
    def conductance(house: House, scenario: Scenario) -> np.ndarray:
        return np.array([sum(o.discharge for o in house.openings.values())])

    def width(factor: float) -> float:
        u = Uncertainties(**{name: factor * value for name, value in vars(default_uncertainties()).items()})
        ((one,), _, _) = intervals_of(HOUSE, STATE, conductance, uncertainties=u, draws=64)
        assert one.low <= one.value <= one.high
        return one.high - one.low

    assert width(scale * more) >= width(scale) * (1.0 - 1e-9)


VALUES = st.lists(st.tuples(*[st.floats(0.01, 10.0)] * 3), min_size=2, max_size=40).map(np.array)


@settings(max_examples=50, deadline=None)
@given(VALUES)
def test_odds_add_up_and_regrets_are_shares(values: np.ndarray) -> None:
    sure = _judged(Objective("house"), values[0].tolist(), values, (), np.zeros((len(values), 0)))
    assert sum(plan.best_share for plan in sure.plans) == pytest.approx(1.0)
    for i, plan in enumerate(sure.plans):
        rounding = 1.0 + 1e-12  # of a mean of equal numbers
        assert 0.0 <= plan.expected_regret <= plan.worst_regret * rounding <= rounding
        assert plan.interval.low <= plan.unfavourable * rounding
        assert plan.unfavourable <= plan.interval.high * rounding
        assert plan.worst_regret >= sure.plans[sure.least_regret].worst_regret
        assert plan.unfavourable <= sure.plans[sure.safest].unfavourable
        if plan.best_share == 1.0:
            assert sure.plans[i].expected_regret == 0.0


@settings(max_examples=50, deadline=None)
@given(VALUES, st.permutations([0, 1, 2]))
def test_the_order_of_plans_changes_nothing(values: np.ndarray, order: list[int]) -> None:
    normal = np.zeros((len(values), 0))
    one = _judged(Objective("house"), values[0].tolist(), values, (), normal)
    other = _judged(Objective("house"), values[0][order].tolist(), values[:, order], (), normal)
    # Plans that are equal in a draw share its first place by their order; regrets know no order.
    for here, there in enumerate(order):
        assert other.plans[here].expected_regret == pytest.approx(one.plans[there].expected_regret)
        assert other.plans[here].interval == one.plans[there].interval


@given(st.sampled_from(NAMES))
def test_a_cause_has_one_group_and_a_size(name: str) -> None:
    (cause,) = [one for one in causes_of(HOUSE, (STATE, replace(STATE, name="again"))) if one.name == name]
    assert isinstance(cause, Cause)
    assert cause.sigma > 0.0
    assert cause.group
