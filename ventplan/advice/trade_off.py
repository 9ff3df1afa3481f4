"""What more air costs: plans on every setting, by watts or by noise."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product
from typing import Literal

from ventplan.advice.aims import Aim
from ventplan.advice.place import fan_names, place, start_state, the_aim
from ventplan.advice.plans import Plan, TradeOff, TradeOffPoint
from ventplan.advice.settle import power_of, sound_of
from ventplan.airing.hazards import cautions
from ventplan.errors import InputError
from ventplan.house.records import House, Placement, Scenario
from ventplan.house.units import System
from ventplan.network import solve

Cost = Literal["power", "noise"]


def trade_off(
    house: House,
    scenario: Scenario | str | None = None,
    *,
    cost: Cost = "power",
    at_least: float | None = None,
    room: str | None = None,
    whole_house: bool = False,
    target: str | None = None,
    fans: Sequence[str] | None = None,
    fans_at_once: int = 1,
    units: System | None = None,
) -> TradeOff:
    """The best plan of each fan on each of its settings, and the cheapest that gives enough.

    Parameters
    ----------
    house
        The house.
    scenario
        The state to start from, or the name of one.
    cost
        What to spend least of: ``power`` [W] or ``noise`` [dB(A)].
    at_least
        The least that will do, in the aim's own unit: effective air changes an hour for a room or the worst room [1/h],
        net flow for an opening [m3/s].
    room, whole_house, target
        The aim, as for `place`.
    fans
        Names of the fans to try; all if left out.
    fans_at_once
        How many fans run together at most.
    units
        Units of the cautions; the house file's own if None.

    Returns
    -------
    TradeOff
        All points from the least cost to the most; a point is ``best`` where no cheaper one gives as much.

    Raises
    ------
    InputError
        Where no fan has the figure that is to be spent least.
    """
    aim = the_aim(house, target=target, room=room, whole_house=whole_house)
    base = start_state(house, scenario, aim)
    names = fan_names(house, fans, fans_at_once)
    points = [_point(house, aim, base, (), (), units)]
    for plan in _plans(house, base, names, fans_at_once, target=target, room=room, whole_house=whole_house):
        for team in _settings(house, plan.placements):
            points.append(_point(house, aim, replace(plan.scenario, placements=team), plan.opens, plan.shuts, units))
    points = list({(point.placements, point.opens, point.shuts): point for point in points}.values())
    known = [point for point in points if not point.placements or _spent(point, cost) is not None]
    if not any(point.placements for point in known):
        what = "power" if cost == "power" else "sound level"
        raise InputError(f"no fan of {house.name!r} has its {what} in the house file; measure it")
    known.sort(key=lambda point: (_spent(point, cost) or 0.0, -point.value))
    ranked, most = [], -1.0
    for point in known:
        ranked.append(replace(point, best=point.value > most))
        most = max(most, point.value)
    least = None if at_least is None else at_least / 3600.0 * (house.rooms[room].volume_m3 if room else 1.0)
    if target is not None:
        least = at_least
    chosen = None if least is None else next((point for point in ranked if point.value >= least), None)
    return TradeOff(aim, cost, least, tuple(ranked), chosen)


def _point(
    house: House, aim: Aim, state: Scenario, opens: tuple[str, ...], shuts: tuple[str, ...], units: System | None
) -> TradeOffPoint:
    team, flow = state.placements, solve(house, state)
    return TradeOffPoint(
        placements=team,
        opens=opens,
        shuts=shuts,
        value=aim.value(house, state, flow),
        power_w=power_of(house, team) if team else 0.0,
        sound_db=sound_of(house, team) if team else None,
        best=False,
        cautions=cautions(house, state, flow, units=units),
    )


def _plans(
    house: House,
    base: Scenario,
    names: Sequence[str],
    fans_at_once: int,
    *,
    target: str | None,
    room: str | None,
    whole_house: bool,
) -> Iterator[Plan]:
    aims = {"target": target, "room": room, "whole_house": whole_house}
    for name in names:
        answer = place(house, base, fans=[name], count=1, **aims)  # type: ignore[arg-type]
        yield answer.openings_alone
        yield from answer.plans
    for together in range(2, fans_at_once + 1):
        yield from place(house, base, fans=names, fans_at_once=together, count=1, **aims).plans  # type: ignore[arg-type]


def _settings(house: House, team: Sequence[Placement]) -> Iterator[tuple[Placement, ...]]:
    """The team on every combination of its fans' settings."""
    choices = [[setting.name for setting in house.fans[p.fan].settings] or [""] for p in team]
    for names in product(*choices):
        yield tuple(replace(p, setting=name) for p, name in zip(team, names, strict=True))


def _spent(point: TradeOffPoint, cost: Cost) -> float | None:
    return point.power_w if cost == "power" else point.sound_db
