"""Many states at once give what each gives alone."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from tests.unit.network.houses import as_table, one_state, random_options
from ventplan.network import compiled
from ventplan.network import solver as solver_module
from ventplan.network.choices import Choice, ChoiceTable
from ventplan.network.links import Crack, Strip
from ventplan.network.solver import isolated_rooms, solve_choices, solve_pressures


@pytest.fixture(params=["numpy", "compiled"], autouse=True)
def engine(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Run each test with each engine."""
    if request.param == "numpy":
        monkeypatch.setattr(solver_module, "_engine", lambda table, _: partial(solver_module.solve_states, table))
    else:
        pytest.importorskip("numba")
        machine_code = compiled.load()
        assert machine_code is not None
        monkeypatch.setattr(solver_module, "_engine", lambda table, _: compiled.CompiledStates(machine_code, table))


def door(a: int, b: int, **more: float) -> Strip:
    """A doorway of 0.8 x 2 m."""
    return Strip(0, a, b, 0.8, 2.0, 0.001, 1.5, 0.001, 1.5, **more)


@pytest.mark.parametrize("seed", range(12))
def test_states_together_agree_with_states_one_at_a_time(seed: int) -> None:
    random = np.random.default_rng([seed, 2])
    rooms = int(random.integers(1, 9))
    openings = rooms + int(random.integers(0, 13))
    house = random_options(seed, rooms, openings)
    choices = random.integers(0, 3, (12, openings))
    bulk = solve_choices(as_table(house), choices)
    for row, picked in enumerate(choices):
        network = one_state(house, picked)
        pressure = solve_pressures(network)
        driving = network.driving_pressure(pressure)
        forward, backward = network.volume_flows(driving)
        mass, _ = network.mass_flow_and_slope(driving)
        assert bulk.pressure_pa[row] == pytest.approx(pressure, abs=1e-10)
        for found, links in ((bulk.forward_m3_s, forward), (bulk.backward_m3_s, backward), (bulk.mass_kg_s, mass)):
            alone = [links[network.owner == opening].sum() for opening in range(openings)]
            assert found[row] == pytest.approx(alone, abs=1e-10)
        assert bulk.imbalance_kg_s[row] < 1e-10


@pytest.mark.parametrize("seed", range(12))
def test_isolated_rooms_have_no_flow_and_the_rest_is_solved(seed: int) -> None:
    house = random_options(seed, 5, 9, sealed=True)
    choices = np.random.default_rng([seed, 3]).integers(0, 2, (20, 9))
    bulk = solve_choices(as_table(house), choices)
    assert np.all(np.isfinite(bulk.pressure_pa))
    for row, picked in enumerate(choices):
        network = one_state(house, picked)
        alone = {network.nodes.index(name) for name in isolated_rooms(network)}
        assert all(bulk.pressure_pa[row, room] == 0.0 for room in alone)
        ends = [(choices[1].strips[0].a, choices[1].strips[0].b) for choices in house[1]]
        for opening, (a, b) in enumerate(ends):
            if a in alone or b in alone:
                assert bulk.forward_m3_s[row, opening] == bulk.backward_m3_s[row, opening] == 0.0
        assert bulk.imbalance_kg_s[row] < 1e-10


def test_a_house_without_links_has_no_flow() -> None:
    table = ChoiceTable(("a", "b"), [[Choice()], [Choice(), Choice()]])
    bulk = solve_choices(table, [[0, 0], [0, 1]])
    assert not bulk.pressure_pa.any()
    assert not bulk.forward_m3_s.any()


def test_no_states_give_no_rows() -> None:
    table = ChoiceTable(("a",), [[Choice((door(0, 1),))]])
    assert solve_choices(table, np.zeros((0, 1), dtype=int)).pressure_pa.shape == (0, 1)


def test_leaks_of_walls_are_in_every_state() -> None:
    fan = Choice((door(0, 1, fan_pa=-2.0),))
    table = ChoiceTable(("a",), [[Choice(), fan]], [Crack(-1, 0, 1, 0.01, 0.65)])
    still, blown = solve_choices(table, [[0], [1]]).mass_kg_s[:, 0]
    assert still == 0.0
    assert blown < -1e-3


@pytest.mark.parametrize("workers", [1, 2])
def test_progress_counts_up_to_all_states(workers: int) -> None:
    house = random_options(1, 2, 4)
    choices = np.random.default_rng(0).integers(0, 3, (5000, 4))
    seen: list[tuple[int, int]] = []
    bulk = solve_choices(as_table(house), choices, progress=lambda *count: seen.append(count), workers=workers)
    assert seen[-1] == (5000, 5000)
    assert len(seen) > 1
    assert bulk.pressure_pa[-1] == pytest.approx(solve_choices(as_table(house), choices[-1:]).pressure_pa[0], abs=1e-12)


@pytest.mark.parametrize("workers", [1, 2])
def test_what_the_progress_callback_raises_stops_the_work(workers: int) -> None:
    house = random_options(1, 2, 4)
    seen: list[int] = []

    def stop(done: int, _: int) -> None:
        seen.append(done)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        solve_choices(as_table(house), np.zeros((20000, 4), dtype=int), progress=stop, workers=workers)
    assert len(seen) == 1


@pytest.mark.parametrize("choices", [[[2]], [[-1]], [0], [[0, 0]], [[0.5]]])
def test_choices_that_do_not_exist_are_refused(choices: list[object]) -> None:
    table = ChoiceTable(("a",), [[Choice(), Choice((door(0, 1),))]])
    with pytest.raises(ValueError, match="choices must"):
        solve_choices(table, choices)


def test_an_opening_joins_the_same_places_in_all_its_choices() -> None:
    with pytest.raises(ValueError, match="same two places"):
        ChoiceTable(("a", "b"), [[Choice((door(0, 1),)), Choice((door(1, 2),))]])
    with pytest.raises(ValueError, match="no choice"):
        ChoiceTable(("a",), [[]])
