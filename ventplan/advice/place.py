"""Where to put which fan: the search for the best plan.

Screening solves every set of openings with every placement in bulk, on rough setbacks; what comes out on top is solved
again in full, its setback settled as a continuous optimum, and its doors and windows changed one by one as long as that
helps. Changes that bring next to nothing are taken back.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from ventplan.advice.aims import Aim
from ventplan.advice.candidates import Candidate, Screened, Screening, everything_open, placements
from ventplan.advice.limits import limits_of
from ventplan.advice.plans import PlaceAnswer, Plan
from ventplan.advice.setback import best_setback, good_range
from ventplan.advice.spots import Stretch, aimed, stretches
from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import solve

KINDS_IN_FULL = 6
"""How many kinds of plan are settled in full before the best three are shown."""
STATES_IN_FULL = 6
"""How many of the best states of each kind are solved in full."""
WORTH = 0.005
"""A change that brings less than this share is not asked for [-]."""
WIDEST_AIM_DEG = 45.0


@dataclass(frozen=True)
class _Settled:
    """A plan with its setback settled."""

    candidate: Candidate
    placement: Placement
    shares: Mapping[str, float]
    value: float
    pairs: tuple[tuple[float, float], ...] = ()


def place(
    house: House,
    scenario: Scenario | str | None = None,
    *,
    target: str | None = None,
    room: str | None = None,
    whole_house: bool = False,
    fans: Sequence[str] | None = None,
    fans_outdoors: bool = False,
    count: int = 3,
    progress: Callable[[int, int], None] | None = None,
) -> PlaceAnswer:
    """Suggest where to put which fan.

    Parameters
    ----------
    house
        The house.
    scenario
        The state to start from, or the name of one; fans that it places are free to move.
    target, room, whole_house
        The aim: most air through an opening, most fresh air for a room, or for the worst room. Exactly one.
    fans
        Names of the fans to try; all of the house's if left out.
    fans_outdoors
        True to let fans stand outdoors too.
    count
        How many plans that really differ to show.
    progress
        Called with states done and to do.

    Returns
    -------
    PlaceAnswer
        The best plans.

    Raises
    ------
    InputError
        For a name that the house does not have, or no aim or several.
    NoAnswerError
        Where the house has no fans, or none of them finds a place.
    """
    aim = the_aim(house, target=target, room=room, whole_house=whole_house)
    base = house.scenarios[scenario] if isinstance(scenario, str) else scenario or house.first_scenario()
    base = replace(base, placements=())
    if aim.kind == "opening" and base.shares[aim.name] <= 0.0:
        base = replace(base, shares={**base.shares, aim.name: house.openings[aim.name].full_share})
    names = tuple(fans) if fans is not None else tuple(house.fans)
    unknown = [name for name in names if name not in house.fans]
    if unknown:
        raise InputError(f"there is no fan {unknown[0]!r}; the house has: {', '.join(house.fans) or 'none'}")
    if not names:
        raise NoAnswerError(f"{house.name!r} has no fans to place; add one under `fans:` in the house file.")
    candidates = tuple(placements(house, everything_open(house, base), names, fans_outdoors=fans_outdoors))
    if not candidates:
        raise NoAnswerError(
            f"none of the fans ({', '.join(names)}) finds a place in {house.name!r} with a clear line to an opening."
        )
    before = aim.value(house, base, solve(house, base))
    screening = Screening(house, base, aim, candidates)
    screened, exhaustive = screening.best(STATES_IN_FULL, progress)
    search = _Search(house, base, aim)
    settled = search.settle(_kinds(screened))
    plans = tuple(search.plan(one) for one in settled[:count])
    placed = {candidate.placement.fan for candidate in candidates}
    return PlaceAnswer(
        aim=aim,
        before=before,
        plans=plans,
        states=screening.states + search.states,
        exhaustive=exhaustive,
        nowhere=tuple(name for name in names if name not in placed),
    )


def the_aim(house: House, *, target: str | None, room: str | None, whole_house: bool) -> Aim:
    """The one aim asked for, its name checked against the house.

    Raises
    ------
    InputError
        For a name that the house does not have, or no aim or several.
    """
    from difflib import get_close_matches

    if sum((target is not None, room is not None, whole_house)) != 1:
        raise InputError("say what to aim at: one of a target opening, a room, or the whole house")
    if whole_house:
        return Aim("house")
    kind, name, known = ("opening", target, house.openings) if target is not None else ("room", room, house.rooms)
    if name not in known:
        near = get_close_matches(str(name), list(known), n=1, cutoff=0.4)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise InputError(f"there is no {kind} {name!r}{hint} The house has: {', '.join(known)}")
    return Aim("opening" if kind == "opening" else "room", str(name))


def _kinds(screened: Sequence[Screened]) -> list[list[Screened]]:
    """The best states, grouped by kind of plan, best kind first."""
    kinds: dict[tuple[str, str, bool], list[Screened]] = {}
    for state in screened:
        kinds.setdefault(state.candidate.kind, []).append(state)
    return [states[:STATES_IN_FULL] for states in list(kinds.values())[:KINDS_IN_FULL]]


class _Search:
    """Full solutions around what screening found."""

    def __init__(self, house: House, base: Scenario, aim: Aim) -> None:
        self.house, self.base, self.aim = house, base, aim
        self.states = 0

    def scenario(self, shares: Mapping[str, float], placement: Placement) -> Scenario:
        return replace(self.base, name="plan", shares=shares, placements=(placement,))

    def value(self, shares: Mapping[str, float], placement: Placement) -> float:
        self.states += 1
        state = self.scenario(shares, placement)
        return self.aim.value(self.house, state, solve(self.house, state))

    def settle(self, kinds: Sequence[Sequence[Screened]]) -> list[_Settled]:
        """The best state of each kind with its setback settled and its openings improved, best first."""
        settled = []
        for states in kinds:
            tops = [_Settled(s.candidate, s.placement, s.shares, self.value(s.shares, s.placement)) for s in states]
            best = max(tops, key=lambda top: top.value)
            best = self.with_setback(best)
            improved = self.with_better_openings(best)
            settled.append(self.with_setback(improved) if improved is not best else best)
        return sorted(settled, key=lambda one: -one.value)

    def with_setback(self, plan: _Settled) -> _Settled:
        """Settle the setback as a continuous optimum."""
        if plan.placement.sealed:
            return plan

        def value(setback_m: float) -> float:
            return self.value(plan.shares, self.at(plan, setback_m))

        ranges = self.ranges(plan)
        setback, found, pairs = best_setback(value, ranges)
        return replace(plan, placement=self.at(plan, setback), value=found, pairs=tuple(pairs))

    def ranges(self, plan: _Settled) -> tuple[Stretch, ...]:
        """Where the fan can stand with the openings of this plan."""
        state = self.scenario(plan.shares, plan.placement)
        fan, opening = self.house.fans[plan.placement.fan], self.house.openings[plan.placement.opening]
        return stretches(self.house, state, fan, opening, plan.placement.stands_in) or plan.candidate.ranges

    def at(self, plan: _Settled, setback_m: float) -> Placement:
        moved = replace(plan.placement, setback_m=setback_m, height_m=None)
        return aimed(self.house, self.scenario(plan.shares, moved), moved)

    def with_better_openings(self, plan: _Settled) -> _Settled:
        """Change doors and windows one by one while that helps, then take back what brings next to nothing."""
        fixed = {plan.placement.opening} | ({self.aim.name} if self.aim.kind == "opening" else set())
        moving = [n for n, o in self.house.openings.items() if o.can_move and n not in fixed and o.full_share > 0.0]
        best = plan
        gained = True
        while gained:
            gained = False
            for name in moving:
                trial = self._flipped(best, name)
                if trial.value > best.value * (1.0 + WORTH):
                    best, gained = trial, True
        floor = best.value * (1.0 - WORTH)
        for name in moving:
            if (best.shares[name] > 0.0) != (self.base.shares[name] > 0.0):
                trial = self._flipped(best, name, share=self.base.shares[name])
                if trial.value >= floor:
                    best = trial
        return best

    def _flipped(self, plan: _Settled, name: str, share: float | None = None) -> _Settled:
        opening = self.house.openings[name]
        if share is None:
            share = 0.0 if plan.shares[name] > 0.0 else self.base.shares[name] or opening.full_share
        shares = {**plan.shares, name: share}
        return replace(plan, shares=shares, value=self.value(shares, plan.placement))

    def plan(self, settled: _Settled) -> Plan:
        """Everything that is told about a plan."""
        state = self.scenario(settled.shares, settled.placement)
        flow = solve(self.house, state)
        fan = flow.fans[0]
        low = high = off = None
        if not settled.placement.sealed:
            low, high = good_range(settled.pairs, (settled.placement.setback_m, settled.value))
            off = self._aim_off(settled)
        before = self.base.shares
        changed = {n for n, s in settled.shares.items() if (s > 0.0) != (before[n] > 0.0)}
        return Plan(
            placement=settled.placement,
            scenario=state,
            opens=tuple(n for n in self.house.openings if n in changed and settled.shares[n] > 0.0),
            shuts=tuple(n for n in self.house.openings if n in changed and settled.shares[n] <= 0.0),
            value=settled.value,
            blades_m3_s=fan.blades_m3_s,
            ratio=fan.ratio,
            good_from_m=low,
            good_to_m=high,
            aim_off_deg=off,
            limits=limits_of(self.house, state, self.aim, settled.value),
            flow=flow,
        )

    def _aim_off(self, plan: _Settled) -> float:
        """Angle by which the axis may turn, to the worse side, before a tenth is lost [deg]."""
        from scipy.optimize import brentq

        limit = 0.9 * plan.value

        def left(angle_deg: float) -> float:
            turned = (replace(plan.placement, turn_deg=plan.placement.turn_deg + s * angle_deg) for s in (1.0, -1.0))
            return min(self.value(plan.shares, p) for p in turned) - limit

        for angle in (3.0, 6.0, 12.0, 24.0, WIDEST_AIM_DEG):
            if left(angle) < 0.0:
                return float(brentq(left, angle / 2.0 if angle > 3.0 else 0.0, angle, xtol=0.2))
        return WIDEST_AIM_DEG
