"""What is in a house file, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ventplan.house.records import House, Opening
from ventplan.house.units import System, show, show_length, shown_unit
from ventplan.physics import air
from ventplan.physics.orifice import loss_coefficient
from ventplan.physics.screen import screen_coefficients
from ventplan.show.tables import number, paragraphs, table

if TYPE_CHECKING:
    from rich.console import RenderableType

SCREEN_SPEED_M_S = 0.5
"""Face speed at which a screen's loss is shown; it rises at lower speeds [m/s]."""


def opening_loss(opening: Opening) -> float:
    """Loss coefficient of an opening with its screen, on the free area, at `SCREEN_SPEED_M_S` [-]."""
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
    pressure = linear * SCREEN_SPEED_M_S + quadratic * SCREEN_SPEED_M_S**2
    return loss + float(pressure) / (0.5 * density * SCREEN_SPEED_M_S**2)


def check_view(house: House, system: System) -> Iterator[RenderableType]:
    """Everything that ``ventplan check`` prints for a file without errors."""
    from rich.text import Text

    yield Text(f"{house.name}: no errors. {_counted(house)}", style="bold")
    length, area, volume = (shown_unit(q, system) for q in ("length", "area", "volume"))
    yield table(
        "Rooms",
        ("room", f"area {area}", f"volume {volume}", f"ceiling {length}", f"floor {length}"),
        (
            (
                room.name,
                number(room.area_m2, "area", system),
                number(room.volume_m3, "volume", system),
                number_of_length(room.ceiling_m, system),
                number_of_length(room.floor_m, system),
            )
            for room in house.rooms.values()
        ),
    )
    yield table(
        f"Openings (fully open; loss coefficient with the screen, at {show(SCREEN_SPEED_M_S, 'speed', system)})",
        ("opening", "joins", f"size {length}", f"free {area}", "loss", "screen"),
        (
            (
                opening.name,
                " - ".join(opening.joins),
                f"{number_of_length(opening.width_m, system)}x{number_of_length(opening.height_m, system)}",
                number(opening.area_m2 * max(opening.full_share, opening.open_share), "area", system),
                f"{opening_loss(opening):.1f}",
                opening.screen.name if opening.screen else "–",
            )
            for opening in house.openings.values()
        ),
        words=2,
    )
    if house.fans:
        thrust = "gram-force" if system == "us" else shown_unit("thrust", system)
        yield table(
            f"Fans (flow {shown_unit('flow', system)}, thrust {thrust})",
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
    yield Text("")
    yield paragraphs("Scenarios", house.scenarios)
    if house.remarks:
        yield Text("")
        yield paragraphs("Warnings: unusual values, please check them", house.remarks)
    if house.defaults:
        yield Text("")
        yield paragraphs("Assumed, because the file does not say", house.defaults)
    if any(fan.estimated for fan in house.fans.values()):
        yield Text("Figures of a fan that are assumed can be measured: see ventplan measure --help.")


def _counted(house: House) -> str:
    many = {"room": len(house.rooms), "opening": len(house.openings), "fan": len(house.fans)}
    parts = [f"{count} {word}{'' if count == 1 else 's'}" for word, count in many.items()]
    notes = f", {len(house.remarks)} warning{'' if len(house.remarks) == 1 else 's'}" if house.remarks else ""
    return f"{', '.join(parts)}{notes}."


def number_of_length(value: float, system: System) -> str:
    """A length without its unit."""
    return number(value, "length", system) if system == "si" else f"{value / 0.3048:.1f}"
