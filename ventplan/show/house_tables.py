"""What is in a house file, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ventplan.airing import Note, NoteCode
from ventplan.house.records import House, Opening
from ventplan.house.remarks import leakage_is_assumed
from ventplan.house.units import System, show, show_length, shown_unit
from ventplan.physics import air
from ventplan.physics.orifice import loss_coefficient
from ventplan.physics.screen import screen_coefficients
from ventplan.show.cautions import note_words
from ventplan.show.tables import (
    number,
    paragraphs,
    table,
    unit_name,
)

if TYPE_CHECKING:
    from rich.console import RenderableType


SHOWN_FACE_SPEED_M_S = 0.5
"""Face speed at which a screen's loss is shown; it rises at lower speeds [m/s]."""


def opening_loss(opening: Opening) -> float:
    """Loss coefficient of an opening with its screen, on the free area, at `SHOWN_FACE_SPEED_M_S` [-]."""
    loss = float(loss_coefficient(discharge=opening.discharge))
    if opening.screen is None:
        return loss
    density = float(air.density(temperature_c=20.0))
    linear, quadratic = screen_coefficients(
        open_area_ratio=opening.screen.open_area_ratio,
        wire_m=opening.screen.wire_m,
        density=density,
        dynamic_viscosity_pa_s=float(air.dynamic_viscosity(temperature_c=20.0)),
    )
    pressure = linear * SHOWN_FACE_SPEED_M_S + quadratic * SHOWN_FACE_SPEED_M_S**2
    return loss + float(pressure) / (0.5 * density * SHOWN_FACE_SPEED_M_S**2)


MOST_WARNINGS = 8
"""Warnings that ``check`` shows without details."""


def check_view(house: House, system: System, *, details: bool = True) -> Iterator[RenderableType]:
    """What ``ventplan check`` prints for a file without errors; the tables and all assumed values with details."""
    from rich.text import Text

    yield Text(f"{house.name}: no errors. {_counted(house)}", style="bold")
    if not details:
        yield from _check_summary(house)
        return
    length, area, volume = (shown_unit(q, system) for q in ("length", "area", "volume"))
    yield table(
        "Rooms",
        ("room", f"area {area}", f"volume {volume}", f"ceiling {length}", f"floor {length}"),
        (
            (
                room.name,
                number(room.area_m2, "area", system),
                number(room.volume_m3, "volume", system),
                number(room.ceiling_m, "length", system),
                number(room.floor_m, "length", system),
            )
            for room in house.rooms.values()
        ),
    )
    yield table(
        f"Openings (fully open; loss coefficient with the screen, at {show(SHOWN_FACE_SPEED_M_S, 'speed', system)})",
        ("opening", "joins", f"size {'in' if system == 'us' else 'm'}", f"free {area}", "loss", "screen"),
        (
            (
                opening.name,
                " - ".join(opening.joins),
                _size(opening, system),
                number(opening.area_m2 * max(opening.full_share, opening.open_share), "area", system),
                f"{opening_loss(opening):.1f}",
                opening.screen.name if opening.screen else "–",
            )
            for opening in house.openings.values()
        ),
        words=2,
    )
    if house.fans:
        yield table(
            f"Fans (flow {shown_unit('flow', system)}, thrust {unit_name('thrust', system)})",
            ("fan", "flow", "thrust", "blades", "jet spread", "W", "dB(A)"),
            (
                (
                    fan.name,
                    number(fan.flow_m3_s, "flow", system),
                    number(fan.thrust_n, "thrust", system),
                    show_length(fan.diameter_m, system),
                    f"{fan.spread:.3f}",
                    "–" if fan.power_w is None else f"{fan.power_w:.0f}",
                    "–" if fan.sound_db is None else f"{fan.sound_db:.0f}",
                )
                for fan in house.fans.values()
            ),
        )
    yield Text(f"\nScenarios: {'; '.join(house.scenarios)}.")
    if house.remarks:
        yield paragraphs("Warnings: unusual values; check them", house.remarks)
    if house.defaults:
        yield paragraphs("Assumed values, which the file does not give", house.defaults)
    if any(fan.estimated for fan in house.fans.values()):
        yield Text("The assumed figures of a fan can be measured: see ventplan measure --help.")


def _check_summary(house: House) -> Iterator[RenderableType]:
    from rich.text import Text

    if house.remarks:
        more = len(house.remarks) - MOST_WARNINGS
        rest = [f"{more} more: see --details"] if more > 0 else []
        yield paragraphs("Warnings: unusual values; check them", [*house.remarks[:MOST_WARNINGS], *rest])
    assumed = [note_words(Note(NoteCode.LEAKAGE_ASSUMED))] if leakage_is_assumed(house) else []
    estimated = [name for name, fan in house.fans.items() if fan.estimated]
    if estimated:
        which = f"the {estimated[0]}" if len(estimated) == 1 else f"{', '.join(estimated[:-1])} and {estimated[-1]}"
        assumed.append(
            f"Some figures of {which} are typical of their kind; ventplan measure --help says how to measure them."
        )
    others = len(house.defaults) - len(estimated) - leakage_is_assumed(house)
    if others > 0:
        assumed.append(f"{others} other values have defaults. --details lists them, with rooms, openings and fans.")
    if assumed:
        yield paragraphs("Assumed, since the file does not say", assumed)
    path = house.path or "HOUSE"
    yield Text(f"Next: ventplan draw {path} -o plan.svg, or ventplan place {path}.")


def _counted(house: House) -> str:
    many = {
        "room": len(house.rooms),
        "opening": len(house.openings),
        "fan": len(house.fans),
        "scenario": len(house.scenarios),
    }
    parts = [f"{count} {word}{'' if count == 1 else 's'}" for word, count in many.items()]
    notes = f", {len(house.remarks)} warning{'' if len(house.remarks) == 1 else 's'}" if house.remarks else ""
    return f"{', '.join(parts)}{notes}."


def _size(opening: Opening, system: System) -> str:
    """Width by height without unit, in metres or in inches."""
    sides = (opening.width_m, opening.height_m)
    return "x".join(f"{side / 0.0254:.0f}" if system == "us" else number(side, "length", system) for side in sides)
