"""Every example house is read and solved in every scenario, and the results are physically possible."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from ventplan.house import read_house
from ventplan.network import solve

HOUSES = sorted((Path(__file__).parents[2] / "house_examples").rglob("*.yaml"))
STATES = [(path, name) for path in HOUSES for name in read_house(path).scenarios]


@pytest.mark.parametrize(("path", "name"), STATES, ids=lambda value: value.stem if isinstance(value, Path) else value)
def test_a_scenario_is_solved_and_no_air_is_lost(path: Path, name: str) -> None:
    house = read_house(path)
    flow = solve(house, name)
    assert flow.imbalance_kg_s < 1e-9
    assert set(flow.rooms) | set(flow.isolated_rooms) == set(house.rooms)
    for opening in flow.openings.values():
        assert opening.forward_m3_s >= 0.0
        assert opening.backward_m3_s >= 0.0
        assert opening.exchange_m3_s >= 0.0
        assert opening.net_m3_s == pytest.approx(opening.forward_m3_s - opening.backward_m3_s, abs=1e-12)
        # Each direction at the density of the air from there: between 1.0 kg/m3 (hot, high up) and 1.4 (freezing).
        there, back = opening.forward_m3_s, opening.backward_m3_s
        assert 1.0 * there - 1.4 * back - 1e-12 <= opening.net_kg_s <= 1.4 * there - 1.0 * back + 1e-12
    for room in flow.rooms.values():
        assert 0.0 <= room.outdoor_m3_s <= room.inflow_m3_s + 1e-12


@pytest.mark.parametrize("path", HOUSES, ids=lambda path: path.stem)
def test_nothing_moves_in_a_shut_house_without_wind_and_temperature_difference(path: Path) -> None:
    house = read_house(path)
    state = house.first_scenario()
    outdoors = replace(state.outdoors, wind=replace(state.outdoors.wind, speed_m_s=0.0))
    warm = dict.fromkeys(house.rooms, outdoors.temperature_c)
    calm = replace(state, outdoors=outdoors, temperatures_c=warm, placements=())
    flow = solve(house, calm)
    assert all(abs(opening.net_m3_s) < 1e-6 for opening in flow.openings.values())
