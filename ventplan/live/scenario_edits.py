"""Changes to a scenario: from the page's JSON to a scenario, and from a scenario into the text of the house file.

A state is read at every move of a drag, so only names and ranges are checked then; whether a fan can stand where it was
dropped is checked when the state is written. Only what changed is written, in the units that the house shows.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from ventplan.errors import InputError, InvalidValue
from ventplan.house import OUTDOORS, House, Opening, Placement, Scenario
from ventplan.house.scenarios import as_it_stands
from ventplan.house.units import INCH, QUANTITIES, System, UnitError, parse_quantity
from ventplan.house.yaml_text import parse_yaml, set_value
from ventplan.live.house_file import added_to_section, removed

STEEPEST_DEG = 85.0


def state_of(scenario: Scenario) -> dict[str, Any]:
    """A scenario as JSON for the page, in SI units."""
    return {
        "shares": dict(scenario.shares),
        "screened": sorted(scenario.screened),
        "fans": [asdict(placement) for placement in scenario.placements],
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
        Name of the scenario; the first one if the house has none of that name.
    state
        As `state_of` returns it, or None for the scenario as the file has it.

    Raises
    ------
    InputError
        For an unknown name, or a value out of its range.
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


def requested_scenario(house: House, asked: Mapping[str, Any]) -> Scenario:
    """The scenario that a request is about, with the page's own changes."""
    return scenario_of(house, str(asked.get("scenario", "")), asked.get("state"))


def _placement(house: House, item: Mapping[str, Any]) -> Placement:
    fan, opening = str(item["fan"]), str(item["opening"])
    if fan not in house.fans:
        raise InputError([InvalidValue("fans", f"no fan {fan}", ", ".join(house.fans) or "none")])
    if opening not in house.openings:
        raise InputError([InvalidValue(f"fans > {fan}", f"no opening {opening}", "an opening of the house")])
    if item["stands_in"] not in house.openings[opening].joins:
        allowed = " or ".join(house.openings[opening].joins)
        raise InputError([InvalidValue(f"fans > {fan} > stands in", str(item["stands_in"]), allowed)])
    height, support = item.get("height_m"), item.get("support_m")
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
        stands_on=str(item.get("stands_on", "")),
        support_m=None if support is None else _figure(("fans", fan, "stands on"), support, 0.0, 15.0, "length"),
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
    """The key of the file for the direction of a fan: ``blows out``, ``blows in`` or ``blows through``."""
    if not house.openings[placement.opening].is_external:
        return "blows through"
    return "blows in" if placement.stands_in == OUTDOORS else "blows out"


def length_text(value_m: float, system: System) -> str:
    """A length: millimetres kept in metres, tenths of an inch kept in feet and inches."""
    if system == "si":
        return f"{round(value_m, 3) + 0.0:g} m"
    tenths = round(abs(value_m) / INCH * 10.0)
    sign = "-" if value_m < 0 and tenths else ""
    feet, inches = divmod(tenths / 10.0, 12.0)
    if not feet:
        return f"{sign}{inches:g} in"
    return f"{sign}{feet:g} ft" + (f" {round(inches, 1):g} in" if round(inches, 1) else "")


def temperature_text(value_c: float, system: System) -> str:
    """A temperature to a tenth of a degree."""
    return f"{round(value_c, 1):g} °C" if system == "si" else f"{round(value_c * 1.8 + 32.0, 1):g} °F"


def wind_speed_text(value_m_s: float, system: System) -> str:
    """A wind speed."""
    return f"{round(value_m_s, 2):g} m/s" if system == "si" else f"{round(value_m_s / 0.44704, 1):g} mph"


def angle_text(value_deg: float) -> str:
    """An angle to a tenth of a degree."""
    return f"{round(value_deg, 1) + 0.0:g} deg"


def share_text(value: float) -> str:
    """A share in per cent, to a tenth."""
    return f"{round(value * 100.0, 1):g} %"


SAME = 5e-4
"""Numbers closer than this are the same."""


def with_state(text: str, house: House, after: Scenario) -> str:
    """The text with the present state of a scenario.

    Parameters
    ----------
    text
        The house file.
    house
        The house read from it.
    after
        The scenario as changed, under the name that it has in the house.
    """
    before, top = house.scenarios[after.name], ("scenarios", after.name)
    base = _base(text, house, after.name)
    for name, share in after.shares.items():
        if abs(share - before.shares[name]) > SAME:
            text = _with_share(text, house.openings[name], top, share, base.shares[name])
    if after.screened != before.screened:
        text = _with_screens(text, house, top, after, base)
    if after.placements != before.placements:
        text = _with_fans(text, house, top, before.placements, after.placements)
    return _with_weather(text, house, top, before, after)


def _spec(text: str, top: tuple[str, ...]) -> Mapping[str, Any]:
    """The map at a path of the text."""
    found: Any = parse_yaml(text).data
    for key in top:
        found = found.get(key) if isinstance(found, dict) else None
    return found if isinstance(found, dict) else {}


def _base(text: str, house: House, name: str) -> Scenario:
    other = str(_spec(text, ("scenarios", name)).get("based on"))
    return house.scenarios.get(other) or as_it_stands(house)


def _names(value: Any) -> list[str]:
    return [] if value is None else [str(v) for v in value] if isinstance(value, list) else [str(value)]


def _with_share(text: str, opening: Opening, top: tuple[str, ...], share: float, base: float) -> str:
    """Open or shut one opening; nothing is written that the base scenario already says."""
    spec, name = _spec(text, top), opening.name
    way = share / opening.full_share if opening.full_share else 0.0
    opened, shut = spec.get("open"), _names(spec.get("shut"))
    if name in shut and share > 0.0:
        text = _without(text, (*top, "shut"), spec.get("shut"), name)
    listed = name in (list(opened) if isinstance(opened, dict) else _names(opened))
    if share <= 0.0 or abs(share - base) <= SAME:
        if listed:
            text = _without(text, (*top, "open"), opened, name)
        if share <= 0.0 < base and name not in shut:
            text = _joined(text, (*top, "shut"), _spec(text, top).get("shut"), name)
        return text
    if isinstance(opened, dict):
        return set_value(text, (*top, "open", name), share_text(way))
    if way > 1.0 - SAME:
        return text if listed else _joined(text, (*top, "open"), opened, name)
    return set_value(text, (*top, "open"), {**dict.fromkeys(_names(opened), "100 %"), name: share_text(way)})


def _joined(text: str, path: tuple[str, ...], value: Any, name: str) -> str:
    """Append a name to a list."""
    if isinstance(value, list) and value:
        return set_value(text, (*path, len(value)), name)
    return set_value(text, path, [*_names(value), name])


def _without(text: str, path: tuple[str, ...], value: Any, name: str) -> str:
    """A list or map without a name."""
    if isinstance(value, dict):
        return removed(text, (*path, name) if len(value) > 1 else path)
    names = _names(value)
    return removed(text, (*path, names.index(name)) if len(names) > 1 else path)


def _with_screens(text: str, house: House, top: tuple[str, ...], after: Scenario, base: Scenario) -> str:
    every = [n for n, o in house.openings.items() if o.screen]
    on = [n for n in every if n in after.screened]
    if after.screened == base.screened:
        return removed(text, (*top, "screens"))
    return set_value(text, (*top, "screens"), "on" if on == every else on or "off")


def _with_fans(
    text: str, house: House, top: tuple[str, ...], before: tuple[Placement, ...], after: tuple[Placement, ...]
) -> str:
    """Write single fans if the scenario has its own list with the same fans, otherwise the whole list."""
    spec = _spec(text, top)
    own = spec.get("fans")
    same = all(p.fan == q.fan for p, q in zip(before, after, strict=False))
    if not isinstance(own, list) or len(own) != len(before) or not same:
        return set_value(text, (*top, "fans"), [placed(p, house) for p in after])
    for i in reversed(range(len(after), len(before))):
        text = removed(text, (*top, "fans", i))
    for i, placement in enumerate(after):
        if i >= len(before):
            text = set_value(text, (*top, "fans", i), placed(placement, house))
        elif placement != before[i]:
            text = _with_fan(text, (*top, "fans", i), own[i], placed(placement, house), house.show)
    return text


def _with_fan(
    text: str, path: tuple[str | int, ...], own: Mapping[str, Any], new: dict[str, Any], system: System
) -> str:
    zero = {"aside": length_text(0.0, system), "turn": "0 deg", "tilt": "0 deg", "sealed": False, "setting": ""}
    gone = [k for k in own if k not in new and k not in zero]
    if gone:  # keys that no longer apply
        return set_value(text, path, new)
    for key, value in {**{k: v for k, v in zero.items() if k in own}, **new}.items():
        if own.get(key) != value:
            text = set_value(text, (*path, key), value)
    return text


def placed(placement: Placement, house: House) -> dict[str, Any]:
    """A placement as the file writes it, without defaults."""
    way, system = side_of(placement, house), house.show
    item: dict[str, Any] = {"fan": placement.fan, way: placement.opening}
    if way == "blows through" or (placement.stands_in == OUTDOORS and not placement.sealed):
        item["stands in"] = placement.stands_in
    if placement.sealed:
        item["sealed"] = True
    else:
        item["setback"] = length_text(placement.setback_m, system)
        if placement.stands_on:
            item["stands on"] = placement.stands_on
        if placement.height_m is not None:
            item["height"] = length_text(placement.height_m, system)
        if abs(placement.aside_m) > SAME:
            item["aside"] = length_text(placement.aside_m, system)
        for key, angle in (("turn", placement.turn_deg), ("tilt", placement.tilt_deg)):
            if abs(angle) > 0.05:
                item[key] = angle_text(angle)
    if placement.setting:
        item["setting"] = placement.setting
    return item


def _with_weather(text: str, house: House, top: tuple[str, ...], before: Scenario, after: Scenario) -> str:
    old, new, system = before.outdoors, after.outdoors, house.show
    if abs(new.temperature_c - old.temperature_c) > SAME:
        text = set_value(text, (*top, "outdoors", "temperature"), temperature_text(new.temperature_c, system))
    if new.wind != old.wind:
        wind = {"speed": wind_speed_text(new.wind.speed_m_s, system), "from": angle_text(new.wind.from_deg)}
        own = (_spec(text, top).get("outdoors") or {}).get("wind")
        if isinstance(own, dict):
            for key, value in wind.items():
                text = set_value(text, (*top, "outdoors", "wind", key), value)
        else:
            text = set_value(text, (*top, "outdoors", "wind"), wind)
    changed = {n: t for n, t in after.temperatures_c.items() if abs(t - before.temperatures_c[n]) > SAME}
    values = set(after.temperatures_c.values())
    if changed and len(values) == 1:
        return set_value(text, (*top, "indoors"), {"temperature": temperature_text(values.pop(), system)})
    for room, room_c in changed.items():
        text = set_value(text, (*top, "indoors", "rooms", room), temperature_text(room_c, system))
    return text


def detached(text: str, house: House, name: str) -> str:
    """The text with a scenario written out in full, so that it no longer follows the one that it is based on.

    Parameters
    ----------
    text
        The house file.
    house
        The house read from it.
    name
        Name of the scenario.
    """
    top = ("scenarios", name)
    for key in ("fans", "open", "shut", "screens", "based on"):
        text = removed(text, (*top, key))
    bare = replace(as_it_stands(house), name=name)
    return with_state(text, replace(house, scenarios={**house.scenarios, name: bare}), house.scenarios[name])


def with_scenario(text: str, house: House, base: str, plan: Scenario) -> str:
    """The text with one more scenario.

    Parameters
    ----------
    text
        The house file.
    house
        The house read from it.
    base
        The scenario that the new one is based on, if the house has one of that name.
    plan
        The new scenario, under its own name.

    Raises
    ------
    InputError
        If the house has a scenario of that name.
    """
    start = house.scenarios.get(base)
    text = added_to_section(text, "scenarios", plan.name, {} if start is None else {"based on": base})
    known = {**house.scenarios, plan.name: replace(start or as_it_stands(house), name=plan.name)}
    return with_state(text, replace(house, scenarios=known), plan)
