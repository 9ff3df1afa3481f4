"""What the house file may say: units, YAML with line numbers, plan geometry, catalogues, and the frozen records."""

from ventplan.house.catalogue import starter_text
from ventplan.house.read import parse_house, read_house
from ventplan.house.records import (
    OUTDOORS,
    Fan,
    FanSetting,
    House,
    Obstacle,
    Opening,
    Outdoors,
    PersonAt,
    Placement,
    Room,
    Scenario,
    Screen,
    Wind,
)

__all__ = [
    "OUTDOORS",
    "Fan",
    "FanSetting",
    "House",
    "Obstacle",
    "Opening",
    "Outdoors",
    "PersonAt",
    "Placement",
    "Room",
    "Scenario",
    "Screen",
    "Wind",
    "parse_house",
    "read_house",
    "starter_text",
]
