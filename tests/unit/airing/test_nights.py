"""A night at the windows: the policy, what is gained, and what the fans cost."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from flow_by_hand import solve_by_hand

from ventplan.airing.air_paths import air_paths
from ventplan.airing.night import mornings, night
from ventplan.airing.policy import Conditions, Decision, Policy, Reason, State, decide
from ventplan.airing.weather import Weather
from ventplan.airing.weather_files import read_weather
from ventplan.errors import InputError
from ventplan.house.records import House, Outdoors, Scenario

WEEK = Path(__file__).parents[3] / "house_examples" / "weather_week.csv"


def constant_weather(tmp_path: Path, temperature_c: float, *, humidity: float = 50.0, hours: int = 12) -> Weather:
    rows = [f"{(20 + h) % 24:02d}:00,{temperature_c},{humidity}" for h in range(hours + 1)]
    path = tmp_path / "weather.csv"
    path.write_text("time,temperature [°C],humidity [%]\n" + "\n".join(rows), encoding="utf-8")
    return read_weather(path)


def test_fans_cool_more_than_windows_and_windows_more_than_nothing(
    house: House, scenario: Scenario, tmp_path: Path
) -> None:
    policy = Policy(coolest_c=10.0)
    found = night(house, [scenario], constant_weather(tmp_path, 16.0), policy=policy, solve=solve_by_hand)
    shut, windows, fans = found.runs
    assert [run.windows for run in found.runs] == ["shut", "open", "with fans"]
    assert fans.settled_c[-1] < windows.settled_c[-1] < shut.settled_c[-1]
    assert found.gained_k[fans.name] == pytest.approx(shut.settled_c[-1] - fans.settled_c[-1])
    hours_of_fan = sum(i.end_s - i.begin_s for i in fans.plan if i.windows == "with fans") / 3600.0
    assert fans.fan_kwh == pytest.approx(0.05 * hours_of_fan)
    extra = (fans.vented_kwh - windows.vented_kwh - fans.fan_heat_kwh) / fans.fan_kwh
    assert found.cooling_per_fan[fans.name] == pytest.approx(extra)
    assert all(run.unaccounted < 1e-10 for run in found.runs)


def test_cooling_stops_at_the_coolest_that_the_policy_allows(house: House, scenario: Scenario, tmp_path: Path) -> None:
    run = night(house, [scenario], constant_weather(tmp_path, 10.0), solve=solve_by_hand).runs[2]
    assert run.plan[-1].windows == "shut"
    shut_at = run.times_s.index(run.plan[-1].begin_s)
    assert 17.5 < run.settled_c[shut_at] <= 18.0


def test_a_house_that_is_left_alone_warms_by_its_people(house: House, scenario: Scenario, tmp_path: Path) -> None:
    found = night(house, [scenario], constant_weather(tmp_path, 26.0), solve=solve_by_hand)
    assert found.runs[0].settled_c[-1] > 26.0
    assert found.runs[0].vented_kwh == 0.0


def test_nothing_opens_while_it_is_warmer_outdoors(house: House, scenario: Scenario, tmp_path: Path) -> None:
    found = night(house, [scenario], constant_weather(tmp_path, 30.0), solve=solve_by_hand)
    assert {interval.windows for interval in found.runs[2].plan} == {"shut"}
    assert found.cooling_per_fan["evening"] is None


def test_a_fan_of_unknown_power_leaves_the_energy_open(house: House, scenario: Scenario, tmp_path: Path) -> None:
    unknown = replace(house, fans={"fan": replace(house.fans["fan"], power_w=None)})
    found = night(unknown, [scenario], constant_weather(tmp_path, 16.0), solve=solve_by_hand)
    assert found.runs[2].fan_kwh is None
    assert found.cooling_per_fan["evening"] is None


def test_a_shorter_step_gives_the_same_morning(house: House, scenario: Scenario) -> None:
    def end(step_s: float) -> float:
        short = replace_weather(read_weather(WEEK), hours=20)
        policy = Policy(rest_s=0.0)
        return night(house, [scenario], short, policy=policy, step_s=step_s, solve=solve_by_hand).runs[2].settled_c[-1]

    assert end(900.0) == pytest.approx(end(150.0), abs=0.15)


def replace_weather(weather: Weather, *, hours: int) -> Weather:
    """The first hours of it."""
    fields = ("seconds", "temperature_c", "humidity", "wind_m_s", "wind_from_deg", "sun_w_m2", "rain_mm")
    return replace(weather, **{name: getattr(weather, name)[: hours + 1] for name in fields})


def test_mornings_of_a_week(house: House, scenario: Scenario) -> None:
    weather = read_weather(WEEK)
    found = night(house, [scenario], weather, solve=solve_by_hand, step_s=1800.0)
    days = mornings(found, weather)
    assert len(days) == 7
    assert days[0].when.endswith("07:00")
    assert all(day.house_c["evening"] <= day.house_c["everything shut"] for day in days)


def test_muggy_nights_stay_outdoors(house: House, scenario: Scenario, tmp_path: Path) -> None:
    """Air at 97 % cools walls until it would be above 80 % at them, and no further."""
    muggy = constant_weather(tmp_path, 23.0, humidity=97.0)
    empty = replace(house, rooms={name: replace(room, people=0.0) for name, room in house.rooms.items()})
    found = night(empty, [scenario], muggy, solve=solve_by_hand)
    heedless = night(empty, [scenario], muggy, policy=Policy(dampest=1.0), solve=solve_by_hand)
    limited, wet = found.runs[2], heedless.runs[2]
    assert limited.plan[-1].windows == "shut"
    assert wet.settled_c[-1] < limited.settled_c[-1]
    assert wet.wettest[1] > limited.wettest[1]


def test_steps_and_scenarios_that_make_no_sense_are_refused(house: House, scenario: Scenario) -> None:
    weather = read_weather(WEEK)
    with pytest.raises(InputError, match="above zero"):
        night(house, [scenario], weather, step_s=0.0, solve=solve_by_hand)
    with pytest.raises(InputError, match="no scenario"):
        night(house, [], weather, solve=solve_by_hand)


def step(state: State, *, since_s: float = 1e9, most: State = "with fans", **changes: Any) -> Decision:
    now = Conditions(
        settled_c=26.0,
        outdoors=Outdoors(temperature_c=20.0),
        dew_point_c=10.0,
        indoor_dew_point_c=9.0,
        surface_humidity=0.5,
    )
    last = Decision(state, Reason.AS_PLANNED)
    return decide(Policy(), last, since_s=since_s, most=most, now=replace(now, **changes))


def test_the_policy_opens_for_cool_air_and_shuts_for_reasons() -> None:
    assert step("shut") == Decision("with fans", Reason.COOLER_OUTDOORS)
    assert step("shut", most="open").state == "open"
    assert step("shut", most="shut").state == "shut"
    assert step("shut", outdoors=Outdoors(temperature_c=24.5)).state == "open"
    assert step("shut", outdoors=Outdoors(temperature_c=25.5)) == Decision("shut", Reason.WARMER_OUTDOORS)
    assert step("open", outdoors=Outdoors(temperature_c=25.4)).state == "open"  # slack
    assert step("with fans", outdoors=Outdoors(smoke=True)) == Decision("shut", Reason.SMOKE)
    assert step("with fans", dew_point_c=21.0) == Decision("shut", Reason.MUGGY)
    assert step("with fans", dew_point_c=21.0, indoor_dew_point_c=22.0).state == "with fans"
    assert step("with fans", surface_humidity=0.9) == Decision("shut", Reason.DAMP_WALLS)
    assert step("with fans", settled_c=17.9) == Decision("shut", Reason.COOL_ENOUGH)


def test_each_reason_to_shut_has_a_dead_band() -> None:
    """What is neither reason enough to shut nor to open again leaves windows as they are."""
    for changes in (
        {"dew_point_c": 21.0, "indoor_dew_point_c": 20.2},
        {"dew_point_c": 19.2, "indoor_dew_point_c": 15.0},
        {"surface_humidity": 0.79},
        {"settled_c": 18.5, "outdoors": Outdoors(temperature_c=10.0)},
    ):
        assert step("open", most="open", **changes).state == "open"
        assert step("shut", most="open", **changes).state == "shut"


def test_windows_change_at_most_once_an_hour_except_to_shut_for_a_reason() -> None:
    assert step("shut", since_s=1800.0).state == "shut"
    assert step("with fans", since_s=900.0, outdoors=Outdoors(temperature_c=27.0)).state == "with fans"
    assert step("with fans", since_s=900.0, outdoors=Outdoors(smoke=True)).state == "shut"


def test_windows_do_not_flutter_around_a_dew_point_that_is_the_same_on_both_sides(
    house: House, scenario: Scenario, tmp_path: Path
) -> None:
    """At a dew point of 20.5 °C, with a house 4 K warmer than outdoors and hardly anybody in it to add vapour."""
    muggy = constant_weather(tmp_path, 24.0, humidity=81.0)
    empty = replace(house, rooms={n: replace(room, people=0.0, gain_w=0.0) for n, room in house.rooms.items()})
    warm = replace(scenario, temperatures_c=dict.fromkeys(house.rooms, 28.0))
    found = night(empty, [warm], muggy, policy=Policy(dampest=1.0), solve=solve_by_hand)
    windows, fans = found.runs[1:]
    assert [part.windows for part in windows.plan].count("shut") <= 1
    assert fans.settled_c[-1] < windows.settled_c[-1]


@pytest.mark.parametrize("step_s", [60.0, 300.0, 1800.0])
def test_cooling_per_kwh_does_not_depend_on_the_step_and_leaves_out_the_fans_own_heat(
    house: House, scenario: Scenario, step_s: float
) -> None:
    weather = replace_weather(read_weather(WEEK), hours=20)
    usual = night(house, [scenario], weather, solve=solve_by_hand)
    other = night(house, [scenario], weather, step_s=step_s, solve=solve_by_hand)
    assert other.cooling_per_fan["evening"] == pytest.approx(usual.cooling_per_fan["evening"], rel=0.02)
    windows, fans = usual.runs[1:]
    assert fans.fan_kwh
    gross = (fans.vented_kwh - windows.vented_kwh) / fans.fan_kwh
    assert usual.cooling_per_fan["evening"] == pytest.approx(gross - 1.0)


def test_flows_written_by_hand_become_balanced_paths(house: House, scenario: Scenario) -> None:
    paths = air_paths(house, scenario, solve_by_hand(house, scenario))
    np.testing.assert_allclose(paths.entering_kg_s, paths.leaving_kg_s, rtol=1e-12)
    assert paths.flow_kg_s[2, 0] == pytest.approx(0.6)


def test_an_open_door_swaps_air_even_when_nothing_blows(house: House, scenario: Scenario) -> None:
    still = replace(scenario, shares={**scenario.shares, "kitchen window": 0.0}, placements=())
    paths = air_paths(house, still, solve_by_hand(house, still))
    assert paths.flow_kg_s[0, 1] == paths.flow_kg_s[1, 0] > 0.01


def test_a_vent_that_nothing_shuts_is_open_while_everything_is_shut() -> None:
    from dataclasses import replace

    from ventplan.airing.policy import shut_up
    from ventplan.house import read_house

    house = read_house(Path(__file__).parents[3] / "house_examples" / "bungalow.yaml")
    open_all = replace(house.first_scenario(), shares=dict.fromkeys(house.openings, 0.5))
    window = replace(house.openings["bath window"], can_move=False)
    shut = shut_up(replace(house, openings={**house.openings, "bath window": window}), open_all)
    assert shut.shares["bath window"] == 0.5
    assert shut.shares["study window"] == 0.0
