"""From a house and a scenario to flows and pressures."""

from ventplan.network.answer import solve
from ventplan.network.flow import FanFlow, Flow, OpeningFlow, RoomAir

__all__ = ["FanFlow", "Flow", "OpeningFlow", "RoomAir", "solve"]
