"""Where fans can stand in front of openings, and every placement that a search tries."""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplan.house.fan_pose import fan_height_m
from ventplan.house.frames import free_rectangle, normal_from, tangent_of
from ventplan.house.geometry import can_stand, line_is_clear
from ventplan.house.records import OUTDOORS, Fan, House, Opening, Placement, Scenario

STEP_M = 0.05
"""Distance between the setbacks that are tried for a place to stand [m]."""
NEAREST_M = 0.15
FARTHEST_M = 6.0
OUTDOORS_FARTHEST_M = 4.0
CLEARANCE_M = 0.05
"""Room to leave around a fan's frame [m]."""
STEEPEST_DEG = 30.0
"""How steeply a fan is tilted at most to aim at the middle of an opening [deg]: common practice, no source."""
ASIDES_M = (0.0, 0.4, -0.4, 0.8, -0.8)
"""Sideways places that are tried, in this order, where the one straight in front is taken [m]."""


@dataclass(frozen=True)
class Stretch:
    """Setbacks, without a gap, at which a fan can stand.

    Attributes
    ----------
    low_m, high_m
        Shortest and longest setback [m].
    aside_m
        Sideways distance from the opening's middle line [m].
    """

    low_m: float
    high_m: float
    aside_m: float


def stretches(house: House, scenario: Scenario, fan: Fan, opening: Opening, place: str) -> tuple[Stretch, ...]:
    """Where a fan can stand in front of an opening: inside the room, off obstacles, with a clear line to it.

    Parameters
    ----------
    house, scenario
        The house and its state.
    fan
        The fan.
    opening
        The opening it blows at.
    place
        The room it stands in, or outdoors.

    Returns
    -------
    tuple of Stretch
        Straight in front where that is possible, else at the first sideways place that is; may be empty.
    """
    for aside in ASIDES_M:
        found = tuple(_stretches_aside(house, scenario, fan, opening, place, aside))
        if found:
            return found
    return ()


def _stretches_aside(
    house: House, scenario: Scenario, fan: Fan, opening: Opening, place: str, aside_m: float
) -> Iterator[Stretch]:
    share = scenario.shares[opening.name] or opening.full_share
    free = free_rectangle(opening, share)
    (into_x, into_y), (along_x, along_y) = normal_from(opening, opening.other(place)), tangent_of(opening)
    height = fan_height_m(house, Placement(fan.name, opening.name, place), free)
    radius = fan.diameter_m / 2.0
    farthest = OUTDOORS_FARTHEST_M if place == OUTDOORS else FARTHEST_M
    setbacks = np.arange(NEAREST_M, farthest + STEP_M / 2.0, STEP_M)
    spots = np.stack(
        [
            free.x + into_x * setbacks + along_x * aside_m,
            free.y + into_y * setbacks + along_y * aside_m,
        ],
        axis=-1,
    )
    # Close to the opening a fan may stand in the door itself: its frame does not have to clear that wall.
    clearance = np.minimum(radius + CLEARANCE_M, setbacks - 0.02)
    room = house.rooms.get(place)
    rise = abs(free.z - (room.floor_m if room else 0.0) - height)
    # The blades draw from behind, over what is lower than they are: as much room there as the fan is wide.
    behind = spots + radius * np.array([into_x, into_y])
    able = can_stand(house, place, spots, clearance) & can_stand(
        house, place, behind, clearance, above_m=height - radius
    )
    able &= setbacks * math.tan(math.radians(STEEPEST_DEG)) >= rise
    able[able] = line_is_clear(house, place, spots[able], (free.x, free.y), height, radius)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], able, [False]])))
    for first, after in edges.reshape(-1, 2).tolist():
        yield Stretch(float(setbacks[first]), float(setbacks[after - 1]), aside_m)


def aimed(house: House, scenario: Scenario, placement: Placement) -> Placement:
    """The placement with its axis turned and tilted at the middle of the opening.

    Parameters
    ----------
    house, scenario
        The house and its state.
    placement
        Fan, opening, setback and sideways place.

    Returns
    -------
    Placement
        With height, turn and tilt filled in; the fan stands level with the opening if it can reach.
    """
    opening = house.openings[placement.opening]
    free = free_rectangle(opening, scenario.shares[opening.name] or opening.full_share)
    height = fan_height_m(house, placement, free)
    room = house.rooms.get(placement.stands_in)
    floor = room.floor_m if room else 0.0
    rise = free.z - floor - height
    turn = math.degrees(math.atan2(-placement.aside_m, placement.setback_m))
    tilt = math.degrees(math.atan2(rise, math.hypot(placement.setback_m, placement.aside_m)))
    return replace(
        placement,
        height_m=height,
        turn_deg=max(-60.0, min(60.0, turn)) + 0.0,
        tilt_deg=max(-45.0, min(45.0, tilt)) + 0.0,
    )


TRIAL_SETBACKS_M = (0.4, 0.8, 1.3, 2.0, 3.0, 4.5)

Kind = tuple[str, str, bool]


@dataclass(frozen=True)
class Candidate:
    """A fan at an opening, before its setback is settled.

    Attributes
    ----------
    placement
        Fan, opening, side; sealed or not.
    ranges
        Where it can stand; empty for a sealed fan.
    """

    placement: Placement
    ranges: tuple[Stretch, ...] = ()

    @property
    def kind(self) -> Kind:
        """What makes two plans different: the opening, the side, sealed or set back."""
        return self.placement.opening, self.placement.stands_in, self.placement.sealed


def stays_shut(house: House, base: Scenario, opening: str) -> bool:
    """True for a shut door between a garage and the house: exhaust gas comes through it, so no plan opens it."""
    rooms = [house.rooms[place] for place in house.openings[opening].joins if place in house.rooms]
    return base.shares[opening] <= 0.0 and len(rooms) == 2 and rooms[0].is_garage != rooms[1].is_garage


def everything_open(house: House, base: Scenario, fixed: Container[str] = ()) -> Scenario:
    """The state with every opening that can move open, as far as it goes where it was shut; no fans.

    Parameters
    ----------
    house, base
        The house and the state to start from.
    fixed
        Openings that stay as they are.
    """
    shares = dict(base.shares)
    for name, opening in house.openings.items():
        if opening.can_move and name not in fixed and base.shares[name] <= 0.0 and not stays_shut(house, base, name):
            shares[name] = opening.full_share
    return replace(base, shares=shares, placements=())


def candidates(house: House, state: Scenario, fans: Sequence[str], *, fans_outdoors: bool) -> Iterator[Candidate]:
    """Every fan at every opening that it can blow at, from every side, set back or sealed.

    Parameters
    ----------
    house
        The house.
    state
        A state with every usable opening open.
    fans
        Names of the fans to try.
    fans_outdoors
        True to let fans stand outdoors, on the ground, too.
    """
    for name, opening in house.openings.items():
        if opening.is_horizontal or state.shares[name] <= 0.0:
            continue
        for fan_name in fans:
            fan = house.fans[fan_name]
            for place in opening.joins:
                if fan.can_seal and opening.kind == "window" and opening.is_external and _fits(fan, opening, state):
                    yield Candidate(Placement(fan_name, name, place, 0.0, sealed=True))
                if place == OUTDOORS and not (fans_outdoors and opening.drop_m <= fan.highest_m):
                    continue
                ranges = stretches(house, state, fan, opening, place)
                if ranges:
                    yield Candidate(Placement(fan_name, name, place, aside_m=ranges[0].aside_m), ranges)


def _fits(fan: Fan, opening: Opening, state: Scenario) -> bool:
    """True where a fan goes into the part of an opening that its sash leaves free."""
    free = free_rectangle(opening, state.shares[opening.name])
    return min(free.width_m, free.height_m) >= fan.diameter_m


def trial_placements(house: House, state: Scenario, candidate: Candidate) -> list[Placement]:
    """The candidate at a few setbacks among which its best one lies.

    Parameters
    ----------
    house, state
        The house, with the opening open.
    candidate
        A fan at an opening.
    """
    if candidate.placement.sealed:
        return [candidate.placement]
    usual = {s for s in TRIAL_SETBACKS_M if any(r.low_m <= s <= r.high_m for r in candidate.ranges)}
    setbacks = usual or {(r.low_m + r.high_m) / 2.0 for r in candidate.ranges}
    return [aimed(house, state, replace(candidate.placement, setback_m=s)) for s in sorted(setbacks)]
