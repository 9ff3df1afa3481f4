"""What a house should read at its openings and in its jets, as a function of what is uncertain in its file.

A parameter is the logarithm of a factor (discharge, thrust, spread) or a shift in its own unit (the aim of a fan).
Either has a normal prior around zero, which stands for the file as it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ventplan.advice.uncertainty import default_uncertainties
from ventplan.airing import Note, NoteCode
from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import Fan, House, Opening, Placement, Scenario, Screen
from ventplan.house.yaml_text import set_value
from ventplan.measure.house_readings import HouseReading, Takes
from ventplan.measure.inference import Model
from ventplan.measure.uncertainty import Array
from ventplan.network.flow import Flow

DISCHARGE_ERROR = math.hypot(default_uncertainties().discharge_shared, default_uncertainties().discharge_own)
"""Relative standard uncertainty of discharge coefficient x free area [-]: 10 %."""

LEAK_ERROR = default_uncertainties().leak
"""Standard uncertainty of the logarithm of a leak [-]: a factor of two either way."""

WIRE_ERROR = 0.12
"""Relative standard uncertainty of the wire diameter of a screen [-], thickened by dust and paint."""

AIM_ERROR_DEG = 3.0
"""Standard uncertainty of where a fan really blows, sideways and upwards [deg]: it is set by eye, and its jet leaves
the grille a little crooked (common practice, no source)."""

Kind = Literal["discharge", "leaks", "thrust", "spread", "flow", "screen", "aim"]


@dataclass(frozen=True)
class Parameter:
    """One uncertain figure.

    Attributes
    ----------
    name
        What it is, in plain words.
    kind, subject
        What sort of figure, and the opening, fan or screen that it belongs to.
    prior
        Standard deviation before the fit: of the logarithm of the factor [-], or of the shift [deg].
    size
        Its value in the file [-, m3/s at 1 Pa, N, m]; nan for an aim.
    in_house
        Gives the house with the figure changed; the same house for what belongs to the pose of a fan.
    in_text
        Gives the text of the house file with the figure changed, known to a standard uncertainty.
    in_placement
        Gives the placement of its fan with the figure changed; None for what belongs to the house.
    """

    name: str
    kind: Kind
    subject: str
    prior: float
    size: float
    in_house: Callable[[House, float], House]
    in_text: Callable[[str, float, float], str]
    in_placement: Callable[[Placement, float], Placement] | None = None

    @property
    def is_factor(self) -> bool:
        """True for the logarithm of a factor, False for a shift."""
        return self.kind != "aim"

    @property
    def value(self) -> str:
        """Its value in the file with its unit, for people."""
        texts = {
            "discharge": f"{self.size:.2f}",
            "leaks": f"{self.size * 3600.0:.1f} m³/h at 1 Pa in all",
            "screen": f"{self.size * 1000.0:.2f} mm",
            "thrust": f"{self.size:.3g} N",
            "flow": f"{self.size:.3g} m3/s",
            "spread": f"{self.size:.3g}",
        }
        return texts.get(self.kind, "as placed")

    def shown(self, coordinate: float) -> float:
        """A coordinate as people read it: the factor, or the shift."""
        return math.exp(coordinate) if self.is_factor else float(coordinate)


def parameters_of(house: House, scenarios: Iterable[Scenario]) -> tuple[Parameter, ...]:
    """Every uncertain figure that matters in these scenarios.

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
    free = dict.fromkeys(placement.fan for s in states for placement in s.placements if not placement.sealed)
    screens: dict[str, Screen] = {}
    for state in states:
        for name in state.screened:
            screen = house.openings[name].screen
            if screen is not None and state.shares[name] > 0.0:
                screens.setdefault(screen.name, screen)
    return (
        *(_discharge(opening) for opening in opened),
        *((_leaks(tuple(o.name for o in shut), house),) if shut else ()),
        *(parameter for fan in fans for parameter in _fan(house.fans[fan])),
        *(parameter for fan in free for parameter in _aim(fan)),
        *(_wire(screen) for screen in screens.values()),
    )


def house_at(house: House, parameters: Iterable[Parameter], point: Iterable[float]) -> House:
    """The house with every parameter at its coordinate."""
    for parameter, coordinate in zip(parameters, point, strict=True):
        if coordinate != 0.0:
            house = parameter.in_house(house, coordinate)
    return house


def scenario_at(scenario: Scenario, parameters: Iterable[Parameter], point: Iterable[float]) -> Scenario:
    """The scenario with its fans aimed as the parameters have it."""
    placements = scenario.placements
    for parameter, coordinate in zip(parameters, point, strict=True):
        if parameter.in_placement is not None and coordinate != 0.0:
            placements = tuple(
                parameter.in_placement(placed, coordinate) if placed.fan == parameter.subject else placed
                for placed in placements
            )
    return replace(scenario, placements=placements)


def _with_openings(house: House, changed: Mapping[str, Opening]) -> House:
    return replace(house, openings={**house.openings, **changed})


def _discharge(opening: Opening) -> Parameter:
    def in_house(house: House, coordinate: float) -> House:
        here = house.openings[opening.name]
        return _with_openings(house, {here.name: replace(here, discharge=here.discharge * math.exp(coordinate))})

    def in_text(text: str, coordinate: float, error: float) -> str:
        value = float(f"{min(opening.discharge * math.exp(coordinate), 1.0):.3g}")
        return set_value(text, ("openings", opening.name, "discharge"), value)

    name = f"discharge of {opening.name}"
    return Parameter(name, "discharge", opening.name, DISCHARGE_ERROR, opening.discharge, in_house, in_text)


def _leaks(names: tuple[str, ...], house: House) -> Parameter:
    def in_house(house: House, coordinate: float) -> House:
        factor = math.exp(coordinate)
        leaky = {
            name: replace(house.openings[name], leak_m3_s=house.openings[name].leak_m3_s * factor) for name in names
        }
        rooms = {name: replace(room, leak_m3_s=room.leak_m3_s * factor) for name, room in house.rooms.items()}
        return replace(_with_openings(house, leaky), rooms=rooms)

    def in_text(text: str, coordinate: float, error: float) -> str:
        for name in names:
            leak = house.openings[name].leak_m3_s * math.exp(coordinate)
            text = set_value(text, ("openings", name, "leak"), f"{leak * 3600.0:.3g} m3/h")
        return text

    total = sum(house.openings[name].leak_m3_s for name in names)
    return Parameter("leaks of what is shut", "leaks", "", LEAK_ERROR, total, in_house, in_text)


def _fan(fan: Fan) -> tuple[Parameter, ...]:
    def parameter(kind: Kind, prior: float, attribute: str, form: str) -> Parameter:
        value = getattr(fan, attribute)

        def in_house(house: House, coordinate: float) -> House:
            here = house.fans[fan.name]
            changed = replace(here, **{attribute: getattr(here, attribute) * math.exp(coordinate)})
            return replace(house, fans={**house.fans, fan.name: changed})

        def in_text(text: str, coordinate: float, error: float) -> str:
            new = form.format(value * math.exp(coordinate))
            text = set_value(text, ("fans", fan.name, kind), float(new) if kind == "spread" else new)
            return set_value(text, ("fans", fan.name, f"{kind} error"), f"{error * 100:.2g} %")

        return Parameter(f"{kind} of {fan.name}", kind, fan.name, max(prior, 0.005), value, in_house, in_text)

    return (
        parameter("thrust", fan.thrust_error, "thrust_n", "{:.3g} N"),
        parameter("spread", fan.spread_error, "spread", "{:.3g}"),
        parameter("flow", fan.flow_error, "flow_m3_s", "{:.3g} m3/s"),
    )


def _aim(fan: str) -> tuple[Parameter, ...]:
    def in_house(house: House, coordinate: float) -> House:
        return house

    def in_text(text: str, coordinate: float, error: float) -> str:
        return text  # how a fan stood that evening is no property of the house

    def sideways(placed: Placement, coordinate: float) -> Placement:
        return placed if placed.sealed else replace(placed, turn_deg=placed.turn_deg + coordinate)

    def upward(placed: Placement, coordinate: float) -> Placement:
        return placed if placed.sealed else replace(placed, tilt_deg=placed.tilt_deg + coordinate)

    return tuple(
        Parameter(f"{way} aim of {fan}", "aim", fan, AIM_ERROR_DEG, math.nan, in_house, in_text, in_placement)
        for way, in_placement in (("sideways", sideways), ("upward", upward))
    )


def _wire(screen: Screen) -> Parameter:
    # Threads to the metre of a square mesh with this open area: (1 - n d)^2.
    threads = (1.0 - math.sqrt(screen.open_area_ratio)) / screen.wire_m

    def in_house(house: House, coordinate: float) -> House:
        wire = min(screen.wire_m * math.exp(coordinate), 0.9 / threads)
        thick = replace(screen, wire_m=wire, open_area_ratio=(1.0 - threads * wire) ** 2)
        return _with_openings(house, {name: replace(house.openings[name], screen=thick) for name in with_it(house)})

    def in_text(text: str, coordinate: float, error: float) -> str:
        from ventplan.house import parse_house

        count = f"{threads * 0.0254:.2f}"
        wire = f"{screen.wire_m * math.exp(coordinate) * 1000.0:.3g} mm"
        for name in with_it(parse_house(text)):
            text = set_value(text, ("openings", name, "screen"), {"threads": f"{count}x{count}", "wire": wire})
        return text

    def with_it(house: House) -> list[str]:
        return [o.name for o in house.openings.values() if o.screen is not None and o.screen.name == screen.name]

    return Parameter(
        f"wire of screen {screen.name}", "screen", screen.name, WIRE_ERROR, screen.wire_m, in_house, in_text
    )


def predicted(flow: Flow, opening: str, takes: Takes) -> float:
    """What the model expects a reading at an opening to be [m/s].

    Where one place in the stream has no meaning (a jet goes through, or air goes both ways), it is the mean.
    """
    here = flow.openings[opening]
    if takes == "stream" and here.reading_m_s is not None:
        return here.reading_m_s
    return here.face_speed_m_s


def jet_speed(house: House, placed: Placement, distance_m: float) -> float:
    """Speed on the axis of a fan's free jet at a distance from its blades [m/s]."""
    from ventplan.network.jets import fan_of, source_of
    from ventplan.physics.air import REFERENCE_DENSITY
    from ventplan.physics.jet_path import JetPath, axis_speed, jet_at_plane

    source = source_of(fan_of(house, placed), REFERENCE_DENSITY)
    return axis_speed(jet=jet_at_plane(source=source, path=JetPath(distance_m)), density=REFERENCE_DENSITY)


def model_of(house: House, parameters: Sequence[Parameter], readings: Sequence[HouseReading]) -> Model:
    """The logarithms of all readings as a function of the parameters; each set-up is solved once.

    Raises
    ------
    NoAnswerError
        Where the model has no air moving at an opening that was read.
    """
    from ventplan.network import solve

    def model(point: Array) -> Array:
        changed = house_at(house, parameters, point)
        flows: dict[str, Flow] = {}
        values = np.empty(len(readings))
        for index, reading in enumerate(readings):
            if reading.takes == "jet":
                speed = jet_speed(changed, reading.scenario.placements[0], reading.distance_m)
            else:
                name = reading.scenario.name
                if name not in flows:
                    flows[name] = solve(changed, scenario_at(reading.scenario, parameters, point))
                speed = predicted(flows[name], reading.opening, reading.takes)
            if reading.below:
                speed = max(speed, 1e-6)
            if not speed > 0.0:
                raise NoAnswerError(
                    f"The model has no air moving through {reading.opening} where {reading.label} was read. Was it "
                    "shut in that set-up, or is the set-up wrong?"
                )
            values[index] = math.log(speed)
        return values

    return model


def informative(house: House, readings: Sequence[HouseReading]) -> tuple[list[int], tuple[Note, ...]]:
    """Numbers of the readings that can be compared with the model, and a note on the others: one place in a jet, or in
    air that goes both ways, has no meaning for the opening.

    Raises
    ------
    InputError
        For a reading at an opening that its set-up has shut.
    NoAnswerError
        Where no reading can be compared.
    """
    from ventplan.network import solve

    flows: dict[str, Flow] = {}
    kept, left_out, shut = [], [], []
    for index, reading in enumerate(readings):
        if reading.takes == "jet":
            kept.append(index)
            continue
        if reading.scenario.name not in flows:
            flows[reading.scenario.name] = solve(house, reading.scenario)
        here = flows[reading.scenario.name].openings[reading.opening]
        if reading.scenario.shares[reading.opening] == 0.0:
            shut.append(reading.label)
        elif reading.takes == "stream" and here.reading_m_s is None:
            left_out.append(reading.label)
        else:
            kept.append(index)
    if shut:
        raise InputError(
            f"read in an opening that is shut in its set-up: {'; '.join(shut)}. Name the set-up in which it was open, "
            "or say what differs in the columns `open` and `shut`"
        )
    if not kept:
        raise NoAnswerError(
            "Every reading is in an opening that a jet goes through or that air passes both ways. One place there does "
            "not give the flow. Read where the room draws the air in, or take a traverse and write `mean`."
        )
    return kept, (Note(NoteCode.LEFT_OUT, tuple(left_out)),) if left_out else ()


def start_of(parameters: Sequence[Parameter]) -> Array:
    """Where a fit begins, shape (k,): the file's own figures, but the aim of a fan half its prior off, since the
    effect of an aim is even and has no slope at zero."""
    return np.array([0.0 if one.is_factor else 0.5 * one.prior for one in parameters])
