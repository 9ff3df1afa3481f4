"""Where fans can stand in front of openings, and every placement that a search tries."""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ventplan.airing.hazards import level_in, slept_in
from ventplan.house.fan_pose import Support, fan_height_m, fan_pose, fan_supports, floor_m, free_setbacks, spots_m
from ventplan.house.geometry import free_rectangle, polygon
from ventplan.house.records import OUTDOORS, Fan, House, Opening, Placement, Scenario

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STEP_M = 0.05
"""Distance between the setbacks that are tried for a place to stand [m]."""
NEAREST_M = 0.15
FARTHEST_M = 6.0
OUTDOORS_FARTHEST_M = 4.0
STEEPEST_DEG = 30.0
"""How steeply a fan is tilted at most to aim at the middle of an opening [deg]: common practice, no source."""
IN_DOORWAY_M = 0.5
"""Setback at which a fan that blows through a door stands out of the way of people [m] (common practice, no source)."""
DOORWAY_CLEAR_M = 0.3
"""Room to leave between a fan and another doorway of the room [m] (common practice, no source)."""
HEAD_CLEAR_M = 0.6
"""Room to leave between a fan and the head of somebody who sits or lies [m] (common practice, no source)."""
USED_HEIGHT_M, USED_CLEAR_M = 1.2, 0.3
"""Obstacles up to so high are furniture that people use, and the room to leave before it [m] (common practice, no
source)."""
USUAL_SETBACK_M, AIMED_WITHIN_DEG = 1.5, 3.0
"""Setback at which the aim of a fan on something is judged [m], and how near to the best aim is as good [deg]."""
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


def stretches(
    house: House,
    scenario: Scenario,
    fan: Fan,
    opening: Opening,
    place: str,
    *,
    support_m: float | None = None,
    keep_clear: bool = False,
) -> tuple[Stretch, ...]:
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
    support_m
        Height of what it stands on [m]; whatever makes it level with the opening if left out.
    keep_clear
        True to keep it out of doorways, and clear of heads and of the furniture that people use.

    Returns
    -------
    tuple of Stretch
        Straight in front where that is possible, else at the first sideways place that is; may be empty.
    """
    share = scenario.shares[opening.name]
    farthest = OUTDOORS_FARTHEST_M if place == OUTDOORS else FARTHEST_M
    setbacks = np.arange(NEAREST_M, farthest + STEP_M / 2.0, STEP_M)
    for aside in ASIDES_M:
        placement = Placement(fan.name, opening.name, place, aside_m=aside, support_m=support_m)
        pose = fan_pose(house, placement, share)
        able = free_setbacks(house, pose, setbacks)
        if fan.tilt_range_deg != (0.0, 0.0):  # A fan that does not tilt blows level from wherever it stands.
            able &= setbacks * math.tan(math.radians(STEEPEST_DEG)) >= abs(pose.free.z - pose.z)
        if keep_clear and able.any():
            spots = spots_m(house, pose, setbacks)
            able &= _out_of_the_way(house, scenario, opening, place, spots, setbacks, pose.radius_m)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], able, [False]])))
        found = tuple(
            Stretch(float(setbacks[first]), float(setbacks[after - 1]), aside)
            for first, after in edges.reshape(-1, 2).tolist()
        )
        if found:
            return found
    return ()


def _out_of_the_way(
    house: House, scenario: Scenario, target: Opening, place: str, spots: Floats, setbacks: Floats, radius: float
) -> Bools:
    """True where a fan is out of doorways, and clear of heads and of furniture that people use, shape (setbacks,)."""
    import shapely

    points = shapely.points(spots)
    clear = np.ones(len(setbacks), dtype=bool)
    for opening in house.openings.values():
        if place not in opening.joins or opening.kind not in ("door", "passage"):
            continue
        if opening.name == target.name:
            clear &= setbacks >= IN_DOORWAY_M - 1e-9
        elif opening.can_move or scenario.shares[opening.name] > 0.0:
            doorway = shapely.linestrings([opening.start, opening.end])
            clear &= shapely.distance(points, doorway) >= radius + DOORWAY_CLEAR_M
    for person in house.people_at.values():
        if person.room == place:
            clear &= np.hypot(spots[:, 0] - person.at[0], spots[:, 1] - person.at[1]) >= radius + HEAD_CLEAR_M
    for obstacle in house.obstacles.values():
        if obstacle.room == place and obstacle.height_m <= USED_HEIGHT_M and not obstacle.holds_fan:
            clear &= shapely.distance(points, polygon(obstacle.corners)) >= radius + USED_CLEAR_M
    return clear


def support_for(house: House, fan: Fan, opening: Opening, place: str, share: float) -> Support | None:
    """What a fan is best stood on to blow at an opening: what brings its axis nearest to level with the middle.

    The lowest of those that are about as good. None where the house has nothing for it.

    Parameters
    ----------
    house
        The house.
    fan, opening, place
        The fan, the opening it blows at, and the place it stands in.
    share
        Free share of the opening [-].
    """
    middle = free_rectangle(opening, share).z - floor_m(house, opening, place)

    def steep_deg(support: Support) -> float:
        height = min(max(middle, support.lowest_m), support.highest_m)
        return math.degrees(math.atan2(abs(middle - height), USUAL_SETBACK_M))

    supports = usual_supports(house, fan, opening, place)
    least = min((steep_deg(one) for one in supports), default=0.0)
    return next((one for one in supports if steep_deg(one) <= least + AIMED_WITHIN_DEG), None)


def usual_supports(house: House, fan: Fan, opening: Opening, place: str) -> tuple[Support, ...]:
    """What a fan can stand on away from the opening, the lowest first: the floor and the house's surfaces."""
    return tuple(one for one in fan_supports(house, fan, opening, place) if one.name != "sill")


def aimed(house: House, scenario: Scenario, placement: Placement) -> Placement:
    """The placement with its axis turned and tilted at the middle of the opening, as far as the fan tilts.

    Parameters
    ----------
    house, scenario
        The house and its state.
    placement
        Fan, opening, setback and sideways place, and what it stands on where that is known.

    Returns
    -------
    Placement
        With height, turn and tilt filled in; the fan stands level with the opening if it can reach.
    """
    fan, opening = house.fans[placement.fan], house.openings[placement.opening]
    free = free_rectangle(opening, scenario.shares[opening.name] or opening.full_share)
    height = fan_height_m(house, placement, free)
    rise = free.z - floor_m(house, opening, placement.stands_in) - height
    turn = math.degrees(math.atan2(-placement.aside_m, placement.setback_m))
    tilt = math.degrees(math.atan2(rise, math.hypot(placement.setback_m, placement.aside_m)))
    low, high = fan.tilt_range_deg
    return replace(
        placement,
        height_m=height,
        turn_deg=max(-60.0, min(60.0, turn)) + 0.0,
        tilt_deg=max(low, min(high, tilt, STEEPEST_DEG)) + 0.0,
    )


TRIAL_SETBACKS_M = (0.4, 0.8, 1.3, 2.0, 3.0, 4.5)

Kind = tuple[str, str, str, bool]
"""Of a plan, for each fan: its name, the opening, the side it stands on, and whether it is sealed in."""


def fan_kind(placement: Placement) -> Kind:
    """The part of a plan's kind that one fan gives."""
    return placement.fan, placement.opening, placement.stands_in, placement.sealed


def kind_of(team: Iterable[Placement]) -> frozenset[Kind]:
    """What makes two plans different."""
    return frozenset(map(fan_kind, team))


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


def candidates(
    house: House, state: Scenario, fans: Sequence[str], *, fans_outdoors: bool, quiet_db: float | None = None
) -> Iterator[Candidate]:
    """Every fan at every opening that it can blow at, from every side, set back or sealed.

    Parameters
    ----------
    house
        The house.
    state
        A state with every usable opening open.
    fans
        Names of the fans to try; those that stay where they are fixed are left out.
    fans_outdoors
        True to let fans stand outdoors, on the ground, too.
    quiet_db
        Loudest sound of a fan where people sleep [dB(A)]; a fan that is louder is tried on a lower setting. No limit
        if left out.
    """
    for name, opening in house.openings.items():
        if opening.is_horizontal or state.shares[name] <= 0.0:
            continue
        for fan in (house.fans[fan_name] for fan_name in fans):
            if fan.stays_at:
                continue
            for place in opening.joins:
                sealed = Placement(fan.name, name, place, 0.0, sealed=True)
                if fan.can_seal and opening.kind == "window" and opening.is_external and _fits(fan, opening, state):
                    quiet = quiet_enough(house, state, sealed, quiet_db)
                    yield from () if quiet is None else (Candidate(quiet),)
                if only_by_hatch(house, place):
                    continue
                if place == OUTDOORS and not (fans_outdoors and opening.drop_m <= fan.highest_m):
                    continue
                on = support_for(house, fan, opening, place, state.shares[name])
                support_m = None if on is None else on.height_m
                ranges = stretches(house, state, fan, opening, place, support_m=support_m, keep_clear=True)
                if ranges:
                    placed = replace(sealed, sealed=False, setback_m=1.0, aside_m=ranges[0].aside_m)
                    placed = replace(placed, stands_on="" if on is None else on.name, support_m=support_m)
                    quiet = quiet_enough(house, state, placed, quiet_db)
                    yield from () if quiet is None else (Candidate(quiet, ranges),)


def only_by_hatch(house: House, place: str) -> bool:
    """True for a room that is entered through a hatch alone, such as an attic: which is no place for a fan.

    Parameters
    ----------
    house
        The house.
    place
        Name of the room, or outdoors.
    """
    kinds = {one.kind for one in house.openings.values() if place in one.joins}
    return place != OUTDOORS and "hatch" in kinds and not kinds & {"door", "passage", "shaft"}


def quiet_enough(house: House, state: Scenario, placement: Placement, quiet_db: float | None) -> Placement | None:
    """The fan on its fastest setting that is quiet enough where people sleep; None where none is.

    Parameters
    ----------
    house, state
        The house and its state.
    placement
        The fan at an opening.
    quiet_db
        Loudest sound [dB(A)], or None for no limit.
    """
    if quiet_db is None:
        return placement
    settings = sorted(house.fans[placement.fan].settings, key=lambda setting: -setting.speed)
    for name in [setting.name for setting in settings] or [""]:
        one = replace(placement, setting=name)
        if all((level_in(house, state, room, one) or 0.0) <= quiet_db for room in slept_in(house)):
            return one
    return None


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
