"""What must hold for every opening over height between air of different density."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplan.physics import buoyancy, orifice


@st.composite
def openings(draw: st.DrawFn) -> dict[str, Any]:
    """An opening with its pressures."""
    warm, cold = draw(st.floats(1.05, 1.3)), draw(st.floats(1.05, 1.3))
    screen_a, screen_b = draw(st.floats(0.0, 2.0)), draw(st.floats(0.0, 5.0))
    forward = orifice.orifice_coefficients(discharge=0.62, density=warm)
    backward = orifice.orifice_coefficients(discharge=0.62, density=cold)
    return {
        "dp_mid_pa": draw(st.floats(-5.0, 5.0)),
        "stack_gradient_pa_m": buoyancy.stack_gradient(density_a=warm, density_b=cold),
        "width_m": draw(st.floats(0.1, 3.0)),
        "height_m": draw(st.floats(0.05, 3.0)),
        "linear_forward": forward[0] + screen_a,
        "quadratic_forward": forward[1] + screen_b,
        "linear_backward": backward[0] + screen_a,
        "quadratic_backward": backward[1] + screen_b,
        "density_forward": warm,
        "density_backward": cold,
    }


def each_way(opening: dict[str, Any]) -> list[tuple[Any, Any]]:
    """Volume flow and slope forward and backward, by the one law."""
    half = abs(opening["stack_gradient_pa_m"]) * opening["height_m"] / 2.0
    area = opening["width_m"] * opening["height_m"]
    found = []
    for sign, way in ((1.0, "forward"), (-1.0, "backward")):
        loss = {name: opening[f"{name}_{way}"] for name in ("linear", "quadratic")}
        velocity, slope = buoyancy.one_way_flow(dp_mid_pa=sign * opening["dp_mid_pa"], half_pa=half, **loss)
        found.append((area * velocity, area * slope))
    return found


def two_way_flow(opening: dict[str, Any]) -> tuple[Any, Any]:
    """Volume flow forward and backward."""
    (forward, _), (backward, _) = each_way(opening)
    return forward, backward


def net_mass_flow_and_slope(opening: dict[str, Any]) -> tuple[Any, Any]:
    """What the network makes of both ways."""
    (forward, rise), (backward, fall) = each_way(opening)
    ahead, behind = opening["density_forward"], opening["density_backward"]
    return ahead * forward - behind * backward, ahead * rise + behind * fall


def turned_round(opening: dict[str, Any]) -> dict[str, Any]:
    """The same opening, counted from its other side."""
    swap = {"forward": "backward", "backward": "forward"}
    names = {key: "_".join(swap.get(word, word) for word in key.split("_")) for key in opening}
    turned = {names[key]: value for key, value in opening.items()}
    return turned | {key: -opening[key] for key in ("dp_mid_pa", "stack_gradient_pa_m")}


@given(opening=openings())
def test_flow_and_slope_are_never_negative_either_way(opening: dict[str, Any]) -> None:
    for flow, slope in each_way(opening):
        assert flow >= 0.0
        assert slope >= 0.0


@given(opening=openings())
def test_flow_both_ways_is_the_sum_over_thin_slices(opening: dict[str, Any]) -> None:
    slices = 4000
    up = ((np.arange(slices) + 0.5) / slices - 0.5) * opening["height_m"]
    dp = opening["dp_mid_pa"] - opening["stack_gradient_pa_m"] * up
    area = opening["width_m"] * opening["height_m"]
    expected = [
        area
        * np.mean(
            orifice.face_velocity(
                dp_pa=np.maximum(sign * dp, 0.0),
                linear=opening[f"linear_{way}"],
                quadratic=opening[f"quadratic_{way}"],
            )
        )
        for sign, way in ((1.0, "forward"), (-1.0, "backward"))
    ]
    # Thin slices miss part of the steep start of the curve: up to a slice's worth of its largest speed.
    fastest = 0.62 * np.sqrt(2.0 * np.abs(dp).max() / 1.05)
    assert two_way_flow(opening) == pytest.approx(expected, rel=2e-5, abs=area * fastest / slices)


@given(opening=openings())
def test_slope_of_the_net_flow_agrees_with_a_small_difference(opening: dict[str, Any]) -> None:
    # Mean value theorem: the mean slope over a short stretch lies between the extremes of the slope on it.
    # Their difference is left as slack: a corner, with the neutral level at an end, may hide between samples.
    reach = abs(opening["dp_mid_pa"]) + abs(opening["stack_gradient_pa_m"]) * opening["height_m"]
    step = 1e-5 * (reach + opening["linear_forward"] ** 2 / (4.0 * opening["quadratic_forward"]))
    stretch = opening | {"dp_mid_pa": opening["dp_mid_pa"] + step * np.linspace(-1.0, 1.0, 9)}
    flows, slopes = net_mass_flow_and_slope(stretch)
    mean = (flows[-1] - flows[0]) / (2.0 * step)
    slack = slopes.max() - slopes.min() + 1e-14 * np.abs(flows).max() / step
    assert slopes.min() > 0.0
    assert slopes.min() - slack <= mean <= slopes.max() + slack


@given(opening=openings(), tiny=st.floats(-1e-9, 1e-9))
def test_flow_passes_smoothly_to_an_opening_without_a_gradient(opening: dict[str, Any], tiny: float) -> None:
    level = opening | {"stack_gradient_pa_m": 0.0}
    tilted = opening | {"stack_gradient_pa_m": tiny}
    way = "forward" if opening["dp_mid_pa"] >= 0.0 else "backward"
    speed = orifice.face_velocity(
        dp_pa=opening["dp_mid_pa"], linear=opening[f"linear_{way}"], quadratic=opening[f"quadratic_{way}"]
    )
    flat = opening[f"density_{way}"] * opening["width_m"] * opening["height_m"] * speed
    net, slope = net_mass_flow_and_slope(level)
    # The guard against 0 / 0 is 1e-300 Pa: pressures of its size (and of no other meaning) feel it.
    assert net == pytest.approx(flat, rel=1e-12, abs=1e-280)
    # A gradient shifts no more than its own pressure at the ends; within that, to twelve digits.
    steepest = opening["width_m"] * opening["height_m"] * 1.3 / opening["linear_forward"]
    reach = abs(tiny) * opening["height_m"] / 2.0
    allowed = steepest * reach if abs(opening["dp_mid_pa"]) <= 10.0 * reach else 0.0
    moved, _ = net_mass_flow_and_slope(tilted)
    curvature = (reach / max(abs(opening["dp_mid_pa"]), reach, 1e-300)) ** 2
    assert abs(moved - net) <= allowed + (1e-12 + curvature) * abs(net)
    assert slope > 0.0


@given(opening=openings())
def test_swapping_the_sides_changes_the_signs(opening: dict[str, Any]) -> None:
    net, slope = net_mass_flow_and_slope(opening)
    other_net, other_slope = net_mass_flow_and_slope(turned_round(opening))
    assert other_net == pytest.approx(-net, rel=1e-13, abs=1e-280)
    assert other_slope == pytest.approx(slope, rel=1e-13)


@given(opening=openings(), more=st.floats(0.0, 5.0))
def test_net_flow_never_falls_as_pressure_grows(opening: dict[str, Any], more: float) -> None:
    raised = opening | {"dp_mid_pa": opening["dp_mid_pa"] + more}
    before, _ = net_mass_flow_and_slope(opening)
    after, _ = net_mass_flow_and_slope(raised)
    assert after >= before - 1e-14 * abs(before)
