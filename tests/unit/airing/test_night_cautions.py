"""A night's cautions come from what happened in it, at the time when it happened."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from flow_by_hand import solve_by_hand

from ventplan.airing import hazards
from ventplan.airing.hazards import damp_walls, night_hazards
from ventplan.airing.night import Night, night
from ventplan.airing.policy import Policy
from ventplan.airing.safety import Hazard, HazardCode
from ventplan.airing.weather import Weather
from ventplan.airing.weather_files import read_weather
from ventplan.house.records import House, Scenario

Followed = Callable[..., set[str]]


@pytest.fixture
def followed(house: House, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Followed:
    """Subjects of the cautions of a plan followed through a night, in the rain at some hours."""
    monkeypatch.setattr(hazards, "solve", solve_by_hand)

    def subjects(
        scenario: Scenario, *, rain_at: int = 99, policy: Policy | None = None, outdoor_c: float = 16.0
    ) -> set[str]:
        weather = rainy(tmp_path, rain_at=rain_at, outdoor_c=outdoor_c)
        found = night(house, [scenario], weather, policy=policy, solve=solve_by_hand)
        return {one.code.value for one in night_hazards(house, scenario, weather, found.runs[-1], found.runs[0])}

    return subjects


def rainy(folder: Path, *, rain_at: int, outdoor_c: float) -> Weather:
    rows = [f"{(20 + h) % 24:02d}:00,{outdoor_c},50,{1.2 if h == rain_at else 0.0}" for h in range(11)]
    path = folder / "night.csv"
    path.write_text("time,temperature [°C],humidity [%],rain [mm]\n" + "\n".join(rows), encoding="utf-8")
    return read_weather(path)


def at_the_window(scenario: Scenario) -> Scenario:
    return replace(scenario, placements=(replace(scenario.placements[0], setback_m=0.2),))


def test_a_house_that_stays_shut_for_smoke_causes_no_caution_about_open_windows(
    scenario: Scenario, followed: Followed
) -> None:
    smoky = replace(scenario, outdoors=replace(scenario.outdoors, smoke=True))
    assert followed(smoky) <= {"damp-walls-shut"}


def test_windows_that_never_open_in_a_warm_night_cause_none(scenario: Scenario, followed: Followed) -> None:
    assert followed(scenario, outdoor_c=33.0) <= {"damp-walls-shut"}


def test_rain_at_any_hour_of_a_running_fan_is_reported(scenario: Scenario, followed: Followed) -> None:
    near = at_the_window(scenario)
    policy = Policy(coolest_c=5.0)
    assert "rain" not in followed(near, policy=policy)
    assert "rain" in followed(near, rain_at=5, policy=policy)
    assert "rain" not in followed(near, rain_at=5, policy=replace(policy, open_in_rain=False))


def test_fans_that_never_run_are_not_warned_of(scenario: Scenario, followed: Followed) -> None:
    near = at_the_window(scenario)
    assert "rain" not in followed(near, rain_at=5, policy=Policy(coolest_c=5.0, fans_k=20.0))


def damp(answer: Night, *, run_h: float, shut_h: float, wettest: float) -> list[Hazard]:
    run = replace(answer.runs[-1], damp_h=run_h, wettest=("bedroom", wettest))
    shut = replace(answer.runs[0], damp_h=shut_h)
    return list(damp_walls(run, shut))


def test_damp_is_laid_at_the_door_of_what_caused_it(house: House, scenario: Scenario, tmp_path: Path) -> None:
    answer = night(house, [scenario], rainy(tmp_path, rain_at=99, outdoor_c=16.0), solve=solve_by_hand)
    assert damp(answer, run_h=5.0, shut_h=50.0, wettest=0.85) == []
    (airing,) = damp(answer, run_h=9.0, shut_h=2.0, wettest=0.9)
    assert airing == Hazard(HazardCode.DAMP_WALLS, ("bedroom",), {"humidity": 0.9, "damp_h": 9.0, "shut_h": 2.0})
    (vapour,) = damp(answer, run_h=9.0, shut_h=50.0, wettest=1.0)
    assert vapour.code == HazardCode.DAMP_WALLS_SHUT


def test_air_holds_no_more_water_than_its_coolest_wall_lets_it(
    house: House, scenario: Scenario, tmp_path: Path
) -> None:
    """Two people in a tight house for ten hours: walls get wet, and never more than wet."""
    weather = rainy(tmp_path, rain_at=99, outdoor_c=16.0)
    crowded = replace(house, rooms={n: replace(r, people=8.0) for n, r in house.rooms.items()})
    shut = night(crowded, [scenario], weather, solve=solve_by_hand).runs[0]
    assert max(max(track) for track in shut.surface_humidity.values()) == pytest.approx(1.0)
