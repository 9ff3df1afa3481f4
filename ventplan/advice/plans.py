"""What a placement search answers with."""

from __future__ import annotations

from dataclasses import dataclass

from ventplan.advice.aims import Aim
from ventplan.house.records import Placement, Scenario
from ventplan.network import Flow


@dataclass(frozen=True)
class Limit:
    """One thing that holds the aim back, and what changing it would bring.

    Attributes
    ----------
    change
        What to change, in plain words.
    gain
        Relative change of the aim [-].
    """

    change: str
    gain: float


@dataclass(frozen=True)
class Plan:
    """One plan: a fan in its place, and which openings are open.

    Attributes
    ----------
    placement
        Fan, opening, side, setback, height and aim.
    scenario
        The whole state of the house with this plan.
    opens, shuts
        Openings to open and to shut, against the state that was asked about.
    value
        The aim's value [m3/s, or 1/s for the worst room].
    blades_m3_s
        The fan's own flow in this plan [m3/s].
    ratio
        Net flow through the fan's opening over the fan's own flow [-].
    good_from_m, good_to_m
        Setbacks that keep 90 % of the value [m]; None for a sealed fan.
    aim_off_deg
        How far the aim may be off sideways before 10 % is lost [deg], at most 45; None for a sealed fan.
    limits
        What holds the aim back now, the largest gain first.
    flow
        The solved state.
    """

    placement: Placement
    scenario: Scenario
    opens: tuple[str, ...]
    shuts: tuple[str, ...]
    value: float
    blades_m3_s: float
    ratio: float
    good_from_m: float | None
    good_to_m: float | None
    aim_off_deg: float | None
    limits: tuple[Limit, ...]
    flow: Flow


@dataclass(frozen=True)
class PlaceAnswer:
    """The answer of a placement search.

    Attributes
    ----------
    aim
        What was asked for.
    before
        The aim's value in the state that was asked about, without a fan.
    plans
        The best plans that really differ in opening, side or kind, best first.
    states
        How many states of the house were solved.
    exhaustive
        True where every set of openings to outdoors was tried with every placement; False where the sets were too
        many and the best found is shown.
    nowhere
        Fans that find no place to stand, if any.
    """

    aim: Aim
    before: float
    plans: tuple[Plan, ...]
    states: int
    exhaustive: bool
    nowhere: tuple[str, ...] = ()
