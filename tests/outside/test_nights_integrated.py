"""A night by the product's steps against scipy's integrator, which solves the flows anew at every evaluation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ventplan.advice.objective import Objective
from ventplan.airing.air_paths import air_paths
from ventplan.airing.night import NightSimulation, night
from ventplan.airing.policy import by_schedule, shut_up
from ventplan.airing.thermal import PERSON_W, fabric_of
from ventplan.airing.weather import daily_curve
from ventplan.house import House, Scenario, parse_house
from ventplan.house.records import Wind
from ventplan.network import solve
from ventplan.network.jets import fan_of

FLAT = """
indoors: {temperature: 27}
outdoors: {temperature: 20}
rooms:
  bedroom: {at: [0, 0], size: [4, 4], ceiling: 2.5, use: bedroom, people: 2, gain: 60 W}
  living: {at: [4, 0], size: [5, 4], ceiling: 2.5, gain: 120 W}
openings:
  west: {kind: window, joins: [bedroom, outdoors], wall: west, along: 1.2, size: [1.2, 1.2]}
  door: {kind: door, joins: [bedroom, living], along: 1.5, size: [0.9, 2]}
  east: {kind: window, joins: [living, outdoors], wall: east, along: 1.2, size: [1.2, 1.2]}
fans: {fan: {flow: 0.6, thrust: 2.5, diameter: 0.5, spread: 0.15, power: 60 W}}
scenarios:
  evening: {open: [west, door, east], fans: [{fan: fan, blows out: east, setback: 1}]}
  night: {open: [west, door, east]}
"""


def integrated(
    house: House, weather_c: object, parts: list[tuple[float, float, Scenario]], start_c: float
) -> np.ndarray:
    """Air and fabric temperatures at the end of several parts, each with a state of its own."""
    fabric, rooms = fabric_of(house), list(house.rooms.values())
    n = len(rooms)
    state = np.full(2 * n, start_c)
    for begin_s, end_s, scenario in parts:
        fans = [
            sum(fan_of(house, p).power_w or 0.0 for p in scenario.placements if p.stands_in == r.name) for r in rooms
        ]
        heat = np.array([r.gain_w + r.people * PERSON_W for r in rooms]) + np.array(fans)

        def slope(time_s: float, t: np.ndarray, scenario: Scenario = scenario, heat: np.ndarray = heat) -> np.ndarray:
            outdoors = weather_c.at(time_s, scenario.outdoors)  # type: ignore[attr-defined]
            now = replace(
                scenario,
                outdoors=outdoors,
                temperatures_c={r.name: float(t[i]) for i, r in enumerate(rooms)},
            )
            flow = air_paths(house, now, solve(house, now)).flow_kg_s
            sources = np.append(t[:n], outdoors.temperature_c)
            vented = 1005.0 * np.array([flow[:, i] @ (sources - t[i]) for i in range(n)])
            swapped = fabric.coupling_w_k * (t[n:] - t[:n])
            mass = np.array([1.2 * 0.98 * r.volume_m3 for r in rooms])
            air = (vented + swapped + heat) / (1005.0 * mass)
            through = fabric.envelope_w_k * (outdoors.temperature_c - t[n:])
            return np.concatenate([air, (through - swapped) / fabric.stored_j_k])

        found = solve_ivp(slope, (begin_s, end_s), state, method="LSODA", rtol=1e-4, atol=1e-3, max_step=1800.0)
        state = found.y[:, -1]
    return state


@pytest.mark.parametrize("wind_m_s", [0.0, 2.0])
def test_a_night_of_three_parts_agrees_with_an_integrator(wind_m_s: float) -> None:
    """Shut until 20:00, the fan until 22:30, windows until 7:00: every room and its fabric within 0.1 K."""
    house = parse_house(FLAT)
    evening, night = house.scenarios["evening"], house.scenarios["night"]
    wind = Wind(speed_m_s=wind_m_s, from_deg=250.0)
    weather = daily_curve(high_c=31.0, low_c=16.0, begin_h=17.0, hours=14.0, wind=wind)
    times = [3.0 * 3600.0, 5.5 * 3600.0, 14.0 * 3600.0]
    simulation = NightSimulation(house, weather, 900.0, 900.0, solve, fabric_of(house))
    run = simulation.run(
        "plan", {"evening": evening, "night": night}, by_schedule(times[:2], ["evening", "night"]), "open"
    )
    expected = integrated(
        house,
        weather,
        [(0.0, times[0], shut_up(house, evening)), (times[0], times[1], evening), (times[1], times[2], night)],
        27.0,
    )
    found = [track[-1] for tracks in (run.rooms_c, run.fabric_c) for track in tracks.values()]
    np.testing.assert_allclose(found, expected, atol=0.1)


def test_place_night_and_tonight_have_the_same_temperatures_for_the_same_plan() -> None:
    """The objective of the search, a night by policy, and the same night as a schedule of times."""
    house = parse_house(FLAT)
    plan = house.scenarios["evening"]
    weather = daily_curve(high_c=31.0, low_c=16.0, begin_h=17.0, hours=14.0)
    found = night(house, [plan], weather)
    shut, run = found.runs[0], found.runs[-1]
    objective = Objective("cool", "bedroom", weather, 7.0)
    cooler = objective.verdict(house, plan, solve(house, plan))
    assert cooler == pytest.approx(shut.rooms_c["bedroom"][-1] - run.rooms_c["bedroom"][-1], abs=1e-9)
    states = {"open": replace(plan, placements=()), "with fans": plan}
    schedule = by_schedule([part.begin_s for part in run.plan], [part.windows for part in run.plan])
    simulation = NightSimulation(house, weather, 900.0, 900.0, solve, fabric_of(house))
    again = simulation.run("plan", states, schedule, "open")
    assert again.rooms_c["bedroom"] == pytest.approx(run.rooms_c["bedroom"], abs=1e-9)
