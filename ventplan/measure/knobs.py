"""What is uncertain in a house file, as knobs that a fit may turn: factors whose logarithms have a normal
prior."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from ventplan.house.records import Fan, House, Opening, Scenario, Screen
from ventplan.house.yaml_text import set_value

DISCHARGE_ERROR = 0.10
"""Relative standard uncertainty of discharge coefficient x free area [-]: a tape, a sash that does not open
fully, and coefficients from 0.55 to 0.7 in handbooks."""

LEAK_ERROR = 0.7
"""Standard uncertainty of the logarithm of a leak [-]: houses differ by a factor of two either way."""

WIRE_ERROR = 0.12
"""Relative standard uncertainty of a screen's wire [-], thickened by dust and paint."""


@dataclass(frozen=True)
class Knob:
    """One uncertain thing.

    Attributes
    ----------
    name
        What it is, in plain words.
    prior
        Standard deviation of the logarithm of its factor before the fit [-].
    turn
        Gives the house with the thing multiplied by a factor.
    write
        Gives the text of the house file with the thing multiplied by a factor, known to a relative standard
        uncertainty.
    value
        Its value in the file as it is, with unit, for people.
    """

    name: str
    prior: float
    turn: Callable[[House, float], House]
    write: Callable[[str, float, float], str]
    value: str


def knobs_of(house: House, scenarios: Iterable[Scenario]) -> tuple[Knob, ...]:
    """Every uncertain thing that has a say in these scenarios.

    Parameters
    ----------
    house
        The house as its file has it.
    scenarios
        The set-ups that were read.
    """
    states = tuple(scenarios)
    opened = [o for o in house.openings.values() if any(s.shares[o.name] > 0.0 for s in states)]
    shut = [o for o in house.openings.values() if o.is_external and any(s.shares[o.name] == 0.0 for s in states)]
    fans = dict.fromkeys(placement.fan for s in states for placement in s.placements)
    screens: dict[str, Screen] = {}
    for state in states:
        for name in state.screened:
            screen = house.openings[name].screen
            if screen is not None and state.shares[name] > 0.0:
                screens.setdefault(screen.name, screen)
    return (
        *(_discharge(opening) for opening in opened),
        *((_leaks(tuple(o.name for o in shut), house),) if shut else ()),
        *(knob for fan in fans for knob in _fan(house.fans[fan])),
        *(_wire(screen) for screen in screens.values()),
    )


def turned(house: House, knobs: Iterable[Knob], logarithms: Iterable[float]) -> House:
    """The house with every knob turned, by the logarithms of the factors."""
    for knob, logarithm in zip(knobs, logarithms, strict=True):
        if logarithm != 0.0:
            house = knob.turn(house, math.exp(logarithm))
    return house


def _with_openings(house: House, changed: Mapping[str, Opening]) -> House:
    return replace(house, openings={**house.openings, **changed})


def _discharge(opening: Opening) -> Knob:
    def turn(house: House, factor: float) -> House:
        here = house.openings[opening.name]
        return _with_openings(house, {here.name: replace(here, discharge=here.discharge * factor)})

    def write(text: str, factor: float, error: float) -> str:
        return set_value(text, ("openings", opening.name, "discharge"), _rounded(opening.discharge * factor))

    return Knob(f"discharge of {opening.name}", DISCHARGE_ERROR, turn, write, f"{opening.discharge:.2f}")


def _leaks(names: tuple[str, ...], house: House) -> Knob:
    def turn(house: House, factor: float) -> House:
        leaky = {
            name: replace(house.openings[name], leak_m3_s=house.openings[name].leak_m3_s * factor) for name in names
        }
        rooms = {name: replace(room, leak_m3_s=room.leak_m3_s * factor) for name, room in house.rooms.items()}
        return replace(_with_openings(house, leaky), rooms=rooms)

    def write(text: str, factor: float, error: float) -> str:
        for name in names:
            leak = house.openings[name].leak_m3_s * factor
            text = set_value(text, ("openings", name, "leak"), f"{leak * 3600.0:.3g} m3/h")
        return text

    total = sum(house.openings[name].leak_m3_s for name in names)
    return Knob("leaks of what is shut", LEAK_ERROR, turn, write, f"{total * 3600.0:.1f} m³/h at 1 Pa in all")


def _fan(fan: Fan) -> tuple[Knob, ...]:
    def knob(what: str, prior: float, attribute: str, key: str, form: str) -> Knob:
        value = getattr(fan, attribute)

        def turn(house: House, factor: float) -> House:
            here = house.fans[fan.name]
            changed = replace(here, **{attribute: getattr(here, attribute) * factor})
            return replace(house, fans={**house.fans, fan.name: changed})

        def write(text: str, factor: float, error: float) -> str:
            new = form.format(value * factor)
            text = set_value(text, ("fans", fan.name, key), float(new) if key == "spread" else new)
            return set_value(text, ("fans", fan.name, f"{key} error"), f"{error * 100:.2g} %")

        return Knob(f"{what} of {fan.name}", max(prior, 0.005), turn, write, form.format(value))

    return (
        knob("thrust", fan.thrust_error, "thrust_n", "thrust", "{:.3g} N"),
        knob("spread", fan.spread_error, "spread", "spread", "{:.3g}"),
        knob("flow", fan.flow_error, "flow_m3_s", "flow", "{:.3g} m3/s"),
    )


def _wire(screen: Screen) -> Knob:
    # Threads to the metre of a square mesh with this open area: (1 - n d)^2.
    threads = (1.0 - math.sqrt(screen.open_area_ratio)) / screen.wire_m

    def turn(house: House, factor: float) -> House:
        wire = min(screen.wire_m * factor, 0.9 / threads)
        thick = replace(screen, wire_m=wire, open_area_ratio=(1.0 - threads * wire) ** 2)
        changed = {
            o.name: replace(o, screen=thick)
            for o in house.openings.values()
            if o.screen is not None and o.screen.name == screen.name
        }
        return _with_openings(house, changed)

    def write(text: str, factor: float, error: float) -> str:
        count = f"{threads * 0.0254:.2f}"
        mesh = {"threads": f"{count}x{count}", "wire": f"{screen.wire_m * factor * 1000.0:.3g} mm"}
        for name in _screened_by(text, screen.name):
            text = set_value(text, ("openings", name, "screen"), mesh)
        return text

    return Knob(f"wire of screen {screen.name}", WIRE_ERROR, turn, write, f"{screen.wire_m * 1000.0:.2f} mm")


def _screened_by(text: str, screen: str) -> list[str]:
    from ventplan.house import parse_house

    return [o.name for o in parse_house(text).openings.values() if o.screen is not None and o.screen.name == screen]


def _rounded(number: float) -> float:
    return float(f"{min(number, 1.0):.3g}")
