"""Age of air against the identities of Sandberg 1981 (Building and Environment 16(2), 123-135)."""

from __future__ import annotations

import numpy as np
import pytest

from ventplan.airing.age import age_of_air
from ventplan.airing.transport import AirPaths


def ladder() -> AirPaths:
    """Three rooms: two outdoor supplies, two exits, exchange both ways between the first two."""
    flows = np.zeros((4, 4))
    flows[3, 0], flows[3, 1] = 0.10, 0.05
    flows[0, 1], flows[1, 0] = 0.08, 0.03
    flows[0, 2], flows[1, 3], flows[2, 3] = 0.05, 0.10, 0.05
    return AirPaths(names=("a", "b", "c"), mass_kg=np.array([30.0, 60.0, 25.0]), flow_kg_s=flows)


def test_mean_age_at_the_exits_is_volume_over_flow() -> None:
    paths = ladder()
    ages = age_of_air(paths)
    leaving = paths.flow_kg_s[:-1, -1]
    at_exits = sum(leaving[i] * ages.rooms[name].age_s for i, name in enumerate(paths.names)) / leaving.sum()
    assert at_exits == pytest.approx(paths.mass_kg.sum() / leaving.sum(), rel=1e-12)
    assert ages.nominal_time_s == pytest.approx(at_exits, rel=1e-12)


def test_a_fully_mixed_room_has_efficiency_one_half_and_effectiveness_one() -> None:
    """Sandberg's efficiency is 50 % for full mixing; the effectiveness of ASHRAE Standard 129 is 1."""
    flows = np.array([[0.0, 0.1], [0.1, 0.0]])
    ages = age_of_air(AirPaths(names=("room",), mass_kg=np.array([36.0]), flow_kg_s=flows))
    assert ages.rooms["room"].age_s == pytest.approx(360.0)
    assert ages.air_change_efficiency == pytest.approx(0.5)
    assert ages.air_change_effectiveness == pytest.approx(1.0)


def test_many_rooms_in_a_row_approach_piston_flow() -> None:
    """n tanks in series: mean age / nominal time = (n + 1) / 2n, piston flow in the limit (mixed-tanks
    theory)."""
    n = 50
    flows = np.zeros((n + 1, n + 1))
    flows[np.arange(n), np.arange(1, n + 1)] = flows[n, 0] = 0.1
    names = tuple(f"room {i}" for i in range(n))
    ages = age_of_air(AirPaths(names=names, mass_kg=np.full(n, 10.0), flow_kg_s=flows))
    assert ages.air_change_efficiency == pytest.approx(n / (n + 1.0))


def test_age_is_the_area_under_the_decay_after_filling_the_whole_house() -> None:
    """Mean age = integral of C / C0 after a uniform start (tracer step-down method, Sandberg 1981)."""
    from ventplan.airing.clearing import Release, clear

    paths = ladder()
    everywhere = Release(start=dict.fromkeys(paths.names, 1.0), limit=1e-9)
    cleared, ages = clear(paths, everywhere), age_of_air(paths)
    for name in paths.names:
        assert cleared.rooms[name].exposure == pytest.approx(ages.rooms[name].age_s, rel=1e-7)
