"""Every placement that is worth trying, and the few setbacks it is tried at."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ventplan.advice.spots import Stretch, aimed, stretches
from ventplan.house.records import OUTDOORS, Fan, House, Opening, Placement, Scenario
from ventplan.network.frames import free_rectangle

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


def everything_open(house: House, base: Scenario) -> Scenario:
    """The state with every opening that can move open, as far as it goes where it was shut; no fans."""
    shares = dict(base.shares)
    for name, opening in house.openings.items():
        if opening.can_move and base.shares[name] <= 0.0 and not stays_shut(house, base, name):
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
