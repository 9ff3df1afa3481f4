"""What the air feels like where people sit or sleep, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ventplan.airing.comfort import DRAUGHT_C, DRAUGHT_M_S, TURBULENCE, LocalComfort
from ventplan.house.shown import show, shown_unit
from ventplan.house.units import System
from ventplan.show.tables import table

if TYPE_CHECKING:
    from rich.console import RenderableType


def bare(value: float, quantity: str, system: System) -> str:
    """A value without its unit, for a column whose head names the unit."""
    return show(value, quantity, system).removesuffix(shown_unit(quantity, system)).strip()


def people_rows(people: Sequence[LocalComfort], system: System) -> Iterator[Sequence[str]]:
    """Rows of the table of places where people sit or sleep."""
    for there in people:
        warm = there.temperature_c > DRAUGHT_C[1]
        yield (
            there.name,
            there.most_from or "–",
            bare(there.speed_m_s, "speed", system),
            bare(there.temperature_c, "temperature", system),
            bare(there.relief_k, "temperature difference", system),
            "–" if warm else f"{100.0 * there.draught_rate:.0f}",
        )


def people_view(people: Sequence[LocalComfort], system: System) -> Iterator[RenderableType]:
    """What the air feels like where people sit or sleep; nothing where the house has no such places."""
    from rich.text import Text

    if not people:
        return
    speed, temperature = shown_unit("speed", system), shown_unit("temperature", system)
    yield table(
        "Where people are",
        ("place", "mostly from", speed, f"air {temperature}", "cooler by", "draught %"),
        people_rows(people, system),
        words=2,
    )
    yield Text(
        f"cooler by: how many {'°F' if system == 'us' else 'K'} warmer the room may be for the same comfort, above "
        f"{show(25.0, 'temperature', system)}. draught: share of people whom it bothers, at a turbulence of "
        f"{100.0 * TURBULENCE:.0f} %; a guide only above {show(DRAUGHT_M_S, 'speed', system)}, and – above "
        f"{show(DRAUGHT_C[1], 'temperature', system)}, where moving air is welcome.",
        style="dim",
    )
