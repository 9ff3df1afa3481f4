"""The jet at an opening, fans in rooms and wind through a house, against flow simulations of our own."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from simulations import (
    DENSITY,
    DISC,
    FANS,
    SITUATIONS,
    Case,
    all_cases,
    all_cases_anew,
    errors_left_out,
    first_room,
    house_of,
    more_room_cases,
    net_flow,
    rms,
    rows,
    simulated_rooms,
    wind_cases,
)

from ventplan.advice.uncertainty import default_uncertainties
from ventplan.house.records import Fan
from ventplan.network.jets import jet_situation
from ventplan.physics import jet
from ventplan.physics.jet_capture import capture_jets
from ventplan.physics.jet_path import JetAtPlane, JetPath, JetSource, jet_at_plane, momentum_density
from ventplan.physics.orifice import reading_over_mean


@pytest.fixture(scope="module")
def at_opening() -> list[Case]:
    return list(all_cases()[:20])


@pytest.fixture(scope="module")
def in_room() -> list[Case]:
    return list(all_cases()[20:31])


# All together


def test_over_all_simulated_cases_the_error_stays_below_a_tenth_of_the_fan() -> None:
    assert len(all_cases()) == 20 + 11 + 61
    assert rms(case.error for case in all_cases()) < 0.09


@pytest.mark.parametrize(("use", "count"), [("development", 22), ("check", 36)])
def test_cases_that_no_constant_was_fitted_to_are_met_nearly_as_well(use: str, count: int) -> None:
    cases = more_room_cases(use)
    assert len(cases) == count
    assert rms(case.error for case in cases) < 0.12


@pytest.mark.parametrize(
    ("situation", "bound"),
    [
        ("disc at a hole", 0.09),
        ("fan in or near the opening", 0.07),
        ("one fan, wide room", 0.08),
        ("off the middle of the opening", 0.12),
        ("hallway", 0.08),
        ("screens, wide room", 0.09),
        ("fan turned", 0.18),
        ("two fans", 0.12),
        ("next opening in line", 0.12),
    ],
)
def test_no_situation_is_much_worse_than_this(situation: str, bound: float) -> None:
    errors = [case.error for case in (*all_cases(), *more_room_cases("development")) if case.situation == situation]
    assert len(errors) >= 4
    assert 0.5 * bound < rms(errors) < bound


def test_every_case_has_a_situation() -> None:
    assert {case.situation for case in (*all_cases(), *more_room_cases("development"))} == set(SITUATIONS)


def test_hallways_are_right_on_average() -> None:
    errors = [case.error for case in all_cases() if case.situation == "hallway"]
    assert len(errors) >= 11
    assert abs(float(np.mean(errors))) < 0.04


@pytest.mark.slow
def test_a_case_left_out_of_the_fit_is_predicted_nearly_as_well() -> None:
    left_out = errors_left_out(all_cases_anew)
    assert rms(left_out) < 0.10
    assert rms(left_out) < 1.10 * rms(case.error for case in all_cases_anew())


def test_nine_in_ten_simulated_rooms_lie_inside_their_interval() -> None:
    # The jet model's own error alone: thrust, flow through the blades and spread of the discs are known.
    u = default_uncertainties()
    own = {"straight": u.jet_own, "near": u.jet_own_near, "aside": u.jet_own_aside}
    inside = []
    for case in (*all_cases()[20:], *more_room_cases("development"), *more_room_cases("check")):
        if case.simulated_m3_s < 0.01:
            continue
        row = case.row if "inner_walls_m" in case.row else first_room(case.row)
        house = house_of(row)
        run = house.first_scenario()
        sigma = math.hypot(u.jet_shared, own[jet_situation(house, run, run.placements[0])])
        inside.append(abs(math.log(case.simulated_m3_s / case.model_m3_s)) <= 1.645 * sigma)
    assert len(inside) >= 120
    assert 0.88 <= float(np.mean(inside)) <= 0.92


# A jet at a hole, without a room


def test_without_back_pressure_a_jet_drives_what_the_simulation_drives(at_opening: list[Case]) -> None:
    free = [case for case in at_opening if case["room_minus_outdoors_Pa"] == 0.0]
    assert len(free) >= 8
    for case in free:
        assert case.model_m3_s == pytest.approx(case.simulated_m3_s, rel=0.10), case.row


def test_close_to_the_opening_back_pressure_turns_the_flow_as_in_the_simulation(at_opening: list[Case]) -> None:
    turned = [case for case in at_opening if case["setback_m"] == 0.0 and case["room_minus_outdoors_Pa"] <= -0.5]
    assert len(turned) == 2
    assert all(case.model_m3_s < 0.0 and case.simulated_m3_s < 0.0 for case in turned)


# Free jets


def free_jet(fan: Fan, distance_m: float) -> JetAtPlane:
    start = float(jet.start_half_width(flow_m3_s=fan.flow_m3_s, thrust_n=fan.thrust_n, density=DENSITY))
    side = math.sqrt(2.0 * math.pi) * start
    source = JetSource(fan.thrust_n, side, side, fan.spread, fan.diameter_m / 2.0)
    return jet_at_plane(source=source, path=JetPath(distance_m))


def centre_speed(fan: Fan, distance_m: float) -> float:
    here = np.zeros(1)
    return math.sqrt(float(momentum_density(jet=free_jet(fan, distance_m), y_m=here, z_m=here)[0, 0]) / DENSITY)


def test_the_centre_of_a_free_jet_is_as_fast_as_simulated() -> None:
    # Its head says that this simulation spreads a little wider than measured jets far out: up to 3 m.
    for row in rows("free_jet.csv"):
        distance = float(row["distance_m"])
        if distance <= 3.1:
            assert centre_speed(DISC, distance) == pytest.approx(float(row["centre_speed_m_s"]), rel=0.12), row


@pytest.mark.parametrize(("case", "fan"), [("free_n1.5", "broad"), ("free_narrow_dx15", "narrow")])
def test_the_core_of_turbulent_and_calm_discs_is_as_long_as_simulated(case: str, fan: str) -> None:
    found = [row for row in rows("les_free_jets.csv") if row["case"] == case and float(row["distance_m"]) <= 3.0]
    assert len(found) >= 8
    for row in found:
        model = centre_speed(FANS[fan], float(row["distance_m"]))
        assert model == pytest.approx(float(row["peak_speed_m_s"]), rel=0.18), row


def carried_flow(fan: Fan, distance_m: float) -> float:
    there = replace(free_jet(fan, distance_m), outside_share=0.0)
    wide = 12.0 * there.y_half_width_m
    return capture_jets(jets=[there], width_m=wide, height_m=wide, density=DENSITY).flow_m3_s


def test_a_free_jet_carries_the_simulated_flow() -> None:
    for row in rows("free_jet.csv"):
        model = carried_flow(DISC, float(row["distance_m"]))
        assert model == pytest.approx(float(row["jet_flow_m3_s"]), rel=0.08), row
    for row in rows("les_free_jets.csv"):
        if row["case"] == "free_n1.5" and float(row["distance_m"]) <= 3.0:
            model = carried_flow(FANS["broad"], float(row["distance_m"]))
            assert model == pytest.approx(float(row["flow_m3_s"]), rel=0.09), row


@pytest.mark.parametrize("distance_m", [0.0, 0.05, 0.2, 0.5, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("fan", [DISC, *FANS.values()], ids=lambda fan: fan.name)
def test_flow_and_momentum_of_a_jet_are_kept_from_the_core_on(fan: Fan, distance_m: float) -> None:
    there = free_jet(fan, distance_m)
    reach = there.width_m / 2.0 + 4.0 * there.y_mixing_m
    nodes = np.linspace(-reach, reach, 1601)
    density = momentum_density(jet=there, y_m=nodes, z_m=nodes)
    cell = (nodes[1] - nodes[0]) ** 2
    assert density.sum() * cell == pytest.approx(fan.thrust_n, rel=0.001)
    grown = (
        fan.flow_m3_s
        * there.y_half_width_m
        / float(jet.start_half_width(flow_m3_s=fan.flow_m3_s, thrust_n=fan.thrust_n, density=DENSITY))
    )
    assert np.sqrt(density / DENSITY).sum() * cell == pytest.approx(grown, rel=0.01)


# The best place


CURVES = {
    "hallway to a door": ("hall_s", "les_rooms_2.jsonl"),
    "hallway to a screened window": ("hallscr_s", "les_rooms_2.jsonl"),
    "screened window": ("scr2_s", "les_rooms_2.jsonl"),
    "narrow jet": ("narrow_s", "les_rooms_2.jsonl"),
}


def best_setbacks(simulated: list[tuple[float, float]], case: Mapping[str, Any]) -> tuple[float, float]:
    """Where the simulated flow is largest, by a parabola through its best three setbacks, and the model's [m]."""
    points = sorted(simulated)
    top = max(range(1, len(points) - 1), key=lambda i: points[i][1])
    curve = np.polyfit(*zip(*points[top - 1 : top + 2], strict=True), 2)
    house = house_of(case)
    (placed,) = house.first_scenario().placements
    setbacks = np.arange(0.2, 4.51, 0.1)
    run = house.first_scenario()
    flows = [
        net_flow(replace(house, scenarios={"run": replace(run, placements=(replace(placed, setback_m=float(s)),))}))
        for s in setbacks
    ]
    return float(-curve[1] / (2.0 * curve[0])), float(setbacks[int(np.argmax(flows))])


@pytest.mark.parametrize("curve", CURVES)
def test_the_best_setback_is_right_within_half_a_metre(curve: str) -> None:
    beginning, file = CURVES[curve]
    cases = [case for case in simulated_rooms(file) if case["name"].startswith(beginning)]
    points = [
        (float(case["fans"][0]["setback_m"]), next(o["net_m3_s"] for o in case["openings"] if o["name"] == "target"))
        for case in cases
    ]
    simulated, model = best_setbacks(points, cases[0])
    assert len(points) >= 3
    assert model == pytest.approx(simulated, abs=0.5)


@pytest.mark.parametrize(("opening", "height_m"), [("door", 1.0), ("window", 1.26)])
def test_the_best_setback_in_the_first_room_is_right_within_a_quarter_of_a_metre(opening: str, height_m: float) -> None:
    found = [
        row
        for row in rows("fan_in_a_room.csv")
        if row["opening"] == opening and float(row["fan_height_m"]) == height_m and row["grid_m"] == "0.03"
    ]
    points = [(float(row["setback_m"]), float(row["net_flow_m3_s"])) for row in found]
    simulated, model = best_setbacks(points, first_room(found[0]))
    assert model == pytest.approx(simulated, abs=0.25)


def test_a_fan_on_the_floor_before_a_door_drives_less_than_at_mid_height(in_room: list[Case]) -> None:
    two_metres = [case for case in in_room if case.row["opening"] == "door" and case["setback_m"] == 2.0]
    floor, middle = sorted(two_metres, key=lambda case: case["fan_height_m"])
    assert (floor["fan_height_m"], middle["fan_height_m"]) == (0.35, 1.0)
    assert floor.simulated_m3_s < middle.simulated_m3_s
    assert floor.model_m3_s == pytest.approx(floor.simulated_m3_s, rel=0.13)
    assert middle.model_m3_s == pytest.approx(middle.simulated_m3_s, rel=0.05)


# Wind alone


def test_wind_through_windows_and_doors_in_line_is_right_within_a_tenth() -> None:
    in_line = [case for case in wind_cases() if "aligned" in case.name]
    assert len(in_line) == 3
    for case in in_line:
        assert abs(case.error) < 0.085, case


@pytest.mark.xfail(
    strict=True,
    reason="12 to 13 % low: the simulated holes pass 0.68 of what an ideal one would, not 0.62, and inlets that face "
    "the wind contract its air less than still air; see docs/model.md",
)
@pytest.mark.parametrize("name", ["offset", "offset through a door"])
def test_wind_through_windows_out_of_line_is_right_within_a_tenth(name: str) -> None:
    (case,) = (case for case in wind_cases() if case.name == name)
    assert abs(case.error) < 0.10


def test_wind_through_windows_is_closer_than_orifices_in_series() -> None:
    for case, row in zip(wind_cases(), rows("les_wind.csv"), strict=True):
        orifices = float(row["orifice_flow_m3_s"])
        assert abs(case.error) < 0.9 * (1.0 - orifices / case.simulated_m3_s), case


# Readings


@pytest.mark.parametrize(("distance_m", "column"), [(0.12, "12_cm"), (0.25, "25_cm")])
def test_readings_behind_the_return_opening_exceed_the_mean_as_simulated(distance_m: float, column: str) -> None:
    for row in rows("fan_in_a_room.csv"):
        ratio = reading_over_mean(
            distance_m=distance_m, area_m2=float(row["return_area_m2"]), discharge=0.62, screened=False
        )
        simulated = float(row[f"return_speed_{column}_downstream_m_s"]) / float(row["return_mean_speed_m_s"])
        # The simulated speeds have two digits: half a unit of the last one in both is up to 3 %.
        assert float(ratio) == pytest.approx(simulated, rel=0.06), row
