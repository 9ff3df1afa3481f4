"""Write what the page changed of a scenario into the text of the house file, and nothing that stayed the same.

Figures are written in the units that the house shows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from ventplan.errors import InputError, InvalidValue
from ventplan.house import OUTDOORS, House, Opening, Placement, Scenario
from ventplan.house.scenarios import as_it_stands
from ventplan.house.units import INCH, System
from ventplan.house.yaml_text import key_text, parse_yaml, set_value
from ventplan.live.rewrite import added_to_section, removed
from ventplan.live.state import scenario_of, side_of


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
"""Figures closer than this are the same."""


def kept(text: str, house: House, after: Scenario) -> str:
    """The text with a scenario as it is now.

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
    """What a scenario says in the text."""
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
    """Open or shut one opening; what the base says already is not said again."""
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
    """A name behind the others of a list."""
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
    """Fans one by one where the list is the scenario's own and the same fans run in it, otherwise the whole list."""
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
    if gone:  # another way of blowing or another side: keys would be left over
        return set_value(text, path, new)
    for key, value in {**{k: v for k, v in zero.items() if k in own}, **new}.items():
        if own.get(key) != value:
            text = set_value(text, (*path, key), value)
    return text


def placed(placement: Placement, house: House) -> dict[str, Any]:
    """A placement as the file says it, defaults left out."""
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


def check_kept(house: House, name: str) -> None:
    """Refuse a scenario that the house does not have."""
    if name not in house.scenarios:
        raise InputError(f"there is no scenario {name!r}; the house has: {', '.join(house.scenarios)}")


def on_its_own(text: str, house: House, name: str) -> str:
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
    return kept(text, replace(house, scenarios={**house.scenarios, name: bare}), house.scenarios[name])


def adopted(text: str, base: str, name: str, state: Mapping[str, Any], read: Callable[[str], House | None]) -> str:
    """The text with a new scenario in a given state.

    Parameters
    ----------
    text
        The house file.
    base
        The scenario that the new one is based on; none where the house has none of that name.
    name
        Its name.
    state
        As `ventplan.live.state.state_of` gives it.
    read
        From the text of a house file to the house.
    """
    had = read(text)
    spec = {"based on": base} if had is not None and base in had.scenarios else {}
    text = added_to_section(text, "scenarios", name, spec)
    house = read(text)
    if house is None or name not in house.scenarios:
        raise InputError(f"there can be no scenario {name!r} in this file before its errors are mended")
    return kept(text, house, scenario_of(house, name, state))


def left_out(text: str, errors: Sequence[InvalidValue]) -> str:
    """The text without the parts of scenarios that errors are about: fans, and openings that are named.

    Parameters
    ----------
    text
        The house file.
    errors
        With keys such as ``scenarios > night > fans > first > setback``.
    """
    paths: set[tuple[str | int, ...]] = set()
    for error in errors:
        parts = error.key.split(" > ")
        if len(parts) > 3 and parts[2] == "fans":
            paths.add((*parts[:3], item_number(parts[3])))
        elif len(parts) > 2:
            paths.add(tuple(parts[:4]))
    # From the back, so that the numbers of list items in front stay right.
    for path in sorted(paths, key=str, reverse=True):
        only = path[2] == "fans" and len(_spec(text, ("scenarios", str(path[1]))).get("fans") or ()) == 1
        text = set_value(text, path[:3], []) if only else removed(text, path)
    return text


def item_number(word: str) -> int:
    """The index of a list item by the word that `ventplan.house.yaml_text.key_text` has for it."""
    return next((i for i in range(200) if key_text((i,)) == word), 0)
