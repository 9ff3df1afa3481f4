"""Measuring against the GUM's worked examples, handbook positions, fan relations and general-purpose libraries."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from published import Check, published

from ventplan.house.records import Fan, FanSetting
from ventplan.measure import uncertainty
from ventplan.measure.anemometer import calibrate, fit_line, fit_linear
from ventplan.measure.fan_bench import share_of_free_flow
from ventplan.measure.opening import shares_of_side
from ventplan.measure.uncertainty import Share, Source, effective_degrees, propagate, simulate, single
from ventplan.physics.fan import sealed_coefficients
from ventplan.physics.jet import flow_of_uniform_jet

DATA = Path(__file__).parent / "data"


@pytest.mark.parametrize("check", published("measuring"))
def test_coverage_factors_follow_the_gum(check: Check) -> None:
    check.holds_for(uncertainty)


def test_thermometer_of_annex_h3_gets_the_guide_line_and_its_uncertainty() -> None:
    # JCGM 100:2008, H.3.3: y1 = -0.1712 with s = 0.0029, y2 = 0.00218 with s = 0.00067, r = -0.930, s = 0.0035, and
    # b(30 °C) = -0.1494 with u = 0.0041 and 9 degrees of freedom. From memory.
    reading, correction = np.loadtxt(DATA / "thermometer_calibration.csv", delimiter=",", skiprows=2, unpack=True)
    line = fit_line(reading - 20.0, correction)
    spread = np.sqrt(np.diag(line.covariance))
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert spread[0] == pytest.approx(0.0029, abs=5e-5)
    assert spread[1] == pytest.approx(0.00067, abs=5e-6)
    assert line.covariance[0, 1] / spread[0] / spread[1] == pytest.approx(-0.930, abs=5e-4)
    assert line.scatter == pytest.approx(0.0035, abs=5e-5)
    assert float(line.at(10.0)) == pytest.approx(-0.1494, abs=5e-5)
    assert float(line.standard_at(10.0)) == pytest.approx(0.0041, abs=5e-5)
    assert line.degrees == 9


def test_gauge_block_of_annex_h1_has_sixteen_effective_degrees_of_freedom() -> None:
    # JCGM 100:2008, H.1.6: contributions of 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2 degrees of freedom give
    # u = 32 nm and 16 degrees of freedom. From memory.
    shares = [
        Share("standard", 25.0, 18.0),
        Share("difference", 9.7, 25.6),
        Share("expansion", 2.9, 50.0),
        Share("temperature", 16.6, 2.0),
    ]
    assert math.sqrt(sum(share.standard**2 for share in shares)) == pytest.approx(32.0, abs=0.5)
    assert math.floor(effective_degrees(shares)) == 16


def test_area_by_3_percent_and_speed_by_5_percent_make_flow_by_5_83_percent() -> None:
    # JCGM 100:2008, equation 12; expanded with k = 2 it is 11.7 %. Derived.
    inputs = [single("area", mean=1.1, standard=0.033), single("speed", mean=0.8, standard=0.04)]
    flow = propagate(lambda area, speed: area * speed, inputs)
    assert flow.relative == pytest.approx(0.0583, abs=5e-5)
    assert 2.0 * flow.relative == pytest.approx(0.117, abs=5e-4)
    assert flow.coverage_factor == pytest.approx(1.96, abs=1e-3)


@pytest.mark.parametrize(
    ("count", "expected"),
    [
        (5, (0.074, 0.288, 0.500, 0.712, 0.926)),
        (6, (0.061, 0.235, 0.437, 0.563, 0.765, 0.939)),
        (7, (0.053, 0.203, 0.366, 0.500, 0.634, 0.797, 0.947)),
    ],
)
def test_duct_positions_are_log_tchebycheff(count: int, expected: tuple[float, ...]) -> None:
    # ASHRAE Handbook Fundamentals 2021, chapter on measurement and instruments. Verified.
    assert shares_of_side(count=count, rule="log-Tchebycheff") == expected


def test_log_tchebycheff_mean_of_a_turbulent_duct_profile_is_right_within_one_percent() -> None:
    # Fully developed flow between walls by the power law u ~ y^(1/7), mean 7/8 of the middle's. Common practice.
    for count in (5, 6, 7):
        shares = np.array(shares_of_side(count=count, rule="log-Tchebycheff"))
        profile = (1.0 - np.abs(1.0 - 2.0 * shares)) ** (1.0 / 7.0)
        assert profile.mean() == pytest.approx(7.0 / 8.0, rel=0.01)


def test_the_older_flow_rating_by_thrust_is_root_two_times_the_later_one() -> None:
    # ANSI/AMCA 230: the 1999 edition had Q = sqrt(2 A F / rho), later ones Q = sqrt(A F / rho). Second hand.
    later = flow_of_uniform_jet(thrust_n=2.0, area_m2=0.1, density=1.2)
    older = math.sqrt(2.0 * 0.1 * 2.0 / 1.2)
    assert older / later == pytest.approx(math.sqrt(2.0))


def test_middle_setting_at_83_percent_of_the_flow_has_69_percent_of_the_thrust() -> None:
    # Fan laws; 83 % for the middle of a box fan's three settings is common practice, no source.
    fan = Fan(name="box", flow_m3_s=0.6, thrust_n=2.4, diameter_m=0.5, spread=0.17, power_w=70.0)
    middle = fan.at_setting(FanSetting("middle", 0.83))
    assert middle.thrust_n / fan.thrust_n == pytest.approx(0.69, abs=0.005)
    assert middle.power_w == pytest.approx(70.0 * 0.83**3)


def test_box_correction_follows_the_fan_curve_of_the_sealed_fan() -> None:
    # The curve p = p0 - a v - b v^2 that a sealed fan is solved with, inverted.
    a, b = sealed_coefficients(flow_m3_s=0.5, shutoff_pa=30.0, area_m2=0.1)
    boxed = 0.42
    pressure = 30.0 - a * boxed / 0.1 - b * (boxed / 0.1) ** 2
    share = share_of_free_flow(pressure_ratio=pressure / 30.0, linear_share=0.5)
    assert boxed / float(share) == pytest.approx(0.5)


def test_line_agrees_with_scipy() -> None:
    from scipy.stats import linregress

    generator = np.random.default_rng(5)
    x = np.linspace(0.3, 4.0, 14)
    y = 0.2 + 0.9 * x + 0.05 * generator.standard_normal(14)
    line, reference = fit_line(x, y), linregress(x, y)
    assert line.slope == pytest.approx(reference.slope)
    assert line.intercept == pytest.approx(reference.intercept)
    assert math.sqrt(line.covariance[1, 1]) == pytest.approx(reference.stderr)
    assert math.sqrt(line.covariance[0, 0]) == pytest.approx(reference.intercept_stderr)


def test_weighted_line_agrees_with_scipy_curve_fit() -> None:
    from scipy.optimize import curve_fit

    generator = np.random.default_rng(6)
    x = np.linspace(0.5, 4.0, 9)
    spread = 0.02 + 0.03 * x
    y = 0.1 + 0.4 * x + spread * generator.standard_normal(9)
    best, covariance = curve_fit(lambda s, a, b: a + b * s, x, y, sigma=spread)
    line = fit_line(x, y, 1.0 / spread**2)
    assert line.coefficients == pytest.approx(best, rel=1e-6)
    assert line.covariance == pytest.approx(covariance, rel=1e-5)


def test_three_unknowns_agree_with_numpy_least_squares() -> None:
    generator = np.random.default_rng(7)
    design = generator.standard_normal((12, 3))
    y = design @ [1.0, -2.0, 0.5] + 0.1 * generator.standard_normal(12)
    best, rest, *_ = np.linalg.lstsq(design, y, rcond=None)
    fit = fit_linear(design, y)
    assert fit.coefficients == pytest.approx(best)
    assert fit.scatter**2 == pytest.approx(rest[0] / 9.0)


def test_correlated_propagation_agrees_with_the_uncertainties_library() -> None:
    library = pytest.importorskip("uncertainties")
    pairs = calibrate(
        indicated=[0.2, 0.6, 1.1, 1.9, 2.8], reference_m_s=[0.36, 0.72, 1.24, 2.03, 2.83], reference_error=0.02
    )
    area = single("area", mean=1.1, standard=0.01)
    ours = propagate(lambda a, b, m2: (a + b * 1.4) * m2, [pairs.source(), area])
    a, b = library.correlated_values([pairs.intercept_m_s, pairs.slope], pairs.covariance)
    theirs = (a + b * 1.4) * library.ufloat(1.1, 0.01)
    assert ours.value == pytest.approx(theirs.nominal_value)
    assert ours.standard == pytest.approx(theirs.std_dev, rel=1e-6)


def test_curved_propagation_agrees_with_the_exact_lognormal_quantiles() -> None:
    from scipy.stats import lognorm

    # exp(x), x normal: the interval is known exactly, and is far from symmetric.
    drawn = simulate(
        np.exp, [Source("x", np.array([0.0]), np.array([[0.25]]))], generator=np.random.default_rng(8), count=200_000
    )
    assert drawn.interval == pytest.approx(lognorm.ppf([0.025, 0.975], 0.5), rel=0.01)


def test_a_fan_at_its_shut_off_pressure_moves_nothing_whatever_its_curve() -> None:
    # p / p0 = 1 - c r - (1 - c) r^2 at p = p0. Derived.
    for linear_share in (0.0, 0.5, 1.0):
        assert float(share_of_free_flow(pressure_ratio=1.0, linear_share=linear_share)) == 0.0
