"""Ranking fans by what counts for moving air through a house: thrust, and the flow that it drives."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ventplan.errors import NoAnswerError
from ventplan.house.records import Fan, House, Scenario
from ventplan.measure.uncertainty import WIDE, Array

WINDOW_M = (1.0, 1.1)
"""Width and height of the window that all fans are compared at [m]."""

_REFERENCE = f"""
name: reference room
indoors: {{temperature: 20 °C}}
outdoors: {{temperature: 20 °C}}
rooms:
  room: {{at: [0 m, 0 m], size: [6 m, 4 m], ceiling: 2.5 m}}
openings:
  window: {{kind: window, joins: [room, outdoors], wall: east, along: 1.5 m,
           size: [{WINDOW_M[0]} m, {WINDOW_M[1]} m], sill: 0.8 m, full: 100 %, screen: none}}
  door: {{kind: door, joins: [room, outdoors], wall: west, along: 1.5 m, size: [0.9 m, 2.03 m]}}
scenarios:
  reference: {{open: [window, door]}}
"""
"""The opening that all fans are compared at: a bare window of 1.0 x 1.1 m, with an open door for supply."""


@dataclass(frozen=True)
class RankedFan:
    """One fan in the ranking.

    Attributes
    ----------
    thrust_n, thrust_error
        Thrust [N], and its relative standard uncertainty [-].
    thrust_per_watt
        Thrust over electrical power [N/W], or None.
    blades_m3_s
        Flow through the blades [m3/s].
    driven_m3_s
        Flow that it drives through the reference opening at its best setback [m3/s].
    setback_m
        That setback [m].
    residual
        Driven flow over the square-root curve, less 1 [-].
    close_to
        Fans whose thrust does not differ from this one's within the uncertainty of both (95 %).
    power_w, sound_db
        Electrical power [W] and sound pressure level at 1 m [dB(A)], or None.
    flow_per_watt
        Driven flow over electrical power [m3/s/W], or None.
    """

    name: str
    thrust_n: float
    thrust_error: float
    thrust_per_watt: float | None
    blades_m3_s: float
    driven_m3_s: float
    setback_m: float
    residual: float
    close_to: tuple[str, ...]
    power_w: float | None = None
    sound_db: float | None = None
    flow_per_watt: float | None = None


@dataclass(frozen=True)
class Ranking:
    """Fans by driven flow, and the curve Q = factor sqrt(T) through them.

    Attributes
    ----------
    fans
        Highest driven flow first, or in the order asked for with ``--by``.
    factor
        Of the square-root curve [m3/s over the root of N].
    scatter
        Standard deviation of ln Q about the curve [-]; nan for fewer than two fans.
    opening
        The opening of the house that they were compared at; empty for the reference window.
    unplaced
        Fans that find no place to stand in front of it, or drive no air through it.
    """

    fans: tuple[RankedFan, ...]
    factor: float
    scatter: float
    opening: str = ""
    unplaced: tuple[str, ...] = ()


def best_in_house(
    house: House, scenario: Scenario | None, opening: str
) -> tuple[dict[str, tuple[float, float]], tuple[str, ...]]:
    """Flow through an opening of a house at each fan's best setback, and that setback [m3/s], [m]; and the fans that
    find no place to stand in front of it or drive no air through it.

    Parameters
    ----------
    house
        The house with its fans.
    scenario
        Its state; the first scenario if left out. Screens are as it has them.
    opening
        The opening that each fan blows out of, or into where it joins two rooms.

    Raises
    ------
    InputError
        For an opening that the house does not have.
    """
    from ventplan.advice.setback import setback_curve

    state = scenario or house.first_scenario()
    found: dict[str, tuple[float, float]] = {}
    unplaced = []
    for name in house.fans:
        try:
            curves = setback_curve(house, state, fan=name, opening=opening).curves
        except NoAnswerError:
            unplaced.append(name)
            continue
        wanted = "on" if opening in state.screened or not state.shares[opening] else "off"
        curve = next((one for one in curves if one.screens == wanted), curves[0])
        if curve.best_flow_m3_s > 0.0:
            found[name] = (curve.best_flow_m3_s, curve.best_setback_m)
        else:
            unplaced.append(name)
    return found, tuple(unplaced)


def square_root_factor(*, thrust_n: Array, flow_m3_s: Array) -> tuple[float, float]:
    """Factor of Q = c sqrt(T), by least squares on the logarithms, and the scatter about it [-].

    Parameters
    ----------
    thrust_n
        Thrusts, shape (n,) [N].
    flow_m3_s
        Flows, shape (n,) [m3/s].
    """
    logs = np.log(flow_m3_s) - 0.5 * np.log(thrust_n)
    scatter = float(logs.std(ddof=1)) if logs.size > 1 else math.nan
    return math.exp(float(logs.mean())), scatter


def rank_fans(
    fans: Mapping[str, Fan], best: Mapping[str, tuple[float, float]] | None = None, *, opening: str = ""
) -> Ranking:
    """Rank fans by the flow that they drive through the reference opening, or one of a house.

    Parameters
    ----------
    fans
        By name, at least one.
    best
        Best flow and setback of each, from ``best_in_house``; at the reference opening if left out. Fans that it lacks
        are left out of the ranking.
    opening
        Name of the opening that ``best`` belongs to.

    Raises
    ------
    ValueError
        For no fans.
    NoAnswerError
        Where no fan drives air through the opening.
    """
    if not fans:
        raise ValueError("no fans to rank")
    if best is None:
        from ventplan.house import parse_house

        reference = replace(parse_house(_REFERENCE), fans=dict(fans))
        best, _ = best_in_house(reference, reference.scenarios["reference"], "window")
    unplaced = tuple(name for name in fans if name not in best)
    fans = {name: fan for name, fan in fans.items() if name in best}
    if not fans:
        where = opening or "the window"
        raise NoAnswerError(f"No fan finds a place to stand in front of {where} and drives air through it.")
    factor, scatter = square_root_factor(
        thrust_n=np.array([fan.thrust_n for fan in fans.values()]),
        flow_m3_s=np.array([flow for flow, _ in best.values()]),
    )
    ranked = [
        RankedFan(
            name=name,
            thrust_n=fan.thrust_n,
            thrust_error=fan.thrust_error,
            thrust_per_watt=fan.thrust_n / fan.power_w if fan.power_w else None,
            blades_m3_s=fan.flow_m3_s,
            driven_m3_s=best[name][0],
            setback_m=best[name][1],
            residual=best[name][0] / (factor * math.sqrt(fan.thrust_n)) - 1.0,
            close_to=tuple(other for other in fans if other != name and _close(fan, fans[other])),
            power_w=fan.power_w,
            sound_db=fan.sound_db,
            flow_per_watt=best[name][0] / fan.power_w if fan.power_w else None,
        )
        for name, fan in fans.items()
    ]
    return Ranking(tuple(sorted(ranked, key=lambda fan: -fan.driven_m3_s)), factor, scatter, opening, unplaced)


def in_order(ranking: Ranking, *, by: Literal["flow", "thrust", "watt", "power", "noise"]) -> Ranking:
    """The same ranking with the highest driven flow, thrust or thrust per watt first, or the least power or noise; fans
    without that figure last."""
    keys: dict[str, Callable[[RankedFan], float]] = {
        "flow": lambda fan: fan.driven_m3_s,
        "thrust": lambda fan: fan.thrust_n,
        "watt": lambda fan: fan.thrust_per_watt or 0.0,
        "power": lambda fan: -(fan.power_w or math.inf),
        "noise": lambda fan: -math.inf if fan.sound_db is None else -fan.sound_db,
    }
    return replace(ranking, fans=tuple(sorted(ranking.fans, key=keys[by], reverse=True)))


def _close(one: Fan, other: Fan) -> bool:
    """True where the ratio of the thrusts is within `WIDE` of its standard uncertainty of 1."""
    return abs(math.log(one.thrust_n / other.thrust_n)) < WIDE * math.hypot(one.thrust_error, other.thrust_error)
