"""Screens against other correlations and against measurements, with the disagreements left in sight."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from fluids.filters import round_edge_screen
from published import Check, published

from ventplan.house import parse_house
from ventplan.network import solve
from ventplan.physics import orifice, screen

KINEMATIC_VISCOSITY = 1.51e-5


def loss_by_bailey(*, open_area_ratio: float, wire_reynolds: float) -> float:
    """Loss coefficient of a screen by a correlation that ventplan does not use.

    Bailey, B. J. et al. 2003, Airflow resistance of greenhouse ventilators with and without insect screens, Biosystems
    Engineering 86:217. Structure second hand, constants from memory.
    """
    e, re = open_area_ratio, wire_reynolds
    friction = 18.0 / re + 0.75 / np.log10(re + 1.25) + 0.055 * np.log10(re)
    return float(friction * (1.0 - e * e) / (e * e))


@pytest.mark.parametrize("check", published("screens"))
def test_screens_follow_geometry_and_blevins(check: Check) -> None:
    check.holds_for(screen)


def test_chosen_correlation_is_within_a_fifth_of_blevins_where_his_table_reaches() -> None:
    reynolds = np.geomspace(20.0, 400.0, 40)
    blevins = np.array([round_edge_screen(0.65, value) for value in reynolds])
    ratio = screen.screen_loss(open_area_ratio=0.65, wire_reynolds=reynolds) / blevins
    assert 0.81 < ratio.min() < ratio.max() < 0.97


def measured_over_computed(loss_of: Callable[..., Any]) -> np.ndarray:
    with (Path(__file__).parent / "data" / "screens_measured.toml").open("rb") as file:
        data = tomllib.load(file)
    ratios = []
    for entry in data["screen"]:
        first, second = (count * 100.0 for count in entry["threads_per_cm"])
        # Smaller root of (1 - n1 d)(1 - n2 d) = porosity.
        total, product = first + second, first * second
        wire = (total - np.sqrt(total**2 - 4.0 * product * (1.0 - entry["porosity"]))) / (2.0 * product)
        reynolds = data["face_velocity_m_s"] * wire / KINEMATIC_VISCOSITY
        loss = loss_of(open_area_ratio=entry["porosity"], wire_reynolds=reynolds)
        ratios.append(entry["discharge"] / (1.0 / np.sqrt(loss)))
    return np.array(ratios)


def test_chosen_correlation_gives_two_of_three_measured_screens_and_overestimates_the_loss_of_the_third() -> None:
    # Lopez et al. 2016. The third has the weave of the first and half its loss: no such formula gives both.
    ratios = measured_over_computed(screen.screen_loss)
    assert ratios[:2] == pytest.approx([1.0, 1.0], abs=0.07)
    assert ratios[2] == pytest.approx(1.43, abs=0.005)


def test_the_correlation_not_used_overestimates_the_loss_of_every_measured_screen() -> None:
    assert np.all(measured_over_computed(loss_by_bailey) > 1.25)


def test_fly_screen_of_14_strands_an_inch_passes_about_four_fifths() -> None:
    # Area factor 0.80 on an opening with Cd 0.641: MIL-HDBK-1011/2 (verified). Wire 0.33 mm and a
    # face velocity of 1 m/s are assumed; the source gives neither.
    share = screen.plain_weave_open_area_ratio(warp_per_m=14 / 0.0254, weft_per_m=14 / 0.0254, wire_m=0.33e-3)
    loss = screen.screen_loss(open_area_ratio=share, wire_reynolds=1.0 * 0.33e-3 / KINEMATIC_VISCOSITY)
    opening = orifice.loss_coefficient(discharge=0.641)
    assert np.sqrt(opening / (opening + loss)) == pytest.approx(0.80, abs=0.01)


@pytest.mark.parametrize("wind_m_s", [1.0, 2.0, 4.0])
def test_a_screened_window_of_a_house_loses_what_the_correlation_says_at_its_own_speed(wind_m_s: float) -> None:
    # Density and viscosity of the air at 15 °C: US Standard Atmosphere 1976, run from the package fluids.
    house = parse_house(
        f"""
name: screened window
outdoors: {{temperature: 15 °C, wind: {{speed: {wind_m_s} m/s, from: west}}}}
indoors: {{temperature: 15 °C}}
rooms:
  room: {{at: [0 m, 0 m], size: [4 m, 4 m]}}
openings:
  in:  {{kind: window, joins: [room, outdoors], wall: west, size: [1 m, 1 m], sash: none, discharge: 0.62,
        screen: {{threads: 18x16, wire: 0.28 mm}}, wind pressure: 0.6}}
  out: {{kind: window, joins: [room, outdoors], wall: east, size: [1 m, 1 m], sash: none, wind pressure: -0.3}}
"""
    )
    # The discharge coefficient of the window is that of a hole between large spaces.
    with patch("ventplan.network.openings.confined_loss_ratio", lambda **_: 1.0):
        window = solve(house).openings["in"]
    air = ATMOSPHERE_1976(0.0)
    reynolds = window.face_speed_m_s * 0.28e-3 * air.rho / air.mu
    open_share = (1.0 - 18 * 0.28 / 25.4) * (1.0 - 16 * 0.28 / 25.4)
    loss = 1.0 / 0.62**2 + screen.screen_loss(open_area_ratio=open_share, wire_reynolds=reynolds)
    assert 0.1 < window.face_speed_m_s < 3.0
    # The two coefficients of a screen follow the correlation within 4.5 %.
    assert -window.dp_pa == pytest.approx(loss * air.rho * window.face_speed_m_s**2 / 2.0, rel=0.045)
