"""A plan for a night: its parts, what a person does when, and what it brings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from ventplan.airing.policy import Policy, Run, shut_up
from ventplan.airing.safety import Hazard
from ventplan.airing.weather import Weather
from ventplan.house.records import House, Placement, Scenario


class Part(StrEnum):
    """Parts of the night, as the simulation names them."""

    EVENING = "evening"
    NIGHT = "night"


class ActionCode(StrEnum):
    """What a person does."""

    KEEP_SHUT = "keep shut"
    OPEN = "open"
    SHUT = "shut"
    START_FAN = "start fan"
    CHANGE_SETTING = "change setting"
    STOP_FAN = "stop fan"
    SHUT_ALL = "shut all"
    SHUT_COOL = "shut all, cool enough"


@dataclass(frozen=True)
class Action:
    """One thing that a person does.

    Attributes
    ----------
    code
        What.
    names
        The openings, or the fan.
    placement
        Where a fan that is started stands; None otherwise.
    share
        Free share of the frame that an opening is opened to [-]; 0 otherwise.
    setting
        The setting that a fan is turned to.
    """

    code: ActionCode
    names: tuple[str, ...] = ()
    placement: Placement | None = None
    share: float = 0.0
    setting: str = ""


@dataclass(frozen=True)
class TimelineStep:
    """What is done at one time.

    Attributes
    ----------
    time_s
        Since the weather's first row [s].
    when
        The same as text.
    actions
        What is done, in order; empty where nothing changes.
    """

    time_s: float
    when: str
    actions: tuple[Action, ...]


@dataclass(frozen=True)
class Outcome:
    """What one plan for the night brings.

    Attributes
    ----------
    name
        ``shut``, ``windows`` or ``plan``.
    bedtime_c, waking_c
        Air temperature of each room that matters at bedtime and on waking [°C].
    asleep_c
        Its mean between the two over those rooms [°C].
    coolest_c
        The lowest air temperature of any of those rooms while people sleep [°C].
    fan_kwh
        Electricity of the fans [kWh]; None where a fan's power is not known.
    """

    name: str
    bedtime_c: Mapping[str, float]
    waking_c: Mapping[str, float]
    asleep_c: float
    coolest_c: float
    fan_kwh: float | None


@dataclass(frozen=True)
class TonightQuestion:
    """What is asked.

    Attributes
    ----------
    weather
        Weather from now until some hours after waking.
    bedtime_s, waking_s
        Since the weather's first row [s].
    rooms
        The rooms that matter.
    quiet_db
        Loudest sound of the fans at the pillow [dB(A)].
    noise_db
        Loudest sound of a fan at 1 m while people are awake [dB(A)], or None.
    keep_out
        Rooms whose doors stay shut and that no fan stands in.
    fans
        Fans that may be used.
    policy
        When outdoor air is cool enough to open, and how cool the rooms may get.
    keep_shut
        Openings that stay shut.
    fans_at_once
        How many fans may run together, 1 to 3.
    """

    weather: Weather
    bedtime_s: float
    waking_s: float
    rooms: tuple[str, ...]
    quiet_db: float
    noise_db: float | None
    keep_out: tuple[str, ...]
    fans: tuple[str, ...]
    policy: Policy
    keep_shut: tuple[str, ...] = ()
    fans_at_once: int = 1


@dataclass(frozen=True)
class TonightAnswer:
    """What to do tonight.

    Attributes
    ----------
    rooms
        The rooms that matter.
    bedtime, waking
        As text.
    timeline
        What to do when.
    evening, night
        State of the house in the evening, and from bedtime on; None where it stays shut then.
    shut, windows, plan
        What everything shut brings, the best windows alone, and the plan.
    uses_fan
        True where the plan has a fan.
    fan_adds_k
        By how much the plan's fans make the rooms cooler than the best windows alone, averaged over the rooms and the
        time while people sleep [K]; of the coolest plan with a fan where the plan has none; None where no fan may be
        used.
    quiet_db
        Limit at the pillow [dB(A)].
    pillow_db
        Level of the plan's fans at the pillow from bedtime on, by room [dB(A)].
    smoke
        True where everything stays shut because of smoke outdoors.
    left_out
        Hazards for which plans with a fan were left out, with how many.
    cautions
        What the plan causes.
    runs
        The three runs through the weather.
    states
        How many states of the house were solved in the search.
    """

    rooms: tuple[str, ...]
    bedtime: str
    waking: str
    timeline: tuple[TimelineStep, ...]
    evening: Scenario | None
    night: Scenario | None
    shut: Outcome
    windows: Outcome
    plan: Outcome
    uses_fan: bool
    fan_adds_k: float | None
    quiet_db: float
    pillow_db: Mapping[str, float]
    smoke: bool
    left_out: Mapping[str, int]
    cautions: tuple[Hazard, ...]
    runs: tuple[Run, ...]
    states: int


@dataclass(frozen=True)
class NightPlan:
    """A state of the house from each time of the night on; everything is shut before the first."""

    times_s: tuple[float, ...]
    parts: tuple[str, ...]
    setups: Mapping[str, Scenario]

    @property
    def changes(self) -> int:
        """Openings that differ from all shut, and fans: how much there is to do."""
        if not self.setups:
            return 0
        states = list(self.setups.values())
        count = sum(share > 0.0 for share in states[0].shares.values()) + 3 * len(states[0].placements)
        for one, other in pairwise(states):
            count += sum(abs(other.shares[name] - share) > 1e-3 for name, share in one.shares.items())
            there = {replace(p, setting="") for p in one.placements}
            count += sum(1 if replace(p, setting="") in there else 3 for p in other.placements)
        return count + (self.parts[-1] == "shut")


def timeline(house: House, base: Scenario, way: NightPlan, question: TonightQuestion) -> tuple[TimelineStep, ...]:
    """What a person does, and when.

    Parameters
    ----------
    house
        The house.
    base
        The house now.
    way
        The plan for the night.
    question
        The times of the night.
    """
    label = question.weather.label
    before = shut_up(house, base)
    steps = []
    if not way.times_s or way.times_s[0] > 0.0:
        steps.append(TimelineStep(0.0, label(0.0), (Action(ActionCode.KEEP_SHUT, _openable(house)),)))
    for time_s, part in zip(way.times_s, way.parts, strict=True):
        if part == "shut":
            code = ActionCode.SHUT_ALL if time_s >= question.waking_s else ActionCode.SHUT_COOL
            fans = tuple(Action(ActionCode.STOP_FAN, (p.fan,)) for p in before.placements)
            steps.append(TimelineStep(time_s, label(time_s), (*fans, Action(code))))
            continue
        after = way.setups[part]
        steps.append(TimelineStep(time_s, label(time_s), tuple(_actions(before, after))))
        before = after
    return tuple(sorted(steps, key=lambda step: step.time_s))


def _openable(house: House) -> tuple[str, ...]:
    """Openings to outdoors that somebody can shut."""
    return tuple(name for name, one in house.openings.items() if one.is_external and one.can_move)


def _actions(before: Scenario, after: Scenario) -> Iterable[Action]:
    """What leads from one state to the next: fans off, shut, open, fans on."""
    old, new = ({(p.fan, p.opening): p for p in state.placements} for state in (before, after))
    for (fan, opening), placement in old.items():
        kept = new.get((fan, opening))
        if kept is None:
            yield Action(ActionCode.STOP_FAN, (fan,))
        elif kept.setting != placement.setting:
            yield Action(ActionCode.CHANGE_SETTING, (fan,), setting=kept.setting)
    shuts = tuple(n for n, share in after.shares.items() if share <= 0.0 < before.shares[n])
    if shuts:
        yield Action(ActionCode.SHUT, shuts)
    opened: dict[float, list[str]] = {}
    for name, share in after.shares.items():
        if share > 0.0 and abs(share - before.shares[name]) > 1e-3:
            opened.setdefault(round(share, 3), []).append(name)
    for share, names in opened.items():
        yield Action(ActionCode.OPEN, tuple(names), share=share)
    for key, placement in new.items():
        if key not in old:
            yield Action(ActionCode.START_FAN, (placement.fan,), placement=placement, setting=placement.setting)


@dataclass(frozen=True)
class TonightIntervals:
    """How sure a plan's temperatures are.

    Attributes
    ----------
    draws
        Possible houses that went through the night.
    waking_c
        90 % interval of the air temperature of each room that matters on waking [°C], by room.
    cooler_k
        90 % interval of how much cooler than with everything shut [K], by room.
    """

    draws: int
    waking_c: Mapping[str, tuple[float, float]]
    cooler_k: Mapping[str, tuple[float, float]]
