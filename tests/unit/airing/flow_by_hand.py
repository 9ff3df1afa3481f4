"""Flows written by hand for the invented pair of rooms."""

from __future__ import annotations

from dataclasses import replace

from ventplan.house.records import House, Scenario
from ventplan.network.flow import FanFlow, Flow, OpeningFlow, RoomAir


def solve_by_hand(house: House, scenario: Scenario, *, near: Flow | None = None) -> Flow:
    """In at the bedroom window, through the door, out at the kitchen window: 0.5 m3/s with the fan, 0.1
    without."""
    windows_open = scenario.shares["kitchen window"] > 0.0
    through = 0.6 if scenario.placements else 0.12  # kg/s
    through = through if windows_open else 0.0
    density = 1.2

    def opening(name: str, sign: float) -> OpeningFlow:
        m3_s = through / density
        return OpeningFlow(
            name=name,
            joins=house.openings[name].joins,
            forward_m3_s=m3_s if sign > 0 else 0.0,
            backward_m3_s=m3_s if sign < 0 else 0.0,
            net_m3_s=sign * m3_s,
            net_kg_s=sign * through,
            dp_pa=sign * 1.0,
            free_area_m2=house.openings[name].area_m2 * scenario.shares[name],
            face_speed_m_s=0.4,
            reading_m_s=None,
        )

    flows = {
        "bedroom window": opening("bedroom window", -1.0),
        "door": opening("door", 1.0),
        "kitchen window": opening("kitchen window", 1.0),
    }
    m3_s = through / density
    rooms = {
        name: RoomAir(name, -1.0, m3_s, 3600 * m3_s / 38.4, m3_s if name == "bedroom" else 0.0, 0.0)
        for name in house.rooms
    }
    rooms["bedroom"] = replace(rooms["bedroom"], direct_air_change_per_h=rooms["bedroom"].air_change_per_h)
    fans = tuple(FanFlow(p.fan, p.opening, 0.5, m3_s, 1.0) for p in scenario.placements)
    return Flow(scenario.name, flows, rooms, fans, 0.0)
