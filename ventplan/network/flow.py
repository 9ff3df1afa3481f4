"""What a solved house says: flows at openings, pressures in rooms, what each fan drives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class OpeningFlow:
    """Air through one opening. Signs count from ``joins[0]`` to ``joins[1]``.

    Attributes
    ----------
    forward_m3_s, backward_m3_s
        Air going each way at the same time, both >= 0 [m3/s], at the density of the air where it comes from.
    net_m3_s
        forward - backward [m3/s].
    net_kg_s
        Net mass flow [kg/s].
    dp_pa
        Static pressure of ``joins[0]`` minus that of ``joins[1]`` at the middle of the opening [Pa].
    free_area_m2
        Free area in this scenario [m2].
    face_speed_m_s
        Mean speed over the free area, (forward + backward) / free area [m/s].
    reading_m_s
        What a small anemometer held in the stream, 12 cm downstream of the middle of the free area, would show [m/s];
        None where one reading says nothing (the jet goes through it, or the air goes both ways).
    exchange_m3_s
        Air swapped with the other side by turbulence (single-sided), besides forward and backward [m3/s].
    circling_m3_s
        Of forward and backward, what only circles around a jet that a fan blows at an opening to outdoors: it comes in
        beside the jet, and the jet drags it out again [m3/s].
    wind_m3_s, stack_m3_s, fan_m3_s
        Parts of the net flow that wind, stack and fans drive [m3/s]; they can oppose one another, and add up to
        ``net_kg_s`` over the density of the air on the side that it comes from.
        They are what each would drive through the house with every resistance as it is in this solution.
    """

    name: str
    joins: tuple[str, str]
    forward_m3_s: float
    backward_m3_s: float
    net_m3_s: float
    net_kg_s: float
    dp_pa: float
    free_area_m2: float
    face_speed_m_s: float
    reading_m_s: float | None
    exchange_m3_s: float = 0.0
    circling_m3_s: float = 0.0
    wind_m3_s: float = 0.0
    stack_m3_s: float = 0.0
    fan_m3_s: float = 0.0


@dataclass(frozen=True)
class RoomAir:
    """Air in one room.

    Attributes
    ----------
    pressure_pa
        Static pressure at the floor against the air outdoors at the same height without wind [Pa].
    inflow_m3_s
        Air entering from everywhere [m3/s].
    air_change_per_h
        inflow / volume [1/h].
    outdoor_m3_s, outdoor_air_change_per_h
        Air entering straight from outdoors, without what circles around a jet [m3/s] and [1/h].
    neutral_level_m
        Height above the ground where its pressure is that of the still air outdoors [m], where that lies between
        its floor and its ceiling.
    """

    name: str
    pressure_pa: float
    inflow_m3_s: float
    air_change_per_h: float
    outdoor_m3_s: float
    outdoor_air_change_per_h: float
    neutral_level_m: float | None = None


@dataclass(frozen=True)
class FanFlow:
    """What one fan does.

    Attributes
    ----------
    blades_m3_s
        Flow through the blades [m3/s].
    driven_m3_s
        Net flow through its opening, counted the way it blows [m3/s].
    ratio
        driven / blades [-].
    sealed
        True where it is sealed into the opening.
    """

    name: str
    opening: str
    blades_m3_s: float
    driven_m3_s: float
    ratio: float
    sealed: bool = False


@dataclass(frozen=True)
class Flow:
    """A solved scenario.

    Attributes
    ----------
    openings, rooms
        By name, in file order.
    fans
        One for each placement.
    imbalance_kg_s
        Largest mass imbalance of any room [kg/s].
    cut_off
        Rooms without a path to outdoors.
    in_line
        Openings that a jet reaches after it has passed another.
    neutral_level_m
        Height above the ground where the pressure indoors, averaged over the rooms that open doors join,
        is that of the still air outdoors [m]; None where there is none, or several (see the rooms' own).
    """

    scenario: str
    openings: Mapping[str, OpeningFlow]
    rooms: Mapping[str, RoomAir]
    fans: tuple[FanFlow, ...]
    imbalance_kg_s: float
    cut_off: tuple[str, ...] = ()
    in_line: tuple[str, ...] = ()
    neutral_level_m: float | None = None
