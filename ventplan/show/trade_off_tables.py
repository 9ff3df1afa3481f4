"""What more air costs in power or noise, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ventplan.advice.objective import Objective
from ventplan.advice.plan import TradeOff, TradeOffPoint
from ventplan.house.records import House
from ventplan.house.shown import shown_unit
from ventplan.house.units import System
from ventplan.show.advice_tables import change_words
from ventplan.show.airing_tables import caution_lines
from ventplan.show.tables import table
from ventplan.show.words import number, per_hour, placement_line

if TYPE_CHECKING:
    from rich.console import RenderableType


def trade_off_view(house: House, answer: TradeOff, system: System) -> Iterator[RenderableType]:
    """Everything that ``ventplan place --least`` prints."""
    from rich.text import Text

    yield Text(f"{house.name}: {answer.aim.words()} against {answer.cost}", style="bold")
    rows = []
    for point in answer.points:
        rate = _rate(house, answer.aim, point.value, system)
        rows.append(
            (
                "*" if point.best else "",
                _point_words(house, point, system),
                rate,
                "–" if point.power_w is None else f"{point.power_w:.0f}",
                "–" if point.sound_db is None else f"{point.sound_db:.0f}",
            )
        )
    head = shown_unit("flow", system) if answer.aim.kind == "opening" else "effective/h"
    yield table("From the least to the most", ("", "plan", head, "W", "dB(A)"), rows, words=2)
    yield Text("* no cheaper plan gives as much.", style="dim")
    if answer.at_least is not None:
        wanted = _rate(house, answer.aim, answer.at_least, system)
        if answer.chosen is None:
            most = max(answer.points, key=lambda point: point.value)
            yield Text(f"No plan gives {wanted}; the most is {_rate(house, answer.aim, most.value, system)}.")
        else:
            chosen = _point_words(house, answer.chosen, system)
            yield Text(f"Least {answer.cost} for at least {wanted}: {chosen}.")
    silent = [name for name in house.fans if all(name not in (p.fan for p in q.placements) for q in answer.points)]
    if silent:
        what = "power" if answer.cost == "power" else "sound"
        yield Text(f"Left out, since the house file does not give their {what}: {', '.join(silent)}.")
    told = [answer.chosen] if answer.chosen else [point for point in answer.points if point.best]
    yield from caution_lines({_fans_words(point): point.cautions for point in told})


def _point_words(house: House, point: TradeOffPoint, system: System) -> str:
    fans = "; ".join(placement_line(house, p, system) for p in point.placements) or "no fan"
    changes = change_words(point.opens, point.shuts)
    return f"{fans}; {changes}" if changes else fans


def _fans_words(point: TradeOffPoint) -> str:
    return " and ".join(f"{p.fan} on {p.setting}" if p.setting else p.fan for p in point.placements) or "no fan"


def _rate_value(house: House, aim: Objective, value: float) -> float:
    """Effective air changes an hour of a room or the worst room; the flow of an opening."""
    if aim.kind == "opening":
        return value
    return 3600.0 * value / (house.rooms[aim.name].volume_m3 if aim.kind == "room" else 1.0)


def _rate(house: House, aim: Objective, value: float, system: System) -> str:
    if aim.kind == "opening":
        return number(value, "flow", system)
    return per_hour(_rate_value(house, aim, value))
