"""What to do tonight: when to open what, with which fan, and what it brings by bedtime and by morning.

The placement search finds states of the house that bring outdoor air to the rooms that matter; the night simulation
then decides between them, by the temperature of those rooms while people sleep.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from ventplan.advice.candidates import everything_open
from ventplan.advice.night_plan import (
    NightPlan,
    Outcome,
    Part,
    TonightAnswer,
    TonightIntervals,
    TonightQuestion,
    timeline,
)
from ventplan.advice.objective import Objective
from ventplan.advice.search import WORTH_A_FAN_K, Constraints, Search, search_task
from ventplan.advice.uncertainty import causes_of, normal_draws, perturbed, shifts_of
from ventplan.airing.hazards import damp_walls, find_hazards, pillow_levels_db, slept_in
from ventplan.airing.night import STEP_S, NightSimulation
from ventplan.airing.policy import Run, by_schedule, shut_up
from ventplan.airing.safety import Hazard, HazardCode, grave_hazards
from ventplan.airing.thermal import fabric_of
from ventplan.errors import InputError, NoAnswerError, unknown_name
from ventplan.house.records import House, Placement, Scenario
from ventplan.network import solve
from ventplan.network.jets import fan_of

SIMPLER_K = 0.1
"""Difference of temperature that is not worth another opening to change [K] (common practice, no source)."""

FAN_PLANS, OPENING_PLANS = 2, 2
"""States with fans, and openings alone, that go through the night simulation for each part of the night."""

RANKING_MOVED_K = 1.0
"""How far temperatures move before flows are solved again while ways are compared [K]: good to 0.01 K."""


def plan_tonight(
    house: House, scenario: Scenario, question: TonightQuestion, *, progress: Callable[[int, int], None] | None = None
) -> TonightAnswer:
    """What to do tonight for the coolest sleep.

    Parameters
    ----------
    house
        The house.
    scenario
        The house now: temperatures of its rooms, terrain, what stays as it is.
    question
        What is asked.
    progress
        Called with states done and to do.

    Returns
    -------
    TonightAnswer
        The plan, with everything shut and the best windows alone beside it.

    Raises
    ------
    InputError
        For rooms or fans that the house does not have.
    """
    night = _Night(house, replace(scenario, placements=()), question)
    return night.answer(progress)


class _Night:
    """One question about one night, and what is computed for its answer."""

    def __init__(self, house: House, base: Scenario, question: TonightQuestion) -> None:
        self.house, self.base, self.question = house, base, question
        self.simulation = NightSimulation(
            house, question.weather, STEP_S, question.policy.look_s, solve, fabric_of(house), RANKING_MOVED_K
        )
        self.shut_run = self.simulation.run(
            "everything shut", {"shut": shut_up(house, base)}, by_schedule((), ()), "shut"
        )
        self.open_s = self._opening_time_s()
        self.left_out: dict[str, int] = {}
        self.states = 0
        self.stopped = False

    def answer(self, progress: Callable[[int, int], None] | None) -> TonightAnswer:
        """Search, simulate, choose."""
        shut = self._outcome("shut", self.shut_run)
        alone, with_fans = self._states(progress, 1)
        windows_way, windows_run = self._best_windows(alone)
        windows = self._outcome("windows", windows_run)
        way, run, best_fan = self._best_with_fan(windows_way, windows_run, alone, with_fans)
        for fans in range(2, self.question.fans_at_once + 1):
            if self.stopped:
                break
            # A search of its own: teams of several fans would displace plans with fewer from the few that are kept.
            more = self._best_with_fan(windows_way, windows_run, *self._states(progress, fans))
            if self._score(more[1]) <= self._score(run) - WORTH_A_FAN_K:
                way, run = more[:2]
            best_fan = min((one for one in (best_fan, more[2]) if one is not None), default=None)
        plan = self._outcome("plan", run)
        uses_fan = any(state.placements for state in way.setups.values())
        if uses_fan:
            best_fan = plan.asleep_c  # The chosen plan may be simpler than one that is a little cooler.
        way, run = self._shut_in_the_morning(way, run)
        question, label = self.question, self.question.weather.label
        evening, night = way.setups.get(Part.EVENING), way.setups.get(Part.NIGHT)
        return TonightAnswer(
            rooms=question.rooms,
            bedtime=label(question.bedtime_s),
            waking=label(question.waking_s),
            timeline=timeline(self.house, self.base, way, question),
            evening=evening,
            night=night,
            shut=shut,
            windows=windows,
            plan=plan,
            uses_fan=uses_fan,
            fan_adds_k=None if best_fan is None else windows.asleep_c - best_fan,
            quiet_db=question.quiet_db,
            pillow_db={} if night is None else pillow_levels_db(self.house, night),
            left_out=self.left_out,
            smoke=self.base.outdoors.smoke,
            cautions=self._hazards(way, run),
            runs=(self.shut_run, windows_run, run),
            states=self.states,
        )

    def _opening_time_s(self) -> float | None:
        """When it is cooler outdoors than the shut house would settle at, from then on until waking [s]."""
        policy, question = self.question.policy, self.question
        if self.base.outdoors.smoke:
            return None
        cool = [
            outdoor_c <= settled_c - policy.open_k
            for outdoor_c, settled_c in zip(self.shut_run.outdoor_c, self.shut_run.settled_c, strict=True)
        ]
        found = None
        for time_s, is_cool in zip(self.shut_run.times_s, cool, strict=True):
            if time_s > question.waking_s:
                break
            if not is_cool:
                found = None
            elif found is None:
                found = time_s
        return found

    def _at(self, state: Scenario, time_s: float) -> Scenario:
        """A state under the weather of a time, with rooms as warm as in the shut house."""
        step = int(np.abs(np.array(self.shut_run.times_s) - time_s).argmin())
        return replace(
            state,
            outdoors=self.question.weather.at(time_s, self.base.outdoors),
            temperatures_c={room: track[step] for room, track in self.shut_run.rooms_c.items()},
        )

    def _at_night(self, state: Scenario) -> Scenario:
        return self._at(state, self.question.bedtime_s)

    def _states(
        self, progress: Callable[[int, int], None] | None, fans_at_once: int
    ) -> tuple[dict[Part, list[Scenario]], dict[Part, list[Scenario]]]:
        """Openings alone, and states with fans, for the evening and for the night, the most promising first."""
        house, question = self.house, self.question
        self.left_out = {}  # A later search finds the plans of an earlier one again.
        kept = frozenset(
            name for name, one in house.openings.items() if one.leads_to in ("stairs", "garage") and one.can_move
        )
        # Only the rooms that matter count as occupied, so that outdoor air is sought for them.
        people = {n: replace(r, people=1.0 if n in question.rooms else 0.0) for n, r in house.rooms.items()}
        wanted = replace(house, rooms=people)
        objective = Objective("house") if len(question.rooms) > 1 else Objective("room", question.rooms[0])
        base = self._at_night(self.base)
        constraints = Constraints(keep_shut=kept | set(question.keep_shut), keep_out=frozenset(question.keep_out))
        try:
            task = search_task(
                wanted, [base], np.ones(1), objective, question.fans, fans_outdoors=False, constraints=constraints
            )
        except NoAnswerError:
            away = set(question.keep_out)
            fixed = constraints.keep_shut | {n for n, o in house.openings.items() if o.can_move and set(o.joins) & away}
            shut = replace(base, shares={n: 0.0 if n in fixed else share for n, share in base.shares.items()})
            bare = [everything_open(house, shut, fixed)]
            return {Part.EVENING: bare, Part.NIGHT: [self._doors_shut(one) for one in bare]}, {}
        search = Search(task, progress)
        found = search.run(fans_at_once)
        self.states += search.states
        self.stopped |= found.stopped
        alone = [replace(base, shares=one.shares) for one in found.alone[:OPENING_PLANS]]
        fans = [replace(base, shares=one.shares, placements=_settings(house, one.team)[0]) for one in found.best()]
        value = lambda state: objective.value(wanted, state, solve(wanted, state))  # noqa: E731
        nights = [self._doors_shut(one) for one in (*alone, *fans)]
        quiet = [quieter for one in nights if (quieter := self._quiet(one)) is not None]
        awake = [one for one in fans if self._is_bearable(one)]
        with_fans = {
            Part.EVENING: self._safe(awake),
            Part.NIGHT: self._safe(sorted(quiet, key=value, reverse=True)),
        }
        same = self._doors_shut(alone[0])  # the evening's openings without its doors: least to do at bedtime
        bare_nights = sorted(_distinct(replace(one, placements=()) for one in nights), key=value, reverse=True)
        return {
            Part.EVENING: _distinct(alone),
            Part.NIGHT: _distinct([same, *bare_nights])[:OPENING_PLANS],
        }, with_fans

    def _doors_shut(self, state: Scenario) -> Scenario:
        """A state with the doors that lead outside shut, and the fans at them put away."""
        doors = {
            n for n, o in self.house.openings.items() if o.is_external and o.kind in ("door", "passage") and o.can_move
        }
        shares = {name: 0.0 if name in doors else share for name, share in state.shares.items()}
        return replace(state, shares=shares, placements=tuple(p for p in state.placements if p.opening not in doors))

    def _quiet(self, state: Scenario) -> Scenario | None:
        """A state with its fans on the highest settings that are quiet enough at the pillow; None where none is."""
        if not state.placements:
            return None
        for settings in _settings(self.house, state.placements):
            quieter = replace(state, placements=settings)
            levels = pillow_levels_db(self.house, quieter)
            known = all(fan_of(self.house, p).sound_db is not None for p in settings)
            if known and max(levels.values(), default=-np.inf) <= self.question.quiet_db:
                return quieter
        self.left_out[HazardCode.NOISE] = self.left_out.get(HazardCode.NOISE, 0) + 1
        return None

    def _is_bearable(self, state: Scenario) -> bool:
        limit = self.question.noise_db
        return limit is None or all((fan_of(self.house, p).sound_db or 0.0) <= limit for p in state.placements)

    def _safe(self, states: Iterable[Scenario]) -> list[Scenario]:
        """The first states that cause nothing that bars a plan from coming first; those before them are counted."""
        safe: list[Scenario] = []
        for state in states:
            if len(safe) == FAN_PLANS:
                break
            grave = grave_hazards(self.house, state, solve(self.house, state))
            if not grave:
                safe.append(state)
            for code in grave:
                self.left_out[code] = self.left_out.get(code, 0) + 1
        return safe

    def _way(self, evening: Scenario | None, night: Scenario | None) -> NightPlan:
        """A plan for the night that opens when it is cool enough outdoors."""
        question, open_s = self.question, self.open_s
        if open_s is None:
            return NightPlan((), (), {})
        setups: dict[str, Scenario] = {}
        times: list[float] = []
        parts: list[str] = []
        if evening is not None and open_s < question.bedtime_s:
            setups[Part.EVENING] = evening
            times.append(open_s)
            parts.append(Part.EVENING)
        if night is not None:
            setups[Part.NIGHT] = night
        if night is not None or setups:
            times.append(question.bedtime_s)
            parts.append("shut" if night is None else Part.NIGHT)
        return NightPlan(tuple(times), tuple(parts), setups)

    def _run(self, name: str, way: NightPlan) -> Run:
        if not way.setups:
            return replace(self.shut_run, name=name)
        setups = {"shut": shut_up(self.house, self.base), **way.setups}  # starts at the present temperature
        return self.simulation.run(name, setups, by_schedule(way.times_s, way.parts), "open")

    def _outcome(self, name: str, run: Run) -> Outcome:
        question = self.question
        times = np.array(run.times_s)
        bedtime, waking = (int(np.abs(times - time_s).argmin()) for time_s in (question.bedtime_s, question.waking_s))
        asleep = np.array([run.rooms_c[room][bedtime : waking + 1] for room in question.rooms])
        return Outcome(
            name=name,
            bedtime_c={room: run.rooms_c[room][bedtime] for room in question.rooms},
            waking_c={room: run.rooms_c[room][waking] for room in question.rooms},
            asleep_c=float(asleep.mean()),
            coolest_c=float(asleep.min()),
            fan_kwh=run.fan_kwh,
        )

    def _score(self, run: Run) -> float:
        """Mean temperature of the rooms while people sleep [°C]; what is cooler than it may get counts as warmer."""
        question, coolest = self.question, self.question.policy.coolest_c
        times = np.array(run.times_s)
        asleep = (times >= question.bedtime_s) & (times <= question.waking_s)
        rooms = np.array([run.rooms_c[room] for room in question.rooms])[:, asleep]
        return float((np.abs(rooms - coolest) + coolest).mean())

    def _best_windows(self, alone: Mapping[Part, Sequence[Scenario]]) -> tuple[NightPlan, Run]:
        """The best plan with openings alone; of plans that are nearly as good, the one with the fewest changes."""
        evenings, nights = alone[Part.EVENING], alone[Part.NIGHT]
        ways = [self._way(evenings[0], night) for night in nights]
        ways += [self._way(evening, nights[0]) for evening in evenings[1:]]
        ways += [self._way(evenings[0], None), self._way(None, None)]
        return self._chosen("windows alone", ways)

    def _chosen(self, name: str, ways: Sequence[NightPlan]) -> tuple[NightPlan, Run]:
        runs = [(way, self._run(name, way)) for way in ways if not way.setups or way.times_s]
        scores = [self._score(run) for _, run in runs]
        near = [pair for pair, score in zip(runs, scores, strict=True) if score <= min(scores) + SIMPLER_K]
        return min(near, key=lambda pair: pair[0].changes)

    def _best_with_fan(
        self,
        windows: NightPlan,
        windows_run: Run,
        alone: Mapping[Part, Sequence[Scenario]],
        with_fans: Mapping[Part, Sequence[Scenario]],
    ) -> tuple[NightPlan, Run, float | None]:
        """The best plan with fans where they are worth it, else windows alone; and the mean with a fan [°C]."""
        if not any(with_fans.values()) or self.open_s is None:
            return windows, windows_run, None
        quiet_night = windows.setups.get(Part.NIGHT)
        evening_only = [self._way(one, quiet_night) for one in with_fans[Part.EVENING]]
        best: list[tuple[NightPlan, Run]] = []
        if evening_only and self.open_s < self.question.bedtime_s:
            best.append(self._chosen("plan", evening_only))
        evenings = [windows.setups.get(Part.EVENING)]
        if best and self._score(best[0][1]) < self._score(windows_run):
            evenings.append(best[0][0].setups.get(Part.EVENING))
        whole = [self._way(evening, one) for evening in evenings for one in with_fans[Part.NIGHT]]
        if whole:
            best.append(self._chosen("plan", whole))
        if not best:
            return windows, windows_run, None
        coolest = min(float(self._outcome("plan", run).asleep_c) for _, run in best)
        way, run, score = windows, windows_run, self._score(windows_run)
        for candidate, its_run in best:  # the evening's fan first; that of the night must add to it
            if self._score(its_run) <= score - WORTH_A_FAN_K:
                way, run, score = candidate, its_run, self._score(its_run)
        return way, run, coolest

    def _shut_in_the_morning(self, way: NightPlan, run: Run) -> tuple[NightPlan, Run]:
        """The plan with the time to shut after waking, when it is no longer cooler outdoors."""
        if way.parts[-1:] != (Part.NIGHT,):
            return way, run
        slack = self.question.policy.slack_k
        for time_s, outdoor_c, settled_c in zip(run.times_s, run.outdoor_c, run.settled_c, strict=True):
            if time_s >= self.question.waking_s and outdoor_c >= settled_c - slack:
                shut = NightPlan((*way.times_s, time_s), (*way.parts, "shut"), way.setups)
                return shut, self._run(run.name, shut)
        return way, run

    def _hazards(self, way: NightPlan, run: Run) -> tuple[Hazard, ...]:
        """What the plan causes in the evening and in the night, each once."""
        found: dict[tuple[HazardCode, tuple[str, ...]], Hazard] = {}
        for part, state in way.setups.items():
            time_s = self.question.bedtime_s if part == Part.NIGHT else (self.open_s or 0.0)
            then = self._at(state, time_s)
            hazards = find_hazards(self.house, then, solve(self.house, then), unattended=part == Part.NIGHT)
            for hazard in hazards:
                if part == Part.NIGHT or hazard.code not in (
                    HazardCode.NOISE,
                    HazardCode.DRAUGHT,
                    HazardCode.STRONG_AIR,
                ):
                    found.setdefault((hazard.code, hazard.names), hazard)
        return (*found.values(), *damp_walls(run, self.shut_run))


def _settings(house: House, placements: Sequence[Placement]) -> list[tuple[Placement, ...]]:
    """The same fans on their settings, all on the highest first, stepped down together."""
    ladders = [[s.name for s in house.fans[p.fan].settings] or [p.setting] for p in placements]
    longest = max(len(ladder) for ladder in ladders)
    return [
        tuple(
            replace(p, setting=ladder[min(i, len(ladder) - 1)]) for p, ladder in zip(placements, ladders, strict=True)
        )
        for i in range(longest)
    ]


def _distinct(states: Iterable[Scenario]) -> list[Scenario]:
    """States that differ in openings or fans, the first of each kept."""
    found: list[Scenario] = []
    for state in states:
        if all(dict(state.shares) != dict(one.shares) or state.placements != one.placements for one in found):
            found.append(state)
    return found


def the_rooms(house: House, rooms: Sequence[str]) -> tuple[str, ...]:
    """The rooms that matter: those named, else those of the house file, else where people sleep.

    Raises
    ------
    InputError
        For a room that the house does not have, or where nobody sleeps anywhere and no room is named.
    """
    names = tuple(rooms) or house.tonight.rooms or tuple(room.name for room in slept_in(house))
    for name in names:
        if name not in house.rooms:
            raise unknown_name("room", name, house.rooms)
    if not names:
        raise InputError(
            "which rooms matter? Name them with --room, or write `use: bedroom` at the rooms where people sleep"
        )
    return names


def tonight_intervals(
    house: House,
    scenario: Scenario,
    answer: TonightAnswer,
    question: TonightQuestion,
    *,
    draws: int,
    progress: Callable[[int, int], None] | None = None,
) -> TonightIntervals:
    """How sure the temperatures of a plan are, for what is not known well of openings, fans and wind.

    Parameters
    ----------
    house, scenario
        The house, and its state now.
    answer, question
        The plan, and what was asked.
    draws
        Possible houses to send through the night.
    progress
        Called with possible houses done and to do.

    Returns
    -------
    TonightIntervals
        The 5th and the 95th percentile. The forecast, and what the fabric stores and loses, are taken as they are.
    """
    parts = {part: state for part, state in ((Part.EVENING, answer.evening), (Part.NIGHT, answer.night)) if state}
    states = list(parts.values())
    causes = causes_of(house, states)
    rows = []
    run = answer.runs[-1]
    times = [part.begin_s for part in run.plan if part.windows != "shut"]
    names = [part.windows for part in run.plan if part.windows != "shut"]
    ends = [part.begin_s for part in run.plan[1:] if part.windows == "shut"]
    schedule = by_schedule([*times, *ends], [*names, *["shut"] * len(ends)])
    waking = int(np.abs(np.array(run.times_s) - question.waking_s).argmin())
    for i, numbers in enumerate(normal_draws(len(causes), draws if states else 0, 0)):
        shifts = shifts_of(causes, numbers)
        varied = {part: perturbed(house, state, shifts) for part, state in parts.items()}
        variant = next(iter(varied.values()))[0]
        simulation = NightSimulation(variant, question.weather, STEP_S, question.policy.look_s, solve, fabric_of(house))
        setups: dict[str, Scenario] = {"shut": shut_up(variant, scenario)}
        setups.update((part, state) for part, (_, state) in varied.items())
        found = simulation.run("plan", setups, schedule, "open")
        rows.append([found.rooms_c[room][waking] for room in question.rooms])
        if progress is not None:
            progress(i + 1, draws)
    values = np.array(rows or [[run.rooms_c[room][waking] for room in question.rooms]])
    low, high = np.percentile(values, [5.0, 95.0], axis=0)
    shut = answer.shut.waking_c
    return TonightIntervals(
        draws=len(rows),
        waking_c={room: (float(low[i]), float(high[i])) for i, room in enumerate(question.rooms)},
        cooler_k={
            room: (shut[room] - float(high[i]), shut[room] - float(low[i])) for i, room in enumerate(question.rooms)
        },
    )
