"""What a solved house says, with 90 % intervals.

Intervals are worked out by derivatives, one cause at a time, and checked with a handful of draws of all causes
together; where the two part ways (a flow that may turn round, a jet that no longer covers its opening), they are read
off many draws instead. Each interval says how it was made.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from ventplan.advice.uncertainty import (
    Cause,
    Evaluate,
    Floats,
    Progress,
    Uncertainties,
    answered,
    causes_of,
    evaluated,
    normal_draws,
    perturbed,
)
from ventplan.airing.age import outdoor_air_change_rates_per_h, purging_air_change_rates_per_h
from ventplan.house.records import House, Scenario
from ventplan.network import Flow, solve

INTERVAL_LEVEL = 0.90
HALF_WIDTH_SIGMAS = 1.6448536269514722
"""Half-width of the 90 % interval in standard deviations of a normal distribution [-]."""
CHECK_DRAWS = 16
"""Draws that check the derivatives."""
MAX_MISS_SIGMAS = 0.25
"""The derivatives count as good where the root mean square of what they miss in those draws is at most this share of
the standard uncertainty: each end of the interval is then off by about a tenth of its half-width or less."""
MIN_NAMED_SHARE = 0.01
"""Groups of causes with less than this share of the variance are not named [-]."""

Method = Literal["linear", "linear in the logarithm", "sampled", "certain"]
Kind = Literal[
    "net flow", "air change", "outdoor air change", "effective air change", "air from outdoors", "driven flow", "ratio"
]


@dataclass(frozen=True)
class Interval:
    """A value and the interval that holds the true one in nine cases of ten.

    Attributes
    ----------
    value
        With everything as the house file has it, SI.
    low, high
        Ends of the 90 % interval: the true value is below it in 5 % of cases, and above it in 5 %; wider where
        ``value`` would lie outside, so that the interval always contains it.
    method
        How it was worked out.
    budget
        Share of the variance by group of causes, the largest first; the rest to 1 is due to causes together.
    """

    value: float
    low: float
    high: float
    method: Method
    budget: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Quantity:
    """One number of a solved house.

    Attributes
    ----------
    kind
        ``net flow`` through an opening, counted from ``joins[0]`` [m3/s]; ``air change`` (all air
        that enters), ``outdoor air change`` and ``effective air change`` (purging flow over volume) of a room [1/h];
        ``air from outdoors`` into the house [m3/s]; ``driven flow`` [m3/s] and ``ratio`` [-] of a fan.
    name
        The opening or room; the fan's number in the scenario, counted from 0; empty for the house.
    """

    kind: Kind
    name: str = ""


@dataclass(frozen=True)
class Solved:
    """A solved state, for reading quantities off it."""

    flow: Flow
    effective_per_h: Mapping[str, float] = field(default_factory=dict)
    outdoor_per_h: Mapping[str, float] = field(default_factory=dict)


READ: dict[Kind, Callable[[Solved, str], float]] = {
    "net flow": lambda solved, name: solved.flow.openings[name].net_m3_s,
    "air change": lambda solved, name: solved.flow.rooms[name].air_change_per_h,
    "outdoor air change": lambda solved, name: solved.outdoor_per_h[name],
    "effective air change": lambda solved, name: solved.effective_per_h[name],
    "air from outdoors": lambda solved, _: sum(room.outdoor_m3_s for room in solved.flow.rooms.values()),
    "driven flow": lambda solved, name: solved.flow.fans[int(name)].driven_m3_s,
    "ratio": lambda solved, name: solved.flow.fans[int(name)].ratio,
}


@dataclass(frozen=True)
class FlowIntervals:
    """Quantities of one state with their intervals.

    Attributes
    ----------
    quantities, intervals
        The same number of both, in the same order.
    draws
        How many possible houses were drawn; 0 where derivatives were enough.
    solved
        How many states were solved in all.
    """

    quantities: tuple[Quantity, ...]
    intervals: tuple[Interval, ...]
    draws: int
    solved: int

    def of(self, kind: Kind, name: str = "") -> Interval:
        """The interval of one quantity."""
        return self.intervals[self.quantities.index(Quantity(kind, name))]

    def rows(self) -> list[dict[str, object]]:
        """Each quantity with its interval in one map: kind, name, value, low, high, method, budget."""
        return [{**vars(q), **vars(one)} for q, one in zip(self.quantities, self.intervals, strict=True)]


def quantities_of(house: House, scenario: Scenario, flow: Flow) -> tuple[Quantity, ...]:
    """Everything that `ventplan flow` answers: open openings, rooms, fans, and the house.

    Parameters
    ----------
    house, scenario
        The house and its state.
    flow
        Its solution.
    """
    blown = {fan.opening for fan in flow.fans}
    passing = [n for n, o in flow.openings.items() if o.free_area_m2 > 0.0 or n in blown]
    fans = [str(i) for i in range(len(flow.fans))]
    return (
        Quantity("air from outdoors"),
        *(Quantity("net flow", name) for name in passing),
        *(Quantity("air change", name) for name in flow.rooms),
        *(Quantity("outdoor air change", name) for name in flow.rooms),
        *(Quantity("effective air change", name) for name in flow.rooms),
        *(Quantity("driven flow", name) for name in fans),
        *(Quantity("ratio", name) for name in fans),
    )


def interval(
    house: House,
    scenario: Scenario | str | None = None,
    quantities: Sequence[Quantity] | None = None,
    *,
    draws: int = 256,
    progress: Progress | None = None,
) -> FlowIntervals:
    """Ninety per cent intervals for what a state of a house says.

    Parameters
    ----------
    house
        The house.
    scenario
        Its state, or the name of one; the first if left out.
    quantities
        Quantities to compute; all of them if left out.
    draws
        Draws where derivatives are not good enough; a power of two. Each costs one solution.
    progress
        Called with solved states and all of them.

    Returns
    -------
    FlowIntervals
        Value and interval of each quantity.

    Raises
    ------
    NoAnswerError
        Where the house, or too many of its variants, have no answer.

    Notes
    -----
    With z the standard normal causes, f the quantity and s_i = (f(z_i = 1) - f(z_i = -1)) / 2, the linear interval is
    f(0) +- 1.645 sqrt(sum s_i^2) (JCGM 100:2008, 5.1), the same for log f where f keeps its sign. It counts where it
    predicts `CHECK_DRAWS` draws well enough (the comparison of JCGM 101:2008, clause 8, with fewer draws); else the
    ends are quantiles of ``draws`` draws.
    """
    state = house.scenarios[scenario] if isinstance(scenario, str) else scenario or house.first_scenario()
    asked = tuple(quantities) if quantities is not None else quantities_of(house, state, solve(house, state))
    kinds = {quantity.kind for quantity in asked}

    def evaluate(variant: House, varied: Scenario) -> Floats:
        flow = solve(variant, varied)
        solved = Solved(
            flow,
            purging_air_change_rates_per_h(variant, varied, flow) if "effective air change" in kinds else {},
            outdoor_air_change_rates_per_h(variant, varied, flow) if "outdoor air change" in kinds else {},
        )
        return np.array([READ[quantity.kind](solved, quantity.name) for quantity in asked])

    found, drawn, count = intervals_of(house, state, evaluate, draws=draws, progress=progress)
    return FlowIntervals(asked, found, drawn, count)


def intervals_of(
    house: House,
    scenario: Scenario,
    evaluate: Evaluate,
    *,
    uncertainties: Uncertainties | None = None,
    draws: int = 256,
    progress: Progress | None = None,
) -> tuple[tuple[Interval, ...], int, int]:
    """Intervals for any values of a house in a state: the intervals, the draws made, and the states solved."""
    causes = causes_of(house, (scenario,), uncertainties)
    first = 1 + 2 * len(causes) + CHECK_DRAWS

    def solve_at(normal: Floats, done: int, total: int) -> Floats:
        def report(here: int, _: int) -> None:
            if progress is not None:
                progress(done + here, total)

        return evaluated(house, (scenario,), evaluate, causes, normal, report)[:, 0]

    best = evaluate(*perturbed(house, scenario, {}))
    steps = solve_at(np.vstack([np.eye(len(causes)), -np.eye(len(causes))]), 1, first)
    normal = normal_draws(len(causes), max(draws, CHECK_DRAWS))
    checks = solve_at(normal[:CHECK_DRAWS], 1 + 2 * len(causes), first)
    kept = answered(checks)
    attempts = [
        _linear(causes, float(best[i]), steps[:, i], normal[:CHECK_DRAWS][kept], checks[kept, i])
        for i in range(best.size)
    ]
    if all(attempts):
        return tuple(one for one in attempts if one is not None), 0, first
    values = checks
    if len(normal) > CHECK_DRAWS:
        rest = solve_at(normal[CHECK_DRAWS:], first, first + len(normal) - CHECK_DRAWS)
        values = np.vstack([checks, rest])
    kept = answered(values)
    return (
        tuple(one or sampled(causes, float(best[i]), normal[kept], values[kept, i]) for i, one in enumerate(attempts)),
        len(normal),
        first + len(values) - CHECK_DRAWS,
    )


def _linear(causes: Sequence[Cause], best: float, steps: Floats, normal: Floats, checks: Floats) -> Interval | None:
    """The interval by derivatives, of the value or of its logarithm, whichever predicts the checks better."""
    tried: list[tuple[float, Interval]] = []
    count = len(causes)
    slopes = (steps[:count] - steps[count:]) / 2.0
    standard = float(np.sqrt(np.sum(slopes**2)))
    missed = _root_mean_square(checks - best - normal @ slopes)
    scale = max(abs(best), 1e-6)
    if standard <= 1e-9 * scale and missed <= 1e-9 * scale:
        return Interval(best, best, best, "certain")
    if np.isfinite(slopes).all() and standard > 0.0:
        low, high = best - HALF_WIDTH_SIGMAS * standard, best + HALF_WIDTH_SIGMAS * standard
        budget = by_group(causes, slopes**2 / standard**2)
        tried.append((missed / standard, Interval(best, low, high, "linear", budget)))
    every = np.concatenate([[best], steps, checks])
    if np.isfinite(every).all() and (np.all(every > 0.0) or np.all(every < 0.0)):
        sign, logs = math.copysign(1.0, best), np.log(np.abs(steps))
        slopes = (logs[:count] - logs[count:]) / 2.0
        standard = float(np.sqrt(np.sum(slopes**2)))
        if standard > 0.0:
            missed = _root_mean_square(np.log(checks / best) - normal @ slopes)
            ends = sorted(sign * abs(best) * math.exp(way * HALF_WIDTH_SIGMAS * standard) for way in (-1.0, 1.0))
            budget = by_group(causes, slopes**2 / standard**2)
            tried.append((missed / standard, Interval(best, ends[0], ends[1], "linear in the logarithm", budget)))
    good = [one for one in tried if one[0] <= MAX_MISS_SIGMAS]
    return min(good, key=lambda one: one[0])[1] if good else None


def _root_mean_square(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))


def sampled(causes: Sequence[Cause], best: float, normal: Floats, values: Floats) -> Interval:
    """The interval of a value from draws, by quantiles.

    Parameters
    ----------
    causes
        Causes of doubt.
    best
        The value with everything as the house file has it.
    normal
        Standard normal causes, shape (draws, causes).
    values
        Shape (draws,).
    """
    tail = (1.0 - INTERVAL_LEVEL) / 2.0
    low, high = np.quantile(values, [tail, 1.0 - tail])
    # A state where doubt can only add air, such as rooms that are exactly as warm as one another, lies at an edge.
    return Interval(best, min(float(low), best), max(float(high), best), "sampled", budget_of(causes, normal, values))


def budget_of(causes: Sequence[Cause], normal: Floats, values: Floats) -> tuple[tuple[str, float], ...]:
    """Share of the variance of values by group of causes, the largest first; arguments as for `sampled`."""
    shares = explained(normal, values)
    return by_group(causes, shares / max(float(shares.sum()), 1.0))


def explained(normal: Floats, values: Floats) -> Floats:
    """Share of the variance of values that goes with each cause, by squared correlation less what chance gives.

    Parameters
    ----------
    normal
        Standard normal causes, shape (draws, causes).
    values
        Shape (draws,).

    Returns
    -------
    ndarray
        Shape (causes,) [-].
    """
    spread = float(values.std())
    if spread <= 1e-12 * max(float(np.abs(values).max()), 1e-12):
        return np.zeros(normal.shape[1])
    centred = (values - values.mean()) / spread
    correlation = centred @ (normal - normal.mean(axis=0)) / (len(values) * np.maximum(normal.std(axis=0), 1e-12))
    shares: Floats = np.maximum(correlation**2 - 1.0 / len(values), 0.0)
    return shares


def by_group(causes: Sequence[Cause], shares: Floats) -> tuple[tuple[str, float], ...]:
    """Shares of single causes added up by group, the largest first."""
    groups: dict[str, float] = {}
    for cause, share in zip(causes, shares, strict=True):
        groups[cause.group] = groups.get(cause.group, 0.0) + float(share)
    return tuple(sorted(((g, s) for g, s in groups.items() if s >= MIN_NAMED_SHARE), key=lambda one: -one[1]))
