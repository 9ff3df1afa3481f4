"""Where air has been, and where a contaminant goes."""

from __future__ import annotations

import numpy as np
import pytest

from ventplan.airing.age import age_of_air
from ventplan.airing.clearing import Release, clear
from ventplan.airing.transport import AirPaths
from ventplan.errors import InputError


def house() -> AirPaths:
    """Outdoors to bedroom to hall to kitchen to outdoors; a cellar that nothing reaches."""
    flows = np.zeros((5, 5))
    flows[4, 0] = flows[0, 1] = flows[1, 2] = flows[2, 4] = 0.2
    names = ("bedroom", "hall", "kitchen", "cellar")
    return AirPaths(names=names, mass_kg=np.array([40.0, 20.0, 40.0, 50.0]), flow_kg_s=flows)


def test_air_through_other_rooms_is_counted_apart_from_outdoor_air() -> None:
    ages = age_of_air(house())
    assert ages.rooms["bedroom"].direct == pytest.approx(1.0)
    assert ages.rooms["kitchen"].direct == 0.0
    assert ages.rooms["kitchen"].entered_by == pytest.approx({"bedroom": 1.0})
    assert ages.rooms["kitchen"].came_through == pytest.approx({"bedroom": 1.0, "hall": 1.0})
    assert ages.without_outdoor_air == ("cellar",)
    assert np.isinf(ages.rooms["cellar"].age_s)


def test_first_entry_shares_split_with_the_flows() -> None:
    flows = np.zeros((4, 4))
    flows[3, 0], flows[3, 1], flows[0, 2], flows[1, 2], flows[2, 3] = 0.3, 0.1, 0.3, 0.1, 0.4
    paths = AirPaths(names=("a", "b", "c"), mass_kg=np.ones(3), flow_kg_s=flows)
    assert age_of_air(paths).rooms["c"].entered_by == pytest.approx({"a": 0.75, "b": 0.25})


def test_smoke_that_goes_straight_out_never_sees_the_bedroom() -> None:
    cleared = clear(house(), Release(start={"kitchen": 1.0}))
    assert cleared.rooms["bedroom"].exposure == 0.0
    assert cleared.rooms["bedroom"].visited == 0.0
    assert cleared.rooms["kitchen"].visited == pytest.approx(1.0)


def test_smoke_that_is_dragged_through_the_bedroom_is_counted_there() -> None:
    paths = house()
    other_way = AirPaths(names=paths.names, mass_kg=paths.mass_kg, flow_kg_s=paths.flow_kg_s.T)
    cleared = clear(other_way, Release(start={"kitchen": 1.0}))
    assert cleared.rooms["bedroom"].visited == pytest.approx(1.0)
    assert cleared.rooms["bedroom"].peak > 0.2
    assert cleared.rooms["bedroom"].peak_s > cleared.rooms["hall"].peak_s > 0.0


def test_a_room_cut_off_never_clears_and_the_rest_still_does() -> None:
    cleared = clear(house(), Release(start={"kitchen": 1.0, "cellar": 1.0}))
    assert cleared.never == {"cellar": "isolated"}
    assert np.isinf(cleared.clear_s)
    assert 0.0 < cleared.rooms["kitchen"].clear_s < np.inf


def test_a_limit_below_the_air_outdoors_is_never_reached_and_says_why() -> None:
    cleared = clear(house(), Release(start={"kitchen": 3000.0}, outdoors=420.0, limit=400.0, unit="ppm"))
    assert "outdoors" in cleared.never["kitchen"]


def test_two_closed_rooms_share_what_is_in_them() -> None:
    flows = np.zeros((3, 3))
    flows[0, 1] = flows[1, 0] = 0.1
    paths = AirPaths(names=("a", "b"), mass_kg=np.array([10.0, 30.0]), flow_kg_s=flows)
    cleared = clear(paths, Release(start={"a": 1.0}, limit=0.5))
    assert cleared.rooms["a"].end == pytest.approx(0.25)
    assert 0.0 < cleared.rooms["a"].clear_s < np.inf


@pytest.mark.parametrize(
    ("release", "message"),
    [
        (Release(start={"attic": 1.0}), "there is no room 'attic'"),
        (Release(start={"hall": -1.0}), "below zero"),
        (Release(start={"hall": 1.0}, limit=0.0), "above zero"),
    ],
)
def test_a_release_that_makes_no_sense_is_refused(release: Release, message: str) -> None:
    with pytest.raises(InputError, match=message):
        clear(house(), release)
