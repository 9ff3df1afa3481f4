"""What is uncertain, and variants of a house that are as possible as the one in the file."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from importlib.resources import files

import numpy as np
import pytest

from tests.unit.advice.rig import rig, sample_house
from ventplan.advice.uncertainty import (
    Uncertainties,
    causes_of,
    default_uncertainties,
    perturbed,
    with_loss,
)
from ventplan.measure import house_model
from ventplan.network import solve
from ventplan.network.weather import wind_pressures
from ventplan.physics.screen import screen_coefficients

NOTHING = Uncertainties(**dict.fromkeys(vars(default_uncertainties()), 0.0))


def test_every_default_says_where_it_comes_from() -> None:
    table = tomllib.loads(files("ventplan.advice").joinpath("data", "uncertainties.toml").read_text("utf-8"))
    assert len(table) == len(vars(default_uncertainties()))
    for name, one in table.items():
        assert len(one["source"]) > 20, name
        assert one["unit"] in ("relative", "deg", "K", "-"), name


def test_a_fit_and_an_interval_start_from_the_same_doubt() -> None:
    u = default_uncertainties()
    assert math.hypot(u.discharge_shared, u.discharge_own) == pytest.approx(house_model.DISCHARGE_ERROR, rel=0.02)
    assert u.leak == house_model.LEAK_ERROR


def test_no_doubt_gives_the_house_of_the_file() -> None:
    house = rig()
    sure = {name: replace(fan, flow_error=0.0, thrust_error=0.0, spread_error=0.0) for name, fan in house.fans.items()}
    house = replace(house, fans=sure)
    state = house.scenarios["at 1 m"]
    assert causes_of(house, (state,), NOTHING) == ()
    assert sample_house(house, state, np.random.default_rng(1), NOTHING) == (house, state)


def test_a_negative_uncertainty_is_refused() -> None:
    with pytest.raises(ValueError, match="leak must be 0 or more"):
        replace(default_uncertainties(), leak=-0.1)


def test_sampling_leaves_its_arguments_as_they_are() -> None:
    house, untouched = rig(), rig()
    sample_house(house, house.scenarios["windy"], np.random.default_rng(1))
    assert house == untouched


def test_openings_share_half_of_the_variance_of_their_discharge() -> None:
    house, rng = rig(), np.random.default_rng(3)
    state, u = house.scenarios["at 1 m"], default_uncertainties()
    drawn = [sample_house(house, state, rng)[0].openings for _ in range(2000)]
    logs = np.log([[o["near"].discharge, o["far"].discharge] for o in drawn])
    wanted = u.discharge_shared**2 / (u.discharge_shared**2 + u.discharge_own**2)
    # The standard error of a correlation of 0.5 from 2000 draws is 0.017.
    assert np.corrcoef(logs.T)[0, 1] == pytest.approx(wanted, abs=0.05)
    assert np.median(np.exp(logs)) == pytest.approx(house.openings["near"].discharge, rel=0.01)


@pytest.mark.parametrize("factor", [0.5, 1.0, 2.0])
def test_a_factor_on_a_screen_is_that_factor_on_its_loss(factor: float) -> None:
    screen = rig().openings["near"].screen
    assert screen is not None
    air = {"density": 1.2, "dynamic_viscosity_pa_s": 1.81e-5}
    before, after = (
        np.array(screen_coefficients(open_area_ratio=s.open_area_ratio, wire_m=s.wire_m, **air))
        for s in (screen, with_loss(screen, factor=factor))
    )
    assert after == pytest.approx(factor * before, rel=1e-9)


def test_both_screens_of_one_mesh_are_off_together() -> None:
    house = rig()
    variant, _ = perturbed(house, house.scenarios["at 1 m"], {"mesh fine 18x16": 0.4})
    near, far = (variant.openings[name].screen for name in ("near", "far"))
    assert near == far != house.openings["near"].screen


def test_the_jet_model_s_error_is_on_its_own_jet_and_leaves_sealed_fans_alone() -> None:
    house = rig()
    state = house.scenarios["at 1 m"]
    variant, _ = perturbed(house, state, {"jets": 0.2, "jet from room at near": 0.1})
    assert variant.fans["fan"] == replace(house.fans["fan"], jet_gain=pytest.approx(math.exp(0.3)))
    assert variant.fans["small"] == house.fans["small"]
    sealed = replace(state, placements=(replace(state.placements[0], sealed=True),))
    names = {cause.name for cause in causes_of(house, (sealed,))}
    assert "shut-off pressure of fan" in names
    assert not any("jet" in name or "thrust" in name for name in names)


@pytest.mark.parametrize("setback", [0.3, 1.0, 3.0])
def test_a_tenth_more_jet_drives_a_tenth_more_flow_near_and_far(setback: float) -> None:
    """As far as the house's own resistance follows the square of the flow: its screens take the rest."""
    house = rig()
    plain = {n: replace(o, screen=None) for n, o in house.openings.items()}
    house = replace(house, openings=plain)
    state = house.scenarios["at 1 m"]
    state = replace(
        state,
        screened=frozenset(),
        placements=(replace(state.placements[0], setback_m=setback),),
        temperatures_c={"room": state.outdoors.temperature_c},
    )
    before, after = (
        solve(*perturbed(house, state, {"jets": shift})).openings["near"].net_m3_s for shift in (0.0, math.log(1.1))
    )
    assert after / before == pytest.approx(1.1, rel=0.01)


def test_wind_pressures_of_an_unshifted_house_stay() -> None:
    house = rig()
    state = house.scenarios["windy"]
    variant, varied = perturbed(house, state, {})
    assert wind_pressures(variant, varied) == pytest.approx(wind_pressures(house, state))


def test_a_shifted_wind_pressure_coefficient_is_added_to_that_of_the_wall() -> None:
    house = rig()
    state = house.scenarios["windy"]
    ones = replace(house, openings={n: replace(o, wind_pressure=1.0) for n, o in house.openings.items()})
    unit = wind_pressures(ones, state)["near"]
    variant, varied = perturbed(house, state, {"wind pressure at near": 0.3})
    risen = wind_pressures(variant, varied)["near"] - wind_pressures(house, state)["near"]
    assert risen == pytest.approx(0.3 * unit)
