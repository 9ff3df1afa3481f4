"""An invented pair of rooms, built without a file."""

from __future__ import annotations

import pytest

from ventplan.house.records import Fan, House, Opening, Outdoors, Placement, Room, Scenario


def square(x: float) -> tuple[tuple[float, float], ...]:
    return ((x, 0.0), (x + 4.0, 0.0), (x + 4.0, 4.0), (x, 4.0))


@pytest.fixture
def house() -> House:
    rooms = {
        "bedroom": Room("bedroom", square(0.0), use="bedroom", temperature_c=26.0, people=2.0),
        "kitchen": Room("kitchen", square(4.0), flame="gas water heater", temperature_c=26.0, gain_w=100.0),
    }
    openings = {
        "bedroom window": Opening(
            "bedroom window", "window", ("bedroom", "outdoors"), (0.0, 3.0), (0.0, 2.0), (-1.0, 0.0), 0.9, 1.2
        ),
        "door": Opening("door", "door", ("bedroom", "kitchen"), (4.0, 1.0), (4.0, 1.8), (1.0, 0.0), 0.0, 2.0),
        "kitchen window": Opening(
            "kitchen window", "window", ("kitchen", "outdoors"), (8.0, 2.0), (8.0, 3.0), (1.0, 0.0), 0.9, 1.2
        ),
    }
    fans = {"fan": Fan("fan", 0.5, 2.0, 0.5, 0.15, power_w=50.0, sound_db=52.0)}
    scenario = Scenario(
        name="evening",
        shares=dict.fromkeys(openings, 1.0),
        screened=frozenset(),
        placements=(Placement("fan", "kitchen window", "kitchen", setback_m=1.0),),
        outdoors=Outdoors(temperature_c=18.0),
        temperatures_c={"bedroom": 26.0, "kitchen": 26.0},
    )
    return House("pair", rooms, openings, fans, {}, {"evening": scenario})


@pytest.fixture
def scenario(house: House) -> Scenario:
    return house.first_scenario()
