"""How far back a fan should stand: the house flow against setback."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplan.advice.candidates import Stretch, aimed, stretches
from ventplan.advice.intervals import INTERVAL_LEVEL, Interval, sampled
from ventplan.advice.uncertainty import (
    Floats,
    Progress,
    answered,
    causes_of,
    draws_of,
    evaluated,
    normal_draws,
)
from ventplan.errors import InputError, NoAnswerError, unknown_name
from ventplan.house.records import OUTDOORS, House, Placement, Scenario
from ventplan.network import Flow, solve

CURVE_SETBACKS = 24
"""Setbacks that a curve is drawn through, before its best point is found as a continuous optimum."""
TOLERANCE_M = 5e-3
"""How close the best setback is found [m]."""
MOST_STEPS = 10
"""Values that finding it may take, besides those of the curve."""
GOOD_SHARE = 0.9
"""Share of the best flow that marks the good range of setback."""

DRAWN_SETBACKS = 9
"""Setbacks at which each draw is solved."""
WORTHWHILE = 0.6
"""Setbacks that give less than this share of the best flow are left out [-]."""

Curve = list[tuple[float, float]]


@dataclass(frozen=True)
class SetbackCurve:
    """House flow against setback for one fan at one opening, with screens as they are named.

    Attributes
    ----------
    screens
        ``on`` or ``off``.
    setback_m, flow_m3_s
        The curve, both of shape (points,) [m], [m3/s]: net flow through the opening, the way the fan blows.
    best_setback_m, best_flow_m3_s
        Continuous optimum [m], [m3/s].
    good_from_m, good_to_m
        Setbacks around the best that keep 90 % of its flow [m].
    without_m3_s
        Net flow through the opening without this fan, the same way [m3/s].
    best
        The fan at the best setback, with the height and tilt that aim it at the opening.
    wins
        False where air comes against the fan at every setback, as against a strong wind.
    """

    screens: str
    setback_m: tuple[float, ...]
    flow_m3_s: tuple[float, ...]
    best_setback_m: float
    best_flow_m3_s: float
    good_from_m: float
    good_to_m: float
    without_m3_s: float
    best: Placement
    wins: bool = True


@dataclass(frozen=True)
class SetbackAnswer:
    """The setback curves of one fan at one opening.

    Attributes
    ----------
    scenario
        The state of the house otherwise.
    fan, opening, stands_in
        Names.
    shut_in
        True where no other opening lets air in or out, so that the fan works against a shut house.
    blades_m3_s
        The fan's own flow [m3/s].
    stands
        Stretches of setback at which the fan can stand.
    curves
        Screens on and off; one curve where the house has no screen that matters.
    """

    scenario: str
    fan: str
    opening: str
    stands_in: str
    shut_in: bool
    blades_m3_s: float
    stands: tuple[Stretch, ...]
    curves: tuple[SetbackCurve, ...]


def solve_placed(house: House, scenario: Scenario, placement: Placement) -> Flow:
    """Solve a state with one fan, aimed at its opening, besides those of the scenario."""
    return solve(house, replace(scenario, placements=(*scenario.placements, aimed(house, scenario, placement))))


def best_setback(
    value: Callable[[float], float],
    ranges: Sequence[Stretch],
    *,
    points: int = CURVE_SETBACKS,
    close_m: float = TOLERANCE_M,
) -> tuple[float, float, Curve]:
    """Best setback [m], its value, and the (setback, value) pairs of a grid over the ranges, in order.

    A grid of ``points`` finds the hill, and parabolas its top, to ``close_m`` [m].
    """
    total = sum(r.high_m - r.low_m for r in ranges)
    curves: list[Curve] = []
    for stretch in ranges:
        length = stretch.high_m - stretch.low_m
        count = max(2, round(points * length / total)) if length > 0.0 else 1
        grid = np.linspace(stretch.low_m, stretch.high_m, count).tolist()
        curves.append([(setback, value(setback)) for setback in grid])
    setback, found = _top(value, max(curves, key=lambda curve: max(v for _, v in curve)), close_m)
    return setback, found, sorted({pair for curve in curves for pair in curve})


def _top(value: Callable[[float], float], curve: Curve, close_m: float) -> tuple[float, float]:
    """Top of the hill around the best point of a curve, and its value.

    By successive parabolic interpolation through the best point and its neighbours, which takes no more values than
    Brent's method and spares loading it; halfway to the neighbour where the best point is an end.
    """
    for _ in range(MOST_STEPS):
        best = max(range(len(curve)), key=lambda i: curve[i][1])
        if 0 < best < len(curve) - 1:
            setback = _vertex(*curve[best - 1 : best + 2])
        else:
            setback = sum(s for s, _ in (curve[:2] if best == 0 else curve[-2:])) / 2.0
        if min(abs(setback - s) for s, _ in curve) < close_m:
            break
        curve = sorted([*curve, (setback, value(setback))])
    return max(curve, key=lambda pair: pair[1])


def _vertex(left: tuple[float, float], middle: tuple[float, float], right: tuple[float, float]) -> float:
    """Where the parabola through three points, the middle one the highest, has its top."""
    (x, y), before, after = middle, middle[0] - left[0], right[0] - middle[0]
    falls_left, falls_right = (y - left[1]) / before, (y - right[1]) / after
    if falls_left + falls_right <= 0.0:
        return x
    return x + 0.5 * (after * falls_left - before * falls_right) / (falls_left + falls_right)


def good_range(
    pairs: Sequence[tuple[float, float]], best: tuple[float, float], ranges: Sequence[Stretch]
) -> tuple[float, float]:
    """First and last setback around the best with 90 % of its value [m], by straight lines between points of a curve.

    ``pairs`` and ``best`` are (setback [m], value). The range does not reach over a gap between ``ranges``.
    """
    if best[1] <= 0.0:
        return best[0], best[0]
    here = next((r for r in ranges if r.low_m - TOLERANCE_M <= best[0] <= r.high_m + TOLERANCE_M), None)
    curve = sorted({*(pair for pair in pairs if here is None or here.low_m <= pair[0] <= here.high_m), best})
    middle = curve.index(best)
    limit = GOOD_SHARE * best[1]

    def edge(step: int) -> float:
        here = middle
        while 0 <= here + step < len(curve) and curve[here + step][1] >= limit:
            here += step
        beyond = here + step
        if not 0 <= beyond < len(curve):
            return curve[here][0]
        (s1, v1), (s2, v2) = curve[here], curve[beyond]
        return s1 + (s2 - s1) * (v1 - limit) / (v1 - v2)

    return edge(-1), edge(1)


def ready_for_jet(
    house: House, scenario: Scenario, fan: str, opening: str, stands_in: str | None
) -> tuple[Scenario, str]:
    """The scenario with the opening open and this fan taken out of it, and the room that the fan stands in."""
    if fan not in house.fans:
        raise unknown_name("fan", fan, house.fans)
    if opening not in house.openings:
        raise unknown_name("opening", opening, house.openings)
    if stays := house.fans[fan].stays_at:
        raise InputError(f"{fan} is fixed in {stays}, so it has no setback; try another fan")
    place = stands_in or house.openings[opening].joins[0]
    if place not in house.openings[opening].joins:
        raise InputError(f"{opening!r} joins {' and '.join(house.openings[opening].joins)}, not {place!r}")
    shares = dict(scenario.shares)
    if shares[opening] <= 0.0:
        shares[opening] = house.openings[opening].full_share
    rest = tuple(p for p in scenario.placements if p.fan != fan)
    return replace(scenario, shares=shares, placements=rest), place


def setback_curve(
    house: House, scenario: Scenario | str | None, *, fan: str, opening: str, stands_in: str | None = None
) -> SetbackAnswer:
    """House flow against setback for one fan at one opening, screens on and off.

    Parameters
    ----------
    house
        The house.
    scenario
        Its state, or the name of one; a shut opening is opened, and other fans of the scenario keep running. If left
        out, the first scenario that has this fan at this opening, else the first with another opening to outdoors
        open, else the house as it stands.
    fan, opening
        Names.
    stands_in
        The side that the fan stands on; the first of the places that the opening joins if left out.

    Returns
    -------
    SetbackAnswer
        The curves.

    Raises
    ------
    InputError
        For a name that the house does not have.
    NoAnswerError
        Where the fan finds no place to stand.
    """
    state = house.scenarios[scenario] if isinstance(scenario, str) else scenario or usual_state(house, fan, opening)
    state, place = ready_for_jet(house, state, fan, opening, stands_in)
    ranges = stretches(house, state, house.fans[fan], house.openings[opening], place)
    if not ranges:
        where = "outdoors" if place == OUTDOORS else f"in {place}"
        raise NoAnswerError(
            f"{fan} finds no place to stand {where} with a clear line to {opening}: it needs "
            f"{house.fans[fan].diameter_m:.2f} m of width; move an obstacle, or try the other side."
        )
    outwards = house.openings[opening].joins[0] == place
    all_screens = frozenset(name for name, o in house.openings.items() if o.screen is not None)
    curves = []
    for screens, screened in (("on", all_screens), ("off", frozenset[str]())):
        if screens == "off" and not all_screens:
            break
        with_screens = replace(state, screened=screened)

        def placed(setback_m: float) -> Placement:
            return Placement(fan, opening, place, setback_m, aside_m=ranges[0].aside_m)

        def net_of(flow: Flow) -> float:
            return flow.openings[opening].net_m3_s * (1.0 if outwards else -1.0)

        def net(setback_m: float, with_screens: Scenario = with_screens) -> float:
            return net_of(solve_placed(house, with_screens, placed(setback_m)))

        setback, flow, pairs = best_setback(net, ranges)
        low, high = good_range(pairs, (setback, flow), ranges)
        curves.append(
            SetbackCurve(
                screens=screens,
                setback_m=tuple(s for s, _ in pairs),
                flow_m3_s=tuple(v for _, v in pairs),
                best_setback_m=setback,
                best_flow_m3_s=flow,
                good_from_m=low,
                good_to_m=high,
                without_m3_s=net_of(solve(house, with_screens)),
                best=aimed(house, with_screens, placed(setback)),
                wins=flow > 0.0,
            )
        )
    return SetbackAnswer(
        scenario=state.name,
        shut_in=not any(o.is_external and state.shares[n] > 0.0 for n, o in house.openings.items() if n != opening),
        fan=fan,
        opening=opening,
        stands_in=place,
        blades_m3_s=house.fans[fan].flow_m3_s,
        stands=ranges,
        curves=tuple(curves),
    )


def usual_state(house: House, fan: str, opening: str) -> Scenario:
    """The first scenario with this fan at this opening, else with another opening to outdoors open, else the first."""
    scenarios = house.scenarios.values()
    meant = (one for one in scenarios if any(p.fan == fan and p.opening == opening for p in one.placements))
    others = [name for name, one in house.openings.items() if one.is_external and name != opening]
    aired = (one for one in scenarios if any(one.shares[name] > 0.0 for name in others))
    return next(meant, next(aired, house.first_scenario()))


@dataclass(frozen=True)
class SetbackSureness:
    """How sure one setback curve is.

    Attributes
    ----------
    screens
        ``on`` or ``off``, as the curve.
    flow
        Flow at the best setback of the curve [m3/s].
    best_setback
        Where the best setback may lie [m].
    kept
        Share of what the true best setback would give that the curve's best one gives, on average [-].
    draws
        Possible houses that the figures come from.
    setbacks_m, low_m3_s, high_m3_s
        Setbacks that were tried [m], and the bounds of the flow at each [m3/s], shape (setbacks,).
    """

    screens: str
    flow: Interval
    best_setback: Interval
    kept: float
    draws: int
    setbacks_m: tuple[float, ...]
    low_m3_s: tuple[float, ...]
    high_m3_s: tuple[float, ...]


def sure_setback(
    house: House,
    scenario: Scenario,
    answer: SetbackAnswer,
    *,
    work: str | int = "low",
    progress: Progress | None = None,
) -> tuple[SetbackSureness, ...]:
    """Intervals for the flow at the best setback and for the best setback itself, one for each curve.

    Parameters
    ----------
    house, scenario
        The house and the state that the curve was asked about.
    answer
        The setback curves.
    work
        ``low``, ``normal``, ``high`` or a number of draws; each costs a solution at each of `DRAWN_SETBACKS` setbacks.
    progress
        Called with solved states and all of them, curve by curve.

    Raises
    ------
    NoAnswerError
        Where too many possible houses have no answer.
    """
    draws = draws_of(str(work))
    return tuple(_sure_curve(house, scenario, answer, curve, draws, progress) for curve in answer.curves)


def _sure_curve(
    house: House,
    scenario: Scenario,
    answer: SetbackAnswer,
    curve: SetbackCurve,
    draws: int,
    progress: Progress | None,
) -> SetbackSureness:
    setbacks = _worthwhile(curve)
    states = [_state(house, scenario, answer, curve, setback) for setback in setbacks]
    outwards = house.openings[answer.opening].joins[0] == answer.stands_in

    def evaluate(variant: House, varied: Scenario) -> Floats:
        net = solve(variant, varied).openings[answer.opening].net_m3_s
        return np.array([net if outwards else -net])

    causes = causes_of(house, states)
    normal = normal_draws(len(causes), draws)
    values = evaluated(house, states, evaluate, causes, normal, progress)[:, :, 0]
    good = answered(values)
    values, normal = values[good], normal[good]
    here = values[:, int(np.argmin(np.abs(setbacks - curve.best_setback_m)))]
    tops = np.array([_best_of(setbacks, row) for row in values])
    low, high = np.quantile(values, [(1.0 - INTERVAL_LEVEL) / 2.0, (1.0 + INTERVAL_LEVEL) / 2.0], axis=0)
    return SetbackSureness(
        screens=curve.screens,
        flow=sampled(causes, curve.best_flow_m3_s, normal, here),
        best_setback=sampled(causes, curve.best_setback_m, normal, tops),
        kept=float(np.mean(here / values.max(axis=1))),
        draws=len(values),
        setbacks_m=tuple(setbacks.tolist()),
        low_m3_s=tuple(low.tolist()),
        high_m3_s=tuple(high.tolist()),
    )


def _worthwhile(curve: SetbackCurve) -> Floats:
    """The best setback and others around it, from the nearest to the farthest that are worth a try."""
    best_m = curve.best_setback_m
    kept = np.array(curve.setback_m)[np.array(curve.flow_m3_s) >= WORTHWHILE * curve.best_flow_m3_s]
    spread = np.linspace(kept.min(initial=best_m), kept.max(initial=best_m), DRAWN_SETBACKS - 1)
    setbacks: Floats = np.unique(np.round(np.append(spread, best_m), 4))
    return setbacks


def _state(house: House, scenario: Scenario, answer: SetbackAnswer, curve: SetbackCurve, setback_m: float) -> Scenario:
    state, place = ready_for_jet(house, scenario, answer.fan, answer.opening, answer.stands_in)
    ranges = stretches(house, state, house.fans[answer.fan], house.openings[answer.opening], place)
    placement = Placement(answer.fan, answer.opening, place, setback_m, aside_m=ranges[0].aside_m)
    screened = frozenset(n for n, o in house.openings.items() if o.screen is not None and curve.screens == "on")
    state = replace(state, screened=screened)
    return replace(state, placements=(*state.placements, aimed(house, state, placement)))


def _best_of(setbacks_m: Floats, flows: Floats) -> float:
    """Where a parabola through the largest flow and its neighbours has its top [m]."""
    i = int(flows.argmax())
    if not 0 < i < len(flows) - 1:
        return float(setbacks_m[i])
    left, middle, right = zip(setbacks_m[i - 1 : i + 2].tolist(), flows[i - 1 : i + 2].tolist(), strict=True)
    return float(np.clip(_vertex(left, middle, right), left[0], right[0]))
