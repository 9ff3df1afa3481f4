"""Records that a placement search returns: plans, answers, trade-offs, for one weather and for many."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from ventplan.advice.objective import Objective
from ventplan.airing.safety import Hazard, HazardCode
from ventplan.house.records import Outdoors, Placement, Scenario
from ventplan.network import Flow


class Change(StrEnum):
    """Kinds of changes that gain an objective; the comment says what the names of a `Bottleneck` are."""

    SCREEN_OFF = "screen-off"  # opening
    OPEN_FULLY = "open-fully"  # opening
    LARGER = "tenth-larger"  # opening
    STRONGER = "tenth-stronger"  # fans at one opening


@dataclass(frozen=True)
class Bottleneck:
    """One thing that holds the objective back, and what changing it would bring.

    Attributes
    ----------
    change
        Kind of the change.
    names
        What is changed: an opening, or fans.
    gain
        Relative change of the objective [-].
    """

    change: Change
    names: tuple[str, ...]
    gain: float


@dataclass(frozen=True)
class Standing:
    """How one fan of a plan stands.

    Attributes
    ----------
    blades_m3_s
        Its own flow in this plan [m3/s].
    ratio
        Net flow through its opening over its own flow [-].
    good_from_m, good_to_m
        Setbacks that keep 90 % of the objective [m]; None for a sealed fan.
    aim_off_deg
        How far its aim may be off sideways before 10 % is lost [deg], at most 45; None for a sealed fan.
    on_floor
        Share of the objective that is left with the fan on the floor [-]; None where it stands there or cannot.
    level
        Share of the objective that is left without the tilt [-]; None where it is not tilted.
    """

    blades_m3_s: float
    ratio: float
    good_from_m: float | None = None
    good_to_m: float | None = None
    aim_off_deg: float | None = None
    on_floor: float | None = None
    level: float | None = None


@dataclass(frozen=True)
class Plan:
    """One plan: fans in their places, and which openings are open.

    Attributes
    ----------
    placements
        For each fan: opening, side, setback, height and aim.
    scenario
        The whole state of the house with this plan.
    opens, shuts
        Openings to open and to shut, against the state that was asked about.
    value
        The objective's value (see ``Objective.verdict``).
    stands
        How precisely each fan must stand, in the order of the placements.
    power_w
        Electrical input of all fans [W]; None where one is not known.
    sound_db
        Sound level of all fans together at 1 m from each [dB(A)]; None where one is not known.
    limits
        What limits the objective, the largest gain first.
    flow
        The solved state.
    without_fans
        The objective's value with the same openings and no fan.
    worst_room
        The room with the oldest air among those where people are, where the objective is the whole house.
    flame_flagged
        True where a room with a flame is so far below the pressure outdoors that such rooms are flagged.
    causes
        Grave hazards of the plan that the best openings alone do not cause; such a plan is never first.
    passes_through
        Share of what is released that passes through each other room on its way out [-], where the objective is to
        clear one.
    doors_to_shut
        Doors that keep it out of some of these rooms; with them shut, the plan still gives 90 % of the objective.
    """

    placements: tuple[Placement, ...]
    scenario: Scenario
    opens: tuple[str, ...]
    shuts: tuple[str, ...]
    value: float
    stands: tuple[Standing, ...]
    power_w: float | None
    sound_db: float | None
    limits: tuple[Bottleneck, ...]
    flow: Flow
    without_fans: float = 0.0
    worst_room: str = ""
    passes_through: Mapping[str, float] = field(default_factory=dict)
    flame_flagged: bool = False
    causes: tuple[HazardCode, ...] = ()
    doors_to_shut: tuple[str, ...] = ()

    @property
    def placement(self) -> Placement:
        """The first fan's place."""
        return self.placements[0]


@dataclass(frozen=True)
class PlaceAnswer:
    """The answer of a placement search.

    Attributes
    ----------
    objective
        What was asked for.
    before
        The objective's value in the state that was asked about, without a fan.
    openings_alone
        The best that windows and doors do without a fan.
    plans
        The best plans that really differ, best first; where no fan is worth its noise, the openings alone.
    best_with_fan
        The best plan with a fan, worth it or not.
    states
        How many states of the house were solved.
    exhaustive
        True where every set of the openings that can move, inner doors included, was screened with every fan at every
        opening, at a few setbacks; False where the most promising were.
    stopped
        True where the search was stopped, and the best so far is shown.
    nowhere
        Fans that find no place to stand, if any.
    """

    objective: Objective
    before: float
    openings_alone: Plan
    plans: tuple[Plan, ...]
    states: int
    exhaustive: bool
    best_with_fan: Plan | None = None
    stopped: bool = False
    nowhere: tuple[str, ...] = ()


@dataclass(frozen=True)
class CoolNight:
    """One night of many with the same plan.

    Attributes
    ----------
    when
        The morning, as people say it.
    shut_c, windows_c, plan_c
        Temperature of the room then [°C]: with all openings to outdoors shut, with the openings of the plan alone,
        and with its fans; each house has gone through all nights before in the same way.
    worth_a_fan
        True where the fans cool the room enough more than its openings alone.
    """

    when: str
    shut_c: float
    windows_c: float
    plan_c: float
    worth_a_fan: bool


@dataclass(frozen=True)
class TradeOffPoint:
    """One way to run the fans.

    Attributes
    ----------
    placements
        What is placed where, on which setting; empty for openings alone.
    opens, shuts
        Openings to open and to shut, against the state that was asked about.
    value
        The objective's value.
    power_w, sound_db
        Of all fans together [W], [dB(A)].
    best
        True where no other point gives as much for less.
    cautions
        What it causes.
    """

    placements: tuple[Placement, ...]
    opens: tuple[str, ...]
    shuts: tuple[str, ...]
    value: float
    power_w: float | None
    sound_db: float | None
    best: bool
    cautions: tuple[Hazard, ...] = ()


@dataclass(frozen=True)
class TradeOff:
    """What more air costs in watts or noise.

    Attributes
    ----------
    objective
        What was asked for.
    cost
        ``power`` or ``noise``.
    at_least
        The least value that will do, or None.
    points
        From the least cost to the most.
    chosen
        The point of least cost that gives at least that much, or None.
    """

    objective: Objective
    cost: str
    at_least: float | None
    points: tuple[TradeOffPoint, ...]
    chosen: TradeOffPoint | None


@dataclass(frozen=True)
class Condition:
    """One kind of weather.

    Attributes
    ----------
    outdoors
        The weather.
    weight
        Share of the time [-]; those of all conditions add up to 1.
    """

    outdoors: Outdoors
    weight: float


NEAR_BEST_SHARE = 0.9
"""A plan is near the best where it has this share of the best plan's value [-]."""


@dataclass(frozen=True)
class WeatherPlan:
    """One plan over all weather.

    Attributes
    ----------
    placements
        For each fan: opening, side, setback, height and aim; empty for openings alone.
    shares
        Free share of every opening [-].
    opens, shuts
        Openings to open and to shut, against the state that was asked about.
    value
        Weighted mean of the objective.
    near_best
        Share of the time in which it has at least nine tenths of the best plan for that weather [-].
    values
        The objective under each condition of the answer.
    causes
        As `Plan.causes`, under any condition of the answer.
    """

    placements: tuple[Placement, ...]
    shares: Mapping[str, float]
    opens: tuple[str, ...]
    shuts: tuple[str, ...]
    value: float
    near_best: float
    values: tuple[float, ...]
    causes: tuple[HazardCode, ...] = ()


@dataclass(frozen=True)
class WeatherGroup:
    """The best for one group of conditions.

    Attributes
    ----------
    condition
        The representative condition of the group, and its share of the time.
    before
        The objective in the state that was asked about, without a fan.
    plan
        The best plan there; without fans where openings alone do more than any plan with them.
    """

    condition: Condition
    before: float
    plan: WeatherPlan


@dataclass(frozen=True)
class OverAnswer:
    """The answer of a placement search over weather.

    Attributes
    ----------
    objective
        What was asked for.
    base
        The state that was asked about, without fans.
    openings_alone
        The best that one set of windows and doors does over all weather without a fan.
    plans
        The best plans over all weather that differ in opening, side or kind, best first.
    groups
        The conditions, the most frequent first, each with its best plan.
    conditions
        How many conditions were given.
    hour_by_hour
        True where means and times near the best come from every condition that was given, False where from groups.
    states
        How many states of the house were solved.
    exhaustive
        As `PlaceAnswer.exhaustive`, under every group of conditions.
    best_with_fan
        As `PlaceAnswer.best_with_fan`.
    """

    objective: Objective
    base: Scenario
    openings_alone: WeatherPlan
    plans: tuple[WeatherPlan, ...]
    groups: tuple[WeatherGroup, ...]
    conditions: int
    hour_by_hour: bool
    states: int
    exhaustive: bool
    best_with_fan: WeatherPlan | None = None
