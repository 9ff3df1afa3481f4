"""The example houses, through the real solver: balanced, cleared, aged, and with what leaves accounted for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ventplan.airing.age import age_of_air
from ventplan.airing.air_paths import air_paths
from ventplan.airing.clearing import breath, clear_house, share_released
from ventplan.airing.hazards import night_hazards
from ventplan.airing.night import night
from ventplan.airing.weather_files import read_weather
from ventplan.errors import InputError
from ventplan.house import read_house
from ventplan.network import solve

EXAMPLES = Path(__file__).parents[3] / "house_examples"
HOUSES = sorted(EXAMPLES.glob("*.yaml"))


@pytest.mark.parametrize("path", HOUSES, ids=lambda p: p.stem)
def test_air_balances_in_every_room_and_ages_to_volume_over_flow(path: Path) -> None:
    house = read_house(path)
    for scenario in house.scenarios.values():
        paths = air_paths(house, scenario, solve(house, scenario))
        np.testing.assert_allclose(paths.entering_kg_s, paths.leaving_kg_s, rtol=1e-8, atol=1e-12)
        ages = age_of_air(paths)
        leaving = paths.flow_kg_s[:-1, -1]
        rooms = [ages.rooms[name].age_s for name in paths.names]
        mean = sum(m * age for m, age in zip(leaving, rooms, strict=True) if m > 0.0) / leaving.sum()
        assert mean == pytest.approx(ages.nominal_time_s, rel=1e-6)


@pytest.mark.parametrize("path", HOUSES, ids=lambda p: p.stem)
def test_smoke_leaves_by_openings_and_cracks_that_add_up(path: Path) -> None:
    house = read_house(path)
    room = next(iter(house.rooms))
    for answer in clear_house(house, list(house.scenarios.values()), share_released([room])):
        if room not in answer.age.without_outdoor_air:
            assert sum(answer.leaves_by.values()) == pytest.approx(1.0, abs=2e-3)
            assert answer.clearing.rooms[room].clear_s > 0.0


def test_doses_of_plans_are_counted_over_the_same_time() -> None:
    house = read_house(EXAMPLES / "bungalow.yaml")
    answers = clear_house(house, list(house.scenarios.values())[:3], share_released(["kitchen"]))
    assert len({answer.clearing.watched_s for answer in answers}) == 1


def test_people_breathe_where_the_house_has_people() -> None:
    house = read_house(EXAMPLES / "bungalow.yaml")
    release = breath(house, start_ppm=1800.0, limit_ppm=1000.0)
    assert set(release.source) == {name for name, room in house.rooms.items() if room.people > 0.0}
    (shut, *_) = clear_house(house, [house.first_scenario()], release)
    assert shut.clearing.never  # the bungalow as it stands is shut


@pytest.mark.parametrize("limit", [0.0, 1.0, 5.0])
def test_a_share_to_fall_to_that_makes_no_sense_is_refused(limit: float) -> None:
    with pytest.raises(InputError, match="share"):
        share_released(["kitchen"], limit=limit)


@pytest.mark.slow
def test_a_week_of_the_bungalow_closes_its_heat_balance_and_gains_by_fans() -> None:
    house = read_house(EXAMPLES / "bungalow.yaml")
    weather = read_weather(EXAMPLES / "weather_week.csv")
    plan = house.scenarios["evening"]
    found = night(house, [plan], weather)
    shut, windows, fans = found.runs
    assert all(run.unaccounted < 1e-10 for run in found.runs)
    assert 0.0 < found.gained_k[windows.name] < found.gained_k[fans.name]
    assert fans.solved > 100
    warmest = max(weather.temperature_c)
    assert all(15.0 < min(values) <= max(values) < warmest for values in fans.rooms_c.values())
    assert shut.vented_kwh == 0.0
    assert any("flame" in hazard.code for hazard in night_hazards(house, plan, weather, fans, shut))
