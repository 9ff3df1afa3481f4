"""The state in hand between page and library: plain maps one way, records the other.

This is the way of every drag, so it checks names and ranges only; whether a fan can stand where it was dropped is
checked when the state is kept.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from ventplan.errors import InputError, InvalidValue
from ventplan.house import OUTDOORS, House, Placement, Scenario
from ventplan.house.units import QUANTITIES, UnitError, parse_quantity

STEEPEST_DEG = 85.0


def state_of(scenario: Scenario) -> dict[str, Any]:
    """A scenario as the page holds it, all figures SI."""
    return {
        "shares": dict(scenario.shares),
        "screened": sorted(scenario.screened),
        "fans": [
            {
                "fan": p.fan,
                "opening": p.opening,
                "stands_in": p.stands_in,
                "setback_m": p.setback_m,
                "height_m": p.height_m,
                "aside_m": p.aside_m,
                "turn_deg": p.turn_deg,
                "tilt_deg": p.tilt_deg,
                "sealed": p.sealed,
                "setting": p.setting,
            }
            for p in scenario.placements
        ],
        "outdoors": {
            "temperature_c": scenario.outdoors.temperature_c,
            "wind_m_s": scenario.outdoors.wind.speed_m_s,
            "wind_from_deg": scenario.outdoors.wind.from_deg,
        },
        "temperatures_c": dict(scenario.temperatures_c),
    }


def scenario_of(house: House, name: str, state: Mapping[str, Any] | None) -> Scenario:
    """The scenario of that name with what the page changed.

    Parameters
    ----------
    house
        The house.
    name
        Name of the scenario; the first one where the house has none of that name.
    state
        As `state_of` gives it, or None for the scenario as it stands in the file.

    Raises
    ------
    InputError
        For a name the house does not have, or a figure out of its range.
    """
    base = house.scenarios.get(name) or house.first_scenario()
    if state is None:
        return base
    shares = {
        n: _figure(("shares", n), state["shares"].get(n, s), 0.0, house.openings[n].full_share + 1e-9)
        for n, s in base.shares.items()
    }
    outdoors, weather = base.outdoors, state["outdoors"]
    wind = replace(
        outdoors.wind,
        speed_m_s=_figure(("wind", "speed"), weather["wind_m_s"], 0.0, 60.0),
        from_deg=_figure(("wind", "from"), weather["wind_from_deg"], -360.0, 360.0) % 360.0,
    )
    return replace(
        base,
        shares=shares,
        screened=frozenset(n for n in state["screened"] if n in house.openings and house.openings[n].screen),
        placements=tuple(_placement(house, item) for item in state["fans"]),
        outdoors=replace(
            outdoors,
            temperature_c=_figure(("outdoors", "temperature"), weather["temperature_c"], -60.0, 60.0),
            wind=wind,
        ),
        temperatures_c={
            n: _figure(("temperature", n), state["temperatures_c"].get(n, t), -60.0, 60.0, "temperature")
            for n, t in base.temperatures_c.items()
        },
    )


def _placement(house: House, item: Mapping[str, Any]) -> Placement:
    fan, opening = str(item["fan"]), str(item["opening"])
    if fan not in house.fans:
        raise InputError([InvalidValue("fans", f"no fan {fan}", ", ".join(house.fans) or "none")])
    if opening not in house.openings:
        raise InputError([InvalidValue(f"fans > {fan}", f"no opening {opening}", "an opening of the house")])
    if item["stands_in"] not in house.openings[opening].joins:
        allowed = " or ".join(house.openings[opening].joins)
        raise InputError([InvalidValue(f"fans > {fan} > stands in", str(item["stands_in"]), allowed)])
    height = item.get("height_m")
    return Placement(
        fan=fan,
        opening=opening,
        stands_in=str(item["stands_in"]),
        setback_m=_figure(("fans", fan, "setback"), item["setback_m"], 0.0, 50.0, "length"),
        height_m=None if height is None else _figure(("fans", fan, "height"), height, 0.0, 15.0, "length"),
        aside_m=_figure(("fans", fan, "aside"), item["aside_m"], -20.0, 20.0, "length"),
        turn_deg=_figure(("fans", fan, "turn"), item["turn_deg"], -STEEPEST_DEG, STEEPEST_DEG, "angle"),
        tilt_deg=_figure(("fans", fan, "tilt"), item["tilt_deg"], -STEEPEST_DEG, STEEPEST_DEG, "angle"),
        sealed=bool(item["sealed"]),
        setting=str(item["setting"]),
    )


def _figure(path: tuple[str, ...], value: Any, low: float, high: float, quantity: str = "") -> float:
    if isinstance(value, str) and quantity:
        try:
            value = parse_quantity(value, quantity)
        except UnitError as error:
            raise InputError([InvalidValue(" > ".join(path), error.found, error.allowed, error.hint)]) from None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise InputError([InvalidValue(" > ".join(path), repr(value)[:40], "a number")])
    if not low - 1e-9 <= value <= high + 1e-9:
        unit = f" {QUANTITIES[quantity].unit}" if quantity else ""
        raise InputError([InvalidValue(" > ".join(path), f"{value:g}{unit}", f"{low:g} to {high:g}{unit}")])
    return min(max(float(value), low), high)


def side_of(placement: Placement, house: House) -> str:
    """How the file says which way a fan blows: ``blows out``, ``blows in`` or ``blows through``."""
    if not house.openings[placement.opening].is_external:
        return "blows through"
    return "blows in" if placement.stands_in == OUTDOORS else "blows out"
