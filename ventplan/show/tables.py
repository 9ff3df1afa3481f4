"""Plain tables for the terminal, at most 80 columns wide, and the wording of numbers, weather and objectives."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from ventplan.house.records import OUTDOORS, House, Scenario
from ventplan.house.units import System, show, shown_number, shown_unit
from ventplan.network.flow import OpeningFlow
from ventplan.network.weather import local_wind_speed
from ventplan.physics.air import REFERENCE_DENSITY

if TYPE_CHECKING:  # a command that asks no advice does not load it
    from rich.console import RenderableType

    from ventplan.advice.objective import Objective
    from ventplan.advice.plan import Bottleneck


WIDTH = 80
"""Columns that a table may take; a wide one gives up room between its columns before its words are broken."""


def cell_width(text: str) -> int:
    """Columns that a text takes on a terminal."""
    from rich.cells import cell_len

    return max(map(cell_len, text.splitlines()), default=0)


def table(title: str, columns: Sequence[str], rows: Iterable[Sequence[str]], *, words: int = 1) -> RenderableType:
    """A table whose first ``words`` columns hold words and the others numbers.

    Parameters
    ----------
    title
        Line above it; may be empty.
    columns
        Heads of the columns.
    rows
        Text of the cells.
    words
        How many columns hold words, and are set to the left.
    """
    from rich import box
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    cells = [tuple(columns), *(tuple(row) for row in rows)]
    widest = sum(max(cell_width(row[i]) for row in cells) for i in range(len(columns)))
    gaps = len(columns) - 1
    close = widest + 3 * gaps > WIDTH
    tight = widest + 2 * gaps > WIDTH
    made = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, collapse_padding=close,
                 padding=(0, 0) if tight else (0, 1))  # fmt: skip
    for i in range(len(columns)):
        made.add_column(justify="left" if i < words else "right", overflow="fold")
    for row in cells[1:]:
        made.add_row(*(f"{cell} " if tight and i < words else cell for i, cell in enumerate(row)))
    for i, head in enumerate(columns):
        made.columns[i].header = f"{head} " if tight and i < words else head
    return Group(Text(""), Text(title, style="bold"), made) if title else made


def paragraphs(head: str, lines: Iterable[str]) -> RenderableType:
    """A blank line, a head where there is one, and lines below it, each hung under a dash."""
    from rich.console import Group
    from rich.text import Text

    return Group(Text(""), *([Text(head, style="bold")] if head else []), bullets(lines))


def bullets(lines: Iterable[str]) -> RenderableType:
    """Lines, each hung under a dash."""
    from rich.table import Table
    from rich.text import Text

    hung = Table.grid(padding=(0, 1, 0, 0))
    for line in lines:
        hung.add_row(" -", Text(line))
    return hung


LEAST_NET_M3_S = 5e-4
"""A net flow below this counts as none [m3/s]."""


def number(value: float, quantity: str, system: System) -> str:
    """A value without its unit, for a column whose head names the unit."""
    if quantity == "length" and system == "us":
        return f"{shown_number(value, quantity, system):.1f}"
    return show(value, quantity, system).removesuffix(shown_unit(quantity, system)).strip()


def unit_name(quantity: str, system: System) -> str:
    """The unit that answers use, spelled out where few people know its sign."""
    unit = shown_unit(quantity, system)
    return "gram-force" if unit == "gf" else unit


def show_setback(value: float, system: System) -> str:
    """A distance between fan and opening, to 10 cm or half a foot; short ones to 5 cm or 1 in.

    Examples
    --------
    >>> show_setback(2.41, "si"), show_setback(2.41, "us")
    ('2.4 m', '8 ft')
    """
    if system == "si":
        return f"{value:.2f} m" if value < 0.495 else f"{value:.1f} m"
    inches = value / 0.0254
    if inches < 11.0:
        return f"{inches:.0f} in"
    feet, half = divmod(round(inches / 6.0), 2)
    return f"{feet} ft 6 in" if half else f"{feet} ft"


def percent(share: float) -> str:
    """A share as ``53 %``."""
    return f"{100.0 * share:.0f} %"


def signed_percent(share: float) -> str:
    """A change as ``+5 %`` or ``−5 %``."""
    return f"{100.0 * share:+.0f} %".replace("-", "−")


def about_temperature(value_c: float, system: System) -> str:
    """A temperature that is only expected, to a whole °F or half a °C."""
    return f"{value_c * 1.8 + 32.0:.0f} °F" if system == "us" else f"{round(2.0 * value_c) / 2.0:.1f} °C"


def upper_first(text: str) -> str:
    """A text with its first letter as a capital."""
    return text[:1].upper() + text[1:]


def rate_words(value: float) -> str:
    """An air change rate [1/h] with two digits."""
    return f"{value:.0f}" if value >= 9.95 else f"{value:.1f}"


def shown_change_rate(value_per_s: float) -> str:
    """An air change rate [1/s] in words."""
    return f"{rate_words(3600.0 * value_per_s)} outdoor air changes an hour"


def weather_line(house: House, scenario: Scenario, system: System) -> str:
    """The weather of a scenario in one line, with the wind that arrives at the house."""
    outdoors = scenario.outdoors
    temperatures = set(scenario.temperatures_c.values())
    indoors = (
        show(temperatures.pop(), "temperature", system)
        if len(temperatures) == 1
        else f"{show(min(temperatures), 'temperature', system)} to {show(max(temperatures), 'temperature', system)}"
    )
    wind = "no wind"
    if outdoors.wind.speed_m_s > 0.0:
        here = show(local_wind_speed(house, scenario), "wind", system)
        station = show(outdoors.wind.speed_m_s, "wind", system)
        wind = f"wind {station} from {outdoors.wind.from_deg:.0f}° ({here} at the eaves)"
    return f"outdoors {show(outdoors.temperature_c, 'temperature', system)}, {wind}; indoors {indoors}"


def wind_line(scenario: Scenario) -> str:
    """What weakens the station's wind on its way to the house; empty in a calm."""
    outdoors = scenario.outdoors
    if outdoors.wind.speed_m_s <= 0.0:
        return ""
    shelter = "" if outdoors.shelter == 1.0 else f", shelter factor {outdoors.shelter:g}"
    return f"The wind of the weather station is carried to the house over terrain: {outdoors.terrain}{shelter}."


def reported_net_m3_s(flow: OpeningFlow) -> float:
    """Net volume flow [m3/s]; 0 where as much mass goes each way, though the warmer air takes more room."""
    return flow.net_m3_s if abs(flow.net_kg_s) >= LEAST_NET_M3_S * REFERENCE_DENSITY else 0.0


def direction(flow: OpeningFlow) -> str:
    """Where the net flow goes, in words."""
    a, b = flow.joins
    if reported_net_m3_s(flow) == 0.0:
        return "no net flow"
    start, end = (a, b) if flow.net_m3_s > 0.0 else (b, a)
    if end == OUTDOORS:
        return f"out of {start}"
    return f"into {end}" if start == OUTDOORS else f"{start} to {end}"


def objective_words(objective: Objective) -> str:
    """The objective in plain words."""
    name, morning = objective.name, f"{objective.by_hour:.0f}:00"
    if objective.kind == "cool" and objective.weather is not None:
        morning = objective.weather.label(objective.weather.seconds_until(objective.by_hour))
    return {
        "opening": f"most air through {name}",
        "room": f"most outdoor air for {name}",
        "house": "most outdoor air where people are",
        "clear": f"{name} cleared soonest",
        "cool": f"{name} coolest by {morning}",
    }[objective.kind]


def steering_words(objective: Objective) -> str:
    """What the search steers by, in plain words: what gains are given in."""
    if objective.kind == "cool":
        return f"the outdoor air that reaches {objective.name}"
    return objective_words(objective)


def bottleneck_words(bottleneck: Bottleneck) -> str:
    """What to change, in plain words."""
    from ventplan.advice.plan import Change

    names = " and ".join(bottleneck.names)
    return {
        Change.SCREEN_OFF: f"take the screen off {names}",
        Change.OPEN_FULLY: f"open {names} fully",
        Change.LARGER: f"a tenth more free area at {names}",
        Change.STRONGER: f"a tenth more thrust from {names}",
    }[bottleneck.change]
