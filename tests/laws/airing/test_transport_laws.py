"""What must hold for any house: nothing below zero, nothing lost, nothing above what there was."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplan.airing.age import age_of_air
from ventplan.airing.air_paths import balanced
from ventplan.airing.transport import AirPaths, Stepper, supply_per_s


@st.composite
def houses(draw: st.DrawFn) -> AirPaths:
    """Up to six rooms with flows made of loops, so that they balance exactly as air does."""
    n = draw(st.integers(1, 6))
    flows = np.zeros((n + 1, n + 1))
    for _ in range(draw(st.integers(1, 8))):
        loop = draw(st.lists(st.integers(0, n), min_size=2, max_size=n + 1, unique=True))
        amount = draw(st.floats(1e-6, 2.0))
        for one, other in zip(loop, loop[1:] + loop[:1], strict=True):
            flows[one, other] += amount
    mass = draw(st.lists(st.floats(5.0, 300.0), min_size=n, max_size=n))
    return AirPaths(names=tuple(map(str, range(n))), mass_kg=np.array(mass), flow_kg_s=flows)


@settings(max_examples=60, deadline=None)
@given(houses(), st.floats(1.0, 1e5), st.integers(0, 2**32 - 1))
def test_no_concentration_goes_below_zero_or_above_what_there_was(paths: AirPaths, duration: float, seed: int) -> None:
    start = np.random.default_rng(seed).uniform(0.0, 1.0, len(paths.names))
    after = Stepper.of(paths.rates_per_s, duration).after(start, np.zeros_like(start))
    assert (after >= 0.0).all()
    assert after.max() <= start.max() * (1.0 + 1e-10)


@settings(max_examples=60, deadline=None)
@given(houses(), st.floats(1.0, 1e5), st.floats(0.0, 5.0))
def test_what_is_released_stays_or_leaves(paths: AirPaths, duration: float, outdoor: float) -> None:
    n = len(paths.names)
    start, released = np.linspace(0.0, 1.0, n), np.linspace(0.2, 0.0, n)
    supply = supply_per_s(paths, released_kg_s=released, outdoor=outdoor)
    stepper = Stepper.of(paths.rates_per_s, duration)
    after, summed = stepper.after(start, supply), stepper.summed(start, supply)
    came = released.sum() * duration + paths.flow_kg_s[-1, :-1].sum() * outdoor * duration
    went = paths.flow_kg_s[:-1, -1] @ summed
    whole = paths.mass_kg @ start + came
    assert abs(paths.mass_kg @ after + went - whole) <= 1e-10 * max(whole, 1.0)


@settings(max_examples=60, deadline=None)
@given(houses(), st.floats(1.0, 1e4))
def test_the_outdoor_concentration_everywhere_stays_as_it_is(paths: AirPaths, duration: float) -> None:
    same = np.full(len(paths.names), 420.0)
    supply = supply_per_s(paths, released_kg_s=np.zeros_like(same), outdoor=420.0)
    after = Stepper.of(paths.rates_per_s, duration).after(same, supply)
    np.testing.assert_allclose(after, same, rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(houses())
def test_shares_of_every_aired_room_add_up(paths: AirPaths) -> None:
    ages = age_of_air(paths)
    for name, reached in zip(paths.names, paths.aired, strict=True):
        total = sum(ages.rooms[name].entered_by.values())
        assert abs(total - (1.0 if reached else 0.0)) < 1e-4


@settings(max_examples=60, deadline=None)
@given(houses(), st.integers(0, 2**32 - 1))
def test_small_imbalances_are_spread_without_a_negative_flow(paths: AirPaths, seed: int) -> None:
    rng = np.random.default_rng(seed)
    disturbed = paths.flow_kg_s * (1.0 + 1e-5 * rng.uniform(-1.0, 1.0, paths.flow_kg_s.shape))
    mended = balanced(disturbed, paths.names)
    assert (mended >= 0.0).all()
    np.testing.assert_allclose(mended.sum(axis=0), mended.sum(axis=1), rtol=1e-9, atol=1e-15)
    np.testing.assert_allclose(mended, paths.flow_kg_s, rtol=1e-3, atol=1e-12)
